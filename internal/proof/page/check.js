// How a proof is checked. It knows nothing of the page.

// Fault says why something is not to be believed; word is one of words, with what fills it in.
class Fault extends Error {
  constructor(word, ...fill) { super(word); this.word = word; this.fill = fill; }
}

const alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:";

// fromBase45 reads RFC 9285.
function fromBase45(text) {
  const out = [];
  for (let i = 0; i < text.length; i += 3) {
    const group = [...text.slice(i, i + 3)].map((c) => alphabet.indexOf(c));
    const n = group.reduce((sum, v, j) => sum + v * 45 ** j, 0);
    if (group.length === 1 || group.includes(-1) || n >= (group.length === 3 ? 65536 : 256)) throw new Fault("damaged");
    if (group.length === 3) out.push(n >> 8);
    out.push(n & 255);
  }
  return Uint8Array.from(out);
}

function fromBase64(text) {
  let binary;
  try { binary = atob(text.replace(/-/g, "+").replace(/_/g, "/")); } catch { throw new Fault("damaged"); }
  return Uint8Array.from(binary, (c) => c.charCodeAt(0));
}
function toBase64(bytes) { return btoa(String.fromCharCode(...bytes)); }
function hex(bytes) { return [...bytes].map((b) => b.toString(16).padStart(2, "0")).join(""); }
function same(a, b) { return a.length === b.length && a.every((x, i) => x === b[i]); }
function joined(...parts) { return Uint8Array.from(parts.flatMap((p) => [...p])); }

// Reader reads deterministic CBOR (RFC 8949, section 4.2.1): whole numbers, bytes, texts, lists and maps.
// Anything written in another way than the shortest is refused.
class Reader {
  constructor(bytes) { this.bytes = bytes; this.at = 0; }
  take(n) {
    if (this.at + n > this.bytes.length) throw new Fault("damaged");
    return this.bytes.subarray(this.at, this.at += n);
  }
  head() {
    const first = this.take(1)[0], kind = first >> 5, short = first & 31;
    if (short < 24) return [kind, short];
    if (short > 27) throw new Fault("damaged");
    const size = 2 ** (short - 24);
    const n = this.take(size).reduce((sum, b) => sum * 256 + b, 0);
    if (n < [24, 256, 65536, 4294967296][short - 24] || !Number.isSafeInteger(n)) throw new Fault("damaged");
    return [kind, n];
  }
  value() {
    const [kind, n] = this.head();
    switch (kind) {
    case 0: return n;
    case 1: return -1 - n;
    case 2: return this.take(n);
    case 3:
      try { return new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(this.take(n)); } catch { throw new Fault("damaged"); }
    case 4: return Array.from({ length: Math.min(n, this.bytes.length) }, () => this.value());
    case 5: {
      const map = new Map();
      let before = null;
      for (let i = 0; i < n; i++) {
        const from = this.at, key = this.value(), raw = this.bytes.subarray(from, this.at);
        if (typeof key !== "number" || before && !less(before, raw)) throw new Fault("damaged");
        before = raw;
        map.set(key, this.value());
      }
      return map;
    }
    default: throw new Fault("damaged");
    }
  }
  bytesOf(n) {
    const b = this.value();
    if (!(b instanceof Uint8Array) || n !== undefined && b.length !== n) throw new Fault("damaged");
    return b;
  }
  end() { if (this.at !== this.bytes.length) throw new Fault("damaged"); }
}

function less(a, b) {
  for (let i = 0; i < Math.min(a.length, b.length); i++) if (a[i] !== b[i]) return a[i] < b[i];
  return a.length < b.length;
}

// bstr writes bytes as CBOR.
function bstr(bytes) {
  const n = bytes.length;
  const head = n < 24 ? [0x40 | n] : n < 256 ? [0x58, n] : n < 65536 ? [0x59, n >> 8, n & 255] : [0x5a, n >>> 24, n >> 16 & 255, n >> 8 & 255, n & 255];
  const out = new Uint8Array(head.length + n);
  out.set(head);
  out.set(bytes, head.length);
  return out;
}

