/**
 * Ed25519 for the check: it asks whether signatures fit, and this looks.
 *
 * Asked is one list of bytes, a record each: how to look (0 by the browser's own
 * engine, 1 by the arithmetic below), the key (32 bytes), R and S (64), the length of
 * what follows (4, the highest first), and the text that was signed, or for the
 * arithmetic RFC 8032's k (32, the lowest first). Told is one byte a record: 1 it fits,
 * 0 it does not, 2 the engine gave no answer. What to make of it is Python's.
 */

import { Point } from "./vendor/noble-ed25519.js";

const HEAD = 101;
const AT_ONCE = 256; // records between two looks at how far it is
const [UNFIT, FITS, NO_ANSWER] = [0, 1, 2];
const ED25519 = { name: "Ed25519" };

function recordsOf(asked) {
  const view = new DataView(asked.buffer, asked.byteOffset, asked.byteLength);
  const found = [];
  for (let at = 0; at < asked.length; ) {
    const end = at + HEAD + view.getUint32(at + HEAD - 4);
    found.push({
      isPlain: asked[at] === 1,
      key: asked.slice(at + 1, at + 33),
      signature: asked.slice(at + 33, at + 97),
      message: asked.slice(at + HEAD, end),
    });
    at = end;
  }
  return found;
}

/** The number that bytes spell, the lowest byte first. */
function little(bytes) {
  return bytes.reduceRight((made, byte) => (made << 8n) | BigInt(byte), 0n);
}

/** Whether [S]B - [k]A is R, byte for byte (RFC 8032 5.1.7 without the cofactor). */
function byArithmetic({ key, signature, message }) {
  let point;
  try {
    point = Point.fromBytes(key);
  } catch {
    return UNFIT; // no point of the curve: nothing can be signed under it
  }
  const back = point.negate().multiply(little(message), false);
  const s = little(signature.subarray(32));
  const found = Point.BASE.multiply(s, false).add(back).toBytes();
  return found.every((byte, i) => byte === signature[i]) ? FITS : UNFIT;
}

/** A function that looks by WebCrypto; each key is taken in once. */
function engineOf(subtle) {
  const keys = new Map();
  return async ({ key, signature, message }) => {
    const name = key.join();
    if (!keys.has(name)) {
      keys.set(name, subtle.importKey("raw", key, ED25519, false, ["verify"]));
    }
    try {
      return (await subtle.verify(ED25519, await keys.get(name), signature, message))
        ? FITS
        : UNFIT;
    } catch {
      return NO_ANSWER; // no Ed25519 in this engine, or it takes no such key
    }
  };
}

/** What is told of the records asked; `progress(done, total)` is called in between. */
async function look(asked, progress, subtle = globalThis.crypto?.subtle ?? null) {
  const records = recordsOf(asked);
  const byEngine = subtle === null ? () => NO_ANSWER : engineOf(subtle);
  const told = new Uint8Array(records.length);
  for (let at = 0; at < records.length; at += AT_ONCE) {
    const some = records.slice(at, at + AT_ONCE);
    const found = await Promise.all(
      some.map((one) => (one.isPlain ? byArithmetic(one) : byEngine(one))),
    );
    told.set(found, at);
    progress(at + some.length, records.length);
  }
  return told;
}

export { look };
