"use strict";
// Keeps the shell of the page without reception, and nothing that belongs to anybody. A new version waits until no page of ours
// is open: it never takes the place of a half-filled form.
const KEPT = {{ name|tojson }}, SHELL = {{ kept|tojson }}, OUT = {{ out|tojson }};
self.addEventListener("install", (event) => {
  const asked = SHELL.map((address) => new Request(address, { credentials: "omit", cache: address === OUT ? "reload" : "default" }));
  event.waitUntil(caches.open(KEPT).then((kept) => kept.addAll(asked)));
});
self.addEventListener("activate", (event) => {
  const old = async () => {
    for (const name of await caches.keys()) if (name.startsWith("shell-") && name !== KEPT) await caches.delete(name);
    await self.clients.claim();
  };
  event.waitUntil(old());
});
const kept = async (asked) => (await caches.open(KEPT)).match(asked);
const keptOrFetched = async (request) => (await kept(request)) || fetch(request);
const fetchedOrOut = async (request) => {
  try {
    return await fetch(request);
  } catch (problem) {
    return (await kept(OUT)) || Promise.reject(problem);
  }
};
self.addEventListener("fetch", (event) => {
  const { request } = event, address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) return;
  if (request.mode === "navigate") event.respondWith(address.pathname === OUT ? keptOrFetched(new Request(OUT)) : fetchedOrOut(request));
  else if (address.pathname.startsWith("/static/")) event.respondWith(keptOrFetched(request));
});