// signedBytes are what a COSE_Sign1 message is signed over (RFC 9052, section 4.4).
function signedBytes(header, payload) {
  const begin = joined([0x84, 0x6a], new TextEncoder().encode("Signature1"), bstr(header), [0x40]), rest = bstr(payload);
  const out = new Uint8Array(begin.length + rest.length);
  out.set(begin);
  out.set(rest, begin.length);
  return out;
}

// open checks a message with the keys and gives its claims.
async function open(message, keys) {
  const r = new Reader(message);
  if (!same(r.take(2), [0xd2, 0x84])) throw new Fault("damaged");
  const header = r.bytesOf(9);
  if (!same(header.subarray(0, 5), [0xa2, 0x01, 0x27, 0x04, 0x44])) throw new Fault("damaged");
  const mark = header.subarray(5);
  if (r.take(1)[0] !== 0xa0) throw new Fault("damaged");
  const payload = r.bytesOf(), signature = r.bytesOf(64);
  r.end();
  const key = keys.find((k) => same(k.mark, mark));
  if (!key) {
    if (!keys.length) throw new Fault("noKeys");
    const claims = read(payload, "damaged"), shop = claims.get(1);
    if (typeof shop !== "string") throw new Fault("damaged");
    if (keys.some((k) => k.shop === shop)) throw new Fault("unknownKey", shop, hex(mark));
    throw new Fault("otherShop", shop);
  }
  if (!await verify(key.bytes, signedBytes(header, payload), signature)) throw new Fault("forged");
  const claims = read(payload, "newer");
  if (claims.get(1) !== key.shop) throw new Fault("forged");
  return { claims, key };
}

function read(payload, word) {
  let claims;
  try {
    const r = new Reader(payload);
    claims = r.value();
    r.end();
  } catch { throw new Fault(word); }
  if (!(claims instanceof Map)) throw new Fault(word);
  return claims;
}

// parseKey reads a public key as the shop published it.
async function parseKey(text) {
  const parts = /^wreath-log\/([a-z0-9-]+)\+([0-9a-f]{8})\+([A-Za-z0-9+/]+=*)$/.exec(text.trim());
  let raw = null;
  try { raw = parts && fromBase64(parts[3]); } catch { raw = null; }
  if (!raw || raw.length !== 33 || raw[0] !== 1 || toBase64(raw) !== parts[3]) throw new Fault("keyBad");
  const sum = await sha256(joined(new TextEncoder().encode("wreath-log/" + parts[1] + "\n"), raw));
  if (hex(sum.subarray(0, 4)) !== parts[2]) throw new Fault("keyBad");
  return { shop: parts[1], mark: sum.slice(0, 4), bytes: raw.subarray(1), text: text.trim() };
}

// openProof checks the text of a proof.
async function openProof(text, keys) {
  text = text.trim();
  if (/^wreat h/i.test(text)) text = text.replace(/\s/g, "").replace(/_/g, " "); // typed from a slip, in groups of five
  text = text.replace(/[\r\n]/g, "");
  if (text.startsWith("wreath1:") && text === text.toLowerCase()) text = text.toUpperCase(); // a shift key was stuck
  if (!text.startsWith("WREATH")) throw new Fault("noProof");
  if (!text.startsWith("WREATH1:")) throw new Fault(/^WREATH[0-9]+:/.test(text) ? "newer" : "keyboard");
  const message = fromBase45(text.slice(8));
  if (!message.length || message.length > 350) throw new Fault("damaged");
  const { claims, key } = await open(message, keys);
  const need = (ok) => { if (!ok) throw new Fault("newer"); };
  const is = { text: (x) => typeof x === "string", count: (x) => Number.isSafeInteger(x) && x >= 0, bytes: (n) => (x) => x instanceof Uint8Array && x.length === n };
  const list = (...lengths) => (x) => Array.isArray(x) && lengths.includes(x.length) && x.every(is.count) && x[0] <= 15;
  const said = claims.get(-65537);
  need([...claims.keys()].join() === "1,2,6,-65537" && is.text(claims.get(2)) && is.count(claims.get(6)) && said instanceof Map && said.get(1) === 1);
  const fields = {
    1: is.count, 2: is.bytes(32), 3: is.count, 4: is.count, 5: is.bytes(20), 6: is.count, 7: is.text, 8: is.text, 9: is.text, 10: is.text, 11: is.text, 12: is.text, 13: is.text,
    14: list(2), 15: list(3), 16: (x) => is.count(x) && x <= 3, 17: list(2, 3), 18: list(2), 19: (x) => is.count(x) && x <= 15,
  };
  for (const [field, x] of said) need(fields[field] && fields[field](x));
  for (const field of [1, 2, 3, 4, 5, 6, 16, 17, 18, 19]) need(said.has(field));
  const flags = said.get(19);
  return {
    key, shop: claims.get(1), number: claims.get(2), issued: claims.get(6), hash: said.get(2), entry: said.get(3), size: said.get(4), root: said.get(5), made: said.get(6),
    shopName: said.get(7) || "", report: said.get(8) || "", supersedes: said.get(9) || "", supersededBy: said.get(10) || "", item: said.get(11) || "", claim: said.get(12) || "", metal: said.get(13) || "",
    claimed: said.get(14), fineness: said.get(15), finding: said.get(16), density: said.get(17), mass: said.get(18),
    suspended: !!(flags & 1), approved: !!(flags & 2), demo: !!(flags & 4), cut: !!(flags & 8),
  };
}

