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
    tell(`This browser could not keep the report (${error && error.name}). Nothing was sent; write it down.`);
    return;
  }
  if (navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(() => false);
  emptyForm();
  tell('Kept on this phone.');
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
  const fields = { started_at: 'from', ended_at: 'to', water_c: 'water', looked_for: 'only', abundance_class: 'class', wing_pads: 'class', length_mm: 'length', described: 'colour', behaviour: 'did' };
  item.reasons.forEach(({ pointer, detail }) => {
    const path = (pointer || '').split('/').slice(1);
    const name = path[path.length - 1];
    const id = path[0] === 'sightings' ? `${fields[name] || name}-${shownAs[path[1]]}` : fields[path[0]] || path[0];
    if (id && $(`${id}-error`)) fault(id, `Refused: ${detail}.`);
  });
  if (!toFirstFault()) $('reach').focus();
};

let notice = '';
const state = (text) => { if ($('state').textContent !== text) $('state').textContent = text; $('phone').hidden = false; };
const tell = (text) => { notice = text; state(text); };
const clock = (at) => new Date(at).toLocaleString('en-GB', { day: 'numeric', month: 'long', hour: '2-digit', minute: '2-digit' });
const button = (text, act) => {
  const made = document.createElement('button');
  made.type = 'button';
  made.textContent = text;
  made.addEventListener('click', act);
  return made;
};
const entry = (item) => {
  const line = document.createElement('li');
  const state = item.reasons
    ? `Refused: ${item.reasons.map(({ pointer, detail }) => (pointer ? `${pointer.split('/').pop().replace(/_/g, ' ')} ${detail}` : detail)).join('; ')}`
    : `${item.filed ? 'Sent; its photo waits' : 'Waits'} since ${clock(item.made_at)}`;
  line.append(`${item.words}\n${state}`);
  if (item.reasons) {
    const row = document.createElement('p');
    row.className = 'buttons';
    if (item.report.watershed === here.water) row.append(button('Edit and send again', () => edit(item)));
    else {
      const link = document.createElement('a');
      link.href = `/report?w=${encodeURIComponent(item.report.watershed)}`;
      link.textContent = 'Open the form of that water to edit it';
      row.append(link);
    }
    row.append(button('Delete', async () => {
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
  if (sent.length) parts.push(`Sent: ${sent.length === 1 ? sent[0] : `${sent.length} reports.`}`);
  if (waiting.length) {
    parts.push(`${waiting.length} ${waiting.length === 1 ? 'report waits' : 'reports wait, the oldest'} since ${clock(waiting[0].made_at)}.`);
    if (complaints.length) parts.push(`The token was refused: ${complaints.join(' ')} Enter another below.`);
    else if (bare.length) parts.push('Enter your token below to send.');
    else parts.push('Sent without a tap once this page is open and there is signal.');
  }
  if (refused) parts.push(`${refused} refused: see below.`);
  if (parts.length || !$('phone').hidden) state(parts.join(' ') || 'Nothing waits on this phone.');
  $('waiting').replaceChildren(...items.map(entry));
  $('try').hidden = waiting.length === 0;
  $('copy').hidden = items.length === 0;
  if (items.length === 0) ['copied', 'copied-label'].forEach((id) => { $(id).hidden = true; });
  await showSent();
  if (form && (bare.includes(here.water) || complaints.length)) $('token-box').open = true;
};
const copy = async () => {
  const field = $('copied');
  field.value = (await kept()).map((item) => `${item.words}\nReport ${item.id}`).join('\n\n');
  field.hidden = false;
  $('copied-label').hidden = false;
  field.focus();
  field.select();
  if (navigator.clipboard) await navigator.clipboard.writeText(field.value).then(() => tell('Copied.'), () => undefined);
};
const saveToken = async () => {
  clearFaults($('token-box'));
  const token = value('token');
  if (token && !TOKEN.test(token)) { fault('token', 'A token is subimago_ and 49 letters and digits.'); $('token').focus(); return; }
  await set(`token ${here.water}`, token || undefined);
  await set(`refused ${here.water}`, undefined);
  await set(`sent ${here.water}`, undefined);
  $('token-box').open = false;
  tell(token ? 'The token is kept on this phone.' : 'The token is forgotten.');
  $('phone-title').focus();
  await wake();
  await ask();
};

const begin = async () => {
  $('needs-script').hidden = true;
  if (form) {
    const asked = new URLSearchParams(location.search).get('w');
    if (asked && asked.toLowerCase() !== here.water.toLowerCase()) {
      tell(`Without signal this phone has only the form of ${here.name}; open that of another water once with signal.`);
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
  } else tell('This page cannot be opened without signal: the browser allows that only over https. Reports are kept all the same.');
  if (form) keepPlaces().catch(() => undefined);
  await drain();
  await ask();
};
begin().catch((error) => { $('needs-script').hidden = false; $('needs-script').append(` This browser keeps nothing (${error && error.name}).`); });
