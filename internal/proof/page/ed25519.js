// SHA-2 and Ed25519. The browser's own are used where it has them: not every browser has Ed25519, and
// none where a page came over plain http.
const subtle = globalThis.crypto && globalThis.crypto.subtle;

async function sha256(bytes) {
  return subtle ? new Uint8Array(await subtle.digest("SHA-256", bytes)) : sha2(bytes, 32n, 64, [[7n, 18n, 3n], [17n, 19n, 10n], [6n, 11n, 25n], [2n, 13n, 22n]]);
}

async function verify(key, message, signature) {
  if (subtle) {
    try {
      const imported = await subtle.importKey("raw", key, "Ed25519", false, ["verify"]);
      return await subtle.verify("Ed25519", imported, signature, message);
    } catch (e) {
      if (e.name !== "NotSupportedError" && e.name !== "SyntaxError") throw e;
    }
  }
  return verifyHere(key, message, signature);
}

// root is the whole part of n^(1/k).
function root(n, k) {
  let x = 1n << BigInt(Math.ceil(n.toString(2).length / Number(k)));
  for (;;) {
    const y = ((k - 1n) * x + n / x ** (k - 1n)) / k;
    if (y >= x) return x;
    x = y;
  }
}

// sha2 is SHA-256 (32 bits a word, 64 rounds) or SHA-512 (64, 80): FIPS 180-4, sections 4.1, 5 and 6. Its constants
// are the first bits behind the point of roots of primes (sections 4.2 and 5.3).
function sha2(bytes, width, rounds, turns) {
  const mask = (1n << width) - 1n, size = Number(width), [s0, s1, e1, e0] = turns;
  const primes = [];
  for (let n = 2; primes.length < rounds; n++) if (primes.every((p) => n % p)) primes.push(n);
  const k = primes.map((p) => root(BigInt(p) << 3n * width, 3n) & mask);
  const h = primes.slice(0, 8).map((p) => root(BigInt(p) << 2n * width, 2n) & mask);
  const turn = (x, n) => (x >> n | x << width - n) & mask;
  const small = (x, [a, b, c]) => turn(x, a) ^ turn(x, b) ^ x >> c;
  const big = (x, [a, b, c]) => turn(x, a) ^ turn(x, b) ^ turn(x, c);
  const block = 2 * size, tail = size / 4;
  const padded = new Uint8Array(Math.ceil((bytes.length + 1 + tail) / block) * block);
  padded.set(bytes);
  padded[bytes.length] = 0x80;
  for (let n = bytes.length * 8, i = padded.length - 1; n > 0; n = Math.floor(n / 256), i--) padded[i] = n % 256;
  for (let from = 0; from < padded.length; from += block) {
    const w = [];
    for (let t = 0; t < rounds; t++) {
      if (t < 16) {
        w.push(padded.subarray(from + t * size / 8, from + (t + 1) * size / 8).reduce((x, b) => x << 8n | BigInt(b), 0n));
      } else {
        w.push(small(w[t - 2], s1) + w[t - 7] + small(w[t - 15], s0) + w[t - 16] & mask);
      }
    }
    let [a, b, c, d, e, f, g, i] = h;
    for (let t = 0; t < rounds; t++) {
      const t1 = i + big(e, e1) + (e & f ^ ~e & mask & g) + k[t] + w[t], t2 = big(a, e0) + (a & b ^ a & c ^ b & c);
      [i, g, f, e, d, c, b, a] = [g, f, e, d + t1 & mask, c, b, a, t1 + t2 & mask];
    }
    [a, b, c, d, e, f, g, i].forEach((x, n) => { h[n] = h[n] + x & mask; });
  }
  return Uint8Array.from(h.flatMap((x) => Array.from({ length: size / 8 }, (_, n) => Number(x >> width - 8n * BigInt(n + 1) & 255n))));
}
function sha512(bytes) { return sha2(bytes, 64n, 80, [[1n, 8n, 7n], [19n, 61n, 6n], [14n, 18n, 41n], [28n, 34n, 39n]]); }

// Ed25519 by the formulas of RFC 8032, sections 5.1 and 6. Points are [X, Y, Z, T] with x = X/Z, y = Y/Z and x*y = T/Z.
const p = 2n ** 255n - 19n, order = 2n ** 252n + 27742317777372353535851937790883648493n;
const mod = (x) => (x % p + p) % p;
function power(x, n) {
  let out = 1n;
  for (x = mod(x); n > 0n; n >>= 1n, x = x * x % p) if (n & 1n) out = out * x % p;
  return out;
}
const d = mod(-121665n * power(121666n, p - 2n)), half = power(2n, (p - 1n) / 4n);
function add(P, Q) {
  const A = mod((P[1] - P[0]) * (Q[1] - Q[0])), B = mod((P[1] + P[0]) * (Q[1] + Q[0])), C = mod(2n * P[3] * Q[3] * d), D = mod(2n * P[2] * Q[2]);
  const E = B - A, F = D - C, G = D + C, H = B + A;
  return [mod(E * F), mod(G * H), mod(F * G), mod(E * H)];
}
function times(n, P) {
  let Q = [0n, 1n, 1n, 0n];
  for (; n > 0n; n >>= 1n, P = add(P, P)) if (n & 1n) Q = add(Q, P);
  return Q;
}
function little(bytes) { return bytes.reduceRight((x, b) => x << 8n | BigInt(b), 0n); }
function point(bytes) {
  let y = little(bytes);
  const sign = y >> 255n;
  y &= (1n << 255n) - 1n;
  if (y >= p) return null;
  const square = mod((y * y - 1n) * power(d * y * y + 1n, p - 2n));
  let x = power(square, (p + 3n) / 8n);
  if (mod(x * x - square) !== 0n) x = mod(x * half);
  if (mod(x * x - square) !== 0n || x === 0n && sign) return null;
  if ((x & 1n) !== sign) x = p - x;
  return [x, y, 1n, mod(x * y)];
}
function verifyHere(key, message, signature) {
  const A = point(key), R = point(signature.subarray(0, 32)), s = little(signature.subarray(32));
  if (!A || !R || s >= order) return false;
  const y = mod(4n * power(5n, p - 2n)), h = little(sha512(joined(signature.subarray(0, 32), key, message))) % order;
  const base = point(Uint8Array.from({ length: 32 }, (_, i) => Number(y >> 8n * BigInt(i) & 255n)));
  const left = times(s, base), right = add(R, times(h, A));
  return mod(left[0] * right[2] - right[0] * left[2]) === 0n && mod(left[1] * right[2] - right[1] * left[2]) === 0n;
}
