// Package store keeps the logs of shops and what is computed from them in a database, in one
// transaction.
//
//   - The log: entries, nodes of the tree, signed checkpoints. Rows are added, never changed; the
//     database itself refuses it.
//   - Views: what a person sees, computed from the log and rebuilt from it at any time.
//   - Secrets: what must not be in a log, because it must be erasable (personal data and their keys)
//     or replaceable (hashes of passwords, sessions, drafts of a form).
//   - Blobs: pictures and other attachments under their SHA-256; the log holds the hash.
//
// The same SQL runs on SQLite and PostgreSQL; sqlite and postgres below open them. A shop's log has
// one writer at a time; the logs of different shops never wait for each other in PostgreSQL.
//
// A write is acknowledged when Write has returned without an error, and not before.
package store
