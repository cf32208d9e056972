package ledger

import (
	"bytes"
	"crypto/ed25519"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"golang.org/x/mod/sumdb/tlog"
)

// start is when the invented logs of these tests begin.
var start = time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC)

// testKey makes the same key for the same shop and number.
func testKey(t testing.TB, shop string, number byte) (private, public string) {
	t.Helper()
	private, public, err := newKey(bytes.NewReader(bytes.Repeat([]byte{number}, 2*ed25519.SeedSize)), shop)
	if err != nil {
		t.Fatal(err)
	}
	return private, public
}

// log is an invented log with the hashes of its tree.
type log struct {
	shop   string
	raws   [][]byte
	tree   Tree
	hashes map[int64]tlog.Hash
}

func newLog(t testing.TB, shop string, n int) *log {
	t.Helper()
	l := &log{shop: shop, hashes: map[int64]tlog.Hash{}}
	for i := range n {
		l.add(t, Entry{
			Head: Head{Shop: shop, Seq: int64(i), Time: start.Add(time.Duration(i) * time.Minute), Kind: "weighed", Subject: fmt.Sprintf("item-%d", i/3), Person: "invented person", Key: fmt.Sprintf("key-%d", i)},
			Body: Document(fmt.Sprintf(`{"mass_g":"%d.25","note":"Ünze, \"demo\"  <only>"}`, i)),
		})
	}
	return l
}

func (l *log) add(t testing.TB, e Entry) {
	t.Helper()
	raw, err := e.Encode()
	if err != nil {
		t.Fatal(err)
	}
	l.raws = append(l.raws, raw)
	leaf := LeafHash(raw)
	l.hashes[tlog.StoredHashIndex(0, l.tree.Size())] = leaf
	for _, n := range l.tree.Add(leaf) {
		l.hashes[tlog.StoredHashIndex(n.Level, n.N)] = n.Hash
	}
}

// ReadHashes makes the log a tlog.HashReader.
func (l *log) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	var out []tlog.Hash
	for _, i := range indexes {
		h, ok := l.hashes[i]
		if !ok {
			return nil, fmt.Errorf("no hash %d", i)
		}
		out = append(out, h)
	}
	return out, nil
}

func (l *log) checkpoint() Checkpoint {
	return Checkpoint{Shop: l.shop, Size: l.tree.Size(), Root: l.tree.Root(), Time: start.Add(24 * time.Hour)}
}

func (l *log) signed(t testing.TB, private string) string {
	t.Helper()
	signed, err := l.checkpoint().Sign(private)
	if err != nil {
		t.Fatal(err)
	}
	return signed
}

// wantBroken fails unless the error is a Broken for that entry with these words in it.
func wantBroken(t testing.TB, err error, seq int64, words string) {
	t.Helper()
	var b *Broken
	switch {
	case !errors.As(err, &b) || !errors.Is(err, ErrBroken):
		t.Errorf("got %v, want a broken log", err)
	case b.Seq != seq || !strings.Contains(b.Error(), words):
		t.Errorf("got entry %d: %q, want entry %d and %q", b.Seq, b.Error(), seq, words)
	}
}
