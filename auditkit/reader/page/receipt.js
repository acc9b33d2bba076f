/**
 * A receipt's text, `auditkit/receipt@1`, and a packet held against it: what
 * `auditkit.proof.receipt` and `auditkit.reader.read_packet` do, in their order, with their words.
 */

import { parseCheckpoint, quoted, splitNote } from "./note.js";
import { Refusal, decode64, encodePadded, utf8 } from "./text.js";

const RECEIPT_FORMAT = "auditkit/receipt@1";
const MAX_RECEIPT = 64 * 1024;
const THUMBPRINT_BYTES = 32;
const KEYS = [
  "repair_order",
  "statement",
  "origin",
  "checkpoint_size",
  "checkpoint_root",
  "log_key",
];
const SIZE = /^[0-9]{1,16}$/;
const BREAKING = /[\p{Cc}\p{Cs}\p{Zl}\p{Zp}]/u;
const MEND = "use the receipt's text as it was handed over";

/** Whether a text means to be a receipt, sound or not. */
function isReceipt(text) {
  return text.startsWith("auditkit/receipt@");
}

function valuesOf(text) {
  const isLong = text.length > MAX_RECEIPT && Array.from(text).length > MAX_RECEIPT;
  if (isLong || !text.startsWith(`${RECEIPT_FORMAT}\n`)) {
    throw new Refusal(`this is not ${RECEIPT_FORMAT}`);
  }
  const values = new Map(KEYS.map((key) => [key, []]));
  const lines = (text.endsWith("\n") ? text.slice(0, -1) : text).split("\n");
  for (const [i, line] of lines.entries()) {
    if (i === 0) continue;
    const colon = line.indexOf(": ");
    const own = colon < 0 ? undefined : values.get(line.slice(0, colon));
    if (own === undefined) {
      const which = `line ${i + 1} of the receipt`;
      throw new Refusal(`${which} is none of ${KEYS.join(", ")}`);
    }
    own.push(line.slice(colon + 2));
  }
  for (const [key, own] of values) {
    if (own.length === 0 || (own.length > 1 && key !== "statement")) {
      throw new Refusal(`the receipt says ${key} ${own.length} times`);
    }
  }
  return values;
}

function read(text) {
  const values = valuesOf(text);
  const [size] = values.get("checkpoint_size");
  if (!SIZE.test(size)) {
    throw new Refusal("the receipt's checkpoint_size is not a plain number");
  }
  return {
    repairOrder: values.get("repair_order")[0],
    statement: values.get("statement"),
    origin: values.get("origin")[0],
    size: BigInt(size),
    root: values.get("checkpoint_root")[0],
    logKey: values.get("log_key")[0],
  };
}

function refuseUnfit({ repairOrder, statement, origin, size, root, logKey }) {
  if ([repairOrder, origin, ...statement].some((line) => BREAKING.test(line))) {
    const message = "a line of the receipt holds a line end or a control character";
    throw new Refusal(message);
  }
  if (!(repairOrder && origin && statement.length > 0)) {
    throw new Refusal("a receipt names a repair order, a statement and a log");
  }
  if (parseCheckpoint(`${origin}\n${size}\n${root}\n`).size === 0n) {
    throw new Refusal("the receipt's checkpoint holds no entry");
  }
  if (decode64(logKey).length !== THUMBPRINT_BYTES) {
    throw new Refusal("the receipt's log_key is not a fingerprint of a key");
  }
}

/** The one way in which a receipt is written. */
function formatReceipt({ repairOrder, statement, origin, size, root, logKey }) {
  const lines = [
    RECEIPT_FORMAT,
    `repair_order: ${repairOrder}`,
    ...statement.map((line) => `statement: ${line}`),
    `origin: ${origin}`,
    `checkpoint_size: ${size}`,
    `checkpoint_root: ${root}`,
    `log_key: ${logKey}`,
  ];
  const text = `${lines.join("\n")}\n`;
  if (utf8(text).length > MAX_RECEIPT) {
    throw new Refusal(`a receipt is at most ${MAX_RECEIPT} bytes long`);
  }
  return text;
}

