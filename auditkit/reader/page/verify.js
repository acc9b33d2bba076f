/**
 * The check of a packet: what `auditkit.proof.check_packet.verify_packet` checks, in its order
 * and with its words. Nothing here touches a page or a network.
 */

import { reveal } from "./disclosure.js";
import { signatureChecker } from "./ed25519.js";
import { KeyRing, LOG_KINDS, shown } from "./keyring.js";
import {
  leafHash,
  openCheckpoint,
  parseProof,
  parseVkey,
  quoted,
  verifyConsistency,
  verifyInclusion,
} from "./note.js";
import { parsePacket, parsePayload } from "./packet.js";
import { Refusal, concat, encode64Bytes, hex, utf8 } from "./text.js";

const HEADER = '{"alg":"Ed25519","typ":"auditkit/entry@1"}';
const DOT = Uint8Array.of(46);
const BREATH = 64; // entries between two looks at what else the page has to do

/** What `work` returns, or what `refused` makes of the text of its Refusal. */
async function orRefused(work, refused) {
  try {
    return await work();
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return refused(error.message);
  }
}

/** Order of texts by code point, which is not JavaScript's own. */
function compareTexts(a, b) {
  const left = Array.from(a, (letter) => letter.codePointAt(0));
  const right = Array.from(b, (letter) => letter.codePointAt(0));
  const at = left.findIndex((code, i) => code !== right[i]);
  if (at < 0) return left.length - right.length;
  return at < right.length ? left[at] - right[at] : 1;
}

/** Whether a list of JSON holds these numbers. */
function isListOf(value, numbers) {
  return (
    Array.isArray(value) &&
    value.length === numbers.length &&
    value.every((item, i) => item === numbers[i])
  );
}

class Check {
  constructor(packet, signatures) {
    this.packet = packet;
    this.fits = signatures.fits;
    this.problems = [];
    this.ring = new KeyRing();
    this.payloads = new Map();
    this.revealed = new Map();
    this.roots = new Map();
  }

  /** `unmet` says why it need not mean that anything was altered; null: it may. */
  add(seq, problem, unmet = null) {
    this.problems.push({ seq, problem, unmet });
  }

  async keyAndCheckpoint() {
    const { logKey, checkpoint } = this.packet;
    return orRefused(
      async () => {
        const { name, key } = parseVkey(logKey);
        const opened = await openCheckpoint(checkpoint, key, this.fits);
        if (opened.origin !== name) {
          const of = `of another log, ${quoted(opened.origin)}`;
          this.add(null, `the checkpoint is ${of}`);
        }
        this.roots.set(opened.size, hex(opened.root));
        return { key, checkpoint: opened };
      },
      (message) => {
        this.add(null, `the checkpoint: ${message}`);
        return null;
      },
    );
  }

  /** The checkpoint extends every earlier tree that the packet names. */
  async earlier({ size, root }) {
    let last = 0n;
    for (const old of this.packet.earlier) {
      if (!(last < old.size && old.size < size)) {
        this.add(null, "the earlier sizes are not in order below the packet's");
        return;
      }
      last = old.size;
      await orRefused(
        () => {
          verifyConsistency(old.size, size, old.root, root, old.path);
          this.roots.set(old.size, hex(old.root));
        },
        (message) => this.add(null, `the earlier size ${old.size}: ${message}`),
      );
    }
  }

  /** What outsiders attested is of this very log. */
  attested() {
    for (const { seq, size, root } of this.ring.attested) {
      if (this.roots.get(size) !== hex(root)) {
        this.add(seq, "the packet does not extend the checkpoint that it attests");
      }
    }
  }

  /** Signatures are checked side by side; only an event about keys is waited for. */
  async entries({ key, checkpoint }, progress) {
    const outcomes = [];
    let last = -1;
    for (const [i, signed] of this.packet.entries.entries()) {
      const early =
        signed.seq <= last ? "the entries are not in order of sequence number" : null;
      last = signed.seq;
      const outcome = this.entry(signed, checkpoint).then(
        (payload) => ({ payload }),
        (error) => ({ error }),
      );
      outcomes.push({ signed, early, outcome });
      if (this.waits) await outcome;
      if (i % BREATH === BREATH - 1) {
        await outcome;
        await progress(i + 1, this.packet.entries.length);
      }
    }
    for (const { signed, early, outcome } of outcomes) {
      if (early !== null) this.add(signed.seq, early);
      const { payload, error } = await outcome;
      if (payload !== undefined) this.payloads.set(signed.seq, payload);
      else if (error instanceof Refusal) this.add(signed.seq, error.message);
      else throw error;
    }
    if (hex(this.ring.logKey?.raw ?? []) !== hex(key.raw)) {
      this.add(null, "the log key given is not the one that opened the log");
    }
    if (this.ring.origin !== checkpoint.origin) {
      this.add(null, "the entries and the checkpoint are of different logs");
    }
  }

