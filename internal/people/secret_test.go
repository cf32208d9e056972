package people

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"strings"
	"testing"
)

func TestSecrets(t *testing.T) {
	random := dice()
	seen := map[string]bool{}
	for range 1000 {
		shown, hash, err := newSecret(sessionPrefix, random)
		noError(t, err)
		if seen[shown] {
			t.Fatalf("%s twice", shown)
		}
		seen[shown] = true
		raw, err := base64.RawURLEncoding.DecodeString(strings.TrimPrefix(shown, sessionPrefix))
		noError(t, err)
		if len(raw)*8 != 256 {
			t.Fatalf("%d bits", len(raw)*8)
		}
		if sum := sha256.Sum256(raw); hex.EncodeToString(sum[:]) != hash {
			t.Fatal("not the SHA-256")
		}
		if strings.Contains(hash, shown) || strings.Contains(shown, hash) {
			t.Fatal("the secret is stored")
		}
		if got, err := SessionKey(shown); err != nil || got != hash {
			t.Fatalf("%s, %v, want %s", got, err, hash)
		}
	}
	if _, _, err := newSecret(tokenPrefix, strings.NewReader("too short")); err == nil {
		t.Error("a secret without randomness")
	}
}

func TestParseSecretRefuses(t *testing.T) {
	good, _, err := newSecret(sessionPrefix, dice())
	noError(t, err)
	for _, c := range []struct{ name, text string }{
		{"empty", ""}, {"prefix alone", sessionPrefix}, {"other kind", strings.Replace(good, "session", "token", 1)},
		{"shorter", good[:len(good)-1]}, {"longer", good + "A"}, {"padded", good + "="}, {"space", " " + good},
		{"line break within", good[:30] + "\n" + good[31:]}, {"plus", good[:30] + "+" + good[31:]},
		{"spare bits", good[:len(good)-1] + spare(good[len(good)-1])}, {"large", strings.Repeat(good, 1000)},
	} {
		if _, err := SessionKey(c.text); !errors.Is(err, ErrBadSecret) {
			t.Errorf("%s: %q: error %v", c.name, c.text, err)
		}
	}
}

// spare is the next letter: it differs in the two bits that carry nothing.
func spare(c byte) string {
	const letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"
	return string(letters[strings.IndexByte(letters, c)+1])
}

func TestSameHash(t *testing.T) {
	a, b := hashSecret([]byte("a")), hashSecret([]byte("b"))
	if !sameHash(a, a) || sameHash(a, b) || sameHash("", "") || sameHash(a, a[:63]) {
		t.Error("hashes are compared wrongly")
	}
}

// FuzzSecret: a secret has one spelling.
func FuzzSecret(f *testing.F) {
	good, _, err := newSecret(tokenPrefix, dice())
	noError(f, err)
	for _, s := range []string{good, "", tokenPrefix, good + "\n", strings.ToUpper(good)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		b, err := parseSecret(tokenPrefix, text)
		if err != nil {
			if !errors.Is(err, ErrBadSecret) {
				t.Errorf("error %v", err)
			}
			return
		}
		if again := tokenPrefix + base64.RawURLEncoding.EncodeToString(b); again != text || len(b) != secretBytes {
			t.Errorf("%q is written %q", text, again)
		}
	})
}
