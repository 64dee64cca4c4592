"use strict";
// The forms: a key made when one opens, what is typed kept as it is typed, and refused entries mended in place.
(() => {
  const forms = [...document.querySelectorAll("form[data-deed]")];
  const begun = new Map(); // by form: { key, ids, mends }
  let known = { entries: [], who: null, pack: null };
  const option = (value, words) => { const node = document.createElement("option"); node.value = value; node.textContent = words; return node; };
  const fieldsOf = (form) => Object.fromEntries([...new FormData(form)].map(([name, value]) => [name, String(value).trim()]).filter(([name, value]) => value && name !== "any_code"));
  const deedOf = (form) => Out.deeds[form.dataset.deed];
  const details = (form) => form.closest("details");

  const fill = (form, fields) => {
    for (const field of form.elements) {
      if (!field.name) continue;
      if (["radio", "checkbox"].includes(field.type)) field.checked = fields[field.name] === field.value; else field.value = fields[field.name] ?? "";
    }
  };
  const fresh = (form) => ({ key: Out.newId(), ids: Object.fromEntries(deedOf(form).ids.map((name) => [name, Out.newId()])), deed: form.dataset.deed });

  // A form left half filled, by a flat battery or a closed tab, goes on where it was; one that is open in another tab stays there.
  const open = async (form) => {
    if (begun.has(form)) return;
    begun.set(form, fresh(form));
    const left = (await Out.kept.all("begun").catch(() => [])).filter((one) => one.deed === form.dataset.deed && one.who === known.who?.id);
    for (const one of left) {
      if (!(await Out.onlyHere(`out form ${one.key}`))) continue;
      begun.set(form, { key: one.key, ids: one.ids, deed: one.deed });
      fill(form, one.fields);
      break;
    }
    Out.onlyHere(`out form ${begun.get(form).key}`);
    refresh(form);
  };
  const keepTyped = (form) => {
    const one = begun.get(form);
    if (!one || one.mends) return;
    Out.kept.begin({ ...one, fields: fieldsOf(form), who: known.who?.id }).catch(() => {});
  };

  const wrong = (form, name, words) => {
    for (const field of form.querySelectorAll("[aria-invalid]")) field.removeAttribute("aria-invalid");
    const box = form.querySelector("[data-wrong]");
    box.replaceChildren();
    if (!words) return;
    const notice = document.createElement("p");
    notice.className = "notice wrong";
    notice.textContent = words;
    box.append(notice);
    const field = form.querySelector(`[name="${name}"]`);
    field?.setAttribute("aria-invalid", "true");
    (field || box).scrollIntoView?.({ block: "center" });
    field?.focus();
  };

  const fullWords = "The phone’s storage is full, so nothing was kept. The form stays filled: make room on the phone, or send what waits, then press again.";
  const save = async (form) => {
    const kind = form.dataset.deed, one = begun.get(form) ?? fresh(form), fields = fieldsOf(form), { who, pack } = known;
    const entries = (await Out.kept.all("entries")).filter((entry) => entry.who.id === who.id);
    const before = one.mends ? await Out.kept.get("entries", one.key) : null;
    if (one.mends && before?.state !== "refused") { wrong(form, "", "This entry was mended or thrown away in another tab."); return false; }
    const fault = deedOf(form).check({ fields, pack, entries, key: one.key });
    if (fault) { wrong(form, ...fault); return false; }
    const at = fields.done_at ? new Date(fields.done_at) : before?.done_at ?? Out.pack.clock(pack);
    const entry = Out.entryOf({ kind, key: one.key, ids: one.ids, fields, who, at, pack, entries, before });
    try {
      await Out.kept.save(entry, Boolean(one.mends));
    } catch (problem) {
      if (problem.name === "ConstraintError") {
        // Pressed twice: it is kept already. Another form under the same key gets its own.
        const kept = await Out.kept.get("entries", one.key);
        if (JSON.stringify(kept?.fields) === JSON.stringify(fields)) return true;
        begun.set(form, fresh(form));
        return save(form);
      }
      wrong(form, "", Out.isFull(problem) ? fullWords : `It could not be kept (${problem.name}). The form stays filled: press again.`);
      return false;
    }
    return true;
  };

  const saved = (form) => {
    const { tree_id, sticks, stage, owner_agreed, disinfected } = fieldsOf(form);
    begun.delete(form);
    wrong(form, "", "");
    // The next bundle is as a rule of the same tree, and much like this one.
    fill(form, form.dataset.deed === "cut" ? { tree_id, sticks, stage, owner_agreed, disinfected } : {});
    form.querySelector("[data-mending]").hidden = true;
    form.querySelector("[data-time]").hidden = true;
    form.querySelector("[data-already]")?.setAttribute("hidden", "");
    open(form);
    form.querySelector("[data-wrong]").append(Object.assign(document.createElement("p"), { className: "notice done", textContent: "Kept on this phone." }));
    Out.sending.send();
  };

  // -- what the forms offer --------------------------------------------------------------------------------------

  const refresh = (form) => {
    const { pack } = known, old = pack && Out.pack.isOld(pack), tree = pack?.body.trees.find((one) => one.id === form.elements.tree_id?.value);
    const stop = form.querySelector("[data-stop]");
    let words = "";
    if (form.dataset.deed === "cut" && tree) words = old ? "" : tree.refused;
    if (form.dataset.deed === "look" && pack && !old) { const tag = Out.pack.found(pack, Out.parseCode(form.elements.code.value).code).tag; words = tag?.state === "stopped" ? tag.says : ""; }
    if (stop && stop.dataset.words !== words) {
      stop.dataset.words = words;
      stop.replaceChildren(...(words ? [Object.assign(document.createElement("div"), { className: "stop-banner" })] : []));
      stop.firstChild?.append(Out.dated(document.createElement("strong"), words));
    }
    // Where nothing may be cut there is nothing to fill in; an entry that is mended stays in reach.
    const shut = form.dataset.deed === "cut" && Boolean(words) && !begun.get(form)?.mends;
    form.querySelector("[data-rest]")?.toggleAttribute("hidden", shut);
    form.querySelector("[data-keep]").hidden = shut;
    const owner = form.querySelector("[data-owner]");
    if (owner) {
      owner.hidden = !tree || (!old && tree.rule !== "ask" && tree.most_sticks === null);
      owner.querySelector(".hint").textContent = tree && tree.rule !== "ask" && tree.most_sticks !== null ? `only if it is more than ${tree.most_sticks} in this season` : "“asked at the gate”, a date, a message";
    }
    const bundle = form.querySelector("[data-bundle]");
    if (bundle) bundle.hidden = Boolean(form.elements.onto.value);
  };

  const options = (select, groups, first) => {
    const told = JSON.stringify(groups), chosen = select.value;
    if (select.dataset.told === told) return;
    select.dataset.told = told;
    select.replaceChildren(first, ...groups.filter(([, rows]) => rows.length).map(([label, rows]) => {
      const group = document.createElement("optgroup");
      group.label = label;
      group.append(...rows.map(([value, words]) => option(value, words)));
      return group;
    }));
    select.value = chosen;
    if (select.selectedIndex < 0) select.value = "";
  };
  const offer = ({ entries, pack }) => {
    const trees = pack?.body.trees || [], name = (tree) => `${tree.number} · ${tree.name}${tree.where ? ` · ${tree.where}` : ""}`;
    for (const select of document.querySelectorAll("[data-trees]")) {
      options(select, (pack?.body.sites || []).map((site) => [site.name, trees.filter((tree) => tree.site_id === site.id).map((tree) => [tree.id, `${name(tree)}${tree.stopped && !Out.pack.isOld(pack) ? " · stopped" : ""}`])]), select.options[0]);
    }
    for (const select of document.querySelectorAll("[data-things]")) {
      const cuts = entries.filter((entry) => entry.kind === "cut" && entry.ids.bundle && !entry.fields.code).map((entry) => [`bundle:${entry.ids.bundle}`, entry.title]);
      options(select, [["Cut here, waiting to be sent", cuts], ["Trees without a tag", trees.filter((tree) => !tree.code).map((tree) => [`tree:${tree.id}`, name(tree)])]], select.options[0]);
    }
  };

  // A tag scanned at the tree: the tree's own chooses the tree, any other is the blank one.
  const sort = async (form) => {
    const field = form.elements.any_code, typed = field.value.trim(), { code, wrong: fault } = Out.parseCode(typed);
    if (!code || fault) return;
    field.value = "";
    // What was taken along a moment ago may not be shown yet; without it a tree’s tag would be taken for a blank one.
    const pack = (await Out.pack.load().catch(() => null)) ?? known.pack;
    const tree = pack?.body.trees.find((one) => one.code === code);
    if (tree && pack !== known.pack) offer({ entries: known.entries, pack });
    if (tree) form.elements.tree_id.value = tree.id; else form.elements.code.value = typed;
    refresh(form);
    (tree ? form.elements.sticks : form.elements.code).focus();
  };

  Out.showForms = (now) => {
    known = now;
    const may = (right) => Boolean(now.who?.may.includes(right));
    document.getElementById("says").hidden = !now.pack && !now.who;
    document.getElementById("deeds").hidden = !now.who;
    for (const part of document.querySelectorAll("details[data-right]")) part.hidden = !may(part.dataset.right);
    offer(now);
    for (const form of forms) if (details(form).open) open(form).then(() => refresh(form)); else refresh(form);
  };
  Out.openCut = (tree) => {
    const form = forms.find((one) => one.dataset.deed === "cut");
    details(form).open = true;
    form.elements.tree_id.value = tree.id;
    open(form).then(() => { form.elements.tree_id.value = tree.id; refresh(form); form.elements.sticks.focus(); });
  };
  Out.mend = (entry) => {
    const form = forms.find((one) => one.dataset.deed === entry.kind), words = form.querySelector("[data-mending]");
    begun.set(form, { key: entry.key, ids: entry.ids, deed: entry.kind, mends: true });
    details(form).open = true;
    const local = new Date(new Date(entry.done_at) - new Date(entry.done_at).getTimezoneOffset() * 60e3).toISOString().slice(0, 16);
    fill(form, { ...entry.fields, done_at: local });
    words.replaceChildren();
    Out.dated(words, `You are mending: ${entry.title}. ${entry.problem.detail || entry.problem.title}`);
    words.hidden = false;
    form.querySelector("[data-time]").hidden = !("done_at" in (entry.request.body[0]?.cut ?? {}) || "seen_at" in (entry.request.body[0] ?? {}));
    if (entry.problem.type.endsWith("/stopped-tree")) form.querySelector("[data-already]")?.removeAttribute("hidden");
    wrong(form, "", "");
    refresh(form);
    const field = form.querySelector(`[name="${entry.problem.field}"]`) || form.querySelector("input, select");
    field.focus();
  };

  for (const form of forms) {
    details(form).addEventListener("toggle", () => { if (details(form).open) open(form); });
    form.addEventListener("input", (event) => {
      if (event.target.name === "any_code") sort(form);
      form.querySelector("[data-wrong] .done")?.remove();
      refresh(form);
      keepTyped(form);
    });
    form.addEventListener("change", () => { refresh(form); keepTyped(form); });
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      if (form.dataset.busy) return;
      form.dataset.busy = "true";
      let kept = false;
      try {
        kept = await save(form);
        if (kept) saved(form);
      } catch (problem) {
        wrong(form, "", Out.isFull(problem) ? fullWords : `It could not be kept (${problem.name}). The form stays filled: press again.`);
      } finally {
        // The second tap of a double one is no second bundle.
        setTimeout(() => { delete form.dataset.busy; }, kept ? 1200 : 0);
      }
    });
  }
})();