  async entry(signed, checkpoint) {
    this.waits = false;
    const { index, path, checkpoint: note } = parseProof(signed.proof);
    if (index !== BigInt(signed.seq) || note !== this.packet.checkpoint) {
      throw new Refusal("its proof is of another entry or another checkpoint");
    }
    const header = encode64Bytes(utf8(signed.header));
    const message = concat(header, DOT, encode64Bytes(utf8(signed.payload)));
    const leaf = leafHash(concat(message, DOT, encode64Bytes(signed.signature)));
    verifyInclusion(leaf, index, checkpoint.size, path, checkpoint.root);
    const payload = parsePayload(signed.payload);
    if (payload.seq !== signed.seq || payload.log !== checkpoint.origin) {
      throw new Refusal("what was signed names another place or another log");
    }
    const order = payload.repairOrder;
    if (order !== null && order !== this.packet.repairOrder) {
      throw new Refusal(`it belongs to repair order ${quoted(order)}`);
    }
    const kind = payload.event.get("kind");
    if (kind === "text_erased" || (order === null) !== LOG_KINDS.has(kind)) {
      throw new Refusal("a log event and a repair order's event are mixed up");
    }
    this.waits = order === null;
    const signer = this.ring.signer(payload);
    if (signed.header !== HEADER) {
      throw new Refusal("the header is not one of this format's");
    }
    if (!(await this.fits(signer.raw, signed.signature, message))) {
      throw new Refusal("the signature does not fit the text and the key");
    }
    this.ring.learn(payload);
    return payload;
  }

  /** The verdict judged the events given here, all of them. */
  verdict() {
    const own = [...this.payloads.values()].filter((p) => p.repairOrder !== null);
    const last = own.at(-1);
    if (last?.event.get("kind") !== "verdict") {
      this.add(null, "the repair order does not end with its verdict");
      return;
    }
    const given = own.filter((p) => p.event.get("kind") !== "verdict").map((p) => p.seq);
    const judged = last.event.get("judged");
    if (!isListOf(judged, given)) {
      const told = `entries ${shown(judged)}, given are ${shown(given)}`;
      this.add(last.seq, `the verdict judged ${told}`);
    }
    const statement = last.event.get("statement");
    const same =
      Array.isArray(statement) &&
      statement.length === this.packet.statement.length &&
      statement.every((line, i) => line === this.packet.statement[i]);
    if (!same) {
      this.add(last.seq, "the statement at the top is not the one that was signed");
    }
  }

  async disclosures() {
    const given = this.packet.disclosures;
    const texts = new Map();
    for (const { seq, disclosure } of given) {
      texts.set(seq, [...(texts.get(seq) ?? []), disclosure]);
    }
    const isOrdered = given.every((item, i) => {
      if (i === 0) return true;
      const before = given[i - 1];
      if (before.seq !== item.seq) return before.seq < item.seq;
      return compareTexts(before.disclosure, item.disclosure) <= 0;
    });
    if (!isOrdered) this.add(null, "the disclosures are not in order");
    for (const [seq, own] of texts) {
      const payload = this.payloads.get(seq);
      if (payload === undefined) {
        this.add(seq, "a disclosure belongs to no entry of the packet");
      } else {
        await orRefused(
          () => this.revealed.set(seq, reveal(payload.event, own)),
          (message) => this.add(seq, message),
        );
      }
    }
  }

  async trusted(trust, { key, checkpoint: ours }) {
    const theirs = await orRefused(
      () => openCheckpoint(trust, key, this.fits),
      (message) => {
        this.add(null, `the trusted checkpoint: ${message}`);
        return null;
      },
    );
    if (theirs === null) return;
    if (theirs.origin !== ours.origin) {
      const of = `of another log, ${quoted(theirs.origin)}`;
      this.add(null, `the trusted checkpoint is ${of}`);
    } else if (!this.roots.has(theirs.size)) {
      const sizes = `of size ${theirs.size}, and the packet's, of size ${ours.size},`;
      const ask =
        theirs.size > ours.size
          ? "ask for a packet made since"
          : "ask for one made with 'auditkit packet ORDER --since FILE'";
      const told = `the trusted checkpoint is ${sizes} does not reach back to it: ${ask}`;
      this.add(null, told, theirs.size > ours.size ? "older" : "reach");
    } else if (this.roots.get(theirs.size) !== hex(theirs.root)) {
      const forked = "the trusted checkpoint has another root: the log was forked";
      this.add(null, forked);
    }
  }
}

/**
 * What holds of a packet, given as text or bytes.
 *
 * `expectKey` is the thumbprint of the log key that the reader got elsewhere,
 * `trust` the text of a checkpoint that the reader holds. The answer has `readable`,
 * `verified`, `problems` [{seq, problem, unmet}], `unmet` as `auditkit.proof.check_report`'s
 * `Unmet` or null; where it cannot be read, `message` and
 * `mend`. An error that is not about the packet is thrown.
 */
async function verifyPacket(input, options = {}) {
  const { expectKey = null, trust = null, progress = async () => {} } = options;
  const signatures = options.signatures ?? (await signatureChecker());
  let packet;
  try {
    packet = parsePacket(input);
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return {
      readable: false,
      verified: false,
      problems: [],
      message: error.message,
      mend: error.mend,
    };
  }
  const check = new Check(packet, signatures);
  const opened = await check.keyAndCheckpoint();
  if (opened !== null) {
    await check.earlier(opened.checkpoint);
    await check.entries(opened, progress);
    check.attested();
    check.verdict();
    await check.disclosures();
    if (trust !== null) await check.trusted(trust, opened);
  }
  const logKey = opened?.key.thumbprint ?? "";
  if (expectKey !== null && expectKey !== logKey) {
    const told = `the log's key is ${logKey}, not the expected ${expectKey}`;
    check.add(null, told, "key");
  }
  return {
    readable: true,
    verified: check.problems.length === 0,
    problems: check.problems,
    packet,
    checkpoint: opened?.checkpoint ?? null,
    logKey,
    keyCompared: expectKey !== null,
    engine: signatures.engine,
    payloads: check.payloads,
    revealed: check.revealed,
    continues: check.ring.continues(),
  };
}

export { verifyPacket };
