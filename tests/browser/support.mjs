// A browser, a way to the service that can be cut, and the checks that every page must pass.
//
// DEMO_URL: a served demo. DEMO_MEMBER_TOKEN, DEMO_KEEPER_TOKEN: its tokens. EMBED_PORTS: two ports of 127.0.0.1 whose sites
// the demo lets show the embed. Without browser flags that loosen the content security policy.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import http from 'node:http';
import { createRequire } from 'node:module';
import { chromium } from 'playwright-core';

const needed = (name) => { assert.ok(process.env[name], `${name} is not set`); return process.env[name]; };
export const DEMO = needed('DEMO_URL');
export const MEMBER = needed('DEMO_MEMBER_TOKEN');
export const KEEPER = needed('DEMO_KEEPER_TOKEN');
export const EMBED_PORTS = needed('EMBED_PORTS').split(',').map(Number);
export const WATER = 'river-ostrey';
export const FORM = `/report?w=${WATER}`;

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const TAGS = ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa'];

export const launch = () => chromium.launch({
  executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
  args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
});

/** Errors that the page writes to its console or throws, as they come. */
export const complaints = (page) => {
  const found = [];
  page.on('console', (message) => { if (message.type() === 'error') found.push(message.text()); });
  page.on('pageerror', (error) => found.push(String(error)));
  return found;
};

/** Faults that axe finds, as `rule: element`. */
export const violations = async (page) => {
  await page.evaluate(AXE);
  const result = await page.evaluate((tags) => globalThis.axe.run(document, { runOnly: { type: 'tag', values: tags } }), TAGS);
  assert.ok(result.passes.length > 5, 'axe looked at the page');
  return result.violations.flatMap((rule) => rule.nodes.map((node) => `${rule.id}: ${node.html.slice(0, 120)}`));
};

/** Waits until `ask` answers true; a page under a strict policy cannot be polled from inside. */
export const until = async (what, ask, seconds = 20) => {
  for (const end = Date.now() + seconds * 1000; Date.now() < end;) {
    if (await ask()) return;
    await new Promise((resolve) => { setTimeout(resolve, 100); });
  }
  assert.fail(`not within ${seconds} s: ${what}`);
};

/** Ids of all public reports. */
export const storedIds = async () => {
  const ids = [];
  for (let next = `${DEMO}/v1/watersheds/${WATER}/reports?limit=500`; next;) {
    const answer = await fetch(next);
    assert.equal(answer.status, 200);
    const body = await answer.json();
    ids.push(...body.items.map((item) => item.id));
    next = body.next && new URL(body.next, DEMO).href;
  }
  return ids;
};

/** A way to the service on a port of its own, which can be shut, lose answers or give its own. */
export class Gate {
  /** Bodies of the reports that the service was sent. */
  sent = [];
  /** Answers to reports still to be lost after the service has given them. */
  lose = 0;
  /** Photos and changes of reports that the service was sent: `{ method, url, body }`. */
  later = [];
  /** Answers to those still to be lost. */
  loseLater = 0;
  /** Everything that was asked for, as `METHOD address body`. */
  asked = [];
  /** Answers that the gate gives to reports itself: `[status, headers, body]`. */
  instead = [];
  #port = 0;
  #server;

  async open() {
    this.#server = http.createServer((request, answer) => this.#pass(request, answer));
    await new Promise((resolve) => { this.#server.listen(this.#port, '127.0.0.1', resolve); });
    this.#port = this.#server.address().port;
    return this;
  }

  get url() { return `http://127.0.0.1:${this.#port}`; }

  /** Refuses connections from now on, as a stopped server does. */
  async shut() {
    const closed = new Promise((resolve) => { this.#server.close(resolve); });
    this.#server.closeAllConnections();
    await closed;
  }

  #pass(request, answer) {
    const filing = request.method === 'POST' && request.url === '/v1/reports';
    const follows = ['PUT', 'PATCH'].includes(request.method) && request.url.startsWith('/v1/reports/');
    const chunks = [];
    request.on('data', (chunk) => chunks.push(chunk));
    request.on('end', () => {
      const body = Buffer.concat(chunks);
      this.asked.push(`${request.method} ${request.url} ${body.toString('latin1')}`);
      if (follows) this.later.push({ method: request.method, url: request.url, body });
      if (filing && this.instead.length) {
        const [status, headers, text] = this.instead.shift();
        answer.writeHead(status, headers).end(text);
        return;
      }
      if (filing) this.sent.push(JSON.parse(body.toString()));
      const onward = http.request(DEMO + request.url, { method: request.method, headers: request.headers }, (reply) => {
        if (filing && this.lose > 0) {
          this.lose -= 1;
          reply.resume().on('end', () => answer.destroy());
          return;
        }
        if (follows && this.loseLater > 0) {
          this.loseLater -= 1;
          reply.resume().on('end', () => answer.destroy());
          return;
        }
        answer.writeHead(reply.statusCode, reply.headers);
        reply.pipe(answer);
      });
      onward.on('error', () => answer.destroy());
      onward.end(body);
    });
  }
}
