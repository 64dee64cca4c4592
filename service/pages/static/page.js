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
for (const button of document.querySelectorAll("[data-print]")) button.addEventListener("click", () => window.print());
