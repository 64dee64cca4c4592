"use strict";
// Sends what waits: each entry once, by its own key, and only under the sign-in of who wrote it.
(() => {
  const AGAIN = new Set([408, 425, 429]), IN_TURN = "out sending", REGULAR = 30e3, LONGEST = 30e3;
  const state = { me: undefined, said: "", pause: 0 };
  let queued = false, timer = 0;

  Out.limit = (ms) => (typeof AbortSignal !== "undefined" && AbortSignal.timeout ? AbortSignal.timeout(ms) : undefined);
  // Whoever stands between phone and service, as the sign-in page of a hall’s network, answers in HTML.
  Out.isJson = (answer) => /^application\/(?:problem\+)?json/.test(answer.headers.get("Content-Type") || "");
  Out.isFull = (problem) => problem?.name === "QuotaExceededError" || problem?.inner?.name === "QuotaExceededError";

  // Who is signed in: undefined where nothing answers, null where nobody is.
  const whoAmI = async () => {
    let answer;
    try {
      answer = await fetch("/api/session", { headers: { Accept: "application/json" }, cache: "no-store", redirect: "error", signal: Out.limit(20e3) });
    } catch { return undefined; }
    if (answer.status === 401 && Out.isJson(answer)) return null;
    if (!answer.ok || !Out.isJson(answer)) return undefined;
    const told = await answer.json().catch(() => null);
    if (!told?.party_id) return undefined;
    const before = await Out.kept.fact("who");
    const who = { id: told.party_id, name: told.name, may: told.may };
    if (JSON.stringify(before) !== JSON.stringify(who)) {
      // The tags of one are not left to the next.
      if (before && before.id !== who.id) await Out.kept.remove("facts", "pack");
      await Out.kept.tellFact("who", who);
    }
    return { ...who, csrf: told.csrf_token };
  };

  const post = async (entry, me) => {
    let answer, body = null;
    try {
      answer = await fetch(entry.request.path, {
        method: "POST", body: JSON.stringify(entry.request.body), redirect: "error", signal: Out.limit(30e3),
        // The token is of one sign-in: should another person sign in at this very moment, it is refused.
        headers: { "Content-Type": "application/json", Accept: "application/json", "Idempotency-Key": entry.key, "X-CSRF-Token": me.csrf },
      });
      if (Out.isJson(answer)) body = await answer.json();
    } catch { return { what: "away" }; }
    const wait = Number(answer.headers.get("Retry-After")) * 1000 || 0;
    if (answer.ok && body !== null) return { what: "sent", body };
    if (answer.ok || body === null || AGAIN.has(answer.status) || answer.status >= 500) return { what: answer.status === 500 ? "broken" : "later", wait };
    if (answer.status === 401 || (body.type || "").endsWith("/form-not-ours")) return { what: "signed out" };
    return { what: "refused", problem: { status: answer.status, type: body.type || "", title: body.title, detail: body.detail, todo: body.todo, field: body.field } };
  };

  const isMine = (entry, me) => entry.who.id === me.id && entry.state === "waiting" && entry.schema >= Out.OLDEST && entry.schema <= Out.SCHEMA;

  const one = async (key, me) => {
    const entry = await Out.kept.get("entries", key);
    if (!entry || !isMine(entry, me)) return { what: "gone" };
    // Written down before it leaves: what was once under way may be in the record already.
    // A full phone sends all the same: that is what makes room.
    await Out.kept.put("entries", { ...entry, tries: entry.tries + 1 }).catch(() => {});
    const result = await post(entry, me);
    if (result.what === "sent") {
      const told = { ...entry, tries: entry.tries + 1, sent_at: Date.now(), codes: Out.codesIn(entry, result.body) };
      await Out.kept.sent(told).catch(() => Out.kept.remove("entries", key));
    }
    if (result.what === "refused") await Out.kept.put("entries", { ...entry, tries: entry.tries + 1, state: "refused", problem: result.problem });
    return result;
  };

  const flush = async () => {
    state.me = await whoAmI();
    const me = state.me;
    if (me === undefined) return "away";
    if (me === null) return "signed out";
    const keys = (await Out.kept.all("entries")).filter((entry) => isMine(entry, me)).sort((a, b) => a.made_at - b.made_at).map((entry) => entry.key);
    let missed = 0, left = "";
    for (const key of keys) {
      const { what, wait } = await one(key, me);
      if (what === "signed out") { state.me = null; return what; }
      if (what === "later") { state.pause = Math.max(state.pause, wait || 0); return what; }
      if (what === "broken") left = what;
      // One lost answer is no reason to stop; three in a row are no reception.
      if (what === "away") { left = what; if (++missed > 2) return what; } else missed = 0;
    }
    return left || "done";
  };

  const SAID = {
    away: "Nothing answers. It is tried again by itself.", later: "The service is busy. It is tried again by itself.",
    broken: "The service had a fault. It is tried again by itself.", done: "", "signed out": "signed out",
  };
  const plan = (ms) => { clearTimeout(timer); timer = setTimeout(send, ms); };
  const send = async () => {
    // One run is enough for all that ask for one before it begins; what is saved while it runs gets the next.
    if (queued) return;
    queued = true;
    await Out.inTurn(IN_TURN, async () => {
      queued = false;
      const asked = state.pause;
      state.pause = 0;
      let result;
      try { result = await flush(); } catch (problem) { result = Out.isFull(problem) ? "broken" : "away"; }
      state.said = SAID[result];
      const fine = result === "done" || result === "signed out";
      const next = fine ? REGULAR : Math.max(state.pause, Math.min(LONGEST, Math.max(2e3, asked * 2)));
      state.pause = fine ? 0 : next;
      const waits = await Out.kept.all("entries").catch(() => [null]);
      if (waits.length) plan(next); else clearTimeout(timer); // nobody's battery for nothing
    });
    Out.showSoon();
  };

  Out.sending = { state, send, isMine };
})();
