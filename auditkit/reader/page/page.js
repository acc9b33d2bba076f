/**
 * The page's face: takes a packet and a fingerprint, shows the answer. It decides
 * nothing. Text from a packet reaches the page as text only.
 */

import { MAX_PACKET } from "./packet.js";
import { heldAgainst, readHeld } from "./receipt.js";
import { storyOf } from "./story.js";
import { hex } from "./text.js";
import { verifyPacket } from "./verify.js";

const FINGERPRINT = /^[A-Za-z0-9_-]{43}$/;
const MOST_PROBLEMS = 40;
const SHORT_WAIT = 300; // milliseconds before a progress bar is worth showing

const at = (id) => document.getElementById(id);

function made(tag, text, className = "") {
  const element = document.createElement(tag);
  element.textContent = text;
  if (className) element.className = className;
  return element;
}

function fill(id, elements) {
  at(id).replaceChildren(...elements);
}

/** List items; a line that starts with a space belongs under the one before. */
const bullets = (lines) =>
  lines.map((line) => made("li", line, line.startsWith(" ") ? "under" : ""));

let packet = JSON.parse(at("packet").textContent);
let round = 0;

/** The words for each answer: sign, answer, because, what to do next. */
const WORDS = {
  holds: {
    sign: "✓",
    word: "The record holds.",
    because:
      "Nothing in this packet was changed since it was signed, and it was signed " +
      "under the key that you expected.",
    next: [
      "Keep the packet file: it can be checked again at any time.",
      "Read the repair below. The check is about the record; the verdict on the " +
        "repair is the shop’s own, by its rules.",
    ],
  },
  alone: {
    sign: "!",
    word: "The record is consistent; who made it was not checked.",
    because:
      "Nothing in this packet was changed since it was signed with the key that it " +
      "carries. Whether that key is the shop’s, the packet cannot tell.",
    next: [
      "Get the shop’s fingerprint from elsewhere (notice board, invoice, website, an " +
        "earlier job), type it into its field and check again. All 43 characters must agree.",
      "Until then, take this as a claim.",
    ],
  },
  fails: {
    sign: "✗",
    word: "The record does not hold.",
    next: [
      "Ask the shop for the packet again, as a file, and check that one.",
      "If it fails again, keep both files as they are: the reasons above say where " +
        "they do not fit.",
    ],
  },
  unreadable: {
    sign: "?",
    word: "It cannot be read.",
    because: "This is no packet, or not a whole one. Nothing was checked.",
    next: ["Open the packet file as the shop gave it: not a copy of its text."],
  },
};

/** What a failing check comes down to, by the words that its problems hold. */
const GISTS = [
  [/^the verdict judged/, "Entries were left out or added after the verdict."],
  [/^the statement at the top/, "The statement is not the one that was signed."],
  [/was revoked|not enrolled|low-order/, "A key was used that may not sign there."],
  [/^the trusted checkpoint/, "It does not agree with the checkpoint that you kept."],
  [/^the receipt/, "It does not agree with the receipt that you kept."],
  [/disclos/, "A text that was put into it is not the one that was sealed."],
];
const ALTERED = "Something in it was altered, or was never part of the log.";

/** Where it does not fit what the reader holds, though nobody need have altered it. */
const UNMET = {
  older: {
    gist: "It was made before what you kept. Nothing shows that it was altered.",
    next: ["Ask the shop for a packet made since."],
  },
  reach: {
    gist:
      "It carries no proof that reaches back to the checkpoint or receipt that you " +
      "kept. Nothing shows that it was altered.",
    next: [
      "Ask the shop for a packet made with ‘auditkit packet ORDER --since FILE’, where " +
        "FILE is what you kept.",
    ],
  },
  key: {
    gist: "It was signed under another key than the one you gave.",
    next: [
      "The packet is consistent, but under another key than the one you gave. Look for " +
        "a mistyped letter first.",
      "Ask the shop, by a way that you chose, which fingerprint is theirs.",
    ],
  },
  order: {
    gist:
      "The receipt is of another repair order. Nothing shows that this packet was altered.",
    next: ["Hold the receipt against the packet of its own repair order."],
  },
};

/** The reasons of `UNMET`, each once; none as soon as something may be altered. */
function unmetOf({ problems }) {
  const kinds = [...new Set(problems.map(({ unmet }) => unmet))];
  return kinds.includes(null) ? [] : kinds.map((kind) => UNMET[kind]);
}

function gist(found) {
  const unmet = unmetOf(found);
  if (unmet.length > 0) {
    return `${unmet.map((one) => one.gist).join(" ")} What it says is not shown here.`;
  }
  const lines = found.problems.map(
    ({ problem, unmet }) =>
      UNMET[unmet]?.gist ?? GISTS.find(([words]) => words.test(problem))?.[1] ?? ALTERED,
  );
  const told = [...new Set(lines)].slice(0, 3).join(" ");
  return `${told} Do not rely on this packet: what it says is not shown here.`;
}

