"use strict";
// What waits, what was sent and what a tag says, in plain words.
(() => {
  const make = (tag, words = "", kind = "") => { const node = document.createElement(tag); if (words) node.textContent = words; if (kind) node.className = kind; return node; };
  // Days in sentences of the record are marked as days.
  const MONTHS = ["January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"];
  const DAY = new RegExp(`\\b(\\d{1,2}) (${MONTHS.join("|")}) (\\d{4})\\b`);
  Out.dated = (node, words) => {
    const found = DAY.exec(words);
    if (!found) { node.append(words); return node; }
    const [whole, day, month, year] = found, marked = make("time", whole), end = found.index + whole.length;
    marked.dateTime = `${year}-${String(MONTHS.indexOf(month) + 1).padStart(2, "0")}-${day.padStart(2, "0")}`;
    node.append(words.slice(0, found.index), marked);
    return Out.dated(node, words.slice(end));
  };
  const press = (words, deed, main = false) => { const button = make("button", words, main ? "press main" : "press"); button.type = "button"; button.addEventListener("click", deed); return button; };
  const when = (instant) => {
    const node = make("time", new Date(instant).toLocaleString("en-GB", { day: "numeric", month: "long", year: "numeric", hour: "2-digit", minute: "2-digit" }));
    node.dateTime = new Date(instant).toISOString();
    return node;
  };
  const facts = (rows) => {
    const list = make("dl", "", "facts");
    for (const [label, value] of rows) { const row = make("div"); row.append(make("dt", label), make("dd", value)); list.append(row); }
    return list;
  };

  const asked = new Set(); // of which entries it was asked whether they may go
  const sure = (entry) => [
    press("Throw it away for good", () => Out.inTurn("out sending", async () => {
      const now = await Out.kept.get("entries", entry.key);
      // It may have left while the question stood.
      if (now && (now.state === "refused" || now.tries === entry.tries)) await Out.kept.remove("entries", entry.key);
    })),
    press("Keep it", () => { asked.delete(entry.key); Out.show(); }),
  ];
  const throwAway = (entry) => press("Throw it away", async () => {
    asked.add(entry.key);
    await Out.show();
    document.querySelector(`[data-key="${entry.key}"] .acts button`)?.focus();
  });

  const stateOf = (entry) => {
    if (entry.schema < Out.OLDEST) return "An older version of this page wrote it, too old to be sent by this one. Write it down again from what stands here, then throw it away.";
    if (entry.schema > Out.SCHEMA) return "A newer version of this page wrote it. Close all pages of the club and open this one again.";
    if (entry.state !== "refused") return entry.tries ? "Waits: it was tried, and no answer came. It is sent again by itself, and counts once." : "Waits on this phone.";
    const { title, detail, todo } = entry.problem;
    return [title, detail, todo].filter(Boolean).map((words) => (/[.?!]$/.test(words) ? words : `${words}.`)).join(" ");
  };

  const waiting = (entry) => {
    const item = make("li", "", entry.state === "refused" ? "refused" : ""), acts = make("p", "", "acts");
    const at = make("p", "", "age");
    at.append("Done ", when(entry.done_at));
    item.dataset.key = entry.key;
    item.append(make("h3", entry.title), at, facts(entry.rows));
    const says = Out.dated(make("p", "", entry.state === "refused" ? "stopped" : ""), stateOf(entry));
    item.append(says);
    const fits = entry.schema >= Out.OLDEST && entry.schema <= Out.SCHEMA;
    if (asked.has(entry.key)) acts.append(...sure(entry));
    else {
      if (entry.state === "refused" && fits) acts.append(press("Mend it", () => Out.mend(entry), true));
      if (entry.state === "refused" || !entry.tries || entry.schema < Out.OLDEST) acts.append(throwAway(entry));
    }
    if (acts.childElementCount) item.append(acts);
    return item;
  };

  const sent = (entry) => {
    const item = make("li"), at = make("p", "", "age");
    at.append("Done ", when(entry.done_at), ", sent ", when(entry.sent_at));
    item.append(make("h3", entry.title), at);
    for (const code of entry.codes) {
      const link = make("a", Out.group(code), "code");
      link.href = `/T/${code}`;
      const line = make("p", "Its tag: ");
      line.append(link);
      item.append(line);
    }
    return item;
  };

  const standing = (mine, others, who, { me, said }) => {
    const waits = mine.filter((entry) => entry.state === "waiting").length, refused = mine.length - waits;
    const words = [];
    if (refused) words.push(`${Out.times(refused, "entry").replace("entrys", "entries")} could not be taken: look below.`);
    if (waits) words.push(`${waits === 1 ? "1 entry waits" : `${waits} entries wait`} to be sent, on this phone only. ${me === null ? "" : said}`.trim());
    if (!mine.length) words.push(who ? "Nothing waits to be sent." : "");
    for (const [name, count] of others) words.push(`${count === 1 ? "1 entry" : `${count} entries`} of ${name} ${count === 1 ? "waits" : "wait"} on this phone, and ${count === 1 ? "is" : "are"} sent when ${name} signs in here.`);
    return words.filter(Boolean).join(" ");
  };

  const notices = ({ me }, who, waits) => {
    const told = [];
    const add = (kind, words, href, link) => { const node = make("p", words, `notice ${kind}`); if (href) { const to = make("a", link); to.href = href; node.append(" ", to); } told.push(node); };
    if (!who && me !== undefined) add("first", "Sign in once, so that what you write down here is yours.", "/sign-in?then=/out", "Sign in");
    if (!who && me === undefined) add("first", "Nobody ever signed in on this phone. Sign in once where there is reception; then this page is ready.");
    if (who && me === null) add("first", waits ? `What waits is sent when ${who.name} signs in here again.` : "You are signed out. What you write down waits until you sign in again.", "/sign-in?then=/out", `Sign in as ${who.name}`);
    if (!self.isSecureContext || !navigator.serviceWorker || Out.notKept) add("wrong", "This page cannot be opened without reception here: browsers keep pages only of an address that begins with https and whose certificate they trust, or of this very machine.");
    if (Out.newVersion) add("first", "A new version of this page is ready. It is taken at the next start, when all pages of the club are closed.");
    if (Out.elsewhere) add("first", "Nothing answers, and the page you asked for needs reception. Here is what works without.");
    return told;
  };

  Out.showAnswer = (answer) => {
    const box = document.getElementById("answer"), parts = [];
    if (answer.code) parts.push(make("p", Out.group(answer.code), "code code-large"));
    if (answer.age) parts.push(make("p", `${answer.age[0].toUpperCase()}${answer.age.slice(1)}, from this phone.`, "age"));
    if (answer.stopped) { const stop = make("div", "", "stop-banner"); stop.append(Out.dated(make("strong"), answer.says)); parts.push(stop); } else parts.push(Out.dated(make("p", "", "says"), answer.says));
    for (const words of answer.more) parts.push(Out.dated(make("p"), words));
    if (answer.tree && !answer.tree.refused) parts.push(press("Cut from this tree", () => Out.openCut(answer.tree)));
    box.replaceChildren(...parts);
  };

  const shown = {};
  const list = (id, items, of) => {
    const section = document.getElementById(id), told = JSON.stringify([items, [...asked]]);
    // Left alone where nothing changed: somebody may be pressing in it.
    if (shown[id] === told) return;
    shown[id] = told;
    section.hidden = !items.length;
    section.querySelector("ul").replaceChildren(...items.map(of));
  };
  const showPack = (pack, who, { me }) => {
    const section = document.getElementById("pack"), old = pack && Out.pack.isOld(pack), part = (name) => section.querySelector(`[data-${name}]`);
    const there = pack && `${Out.times(pack.body.tags.length, "tag")} of bundles, ${Out.times(pack.body.blanks.length, "blank tag")} and ${Out.times(pack.body.trees.length, "tree")}, ${Out.pack.age(pack)}.`;
    part("age").textContent = pack ? `${there}${old ? " They are of last season and say names only: take today’s along." : ""} ${Out.pack.clockWords(pack)}`.trim() : "None yet. Take them along where there is reception.";
    part("take").hidden = !who || me === null || !who.may.includes("read");
    part("take").classList.toggle("main", !pack || old);
    part("drop").hidden = !pack;
  };

  let soon = 0;
  Out.showSoon = () => { soon ||= setTimeout(() => { soon = 0; Out.show(); }, 250); };
  Out.show = async () => {
    const [entries, done, who, pack] = await Promise.all([Out.kept.all("entries"), Out.kept.all("sent"), Out.kept.fact("who"), Out.pack.load()]);
    const { state } = Out.sending, mine = entries.filter((entry) => entry.who.id === who?.id).sort((a, b) => a.made_at - b.made_at);
    const others = new Map();
    for (const entry of entries) if (entry.who.id !== who?.id) others.set(entry.who.name, (others.get(entry.who.name) || 0) + 1);
    document.getElementById("standing").textContent = standing(mine, others, who, state);
    document.getElementById("told").replaceChildren(...notices(state, who, mine.length));
    list("waiting", mine, waiting);
    list("sent", done.filter((entry) => entry.who.id === who?.id).sort((a, b) => b.sent_at - a.sent_at).slice(0, 20), sent);
    showPack(pack, who, state);
    Out.showForms({ entries: mine, who, pack });
  };
})();
