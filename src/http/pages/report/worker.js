// Opens the report form without signal: the page and its files are kept as they were last seen.
'use strict';
const SHELF = 'subimago-report';
// How long a page may be waited for where signal is poor, milliseconds.
const PATIENCE_MS = 3000;

addEventListener('install', () => skipWaiting());
addEventListener('activate', (event) => event.waitUntil(clients.claim()));
addEventListener('fetch', (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== 'GET' || address.origin !== location.origin) return;
  if (request.mode === 'navigate' && address.pathname === '/report') event.respondWith(page(event));
  // The address of a file changes with what is in it, so a kept one is never out of date.
  else if (address.pathname.startsWith('/assets/')) {
    event.respondWith(caches.match(request, { ignoreVary: true }).then((kept) => kept || fetch(request)));
  }
});

// The page from the service, or the kept one where the service is out of reach, slow or failing.
async function page(event) {
  const shelf = await caches.open(SHELF);
  const kept = await shelf.match(event.request, { ignoreVary: true })
    || await shelf.match(event.request, { ignoreVary: true, ignoreSearch: true });
  const fresh = fetch(event.request).then(async (answer) => {
    if (answer.ok) await shelf.put(event.request, answer.clone());
    return answer;
  });
  if (!kept) return fresh;
  event.waitUntil(fresh.catch(() => undefined));
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE_MS, kept));
  return Promise.race([fresh.then((answer) => (answer.status >= 500 ? kept : answer), () => kept), late]);
}
