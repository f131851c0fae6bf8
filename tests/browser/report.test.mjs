// The report form on a phone: without signal, with a flapping one, refused, by keyboard alone.
import assert from 'node:assert/strict';
import { after, afterEach, before, beforeEach, test } from 'node:test';
import { DEMO, FORM, Gate, KEEPER, MEMBER, WATER, complaints, launch, storedIds, until } from './support.mjs';

let browser;
let gate;
let context;
let page;
before(async () => { browser = await launch(); });
after(() => browser.close());
beforeEach(async () => {
  gate = await new Gate().open();
  context = await browser.newContext({ viewport: { width: 390, height: 844 } });
  context.setDefaultTimeout(10000);
  page = await context.newPage();
});
afterEach(async () => {
  await context.close();
  await gate.shut().catch(() => undefined);
});

const state = () => page.locator('#state').textContent();
const open = async () => {
  await page.goto(gate.url + FORM);
  await until('the form opens', () => page.locator('#visit').isVisible());
};
const giveToken = async (token) => {
  if (!await page.locator('#token').isVisible()) await page.locator('#token-box > summary').click();
  await page.locator('#token').fill(token);
  await page.locator('#save-token').click();
};
const ready = async () => {
  await open();
  await giveToken(MEMBER);
  await until('the token is kept', async () => (await state()).includes('kept on this phone'));
};
const chooseReach = () => page.locator('#reach').selectOption({ index: 1 });
const waiting = () => page.locator('#waiting li').count();
const tile = (group, value) => page.locator(`input[name="${group}"][value="${value}"]`);
const nothingSeen = async () => {
  await tile('seen', 'none').click();
  await page.locator('button.send').click();
};
const oneInsect = async (index) => {
  await tile('seen', 'some').click();
  const insect = page.locator('.insect').first();
  await insect.locator('select').first().selectOption({ index: 2 + index % 5 });
  await insect.locator('select').nth(1).selectOption('dun');
  await insect.locator('input[value=moderate]').click();
  await page.locator('button.send').click();
};

test('nothing seen takes two taps once the reach is known, and says the last two hours', async () => {
  const errors = complaints(page);
  await ready();
  await chooseReach();
  await nothingSeen();
  await until('it is sent', async () => (await state()).startsWith('Sent:'));
  await page.reload();
  await until('the form opens', () => page.locator('#visit').isVisible());
  for (const part of [tile('seen', 'none'), page.locator('button.send')]) {
    const box = await part.boundingBox();
    assert.ok(box.y >= 0 && box.y + box.height <= 844, `${part} is seen without scrolling`);
  }
  await nothingSeen();
  await until('it is sent', async () => (await state()).startsWith('Sent:'));
  assert.equal(gate.sent.length, 2);
  const [first, second] = gate.sent;
  assert.equal(second.reach, first.reach, 'the reach is remembered');
  assert.notEqual(second.id, first.id);
  assert.deepEqual(second.sightings, []);
  assert.equal(second.looked_for, null);
  assert.equal(Date.parse(second.ended_at) - Date.parse(second.started_at), 2 * 3600 * 1000);
  assert.deepEqual(errors, []);
});

test('twenty reports without a server, a restart, a flapping signal and lost answers are twenty rows', async () => {
  const before = await storedIds();
  await ready();
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => true));
  await until('the form is kept for later', () => page.evaluate(async () => (await (await caches.open('subimago-report')).keys()).length >= 5));
  await gate.shut();
  await chooseReach();
  for (let made = 0; made < 20; made += 1) {
    await (made % 2 ? oneInsect(made) : nothingSeen());
    await until(`${made + 1} wait`, async () => await waiting() === made + 1);
  }
  assert.match(await state(), /20 reports wait, the oldest since/);
  await page.close();
  page = await context.newPage();
  await open();
  await until('all are still there', async () => await waiting() === 20);
  // The service stores three whose answers are lost, then the signal comes and goes.
  gate.lose = 3;
  await gate.open();
  await until('the clock sends without any event', () => gate.sent.length > 0, 30);
  for (let flap = 0; flap < 4; flap += 1) {
    await context.setOffline(true);
    await page.waitForTimeout(150);
    await context.setOffline(false);
    await page.waitForTimeout(100);
    if (flap === 1) {
      await gate.shut();
      await page.waitForTimeout(300);
      await gate.open();
    }
  }
  await until('nothing waits', async () => await waiting() === 0, 60);
  const after = await storedIds();
  const fresh = after.filter((id) => !before.includes(id));
  assert.equal(new Set(after).size, after.length, 'no id twice');
  assert.equal(fresh.length, 20);
  assert.equal(gate.lose, 0, 'answers were lost');
  assert.ok(gate.sent.length > 20, `what was stored was sent again: ${gate.sent.length}`);
  assert.deepEqual([...new Set(gate.sent.map((report) => report.id))].sort(), fresh.sort());
});