// openList checks the text of a status list.
async function openList(text, keys) {
  text = text.replace(/\s/g, "");
  if (!text.startsWith("WREATHLIST1:")) throw new Fault("damaged");
  const body = text.slice(12), message = fromBase64(body);
  if (toBase64Long(message).replace(/\+/g, "-").replace(/\//g, "_").replace(/=/g, "") !== body) throw new Fault("damaged");
  const { claims } = await open(message, keys);
  const said = claims.get(-65538);
  if (!(said instanceof Map) || said.get(1) !== 1 || !Array.isArray(said.get(4)) || !(said.get(3) instanceof Uint8Array)) throw new Fault("newer");
  const rows = new Map();
  for (const row of said.get(4)) {
    if (!Array.isArray(row) || row.length !== 3 || row[1] !== 1 && row[1] !== 2) throw new Fault("newer");
    rows.set(row[0], { state: row[1] === 1 ? "superseded" : "withdrawn", by: row[2] });
  }
  return { shop: claims.get(1), issued: claims.get(6), size: said.get(2), root: said.get(3), rows, keys: (said.get(5) || []).map(([mark, since]) => ({ mark, since })) };
}

function toBase64Long(bytes) {
  let binary = "";
  for (let i = 0; i < bytes.length; i += 8192) binary += String.fromCharCode(...bytes.subarray(i, i + 8192));
  return btoa(binary);
}

// statusOf tells what became of a record.
function statusOf(proof, list) {
  const own = proof.supersededBy ? { state: "superseded", by: proof.supersededBy, asOf: proof.issued } : { state: "unknown", asOf: proof.issued };
  if (!list) return own;
  if (list.shop !== proof.shop) throw new Fault("listOther", list.shop);
  if (list.size === proof.size && !same(list.root, proof.root)) throw new Fault("contradict", String(list.size));
  for (const name of [proof.number, proof.report]) {
    const row = name && list.rows.get(name);
    if (row) return { state: row.state, by: row.by, asOf: list.issued };
  }
  const key = list.keys.find((k) => same(k.mark, proof.key.mark));
  if (key) return { state: "givenUp", asOf: list.issued, since: key.since };
  if (own.state === "superseded") return own;
  if (list.size <= proof.entry) return { state: "older", asOf: proof.issued };
  return { state: "standing", asOf: Math.max(list.issued, proof.issued) };
}

// short is a checkpoint as printed on paper.
function short(size, root) {
  const letters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
  let bits = 0n, text = "";
  for (const b of root) bits = bits << 8n | BigInt(b);
  for (let i = 0n; i < 32n; i++) text += letters[Number(bits >> 5n * (31n - i) & 31n)];
  return size + "/" + text.match(/..../g).join("-");
}
