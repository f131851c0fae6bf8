// From the form to a report, with what is wrong told at its field.
const fault = (id, text, english) => {
  const place = $(`${id}-error`);
  place.replaceChildren(...parts([text, english]));
  place.hidden = false;
  $(id).setAttribute('aria-invalid', 'true');
  for (let outer = $(id).parentElement; outer; outer = outer.parentElement) if (outer.tagName === 'DETAILS') outer.open = true;
};
const clearFaults = (within) => {
  within.querySelectorAll('.error').forEach((place) => { place.hidden = true; place.textContent = ''; });
  within.querySelectorAll('[aria-invalid]').forEach((field) => field.removeAttribute('aria-invalid'));
};
const toFirstFault = () => {
  const first = document.querySelector('[aria-invalid]');
  if (first) (first.tagName === 'FIELDSET' ? first.querySelector('input') : first).focus();
  return Boolean(first);
};

let numbers = 0;
const insects = () => [...document.querySelectorAll('.insect')].map((field) => field.dataset.number);
const addInsect = (sighting) => {
  numbers += 1;
  const number = numbers;
  const field = $('insect').content.cloneNode(true).firstElementChild;
  field.dataset.number = number;
  field.querySelectorAll('*').forEach((part) => ['id', 'for', 'name', 'aria-describedby'].forEach((name) => {
    if (part.hasAttribute(name)) part.setAttribute(name, part.getAttribute(name).replaceAll('-N', `-${number}`));
  }));
  $('list').append(field);
  const follow = () => {
    $(`described-${number}`).hidden = value(`taxon-${number}`) !== '?';
    $(`pads-${number}`).hidden = value(`stage-${number}`) !== 'nymph';
  };
  field.addEventListener('change', follow);
  field.querySelector('.remove').addEventListener('click', () => { field.remove(); nameInsects(); $('add').focus(); });
  if (sighting) {
    $(`taxon-${number}`).value = sighting.described ? '?' : sighting.taxon;
    if (sighting.described) {
      $(`length-${number}`).value = sighting.described.length_mm;
      $(`colour-${number}`).value = sighting.described.colour;
    }
    $(`stage-${number}`).value = sighting.stage;
    pick(`class-${number}`, sighting.abundance_class);
    pick(`pads-${number}`, sighting.wing_pads || '');
    $(`count-${number}`).value = sighting.count || '';
    $(`did-${number}`).value = sighting.behaviour || '';
    $(`further-${number}`).open = Boolean(sighting.count || sighting.behaviour);
  }
  follow();
  nameInsects();
  return number;
};
const pick = (group, wanted) => document.querySelectorAll(`input[name="${group}"]`).forEach((input) => { input.checked = input.value === wanted; });
const nameInsects = () => {
  const fields = document.querySelectorAll('.insect');
  fields.forEach((field, place) => {
    field.querySelector('legend').textContent = fields.length > 1 ? say('insect-number', { number: place + 1 }) : say('insect');
    field.querySelector('.remove').hidden = fields.length === 1;
  });
};
const followSeen = () => {
  const some = picked('seen') === 'some';
  $('insects').hidden = !some;
  if (some && insects().length === 0) addInsect();
};

