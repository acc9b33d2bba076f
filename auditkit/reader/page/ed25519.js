/**
 * Ed25519 verification (RFC 8032 5.1.7) with one answer in every browser.
 *
 * The rule is that of the library behind auditkit's own check: no cofactor, S below
 * the group order, R compared as the bytes it is written in, low-order keys refused.
 * Engines differ where R is of low order (the W3C draft asks for a refusal, not all
 * follow) and may differ on keys of mixed order. So R is looked at here first, and
 * an engine that fails a published edge case is not used at all: the arithmetic of
 * @noble/ed25519 then decides by the same rule.
 */

import { sha512 } from "./hashes.js";
import { concat, hex, sameBytes } from "./text.js";
import { Point } from "./vendor/noble-ed25519.js";

const KEY_BYTES = 32;
const SIGNATURE_BYTES = 64;
const FIELD = 2n ** 255n - 19n;
const ORDER = 2n ** 252n + 27742317777372353535851937790883648493n;
const SIGN_BIT = 1n << 255n;

// Under these keys one constant signature fits any text, or many.
const LOW_ORDER = new Set([
  "0100000000000000000000000000000000000000000000000000000000000000",
  "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
  "0000000000000000000000000000000000000000000000000000000000000000",
  "0000000000000000000000000000000000000000000000000000000000000080",
  "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05",
  "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc85",
  "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a",
  "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa",
]);

/** The number that bytes spell, the lowest byte first. */
function little(bytes) {
  return BigInt(`0x${hex(Uint8Array.from(bytes).reverse())}`);
}

/** Whether a point is spelled in a way in which no honest one is. */
function isMisspelled(point) {
  if (point[30] !== 0xff && point[30] !== 0) return false; // nearly every one
  const y = little(point) & (SIGN_BIT - 1n);
  return y >= FIELD || (point[31] >= 0x80 && (y === 1n || y === FIELD - 1n));
}

/** Whether a key is unsafe: of low order, or a second spelling of a point. */
function isLowOrder(raw) {
  return LOW_ORDER.has(hex(raw)) || isMisspelled(raw);
}

/** Whether S is the group's order or more: a second spelling of a signature. */
function isLarge(s) {
  return s[31] >= 0x10 && little(s) >= ORDER;
}

/** Whether the signature, its S below the order, fits: [S]B - [k]A is R. */
function fitsPlainly(raw, signature, message) {
  const r = signature.subarray(0, 32);
  const s = little(signature.subarray(32));
  let key;
  try {
    key = Point.fromBytes(raw);
  } catch {
    return false; // no point of the curve: nothing can be signed under it
  }
  const k = little(sha512(concat(r, raw, message))) % ORDER;
  const back = key.negate().multiply(k, false);
  return sameBytes(Point.BASE.multiply(s, false).add(back).toBytes(), r);
}

const bytes = (text) => Uint8Array.from(text.match(/../g) ?? [], (b) => parseInt(b, 16));

// RFC 8032 7.1 TEST 2, then ed25519-speccheck cases 3 and 4 (key and R of mixed
// order; the second fits only with the cofactor), then TEST 2 for another text.
const PROBES = [
  [
    "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
    "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da" +
      "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    "72",
    true,
  ],
  [
    "cdb267ce40c5cd45306fa5d2f29731459387dbf9eb933b7bd5aed9a765b88d4d",
    "9046a64750444938de19f227bb80485e92b83fdb4b6506c160484c016cc1852f" +
      "87909e14428a7a1d62e9f22f3d3ad7802db02eb2e688b6c52fcd6648a98bd009",
    "9bd9f44f4dcc75bd531b56b2cd280b0bb38fc1cd6d1230e14861d861de092e79",
    true,
  ],
  [
    "cdb267ce40c5cd45306fa5d2f29731459387dbf9eb933b7bd5aed9a765b88d4d",
    "160a1cb0dc9c0258cd0a7d23e94d8fa878bcb1925f2c64246b2dee1796bed512" +
      "5ec6bc982a269b723e0668e540911a9a6a58921d6925e434ab10aa7940551a09",
    "e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec4011eaccd55b53f56c",
    false,
  ],
  [
    "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
    "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da" +
      "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    "73",
    false,
  ],
].map(([key, signature, message, fits]) => [...[key, signature, message].map(bytes), fits]);

/** A function (key, signature, message) -> promise of boolean by WebCrypto. */
function byEngine(subtle) {
  const algorithm = { name: "Ed25519" };
  const keys = new WeakMap();
  return async (raw, signature, message) => {
    if (!keys.has(raw)) {
      keys.set(raw, subtle.importKey("raw", raw, algorithm, false, ["verify"]));
    }
    return subtle.verify(algorithm, await keys.get(raw), signature, message);
  };
}

/** Whether an engine answers every probe as the rule says. */
async function isFaithful(fits) {
  for (const [raw, signature, message, expected] of PROBES) {
    try {
      if ((await fits(raw, signature, message)) !== expected) return false;
    } catch {
      return false; // no Ed25519 in this engine
    }
  }
  return true;
}

/**
 * The checker of signatures: `fits(raw, signature, message)` and which `engine`
 * it uses, "WebCrypto" or "plain". `subtle` is null where there is no WebCrypto.
 */
async function signatureChecker(subtle = globalThis.crypto?.subtle ?? null) {
  const quick = subtle === null ? null : byEngine(subtle);
  const engine = quick !== null && (await isFaithful(quick)) ? "WebCrypto" : "plain";
  async function fits(raw, signature, message) {
    if (signature.length !== SIGNATURE_BYTES) return false;
    const r = signature.subarray(0, 32);
    if (isMisspelled(r) || isLarge(signature.subarray(32))) return false;
    if (engine === "plain" || LOW_ORDER.has(hex(r))) {
      return fitsPlainly(raw, signature, message);
    }
    try {
      return await quick(raw, signature, message);
    } catch {
      // An engine may refuse a key that is no point where another says "no".
      return fitsPlainly(raw, signature, message);
    }
  }
  return { engine, fits };
}

export { KEY_BYTES, isLowOrder, signatureChecker };
