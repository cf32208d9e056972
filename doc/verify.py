#!/usr/bin/env python3
"""Check records without the program that wrote them.

    verify.py bundle FILE KEY                 entries with their proofs
    verify.py log FILE CHECKPOINT KEY         a whole log, one entry on each line

KEY is the shop's public key as the shop published it: NAME+HASH+BASE64. CHECKPOINT is a file.
The last line says OK (exit 0) or what is broken (exit 1).

Tree: RFC 6962, section 2.1; SHA-256 of 0x00 and the entry's bytes, of 0x01 and two hashes.
Proof: RFC 9162, section 2.1.3.2. Signature: Ed25519, the formulas of RFC 8032, section 6.
Checkpoint: origin, number of entries, root, time, each on a line; an empty line; then a line
"-- NAME BASE64" with a long dash. BASE64 holds 4 bytes that name the key and 64 of signature.
"""
import base64, hashlib, json, sys

def sha256(b): return hashlib.sha256(b).digest()
def leaf(entry): return sha256(b"\x00" + entry)
def node(left, right): return sha256(b"\x01" + left + right)

# Ed25519. Points are (X, Y, Z, T) with x = X/Z, y = Y/Z, x*y = T/Z.
p = 2**255 - 19
q = 2**252 + 27742317777372353535851937790883648493
d = -121665 * pow(121666, p - 2, p) % p

def add(P, Q):
    A, B = (P[1] - P[0]) * (Q[1] - Q[0]) % p, (P[1] + P[0]) * (Q[1] + Q[0]) % p
    C, D = 2 * P[3] * Q[3] * d % p, 2 * P[2] * Q[2] % p
    E, F, G, H = B - A, D - C, D + C, B + A
    return (E * F % p, G * H % p, F * G % p, E * H % p)

def mul(s, P):
    Q = (0, 1, 1, 0)
    while s > 0:
        if s & 1: Q = add(Q, P)
        P, s = add(P, P), s >> 1
    return Q

def equal(P, Q):
    return (P[0] * Q[2] - Q[0] * P[2]) % p == 0 and (P[1] * Q[2] - Q[1] * P[2]) % p == 0

def recover_x(y, sign):
    x2 = (y * y - 1) * pow(d * y * y + 1, p - 2, p) % p
    x = pow(x2, (p + 3) // 8, p)
    if (x * x - x2) % p: x = x * pow(2, (p - 1) // 4, p) % p
    need((x * x - x2) % p == 0 and y < p and (x or not sign), "a point of the signature or key is not on the curve")
    return p - x if x & 1 != sign else x

def point(b):
    y = int.from_bytes(b, "little")
    sign, y = y >> 255, y & (1 << 255) - 1
    x = recover_x(y, sign)
    return (x, y, 1, x * y % p)

def signed_by(public, message, signature):
    R, s = signature[:32], int.from_bytes(signature[32:], "little")
    h = int.from_bytes(hashlib.sha512(R + public + message).digest(), "little") % q
    y = 4 * pow(5, p - 2, p) % p
    x = recover_x(y, 0)
    return s < q and equal(mul(s, (x, y, 1, x * y % p)), add(point(R), mul(h, point(public))))

def need(true, reason):
    if not true: raise SystemExit("BROKEN: " + reason)

def unbase64(text, size):
    try: b = base64.b64decode(text, validate=True)
    except ValueError: b = b""
    need(len(b) == size and base64.b64encode(b).decode() == text, "damaged base64: " + text)
    return b

def checkpoint(signed, key):
    name, key_hash, public = key.strip().split("+", 2)
    public = unbase64(public, 33)
    need(public[0] == 1 and sha256(name.encode() + b"\n" + public)[:4].hex() == key_hash, "the public key is damaged")
    text, _, signatures = signed.rpartition("\n\n")
    text += "\n"
    for line in signatures.split("\n"):
        if line.startswith("\u2014 " + name + " "):
            signature = unbase64(line.split(" ")[2], 68)
            if signature[:4].hex() == key_hash:
                need(signed_by(public[1:], text.encode(), signature[4:]), "the checkpoint's signature does not hold")
                origin, size, root, time, end = text.split("\n")
                need(origin == name and end == "", "the checkpoint belongs to another log")
                return origin.removeprefix("wreath-log/"), int(size), unbase64(root, 32), time
    need(False, "the checkpoint isn't signed with this key")

def proved(n, size, h, proof, root):
    last = size - 1
    for other in proof:
        if last == 0: return False
        if n & 1 or n == last:
            h = node(other, h)
            while not n & 1 and n: n, last = n >> 1, last >> 1
        else: h = node(h, other)
        n, last = n >> 1, last >> 1
    return last == 0 and h == root

def check_bundle(data, key):
    bundle = json.loads(data)
    shop, size, root, time = checkpoint(bundle["checkpoint"], key)
    for e in bundle["entries"]:
        raw, proof = e["entry"].encode(), [unbase64(h, 32) for h in e["proof"]]
        head = json.loads(raw)
        need(head["shop"] == shop and 0 <= head["seq"] < size, "an entry of another log")
        need(proved(head["seq"], size, leaf(raw), proof, root), "entry %d is not in the log" % head["seq"])
    print("OK: %d entries are in the log of %s as it was at %s" % (len(bundle["entries"]), shop, time))

def check_log(data, signed, key):
    shop, size, root, time = checkpoint(signed, key)
    lines = data.removesuffix(b"\n").split(b"\n") if data else []
    roots = []  # (level, hash) of the full subtrees of the first size entries
    for n, raw in enumerate(lines):
        head = json.loads(raw)
        need(head["shop"] == shop and head["seq"] == n, "entry %d is missing or not in its place" % n)
        if n < size: roots.append((0, leaf(raw)))
        while len(roots) > 1 and roots[-2][0] == roots[-1][0]:
            (level, right), (_, left) = roots.pop(), roots.pop()
            roots.append((level + 1, node(left, right)))
    need(len(lines) >= size, "the log ends after %d entries, the checkpoint has %d" % (len(lines), size))
    h = roots.pop()[1] if roots else sha256(b"")
    while roots: h = node(roots.pop()[1], h)
    need(h == root, "the log is not the one that the checkpoint was made of")
    print("OK: the log of %s begins with the %d entries of %s" % (shop, size, time))

if __name__ == "__main__":
    kind, args = (sys.argv[1:2] or [""])[0], sys.argv[2:]
    if (kind, len(args)) not in (("bundle", 2), ("log", 3)): raise SystemExit(__doc__)
    try:
        data = open(args[0], "rb").read()
        if kind == "bundle": check_bundle(data, args[1])
        else: check_log(data, open(args[1], "rb").read().decode(), args[2])
    except (ValueError, KeyError, TypeError, IndexError, AttributeError) as e:
        raise SystemExit("BROKEN: the file can't be read: %s" % e)
