/* A service worker that lets the page's own files outlive the server, for a reload at the engine. The server is always
 * asked first, so an upgraded program is never answered from here while it answers itself. Nothing of /api/ is ever kept:
 * what the page shows without its server it keeps by itself, with the time. */
const PLACE = 'page-files';
const FILES = ['/', '/early.js', '/app.js', '/shared.js', '/more.js', '/app.css', '/icon.svg'];
const PATIENCE_MS = 4000;

self.addEventListener('install', (event) => {
  event.waitUntil(caches.open(PLACE).then((cache) => cache.addAll(FILES.map((f) => new Request(f, { cache: 'reload' })))).then(() => self.skipWaiting()));
});
self.addEventListener('activate', (event) => { event.waitUntil(self.clients.claim()); });

async function served(request) {
  const cache = await caches.open(PLACE);
  const key = new URL(request.url).pathname;
  try {
    const fresh = await fetch(request, { signal: AbortSignal.timeout(PATIENCE_MS) });
    if (fresh.ok) await cache.put(key, fresh.clone());
    return fresh;
  } catch (problem) {
    const kept = await cache.match(key);
    if (kept) return kept;
    throw problem;
  }
}

self.addEventListener('fetch', (event) => {
  const url = new URL(event.request.url);
  if (event.request.method === 'GET' && url.origin === self.location.origin && FILES.includes(url.pathname)) event.respondWith(served(event.request));
});
