package proof

import (
	"bytes"
	"crypto/ed25519"
	"errors"
	"fmt"
	"slices"
	"unicode"
	"unicode/utf8"
)

// claims are the claims set of a proof: issuer, subject and time as RFC 8392 numbers them, and our own
// claim under a number for private use.
type claims struct {
	Issuer  string `cbor:"1,keyasint"`
	Subject string `cbor:"2,keyasint"`
	Issued  int64  `cbor:"6,keyasint"`
	Said    said   `cbor:"-65537,keyasint"`
}

// said is our claim. Its numbers are never used for anything else.
type said struct {
	Format       int     `cbor:"1,keyasint"`
	Hash         []byte  `cbor:"2,keyasint"`
	Entry        int64   `cbor:"3,keyasint"`
	Size         int64   `cbor:"4,keyasint"`
	Root         []byte  `cbor:"5,keyasint"`
	Made         int64   `cbor:"6,keyasint"`
	ShopName     string  `cbor:"7,keyasint,omitempty"`
	Report       string  `cbor:"8,keyasint,omitempty"`
	Supersedes   string  `cbor:"9,keyasint,omitempty"`
	SupersededBy string  `cbor:"10,keyasint,omitempty"`
	Item         string  `cbor:"11,keyasint,omitempty"`
	Claim        string  `cbor:"12,keyasint,omitempty"`
	Metal        string  `cbor:"13,keyasint,omitempty"`
	Claimed      []int64 `cbor:"14,keyasint,omitempty"` // digits, value
	Fineness     []int64 `cbor:"15,keyasint,omitempty"` // digits, low, high
	Finding      int     `cbor:"16,keyasint"`
	Density      []int64 `cbor:"17,keyasint"` // digits, value, U where there is one
	Mass         []int64 `cbor:"18,keyasint"` // digits, value
	Flags        int     `cbor:"19,keyasint"`
}

// The flags of a statement.
const (
	flagSuspended = 1 << iota
	flagApproved
	flagDemo
	flagCut
	flagsKnown = 1<<iota - 1
)

// The longest texts that are told, in bytes of UTF-8. They are cut further where that is not enough.
const (
	maxShop     = 40 // as ledger.CheckShop
	maxNumber   = 16
	maxShopName = 48
	maxItem     = 56
	maxClaim    = 32
)

// Sign makes a proof of a statement: a COSE_Sign1 message of at most MaxSize bytes. Long texts are
// cut; they end in "…" then, and the statement says that it was cut. The same statement and key always
// give the same bytes.
func Sign(s Statement, key ed25519.PrivateKey) ([]byte, error) {
	if len(key) != ed25519.PrivateKeySize {
		return nil, errors.New("there is no signing key")
	}
	if err := s.check(); err != nil {
		return nil, fmt.Errorf("the proof of %s: %w", s.Number, err)
	}
	texts := []*string{&s.ShopName, &s.Item, &s.Claim}
	for i, most := range []int{maxShopName, maxItem, maxClaim} {
		if short := cut(*texts[i], most); short != *texts[i] {
			*texts[i], s.Cut = short, true
		}
	}
	for {
		message, err := seal(s.Shop, s.claims(), key)
		if err != nil || len(message) <= MaxSize {
			return message, err
		}
		longest := slices.MaxFunc(texts, func(a, b *string) int { return len(*a) - len(*b) })
		if len(*longest) <= len(ellipsis) {
			return nil, fmt.Errorf("the proof of %s is longer than %d bytes without any text", s.Number, MaxSize)
		}
		*longest, s.Cut = cut(*longest, max(len(ellipsis), len(*longest)-(len(message)-MaxSize))), true
	}
}

const ellipsis = "…"

// cut shortens a text to a number of bytes, between two letters, and shows that it did.
func cut(text string, most int) string {
	if len(text) <= most {
		return text
	}
	end := 0
	for i, r := range text {
		if i > most-len(ellipsis) {
			break
		}
		// A mark that belongs to the letter before stays with it.
		if !unicode.Is(unicode.M, r) && r != '\u200d' && r != '\u200c' {
			end = i
		}
	}
	for end > 0 && text[end-1] == ' ' {
		end--
	}
	return text[:end] + ellipsis
}

func (s *Statement) claims() claims {
	c := claims{Issuer: s.Shop, Subject: s.Number, Issued: seconds(s.Issued), Said: said{
		Format: Format, Hash: s.Hash[:], Entry: s.Entry, Size: s.Size, Root: s.Root[:], Made: seconds(s.Made),
		ShopName: s.ShopName, Report: s.Report, Supersedes: s.Supersedes, SupersededBy: s.SupersededBy,
		Item: s.Item, Claim: s.Claim, Metal: s.Metal, Finding: slices.Index(findings, s.Finding),
		Density: []int64{int64(s.Density.Digits), s.Density.Value}, Mass: []int64{int64(s.Mass.Digits), s.Mass.Value},
	}}
	if s.Density.U != 0 {
		c.Said.Density = append(c.Said.Density, s.Density.U)
	}
	if s.Claimed != (Number{}) {
		c.Said.Claimed = []int64{int64(s.Claimed.Digits), s.Claimed.Value}
	}
	if s.Low != (Number{}) || s.High != (Number{}) {
		c.Said.Fineness = []int64{int64(s.Low.Digits), s.Low.Value, s.High.Value}
	}
	for flag, set := range map[int]bool{flagSuspended: s.Suspended, flagApproved: s.Approved, flagDemo: s.Demo, flagCut: s.Cut} {
		if set {
			c.Said.Flags |= flag
		}
	}
	return c
}

