/**
 * Signed notes, checkpoints, proofs and keys as text (C2SP signed-note,
 * tlog-checkpoint, tlog-proof), and the tree's inclusion proof (RFC 9162 2.1.3.2).
 */

import { KEY_BYTES, isLowOrder } from "./ed25519.js";
import { sha256 } from "./hashes.js";
import {
  Refusal,
  concat,
  decode64,
  decodePadded,
  encode64,
  encodePadded,
  hex,
  sameBytes,
  utf8,
} from "./text.js";

const PROOF_FORMAT = "c2sp.org/tlog-proof@v1";
const MAX_NOTE = 64 * 1024;
const MAX_SIGNATURES = 100;
const MAX_PATH = 63;
const HASH_BYTES = 32;
const ED25519 = Uint8Array.of(1);
const ID_BYTES = 4;
// The white space of Python's \s, which is not quite that of JavaScript.
const NAME =
  /^[^+\t-\r\x1c-\x20\x85\xa0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]+$/u;
const UNPRINTABLE = /[\p{C}\p{Z}]/u;
const COUNT = /^(?:0|[1-9][0-9]{0,15})$/;
const CONTROL = /[\u0000-\u0009\u000b-\u001f]/;
const DASH = "\u2014 ";

/** A text as a programmer would quote it, with what cannot be seen spelled out. */
function quoted(text) {
  const mark = text.includes("'") && !text.includes('"') ? '"' : "'";
  const named = { "\n": "\\n", "\r": "\\r", "\t": "\\t", "\\": "\\\\", [mark]: `\\${mark}` };
  let made = "";
  for (const letter of text) {
    if (Object.hasOwn(named, letter)) made += named[letter];
    else if (letter !== " " && UNPRINTABLE.test(letter)) {
      const code = letter.codePointAt(0).toString(16);
      if (code.length <= 2) made += `\\x${code.padStart(2, "0")}`;
      else if (code.length <= 4) made += `\\u${code.padStart(4, "0")}`;
      else made += `\\U${code.padStart(8, "0")}`;
    } else made += letter;
  }
  return mark + made + mark;
}

/** A public key of 32 bytes; unsafe ones are refused. `thumbprint` is its name. */
function publicKey(raw) {
  if (raw.length !== KEY_BYTES) {
    throw new Refusal(`a public key has ${KEY_BYTES} bytes, this has ${raw.length}`);
  }
  if (isLowOrder(raw)) {
    throw new Refusal("this is a low-order key: under it a signature fits any text");
  }
  const jwk = `{"crv":"Ed25519","kty":"OKP","x":"${encode64(raw)}"}`;
  return { raw, thumbprint: encode64(sha256(utf8(jwk))) };
}

/** The key whose JWK member x (RFC 8037) is given. */
function keyFromX(x) {
  let raw;
  try {
    raw = decode64(x);
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    const start = Array.from(x).slice(0, 60).join("");
    throw new Refusal(`the public key ${quoted(start)} is not 43 characters of base64url`);
  }
  return publicKey(raw);
}

function keyId(name, key) {
  return sha256(concat(utf8(name), Uint8Array.of(10), ED25519, key.raw)).slice(0, ID_BYTES);
}

/** Name and key of a verifier key, a line NAME+ID+KEY. */
function parseVkey(text) {
  const first = text.indexOf("+");
  const second = text.indexOf("+", first + 1);
  if (first < 0 || second < 0) throw new Refusal("this is not a verifier key");
  const name = text.slice(0, first);
  const data = decodePadded(text.slice(second + 1));
  if (data[0] !== ED25519[0]) {
    throw new Refusal("this verifier key is of another algorithm than Ed25519");
  }
  const key = publicKey(data.subarray(1));
  if (!NAME.test(name) || UNPRINTABLE.test(name)) {
    const message = "cannot name a key: it holds a space, a plus or nothing";
    throw new Refusal(`${quoted(name)} ${message}`);
  }
  const id = hex(keyId(name, key));
  if (`${name}+${id}+${encodePadded(concat(ED25519, key.raw))}` !== text) {
    throw new Refusal("the verifier key's id does not fit its name and key");
  }
  return { name, key };
}

function splitNote(note) {
  const gap = note.lastIndexOf("\n\n");
  const signatures = note.slice(gap + 2);
  if (gap < 0 || !signatures.endsWith("\n") || utf8(note).length > MAX_NOTE) {
    throw new Refusal("this is not a signed note");
  }
  if (CONTROL.test(note)) throw new Refusal("the note holds a control character");
  const lines = signatures.slice(0, -1).split("\n");
  if (lines.length > MAX_SIGNATURES) {
    throw new Refusal(`the note holds more than ${MAX_SIGNATURES} signatures`);
  }
  return { text: `${note.slice(0, gap)}\n`, lines };
}

