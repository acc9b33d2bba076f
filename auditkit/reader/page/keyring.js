/** The keys that the log itself says may sign, as its entries are walked. */

import { keyFromX, parseCheckpoint, quoted, splitNote } from "./note.js";
import { Refusal, decodePadded } from "./text.js";

const LOG_SIGNER = "log";
const LOG_KINDS = new Set([
  "attestation",
  "key_revoked",
  "log_closed",
  "log_opened",
  "person_enrolled",
]);

/** A value of JSON as auditkit's own report writes it in a line of text. */
function shown(value) {
  return typeof value === "string" ? value : spelled(value);
}

function spelled(value) {
  if (typeof value === "string") return quoted(value);
  if (value === null || value === undefined) return "None";
  if (typeof value === "boolean") return value ? "True" : "False";
  if (Array.isArray(value)) return `[${value.map(spelled).join(", ")}]`;
  if (!(value instanceof Map)) return String(value);
  const members = Array.from(value, ([name, item]) => `${quoted(name)}: ${spelled(item)}`);
  return `{${members.join(", ")}}`;
}

/** A member of an event as text, empty where it is absent. */
function member(event, name) {
  return event.has(name) ? shown(event.get(name)) : "";
}

/**
 * A signature is judged by whether its key was active at that sequence number:
 * enrolled by an earlier entry and revoked by none before it.
 */
class KeyRing {
  constructor() {
    this.origin = "";
    this.logKey = null;
    this.enrolled = new Map();
    this.revoked = new Map();
    this.attested = [];
    this.closed = null;
    this.predecessor = null;
  }

  /** The key that must have signed the payload. */
  signer(payload) {
    if (payload.seq === 0 && this.logKey === null) return this.openingKey(payload);
    if (this.logKey === null) throw new Refusal("no entry before it opens the log");
    if (this.closed !== null && payload.seq > this.closed) {
      throw new Refusal(`the log was closed by entry ${this.closed}`);
    }
    if (payload.by === LOG_SIGNER) {
      if (payload.key !== this.logKey.thumbprint) {
        throw new Refusal(`key ${payload.key} is not the log's key`);
      }
      return this.logKey;
    }
    const known = this.enrolled.get(payload.key);
    // An empty `by` meets no person, since nobody is enrolled by an empty name.
    if (known === undefined || known.person !== payload.by || known.since >= payload.seq) {
      const where = `for ${quoted(payload.by)} there`;
      throw new Refusal(`key ${payload.key} is not enrolled ${where}`);
    }
    const revoked = this.revoked.get(payload.key);
    if (revoked !== undefined && revoked <= payload.seq) {
      throw new Refusal(`key ${payload.key} was revoked by entry ${revoked}`);
    }
    return known.key;
  }

  openingKey(payload) {
    if (payload.event.get("kind") !== "log_opened" || payload.by !== LOG_SIGNER) {
      throw new Refusal("the first entry does not open the log");
    }
    const key = keyFromX(member(payload.event, "log_key"));
    if (key.thumbprint !== payload.key) {
      const message = "the opening entry names another key than the one that signed it";
      throw new Refusal(message);
    }
    return key;
  }

  /** Take in what a log event says about keys, after it was accepted. */
  learn(payload) {
    const { event } = payload;
    const kind = event.get("kind");
    if (!LOG_KINDS.has(kind)) return;
    if (payload.by !== LOG_SIGNER) {
      throw new Refusal(`a ${kind} entry must be signed by the log's key`);
    }
    if (kind === "log_opened") this.open(payload);
    else if (kind === "attestation") this.attest(payload);
    else if (kind === "log_closed") this.closed = payload.seq;
    else if (kind === "person_enrolled") this.enrol(payload);
    else this.revoke(payload);
  }

  open(payload) {
    if (this.logKey !== null) throw new Refusal("the log is opened a second time");
    if (payload.event.get("origin") !== payload.log) {
      throw new Refusal("the opening entry names another origin than its payload");
    }
    this.origin = payload.log;
    this.logKey = keyFromX(member(payload.event, "log_key"));
    const before = payload.event.get("predecessor");
    this.predecessor = before instanceof Map ? before : null;
  }

  /** Which log this one says it continues, and why; empty where it says nothing. */
  continues() {
    const before = this.predecessor;
    if (before === null || before.size === 0) return "";
    const size = member(before, "checkpoint").split("\n")[1] ?? "";
    const lost = before.has("lost_checkpoint")
      ? "; entries that the other log had signed after those are lost"
      : "";
    const name = member(before, "origin");
    return `${name}, after its first ${size} entries: ${member(before, "reason")}${lost}`;
  }

  attest(payload) {
    const text = payload.event.get("checkpoint");
    const token = payload.event.get("token") ?? null;
    if (typeof text !== "string" || (token !== null && typeof token !== "string")) {
      throw new Refusal("it attests no checkpoint");
    }
    const { origin, size, root } = parseCheckpoint(splitNote(text).text);
    if (origin !== payload.log || size <= 0n || size > BigInt(payload.seq)) {
      const message = "it attests a checkpoint of another log or of later entries";
      throw new Refusal(message);
    }
    if (token !== null) decodePadded(token);
    this.attested.push({ seq: payload.seq, size, root });
  }

  enrol(payload) {
    const key = keyFromX(member(payload.event, "key"));
    if (this.enrolled.has(key.thumbprint)) {
      throw new Refusal(`key ${key.thumbprint} is enrolled a second time`);
    }
    const person = member(payload.event, "person");
    if (person === LOG_SIGNER || person === "") {
      throw new Refusal(`a person may not be called ${quoted(person)}`);
    }
    this.enrolled.set(key.thumbprint, { person, key, since: payload.seq });
  }

  revoke(payload) {
    const thumbprint = member(payload.event, "key");
    const person = this.enrolled.get(thumbprint)?.person ?? "";
    if (person !== payload.event.get("person") || this.revoked.has(thumbprint)) {
      const why = "which is not active for that person";
      throw new Refusal(`it revokes key ${thumbprint}, ${why}`);
    }
    this.revoked.set(thumbprint, payload.seq);
  }
}

export { KeyRing, LOG_KINDS, shown };