test('a report refused for good is shown with its reason, edited and sent again', async () => {
  await ready();
  await chooseReach();
  // An insect that the service does not know, as after a keeper took it away.
  await tile('seen', 'some').click();
  await page.locator('#taxon-1 option').nth(2).evaluate((option) => { option.value = 'taken-away'; });
  await page.locator('#taxon-1').selectOption('taken-away');
  await page.locator('#stage-1').selectOption('nymph');
  await tile('pads-1', 'dark').click();
  await tile('class-1', 'sparse').click();
  await page.locator('#more summary').click();
  await page.locator('#water').fill('11,5');
  await page.locator('#note').fill('under <b>stones</b>');
  await page.locator('button.send').click();
  await until('it is refused', async () => (await state()).includes('1 refused'));
  const line = await page.locator('#waiting li').textContent();
  assert.match(line, /Refused: Which: This is not known here any more/);
  assert.match(line, /under <b>stones<\/b>/, 'words stay words');
  await page.reload();
  await until('it is still there', async () => await waiting() === 1);
  await page.locator('text=Edit and send again').click();
  assert.equal(await page.evaluate(() => document.activeElement.id.split('-')[0]), 'taxon', 'the faulty field has the focus');
  assert.match(await page.locator('.insect .error:visible').textContent(), /not known here any more/);
  assert.equal(await page.locator('#water').inputValue(), '11.5');
  await page.locator('.insect select').first().selectOption({ index: 3 });
  await page.locator('button.send').click();
  await until('it is sent', async () => (await state()).startsWith('Sent:') && await waiting() === 0);
  const [refused, stored] = gate.sent;
  assert.notEqual(stored.id, refused.id, 'a new report has an id of its own');
  assert.deepEqual({ ...stored, id: 0, sightings: 0 }, { ...refused, id: 0, sightings: 0 });
  assert.equal(stored.sightings[0].wing_pads, 'dark');
  assert.ok((await storedIds()).includes(stored.id));
});

test('a German form says in German what was refused, and marks what the service says in English alone', async () => {
  await page.goto(`${gate.url}${FORM}&lang=de`);
  await until('the form opens', () => page.locator('#visit').isVisible());
  await page.locator('#code-box > summary').click();
  await page.locator('#code').fill('7Q4M-ZK2T-9HWD-X0RB');
  await page.locator('#name').fill('Robin');
  await page.locator('#join').click();
  await until('a wrong code is told', async () => (await page.locator('#code-error').textContent()).startsWith('Dieser Code gilt nicht'));
  await chooseReach();
  await page.locator('#more summary').click();
  const heic = Buffer.concat([Buffer.from([0, 0, 0, 24]), Buffer.from('ftypheic'), Buffer.alloc(12)]);
  await page.locator('#photo').setInputFiles({ name: 'a.heic', mimeType: 'image/heic', buffer: heic });
  await until('what to do with such a photo is told', async () => /HEIC.*als JPEG/.test(await page.locator('#photo-error').textContent()));
  await tile('seen', 'some').click();
  await page.locator('#taxon-1 option').nth(2).evaluate((option) => { option.value = 'taken-away'; });
  await page.locator('#taxon-1').selectOption('taken-away');
  await page.locator('#stage-1').selectOption('nymph');
  await tile('class-1', 'sparse').click();
  await page.locator('#further-1 summary').click();
  await page.locator('#did-1').evaluate((field) => { field.value = 'x'.repeat(501); });
  await page.locator('button.send').click();
  await giveToken(`subimago_${'A'.repeat(49)}`);
  await until('the refusal of the token is told', async () => (await state()).includes('Das Token wurde abgelehnt: Es ist unbekannt, abgelaufen oder widerrufen.'));
  await giveToken(MEMBER);
  // The length alone: what breaks a rule of fields is told before anything is looked up.
  await until('it is refused', async () => (await state()).includes('1 abgelehnt'));
  assert.match(await page.locator('#waiting li').textContent(), /Abgelehnt: Was sie taten: must have at most 500/);
  assert.match(await page.locator('#waiting li span[lang=en]').textContent(), /^must have at most 500/);
  await page.locator('text=Bearbeiten und erneut senden').click();
  assert.match(await page.locator('#did-2-error').textContent(), /^Abgelehnt: must have/);
  assert.match(await page.locator('#did-2-error span[lang=en]').textContent(), /^must have/);
  await page.locator('#did-2').fill('x');
  await page.locator('#taxon-2 option').nth(2).evaluate((option) => { option.value = 'taken-away'; });
  await page.locator('#taxon-2').selectOption('taken-away');
  await page.locator('button.send').click();
  await until('it is refused again', async () => /Abgelehnt: Welches: Das gibt es hier nicht mehr/.test(await page.locator('#waiting').textContent()));
  assert.equal(await page.locator('#waiting span[lang=en]').count(), 0);
});