/** The text of a note that `key` signed under `name`. */
async function openNote(note, name, key, fits) {
  const { text, lines } = splitNote(note);
  const known = keyId(name, key);
  let signed = false;
  for (const line of lines) {
    const bare = line.startsWith(DASH) ? line.slice(DASH.length) : line;
    const space = bare.indexOf(" ");
    const who = space < 0 ? bare : bare.slice(0, space);
    const data = decodePadded(space < 0 ? "" : bare.slice(space + 1));
    if (!line.startsWith(DASH) || !NAME.test(who)) {
      throw new Refusal("a line below the note's text is no signature");
    }
    if (data.length <= ID_BYTES) throw new Refusal("a signature line is too short");
    if (who === name && sameBytes(data.subarray(0, ID_BYTES), known)) {
      if (signed) throw new Refusal("one key signs the note twice");
      if (!(await fits(key.raw, data.slice(ID_BYTES), utf8(text)))) {
        throw new Refusal("the signature does not fit the text and the key");
      }
      signed = true;
    }
  }
  if (!signed) {
    throw new Refusal(`the note is not signed by ${name} with the known key`);
  }
  return text;
}

/** Origin, size (a BigInt) and root of a checkpoint's text. */
function parseCheckpoint(text) {
  const lines = text.split("\n");
  if (lines.length !== 4 || lines[3] !== "" || lines[0] === "") {
    throw new Refusal("a checkpoint has three lines: origin, size, root");
  }
  const [origin, size, root64] = lines;
  if (!COUNT.test(size)) {
    throw new Refusal("the checkpoint's size is not a plain number");
  }
  const root = decodePadded(root64);
  if (root.length !== HASH_BYTES) {
    throw new Refusal("the checkpoint's root is not a SHA-256 hash");
  }
  return { origin, size: BigInt(size), root };
}

/** The checkpoint that `key` signed under the origin it states. */
async function openCheckpoint(note, key, fits) {
  const end = note.indexOf("\n");
  const origin = end < 0 ? note : note.slice(0, end);
  return parseCheckpoint(await openNote(note, origin, key, fits));
}

/** Index (a BigInt), path and checkpoint note of an inclusion proof. */
function parseProof(text) {
  const gap = text.indexOf("\n\n");
  const lines = (gap < 0 ? text : text.slice(0, gap)).split("\n");
  if (gap < 0 || lines[0] !== PROOF_FORMAT || lines.length < 2) {
    throw new Refusal(`this is not ${PROOF_FORMAT}`);
  }
  const number = lines[1].startsWith("index ") ? lines[1].slice(6) : "";
  if (!COUNT.test(number)) throw new Refusal("the proof names no index");
  const path = lines.slice(2).map(decodePadded);
  if (path.length > MAX_PATH || path.some((step) => step.length !== HASH_BYTES)) {
    throw new Refusal("the proof's path is not a list of SHA-256 hashes");
  }
  return { index: BigInt(number), path, checkpoint: text.slice(gap + 2) };
}

/** The hash of a leaf: SHA-256(0x00 || data). */
function leafHash(data) {
  return sha256(concat(Uint8Array.of(0), data));
}

function nodeHash(left, right) {
  return sha256(concat(Uint8Array.of(1), left, right));
}

/** Returns where the path leads from the leaf to the root; index, size BigInts. */
function verifyInclusion(leaf, index, size, path, root) {
  if (index >= size) throw new Refusal(`there is no leaf ${index} in a tree of ${size}`);
  let first = index;
  let last = size - 1n;
  let found = leaf;
  for (const step of path) {
    if (last === 0n) throw new Refusal("the inclusion proof is too long");
    if (first & 1n || first === last) {
      found = nodeHash(step, found);
      while (!(first & 1n) && first) {
        first >>= 1n;
        last >>= 1n;
      }
    } else {
      found = nodeHash(found, step);
    }
    first >>= 1n;
    last >>= 1n;
  }
  if (last || !sameBytes(found, root)) {
    throw new Refusal("the inclusion proof does not lead from the entry to the root");
  }
}

/** Returns where the new tree extends the old one (RFC 9162 2.1.4.2); BigInts. */
function verifyConsistency(before, after, oldRoot, newRoot, proof) {
  if (!(before > 0n && before <= after)) {
    throw new Refusal(`a tree of ${after} cannot extend a tree of ${before}`);
  }
  if (before === after) {
    if (proof.length > 0 || !sameBytes(oldRoot, newRoot)) {
      throw new Refusal("two trees of one size have different roots");
    }
    return;
  }
  const path = (before & (before - 1n)) === 0n ? [oldRoot, ...proof] : proof;
  if (path.length === 0) throw new Refusal("the consistency proof is empty");
  let first = before - 1n;
  let last = after - 1n;
  while (first & 1n) {
    first >>= 1n;
    last >>= 1n;
  }
  let was = path[0];
  let found = path[0];
  for (const step of path.slice(1)) {
    if (last === 0n) throw new Refusal("the consistency proof is too long");
    if (first & 1n || first === last) {
      was = nodeHash(step, was);
      found = nodeHash(step, found);
      while (!(first & 1n) && first) {
        first >>= 1n;
        last >>= 1n;
      }
    } else {
      found = nodeHash(found, step);
    }
    first >>= 1n;
    last >>= 1n;
  }
  if (last || !sameBytes(was, oldRoot) || !sameBytes(found, newRoot)) {
    throw new Refusal("the newer tree does not extend the older one");
  }
}

export {
  keyFromX,
  leafHash,
  openCheckpoint,
  parseCheckpoint,
  parseProof,
  parseVkey,
  quoted,
  splitNote,
  verifyConsistency,
  verifyInclusion,
};
