"use strict";
// What the phone keeps: entries that wait, what was sent, forms that were begun, the day pack, and who writes here.
self.Out = self.Out || {};
(() => {
  const STORES = { entries: "key", sent: "key", begun: "key", facts: "name" };
  let opened = null;
  const open = () => (opened ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open("out", 1);
    asked.onupgradeneeded = () => {
      for (const [store, key] of Object.entries(STORES)) if (!asked.result.objectStoreNames.contains(store)) asked.result.createObjectStore(store, { keyPath: key });
    };
    asked.onsuccess = () => {
      asked.result.onversionchange = () => { asked.result.close(); opened = null; };
      asked.result.onclose = () => { opened = null; };
      resolve(asked.result);
    };
    asked.onerror = () => { opened = null; reject(asked.error); };
  }));
  const within = async (stores, mode, work) => {
    const base = await open();
    return new Promise((resolve, reject) => {
      // Strict: it is on the disk before the page says so, for a battery may be flat a moment later.
      const deal = base.transaction(stores, mode, mode === "readwrite" ? { durability: "strict" } : {});
      let asked;
      deal.oncomplete = () => resolve(asked?.result);
      deal.onabort = () => reject(deal.error || asked?.error || new DOMException("not kept", "AbortError"));
      try { asked = work(deal); } catch (problem) { deal.abort(); reject(problem); }
    });
  };
  const heard = typeof BroadcastChannel === "undefined" ? null : new BroadcastChannel("out");
  const listeners = [];
  const tell = () => { heard?.postMessage("changed"); for (const listener of listeners) listener(); };
  if (heard) heard.onmessage = () => { for (const listener of listeners) listener(); };
  const changed = async (deed) => { const result = await deed; tell(); return result; };

  Out.kept = {
    onChange: (listener) => listeners.push(listener),
    get: (store, key) => within([store], "readonly", (deal) => deal.objectStore(store).get(key)),
    all: (store) => within([store], "readonly", (deal) => deal.objectStore(store).getAll()),
    put: (store, value) => changed(within([store], "readwrite", (deal) => deal.objectStore(store).put(value))),
    begin: (value) => within(["begun"], "readwrite", (deal) => deal.objectStore("begun").put(value)),
    remove: (store, key) => changed(within([store], "readwrite", (deal) => deal.objectStore(store).delete(key))),
    fact: async (name) => (await Out.kept.get("facts", name))?.value,
    tellFact: (name, value) => changed(within(["facts"], "readwrite", (deal) => deal.objectStore("facts").put({ name, value }))),
    // A new entry never takes the place of another; a mended one takes its own place again.
    save: (entry, mended) => changed(within(["entries", "begun"], "readwrite", (deal) => {
      deal.objectStore("begun").delete(entry.key);
      return mended ? deal.objectStore("entries").put(entry) : deal.objectStore("entries").add(entry);
    })),
    sent: (entry) => changed(within(["entries", "sent"], "readwrite", (deal) => {
      deal.objectStore("entries").delete(entry.key);
      return deal.objectStore("sent").put(entry);
    })),
  };

  const letters = () => {
    const bytes = new Uint8Array(16);
    if (self.crypto?.getRandomValues) crypto.getRandomValues(bytes); else bytes.forEach((_, place) => { bytes[place] = Math.random() * 256; });
    bytes[6] = (bytes[6] & 15) | 64;
    bytes[8] = (bytes[8] & 63) | 128;
    return [...bytes].map((byte, place) => ([4, 6, 8, 10].includes(place) ? "-" : "") + byte.toString(16).padStart(2, "0")).join("");
  };
  // A page whose address is not https has no randomUUID and no locks.
  Out.newId = () => self.crypto?.randomUUID?.() ?? letters();
  Out.inTurn = (name, work) => (navigator.locks ? navigator.locks.request(name, work) : work());
  Out.onlyHere = (name) => new Promise((resolve) => {
    if (!navigator.locks) { resolve(true); return; }
    // Held for as long as this tab lives.
    navigator.locks.request(name, { ifAvailable: true }, (lock) => { resolve(Boolean(lock)); return lock ? new Promise(() => {}) : undefined; });
  });
})();
