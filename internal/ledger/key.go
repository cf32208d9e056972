package ledger

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/note"
)

// KeyChanged is the kind of the entry by which a shop takes another signing key, and KeySubject its
// subject.
const (
	KeyChanged = "key-changed"
	KeySubject = "signing-key"
)

// KeyChange is the body of that entry.
type KeyChange struct {
	Public string `json:"public_key"`
	// HandOver is a note, signed with the key before, that says which key comes after it; see
	// HandOver. It is empty where that key was lost or may be in other hands: then nothing in the log
	// proves that the new key is the shop's, and the shop has to publish it anew.
	HandOver string `json:"hand_over,omitempty"`
	Reason   string `json:"reason"`
}

// HandOver signs with the old key that another takes its place. Whoever trusts the old one can then
// trust the new one without asking the shop.
func HandOver(shop, public string, at time.Time, old string) (string, error) {
	if err := CheckKey(shop, public); err != nil {
		return "", err
	}
	signer, err := note.NewSigner(old)
	if err != nil {
		return "", fmt.Errorf("the old signing key can't be read: %w", err)
	}
	if signer.Name() != Origin(shop) {
		return "", fmt.Errorf("the old signing key belongs to %s, not to %s", signer.Name(), Origin(shop))
	}
	signed, err := note.Sign(&note.Note{Text: handOverText(shop, public, at)}, signer)
	return string(signed), err
}

const handOverLine = "the signing key is now"

func handOverText(shop, public string, at time.Time) string {
	return fmt.Sprintf("%s\n%s\n%s\ntime %s\n", Origin(shop), handOverLine, public, at.UTC().Format(time.RFC3339))
}

// openHandOver gives the key that a note hands over to, if one of the keys signed it.
func openHandOver(shop, signed string, keys []string) (public string, err error) {
	var verifiers []note.Verifier
	for _, key := range keys {
		v, err := note.NewVerifier(key)
		if err == nil && v.Name() == Origin(shop) {
			verifiers = append(verifiers, v)
		}
	}
	n, err := note.Open([]byte(signed), note.VerifierList(verifiers...))
	if err != nil {
		return "", err
	}
	lines := strings.Split(n.Text, "\n")
	if len(lines) != 5 || lines[0] != Origin(shop) || lines[1] != handOverLine {
		return "", errors.New("no hand-over of a key")
	}
	return lines[2], CheckKey(shop, lines[2])
}

// Follow gives the trusted keys and, after them, each key that one of those known by then was handed
// over to. Hand-overs are in the order in which they happened; what is none is passed over, because it
// proves nothing.
func Follow(shop string, trusted, handOvers []string) []string {
	var keys []string
	for _, key := range trusted {
		keys = append(keys, strings.TrimSpace(key))
	}
	for _, signed := range handOvers {
		if public, err := openHandOver(shop, signed, keys); err == nil && !slices.Contains(keys, public) {
			keys = append(keys, public)
		}
	}
	return keys
}
