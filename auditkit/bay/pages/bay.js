// What the pages need beyond links and forms: news of the order, a form that stays when
// it was not taken, signing in again beside it, where the focus goes, and the time to
// read a caution. Two things about htmx 4: a form may hold no field that is called
// "form", and what stands behind "from:" is quoted where it has a space.
"use strict";

const KEPT = "What you typed is still here.";
const GONE = `The shop's computer does not answer. ${KEPT} Send it when it answers: it is recorded once.`;
const BACK = `The shop's computer answers again. ${KEPT} Send it: it is recorded once.`;
const LOCKED = `Locked: sign in to go on. ${KEPT}`;
const SIGNED_IN = `Signed in. ${KEPT}`;

const all = (selector, act) => document.querySelectorAll(selector).forEach(act);
const place = (id) => document.getElementById(id);
const state = { isLocked: false, isUnsent: false, isGone: false };

function tell(text) {
  const told = place("server");
  if (told && told.textContent !== text) told.textContent = text;
}

function isForm(ctx) {
  return Boolean(ctx && ctx.sourceElement && ctx.sourceElement.tagName === "FORM");
}

// The shop's computer, which may be away, or may have locked this page.

document.addEventListener("htmx:error", (event) => {
  const { ctx } = event.detail;
  if (!ctx) return;
  state.isGone = true;
  if (isForm(ctx)) state.isUnsent = true;
  tell(GONE);
});

document.addEventListener("htmx:after:request", (event) => {
  const { ctx } = event.detail;
  const { status, headers } = ctx.response;
  if (status === 401) {
    lock();
  } else if (status >= 400 && status !== 422) {
    const isPlain = (headers.get("Content-Type") || "").startsWith("text/plain");
    tell(status < 500 && isPlain ? ctx.text : GONE);
  } else if (isForm(ctx)) {
    state.isUnsent = state.isGone = false;
    tell("");
  } else if (state.isGone) {
    state.isGone = false;
    tell(state.isUnsent ? BACK : "");
  }
});

function lock() {
  const form = place("unlock");
  if (state.isLocked) return;
  state.isLocked = true;
  tell(LOCKED);
  if (form) form.hidden = false;
}

// Signing in here gives the page's forms the new session's token: nothing is lost.
async function unlock(form) {
  const field = place("unlock-passphrase");
  const next = location.pathname + location.search;
  const said = { person: form.dataset.person, passphrase: field.value, next };
  try {
    const answer = await fetch("/sign-in", { method: "POST", body: new URLSearchParams(said) });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const token = page.querySelector("header input[name=form_token]");
    field.value = "";
    if (!token) {
      const told = [...page.querySelectorAll("[role=alert]")].map((one) => one.textContent);
      tell(told.join(" ").trim() || LOCKED);
      return;
    }
    all("input[name=form_token]", (one) => { one.value = token.value; });
    const headers = JSON.stringify({ "X-Form-Token": token.value });
    document.body.setAttribute("hx-headers:inherited", headers);
    form.hidden = true;
    state.isLocked = false;
    tell(SIGNED_IN);
  } catch {
    tell(GONE);
  }
}

document.addEventListener("submit", (event) => {
  if (event.target.id !== "unlock") return;
  event.preventDefault();
  unlock(event.target);
});

// Each second a page asks whether its order has news; one that nobody sees, each fifth.
let seconds = 0;
setInterval(() => {
  seconds += 1;
  const argument = place("argument");
  if (!argument || state.isLocked || (document.hidden && seconds % 5)) return;
  argument.dispatchEvent(new CustomEvent("look"));
}, 1000);

// A draft is of texts: a picture is sent once, with its form.
document.addEventListener("htmx:config:request", (event) => {
  const { ctx } = event.detail;
  if (!ctx.sourceElement.matches("[data-texts-only]")) return;
  const files = [...ctx.request.body].filter(([, value]) => typeof value !== "string");
  files.forEach(([name]) => ctx.request.body.delete(name));
});

