"use strict";
// Codes as they are printed and typed, read the same way as the service reads them.
(() => {
  const ALPHABET = "0123456789ABCDEFGHJKMNPQRTVWXYZ", LIKE = { I: "1", L: "1", O: "0", S: "5", U: "V" }, LENGTH = 8;
  const ADDRESS = /^\s*(?:https?:\/\/)?([^/\s?#]+)\/t\/([^/\s?#]+)\/?(?:[?#]\S*)?\s*$/i;
  const LEFT_OUT = /[\s\-_.\u00ad\u2010-\u2015\u2212\u200b-\u200f\u2060\ufeff]/g;
  const remainder = (signs) => [...signs].reduce((rest, sign) => (2 * rest + ALPHABET.indexOf(sign)) % 31, 0);

  Out.group = (code) => `${code.slice(0, 4)} ${code.slice(4)}`;
  // { code, host } or { wrong }, which says what is wrong with it.
  Out.parseCode = (typed) => {
    const address = ADDRESS.exec(typed), host = address ? address[1].toUpperCase() : "";
    const kept = [...(address ? address[2] : typed).replace(LEFT_OUT, "").toUpperCase()];
    const signs = kept.map((sign) => LIKE[sign] || sign);
    const strange = signs.findIndex((sign) => !ALPHABET.includes(sign));
    const fault = (wrong) => ({ code: "", host, wrong });
    if (!kept.length) return fault("Type or scan the code of a tag.");
    if (strange >= 0) return fault(`The sign “${kept[strange]}” is in no code: look at sign ${strange + 1} again.`);
    if (signs.length !== LENGTH) return fault(`A code has ${LENGTH} signs; this has ${signs.length}.`);
    if (remainder(signs) !== 1) return fault("This is no code: one of its signs is wrong, or two have changed places.");
    return { code: signs.join(""), host, wrong: "" };
  };
})();
