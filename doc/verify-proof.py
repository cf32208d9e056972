#!/usr/bin/env python3
"""Check a proof without the program that made it.

    verify-proof.py PROOF KEY [STATUS]

PROOF is a file with the text of the QR code, or - for standard input. KEY is the shop's public key as
the shop published it: NAME+HASH+BASE64. STATUS is a file with the shop's status list. The last line says
OK (exit 0), what took the record's place (exit 2), or what is broken (exit 1). proof.md describes the form.

It needs the packages cryptography and cbor2 (Debian: python3-cryptography, python3-cbor2).
Text: RFC 9285. Message: COSE_Sign1, RFC 9052, section 4.2; signed over its section 4.4. Claims: RFC 8392
in the deterministic encoding of RFC 8949, section 4.2.1. Signature: Ed25519, RFC 8032.
"""
import base64, datetime, hashlib, sys
import cbor2
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"

def need(true, reason):
    if not true: raise SystemExit("BROKEN: " + reason)

def base45(text):
    out = bytearray()
    for i in range(0, len(text), 3):
        group = [ALPHABET.find(c) for c in text[i:i + 3]]
        n = sum(v * 45 ** j for j, v in enumerate(group))
        size = len(group) - 1
        need(size > 0 and -1 not in group and n < 256 ** size, "the text is damaged")
        out += n.to_bytes(size, "big")
    return bytes(out)

def public_key(text):
    name, mark, public = text.strip().split("+", 2)
    raw = base64.b64decode(public, validate=True)
    digest = hashlib.sha256(name.encode() + b"\n" + raw).digest()
    need(len(raw) == 33 and raw[0] == 1 and digest[:4].hex() == mark, "the public key is damaged")
    return name.removeprefix("wreath-log/"), bytes.fromhex(mark), raw[1:]

def claims(message, key):
    """Check a message and give its claims."""
    shop, mark, public = key
    tagged = cbor2.loads(message)
    need(isinstance(tagged, cbor2.CBORTag) and tagged.tag == 18 and len(tagged.value) == 4, "no COSE_Sign1 message")
    header, unprotected, payload, signature = tagged.value
    need(cbor2.dumps(tagged, canonical=True) == message and unprotected == {}, "the message has another form")
    need(header == cbor2.dumps({1: -8, 4: mark}, canonical=True), "it is signed with another key or algorithm")
    signed = cbor2.dumps(["Signature1", header, b"", payload])
    try: Ed25519PublicKey.from_public_bytes(public).verify(signature, signed)
    except InvalidSignature: need(False, "the signature does not hold")
    out = cbor2.loads(payload)
    need(cbor2.dumps(out, canonical=True) == payload, "the claims have another form")
    need(out[1] == shop, "it is of another shop")
    return out

def at(seconds): return datetime.datetime.fromtimestamp(seconds, datetime.timezone.utc).isoformat()

def decimal(digits, value):
    text = str(value).rjust(digits + 1, "0")
    return text[:-digits] + "." + text[-digits:] if digits else text

def check_proof(text, key):
    text = text.strip()
    if text.startswith("WREAT H"): text = "".join(text.split()).replace("_", " ") # in groups, from a slip
    text = text.replace("\r", "").replace("\n", "")
    need(text.startswith("WREATH1:"), "no proof")
    out = claims(base45(text.removeprefix("WREATH1:")), key)
    said = out[-65537]
    need(said[1] == 1, "a newer form")
    print("shop         %s (%s)" % (said.get(7, ""), out[1]))
    print("record       %s, entry %d" % (out[2], said[3]))
    if 8 in said: print("report       %s" % said[8])
    if 9 in said: print("corrects     %s" % said[9])
    print("recorded     %s" % at(said[6]))
    print("proof made   %s" % at(out[6]))
    if 11 in said: print("item         %s" % said[11])
    claim = said.get(12, "")
    if 14 in said: claim = said.get(13, "") + " " + decimal(*said[14])
    print("claim        %s" % (claim or said.get(13, "none")))
    print("finding      %s" % ["none", "met", "not met", "undecided"][said[16]])
    digits, value, *U = said[17]
    print("density      %s%s g/cm3" % (decimal(digits, value), " +- " + decimal(digits, U[0]) if U else ", no upper limit"))
    if 15 in said: print("fineness     %s to %s ppt" % (decimal(said[15][0], said[15][1]), decimal(said[15][0], said[15][2])))
    print("mass         %s g" % decimal(*said[18]))
    for bit, words in enumerate(["a doubt holds the finding back", "approved", "invented", "a text was cut"]):
        if said[19] >> bit & 1: print("             %s" % words)
    print("hash         %s" % said[2].hex())
    print("checkpoint   %d %s" % (said[4], said[5].hex()))
    return out

def check_status(text, key, proof):
    text = "".join(text.split())
    need(text.startswith("WREATHLIST1:"), "no status list")
    body = text.removeprefix("WREATHLIST1:")
    message = base64.urlsafe_b64decode(body + "=" * (-len(body) % 4))
    need(base64.urlsafe_b64encode(message).decode().rstrip("=") == body, "the status list is damaged")
    out = claims(message, key)
    said, of = out[-65538], proof[-65537]
    need(said[1] == 1, "a newer form of the status list")
    need(said[2] != of[4] or said[3] == of[5], "proof and status list are of two different logs")
    rows = {number: (state, by) for number, state, by in said[4]}
    for number in (proof[2], of.get(8)):
        if number in rows:
            state, by = rows[number]
            print("OF THE SHOP, BUT %s %s as of %s" % (number, "superseded by " + by if state == 1 else "withdrawn", at(out[6])))
            sys.exit(2)
    if any(mark == key[1] for mark, since in said.get(5, [])):
        print("OF THE SHOP'S KEY, BUT the shop gave up that key")
        sys.exit(2)
    if said[2] <= of[3]: return "status unknown: the list was made before the record"
    return "neither superseded nor withdrawn as of " + at(max(out[6], proof[6]))

def main(args):
    if len(args) not in (2, 3): raise SystemExit(__doc__)
    try:
        text = sys.stdin.read() if args[0] == "-" else open(args[0]).read()
        key = public_key(args[1])
        proof = check_proof(text, key)
        status = "status unknown since " + at(proof[6])
        if len(args) == 3: status = check_status(open(args[2]).read(), key, proof)
        if 10 in proof[-65537]:
            print("OF THE SHOP, BUT %s superseded by %s when the proof was made" % (proof[2], proof[-65537][10]))
            sys.exit(2)
    except (ValueError, KeyError, TypeError, IndexError, AttributeError, EOFError, cbor2.CBORDecodeError) as e:
        raise SystemExit("BROKEN: it can't be read: %s" % e)
    print("OK: %s signed it; %s" % (key[0], status))

if __name__ == "__main__": main(sys.argv[1:])