test('a refused token is told and asked for again; what waits is then sent', async () => {
  await open();
  await chooseReach();
  await nothingSeen();
  await until('a token is asked for', async () => (await state()).includes('Enter your token'));
  await page.locator('#token').fill('subimago_short');
  await page.locator('#save-token').click();
  assert.match(await page.locator('#token-error').textContent(), /49 letters/);
  await giveToken(`subimago_${'A'.repeat(49)}`);
  await until('the refusal is told', async () => (await state()).includes('The token was refused'));
  assert.equal(await waiting(), 1);
  await giveToken(MEMBER);
  await until('it is sent', async () => (await state()).startsWith('Sent:'));
  assert.ok((await storedIds()).includes(gate.sent.at(-1).id));
});

test('a code becomes a token of one\'s own, and what waited is sent with it', async () => {
  const errors = complaints(page);
  const made = await fetch(`${DEMO}/v1/watersheds/${WATER}/join-codes`, {
    method: 'POST', headers: { authorization: `Bearer ${KEEPER}`, 'content-type': 'application/json' }, body: JSON.stringify({ name: 'browser test', most_uses: 1 }),
  });
  assert.equal(made.status, 201);
  const { code } = await made.json();
  await open();
  await chooseReach();
  await nothingSeen();
  await until('a token is asked for', async () => (await state()).includes('Enter your token'));
  await page.locator('#code-box > summary').click();
  await page.locator('#join').click();
  assert.match(await page.locator('#code-error').textContent(), /that a keeper gave you/);
  assert.match(await page.locator('#name-error').textContent(), /name or nickname/);
  assert.equal(await page.evaluate(() => document.activeElement.id), 'code');
  await page.locator('#name').fill('Robin');
  await page.locator('#code').fill('0000-0000-0000-0000');
  await page.locator('#join').click();
  await until('a wrong code is told', async () => (await page.locator('#code-error').textContent()).includes('not a code that holds'));
  await page.locator('#code').fill(code.toLowerCase().replaceAll('-', ' '));
  await gate.shut();
  await page.locator('#join').click();
  await until('no answer is told', async () => (await page.locator('#code-error').textContent()).startsWith('No answer'));
  await gate.open();
  await page.locator('#join').click();
  await until('it is sent', async () => (await state()).startsWith('Sent:'));
  const token = await page.locator('#token').inputValue();
  assert.match(token, /^subimago_[0-9A-Za-z]{49}$/);
  assert.notEqual(token, MEMBER);
  assert.ok((await storedIds()).includes(gate.sent.at(-1).id));
  await page.reload();
  await until('the form opens', () => page.locator('#visit').isVisible());
  assert.equal(await page.locator('#token').inputValue(), token, 'it is kept');
  // The refusal of the wrong code and the shut gate are in the console, and nothing else.
  assert.ok(errors.every((text) => /Failed to load resource/.test(text)), `${errors}`);
});

