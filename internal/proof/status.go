package proof

import (
	"bytes"
	"cmp"
	"crypto/ed25519"
	"encoding/base64"
	"fmt"
	"slices"
	"strings"
	"time"
)

// List says what became of a shop's records: those that were superseded or withdrawn. Every other
// record up to its size stands.
type List struct {
	Shop   string
	Issued time.Time // UTC, in whole seconds
	Size   int64     // entries of the log that it covers
	Root   [20]byte  // first 160 bits of the log's root at that size
	Rows   []Row     // by number
	Keys   []GivenUp // keys that were lost or may be in other hands
}

// GivenUp is a key by which the shop no longer stands.
type GivenUp struct {
	Mark  [4]byte   // as Key.Mark
	Since time.Time // when another key took its place, UTC, in whole seconds
}

// Row is one record, or one report, that no longer stands.
type Row struct {
	Number string
	State  string // Superseded or Withdrawn
	By     string // number of what took its place; "" for none
}

// What became of a record.
const (
	Superseded = "superseded"   // a correction took its place
	Withdrawn  = "withdrawn"    // the shop no longer stands by it, and nothing took its place
	Standing   = "standing"     // none of these, as the list at hand knows
	Unknown    = "unknown"      // no list at hand knows the record
	KeyGivenUp = "key given up" // the shop gave up the key: others may have signed with it
)

var rowStates = []string{Superseded, Withdrawn}

// maxRows is the largest number of rows that is read.
const maxRows = 1 << 20

// MaxList is the longest text of a list that is read, in bytes.
const MaxList = 64 << 20

const listPrefix = "WREATHLIST1:"

type listClaims struct {
	Issuer string   `cbor:"1,keyasint"`
	Issued int64    `cbor:"6,keyasint"`
	Said   listSaid `cbor:"-65538,keyasint"`
}

type listSaid struct {
	Format int       `cbor:"1,keyasint"`
	Size   int64     `cbor:"2,keyasint"`
	Root   []byte    `cbor:"3,keyasint"`
	Rows   []listRow `cbor:"4,keyasint"`
	Keys   []listKey `cbor:"5,keyasint,omitempty"`
}

type listKey struct {
	_     struct{} `cbor:",toarray"`
	Mark  []byte
	Since int64
}

type listRow struct {
	_      struct{} `cbor:",toarray"`
	Number string
	State  int
	By     string
}

// SignList makes the text of a signed list.
func SignList(l List, key ed25519.PrivateKey) (string, error) {
	if err := l.check(); err != nil {
		return "", fmt.Errorf("the status list: %w", err)
	}
	c := listClaims{Issuer: l.Shop, Issued: seconds(l.Issued), Said: listSaid{Format: Format, Size: l.Size, Root: l.Root[:], Rows: []listRow{}}}
	for _, r := range l.Rows {
		c.Said.Rows = append(c.Said.Rows, listRow{Number: r.Number, State: slices.Index(rowStates, r.State) + 1, By: r.By})
	}
	for _, k := range l.Keys {
		c.Said.Keys = append(c.Said.Keys, listKey{Mark: k.Mark[:], Since: seconds(k.Since)})
	}
	slices.SortFunc(c.Said.Rows, func(a, b listRow) int { return cmp.Compare(a.Number, b.Number) })
	message, err := seal(l.Shop, c, key)
	if err != nil {
		return "", err
	}
	return listPrefix + base64.RawURLEncoding.EncodeToString(message), nil
}

func (l *List) check() error {
	if l.Shop == "" || len(l.Shop) > maxShop || l.Size < 0 || seconds(l.Issued) < 0 || seconds(l.Issued) >= latest || len(l.Rows) > maxRows {
		return fmt.Errorf("shop %q, %d entries, %d rows and the time %s can't be told", l.Shop, l.Size, len(l.Rows), l.Issued.Format(time.RFC3339))
	}
	seen := map[string]bool{}
	for _, r := range l.Rows {
		if r.Number == "" || !oneLine(r.Number) || !oneLine(r.By) || !slices.Contains(rowStates, r.State) || (r.By == "") != (r.State == Withdrawn) || seen[r.Number] {
			return fmt.Errorf("the row of %q can't be told", r.Number)
		}
		seen[r.Number] = true
	}
	return nil
}

// IsList is true of a text that means to be a status list.
func IsList(text string) bool { return strings.HasPrefix(strings.TrimSpace(text), "WREATHLIST") }