const numberIn = (id, low, high, rule) => {
  const found = Number(value(id).replace(',', '.'));
  if (value(id) === '' || !(found >= low && found <= high)) fault(id, rule);
  return found;
};
const sighting = (n) => {
  const named = value(`taxon-${n}`);
  if (!named) fault(`taxon-${n}`, say('choose-insect'));
  let described = null;
  if (named === '?') {
    described = { length_mm: numberIn(`length-${n}`, 0.5, 100, say('length-rule')), colour: value(`colour-${n}`) };
    if (!described.colour) fault(`colour-${n}`, say('colour-rule'));
  }
  const stage = value(`stage-${n}`);
  if (!stage) fault(`stage-${n}`, say('choose-stage'));
  const abundance = picked(`class-${n}`);
  if (!abundance) fault(`class-${n}`, say('choose-class'));
  const count = value(`count-${n}`) === '' ? null : numberIn(`count-${n}`, 1, 1000000, say('count-rule'));
  if (count !== null && !Number.isInteger(count)) fault(`count-${n}`, say('count-rule'));
  return {
    taxon: described ? null : named, described, stage, abundance_class: abundance, count,
    wing_pads: (stage === 'nymph' && picked(`pads-${n}`)) || null, behaviour: value(`did-${n}`) || null,
  };
};
const inWords = (report, photo) => {
  const seen = report.sightings.map((one) => {
    const what = one.described ? say('unnamed', { length: one.described.length_mm, colour: one.described.colour }) : nameOf($('insect').content.querySelector('select'), one.taxon);
    const more = [say(`stage-${one.stage}`), one.abundance_class && say(`class-${one.abundance_class}`), one.count, one.wing_pads && say(`pads-${one.wing_pads}`), one.behaviour];
    return [what, ...more.filter(Boolean)].join(', ');
  });
  const [from, to] = [report.started_at, report.ended_at].map((at) => wall(Date.parse(at)));
  const span = say('span', { date: words(from.slice(0, 10)), from: from.slice(11), to: to.slice(11) });
  const lines = [`${here.name}, ${nameOf($('reach'), report.reach)}, ${span}: ${seen.join('; ') || say('nothing-seen')}.`];
  if (report.looked_for) lines.push(say('looked-for'));
  if (report.people > 1) lines.push(say('people', { count: report.people }));
  if (report.water_c !== null) lines.push(say('water', { temperature: `${waterOut(report.water_c).toLocaleString(LANGUAGE, { useGrouping: false })} ${inFahrenheit() ? '\u00b0F' : '\u00b0C'}` }));
  if (report.note) lines.push(say('note', { note: report.note }));
  if (photo) lines.push(say('with-photo'));
  return lines.join('\n');
};
// Reports hold degrees Celsius; the field may be in Fahrenheit.
const inFahrenheit = () => form.dataset.units === 'f';
const waterIn = () => (inFahrenheit()
  ? Math.round(((numberIn('water', 28.4, 113, say('fahrenheit-rule')) - 32) / 1.8) * 100) / 100
  : numberIn('water', -2, 45, say('celsius-rule')));
const waterOut = (c) => (inFahrenheit() ? Math.round((c * 1.8 + 32) * 10) / 10 : c);
// The report, or nothing when a field is wrong; faults stand at their fields.
const read = () => {
  clearFaults(form);
  fillTimes();
  if (!value('reach')) fault('reach', say('choose-reach'));
  if (!value('date')) fault('date', say('date-needed'));
  ['from', 'to'].filter((id) => !value(id)).forEach((id) => fault(id, say('time-needed')));
  let [start, end] = [0, 0];
  if (value('date') && value('from') && value('to')) {
    [start, end] = times();
    if (end === start) fault('to', say('end-differs'));
    else if (end > now() + SOON_MS + 60000) fault('to', say('end-in-future'));
  }
  const seen = picked('seen');
  if (!seen) fault('seen', say('seen-needed'));
  const sightings = seen === 'some' ? insects().map(sighting) : [];
  const named = sightings.map((one) => one.taxon).filter(Boolean);
  const only = seen === 'some' && $('only').checked;
  if (only && named.length === 0) fault('only', say('only-needed'));
  const people = numberIn('people', 1, 100, say('people-rule'));
  if (!Number.isInteger(people)) fault('people', say('people-rule'));
  const water = value('water') === '' ? null : waterIn();
  if (form.querySelector('[aria-invalid]')) return null;
  return {
    id: changed ? edited : uuid(), watershed: here.water, reach: value('reach'), started_at: new Date(start).toISOString(), ended_at: new Date(end).toISOString(),
    people, looked_for: only ? [...new Set(named)] : null, water_c: water, sky: unshown.sky, note: value('note') || null, sightings,
  };
};
// A random UUID, version 4; crypto.randomUUID is not there over plain HTTP.
const uuid = () => {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 15) | 64;
  bytes[8] = (bytes[8] & 63) | 128;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, '$1-$2-$3-$4-');
};