test('a time to come back is kept to, and answers of others are not taken for the service', async () => {
  await ready();
  await chooseReach();
  const problem = (status) => [status, { 'content-type': 'application/problem+json', 'retry-after': '3' }, JSON.stringify({ status, detail: 'later' })];
  gate.instead = [problem(429), [200, { 'content-type': 'text/html' }, '<title>Sign in to this network</title>'], [404, { 'content-type': 'text/html' }, 'no']];
  await nothingSeen();
  await until('it was tried', () => gate.instead.length === 2);
  await page.locator('#try').click();
  await page.evaluate(() => dispatchEvent(new Event('online')));
  await page.waitForTimeout(2000);
  assert.equal(gate.instead.length, 2, 'not before the time');
  await until('it was tried again', () => gate.instead.length === 1, 5);
  for (const left of [0, -1]) {
    assert.equal(await waiting(), 1, 'it is not taken for stored or refused');
    await page.locator('#try').click();
    await until('it was tried again', () => (left ? gate.sent.length === 1 : gate.instead.length === 0));
  }
  await until('it is sent', async () => await waiting() === 0);
});

test('times are those of the water, wherever the phone believes itself to be', async () => {
  const far = await browser.newContext({ timezoneId: 'America/New_York' });
  page = await far.newPage();
  await ready();
  await chooseReach();
  await page.locator('#when summary').click();
  await page.locator('#date').fill('2026-05-18');
  await page.locator('#from').fill('22:30');
  await page.locator('#to').fill('00:15');
  await nothingSeen();
  await until('it is sent', () => gate.sent.length === 1);
  assert.equal(gate.sent[0].started_at, '2026-05-18T21:30:00.000Z');
  assert.equal(gate.sent[0].ended_at, '2026-05-18T23:15:00.000Z');
  await far.close();
});

test('wrong fields are named where they stand, and the first has the focus', async () => {
  await open();
  await page.locator('button.send').click();
  const at = (id) => page.locator(`#${id}-error`).textContent();
  assert.match(await at('reach'), /Choose the reach/);
  assert.match(await at('seen'), /nothing seen counts too/);
  assert.equal(await page.evaluate(() => document.activeElement.id), 'reach');
  await chooseReach();
  await tile('seen', 'some').click();
  await page.locator('#taxon-1').selectOption('?');
  await page.locator('#length-1').fill('0');
  await page.locator('#more summary').click();
  await page.locator('#water').fill('60');
  await page.locator('#people').fill('0');
  await page.locator('#when summary').click();
  await page.locator('#date').fill('2026-05-25');
  await page.locator('button.send').click();
  assert.match(await at('to'), /future/);
  for (const id of ['length-1', 'colour-1', 'stage-1', 'class-1', 'water', 'people']) assert.ok(await page.locator(`#${id}-error`).isVisible(), id);
  assert.equal(await waiting(), 0);
  assert.equal(gate.sent.length, 0);
});

test('what waits can be taken along as text', async () => {
  await open();
  await chooseReach();
  await nothingSeen();
  await until('it waits', async () => await waiting() === 1);
  await page.locator('#copy').click();
  // Filled before it is shown; what waits is read from the phone's store first.
  await page.locator('#copied').waitFor();
  assert.match(await page.locator('#copied').inputValue(), /^River Ostrey.*, \d+ May 2026, \d\d:\d\d to \d\d:\d\d: nothing seen\.\nReport [0-9a-f-]{36}$/);
});

test('by keyboard alone', async () => {
  await ready();
  const at = () => page.evaluate(() => { const one = document.activeElement; return one.id || `${one.name || one.className}=${one.value || ''}`; });
  const tabTo = async (wanted) => {
    for (let step = 0; step < 40; step += 1) {
      if (wanted.test(await at())) {
        const hidden = await page.evaluate(() => {
          const one = document.activeElement;
          const box = (one.type === 'radio' ? one.parentElement : one).getBoundingClientRect();
          return box.bottom <= 0 || box.top >= innerHeight;
        });
        assert.ok(!hidden, `${wanted} is in view`);
        return;
      }
      await page.keyboard.press('Tab');
    }
    assert.fail(`${wanted} is never reached, last ${await at()}`);
  };
  await page.evaluate(() => document.activeElement.blur());
  await page.keyboard.press('Tab');
  await tabTo(/^reach$/);
  await page.keyboard.press('ArrowDown');
  await tabTo(/^seen=none$/);
  await page.keyboard.press('ArrowRight');
  await tabTo(/^taxon-1$/);
  await page.keyboard.press('ArrowDown');
  await tabTo(/^length-1$/);
  await page.keyboard.type('6.5');
  await tabTo(/^colour-1$/);
  await page.keyboard.type('olive');
  await tabTo(/^stage-1$/);
  await page.keyboard.type('dun');
  await tabTo(/^class-1=sparse$/);
  await page.keyboard.press('Space');
  await tabTo(/^send=/);
  await page.keyboard.press('Enter');
  await until('it is sent', async () => (await state()).startsWith('Sent:'));
  assert.equal(await at(), 'phone-title', 'the focus goes where the outcome is told');
  const [sighting] = gate.sent[0].sightings;
  assert.deepEqual([sighting.taxon, sighting.described, sighting.stage, sighting.abundance_class], [null, { length_mm: 6.5, colour: 'olive' }, 'dun', 'sparse']);
});

