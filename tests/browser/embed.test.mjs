// The embed on other sites: shown where it is allowed, refused where it is not, harmless to both.
import assert from 'node:assert/strict';
import http from 'node:http';
import { after, before, test } from 'node:test';
import { DEMO, EMBED_PORTS, WATER, complaints, launch, until } from './support.mjs';

const FRAME = `<iframe src="${DEMO}/embed/${WATER}" title="Insects expected" width="100%" height="120"
  sandbox="allow-scripts allow-popups allow-popups-to-escape-sandbox"></iframe>
  <script src="${DEMO}/assets/embed.js" async></script>`;
const IMAGE = `<img src="${DEMO}/embed/${WATER}.svg" alt="Insects expected">`;

let browser;
const sites = [];
const site = (port, body, policy) => new Promise((resolve) => {
  const server = http.createServer((request, answer) => {
    if (request.url === '/favicon.ico') { answer.writeHead(204).end(); return; }
    answer.writeHead(200, { 'content-type': 'text/html', ...(policy && { 'content-security-policy': policy }) });
    answer.end(`<!DOCTYPE html><html lang="en"><title>A club</title><h1>A club</h1>${body}</html>`);
  });
  sites.push(server);
  server.listen(port, '127.0.0.1', () => resolve(`http://127.0.0.1:${server.address().port}/`));
});
before(async () => { browser = await launch(); });
after(async () => {
  await browser.close();
  sites.forEach((server) => { server.closeAllConnections(); server.close(); });
});

const embedded = (page) => page.frames().find((frame) => frame.url().startsWith(`${DEMO}/embed/`));
const height = (page) => page.locator('iframe').evaluate((frame) => frame.clientHeight);

const shownOn = async (page) => {
  await until('the frame shows the river', async () => {
    const frame = embedded(page);
    return frame && (await frame.locator('h1').textContent().catch(() => '')).startsWith('River Ostrey');
  });
  const frame = embedded(page);
  await until('the frame grows to what it shows', async () => {
    const wanted = await frame.evaluate(() => document.documentElement.getBoundingClientRect().height);
    return wanted > 200 && Math.abs(await height(page) - wanted) <= 1;
  });
  return frame;
};

test('an allowed site shows the frame, which grows and holds nothing of the reader', async () => {
  const page = await browser.newPage({ viewport: { width: 390, height: 844 } });
  const errors = complaints(page);
  await page.goto(await site(EMBED_PORTS[0], FRAME + IMAGE));
  const frame = await shownOn(page);
  assert.equal(await frame.evaluate(() => origin), 'null', 'the sandbox keeps it apart from the service too');
  assert.match(await frame.evaluate(() => getComputedStyle(document.body).fontFamily), /Georgia/, 'its style came');
  assert.ok(await page.locator('img').evaluate((image) => image.complete && image.naturalWidth >= 300), 'the image shows');
  const before = await height(page);
  await page.evaluate(() => postMessage({ subimago_height: 999 }, '*'));
  await page.waitForTimeout(200);
  assert.equal(await height(page), before, 'only the frame itself is listened to');
  for (const [told, taken] of [[1e9, 3000], [1, 120], ['900', 120], [NaN, 120]]) {
    await frame.evaluate((tall) => parent.postMessage({ subimago_height: tall }, '*'), told);
    await page.waitForTimeout(200);
    assert.equal(await height(page), taken, `${told}`);
  }
  assert.deepEqual(await page.context().cookies(), []);
  assert.deepEqual(errors, []);
  await page.close();
});

test('a site with a strict policy of its own shows the frame', async () => {
  const page = await browser.newPage();
  const policy = `default-src 'none'; frame-src ${DEMO}; script-src ${DEMO}`;
  await page.goto(await site(EMBED_PORTS[1], FRAME, policy));
  await shownOn(page);
  await page.close();
});

test('another site is refused the frame by the browser, and may show the image', async () => {
  const page = await browser.newPage();
  const errors = complaints(page);
  await page.goto(await site(0, FRAME + IMAGE));
  await until('the browser refuses', async () => errors.some((text) => text.includes('frame-ancestors')));
  assert.equal(await page.locator('h1').textContent(), 'A club', 'the site itself goes on');
  assert.equal(embedded(page), undefined);
  await until('the image shows', () => page.locator('img').evaluate((image) => image.complete && image.naturalWidth >= 300));
  await page.close();
});
