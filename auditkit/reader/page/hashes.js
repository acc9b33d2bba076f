/**
 * SHA-256 and SHA-512 (FIPS 180-4) as plain functions.
 *
 * Plain http to a name in a local network has no WebCrypto, and for the short
 * inputs of a Merkle path a plain function is quicker than an awaited one.
 * The constants are the fractions of roots of primes that the standard names.
 */

const PRIMES = [];
for (let n = 2; PRIMES.length < 80; n += 1) {
  if (PRIMES.every((p) => n % p !== 0)) PRIMES.push(n);
}

/** The first `bits` bits of the fraction of the `degree`-th root of `n`. */
function rootFraction(n, degree, bits) {
  const power = BigInt(degree);
  const wanted = BigInt(n) << (BigInt(bits) * power);
  let low = 0n;
  let high = 1n << BigInt(bits + 5);
  while (high - low > 1n) {
    const middle = (low + high) >> 1n;
    if (middle ** power <= wanted) low = middle;
    else high = middle;
  }
  return BigInt.asUintN(bits, low);
}

const K256 = Int32Array.from(PRIMES.slice(0, 64), (p) =>
  Number(BigInt.asIntN(32, rootFraction(p, 3, 32))),
);
const H256 = PRIMES.slice(0, 8).map((p) => Number(rootFraction(p, 2, 32)));
const K512 = PRIMES.map((p) => rootFraction(p, 3, 64));
const K512H = Int32Array.from(K512, (k) => Number(BigInt.asIntN(32, k >> 32n)));
const K512L = Int32Array.from(K512, (k) => Number(BigInt.asIntN(32, k)));
const H512 = PRIMES.slice(0, 8).map((p) => rootFraction(p, 2, 64));

/** The data with 0x80, zeros and its bit length, as a view of whole blocks. */
function padded(data, block, lengthBytes) {
  const size = Math.ceil((data.length + 1 + lengthBytes) / block) * block;
  const made = new Uint8Array(size);
  made.set(data);
  made[data.length] = 0x80;
  const view = new DataView(made.buffer);
  view.setUint32(size - 8, Math.floor(data.length / 0x20000000));
  view.setUint32(size - 4, (data.length << 3) >>> 0);
  return view;
}

const W = new Int32Array(64);

/** SHA-256 of bytes, 32 bytes. */
function sha256(data) {
  const view = padded(data, 64, 8);
  const state = Int32Array.from(H256);
  for (let at = 0; at < view.byteLength; at += 64) {
    for (let i = 0; i < 16; i += 1) W[i] = view.getInt32(at + 4 * i);
    for (let i = 16; i < 64; i += 1) {
      const x = W[i - 15];
      const y = W[i - 2];
      const s0 = ((x >>> 7) | (x << 25)) ^ ((x >>> 18) | (x << 14)) ^ (x >>> 3);
      const s1 = ((y >>> 17) | (y << 15)) ^ ((y >>> 19) | (y << 13)) ^ (y >>> 10);
      W[i] = (W[i - 16] + s0 + W[i - 7] + s1) | 0;
    }
    let a = state[0];
    let b = state[1];
    let c = state[2];
    let d = state[3];
    let e = state[4];
    let f = state[5];
    let g = state[6];
    let h = state[7];
    for (let i = 0; i < 64; i += 1) {
      const s1 =
        ((e >>> 6) | (e << 26)) ^ ((e >>> 11) | (e << 21)) ^ ((e >>> 25) | (e << 7));
      const t1 = (h + s1 + ((e & f) ^ (~e & g)) + K256[i] + W[i]) | 0;
      const s0 =
        ((a >>> 2) | (a << 30)) ^ ((a >>> 13) | (a << 19)) ^ ((a >>> 22) | (a << 10));
      const t2 = (s0 + ((a & b) ^ (a & c) ^ (b & c))) | 0;
      h = g;
      g = f;
      f = e;
      e = (d + t1) | 0;
      d = c;
      c = b;
      b = a;
      a = (t1 + t2) | 0;
    }
    state[0] += a;
    state[1] += b;
    state[2] += c;
    state[3] += d;
    state[4] += e;
    state[5] += f;
    state[6] += g;
    state[7] += h;
  }
  const made = new DataView(new ArrayBuffer(32));
  state.forEach((word, i) => made.setInt32(4 * i, word));
  return new Uint8Array(made.buffer);
}

const WH = new Int32Array(80);
const WL = new Int32Array(80);
const TWO32 = 0x100000000;

