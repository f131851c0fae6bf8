// What is kept on the phone, and clock time at the water.
const SHELF = 'subimago-report';
const SOON_MS = 5000;
const LATEST_MS = 5 * 60 * 1000;
const DAY_MS = 24 * 60 * 60 * 1000;
const VISIT_MS = 2 * 60 * 60 * 1000;
const ANSWER_MS = 30000;
const PHOTO_MS = 125000;
const TOKEN = /^subimago_[0-9A-Za-z]{49}$/;

const $ = (id) => document.getElementById(id);
// The page brings the words, in its language; what differs stands in them as `{name}`.
const WORDS = JSON.parse($('phone').dataset.words);
const LANGUAGE = $('phone').dataset.language;
const say = (key, given = {}) => (WORDS[key] || key).replace(/\{(\w+)\}/g, (_, name) => given[name]);
const chosen = new URLSearchParams(location.search).get('lang');
const carried = chosen ? `&lang=${encodeURIComponent(chosen)}` : '';
const form = $('visit');
const here = form ? form.dataset : {};
const value = (id) => $(id).value.trim();
const picked = (group) => { const input = document.querySelector(`input[name="${group}"]:checked`); return input && input.value; };

// Reports, and settings (`token WATER`, `reach WATER`, `refused WATER`, `places WATER`, `sent WATER`, `not before`).

const opened = new Promise((resolve, reject) => {
  const ask = indexedDB.open('subimago-report', 1);
  ask.onupgradeneeded = () => {
    ask.result.createObjectStore('reports', { keyPath: 'id' });
    ask.result.createObjectStore('settings');
  };
  ask.onsuccess = () => resolve(ask.result);
  ask.onerror = () => reject(ask.error);
});
// Does `work` in one transaction; over when it is on the disk.
const stored = async (mode, work) => {
  const database = await opened;
  return new Promise((resolve, reject) => {
    const step = database.transaction(['reports', 'settings'], mode, { durability: 'strict' });
    const ask = work(step.objectStore('reports'), step.objectStore('settings'));
    step.oncomplete = () => resolve(ask && ask.result);
    step.onabort = () => reject(step.error);
  });
};
const setting = (key) => stored('readonly', (_, settings) => settings.get(key));
const set = (key, what) => stored('readwrite', (_, settings) => { if (what === undefined) settings.delete(key); else settings.put(what, key); });
const kept = async () => (await stored('readonly', (reports) => reports.getAll())).sort((a, b) => a.made_at - b.made_at);

// `YYYY-MM-DDTHH:MM` of an instant.
const wall = (at) => {
  const two = '2-digit';
  const parts = new Intl.DateTimeFormat('en-GB', { timeZone: here.zone, hourCycle: 'h23', year: 'numeric', month: two, day: two, hour: two, minute: two })
    .formatToParts(at).reduce((all, part) => ({ ...all, [part.type]: part.value }), {});
  return `${parts.year}-${parts.month}-${parts.day}T${parts.hour}:${parts.minute}`;
};
// The instant, in milliseconds, at which clocks at the water show `text`.
const instant = (text) => {
  const wanted = Date.parse(`${text}Z`);
  let at = wanted;
  for (let step = 0; step < 2; step += 1) at += wanted - Date.parse(`${wall(at)}Z`);
  return at;
};
const now = () => (here.today ? instant(`${here.today}T${wall(Date.now()).slice(11)}`) : Date.now());
const words = (date) => new Date(`${date}T12:00Z`).toLocaleDateString(LANGUAGE, { timeZone: 'UTC', day: 'numeric', month: 'long', year: 'numeric' });

// Hours stay the last two until somebody changes them.
let timesChosen = false;
const fillTimes = () => {
  if (!form || timesChosen) return;
  const end = now();
  const start = wall(end - VISIT_MS);
  $('date').value = start.slice(0, 10);
  $('from').value = start.slice(11);
  $('to').value = wall(end).slice(11);
  tellTimes();
};
const tellTimes = () => {
  const date = value('date');
  $('when-words').textContent = `${timesChosen ? '' : `${say('last-two-hours')} `}${say('span', { date: date ? words(date) : say('no-date'), from: value('from'), to: value('to') })}`;
};
const times = () => {
  const start = instant(`${value('date')}T${value('from')}`);
  let end = instant(`${value('date')}T${value('to')}`);
  if (end < start) end = instant(`${new Date(Date.parse(`${value('date')}T00:00Z`) + DAY_MS).toISOString().slice(0, 10)}T${value('to')}`);
  return [start, end];
};