// A JPEG of the browser's own with what a camera writes before the picture: an Exif segment with a maker's name.
const photographed = async (width, height) => {
  const made = await page.evaluate(async ([w, h]) => {
    const canvas = document.createElement('canvas');
    [canvas.width, canvas.height] = [w, h];
    const pen = canvas.getContext('2d');
    pen.fillStyle = 'olive';
    pen.fillRect(0, 0, w, h);
    const blob = await new Promise((resolve) => { canvas.toBlob(resolve, 'image/jpeg', 0.9); });
    return [...new Uint8Array(await blob.arrayBuffer())];
  }, [width, height]);
  // TIFF, little-endian: one entry, Make, 12 bytes at 26 (Exif 2.3, from memory).
  const tiff = Buffer.from('49492a0008000000010000000f0102000c0000001a00000000000000'.slice(0, 52), 'hex');
  const exif = Buffer.concat([Buffer.from('Exif\0\0'), tiff, Buffer.from('TattleMaker\0')]);
  const head = Buffer.from([0xff, 0xe1, 0, 0]);
  head.writeUInt16BE(exif.length + 2, 2);
  const bytes = Buffer.from(made);
  return Buffer.concat([bytes.subarray(0, 2), head, exif, bytes.subarray(2)]);
};
const told = async (id) => (await (await fetch(`${DEMO}/v1/reports/${id}/moderation`, { headers: { authorization: `Bearer ${KEEPER}` } })).json());

test('a photo taken without signal is kept small and without what the camera told, and comes once with its report', async () => {
  await ready();
  await chooseReach();
  const buffer = await photographed(3000, 2000);
  assert.ok(buffer.includes('TattleMaker'));
  await gate.shut();
  await page.locator('#more summary').click();
  await page.locator('#photo').setInputFiles({ name: 'a.txt', mimeType: 'image/jpeg', buffer: Buffer.from('no picture') });
  await until('what is no picture is told', async () => (await page.locator('#photo-error').textContent()).includes('cannot read'));
  await page.locator('#photo').setInputFiles({ name: 'insect.jpg', mimeType: 'image/jpeg', buffer });
  await until('it is made small', async () => /^A photo of \d+ kB/.test(await page.locator('#photo-words').textContent()));
  await nothingSeen();
  await until('it waits', async () => await waiting() === 1);
  assert.match(await page.locator('#waiting li').textContent(), /With a photo\./);
  await page.reload();
  await until('it is still there', async () => await waiting() === 1);
  // The report is stored and its answer lost, then the photo is stored and its answer lost.
  [gate.lose, gate.loseLater] = [1, 1];
  await gate.open();
  await page.locator('#try').click();
  await until('both are sent', async () => await waiting() === 0 && (await state()).startsWith('Sent:'), 60);
  assert.equal(new Set(gate.sent.map((report) => report.id)).size, 1);
  assert.deepEqual(gate.later.map(({ method, url }) => `${method} ${url}`), Array(2).fill(`PUT /v1/reports/${gate.sent[0].id}/photo`));
  for (const { body } of gate.later) {
    assert.ok(!body.includes('TattleMaker') && !body.includes('Exif') && body.length < 200000, `${body.length} bytes`);
  }
  assert.equal((await told(gate.sent[0].id)).has_photo, true);
});