// OpenList checks a status list with the public keys that the reader trusts. An error that is about
// the list is an *Error.
func OpenList(text string, keys ...Key) (*List, error) {
	rest, ours := strings.CutPrefix(strings.Join(strings.Fields(text), ""), listPrefix)
	if !ours {
		return nil, &Error{NoProof, "this is no status list", "It begins with " + listPrefix + " Take the file whole, as the shop gave it."}
	}
	message, err := base64.RawURLEncoding.Strict().DecodeString(rest)
	if err != nil {
		return nil, &Error{Damaged, "the status list is damaged: letters are missing or wrong", "Take the file whole, as the shop gave it."}
	}
	payload, key, err := unseal(message, "status list", keys)
	if err != nil {
		return nil, err
	}
	strange := &Error{Newer, "the status list is signed, and says something that is not known here", "A newer program may read it."}
	var c listClaims
	if err := decoding.Unmarshal(payload, &c); err != nil || c.Said.Format != Format || len(c.Said.Root) != 20 {
		return nil, strange
	}
	if again, err := encoding.Marshal(c); err != nil || !bytes.Equal(again, payload) {
		return nil, strange
	}
	issued, ok := moment(c.Issued)
	l := &List{Shop: c.Issuer, Issued: issued, Size: c.Said.Size, Root: [20]byte(c.Said.Root)}
	for _, r := range c.Said.Rows {
		if r.State < 1 || r.State > len(rowStates) {
			return nil, strange
		}
		l.Rows = append(l.Rows, Row{r.Number, rowStates[r.State-1], r.By})
	}
	for _, k := range c.Said.Keys {
		since, known := moment(k.Since)
		if len(k.Mark) != 4 || !known {
			return nil, strange
		}
		l.Keys = append(l.Keys, GivenUp{[4]byte(k.Mark), since})
	}
	if !ok || l.check() != nil || !slices.IsSortedFunc(l.Rows, func(a, b Row) int { return cmp.Compare(a.Number, b.Number) }) {
		return nil, strange
	}
	if l.Shop != key.Shop {
		return nil, &Error{Forged, fmt.Sprintf("the status list says that it is of %s, and is signed with the key of %s", shown(l.Shop), shown(key.Shop)), "Do not rely on it, and ask both shops."}
	}
	return l, nil
}

// Status is what is known of a record at the time of reading.
type Status struct {
	State string    // Superseded, Withdrawn, Standing, KeyGivenUp or Unknown
	By    string    // number of what took its place
	AsOf  time.Time // when that was known: the time of the list, or of the proof where none helps
	Older bool      // Unknown because the list was made before the record
	Since time.Time // KeyGivenUp: when the shop gave up the key
}

// StatusOf tells what became of the record of a proof. Without a list (nil) it is superseded where the
// proof says so itself, and otherwise unknown since the proof was made. A list of another shop is an
// error, and so is one that contradicts the proof: then the shop signed two different logs.
func StatusOf(o *Opened, l *List) (Status, error) {
	s := &o.Statement
	status := Status{State: Unknown, AsOf: s.Issued}
	if s.SupersededBy != "" {
		status.State, status.By = Superseded, s.SupersededBy
	}
	if l == nil {
		return status, nil
	}
	if l.Shop != s.Shop {
		return status, &Error{OtherShop, fmt.Sprintf("the status list is of %s, and the proof of %s", shown(l.Shop), shown(s.Shop)), "Give the list of the shop that made the proof."}
	}
	if l.Size == s.Size && l.Root != s.Root {
		return status, &Error{Contradict, fmt.Sprintf("proof and status list are of two different logs of %d entries", l.Size), "Keep both: the shop signed two different logs, and one of them was written anew."}
	}
	for _, name := range []string{s.Number, s.Report} {
		at, found := slices.BinarySearchFunc(l.Rows, name, func(r Row, name string) int { return cmp.Compare(r.Number, name) })
		if name != "" && found {
			return Status{State: l.Rows[at].State, By: l.Rows[at].By, AsOf: l.Issued}, nil
		}
	}
	for _, k := range l.Keys {
		if k.Mark == o.Key.Mark {
			return Status{State: KeyGivenUp, AsOf: l.Issued, Since: k.Since}, nil
		}
	}
	switch {
	case status.State == Superseded:
	case l.Size <= s.Entry:
		status.Older = true
	default:
		status.State, status.AsOf = Standing, l.Issued
		if s.Issued.After(l.Issued) { // the proof itself says that nothing had taken its place
			status.AsOf = s.Issued
		}
	}
	return status, nil
}
