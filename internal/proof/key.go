package proof

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
)

// Key is a public key of a shop.
type Key struct {
	Shop   string            // short name, as its log is called
	Mark   [4]byte           // the hash in its printed form; a proof names its key by it
	Public ed25519.PublicKey // 32 bytes
}

// origin is the name of a key: that of the shop's log.
func origin(shop string) string { return "wreath-log/" + shop }

// ed25519Mark stands before the bytes of a key, as in Go's signed notes.
const ed25519Mark = 1

// NewKey names a public key of a shop.
func NewKey(shop string, public ed25519.PublicKey) Key {
	sum := sha256.Sum256(append([]byte(origin(shop)+"\n"), append([]byte{ed25519Mark}, public...)...))
	return Key{Shop: shop, Mark: [4]byte(sum[:4]), Public: public}
}

// String is the key as the shop published it: wreath-log/NAME+HASH+BASE64.
func (k Key) String() string {
	return origin(k.Shop) + "+" + hex.EncodeToString(k.Mark[:]) + "+" + base64.StdEncoding.EncodeToString(append([]byte{ed25519Mark}, k.Public...))
}

// ParseKey reads a public key as the shop published it.
func ParseKey(text string) (Key, error) {
	text = strings.TrimSpace(text)
	bad := &Error{NoKey, fmt.Sprintf("%.80q is no public key of a shop", text), "Copy it whole, as the shop published it: wreath-log/NAME+HASH+BASE64."}
	name, rest, _ := strings.Cut(text, "+")
	_, encoded, _ := strings.Cut(rest, "+")
	shop, ours := strings.CutPrefix(name, origin(""))
	raw, err := base64.StdEncoding.Strict().DecodeString(encoded)
	if !ours || shop == "" || err != nil || len(raw) != 1+ed25519.PublicKeySize || raw[0] != ed25519Mark {
		return Key{}, bad
	}
	k := NewKey(shop, ed25519.PublicKey(raw[1:]))
	if k.String() != text {
		return Key{}, bad
	}
	return k, nil
}

// ParsePrivate reads a shop's signing key in the form in which its log uses it:
// PRIVATE+KEY+wreath-log/NAME+HASH+BASE64. Errors do not show it.
func ParsePrivate(text string) (shop string, key ed25519.PrivateKey, err error) {
	bad := errors.New("the signing key can't be read")
	rest, ours := strings.CutPrefix(strings.TrimSpace(text), "PRIVATE+KEY+")
	parts := strings.SplitN(rest, "+", 3)
	if !ours || len(parts) != 3 {
		return "", nil, bad
	}
	shop, named := strings.CutPrefix(parts[0], origin(""))
	raw, err := base64.StdEncoding.Strict().DecodeString(parts[2])
	if !named || shop == "" || err != nil || len(raw) != 1+ed25519.SeedSize || raw[0] != ed25519Mark {
		return "", nil, bad
	}
	key = ed25519.NewKeyFromSeed(raw[1:])
	mark := NewKey(shop, key.Public().(ed25519.PublicKey)).Mark
	if want, err := hex.DecodeString(parts[1]); err != nil || !bytes.Equal(want, mark[:]) {
		return "", nil, bad
	}
	return shop, key, nil
}
