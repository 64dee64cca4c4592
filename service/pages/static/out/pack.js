"use strict";
// The day pack: taken along with one tap, answering scans where nothing else does, and always saying how old it is.
(() => {
  const VERSION = 1, HOUR = 3600e3, DAY = 24 * HOUR, SLACK = 10 * 60e3;
  const AWAY = "Without reception nobody knows what was stopped or used up since.";
  const times = (count, one) => `${count} ${one}${count === 1 ? "" : "s"}`;

  const age = (pack, now = Date.now()) => {
    const passed = now - pack.as_of;
    if (passed < -HOUR) return "of a later day than this phone’s clock tells: put the clock right";
    if (passed < HOUR) return "as of less than an hour ago";
    return passed < DAY ? `as of ${times(Math.floor(passed / HOUR), "hour")} ago` : `as of ${times(Math.floor(passed / DAY), "day")} ago`;
  };
  const isOld = (pack, now = Date.now()) => now - pack.as_of > pack.body.good_for_days * DAY;
  const isKnown = (pack) => Boolean(pack) && pack.body.version === VERSION;

  const load = async () => {
    const pack = await Out.kept.fact("pack"), who = await Out.kept.fact("who");
    return pack && (!who || pack.who === who.id) ? pack : null;
  };

  const take = async (who) => {
    const before = await load(), headers = { Accept: "application/json" };
    if (before?.etag && isKnown(before)) headers["If-None-Match"] = before.etag;
    let answer;
    try {
      answer = await fetch("/api/day-pack", { headers, cache: "no-store", redirect: "error", signal: Out.limit(60e3) });
    } catch { return "Nothing answers: take them along where there is reception."; }
    if (answer.status === 401) return "You are signed out: sign in, then take them along.";
    if (answer.status !== 304 && !(answer.ok && Out.isJson(answer))) return `They could not be had (${answer.status}). Try again in a while.`;
    try {
      const body = answer.status === 304 ? before.body : await answer.json();
      const ahead = Date.parse(answer.headers.get("Club-Time")) - Date.now();
      await Out.kept.tellFact("pack", { who: who.id, as_of: Date.now(), ahead: Math.abs(ahead) > SLACK ? ahead : 0, etag: answer.headers.get("ETag") || before?.etag, body });
      navigator.storage?.persist?.().catch(() => {});
      return `Taken along: ${times(body.tags.length, "tag")} of bundles, ${times(body.blanks.length, "blank tag")}, ${times(body.trees.length, "tree")}.${body.left_out ? " There are more; the oldest stayed at home." : ""}`;
    } catch (problem) {
      return Out.isFull(problem) ? "The phone’s storage is full: the tags did not fit. Make room and take them again." : `They could not be kept (${problem.name}).`;
    }
  };

  const found = (pack, code) => {
    const { tags, trees, blanks } = pack.body;
    const tag = tags.find((one) => one.code === code), tree = trees.find((one) => one.code === code);
    return { tag, tree, blank: blanks.includes(code) };
  };

  // What a tag says: { says, more, stopped, age, tree }.
  const answer = (pack, typed) => {
    const { code, host, wrong } = Out.parseCode(typed);
    const hosts = pack ? [location.host.toUpperCase(), ...pack.body.hosts] : [];
    if (host && pack && !hosts.includes(host)) return { says: `This is a code of ${host.toLowerCase()}, not of this club.`, more: [] };
    if (wrong) return { says: wrong, more: [] };
    if (!pack) return { says: "No tags were taken along on this phone.", more: ["Where there is reception, the tag’s own page answers."], code };
    if (!isKnown(pack)) return { says: "The tags on this phone are of another version of this page: take today’s along.", more: [], code };
    const { tag, tree, blank } = found(pack, code), told = age(pack);
    if (isOld(pack)) {
      const name = tag?.name || tree?.name;
      const said = name ? `${name}.` : "This tag is not among those of last season on this phone.";
      return { says: said, more: ["That is all the tags on this phone can say: they are of last season. Take today’s along."], age: told, old: true, code };
    }
    if (tag) return { says: tag.says, more: [...tag.more, AWAY], stopped: tag.state === "stopped", age: told, code };
    if (tree) return { says: tree.says, more: [...(tree.refused ? [tree.refused] : []), AWAY], stopped: tree.stopped, age: told, tree, code };
    if (blank) return { says: "This is a tag of this club, bound to nothing yet.", more: [], age: told, code };
    return {
      says: "This tag is not among those taken along.", age: told, code,
      more: ["It may be newer, of wood that is used up, or of a box, a store or a plant. Look again where there is reception."],
    };
  };

  // A phone whose clock is wrong writes down when things were done by the club’s.
  const clock = (pack) => Date.now() + (pack?.ahead || 0);
  const clockWords = (pack) => {
    if (!pack?.ahead) return "";
    const off = Math.abs(pack.ahead), far = off < HOUR ? Out.times(Math.round(off / 60e3), "minute") : off < 2 * DAY ? Out.times(Math.round(off / HOUR), "hour") : Out.times(Math.round(off / DAY), "day");
    return `This phone’s clock is ${far} ${pack.ahead > 0 ? "behind" : "ahead of"} the club’s. What you write down is dated by the club’s.`;
  };

  Out.pack = { clock, clockWords, load, take, age, isOld, isKnown, found, answer };
  Out.times = times;
})();