test('the position chooses the nearest reach on the phone and goes nowhere', async () => {
  const { items } = await (await fetch(`${DEMO}/v1/watersheds/${WATER}/reaches`)).json();
  const [, , reach] = items;
  const [latitude, longitude] = [reach.latitude + 0.000713, reach.longitude - 0.000417];
  await context.grantPermissions(['geolocation']);
  await context.setGeolocation({ latitude, longitude, accuracy: 12 });
  await ready();
  await until('the places are kept', () => page.evaluate(() => new Promise((resolve) => {
    const ask = indexedDB.open('subimago-report');
    ask.onsuccess = () => { const got = ask.result.transaction('settings').objectStore('settings').get('places river-ostrey'); got.onsuccess = () => resolve(Boolean(got.result)); };
  })));
  // On the bank there may be no signal.
  await context.setOffline(true);
  await page.locator('#near').click();
  await until('it is told', async () => (await page.locator('#near-words').textContent()).startsWith(`Nearest: ${reach.name}`));
  assert.equal(await page.locator('#reach').inputValue(), reach.slug);
  await context.setOffline(false);
  await nothingSeen();
  await until('it is sent', async () => (await state()).startsWith('Sent:'));
  const parts = [latitude, longitude].map((degrees) => String(degrees).slice(0, 7));
  for (const line of gate.asked) for (const part of parts) assert.ok(!line.includes(part), line);
  assert.equal(gate.sent[0].reach, reach.slug);
  await context.setGeolocation({ latitude: latitude + 2, longitude, accuracy: 12 });
  await page.locator('#near').click();
  await until('far away is told', async () => (await page.locator('#near-words').textContent()).includes('km away. Choose the reach yourself'));
});

test('a count and what they did go with an insect', async () => {
  await ready();
  await chooseReach();
  await tile('seen', 'some').click();
  await page.locator('#taxon-1').selectOption({ index: 2 });
  await page.locator('#stage-1').selectOption('spinner');
  await tile('class-1', 'heavy').click();
  await page.locator('#further-1 summary').click();
  await page.locator('#count-1').fill('1.5');
  await page.locator('#did-1').fill('dancing over the road');
  await page.locator('button.send').click();
  assert.match(await page.locator('#count-1-error').textContent(), /whole number/);
  await page.locator('#count-1').fill('40');
  await page.locator('button.send').click();
  await until('it is sent', async () => (await state()).startsWith('Sent:'));
  const [sighting] = gate.sent[0].sightings;
  assert.deepEqual([sighting.count, sighting.behaviour], [40, 'dancing over the road']);
});

test('what a keeper asks is read by its sender, answered without signal and sent once', async () => {
  await ready();
  await chooseReach();
  await oneInsect(1);
  await until('it is sent', async () => (await state()).startsWith('Sent:'));
  const { id } = gate.sent[0];
  const decided = await fetch(`${DEMO}/v1/reports/${id}/decision`, {
    method: 'POST', headers: { authorization: `Bearer ${KEEPER}`, 'content-type': 'application/json' }, body: JSON.stringify({ state: 'needs_info', reason: 'Which <of> the two weirs?' }),
  });
  assert.equal(decided.status, 200);
  await page.reload();
  const asked = page.locator('#sent-list li', { hasText: 'A keeper asks: Which <of> the two weirs?' });
  await until('the question is read', async () => await asked.count() === 1);
  assert.match(await page.locator('#asked').textContent(), /left you a word/, 'and told at the top');
  await gate.shut();
  await asked.locator('button').click();
  assert.equal(await page.locator('#stage-1').inputValue(), 'dun', 'what was said stands in the form');
  await page.locator('#more summary').click();
  await page.locator('#note').fill('The upper one.');
  await page.locator('button.send').click();
  await until('the answer waits', async () => await waiting() === 1);
  assert.match(await page.locator('#sent-list').textContent(), /Your answer waits on this phone/);
  gate.loseLater = 1;
  await gate.open();
  await page.locator('#try').click();
  await until('the answer is sent', async () => await waiting() === 0 && (await state()).includes('Sent:'), 60);
  const now = await told(id);
  assert.deepEqual([now.report.state, now.report.note, now.report.version], ['new', 'The upper one.', 3], 'changed once');
  assert.equal(gate.sent.length, 1, 'no second report');
  await page.reload();
  await until('it waits for a keeper', async () => (await page.locator('#sent-list').textContent()).includes('Waits for a keeper.'));
  await giveToken('');
  await until('without the token nothing of it is shown', async () => !await page.locator('#sent').isVisible());
});
