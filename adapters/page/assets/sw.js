// Keeps the last answer on the phone: where the server cannot be reached, the
// ask page comes as it was last seen, and says so.
"use strict";
const kept = "firn-kept";
const patience = 8000; // of a server that takes a request and does not answer
self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (e) => e.waitUntil(self.clients.claim()));
self.addEventListener("fetch", (e) => {
  const at = new URL(e.request.url);
  if (e.request.method !== "GET" || at.origin !== location.origin) return;
  if (e.request.mode === "navigate") e.respondWith(page(e.request, at));
  else if (at.pathname.startsWith("/assets/")) e.respondWith(asset(e.request));
});
async function page(request, at) {
  const cache = await caches.open(kept);
  try {
    const late = new Promise((_, no) => setTimeout(no, patience));
    const got = await Promise.race([fetch(request), late]);
    if (got.ok && !got.redirected && at.pathname === "/" && !at.search) await cache.put("/", got.clone());
    return got;
  } catch {
    const last = await cache.match("/");
    if (!last) return Response.error();
    return new Response((await last.text()).replace("<body", "<body data-kept"), { headers: last.headers });
  }
}
async function asset(request) {
  const cache = await caches.open(kept);
  const had = await cache.match(request);
  if (had) return had;
  const got = await fetch(request);
  if (got.ok) {
    for (const old of await cache.keys()) if (new URL(old.url).pathname.startsWith("/assets/") && old.url.split("/")[4] !== request.url.split("/")[4]) await cache.delete(old);
    await cache.put(request, got.clone());
  }
  return got;
}
