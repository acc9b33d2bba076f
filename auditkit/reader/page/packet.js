/** A packet and its payloads as read: nothing in them is verified here. */

import { parseCanonical, parse, readText } from "./strict.js";
import { Refusal, decode64, decodePadded, isBroken, utf8 } from "./text.js";

const PACKET_FORMAT = "auditkit/packet@1";
const ENTRY_FORMAT = "auditkit/entry@1";
const MAX_PACKET = 32 * 1024 * 1024;
const MAX_ENTRY = 65535;
const HASH_BYTES = 32;
const MEMBERS = [
  "format",
  "repair_order",
  "statement",
  "log_key",
  "checkpoint",
  "earlier",
  "entries",
  "disclosures",
];
const EARLIER_MEMBERS = ["size", "root", "path"];
const ENTRY_MEMBERS = ["seq", "header", "payload", "signature", "proof"];
const PAYLOAD_MEMBERS = [
  "_sd_alg",
  "by",
  "event",
  "format",
  "key",
  "log",
  "prev",
  "recorded_at",
  "repair_order",
  "seq",
];
const MEND = "ask for the file again, as it was made";

function exactly(value, names) {
  if (!(value instanceof Map) || [...value.keys()].join("\n") !== names.join("\n")) {
    throw new Refusal(`its members are not ${names.join(", ")}`);
  }
}

function text(value) {
  if (typeof value !== "string") {
    throw new Refusal("a member that should be text is not");
  }
  return value;
}

function list(value) {
  if (!Array.isArray(value)) throw new Refusal("a member that should be a list is not");
  return value;
}

function number(value, least, what = "a sequence number") {
  if (typeof value !== "number" || value < least) {
    throw new Refusal(`${what} is not a count`);
  }
  return value;
}

function earlier(item) {
  exactly(item, EARLIER_MEMBERS);
  const size = number(item.get("size"), 0, "a size");
  const root = decodePadded(text(item.get("root")));
  const path = list(item.get("path")).map((step) => decodePadded(text(step)));
  if ([root, ...path].some((hash) => hash.length !== HASH_BYTES)) {
    throw new Refusal("a root or a step of a path is not a SHA-256 hash");
  }
  return { size: BigInt(size), root, path };
}

function entry(item) {
  exactly(item, ENTRY_MEMBERS);
  return {
    seq: number(item.get("seq"), 0),
    header: text(item.get("header")),
    payload: text(item.get("payload")),
    signature: decode64(text(item.get("signature"))),
    proof: text(item.get("proof")),
  };
}

function disclosure(item) {
  exactly(item, ["seq", "disclosure"]);
  return {
    seq: number(item.get("seq"), -Infinity),
    disclosure: text(item.get("disclosure")),
  };
}

/** The one way in which a packet is written (JSON, an indent of two spaces). */
function formatPacket(value) {
  // Names of this format never look like a number, so that objects keep their order.
  const members = (_, item) => (item instanceof Map ? Object.fromEntries(item) : item);
  return `${JSON.stringify(value, members, 2)}\n`;
}

function whole(value) {
  exactly(value, MEMBERS);
  return {
    repairOrder: text(value.get("repair_order")),
    statement: list(value.get("statement")).map(text),
    logKey: text(value.get("log_key")),
    checkpoint: text(value.get("checkpoint")),
    earlier: list(value.get("earlier")).map(earlier),
    entries: list(value.get("entries")).map(entry),
    disclosures: list(value.get("disclosures")).map(disclosure),
  };
}

/** The packet that a text or its bytes hold; a Refusal where it is none. */
function parsePacket(input) {
  if (typeof input === "string" && isBroken(input)) {
    throw new Refusal("it holds a lone surrogate", "write whole characters");
  }
  const bytes = typeof input === "string" ? utf8(input) : input;
  const written = readText(bytes, MAX_PACKET);
  const value = parse(written);
  if (!(value instanceof Map) || value.get("format") !== PACKET_FORMAT) {
    throw new Refusal(`this is not ${PACKET_FORMAT}`, MEND);
  }
  let packet;
  try {
    packet = whole(value);
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    throw new Refusal(`this is not a whole packet (${error.message})`, MEND);
  }
  if (formatPacket(value) !== written) {
    const message = "this is not byte for byte what a packet of this content is";
    throw new Refusal(message, MEND);
  }
  return packet;
}

function textOrNull(value, name) {
  return value === null || value === undefined ? null : said(value, name);
}

function said(value, name) {
  if (typeof value !== "string") {
    throw new Refusal(`the payload's '${name}' is not text`);
  }
  return value;
}

/** What a payload says; any text that would not be written so is refused. */
function parsePayload(written) {
  const value = parseCanonical(written, MAX_ENTRY);
  if (!(value instanceof Map) || value.get("format") !== ENTRY_FORMAT) {
    throw new Refusal(`the payload is not ${ENTRY_FORMAT}`);
  }
  const by = said(value.get("by"), "by");
  const event = value.get("event");
  if (!(event instanceof Map) || typeof event.get("kind") !== "string") {
    throw new Refusal("the payload holds no event of any kind");
  }
  const payload = {
    by,
    event,
    key: said(value.get("key"), "key"),
    log: said(value.get("log"), "log"),
    prev: textOrNull(value.get("prev"), "prev"),
    recordedAt: said(value.get("recorded_at"), "recorded_at"),
    repairOrder: textOrNull(value.get("repair_order"), "repair_order"),
    seq: value.get("seq"),
  };
  if (typeof payload.seq !== "number" || payload.seq < 0) {
    throw new Refusal("the payload's sequence number is not a count");
  }
  const names = [...value.keys()].sort().join("\n");
  if (names !== PAYLOAD_MEMBERS.join("\n") || value.get("_sd_alg") !== "sha-256") {
    throw new Refusal("the payload has other members than an entry's");
  }
  return payload;
}

export { MAX_PACKET, parsePacket, parsePayload };