function answerOf(found) {
  if (!found.readable) return "unreadable";
  if (!found.verified) return "fails";
  return found.keyCompared ? "holds" : "alone";
}

function reasons(answer, found) {
  if (answer === "unreadable") return [found.message];
  if (answer === "fails") {
    const lines = found.problems
      .slice(0, MOST_PROBLEMS)
      .map(({ seq, problem }) => (seq === null ? problem : `Entry ${seq}: ${problem}`));
    const more = found.problems.length - lines.length;
    return more > 0 ? [...lines, `and ${more} more.`] : lines;
  }
  const count = found.packet.entries.length;
  return [
    `All ${count} entries are signed by keys that the log had enrolled and not revoked.`,
    `Each is proven to be in the log of ${found.checkpoint.size} entries that the ` +
      "checkpoint states.",
    "The verdict names exactly the entries given here, none left out or added, and " +
      "the statement is the one that was signed.",
    ...(found.receiptNotes ?? []).map((note) => `${note[0].toUpperCase()}${note.slice(1)}.`),
    found.keyCompared
      ? `The log’s key has the fingerprint that ${found.keyFrom}.`
      : "The log’s key was compared with nothing from outside the packet.",
  ];
}

function nextSteps(answer, found) {
  const { next } = WORDS[answer];
  if (answer === "unreadable" && found.mend) return [...next, `Else: ${found.mend}.`];
  const unmet = answer === "fails" ? unmetOf(found) : [];
  return unmet.length === 0 ? next : unmet.flatMap((one) => one.next);
}

function showAnswer(found) {
  const answer = answerOf(found);
  const words = WORDS[answer];
  at("answer").dataset.answer = answer;
  at("sign").textContent = words.sign;
  const isUnmet = answer === "fails" && unmetOf(found).length > 0;
  const word = isUnmet ? "The record does not fit what you gave." : words.word;
  at("answered").textContent = word;
  at("because").textContent = answer === "fails" ? gist(found) : words.because;
  const [said = "nothing"] = found.verified ? found.packet.statement : [];
  at("repair").textContent = found.verified ? `What it says of the repair: ${said}` : "";
  at("fingerprint").hidden = !found.logKey;
  const groups = (found.logKey ?? "").match(/.{1,4}/g) ?? [];
  fill("found", groups.flatMap((group) => [made("span", group), " "]));
  fill("why", bullets(reasons(answer, found)));
  fill("next", bullets(nextSteps(answer, found)));
  at("answer").hidden = false;
  at("live").textContent = word;
}

function stepElement({ seq, title, when, who, lines, raw, hidden }) {
  const item = document.createElement("li");
  const meta = [when && `${when} (claimed)`, `signed by ${who}`, `entry ${seq}`];
  item.append(made("h4", title), made("p", meta.filter(Boolean).join(" · "), "meta"));
  const told = document.createElement("ul");
  told.append(...bullets(lines));
  if (hidden > 0) {
    const sealed = "texts withheld, such as a name, or blanks that hide how many are";
    told.append(made("li", `Sealed places: ${hidden} (${sealed}).`));
  }
  if (told.childElementCount > 0) item.append(told);
  if (raw) {
    const details = document.createElement("details");
    details.append(made("summary", "What the vehicle sent, as it was read"));
    details.append(made("pre", raw));
    item.append(details);
  }
  return item;
}

function showStory(found) {
  at("story").hidden = !found.verified;
  if (!found.verified) return;
  const story = storyOf(found);
  fill("short", bullets(story.inShort));
  fill("steps", story.steps.map(stepElement));
}

function sizesOf(found) {
  const sizes = found.packet.earlier.map(({ size }) => String(size));
  return sizes.length === 0 ? "none" : `of size ${sizes.join(", ")}`;
}

function showDetails(found, seconds) {
  at("details").hidden = !found.verified;
  if (!found.verified) return;
  const facts = [
    ["Repair order", found.packet.repairOrder],
    ["Log", found.checkpoint.origin],
    ["Size of the log at the checkpoint", String(found.checkpoint.size)],
    ["Root of the log’s tree", hex(found.checkpoint.root)],
    ...(found.continues === "" ? [] : [["Says that it continues", found.continues]]),
    ["Checkpoints it reaches back to", sizesOf(found)],
    ["Texts disclosed", String(found.packet.disclosures.length)],
    [
      "Checked",
      `${new Date().toISOString().slice(0, 19)}Z, by this device’s clock, in ` +
        `${seconds.toFixed(2)} s; ` +
        `signatures by ${found.engine === "WebCrypto" ? "WebCrypto" : "this page itself"}`,
    ],
  ];
  fill("facts", facts.flatMap(([name, value]) => [made("dt", name), made("dd", value)]));
  const rows = Array.from(found.payloads.values(), (payload) => {
    const row = document.createElement("tr");
    const { seq, event, recordedAt, by, key } = payload;
    const cells = [String(seq), event.get("kind"), recordedAt, by, key];
    row.append(...cells.map((cell) => made("td", cell)));
    return row;
  });
  fill("rows", rows);
}

