// Package vault keeps the personal data of customers apart from everything else, so that they can
// be erased while the log that speaks of them stays complete and provable.
//
// A Person is what a business may have noted of one customer; every field may be empty. Seal turns
// it into a Sealed: bytes that only the customer's own Key opens, and a Commitment, which the log
// keeps in the person's place. The commitment proves later that an opened person is the one that was
// noted. It is salted with 256 random bits that lie inside the sealed bytes and nowhere else: once
// the key is destroyed nobody can find the person behind a commitment, not even by trying every
// name in a telephone book.
//
// A Custody is the key of one customer or, after Erase, the record that it was destroyed, when,
// by whom and why. To destroy the key erases every version of that customer's data, in every copy of
// the store that does not hold the key. A restored backup does hold it: apply the erasures that the
// log knows with Custody.Apply before anything else.
//
// Sealed bytes are AES-256-GCM (NIST SP 800-38D) with a random nonce of 96 bits. One key seals the
// few versions of one customer, far below the 2^32 messages that the standard allows for random
// nonces. The customer and the version are authenticated with them, so sealed bytes cannot be moved
// to another customer or put back in place of a later version.
//
// The customer can ask for everything in a Person, see Access. A suspicion that must not be told to
// the customer does not belong into it.
//
// The package knows no disk and no clock, and takes its randomness as a reader. What the log or a
// message may show of a customer is the customer's identifier and the commitment; a Person and a Key
// print themselves without their content.
package vault
