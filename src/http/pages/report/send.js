// Sends what waits: on opening, when seen again, when there is signal again, and by the clock.
let timer = 0;
let failures = 0;
let busy = false;
let again = false;
let sent = [];
const plan = (wait) => { clearTimeout(timer); timer = setTimeout(drain, wait); };
const pause = (answer) => {
  const text = answer.headers.get('retry-after');
  if (!text) return null;
  const wait = /^\d+$/.test(text.trim()) ? Number(text) * 1000 : Date.parse(text) - Date.now();
  return Number.isNaN(wait) ? null : Math.min(Math.max(wait, 0), DAY_MS);
};
// What became of one request: `sent`, `refused` for good with reasons, `token` (another one is needed), or `later`.
const post = async (path, method, token, headers, body, isOurs, patience = ANSWER_MS) => {
  const limit = new AbortController();
  const alarm = setTimeout(() => limit.abort(), patience);
  let answer;
  let told;
  try {
    answer = await fetch(path, { method, body, signal: limit.signal, redirect: 'error', credentials: 'omit', cache: 'no-store', headers: { Authorization: `Bearer ${token}`, ...headers } });
    told = await answer.json().catch(() => null);
  } catch {
    return { kind: 'later', wait: null };
  } finally {
    clearTimeout(alarm);
  }
  const { status } = answer;
  const wait = pause(answer);
  // Something in between, such as the sign-in page of a network, may answer in the service's name.
  const ours = told !== null && (answer.ok ? isOurs(told) : told.status === status);
  if (!ours) return { kind: 'later', wait };
  if (answer.ok) return { kind: 'sent', told };
  if (status === 401 || status === 403) return { kind: 'token', reason: kindOf(told) };
  // A conflict without a time to come back lasts: the id is stored with other content, or was withdrawn.
  if ([408, 425, 429].includes(status) || status >= 500 || status < 400 || (status === 409 && wait !== null)) return { kind: 'later', wait };
  const reasons = told.errors && told.errors.length ? told.errors.map(({ pointer, code, detail }) => ({ pointer, code, detail })) : [kindOf(told)];
  return { kind: 'refused', status, reasons };
};
const JSON_TYPE = { 'Content-Type': 'application/json' };
const send = async ({ id, key, report, change }, token) => {
  const mine = (told) => told.id === id;
  const body = JSON.stringify(report);
  if (!change) return post('/v1/reports', 'POST', token, { ...JSON_TYPE, 'Idempotency-Key': key }, body, mine);
  const path = `/v1/reports/${id}`;
  const outcome = await post(path, 'PATCH', token, { ...JSON_TYPE, 'If-Match': change }, body, mine);
  if (outcome.status !== 412) return outcome;
  // It changed since: perhaps by this very answer, whose own answer was lost.
  const now = await post(path, 'GET', token, {}, undefined, mine);
  if (now.kind !== 'sent' || says(now.told, report)) return now;
  return { kind: 'refused', reasons: [{ code: 'changed' }] };
};
// A photo follows its report. What became of it does not hold the report up for good.
const sendPhoto = async (item, token) => {
  const outcome = await post(`/v1/reports/${item.id}/photo`, 'PUT', token, { 'Content-Type': 'image/jpeg' }, item.photo, (told) => told.report === item.id, PHOTO_MS);
  return outcome.kind === 'refused' ? { kind: 'sent', without: spoken(outcome.reasons[0]).join(' ') } : outcome;
};
const sendAll = async () => {
  for (const item of await kept()) {
    const { watershed } = item.report;
    const token = await setting(`token ${watershed}`);
    if (item.reasons || !token || await setting(`refused ${watershed}`)) continue;
    let outcome = item.filed ? { kind: 'sent' } : await send(item, token);
    if (outcome.kind === 'sent' && item.photo) {
      if (!item.filed) await stored('readwrite', (reports) => { reports.put({ ...item, filed: true }); });
      outcome = await sendPhoto(item, token);
    }
    if (outcome.kind === 'later') {
      failures += 1;
      if (outcome.wait !== null) await set('not before', Date.now() + outcome.wait);
      const backoff = Math.min(LATEST_MS, SOON_MS * 2 ** (failures - 1)) * (0.8 + Math.random() * 0.4);
      plan(outcome.wait === null ? backoff : Math.max(outcome.wait, 1000));
      return;
    }
    failures = 0;
    if (outcome.kind === 'sent') {
      await stored('readwrite', (reports) => { reports.delete(item.id); });
      sent = [...sent, item.words.split('\n')[0]];
      notice = outcome.without ? say('photo-refused', { reason: outcome.without }) : '';
    } else if (outcome.kind === 'refused') await stored('readwrite', (reports) => { reports.put({ ...item, reasons: outcome.reasons }); });
    else await set(`refused ${watershed}`, spoken(outcome.reason).join(' '));
    await show();
  }
};
const drain = async () => {
  if (busy) { again = true; return; }
  busy = true;
  try {
    const wait = (await setting('not before') || 0) - Date.now();
    if (wait > 0 && wait <= DAY_MS) plan(wait);
    else if (!navigator.locks) await sendAll();
    // One page sends at a time; another looks again later.
    else await navigator.locks.request('subimago-report', { ifAvailable: true }, (lock) => (lock ? sendAll() : plan(SOON_MS)));
  } finally {
    busy = false;
  }
  await show();
  if (again) {
    again = false;
    await drain();
  }
};
const wake = () => { failures = 0; return drain(); };
