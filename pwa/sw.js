/** Keeps one whole version of the app on the phone, so that it starts without signal and never mixes two versions. */

const VERSION = "__VERSION__";
/** @type {string[]} */
const PRECACHE = ["__PRECACHE__"];
const CACHE = `daybay-${VERSION}`;
const PAGE = "/app/";

const worker = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));

worker.addEventListener("install", (event) => {
  event.waitUntil(
    caches.open(CACHE).then((cache) => cache.addAll(PRECACHE.map((url) => new Request(url, { cache: "reload" })))),
  );
});

worker.addEventListener("activate", (event) => {
  event.waitUntil(takeOver());
});

// A new version waits until the person presses the button for it; the page asks only when no draft is open.
worker.addEventListener("message", (event) => {
  if (event.data === "activate") worker.skipWaiting();
});

worker.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== location.origin || url.pathname.startsWith("/api/")) return;
  if (event.request.mode === "navigate" && url.pathname.startsWith(PAGE)) event.respondWith(fromCache(PAGE));
  else event.respondWith(fromCache(event.request));
});

async function takeOver() {
  const names = await caches.keys();
  await Promise.all(
    names.filter((name) => name.startsWith("daybay-") && name !== CACHE).map((name) => caches.delete(name)),
  );
  await worker.clients.claim();
}

/**
 * This version's file; what is not part of the app goes to the network.
 * @param {RequestInfo} request
 */
async function fromCache(request) {
  const cache = await caches.open(CACHE);
  return (await cache.match(request)) ?? fetch(request);
}
