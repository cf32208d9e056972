package vault

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
)

var (
	// ErrSealed says that sealed bytes do not open: another key, another customer, another version,
	// or changed bytes. Which of them cannot be told.
	ErrSealed = errors.New("the sealed personal data do not open with this key: they were changed, or belong to another customer or version")
	// ErrCommitment says that the data open but are not the ones that were committed to.
	ErrCommitment = errors.New("the personal data are not the ones that the log committed to")
)

const (
	sealTag   = "wreath sealed person 1\x00"
	commitTag = "wreath person commitment 1\x00"
	form      = 1 // first byte of sealed bytes
	nonceSize = 12
	saltSize  = 32
	block     = 512 // padded to a multiple, so that the length tells next to nothing
	maxSealed = 1 + nonceSize + saltSize + 4 + MaxDocument + block + 16
)

// Commitment stands for a person in the log. It can be checked by who can open the person, and
// tells nothing to anybody else.
type Commitment [sha256.Size]byte

// String is the commitment in 64 hexadecimal digits.
func (c Commitment) String() string { return hex.EncodeToString(c[:]) }

// MarshalText writes the commitment in hexadecimal digits.
func (c Commitment) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText reads 64 hexadecimal digits.
func (c *Commitment) UnmarshalText(text []byte) error {
	if hex.DecodedLen(len(text)) != len(c) {
		return fmt.Errorf("a commitment has %d hexadecimal digits, not %d", hex.EncodedLen(len(c)), len(text))
	}
	if _, err := hex.Decode(c[:], text); err != nil {
		return fmt.Errorf("a commitment is hexadecimal digits: %w", err)
	}
	return nil
}

// Sealed is one version of a customer's data as it is stored.
type Sealed struct {
	Customer   string     `json:"customer"` // identifier, as in the log; tells nothing of the person
	Version    int        `json:"version"`  // 1, 2, ... of this customer
	Commitment Commitment `json:"commitment"`
	Blob       []byte     `json:"blob"`
}

// Seal encrypts a person. random is crypto/rand.Reader except in tests; equal persons give sealed
// bytes and commitments that have nothing in common.
func Seal(random io.Reader, key Key, customer string, version int, p Person) (Sealed, error) {
	s := Sealed{Customer: customer, Version: version}
	aead, err := cipherFor(key, s)
	if err != nil {
		return Sealed{}, err
	}
	document, err := p.Encode()
	if err != nil {
		return Sealed{}, err
	}
	if len(document) > MaxDocument {
		return Sealed{}, bad("", "Shorten the texts.", "the personal data are larger than %d bytes", MaxDocument)
	}
	var drawn [nonceSize + saltSize]byte
	if _, err := io.ReadFull(random, drawn[:]); err != nil {
		return Sealed{}, fmt.Errorf("draw nonce and salt: %w", err)
	}
	nonce, salt := drawn[:nonceSize], drawn[nonceSize:]

	plain := append([]byte(nil), salt...)
	plain = binary.BigEndian.AppendUint32(plain, uint32(len(document)))
	plain = append(plain, document...)
	plain = append(plain, make([]byte, padding(len(plain)))...)

	s.Commitment = commit(salt, document)
	s.Blob = aead.Seal(append([]byte{form}, nonce...), nonce, plain, s.associated())
	return s, nil
}

// Open decrypts a person and checks it against the commitment. Take customer, version and
// commitment from the log, not from where the blob lies. Errors are ErrSealed, ErrCommitment, or a
// *strictjson.FieldError for a document of a newer program.
func Open(key Key, s Sealed) (Person, error) {
	aead, err := cipherFor(key, s)
	if err != nil {
		return Person{}, err
	}
	if len(s.Blob) < 1+nonceSize || len(s.Blob) > maxSealed || s.Blob[0] != form {
		return Person{}, ErrSealed
	}
	nonce, box := s.Blob[1:1+nonceSize], s.Blob[1+nonceSize:]
	plain, err := aead.Open(nil, nonce, box, s.associated())
	if err != nil || len(plain) < saltSize+4 {
		return Person{}, ErrSealed
	}
	salt, rest := plain[:saltSize], plain[saltSize+4:]
	length := binary.BigEndian.Uint32(plain[saltSize:])
	if uint64(length) > uint64(len(rest)) {
		return Person{}, ErrSealed
	}
	document := rest[:length]
	if c := commit(salt, document); subtle.ConstantTimeCompare(c[:], s.Commitment[:]) != 1 {
		return Person{}, ErrCommitment
	}
	return Decode(document)
}

func cipherFor(key Key, s Sealed) (cipher.AEAD, error) {
	if key.IsZero() {
		return nil, errors.New("there is no key for the personal data of this customer")
	}
	if err := checkCustomer(s.Customer); err != nil {
		return nil, err
	}
	if s.Version < 1 {
		return nil, bad("version", "Versions count from 1.", "is %d", s.Version)
	}
	b, err := aes.NewCipher(key.bytes[:])
	if err != nil {
		return nil, err
	}
	return cipher.NewGCM(b)
}

// checkCustomer allows what needs no care in paths, messages or associated data.
func checkCustomer(id string) error {
	ok := id != "" && len(id) <= 64
	for _, r := range id {
		ok = ok && (r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-')
	}
	if !ok {
		return bad("customer", "Use 1 to 64 of the letters a to z, digits and hyphens, and nothing personal.", "is not a customer's identifier")
	}
	return nil
}

// associated is authenticated with the sealed bytes. The identifier cannot hold a zero byte.
func (s Sealed) associated() []byte {
	return binary.BigEndian.AppendUint64([]byte(sealTag+s.Customer+"\x00"), uint64(s.Version))
}

// commit is unambiguous because tag and salt have fixed lengths.
func commit(salt, document []byte) Commitment {
	h := sha256.New()
	h.Write([]byte(commitTag))
	h.Write(salt)
	h.Write(document)
	return Commitment(h.Sum(nil))
}

func padding(n int) int { return (block - n%block) % block }
