/**
 * The page's face: takes files and texts, hands them to the worker, draws what Python
 * answers. It decides nothing, and says nothing of its own about what it is given.
 */

const SVG = "http://www.w3.org/2000/svg";
const MOST = 64 * 1024 * 1024; // bytes of a file that are read at all
const SHORT_WAIT = 300; // milliseconds before progress is worth showing
const UNSAFE = /^(?:on.*|style|src|srcdoc|href|action)$/i;
const PICTURE = /^data:image\/(?:jpeg|png);base64,[A-Za-z0-9+/=]*$/;

const at = (id) => document.getElementById(id);
const state = document.documentElement.dataset; // told to whoever drives the page

/** An element, from a list of its name, its attributes, and texts and elements. */
function made([name, attributes, ...inner], isInDrawing = false) {
  const isDrawn = isInDrawing || name === "svg";
  const element = isDrawn
    ? document.createElementNS(SVG, name)
    : document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    const isPicture = name === "img" && key === "src" && PICTURE.test(value);
    if (UNSAFE.test(key) && !isPicture) throw new Error(`no attribute ${key} is drawn`);
    element.setAttribute(key, value);
  }
  for (const one of inner) {
    element.append(typeof one === "string" ? one : made(one, isDrawn));
  }
  return element;
}

function draw(id, elements) {
  at(id).replaceChildren(...elements.map((one) => made(one)));
}

let file = null; // what was opened last: its name, its size, its bytes
let packet = null; // what was taken out of it
let round = 0;
let began = 0;

function wait(words, done, total) {
  at("busy").hidden = words === "";
  at("waiting").textContent = words;
  at("progress").hidden = total === undefined;
  if (total !== undefined) Object.assign(at("progress"), { max: total, value: done });
}

/** A fault of the page is said as such: it is no answer about the file. */
function confess(error) {
  wait("");
  state.state = "failed";
  at("fault").textContent =
    `This page failed (${error?.message ?? error}). That says nothing about the file: ` +
    "check it in another browser, or with auditkit itself.";
}

function showError(id, text) {
  at(id).setAttribute("aria-invalid", String(text !== ""));
  at(`${id}-error`).textContent = text;
}

function clear() {
  at("live").textContent = ""; // so that the same answer is announced again
  at("fault").textContent = "";
  at("save").hidden = true;
  draw("answer", []);
  draw("story", []);
}

function showAnswer({ drawn, errors, keep, said, saves }) {
  wait("");
  showError("key", errors.key);
  showError("kept", errors.kept);
  if (keep !== null) {
    at("kept").value = keep;
    if (drawn.length === 0) file = null; // it was the receipt, and no packet
  }
  if (errors.kept !== "" || keep !== null) at("held").open = true;
  draw("answer", drawn);
  at("save").hidden = !saves;
  at("said").textContent = drawn.length > 0 ? "" : said;
  at("live").textContent = drawn.length > 0 ? said : "";
  if (drawn.length > 0) at("word").focus();
}

function hear({ isReady, number, done, total, answer, packet: taken, story, fault }) {
  if (isReady) {
    state.state = "ready";
    if (round === 0) wait("");
    return;
  }
  if (number !== undefined && number !== round) return; // of an earlier check
  if (fault !== undefined) {
    confess(fault);
  } else if (total !== undefined) {
    const isLong = performance.now() - began > SHORT_WAIT;
    if (isLong) wait("The signatures are being checked…", done, total);
  } else if (answer !== undefined) {
    packet = taken;
    showAnswer(JSON.parse(answer));
    state.answered = String(number);
  } else {
    draw("story", JSON.parse(story));
    state.told = String(number);
  }
}

/** The worker, made of what the page carries. */
async function start() {
  const text = (id) => at(id).textContent;
  const source = JSON.parse(text("worker"));
  const url = URL.createObjectURL(new Blob([source], { type: "text/javascript" }));
  const worker = new Worker(url);
  worker.onmessage = ({ data }) => guarded(hear)(data);
  worker.onerror = (event) => confess(event.message);
  const names = ["info", "sources", "stdlib", "wasm"];
  worker.postMessage({ parts: Object.fromEntries(names.map((n) => [n, text(n)])) });
  return worker;
}

let started; // a promise of the worker

async function check() {
  clear();
  round += 1;
  began = performance.now();
  const request = JSON.stringify({
    name: file?.name ?? null,
    size: file?.size ?? 0,
    key: at("key").value,
    kept: at("kept").value,
  });
  const words = state.state === "ready" ? "The file is being read…" : "The check starts…";
  wait(words);
  const question = { number: round, request, file: file?.bytes ?? new Uint8Array() };
  (await started).postMessage(question);
}

const RECEIPT = /^#auditkit(?:\/|%2f)receipt(?:@|%40)/i;

/** A receipt's code opens this page with the receipt in its fragment: nothing is sent. */
async function takeIn() {
  if (!RECEIPT.test(location.hash)) return;
  at("kept").value = location.hash;
  await check();
}

let opened = 0; // files, so that a long one that is read late is not taken for the last

async function open(given) {
  if (!given) return;
  opened += 1;
  const turn = opened;
  document.activeElement?.blur(); // what was typed counts, and the answer takes the focus
  const { name, size } = given;
  const bytes = size > MOST ? new Uint8Array() : new Uint8Array(await given.arrayBuffer());
  if (turn !== opened) return;
  file = { name, size, bytes };
  await check();
}

function save() {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([packet], { type: "application/json" }));
  link.download = "packet.json";
  link.click();
  URL.revokeObjectURL(link.href);
}

function guarded(work) {
  return (event) => {
    Promise.resolve()
      .then(() => work(event))
      .catch(confess);
  };
}

const isField = (element) => element.matches?.("input[type=text], textarea") ?? false;

at("give").addEventListener("submit", (event) => {
  event.preventDefault();
  guarded(check)();
});
at("file").addEventListener("change", guarded(() => open(at("file").files[0])));
for (const id of ["key", "kept"]) {
  at(id).addEventListener("change", guarded(() => (file === null ? null : check())));
}
at("save").addEventListener("click", save);
document.addEventListener("paste", (event) => {
  if (isField(event.target)) return;
  const [given] = event.clipboardData?.files ?? [];
  const text = event.clipboardData?.getData("text/plain") ?? "";
  if (!given && text === "") return;
  event.preventDefault();
  guarded(() => open(given ?? new File([text], "what was pasted")))();
});
document.addEventListener("dragover", (event) => {
  event.preventDefault();
  at("give").classList.add("over");
});
document.addEventListener("dragleave", () => at("give").classList.remove("over"));
document.addEventListener("drop", (event) => {
  event.preventDefault();
  at("give").classList.remove("over");
  guarded(() => open(event.dataTransfer?.files[0]))();
});
window.addEventListener("hashchange", guarded(takeIn));
document.addEventListener("DOMContentLoaded", () => {
  wait("The check starts; you can choose the file already.");
  started = new Promise((resolve, reject) => {
    // What can be read is drawn first.
    requestAnimationFrame(() => setTimeout(() => start().then(resolve, reject)));
  });
  started.then(takeIn).catch(confess);
});
