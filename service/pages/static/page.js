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
for (const link of document.querySelectorAll("a[data-back]")) {
  link.addEventListener("click", () => {
    const form = document.querySelector("main form[method=post]");
    if (!form) return;
    const fields = typed(form).map((field) => [field.name, field.value, ["radio", "checkbox"].includes(field.type) ? field.checked : null]);
    try { sessionStorage.setItem(kept, JSON.stringify({ back: link.dataset.back, who: mine(form), fields })); } catch { /* full or forbidden: as without this file */ }
  });
}
{
  const form = document.querySelector("main form[method=post]");
  let before = null;
  try { before = form && JSON.parse(sessionStorage.getItem(kept)); } catch { /* as above */ }
  if (before && before.back === location.pathname + location.search && before.who === mine(form)) {
    sessionStorage.removeItem(kept);
    const left = [...before.fields];
    for (const field of typed(form)) {
      const ticked = ["radio", "checkbox"].includes(field.type);
      const place = left.findIndex(([name, value]) => name === field.name && (!ticked || value === field.value));
      if (place < 0) continue;
      const [[, value, checked]] = left.splice(place, 1);
      if (ticked) field.checked = checked; else field.value = value;
      field.closest("details")?.toggleAttribute("open", Boolean(value) && checked !== false || field.closest("details").open);
      field.dispatchEvent(new Event("change", { bubbles: true }));
    }
    const words = document.createElement("p");
    words.className = "notice done";
    words.setAttribute("role", "status");
    words.textContent = "What you had typed is here again.";
    form.prepend(words);
  }
}
for (const button of document.querySelectorAll("[data-print]")) button.addEventListener("click", () => window.print());
