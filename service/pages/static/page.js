"use strict";
// Everything works without this file; it adds big buttons beside numbers and keeps a form from being sent twice.
for (const stepper of document.querySelectorAll(".stepper")) {
  const field = stepper.querySelector("input");
  stepper.classList.add("ready");
  for (const button of stepper.querySelectorAll("[data-step]")) {
    button.addEventListener("click", () => {
      const least = Number(field.min || 0), most = Number(field.max || Infinity);
      const value = (Number(field.value) || 0) + Number(button.dataset.step);
      field.value = Math.min(most, Math.max(least, value));
      field.dispatchEvent(new Event("input", { bubbles: true }));
    });
  }
}
// What belongs to one choice alone is shown with it.
for (const part of document.querySelectorAll("[data-when]")) {
  const [name, value] = part.dataset.when.split("="), form = part.closest("form");
  const show = () => { part.hidden = !form.querySelector(`[name="${name}"][value="${value}"]:checked`); };
  form.addEventListener("change", show);
  addEventListener("pageshow", show);
}
for (const form of document.querySelectorAll("form[method=post]")) {
  form.addEventListener("submit", () => {
    for (const button of form.querySelectorAll("button[type=submit]")) {
      // After the submit event, so that the pressed button's own value is still sent.
      setTimeout(() => { button.disabled = true; }, 0);
      setTimeout(() => { button.disabled = false; }, 8000);
    }
  });
}
// Whoever goes to the form that lifts a refusal finds what they had typed when they come back, in this tab and sign-in only.
const kept = "typed before a refusal was lifted";
const mine = (form) => form.querySelector('[name="csrf_token"]')?.value;
const typed = (form) => [...form.elements].filter((field) => field.name && !["hidden", "file", "password", "submit"].includes(field.type));
const forms = () => [...document.querySelectorAll("main form[method=post]")];
const told = (field) => [field.name, field.value, ["radio", "checkbox"].includes(field.type) ? field.checked : null];
for (const link of document.querySelectorAll("a[data-back]")) {
  link.addEventListener("click", () => {
    if (!forms().length) return;
    const each = forms().map((form) => ({ to: form.getAttribute("action"), fields: typed(form).map(told) }));
    try { sessionStorage.setItem(kept, JSON.stringify({ back: link.dataset.back, who: mine(forms()[0]), each })); } catch { /* full or forbidden: as without this file */ }
  });
}
const fill = (form, fields) => {
  let filled = false;
  const left = [...fields];
  for (const field of typed(form)) {
    const ticked = ["radio", "checkbox"].includes(field.type);
    const place = left.findIndex(([name, value]) => name === field.name && (!ticked || value === field.value));
    if (place < 0) continue;
    const [[, value, checked]] = left.splice(place, 1), stood = ticked ? field.checked : field.value;
    if (ticked) field.checked = checked; else field.value = value;
    filled ||= stood !== (ticked ? checked : value);
    field.closest("details")?.toggleAttribute("open", Boolean(value) && checked !== false || field.closest("details").open);
    field.dispatchEvent(new Event("change", { bubbles: true }));
  }
  return filled;
};
{
  let before = null;
  try { before = JSON.parse(sessionStorage.getItem(kept)); } catch { /* as above */ }
  if (before?.each && forms().length && before.back === location.pathname + location.search && before.who === mine(forms()[0])) {
    sessionStorage.removeItem(kept);
    const left = [...before.each];
    let first = null, at = null;
    for (const form of forms()) {
      // A page that refused may come back at another address than the one it was opened at.
      let place = left.findIndex((one) => one.to === form.getAttribute("action"));
      if (place < 0 && forms().length === 1 && left.length === 1) place = 0;
      if (place < 0) continue;
      const [{ fields }] = left.splice(place, 1);
      if (fill(form, fields)) at ??= form;
      first ??= form;
    }
    const words = document.createElement("p");
    words.className = "notice done";
    words.setAttribute("role", "status");
    words.textContent = "What you had typed is here again.";
    (at ?? first)?.prepend(words);
  }
}
for (const button of document.querySelectorAll("[data-print]")) button.addEventListener("click", () => window.print());
