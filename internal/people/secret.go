package people

import (
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"strings"
)

// Secrets that programs keep are 256 random bits, written as a word that says what they are and
// 43 letters: wreath-session-…. Only their SHA-256 is stored; that is enough for a secret that
// cannot be guessed (SP 800-63B-4 3.1.2.2 asks for more only below 112 bits).
const (
	sessionPrefix = "wreath-session-"
	devicePrefix  = "wreath-device-"
	tokenPrefix   = "wreath-token-"
	secretBytes   = 32
)

// ErrBadSecret is returned for text that cannot be a secret of the kind asked for.
var ErrBadSecret = errors.New("this is not a secret of this program")

func newSecret(prefix string, random io.Reader) (shown, hash string, err error) {
	b := make([]byte, secretBytes)
	if _, err := io.ReadFull(random, b); err != nil {
		return "", "", fmt.Errorf("read random bytes: %w", err)
	}
	shown = prefix + base64.RawURLEncoding.EncodeToString(b)
	return shown, hashSecret(b), nil
}

// parseSecret returns the secret's bytes. Every secret has one spelling.
func parseSecret(prefix, text string) ([]byte, error) {
	rest, ok := strings.CutPrefix(text, prefix)
	if !ok || len(rest) != base64.RawURLEncoding.EncodedLen(secretBytes) {
		return nil, ErrBadSecret
	}
	b, err := base64.RawURLEncoding.Strict().DecodeString(rest)
	if err != nil || len(b) != secretBytes { // the decoder skips line breaks
		return nil, ErrBadSecret
	}
	return b, nil
}

func hashSecret(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

func lookUp(prefix, text string) (hash string, err error) {
	b, err := parseSecret(prefix, text)
	if err != nil {
		return "", err
	}
	return hashSecret(b), nil
}

func sameHash(a, b string) bool {
	return len(a) == hex.EncodedLen(sha256.Size) && subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1
}