/** SHA-512 of bytes, 64 bytes. Each 64-bit word is two halves, `h` and `l`. */
function sha512(data) {
  const view = padded(data, 128, 16);
  const sh = Int32Array.from(H512, (w) => Number(BigInt.asIntN(32, w >> 32n)));
  const sl = Int32Array.from(H512, (w) => Number(BigInt.asIntN(32, w)));
  for (let at = 0; at < view.byteLength; at += 128) {
    for (let i = 0; i < 16; i += 1) {
      WH[i] = view.getInt32(at + 8 * i);
      WL[i] = view.getInt32(at + 8 * i + 4);
    }
    for (let i = 16; i < 80; i += 1) {
      const xh = WH[i - 15];
      const xl = WL[i - 15];
      const s0h = ((xh >>> 1) | (xl << 31)) ^ ((xh >>> 8) | (xl << 24)) ^ (xh >>> 7);
      const s0l =
        ((xl >>> 1) | (xh << 31)) ^ ((xl >>> 8) | (xh << 24)) ^ ((xl >>> 7) | (xh << 25));
      const yh = WH[i - 2];
      const yl = WL[i - 2];
      const s1h = ((yh >>> 19) | (yl << 13)) ^ ((yl >>> 29) | (yh << 3)) ^ (yh >>> 6);
      const s1l =
        ((yl >>> 19) | (yh << 13)) ^ ((yh >>> 29) | (yl << 3)) ^ ((yl >>> 6) | (yh << 26));
      const low =
        (s0l >>> 0) + (s1l >>> 0) + (WL[i - 16] >>> 0) + (WL[i - 7] >>> 0);
      WL[i] = low | 0;
      WH[i] = (s0h + s1h + WH[i - 16] + WH[i - 7] + Math.floor(low / TWO32)) | 0;
    }
    let [ah, bh, ch, dh, eh, fh, gh, hh] = sh;
    let [al, bl, cl, dl, el, fl, gl, hl] = sl;
    for (let i = 0; i < 80; i += 1) {
      const s1h =
        ((eh >>> 14) | (el << 18)) ^ ((eh >>> 18) | (el << 14)) ^ ((el >>> 9) | (eh << 23));
      const s1l =
        ((el >>> 14) | (eh << 18)) ^ ((el >>> 18) | (eh << 14)) ^ ((eh >>> 9) | (el << 23));
      const chh = (eh & fh) ^ (~eh & gh);
      const chl = (el & fl) ^ (~el & gl);
      const t1 =
        (hl >>> 0) + (s1l >>> 0) + (chl >>> 0) + (K512L[i] >>> 0) + (WL[i] >>> 0);
      const t1l = t1 | 0;
      const t1h = (hh + s1h + chh + K512H[i] + WH[i] + Math.floor(t1 / TWO32)) | 0;
      const s0h =
        ((ah >>> 28) | (al << 4)) ^ ((al >>> 2) | (ah << 30)) ^ ((al >>> 7) | (ah << 25));
      const s0l =
        ((al >>> 28) | (ah << 4)) ^ ((ah >>> 2) | (al << 30)) ^ ((ah >>> 7) | (al << 25));
      const majh = (ah & bh) ^ (ah & ch) ^ (bh & ch);
      const majl = (al & bl) ^ (al & cl) ^ (bl & cl);
      const t2 = (s0l >>> 0) + (majl >>> 0) + (t1l >>> 0);
      const t2h = (s0h + majh + t1h + Math.floor(t2 / TWO32)) | 0;
      hh = gh;
      hl = gl;
      gh = fh;
      gl = fl;
      fh = eh;
      fl = el;
      const e = (dl >>> 0) + (t1l >>> 0);
      eh = (dh + t1h + Math.floor(e / TWO32)) | 0;
      el = e | 0;
      dh = ch;
      dl = cl;
      ch = bh;
      cl = bl;
      bh = ah;
      bl = al;
      ah = t2h;
      al = t2 | 0;
    }
    [ah, bh, ch, dh, eh, fh, gh, hh].forEach((high, i) => {
      const low = (sl[i] >>> 0) + ([al, bl, cl, dl, el, fl, gl, hl][i] >>> 0);
      sh[i] = (sh[i] + high + Math.floor(low / TWO32)) | 0;
      sl[i] = low | 0;
    });
  }
  const made = new DataView(new ArrayBuffer(64));
  sh.forEach((high, i) => {
    made.setInt32(8 * i, high);
    made.setInt32(8 * i + 4, sl[i]);
  });
  return new Uint8Array(made.buffer);
}

export { sha256, sha512 };
