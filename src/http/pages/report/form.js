// Filing and editing, and what is shown of the reports on this phone.
let edited = null;
// What the form does not show of a report that is changed, and the tag of its stored version.
let unshown = { sky: null };
let changed = null;
const emptyForm = () => {
  $('list').replaceChildren();
  pick('seen', '');
  $('only').checked = false;
  $('water').value = '';
  $('note').value = '';
  $('more').open = false;
  $('when').open = false;
  timesChosen = false;
  edited = null;
  unshown = { sky: null };
  changed = null;
  notice = '';
  noPhoto();
  clearFaults(form);
  followSeen();
  fillTimes();
};
const file = async () => {
  await photoMade;
  const report = read();
  if (!report) { toFirstFault(); return; }
  const item = { id: report.id, key: uuid(), made_at: Date.now(), report, words: inWords(report, photo), reasons: null, photo, change: changed };
  try {
    await stored('readwrite', (reports, settings) => {
      if (edited) reports.delete(edited);
      reports.put(item);
      settings.put(report.reach, `reach ${here.water}`);
    });
  } catch (error) {
    tell(say('not-kept', { error: error && error.name }));
    return;
  }
  if (navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(() => false);
  emptyForm();
  tell(say('kept'));
  $('phone').hidden = false;
  $('phone-title').focus();
  await wake();
  await ask();
};
// Puts a report back into the form, with what was wrong at its fields.
const edit = (item) => {
  const { report } = item;
  emptyForm();
  edited = item.id;
  unshown = { sky: report.sky };
  // What was refused because it had changed meanwhile is sent over it when its sender says so again.
  changed = item.change && (item.reasons.length ? '*' : item.change);
  photo = item.photo || null;
  tellPhoto();
  timesChosen = true;
  $('reach').value = report.reach;
  $('date').value = wall(Date.parse(report.started_at)).slice(0, 10);
  $('from').value = wall(Date.parse(report.started_at)).slice(11);
  $('to').value = wall(Date.parse(report.ended_at)).slice(11);
  tellTimes();
  pick('seen', report.sightings.length ? 'some' : 'none');
  const shownAs = report.sightings.map(addInsect);
  followSeen();
  $('only').checked = Boolean(report.looked_for);
  $('people').value = report.people;
  $('water').value = report.water_c === null ? '' : waterOut(report.water_c);
  $('note').value = report.note || '';
  item.reasons.forEach((reason) => {
    const id = fieldOf(reason.pointer, (place) => shownAs[place]);
    if (id && $(`${id}-error`)) fault(id, ...spoken(reason));
  });
  if (!toFirstFault()) $('reach').focus();
};

let notice = '';
const state = (text) => { if ($('state').textContent !== text) $('state').textContent = text; $('phone').hidden = false; };
const tell = (text) => { notice = text; state(text); };
const clock = (at) => new Date(at).toLocaleString(LANGUAGE, { day: 'numeric', month: 'long', hour: '2-digit', minute: '2-digit' });
const button = (text, act) => {
  const made = document.createElement('button');
  made.type = 'button';
  made.textContent = text;
  made.addEventListener('click', act);
  return made;
};
const entry = (item) => {
  const line = document.createElement('li');
  const state = item.reasons ? say('refused') : say(item.filed ? 'photo-waits-since' : 'waits-since', { time: clock(item.made_at) });
  line.append(`${item.words}\n${state}`);
  const apart = item.reasons && item.reasons.length > 1 ? '\n' : ' ';
  (item.reasons || []).forEach((reason) => {
    const [label, [text, english]] = [labelOf(reason.pointer), spoken(reason)];
    line.append(label ? `${apart}${label}: ` : apart, ...parts([english ? '' : text, english]));
  });
  if (item.reasons) {
    const row = document.createElement('p');
    row.className = 'buttons';
    if (item.report.watershed === here.water) row.append(button(say('edit'), () => edit(item)));
    else {
      const link = document.createElement('a');
      link.href = `/report?w=${encodeURIComponent(item.report.watershed)}${carried}`;
      link.textContent = say('other-form');
      row.append(link);
    }
    row.append(button(say('delete'), async () => {
      await stored('readwrite', (reports) => { reports.delete(item.id); });
      await show();
      $('phone-title').focus();
    }));
    line.append(row);
  }
  return line;
};
const show = async () => {
  const items = await kept();
  const waiting = items.filter((item) => !item.reasons);
  const refused = items.length - waiting.length;
  const waters = [...new Set(waiting.map((item) => item.report.watershed))];
  const bare = [];
  const complaints = [];
  for (const water of waters) {
    if (!(await setting(`token ${water}`))) bare.push(water);
    const complaint = await setting(`refused ${water}`);
    if (complaint) complaints.push(complaint);
  }
  const parts = notice ? [notice] : [];
  if (sent.length) parts.push(sent.length === 1 ? say('sent', { report: sent[0] }) : say('sent-other', { count: sent.length }));
  if (waiting.length) {
    parts.push(say(waiting.length === 1 ? 'waiting-one' : 'waiting-other', { count: waiting.length, time: clock(waiting[0].made_at) }));
    if (complaints.length) parts.push(say('token-refused', { reasons: complaints.join(' ') }));
    else if (bare.length) parts.push(say('token-needed'));
    else parts.push(say('sends-itself'));
  }
  if (refused) parts.push(say('refused-count', { count: refused }));
  if (parts.length || !$('phone').hidden) state(parts.join(' ') || say('nothing-waits'));
  $('waiting').replaceChildren(...items.map(entry));
  $('try').hidden = waiting.length === 0;
  $('copy').hidden = items.length === 0;
  if (items.length === 0) ['copied', 'copied-label'].forEach((id) => { $(id).hidden = true; });
  await showSent();
  if (form && (bare.includes(here.water) || complaints.length)) $('token-box').open = true;
};
const copy = async () => {
  const field = $('copied');
  field.value = (await kept()).map((item) => `${item.words}\n${say('copied-report', { id: item.id })}`).join('\n\n');
  field.hidden = false;
  $('copied-label').hidden = false;
  field.focus();
  field.select();
  if (navigator.clipboard) await navigator.clipboard.writeText(field.value).then(() => tell(say('copied')), () => undefined);
};
const saveToken = async () => {
  clearFaults($('token-box'));
  const token = value('token');
  if (token && !TOKEN.test(token)) { fault('token', say('token-shape')); $('token').focus(); return; }
  await set(`token ${here.water}`, token || undefined);
  await set(`refused ${here.water}`, undefined);
  await set(`sent ${here.water}`, undefined);
  $('token-box').open = false;
  tell(say(token ? 'token-kept' : 'token-forgotten'));
  $('phone-title').focus();
  await wake();
  await ask();
};

const begin = async () => {
  $('needs-script').hidden = true;
  if (form) {
    const asked = new URLSearchParams(location.search).get('w');
    if (asked && asked.toLowerCase() !== here.water.toLowerCase()) {
      tell(say('only-form-of', { water: here.name }));
    }
    const remembered = await setting(`reach ${here.water}`);
    if (remembered && !$('reach').value && [...$('reach').options].some((option) => option.value === remembered)) $('reach').value = remembered;
    const token = await setting(`token ${here.water}`);
    $('token').value = token || '';
    form.hidden = false;
    $('token-box').hidden = false;
    $('token-box').open = !token;
    fillTimes();
    followSeen();
    setInterval(fillTimes, 60000);
    form.addEventListener('submit', (event) => { event.preventDefault(); file(); });
    $('seen').addEventListener('change', followSeen);
    $('when').addEventListener('input', () => { timesChosen = true; tellTimes(); });
    $('add').addEventListener('click', () => $(`taxon-${addInsect()}`).focus());
    $('save-token').addEventListener('click', saveToken);
    $('join').addEventListener('click', join);
    $('photo').addEventListener('change', () => { photoMade = makePhoto(); });
    if (self.isSecureContext && navigator.geolocation) {
      $('near-box').hidden = false;
      $('near').addEventListener('click', near);
    }
  }
  $('try').addEventListener('click', wake);
  $('copy').addEventListener('click', copy);
  addEventListener('online', wake);
  addEventListener('pageshow', (event) => { if (event.persisted) wake(); });
  document.addEventListener('visibilitychange', () => { if (!document.hidden) { fillTimes(); wake().then(ask); } });
  if (navigator.serviceWorker && self.caches) {
    navigator.serviceWorker.register('/report-worker.js', { scope: '/report' }).catch(() => undefined);
    const files = [...document.querySelectorAll('link[href], script[src]')].map((part) => part.href || part.src);
    caches.open(SHELF).then((shelf) => shelf.addAll([location.href.split('#')[0], ...files])).catch(() => undefined);
  } else tell(say('no-https'));
  if (form) keepPlaces().catch(() => undefined);
  await drain();
  await ask();
};
begin().catch((error) => { $('needs-script').hidden = false; $('needs-script').append(` ${say('keeps-nothing', { error: error && error.name })}`); });
