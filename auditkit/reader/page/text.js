/** Bytes and text: UTF-8, hex, and base64 in its one canonical form (RFC 4648). */

/** What cannot be read, or does not hold: text for the reader, and the mend. */
class Refusal extends Error {
  constructor(message, mend = "") {
    super(message);
    this.mend = mend;
  }
}

const PLAIN = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
const URL_SAFE = PLAIN.replace("+/", "-_");

const ENCODER = new TextEncoder();
const DECODER = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true });

function utf8(text) {
  return ENCODER.encode(text);
}

/** The text of UTF-8 bytes; a TypeError where they are none. */
function fromUtf8(bytes) {
  return DECODER.decode(bytes);
}

/** Whether a text holds half a character (a lone surrogate). */
function isBroken(text) {
  return /\p{Cs}/u.test(text);
}

function concat(...parts) {
  const made = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    made.set(part, at);
    at += part.length;
  }
  return made;
}

function sameBytes(a, b) {
  return a.length === b.length && a.every((byte, i) => byte === b[i]);
}

function hex(bytes) {
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

const CODES = new Map(
  [PLAIN, URL_SAFE].map((alphabet) => [alphabet, utf8(alphabet)]),
);
const VALUES = new Map(
  [PLAIN, URL_SAFE].map((alphabet) => {
    const table = new Int16Array(128).fill(-1);
    Array.from(alphabet).forEach((letter, i) => {
      table[letter.charCodeAt(0)] = i;
    });
    return [alphabet, table];
  }),
);

/** Bytes as base64 letters without padding, themselves as bytes. */
function encoded(bytes, alphabet) {
  const codes = CODES.get(alphabet);
  const made = new Uint8Array(Math.ceil((bytes.length * 4) / 3));
  let at = 0;
  for (let i = 0; i < bytes.length; i += 3) {
    const word = (bytes[i] << 16) | (bytes[i + 1] << 8) | bytes[i + 2];
    made[at] = codes[word >> 18];
    made[at + 1] = codes[(word >> 12) & 63];
    made[at + 2] = codes[(word >> 6) & 63];
    made[at + 3] = codes[word & 63];
    at += 4;
  }
  return made;
}

/** The bytes of base64 letters without padding; null for any other spelling. */
function decoded(text, alphabet) {
  const values = VALUES.get(alphabet);
  if (text.length % 4 === 1) return null;
  const made = new Uint8Array(Math.floor((text.length * 3) / 4));
  let word = 0;
  let bits = 0;
  let at = 0;
  for (let i = 0; i < text.length; i += 1) {
    const value = values[text.charCodeAt(i)] ?? -1;
    if (value < 0) return null;
    word = ((word << 6) | value) & 0xffffff;
    bits += 6;
    if (bits >= 8) {
      bits -= 8;
      made[at] = word >> bits;
      at += 1;
    }
  }
  return word & ((1 << bits) - 1) ? null : made;
}

/** Base64url without padding (section 5), as bytes of ASCII. */
function encode64Bytes(bytes) {
  return encoded(bytes, URL_SAFE);
}

function encode64(bytes) {
  return fromUtf8(encoded(bytes, URL_SAFE));
}

/** The bytes of base64url without padding; every other spelling is refused. */
function decode64(text) {
  const made = decoded(text, URL_SAFE);
  if (made === null) {
    const message = "this base64url text is not in its one canonical form";
    throw new Refusal(message, "copy it anew");
  }
  return made;
}

/** Base64 with padding (section 4). */
function encodePadded(bytes) {
  const text = fromUtf8(encoded(bytes, PLAIN));
  return text + "=".repeat(-text.length & 3);
}

function decodePadded(text) {
  let end = text.length;
  while (end > text.length - 2 && text[end - 1] === "=") end -= 1;
  const made = text.length % 4 === 0 ? decoded(text.slice(0, end), PLAIN) : null;
  if (made === null) {
    throw new Refusal("this base64 text is not in its one canonical form");
  }
  return made;
}

export {
  Refusal,
  concat,
  decode64,
  decodePadded,
  encode64,
  encode64Bytes,
  encodePadded,
  fromUtf8,
  hex,
  isBroken,
  sameBytes,
  utf8,
};