// A form that was not taken has no address of its own.
document.addEventListener("htmx:before:history:update", (event) => {
  const { response } = event.detail;
  if (response && !response.raw.redirected) event.preventDefault();
});

// After a form was answered, the focus goes to what is said of it: what is amiss, the
// row that was asked for, or what changed.
function askedField(submitter) {
  if (!submitter) return null;
  const { name, value } = submitter;
  if (name === "take") return place("f-limit-minimum");
  if (!["more", "timer"].includes(name)) return null;
  return place(`f-${value.replace(/^(start|stop):/, "").replace(/[^A-Za-z0-9]+/g, "-")}`);
}

function moveFocus(ctx) {
  const field = askedField(ctx.request.submitter);
  const rows = field ? field.querySelectorAll(".row, .amount") : [];
  const row = rows.length ? rows[rows.length - 1].closest(".row") || rows[rows.length - 1] : field;
  const target = row
    ? row.querySelector("input, select, textarea") || row
    : [".amiss", ".said", ".now h2", "h1"].map((one) => document.querySelector(one)).find(Boolean);
  if (!target) return;
  if (!target.matches("input, select, textarea")) target.tabIndex = -1;
  target.focus();
}

// A caution's button opens once its text was on screen long enough to be read.
function countDown(button) {
  const words = place("reading");
  let left = Number(button.dataset.seconds || "0");
  const step = () => {
    button.disabled = left > 0;
    if (words) words.textContent = left > 0 ? `Read it: ${left} s left.` : "";
    left -= 1;
    if (left >= 0) setTimeout(step, 1000);
  };
  step();
}

// A field that another field's answer calls for is shown when it does.
function fold(form) {
  form.querySelectorAll("[data-when]").forEach((part) => {
    const asked = form.elements.namedItem(part.dataset.when);
    const value = asked && "value" in asked ? asked.value : "";
    part.hidden = !part.dataset.is.split("|").includes(value);
  });
}

// A limit's unit is that of what was read, until somebody chooses another.
function follow(form, changed) {
  form.querySelectorAll("[data-follows]").forEach((unit) => {
    if (changed === unit) unit.dataset.isChosen = "yes";
    if (unit.dataset.isChosen) return;
    const [of] = ["limit.of", "readings.how"].map((n) => form.elements.namedItem(n)).filter(Boolean);
    const keys = Object.fromEntries(JSON.parse(unit.dataset.follows));
    const read = form.elements.namedItem(keys[(of && of.value) || ""] || "");
    if (!read) return;
    const offered = [...unit.options].map((one) => one.value);
    // As it was read, else without what it was read against: "inHg (vacuum)", "inHg".
    const fits = [read.value, read.value.split(" (")[0]].find((one) => offered.includes(one));
    if (fits) unit.value = fits;
  });
}

function begin() {
  all("button[data-seconds]:not([data-begun])", (button) => {
    button.dataset.begun = "yes";
    countDown(button);
  });
  all("form", fold);
}

document.addEventListener("input", ({ target }) => {
  if (!target.form) return;
  fold(target.form);
  follow(target.form, target);
});
document.addEventListener("DOMContentLoaded", begin);
document.addEventListener("htmx:after:swap", (event) => {
  const { ctx } = event.detail;
  if (ctx.target !== document.body) return;
  begin();
  if (ctx.request.method === "POST") moveFocus(ctx);
});

// Enter in a line of text presses a form's first button. Where that is another than the
// one which records (a row more, a timer), it presses nothing.
document.addEventListener("keydown", (event) => {
  const field = event.target;
  if (event.key !== "Enter" || field.tagName !== "INPUT" || !field.form) return;
  const first = field.form.querySelector("button[type=submit], button:not([type])");
  if (first && first.formNoValidate) event.preventDefault();
});