// statement reads a claims set; false where it is none that Sign makes.
func (c *claims) statement() (s Statement, ok bool) {
	d := &c.Said
	numbers := func(list []int64, least, most int) bool {
		return len(list) >= least && len(list) <= most && list[0] >= 0 && list[0] <= 15
	}
	issued, ok1 := moment(c.Issued)
	made, ok2 := moment(d.Made)
	if !ok1 || !ok2 || len(d.Hash) != len(s.Hash) || len(d.Root) != len(s.Root) || d.Finding < 0 || d.Finding >= len(findings) || d.Flags&^flagsKnown != 0 ||
		!numbers(d.Density, 2, 3) || !numbers(d.Mass, 2, 2) || d.Claimed != nil && !numbers(d.Claimed, 2, 2) || d.Fineness != nil && !numbers(d.Fineness, 3, 3) {
		return s, false
	}
	s = Statement{
		Shop: c.Issuer, ShopName: d.ShopName, Number: c.Subject, Report: d.Report, Issued: issued, Made: made, Supersedes: d.Supersedes, SupersededBy: d.SupersededBy,
		Hash: [32]byte(d.Hash), Entry: d.Entry, Size: d.Size, Root: [20]byte(d.Root), Item: d.Item, Claim: d.Claim, Metal: d.Metal, Finding: findings[d.Finding],
		Density: Number{Digits: int(d.Density[0]), Value: d.Density[1]}, Mass: Number{Digits: int(d.Mass[0]), Value: d.Mass[1]},
		Suspended: d.Flags&flagSuspended != 0, Approved: d.Flags&flagApproved != 0, Demo: d.Flags&flagDemo != 0, Cut: d.Flags&flagCut != 0,
	}
	if len(d.Density) == 3 {
		s.Density.U = d.Density[2]
	}
	if d.Claimed != nil {
		s.Claimed = Number{Digits: int(d.Claimed[0]), Value: d.Claimed[1]}
	}
	if d.Fineness != nil {
		s.Low, s.High = Number{Digits: int(d.Fineness[0]), Value: d.Fineness[1]}, Number{Digits: int(d.Fineness[0]), Value: d.Fineness[2]}
	}
	return s, s.check() == nil
}

// check refuses what no proof can say.
func (s *Statement) check() error {
	for _, t := range []struct {
		what, text string
		must       bool
		most       int
	}{
		{"the shop's short name", s.Shop, true, maxShop}, {"the number of the record", s.Number, true, maxNumber}, {"the number of the report", s.Report, false, maxNumber},
		{"the number of the record before", s.Supersedes, false, maxNumber}, {"the number of the record after", s.SupersededBy, false, maxNumber}, {"the metal", s.Metal, false, 2},
	} {
		if t.must && t.text == "" || len(t.text) > t.most || !oneLine(t.text) {
			return fmt.Errorf("%s can't be %q: it has at most %d bytes", t.what, t.text, t.most)
		}
	}
	if !oneLine(s.ShopName) || !oneLine(s.Item) || !oneLine(s.Claim) {
		return errors.New("a text in it is not one line of letters")
	}
	switch {
	case s.Entry < 0 || s.Size <= s.Entry:
		return fmt.Errorf("the checkpoint of %d entries does not hold entry %d", s.Size, s.Entry)
	case seconds(s.Issued) < 0 || seconds(s.Made) < 0 || seconds(s.Issued) >= latest || seconds(s.Made) >= latest:
		return errors.New("its times are not between the years 1970 and 9999")
	case !slices.Contains(findings, s.Finding):
		return fmt.Errorf("there is no finding %q", s.Finding)
	case s.Low.Digits != s.High.Digits:
		return errors.New("the ends of the fineness have different digits")
	case s.Density.U < 0 || s.Mass.U != 0 || s.Claimed.U != 0 || s.Low.U != 0 || s.High.U != 0:
		return errors.New("only the density has an uncertainty")
	}
	for _, n := range []Number{s.Density, s.Mass, s.Claimed, s.Low, s.High} {
		if n.Digits < 0 || n.Digits > 15 || n.Value < 0 {
			return fmt.Errorf("%s is no amount", n)
		}
	}
	return nil
}

func oneLine(text string) bool {
	if !utf8.ValidString(text) {
		return false
	}
	for _, r := range text {
		if unicode.IsControl(r) {
			return false
		}
	}
	return true
}

// Opened is a proof whose signature holds.
type Opened struct {
	Statement Statement
	Key       Key // that it was signed with
}

// Open checks the text of a proof with the public keys that the reader trusts, and gives what it says.
// An error that is about the proof is an *Error.
func Open(text string, keys ...Key) (*Opened, error) {
	message, err := ParseText(text)
	if err != nil {
		return nil, err
	}
	return OpenMessage(message, keys...)
}

// OpenMessage is Open for the bytes of the message.
func OpenMessage(message []byte, keys ...Key) (*Opened, error) {
	payload, key, err := unseal(message, "proof", keys)
	if err != nil {
		return nil, err
	}
	// From here on the shop itself wrote it.
	strange := &Error{Newer, "the proof is signed, and says something that is not known here", "A newer program may read it."}
	var c claims
	if err := decoding.Unmarshal(payload, &c); err != nil || c.Said.Format != Format {
		return nil, strange
	}
	if again, err := encoding.Marshal(c); err != nil || !bytes.Equal(again, payload) {
		return nil, strange
	}
	s, ok := c.statement()
	if !ok {
		return nil, strange
	}
	if s.Shop != key.Shop {
		return nil, &Error{Forged, fmt.Sprintf("the proof says that it is of %s, and is signed with the key of %s", shown(s.Shop), shown(key.Shop)), "Do not rely on it, and ask both shops."}
	}
	return &Opened{Statement: s, Key: key}, nil
}
