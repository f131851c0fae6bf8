// Every public page, narrow and wide, light and dark.
import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { DEMO, FORM, WATER, complaints, launch, violations } from './support.mjs';

let browser;
let paths;
let card;
before(async () => {
  browser = await launch();
  const reaches = await (await fetch(`${DEMO}/v1/watersheds/${WATER}/reaches`)).json();
  assert.ok(reaches.items.length > 1);
  const problem = '/problems/not-found';
  const water = `/w/${WATER}`;
  const ofWater = ['', '/season', '/print', '/skill', '/taxa/ephemera-danica', `/reaches/${reaches.items[0].slug}`, `/reaches/${reaches.items[0].slug}/card`, '/seen', `/reaches/${reaches.items[0].slug}/guidance?time=21:00&signs=duns-ignored&conditions=windy`, `/reaches/${reaches.items[0].slug}/seen?length_mm=8&tails=2&wings=upright&body=olive`];
  card = `${water}/reaches/${reaches.items[0].slug}/card`;
  // The reference is in English alone and takes no choice.
  paths = ['/', ...ofWater.map((path) => water + path), FORM, '/about', '/reference', '/problems', problem, `/embed/${WATER}`];
});
after(() => browser.close());

// The smallest letters drawn in a picture, in pixels of the screen, and how many there were.
const letters = () => {
  const texts = [...document.querySelectorAll('svg text')].filter((text) => text.getClientRects().length);
  const sizes = texts.map((text) => parseFloat(getComputedStyle(text).fontSize) * Math.abs(text.getScreenCTM().a));
  return { count: sizes.length, smallest: Math.min(...sizes) };
};

// 640 px is a window of 1280 px at 200 % (WCAG 1.4.4), 320 px one at 400 % (WCAG 1.4.10).
const looked = async (context, path) => {
  const page = await context.newPage();
  const errors = complaints(page);
  const answer = await page.goto(DEMO + path);
  assert.equal(answer.status(), 200, path);
  if (path.startsWith('/report')) {
    // Everything that can be opened is looked at open.
    await page.locator('input[name=seen][value=some]').click();
    await page.locator('#taxon-1').selectOption('?');
    await page.locator('#stage-1').selectOption('nymph');
    await page.locator('#add').click();
  }
  await page.evaluate(() => document.querySelectorAll('details').forEach((part) => { part.open = true; }));
  assert.deepEqual(await violations(page), [], path);
  const [inner, whole] = await page.evaluate(() => [innerWidth, document.documentElement.scrollWidth]);
  assert.ok(whole <= inner, `${path} scrolls sideways: ${whole} in ${inner} px`);
  const { count, smallest } = await page.evaluate(letters);
  assert.ok(count === 0 || smallest >= 11.99, `${path}: letters of ${smallest} px`);
  const cut = await page.evaluate(() => [...document.querySelectorAll('main *')]
    .filter((part) => part.children.length === 0 && part.scrollWidth > part.clientWidth + 1 && ['hidden', 'clip'].includes(getComputedStyle(part).overflowX) && part.getBoundingClientRect().width > 2)
    .map((part) => part.outerHTML.slice(0, 80)));
  assert.deepEqual(cut, [], `${path}: text is cut`);
  assert.deepEqual(errors, [], path);
  await page.close();
  return count;
};

for (const width of [320, 390, 640, 1280]) {
  for (const colorScheme of ['light', 'dark']) {
    test(`pages at ${width} px, ${colorScheme}`, async () => {
      const context = await browser.newContext({ viewport: { width, height: 844 }, deviceScaleFactor: width === 640 ? 2 : 1, colorScheme });
      let drawn = 0;
      for (const path of paths) drawn += await looked(context, path);
      assert.ok(drawn > 20, 'pictures were looked at');
      await context.close();
    });
  }
}

// German, and English two fifths longer with a mark around every message.
for (const lang of ['de', 'x-marked']) {
  for (const width of [390, 1280]) {
    test(`pages in ${lang} at ${width} px`, async () => {
      const context = await browser.newContext({ viewport: { width, height: 844 } });
      let drawn = 0;
      for (const path of paths) drawn += await looked(context, `${path}${path.includes('?') ? '&' : '?'}lang=${lang}`);
      assert.ok(drawn > 10, 'pictures were looked at');
      await context.close();
    });
  }
}

test('the season fits one sheet, A4 or Letter', async () => {
  const page = await browser.newPage();
  await page.goto(`${DEMO}/w/${WATER}/print`);
  for (const format of ['A4', 'Letter']) {
    const pdf = await page.pdf({ format, margin: { top: '10mm', bottom: '10mm', left: '10mm', right: '10mm' } });
    // Every page object of a PDF says /Type /Page; the tree above them says /Pages.
    assert.equal(pdf.toString('latin1').match(/\/Type\s*\/Page\b(?!s)/g)?.length, 1, format);
  }
  await page.close();
});

test('the evening of a reach fits one card of A6', async () => {
  const page = await browser.newPage();
  await page.goto(DEMO + card);
  const pdf = (await page.pdf({ preferCSSPageSize: true })).toString('latin1');
  assert.equal(pdf.match(/\/Type\s*\/Page\b(?!s)/g)?.length, 1);
  // 105 by 148 mm in points.
  const [wide, high] = pdf.match(/\/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)/).slice(1).map(Number);
  assert.ok(Math.abs(wide - 297.6) < 1.5 && Math.abs(high - 419.5) < 1.5, `${wide} by ${high} points`);
  await page.close();
});

test('the image for other sites has letters of 12 px and more at its natural size', async () => {
  const page = await browser.newPage();
  await page.goto(`${DEMO}/embed/${WATER}.svg`);
  const { count, smallest } = await page.evaluate(letters);
  assert.ok(count > 5 && smallest >= 12, `${count} lines, ${smallest} px`);
  const outside = await page.evaluate(() => [...document.querySelectorAll('text')]
    .filter((text) => text.getBoundingClientRect().right > document.documentElement.width.baseVal.value - 4).map((text) => text.textContent));
  assert.deepEqual(outside, [], 'no line runs out of the image');
  await page.close();
});

test('the form can be touched: targets of 44 px', async () => {
  const page = await browser.newPage({ viewport: { width: 390, height: 844 } });
  await page.goto(DEMO + FORM);
  await page.locator('input[name=seen][value=some]').click();
  const small = await page.evaluate(() => [...document.querySelectorAll('#visit :is(select, button, summary, .tile, input:not([type=radio]):not([type=checkbox]), label.check), #token-box :is(input, button, summary)')]
    .map((part) => [part.outerHTML.slice(0, 60), part.getBoundingClientRect()]).filter(([, box]) => box.width > 0 && (box.height < 44 || box.width < 44))
    .map(([html, box]) => `${html}: ${box.width} x ${box.height}`));
  assert.deepEqual(small, []);
  await page.close();
});
