// The keeper's desk in a browser: every page narrow and wide, light and dark, and the way of a keeper through it by
// keyboard, without scripts.
import assert from 'node:assert/strict';
import { randomUUID } from 'node:crypto';
import { after, before, test } from 'node:test';
import { DEMO, KEEPER, MEMBER, WATER, complaints, launch, violations } from './support.mjs';

let browser;
let report;
before(async () => {
  browser = await launch();
  const reaches = await (await fetch(`${DEMO}/v1/watersheds/${WATER}/reaches`)).json();
  report = randomUUID();
  const end = Date.parse('2026-05-19T19:00:00Z');
  const filed = await fetch(`${DEMO}/v1/reports`, {
    method: 'POST',
    headers: { authorization: `Bearer ${MEMBER}`, 'content-type': 'application/json', 'idempotency-key': report },
    body: JSON.stringify({
      id: report, watershed: WATER, reach: reaches.items[0].slug, started_at: new Date(end - 7200000), ended_at: new Date(end), people: 1,
      looked_for: null, water_c: 11.5, sky: null, note: 'under <b>alders</b>', sightings: [],
    }),
  });
  assert.equal(filed.status, 201, await filed.text());
});
after(() => browser.close());

const signIn = async (page) => {
  await page.goto(`${DEMO}/desk`);
  await page.getByLabel('Keeper token').fill(KEEPER);
  await page.getByRole('button', { name: 'Sign in' }).click();
  await page.getByRole('heading', { name: 'Your waters' }).waitFor();
};

// The smallest letters drawn in a picture, in pixels of the screen.
const letters = () => {
  const texts = [...document.querySelectorAll('main svg text')].filter((text) => text.getClientRects().length);
  return { count: texts.length, smallest: Math.min(...texts.map((text) => parseFloat(getComputedStyle(text).fontSize) * Math.abs(text.getScreenCTM().a))) };
};

for (const width of [390, 1280]) {
  for (const colorScheme of ['light', 'dark']) {
    test(`pages of the desk at ${width} px, ${colorScheme}`, async () => {
      const context = await browser.newContext({ viewport: { width, height: 844 }, colorScheme, javaScriptEnabled: true });
      const page = await context.newPage();
      const errors = complaints(page);
      await page.goto(`${DEMO}/desk`);
      assert.deepEqual(await violations(page), [], 'sign in');
      await signIn(page);
      const water = await (await fetch(`${DEMO}/v1/watersheds/${WATER}`)).json();
      const at = (end) => `/desk/${WATER}${end}`;
      const paths = [
        '/desk', at(''), at('?list=all'), at(`/reports/${report}`), at('/access'), at('/gauges'), at(`/gauges/${water.gauges[0].slug}`),
        at(`/gauges/${water.gauges[0].slug}?step=instant`), at('/imports'), at('/notices'), at('/feeds'), at('/fits'), at('/visits'), at('/review'), at('/places'),
        at(`/places/water/${WATER}`), at(`/places/reaches/${water.reaches[0].slug}`), at(`/places/gauges/${water.gauges[0].slug}`),
        at(`/places/taxa/${water.taxa[0]}`),
      ];
      let drawn = 0;
      for (const path of paths) {
        // The plan draws every season anew.
        const answer = await page.goto(DEMO + path, { timeout: 60000 });
        assert.equal(answer.status(), 200, path);
        await page.evaluate(() => document.querySelectorAll('details').forEach((part) => { part.open = true; }));
        assert.deepEqual(await violations(page), [], path);
        const [inner, whole] = await page.evaluate(() => [innerWidth, document.documentElement.scrollWidth]);
        assert.ok(whole <= inner, `${path} scrolls sideways: ${whole} in ${inner} px`);
        const { count, smallest } = await page.evaluate(letters);
        drawn += count;
        assert.ok(count === 0 || smallest >= 11.99, `${path}: letters of ${smallest} px`);
        const small = await page.evaluate(() => [...document.querySelectorAll('main :is(button, select, summary, textarea, input:not([type=hidden], [type=checkbox]), label.check, nav a)')]
          .map((part) => [part.outerHTML.slice(0, 80), part.getBoundingClientRect()]).filter(([, box]) => box.width > 0 && box.height < 43.5)
          .map(([html, box]) => `${html}: ${box.width} x ${box.height}`));
        assert.deepEqual(small, [], path);
      }
      assert.ok(drawn > 5, 'a picture of readings was looked at');
      assert.deepEqual(errors, []);
      await context.close();
    });
  }
}

