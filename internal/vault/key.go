package vault

import (
	"errors"
	"fmt"
	"io"
)

// KeySize is the length of a key in bytes.
const KeySize = 32

// Key opens the sealed data of one customer. The zero Key is no key. Copies of a Key are the same
// key: when one is destroyed, all are.
type Key struct {
	// A pointer, because fmt prints the bytes of an unexported field of a structure that holds a
	// Key without asking the Key.
	bytes *[KeySize]byte
}

// NewKey draws a key; random is crypto/rand.Reader except in tests.
func NewKey(random io.Reader) (Key, error) {
	var b [KeySize]byte
	if _, err := io.ReadFull(random, b[:]); err != nil {
		return Key{}, fmt.Errorf("draw a key: %w", err)
	}
	if b == [KeySize]byte{} {
		return Key{}, errors.New("draw a key: the source of randomness gives only zeros")
	}
	return Key{&b}, nil
}

// KeyFromBytes takes a key that was stored with Key.Bytes.
func KeyFromBytes(b []byte) (Key, error) {
	if len(b) != KeySize {
		return Key{}, fmt.Errorf("a key has %d bytes, not %d", KeySize, len(b))
	}
	own := [KeySize]byte(b)
	if own == [KeySize]byte{} {
		return Key{}, errors.New("a key of zeros is no key")
	}
	return Key{&own}, nil
}

// Bytes is the key itself, for the one place that stores it; nil when there is no key.
func (k Key) Bytes() []byte {
	if k.IsZero() {
		return nil
	}
	return append([]byte(nil), k.bytes[:]...)
}

// IsZero tells that there is no key, or not any more.
func (k Key) IsZero() bool { return k.bytes == nil || *k.bytes == [KeySize]byte{} }

// destroy overwrites the key in memory.
func (k Key) destroy() {
	if k.bytes != nil {
		clear(k.bytes[:])
	}
}

// Format keeps the key out of every print.
func (k Key) Format(s fmt.State, _ rune) { _, _ = io.WriteString(s, "key (not shown)") }

// MarshalText refuses: a key goes into no document.
func (k Key) MarshalText() ([]byte, error) {
	return nil, errors.New("a key is not written into documents")
}