/** What a receipt's text says; a Refusal where it is none. `size` is a BigInt. */
function parseReceipt(text) {
  let receipt;
  let written;
  try {
    receipt = read(text);
    refuseUnfit(receipt);
    written = formatReceipt(receipt);
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    throw new Refusal(error.message, MEND);
  }
  if (written !== text) {
    const message = "this is not byte for byte what a receipt of this content is";
    throw new Refusal(message, MEND);
  }
  return receipt;
}

function statementProblem(old, now) {
  let at = 0;
  while (at < old.length && at < now.length && old[at] === now[at]) at += 1;
  const [said, says] = [old, now].map((lines) =>
    at < lines.length ? quoted(lines[at]) : "no such line",
  );
  return (
    `the verdict's statement differs at its line ${at + 1}: the receipt says ${said}, ` +
    `the packet ${says}`
  );
}

/** What differs between the log's history in a packet and in a receipt. */
function history(given, { packet, checkpoint: { size, root } }) {
  if (size < given.size) {
    const told =
      `the packet's checkpoint, of size ${size}, is earlier than the receipt's, of ` +
      `size ${given.size}`;
    return { problem: told, unmet: "older" };
  }
  if (size === given.size) {
    if (encodePadded(root) === given.root) return {};
    const told =
      `the checkpoints of size ${size} have different roots: the log was forked or ` +
      "the receipt altered";
    return { problem: told, unmet: null };
  }
  const old = packet.earlier.find((one) => one.size === given.size);
  if (old === undefined) {
    const told =
      `the packet's checkpoint, of size ${size}, does not reach back to the receipt's, ` +
      `of size ${given.size}: it does not show that the log only grew since`;
    return { problem: told, unmet: "reach" };
  }
  if (encodePadded(old.root) === given.root) return {};
  const told =
    `the log's first ${given.size} entries had another root: the log was written anew ` +
    "or the receipt altered";
  return { problem: told, unmet: null };
}

/**
 * The answer of `verifyPacket` with what a receipt says of it: `problems` more, and
 * `receiptNotes`. What does not hold already is held against no receipt.
 */
function heldAgainst(found, given) {
  if (!found.verified) return found;
  const differ = [];
  const isOther = given.repairOrder !== found.packet.repairOrder;
  for (const [what, old, now, unmet] of [
    ["repair order", given.repairOrder, found.packet.repairOrder, "order"],
    ["log", given.origin, found.checkpoint.origin, null],
    ["log's key", given.logKey, found.logKey, null],
  ]) {
    const said = `the receipt says ${quoted(old)}, the packet ${quoted(now)}`;
    if (old !== now) differ.push({ problem: `the ${what} differs: ${said}`, unmet });
  }
  const { statement } = found.packet;
  const isSame =
    statement.length === given.statement.length &&
    statement.every((line, i) => line === given.statement[i]);
  if (!isSame) {
    const problem = statementProblem(given.statement, statement);
    differ.push({ problem, unmet: isOther ? "order" : null });
  }
  const { problem, unmet } = history(given, found);
  if (problem !== undefined) differ.push({ problem, unmet });
  const problems = differ.map((one) => ({
    seq: null,
    problem: `the receipt: ${one.problem}`,
    unmet: one.unmet,
  }));
  const agrees =
    "the receipt agrees: order, statement, log and log key; the log only grew since it " +
    "was handed over";
  const verified = problems.length === 0;
  const receiptNotes = verified ? [agrees] : [];
  return { ...found, verified, problems, receiptNotes, keyCompared: true };
}

/**
 * What a reader kept, from a text as it was pasted: `receipt`, or `trust`, the text of
 * a checkpoint that nothing has verified yet, or `wrong`, why it is neither.
 */
function readHeld(text) {
  if (text.trim() === "") return {};
  // A scanner or a copy may lose the last line's end; nothing else is forgiven.
  const whole = `${text.trimEnd()}\n`;
  try {
    if (isReceipt(whole)) return { receipt: parseReceipt(whole) };
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return { wrong: `This is no receipt as it was handed over: ${error.message}.` };
  }
  try {
    parseCheckpoint(splitNote(whole).text);
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return { wrong: "This is no receipt and no checkpoint." };
  }
  return { trust: whole };
}

export { heldAgainst, parseReceipt, readHeld };
