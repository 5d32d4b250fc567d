/* SHA-256 of a file. The browser's own is used where there is one (never over plain http) and the file is not too large to
   be held in memory; otherwise the file is read in pieces and digested here (FIPS 180-4). */

const IN_ONE_GO = 32 * 1024 * 1024;
const PIECE = 1024 * 1024;
const K = new Uint32Array(64);
const START = new Uint32Array(8);

/* The constants are the first 32 bits of the fractions of the cube and square roots of the first primes. */
for (let number = 2, count = 0; count < 64; number += 1) {
  if (!isPrime(number)) continue;
  if (count < 8) START[count] = fraction(Math.sqrt(number));
  K[count] = fraction(Math.cbrt(number));
  count += 1;
}

function isPrime(number) {
  for (let factor = 2; factor * factor <= number; factor += 1) if (number % factor === 0) return false;
  return true;
}

function fraction(root) {
  return ((root - Math.floor(root)) * 2 ** 32) >>> 0;
}

/** Digests bytes that come in pieces. */
export class Sha256 {
  constructor() {
    this.state = START.slice();
    this.words = new Uint32Array(64);
    this.block = new Uint8Array(64);
    this.filled = 0;
    this.length = 0;
  }

  /** @param {Uint8Array} bytes the next piece, of any length. */
  add(bytes) {
    this.length += bytes.length;
    let at = 0;
    if (this.filled) {
      at = Math.min(64 - this.filled, bytes.length);
      this.block.set(bytes.subarray(0, at), this.filled);
      this.filled += at;
      if (this.filled < 64) return this;
      this.mix(this.block, 0);
    }
    for (; at + 64 <= bytes.length; at += 64) this.mix(bytes, at);
    this.block.set(bytes.subarray(at));
    this.filled = bytes.length - at;
    return this;
  }

  /** @returns {string} 64 hexadecimal digits; nothing may be added afterwards. */
  hex() {
    const bits = this.length * 8;
    const end = new Uint8Array(this.filled < 56 ? 64 - this.filled : 128 - this.filled);
    end[0] = 0x80;
    const view = new DataView(end.buffer);
    view.setUint32(end.length - 8, Math.floor(bits / 2 ** 32));
    view.setUint32(end.length - 4, bits >>> 0);
    this.add(end);
    return [...this.state].map((word) => word.toString(16).padStart(8, "0")).join("");
  }

  mix(bytes, at) {
    const { words: w, state } = this;
    for (let i = 0, j = at; i < 16; i += 1, j += 4) {
      w[i] = (bytes[j] << 24) | (bytes[j + 1] << 16) | (bytes[j + 2] << 8) | bytes[j + 3];
    }
    for (let i = 16; i < 64; i += 1) {
      const x = w[i - 15];
      const y = w[i - 2];
      const s0 = ((x >>> 7) | (x << 25)) ^ ((x >>> 18) | (x << 14)) ^ (x >>> 3);
      const s1 = ((y >>> 17) | (y << 15)) ^ ((y >>> 19) | (y << 13)) ^ (y >>> 10);
      w[i] = w[i - 16] + s0 + w[i - 7] + s1;
    }
    let [a, b, c, d, e, f, g, h] = state;
    for (let i = 0; i < 64; i += 1) {
      const s1 = ((e >>> 6) | (e << 26)) ^ ((e >>> 11) | (e << 21)) ^ ((e >>> 25) | (e << 7));
      const one = (h + s1 + ((e & f) ^ (~e & g)) + K[i] + w[i]) | 0;
      const s0 = ((a >>> 2) | (a << 30)) ^ ((a >>> 13) | (a << 19)) ^ ((a >>> 22) | (a << 10));
      const two = (s0 + ((a & b) ^ (a & c) ^ (b & c))) | 0;
      h = g;
      g = f;
      f = e;
      e = (d + one) | 0;
      d = c;
      c = b;
      b = a;
      a = (one + two) | 0;
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
}

/**
 * @param {Blob} blob
 * @param {(share: number) => void} [tell] hears how much is read, 0 to 1.
 * @returns {Promise<string>} "sha256:" and 64 hexadecimal digits. Rejects when the file cannot be read.
 */
export async function digestOf(blob, tell = () => {}) {
  const hex = globalThis.crypto?.subtle && blob.size <= IN_ONE_GO ? await inOneGo(blob) : await inPieces(blob, tell);
  tell(1);
  return `sha256:${hex}`;
}

async function inOneGo(blob) {
  const bytes = new Uint8Array(await crypto.subtle.digest("SHA-256", await blob.arrayBuffer()));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

async function inPieces(blob, tell) {
  const sum = new Sha256();
  for (let at = 0; at < blob.size; at += PIECE) {
    sum.add(new Uint8Array(await blob.slice(at, at + PIECE).arrayBuffer()));
    tell(Math.min(1, (at + PIECE) / blob.size));
  }
  return sum.hex();
}