test('a keeper decides by keyboard alone, without scripts, and takes it back', async () => {
  const context = await browser.newContext({ viewport: { width: 390, height: 844 }, javaScriptEnabled: false });
  const page = await context.newPage();
  await signIn(page);
  await page.goto(`${DEMO}/desk/${WATER}/reports/${report}`);
  const at = () => page.locator(':focus');
  const tabTo = async (name) => {
    for (let step = 0; step < 40; step += 1) {
      if (await at().count() && (await at().getAttribute('name') === name || (await at().textContent()).trim() === name)) return;
      await page.keyboard.press('Tab');
    }
    assert.fail(`${name} is never reached`);
  };
  await tabTo('state');
  await page.keyboard.type('Set');
  await tabTo('Decide');
  await page.keyboard.press('Enter');
  await page.getByText('Not done: look at the fields marked below.').waitFor();
  assert.equal(await page.locator('[aria-invalid=true]').getAttribute('name'), 'reason');
  await tabTo('reason');
  await page.keyboard.type('not our river');
  await tabTo('Decide');
  await page.keyboard.press('Enter');
  await page.getByText('Set aside: it is out of the next fit').waitFor();
  const listed = async () => (await (await fetch(`${DEMO}/v1/watersheds/${WATER}/reports?limit=500`)).text()).includes(report);
  assert.equal(await listed(), false);
  await page.getByRole('button', { name: /Take the last decision back/ }).click();
  await page.getByText('The decision is taken back.').waitFor();
  assert.equal(await listed(), true);
  await context.close();
});

test('the session is nobody else\'s: no script reads it, no other site sends with it', async () => {
  const context = await browser.newContext();
  const page = await context.newPage();
  await signIn(page);
  const [cookie] = await context.cookies(`${DEMO}/desk`);
  assert.deepEqual([cookie.httpOnly, cookie.sameSite, cookie.path], [true, 'Strict', '/desk']);
  assert.ok(!cookie.value.includes(KEEPER) && cookie.expires - Date.now() / 1000 <= 12 * 3600 + 60);
  assert.equal(await page.evaluate(() => document.cookie), '');
  // A page of another origin sends the form that signs out.
  await page.goto(`data:text/html,<form method="post" action="${DEMO}/desk/sign-out"><button>go</button></form>`);
  const refused = page.waitForResponse((answer) => answer.url().endsWith('/desk/sign-out'));
  await page.locator('button').click();
  assert.equal((await refused).status(), 403);
  await page.goto(`${DEMO}/desk`);
  await page.getByRole('heading', { name: 'Your waters' }).waitFor();
  await page.getByRole('button', { name: 'Sign out' }).click();
  await page.getByText('You are signed out.').waitFor();
  await page.goto(`${DEMO}/desk/${WATER}`);
  assert.ok(await page.getByLabel('Keeper token').isVisible());
  await context.close();
});

test('a table is sent from the desk and tried', async () => {
  const page = await browser.newPage();
  await signIn(page);
  await page.goto(`${DEMO}/desk/${WATER}/imports`);
  const water = await (await fetch(`${DEMO}/v1/watersheds/${WATER}`)).json();
  const text = `site,date_from,date_to,taxon,count\n${water.reaches[0].slug},2026-05-12,2026-05-12,${water.taxa[0]},3\nnowhere,2026-05-12,2026-05-12,x,1\n`;
  await page.getByLabel('The table').setInputFiles({ name: 'notebook.csv', mimeType: 'text/csv', buffer: Buffer.from(text) });
  await page.getByRole('button', { name: 'Send' }).click();
  await page.getByText('The file is kept').waitFor();
  for (let look = 0; look < 60 && await page.getByRole('link', { name: 'Look again' }).count(); look += 1) {
    await page.waitForTimeout(1000);
    await page.getByRole('link', { name: 'Look again' }).click();
  }
  assert.match(await page.locator('main').textContent(), /Refused: \d+ faults in 2 rows, nothing was stored\./);
  assert.deepEqual(await violations(page), []);
  await page.close();
});
