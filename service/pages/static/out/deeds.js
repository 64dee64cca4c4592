"use strict";
// The three things that are written down without reception: what each form becomes when it is sent, and how it is shown.
(() => {
  // Of the entry's own form. What two versions before this one kept is sent as they made it.
  Out.SCHEMA = 1;
  Out.OLDEST = Out.SCHEMA - 2;
  const yes = (value) => (value === "true" ? true : value === "false" ? false : undefined);
  const told = (fields) => Object.fromEntries(Object.entries(fields).filter(([, value]) => value !== undefined && value !== ""));
  const number = (value) => Number(String(value).replace(",", ".").replace("\u2212", "-"));
  const codeOf = (typed) => Out.parseCode(typed).code;
  const treeOf = (pack, id) => pack?.body.trees.find((tree) => tree.id === id);
  const treeWords = (pack, id) => { const tree = treeOf(pack, id); return tree ? `tree ${tree.number}, ${tree.name}` : "a tree that is not among those taken along"; };
  const YES = { true: "yes", false: "no" };

  const badCode = (typed, pack) => {
    const { wrong, host } = Out.parseCode(typed);
    if (host && pack && ![location.host.toUpperCase(), ...pack.body.hosts].includes(host)) return `This is a code of ${host.toLowerCase()}, not of this club.`;
    return wrong;
  };
  // A blank that hangs on something already, as far as this phone knows.
  const notBlank = (typed, pack, entries, key) => {
    const wrong = badCode(typed, pack);
    if (wrong) return wrong;
    const code = codeOf(typed);
    const here = entries.find((entry) => entry.key !== key && entry.tags?.includes(code));
    if (here) return `The tag ${Out.group(code)} is used here already: ${here.title}. Take the next blank one.`;
    if (!pack || !Out.pack.isKnown(pack) || Out.pack.isOld(pack)) return "";
    const { tag, tree } = Out.pack.found(pack, code);
    return tag || tree ? `The tag ${Out.group(code)} hangs on something already. Leave it where it hangs, and take the next blank one.` : "";
  };

  const cut = {
    ids: ["cut", "bundle"],
    check: ({ fields, pack, entries, key }) => {
      const tree = treeOf(pack, fields.tree_id), sticks = Number(fields.sticks), old = pack && Out.pack.isOld(pack);
      if (!fields.tree_id) return ["tree_id", "Choose the tree, or scan its tag."];
      if (tree && !old && tree.refused && !fields.already_cut) return ["tree_id", tree.refused];
      if (!Number.isInteger(sticks) || sticks < 1) return ["sticks", "Say how many sticks: one at least."];
      if (fields.code && notBlank(fields.code, pack, entries, key)) return ["code", notBlank(fields.code, pack, entries, key)];
      if (tree && !old && tree.rule === "ask" && !fields.owner_agreed) return ["owner_agreed", "Its owner is to be asked before each cut: write down how they agreed."];
      return null;
    },
    request: (fields, ids, at) => ({
      path: "/api/labelled-cuts",
      body: [{
        cut: told({
          id: ids.cut, tree_id: fields.tree_id, sticks: Number(fields.sticks), done_at: at, stage: fields.stage, owner_agreed: fields.owner_agreed,
          disinfected: yes(fields.disinfected), note: fields.note, already_cut: yes(fields.already_cut),
        }),
        bundles: [told({ id: ids.bundle, sticks: Number(fields.sticks), code: fields.code && codeOf(fields.code) })],
      }],
    }),
    title: (fields, pack) => `${Out.times(Number(fields.sticks), "stick")} cut from ${treeWords(pack, fields.tree_id)}`,
    rows: (fields) => [["blank tag", fields.code && Out.group(codeOf(fields.code))], ["buds", fields.stage], ["how its owner agreed", fields.owner_agreed], ["tools disinfected", YES[fields.disinfected]], ["cut already", YES[fields.already_cut]], ["note", fields.note]],
    tags: (fields) => (fields.code ? [codeOf(fields.code)] : []),
    codes: (_entry, body) => body.flatMap((one) => one.bundles.map((bundle) => bundle.code)),
  };

  const thingOf = (fields, pack) => {
    if (fields.onto) { const [kind, id] = fields.onto.split(":"); return { kind, id }; }
    const tag = pack?.body.tags.find((one) => one.code === codeOf(fields.onto_code || ""));
    return tag ? { kind: "bundle", id: tag.thing_id, name: tag.name } : null;
  };
  const tie = {
    ids: [],
    check: ({ fields, pack, entries, key }) => {
      const wrong = notBlank(fields.code || "", pack, entries, key);
      if (wrong) return ["code", wrong];
      if (fields.onto) return null;
      if (badCode(fields.onto_code || "", pack)) return ["onto_code", badCode(fields.onto_code || "", pack)];
      return thingOf(fields, pack) ? null : ["onto_code", "That tag is of no bundle taken along on this phone: tie the blank one where there is reception."];
    },
    request: (fields, _ids, _at, pack) => {
      const thing = thingOf(fields, pack);
      // A bundle has a tag on its bag already, be it a new code that nobody has printed yet.
      return { path: `/api/tags/${codeOf(fields.code)}/binding`, body: { kind: thing.kind, thing_id: thing.id, placement: thing.kind === "bundle" ? (!fields.onto && fields.placement) || "wood" : "bag" } };
    },
    title: (fields, pack, entries) => {
      const thing = thingOf(fields, pack), mine = entries.find((entry) => entry.ids?.bundle === thing?.id);
      return `The blank tag ${Out.group(codeOf(fields.code))} tied to ${mine ? mine.title : thing?.kind === "tree" ? treeWords(pack, thing.id) : thing?.name || "a bundle"}`;
    },
    rows: (fields) => [["blank tag", Out.group(codeOf(fields.code))], ["other tag", fields.onto ? "" : Out.group(codeOf(fields.onto_code))], ["hangs", fields.onto ? "" : `on the ${fields.placement || "wood"}`]],
    tags: (fields) => [codeOf(fields.code)],
    codes: (_entry, body) => [body.code],
  };

  const look = {
    ids: ["look"],
    check: ({ fields, pack }) => {
      const wrong = badCode(fields.code || "", pack), grams = fields.bag_grams ? number(fields.bag_grams) : 1;
      if (wrong) return ["code", wrong];
      if (!(grams > 0)) return ["bag_grams", "Write the weight in grams, as 412 or 412.5."];
      return ["buds", "wrinkled", "mould", "green_under_scratch", "bag_grams"].some((name) => fields[name]) ? null : ["buds", "Say what you saw: one thing at least."];
    },
    request: (fields, ids, at) => ({
      path: "/api/bundle-checks",
      body: [told({
        id: ids.look, code: codeOf(fields.code), seen_at: at, buds: fields.buds, wrinkled: yes(fields.wrinkled), mould: yes(fields.mould),
        green_under_scratch: yes(fields.green_under_scratch), bag_grams: fields.bag_grams ? number(fields.bag_grams) : undefined, note: fields.note,
      })],
    }),
    title: (fields, pack) => {
      const code = codeOf(fields.code), tag = pack?.body.tags.find((one) => one.code === code);
      return `A look at ${tag ? `${tag.name}, ` : "the bundle "}${Out.group(code)}`;
    },
    rows: (fields) => [["buds", fields.buds], ["bark wrinkled", YES[fields.wrinkled]], ["mould", YES[fields.mould]], ["green under a scratch", YES[fields.green_under_scratch]], ["weight", fields.bag_grams && `${fields.bag_grams} g`], ["note", fields.note]],
    tags: () => [],
    codes: () => [],
  };

  Out.deeds = { cut, tie, look };
  Out.codesIn = (entry, body) => { try { return Out.deeds[entry.kind].codes(entry, body).filter(Boolean); } catch { return []; } };
  // All that is kept of one form: what it says, what is sent of it, and whose it is.
  Out.entryOf = ({ kind, key, ids, fields, who, at, pack, entries, before }) => {
    const deed = Out.deeds[kind], done = new Date(at).toISOString();
    return {
      key, kind, ids, fields, schema: Out.SCHEMA, who: { id: who.id, name: who.name }, done_at: done, made_at: before?.made_at ?? Date.now(),
      tries: before?.tries ?? 0, state: "waiting", title: deed.title(fields, pack, entries), tags: deed.tags(fields),
      rows: deed.rows(fields).filter(([, value]) => value), request: deed.request(fields, ids, done, pack),
    };
  };
})();
