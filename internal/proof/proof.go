package proof

import (
	"crypto/ed25519"
	"errors"
)

var errSoon = errors.New("not written yet")

// Key is a public key of a shop.
type Key struct {
	Shop   string  // short name, as its log is called
	Mark   [4]byte // names the key: the hash in its printed form
	Public ed25519.PublicKey
}

// ParseKey reads a public key as the shop published it: wreath-log/NAME+HASH+BASE64.
func ParseKey(text string) (Key, error) { return Key{}, errSoon }

// ParsePrivate reads a shop's signing key in the form in which its log keeps it.
func ParsePrivate(text string) (shop string, key ed25519.PrivateKey, err error) {
	return "", nil, errSoon
}

// Sign makes a proof of a statement: a COSE_Sign1 message of at most MaxSize bytes. Long texts are
// cut, and end in "…" then. The same statement and key always give the same bytes.
func Sign(s Statement, key ed25519.PrivateKey) ([]byte, error) { return nil, errSoon }

// Text is a proof as the QR code holds it: letters and digits of its alphanumeric mode only.
func Text(message []byte) string { return "" }

// Opened is a proof whose signature holds.
type Opened struct {
	Statement Statement
	Key       Key // that it was signed with
}

// Open checks the text of a proof with the public keys that the reader trusts, and gives what it says.
// An error is a *Error.
func Open(text string, keys ...Key) (*Opened, error) { return nil, errSoon }

// Error says why a proof, a list or a key is not to be believed.
type Error struct {
	Reason, Hint string
	Kind         Kind
}

func (e *Error) Error() string { return e.Reason }

// Kind tells errors apart.
type Kind string

// The kinds of errors.
const (
	NoProof    Kind = "no proof"    // the text is something else
	Damaged    Kind = "damaged"     // it can't be read: letters are missing or wrong
	UnknownKey Kind = "unknown key" // none of the keys given signed it
	OtherShop  Kind = "other shop"  // it is of a shop that none of the keys belongs to
	Forged     Kind = "forged"      // the signature does not hold: something was changed
	Newer      Kind = "newer"       // a newer program may read it
)
