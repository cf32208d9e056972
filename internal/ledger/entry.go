package ledger

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"
	"unicode/utf8"

	"golang.org/x/mod/sumdb/tlog"
)

// Format is the version of the bytes of an entry.
const Format = 1

// MaxEntry is the largest entry, in bytes.
const MaxEntry = 4 << 20

// Entry is one act, as it is kept.
type Entry struct {
	Head
	Body Document // what was done, as a JSON object
}

// Head is all of an entry but its body. The order of the fields is the order of its bytes.
type Head struct {
	Format  int       `json:"wreath"`            // version of this layout: 1
	Shop    string    `json:"shop"`              // whose log
	Seq     int64     `json:"seq"`               // place in the log, from 0 without gaps
	Time    time.Time `json:"time"`              // UTC, as the clock showed it
	Clock   string    `json:"clock,omitempty"`   // SetBack when the clock showed less than before
	Kind    string    `json:"kind"`              // what was done
	Subject string    `json:"subject,omitempty"` // what it was done to
	Person  string    `json:"person,omitempty"`  // who did it
	Station string    `json:"station,omitempty"` // where
	Key     string    `json:"key,omitempty"`     // the sender's own mark; the same mark never makes a second entry
	Request string    `json:"request,omitempty"` // SHA-256 of what was asked under that mark, in hex
}

// SetBack marks an entry whose clock showed an earlier time than the entry before it. The order of
// the entries is that of Seq, whatever the clocks showed.
const SetBack = "set back"

// Document is JSON that is kept byte for byte.
type Document = json.RawMessage

// ErrBroken is in every error that says that a log is not what it was.
var ErrBroken = errors.New("the log is broken")

// Broken says where a log is not what it was.
type Broken struct {
	Seq    int64 // the first entry at fault; -1 when it is no single entry
	Reason string
}

func (b *Broken) Error() string {
	if b.Seq < 0 {
		return b.Reason
	}
	return fmt.Sprintf("entry %d: %s", b.Seq, b.Reason)
}

// Is makes every Broken an ErrBroken.
func (b *Broken) Is(target error) bool { return target == ErrBroken }

// bodyMark stands between the head of an entry and its body. Quotation marks inside of a string are
// escaped, so it can't occur in the head.
const bodyMark = `,"body":`

// Encode gives the bytes of an entry. They are the same for the same entry, always. A body that is
// no JSON object in UTF-8 is refused, since its bytes could not be read or proved later.
func (e Entry) Encode() ([]byte, error) {
	head, err := e.head()
	if err != nil {
		return nil, err
	}
	if body := bytes.TrimLeft(e.Body, " \t\r\n"); len(body) == 0 || body[0] != '{' || !utf8.Valid(body) {
		return nil, fmt.Errorf("the body of entry %d is no JSON object in UTF-8", e.Seq)
	}
	out := bytes.NewBuffer(append(head, bodyMark...))
	if err := json.Compact(out, e.Body); err != nil {
		return nil, fmt.Errorf("encode the body of entry %d: %w", e.Seq, err)
	}
	out.WriteByte('}')
	if out.Len() > MaxEntry {
		return nil, fmt.Errorf("entry %d would have %d bytes; an entry has at most %d", e.Seq, out.Len(), MaxEntry)
	}
	return out.Bytes(), nil
}

// head encodes all but the body, without the closing brace.
func (e Entry) head() ([]byte, error) {
	e.Format, e.Time = Format, e.Time.UTC()
	var out bytes.Buffer
	w := json.NewEncoder(&out)
	w.SetEscapeHTML(false)
	if err := w.Encode(e.Head); err != nil {
		return nil, fmt.Errorf("encode entry %d: %w", e.Seq, err)
	}
	return bytes.TrimSuffix(out.Bytes(), []byte("}\n")), nil
}

// Decode reads the bytes of an entry. Bytes that Encode would not have written are refused, so one
// entry has one form.
func Decode(raw []byte) (Entry, error) {
	e, err := decodeHead(raw)
	if err != nil {
		return Entry{}, err
	}
	again, err := e.Encode()
	if err != nil {
		return Entry{}, err
	}
	if !bytes.Equal(again, raw) {
		return Entry{}, errOtherForm
	}
	return e, nil
}

var errOtherForm = errors.New("not in the one form that an entry has")

// decodeHead checks the form of the head only; who has the hash of the bytes need not look at the
// body to know that it is unchanged.
func decodeHead(raw []byte) (Entry, error) {
	head, body, found := bytes.Cut(raw, []byte(bodyMark))
	if !found || len(body) < 3 || body[0] != '{' || body[len(body)-1] != '}' {
		return Entry{}, errOtherForm
	}
	var e Entry
	// An unknown field does not come back below, so it need not be looked for here.
	if err := json.Unmarshal(append(slices.Clip(head), '}'), &e.Head); err != nil {
		return Entry{}, fmt.Errorf("no entry: %w", err)
	}
	if e.Format != Format {
		return Entry{}, fmt.Errorf("an entry of layout %d; this program reads layout %d", e.Format, Format)
	}
	e.Body = body[:len(body)-1]
	again, err := e.head()
	if err != nil {
		return Entry{}, err
	}
	if !bytes.Equal(again, head) {
		return Entry{}, errOtherForm
	}
	return e, nil
}

// LeafHash is the hash of the bytes of an entry as a leaf (RFC 6962, section 2.1).
func LeafHash(raw []byte) tlog.Hash { return tlog.RecordHash(raw) }
