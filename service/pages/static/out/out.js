"use strict";
// The page without reception: it begins here.
(async () => {
  const path = location.pathname, tag = /^\/t\/([^/]+)\/?$/i.exec(path);
  Out.elsewhere = path !== "/out" && !tag;
  Out.kept.onChange(() => Out.showSoon());

  const ask = async (typed) => Out.showAnswer(Out.pack.answer(await Out.pack.load(), typed));
  const form = document.getElementById("ask");
  form.addEventListener("submit", (event) => { event.preventDefault(); ask(form.elements.code.value); });

  const section = document.getElementById("pack"), taking = section.querySelector("[data-taking]");
  section.querySelector("[data-take]").addEventListener("click", async (event) => {
    event.target.disabled = true;
    taking.textContent = "They are being fetched …";
    const { me } = Out.sending.state, who = me || (await Out.kept.fact("who"));
    taking.textContent = await Out.pack.take(who);
    event.target.disabled = false;
  });
  section.querySelector("[data-drop]").addEventListener("click", async () => {
    await Out.kept.remove("facts", "pack");
    taking.textContent = "Removed. What waits to be sent is still here.";
    document.getElementById("answer").replaceChildren();
  });

  const keepPage = async () => {
    if (!navigator.serviceWorker) return;
    const kept = await navigator.serviceWorker.register("/sw.js");
    const seen = (worker) => { if (worker?.state === "installed" && kept.active) { Out.newVersion = true; Out.show(); } };
    seen(kept.waiting);
    kept.addEventListener("updatefound", () => { const worker = kept.installing; worker?.addEventListener("statechange", () => seen(worker)); });
  };
  // Refused, for one, where a certificate was only clicked through.
  keepPage().catch((problem) => { Out.notKept = problem.name === "SecurityError"; Out.showSoon(); });

  const tidy = async () => {
    const old = (await Out.kept.all("sent")).sort((a, b) => b.sent_at - a.sent_at).slice(50);
    for (const entry of old) await Out.kept.remove("sent", entry.key);
  };

  try {
    await tidy();
    await Out.show();
    if (tag) { document.getElementById("ask-code").value = decodeURIComponent(tag[1]); await ask(decodeURIComponent(tag[1])); }
  } catch (problem) {
    document.getElementById("standing").textContent = `This browser keeps nothing for this page (${problem.name}): it may be in a private window, or its storage is switched off.`;
    return;
  }
  for (const event of ["online", "pageshow"]) addEventListener(event, () => Out.sending.send());
  document.addEventListener("visibilitychange", () => { if (!document.hidden) { Out.sending.send(); Out.show(); } });
  Out.sending.send();
  setInterval(() => Out.show(), 60e3); // the age of what was taken along goes on
})();
