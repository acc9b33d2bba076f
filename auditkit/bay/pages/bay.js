// What the pages need beyond links and forms: what is said when the shop's computer does
// not answer, a draft that is kept while typing, and the time to read a caution.
"use strict";

const GONE =
  "The shop's computer does not answer. What you typed is still here. Send it again when it answers: it is recorded once.";
const LOCKED = "Locked: sign in again to go on. What you typed is still here.";

function tell(text) {
  const place = document.getElementById("server");
  if (place && place.textContent !== text) place.textContent = text;
}

document.addEventListener("htmx:error", () => tell(GONE));
document.addEventListener("htmx:after:request", (event) => {
  const answer = event.detail && event.detail.ctx && event.detail.ctx.response;
  if (!answer) return;
  if (answer.status === 401) tell(LOCKED);
  else if (answer.status >= 500) tell(GONE);
  else if (answer.headers && answer.headers.get("X-Locked") === "yes") tell(LOCKED);
  else tell("");
});

// A caution's button opens once its text was on screen long enough to be read.
function countDown(button) {
  const words = document.getElementById("reading");
  let left = Number(button.dataset.seconds || "0");
  const step = () => {
    if (left <= 0) {
      button.disabled = false;
      if (words) words.textContent = "";
      return;
    }
    button.disabled = true;
    if (words) words.textContent = `Read it: ${left} s left.`;
    left -= 1;
    setTimeout(step, 1000);
  };
  step();
}

function begin() {
  document.querySelectorAll("button[data-seconds]:not([data-begun])").forEach((button) => {
    button.dataset.begun = "yes";
    countDown(button);
  });
}

document.addEventListener("DOMContentLoaded", begin);
document.addEventListener("htmx:after:swap", begin);

// A field that another field's answer calls for is shown when it does.
function fold(form) {
  form.querySelectorAll("[data-when]").forEach((part) => {
    const asked = form.elements.namedItem(part.dataset.when);
    const value = asked && "value" in asked ? asked.value : "";
    part.hidden = !part.dataset.is.split("|").includes(value);
  });
}

document.addEventListener("input", (event) => event.target.form && fold(event.target.form));
document.addEventListener("DOMContentLoaded", () => document.querySelectorAll("form").forEach(fold));
document.addEventListener("htmx:after:swap", () => document.querySelectorAll("form").forEach(fold));
