// Package ledger chains what happened, so that nothing can be changed or dropped unseen.
//
// An Entry is one act. Its bytes are JSON, written once and never encoded again. The entries of a
// shop are the leaves of a Merkle tree (RFC 6962, section 2.1: 0x00 before a leaf, 0x01 before a
// node, SHA-256). A Checkpoint is the size and the root of that tree at one moment, signed with the
// shop's Ed25519 key as a signed note. A Bundle holds some entries with the proof that each of them
// is a leaf below one checkpoint; whoever has the shop's public key can check it without the log.
//
// A checkpoint protects only when it leaves the house: who holds the store and its key can sign a
// log that was written anew. A checkpoint on an old slip then contradicts it.
//
// The package knows bytes, hashes and signatures. It knows no database and none of our documents.
package ledger
