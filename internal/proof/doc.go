// Package proof makes and checks the signed proof that a slip or a report carries as a QR code, the
// signed list of what became of records since, and the credential for those who want one.
//
// A proof is a statement of at most 350 bytes: which shop, which record, what was found, the hash of
// the record's entry in the log, and a checkpoint of that log. It is a COSE_Sign1 message (RFC 9052,
// section 4.2) over a CWT claims set (RFC 8392) in the deterministic encoding of CBOR (RFC 8949,
// section 4.2.1), signed with Ed25519 (RFC 8032). As text it is Base45 (RFC 9285) behind "WREATH1:", so
// that a QR code holds it in its alphanumeric mode. There is one text for one proof: a text that
// differs in anything is refused. doc/proof.md describes every field.
//
// A proof says that whoever holds the shop's key made the statement. It does not say that the item
// is genuine, nor that the item at hand is the one that was weighed.
//
// The package knows no clock, disk or network.
package proof
