// Without scripts and without a mouse: every page that links lead to, the form that asks what was seen, and the way to
// a calendar by the keyboard alone.
import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { DEMO, WATER, complaints, launch } from './support.mjs';

let browser;
before(async () => { browser = await launch(); });
after(() => browser.close());

const read = (page) => page.evaluate(() => ({
  words: (document.querySelector('main') ?? document.body).innerText.replace(/\s+/g, ' ').trim(),
  title: document.title,
  links: [...document.querySelectorAll('a[href]')].map((link) => link.href.split('#')[0]),
}));

test('every page says the same without scripts', async () => {
  const without = await browser.newContext({ javaScriptEnabled: false });
  const withScripts = await browser.newContext();
  const open = [`${DEMO}/`];
  const seen = new Set();
  // Of pages of one kind, such as those of insects, two are enough.
  const kinds = new Map();
  const kind = (path) => path.split('?')[0].replace(/(\/(?:taxa|reaches|problems)\/)[^/]+/, '$1*');
  while (open.length) {
    const address = open.shift();
    const path = address.slice(DEMO.length);
    if (!seen.has(path) && (kinds.get(kind(path)) ?? 0) >= 2) continue;
    if (seen.has(path) || !address.startsWith(`${DEMO}/`) || /\.(ics|atom|json|geojson|csv|txt)$|^\/(v1|ogc|calendars|feeds)\b/.test(path.split('?')[0]) || path.includes('units=')) continue;
    seen.add(path);
    kinds.set(kind(path), (kinds.get(kind(path)) ?? 0) + 1);
    const [bare, full] = [await without.newPage(), await withScripts.newPage()];
    const answer = await bare.goto(address);
    assert.equal(answer.status(), 200, path);
    await full.goto(address);
    const [plain, rich] = [await read(bare), await read(full)];
    assert.ok(plain.words.length > 40 && plain.title, `${path} has content`);
    if (path.startsWith('/report')) assert.match(plain.words, /needs JavaScript.*interface for programs|Which water/, path);
    else assert.equal(plain.words, rich.words, path);
    open.push(...plain.links);
    await bare.close();
    await full.close();
  }
  assert.ok(seen.size >= 18, `${seen.size} pages`);
  await without.close();
  await withScripts.close();
});

test('what was seen can be asked without scripts', async () => {
  const context = await browser.newContext({ javaScriptEnabled: false, viewport: { width: 390, height: 844 } });
  const page = await context.newPage();
  await page.goto(`${DEMO}/w/${WATER}`);
  await page.locator('#reaches ~ ul a').first().click();
  await page.getByRole('link', { name: 'What did I just see?' }).click();
  await page.getByLabel('Body length without tails, mm').fill('20');
  await page.getByLabel('Tails', { exact: true }).selectOption('3');
  await page.getByLabel('Wings at rest').selectOption('upright');
  await page.getByLabel('Colour of the body').selectOption('cream');
  await page.getByRole('button', { name: 'What was it?' }).click();
  const first = page.locator('.ranked > li').first();
  assert.match(await first.innerText(), /Ephemera danica/);
  assert.match(await first.innerText(), /20 mm lies within/);
  assert.equal(await page.getByLabel('Tails', { exact: true }).inputValue(), '3', 'what was given stays');
  // A slip is told at its field, and what else was given stays.
  await page.getByLabel('Body length without tails, mm').fill('long');
  await page.getByRole('button', { name: 'What was it?' }).click();
  const field = page.getByLabel('Body length without tails, mm');
  assert.equal(await field.getAttribute('aria-invalid'), 'true');
  assert.match(await page.locator(`#${await field.getAttribute('aria-describedby')}`).innerText(), /0.5 and 100/);
  assert.equal(await page.getByLabel('Tails', { exact: true }).inputValue(), '3');
  await context.close();
});

// Presses Tab until the link or field with these words has the focus, and sees that the focus can be seen.
const tabTo = async (page, words) => {
  for (let step = 0; step < 200; step += 1) {
    await page.keyboard.press('Tab');
    const focus = await page.evaluate(() => {
      const at = document.activeElement;
      const style = getComputedStyle(at);
      return { words: (at.innerText ?? '').trim(), outline: style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2 };
    });
    if (focus.words === words) {
      assert.ok(focus.outline, `the focus on "${words}" can be seen`);
      // The page is moved after the focus is, later on a busy machine, and by whole pixels.
      for (let look = 0; look < 20; look += 1) {
        const box = await page.evaluate(() => { const { top, bottom } = document.activeElement.getBoundingClientRect(); return { top, room: innerHeight - bottom }; });
        if (box.top > -1 && box.room > -1) return;
        await page.waitForTimeout(100);
      }
      assert.fail(`"${words}" is on the screen when it has the focus`);
    }
  }
  assert.fail(`no way to "${words}" by the keyboard`);
};

test('a calendar can be had by the keyboard alone', async () => {
  const context = await browser.newContext({ acceptDownloads: true, viewport: { width: 1280, height: 844 } });
  const page = await context.newPage();
  const errors = complaints(page);
  const reaches = await (await fetch(`${DEMO}/v1/watersheds/${WATER}/reaches`)).json();
  const name = (await (await fetch(`${DEMO}/v1/watersheds/${WATER}`)).json()).name;
  await page.goto(`${DEMO}/`);
  await page.keyboard.press('Tab');
  assert.equal(await page.evaluate(() => document.activeElement.innerText), 'Skip to the content');
  await page.keyboard.press('Enter');
  await tabTo(page, name);
  await page.keyboard.press('Enter');
  await page.waitForURL(`**/w/${WATER}`);
  await tabTo(page, reaches.items[0].name);
  await page.keyboard.press('Enter');
  await page.waitForURL('**/reaches/*');
  await tabTo(page, 'Calendar of this reach');
  const coming = page.waitForEvent('download');
  await page.keyboard.press('Enter');
  const download = await coming;
  const chunks = [];
  for await (const chunk of await download.createReadStream()) chunks.push(chunk);
  const calendar = Buffer.concat(chunks).toString('utf8');
  assert.match(calendar, /^BEGIN:VCALENDAR\r\n/);
  assert.ok(calendar.includes(`/reaches/${reaches.items[0].slug}`), 'of this reach');
  assert.deepEqual(errors, []);
  await context.close();
});
