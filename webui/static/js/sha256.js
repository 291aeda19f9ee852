// SHA-256 (FIPS 180-4) of what comes bit by bit. The browser's own digest wants everything at once, and is missing on plain http.
const FIRST = [0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a, 0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19];
const K = new Int32Array([
  0x428a2f98, 0x71374491, 0xb5c0fbcf, 0xe9b5dba5, 0x3956c25b, 0x59f111f1, 0x923f82a4, 0xab1c5ed5, 0xd807aa98, 0x12835b01, 0x243185be, 0x550c7dc3,
  0x72be5d74, 0x80deb1fe, 0x9bdc06a7, 0xc19bf174, 0xe49b69c1, 0xefbe4786, 0x0fc19dc6, 0x240ca1cc, 0x2de92c6f, 0x4a7484aa, 0x5cb0a9dc, 0x76f988da,
  0x983e5152, 0xa831c66d, 0xb00327c8, 0xbf597fc7, 0xc6e00bf3, 0xd5a79147, 0x06ca6351, 0x14292967, 0x27b70a85, 0x2e1b2138, 0x4d2c6dfc, 0x53380d13,
  0x650a7354, 0x766a0abb, 0x81c2c92e, 0x92722c85, 0xa2bfe8a1, 0xa81a664b, 0xc24b8b70, 0xc76c51a3, 0xd192e819, 0xd6990624, 0xf40e3585, 0x106aa070,
  0x19a4c116, 0x1e376c08, 0x2748774c, 0x34b0bcb5, 0x391c0cb3, 0x4ed8aa4a, 0x5b9cca4f, 0x682e6ff3, 0x748f82ee, 0x78a5636f, 0x84c87814, 0x8cc70208,
  0x90befffa, 0xa4506ceb, 0xbef9a3f7, 0xc67178f2,
]);

export class Sum {
  #state = new Int32Array(FIRST);
  #words = new Int32Array(64);
  #rest = new Uint8Array(64);
  #held = 0;
  #length = 0;

  add(bytes) {
    this.#length += bytes.length;
    let at = 0;
    if (this.#held) {
      at = Math.min(64 - this.#held, bytes.length);
      this.#rest.set(bytes.subarray(0, at), this.#held);
      this.#held += at;
      if (this.#held < 64) return this;
      this.#blocks(this.#rest, 0, 64);
    }
    const whole = bytes.length - ((bytes.length - at) % 64);
    this.#blocks(bytes, at, whole);
    this.#rest.set(bytes.subarray(whole));
    this.#held = bytes.length - whole;
    return this;
  }

  hex() {
    const tail = new Uint8Array(this.#held < 56 ? 64 : 128);
    tail.set(this.#rest.subarray(0, this.#held));
    tail[this.#held] = 0x80;
    const view = new DataView(tail.buffer);
    view.setUint32(tail.length - 8, Math.floor(this.#length / 0x20000000));
    view.setUint32(tail.length - 4, (this.#length * 8) >>> 0);
    this.#blocks(tail, 0, tail.length);
    return [...this.#state].map((word) => (word >>> 0).toString(16).padStart(8, "0")).join("");
  }

  #blocks(bytes, from, to) {
    const s = this.#state, w = this.#words;
    for (let at = from; at < to; at += 64) {
      for (let i = 0, j = at; i < 16; i++, j += 4) w[i] = (bytes[j] << 24) | (bytes[j + 1] << 16) | (bytes[j + 2] << 8) | bytes[j + 3];
      for (let i = 16; i < 64; i++) {
        const x = w[i - 15], y = w[i - 2];
        const s0 = ((x >>> 7) | (x << 25)) ^ ((x >>> 18) | (x << 14)) ^ (x >>> 3);
        const s1 = ((y >>> 17) | (y << 15)) ^ ((y >>> 19) | (y << 13)) ^ (y >>> 10);
        w[i] = (w[i - 16] + s0 + w[i - 7] + s1) | 0;
      }
      let a = s[0], b = s[1], c = s[2], d = s[3], e = s[4], f = s[5], g = s[6], h = s[7];
      for (let i = 0; i < 64; i++) {
        const s1 = ((e >>> 6) | (e << 26)) ^ ((e >>> 11) | (e << 21)) ^ ((e >>> 25) | (e << 7));
        const one = (h + s1 + ((e & f) ^ (~e & g)) + K[i] + w[i]) | 0;
        const s0 = ((a >>> 2) | (a << 30)) ^ ((a >>> 13) | (a << 19)) ^ ((a >>> 22) | (a << 10));
        const two = (s0 + ((a & b) ^ (a & c) ^ (b & c))) | 0;
        h = g; g = f; f = e; e = (d + one) | 0; d = c; c = b; b = a; a = (one + two) | 0;
      }
      s[0] = (s[0] + a) | 0; s[1] = (s[1] + b) | 0; s[2] = (s[2] + c) | 0; s[3] = (s[3] + d) | 0;
      s[4] = (s[4] + e) | 0; s[5] = (s[5] + f) | 0; s[6] = (s[6] + g) | 0; s[7] = (s[7] + h) | 0;
    }
  }
}

// The sum of one piece: by the browser itself where it may (https, localhost), which is faster.
export async function sumOf(bytes) {
  if (!globalThis.crypto?.subtle) return new Sum().add(bytes).hex();
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return [...digest].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}
