package people

import (
	"fmt"
	"io"
	"strings"
)

// Codes that people type once (set-up, new password, recovery) are 120 random bits as 24
// characters and one check character, in five groups: 7K2M9-Q4XHT-…. With more than 112 bits a
// plain SHA-256 is enough to store (SP 800-63B-4 3.1.2.2), and 64 are asked for in 4.2.1.1 (from memory).

// alphabet leaves out I, L, O and U, which are read as 1, 1, 0 and V (the letters that
// D. Crockford's base 32 leaves out; from memory).
const alphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

const (
	codeBytes  = 15 // 120 bits
	codeChars  = 24 // and one more to check
	groupChars = 5
)

// CodeError says what is wrong with a code as typed. It is found without looking at any stored
// code, so it does not count as a try.
type CodeError struct{ Reason, Hint string }

func (e *CodeError) Error() string { return e.Reason }

// encodeCode writes 15 bytes as a code.
func encodeCode(b []byte) string {
	chars := base32(b)
	var check byte
	for _, c := range []byte(chars) {
		check = times2(check) ^ value(c)
	}
	chars += string(alphabet[times2(check)])
	var groups []string
	for i := 0; i < len(chars); i += groupChars {
		groups = append(groups, chars[i:i+groupChars])
	}
	return strings.Join(groups, "-")
}

// CheckCode refuses text that can't be a code; it returns *CodeError. It looks at nothing that is stored.
func CheckCode(text string) error {
	_, err := decodeCode(text)
	return err
}

func base32(b []byte) string {
	var out strings.Builder
	acc, bits := uint(0), 0
	for _, x := range b {
		acc, bits = acc<<8|uint(x), bits+8
		for ; bits >= 5; bits -= 5 {
			out.WriteByte(alphabet[acc>>(bits-5)&31])
		}
		acc &= 1<<bits - 1
	}
	return out.String()
}

// decodeCode reads a code as people type it: small or capital letters, hyphens or spaces anywhere
// or none, O for 0, I and L for 1.
func decodeCode(text string) ([]byte, error) {
	if len(text) > 100 {
		return nil, &CodeError{"the code is too long", "It has five groups of five characters."}
	}
	var values []byte
	for _, r := range text {
		switch r {
		case ' ', '-', '\t', '\n', '\r', '–', '—', '‑':
			continue
		case 'o', 'O':
			r = '0'
		case 'i', 'I', 'l', 'L':
			r = '1'
		}
		if r >= 'a' && r <= 'z' {
			r -= 'a' - 'A'
		}
		i := strings.IndexRune(alphabet, r)
		if i < 0 {
			return nil, &CodeError{fmt.Sprintf("the character %q is not used in codes", r), "Codes have digits and capital letters, but no U. Is it a V?"}
		}
		values = append(values, byte(i))
	}
	if len(values) != codeChars+1 {
		return nil, &CodeError{fmt.Sprintf("the code has %d characters, but %d are needed", len(values), codeChars+1), "It has five groups of five characters."}
	}
	var check byte
	for _, v := range values {
		check = times2(check) ^ v
	}
	if check != 0 {
		return nil, &CodeError{"the code is mistyped", "One character is wrong, or two are swapped. Compare it group by group."}
	}
	out := make([]byte, 0, codeBytes)
	acc, bits := uint(0), 0
	for _, v := range values[:codeChars] {
		acc, bits = acc<<5|uint(v), bits+5
		if bits >= 8 {
			out = append(out, byte(acc>>(bits-8)))
			bits -= 8
		}
		acc &= 1<<bits - 1
	}
	return out, nil
}

func value(c byte) byte { return byte(strings.IndexByte(alphabet, c)) }

// times2 multiplies by x in the field of 32 elements, modulo x⁵ + x² + 1. Since x has order 31,
// the check character finds every single wrong character and every swap of two unlike ones.
func times2(v byte) byte {
	if v <<= 1; v&32 != 0 {
		v ^= 0b100101
	}
	return v
}

func newCode(random io.Reader) (shown, hash string, err error) {
	b := make([]byte, codeBytes)
	if _, err := io.ReadFull(random, b); err != nil {
		return "", "", fmt.Errorf("read random bytes: %w", err)
	}
	return encodeCode(b), hashSecret(b), nil
}

// newID makes a short mark that is no secret, from 40 random bits.
func newID(random io.Reader, prefix string) (string, error) {
	b := make([]byte, 5)
	if _, err := io.ReadFull(random, b); err != nil {
		return "", fmt.Errorf("read random bytes: %w", err)
	}
	return prefix + strings.ToLower(base32(b)), nil
}