/** The fingerprint typed, null where the field is empty, undefined where unfit. */
function typedKey() {
  const typed = at("key").value.replace(/\s/g, "");
  const isFit = typed === "" || FINGERPRINT.test(typed);
  at("key").setAttribute("aria-invalid", String(!isFit));
  at("key-error").textContent = isFit
    ? ""
    : `This is no fingerprint: it has 43 letters, digits, - and _; typed are ` +
      `${typed.length}. Nothing was checked.`;
  if (!isFit) return undefined;
  return typed === "" ? null : typed;
}

/** The receipt or the checkpoint given; undefined where the text is neither. */
function typedHeld() {
  const held = readHeld(at("trust").value);
  const isFit = held.wrong === undefined;
  at("trust").setAttribute("aria-invalid", String(!isFit));
  at("trust-error").textContent = isFit ? "" : `${held.wrong} Nothing was checked.`;
  if (!isFit) at("held").open = true;
  return isFit ? held : undefined;
}

function clear() {
  for (const id of ["answer", "story", "details", "busy"]) at(id).hidden = true;
  at("live").textContent = ""; // so that the same answer is announced again
}

/** Let the page draw itself, and show how far the check is once it takes long. */
function progressOf(mine, started) {
  return async (done, total) => {
    if (mine !== round) return;
    if (performance.now() - started > SHORT_WAIT) at("busy").hidden = false;
    at("progress").value = done / total;
    await new Promise((resume) => {
      setTimeout(resume);
    });
  };
}

async function check() {
  round += 1;
  const mine = round;
  clear();
  const expectKey = typedKey();
  const held = typedHeld();
  if (packet === null || expectKey === undefined || held === undefined) {
    if (packet === null) at("live").textContent = "Choose a packet file first.";
    return;
  }
  const { trust = null, receipt = null } = held;
  const started = performance.now();
  const progress = progressOf(mine, started);
  const alone =
    packet.length > MAX_PACKET
      ? tooLarge(packet.length)
      : await verifyPacket(packet, { expectKey, trust, progress });
  const keyFrom = expectKey === null ? "your receipt names" : "you gave";
  const found = {
    ...(receipt === null ? alone : heldAgainst(alone, receipt)),
    keyFrom,
  };
  if (mine !== round) return; // a newer check has begun
  at("busy").hidden = true;
  showAnswer(found);
  showStory(found);
  showDetails(found, (performance.now() - started) / 1000);
}

function tooLarge(size) {
  const message = `it is ${size} bytes long, over ${MAX_PACKET}`;
  return { readable: false, verified: false, problems: [], message, mend: "" };
}

async function take(file) {
  if (!file) return;
  at("key").blur(); // what was typed counts now, not when the answer takes the focus
  if (file.size > MAX_PACKET) packet = { length: file.size };
  else packet = new Uint8Array(await file.arrayBuffer());
  await check();
  at("answer").focus();
}

function save() {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([packet], { type: "application/json" }));
  link.download = "packet.json";
  link.click();
  URL.revokeObjectURL(link.href);
}

/** A fault of the page is said as such: it is no answer about the packet. */
function confess(error) {
  clear();
  at("key-error").textContent =
    `This page failed (${error?.message ?? error}). That says nothing about the ` +
    "packet: check it in another browser.";
}

function guarded(work) {
  return (event) => {
    Promise.resolve(work(event)).catch(confess);
  };
}

at("give").addEventListener("submit", (event) => {
  event.preventDefault();
  guarded(check)(event);
});
at("file").addEventListener("change", guarded(() => take(at("file").files[0])));
at("key").addEventListener("change", guarded(check));
at("save").addEventListener("click", save);
document.addEventListener("dragover", (event) => {
  event.preventDefault();
  at("give").classList.add("over");
});
document.addEventListener("dragleave", () => at("give").classList.remove("over"));
document.addEventListener("drop", (event) => {
  event.preventDefault();
  at("give").classList.remove("over");
  guarded(() => take(event.dataTransfer?.files[0]))(event);
});
if (packet !== null) {
  at("carried").before(at("answer"));
  at("carried").hidden = false;
  at("about").hidden = true;
  at("pick").hidden = true;
  at("save").hidden = false;
  guarded(check)();
}
