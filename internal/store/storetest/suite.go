package storetest

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/store"
)

// Home is one database that a store lives in.
type Home interface {
	// Open opens the store; it is closed after the test.
	Open(t testing.TB) *store.Store
	// Raw opens the same database beside the store, as somebody who goes around this program does.
	Raw(t testing.TB) *sql.DB
	// Unlock takes the guards of the log away from what is written over that connection.
	Unlock(t testing.TB, raw *sql.DB)
}

// Kind makes empty homes of one kind.
type Kind struct {
	Name string
	New  func(t testing.TB) Home
}

// Run runs the whole suite on one kind of store.
func Run(t *testing.T, k Kind) {
	for _, test := range []struct {
		name string
		run  func(t *testing.T, k Kind)
	}{
		{"a log is opened once", openOnce},
		{"entries come back", entriesComeBack},
		{"marks and conflicts", marks},
		{"the same mark from eight sides", sameMarkAtOnce},
		{"a clock set back", clockSetBack},
		{"refusals", refusals},
		{"proofs", proofs},
		{"checkpoints", checkpoints},
		{"verify", verifyGood},
		{"things", things},
		{"secrets", secrets},
		{"attachments", attachments},
		{"words", words},
		{"find", find},
		{"find pages", findPages},
		{"guards", guards},
		{"two shops", twoShops},
		{"a read sees one state", oneState},
		{"a failed write leaves nothing", failedWrite},
		{"a write is tried again", triedAgain},
		{"three counters of each of five shops", func(t *testing.T, k Kind) { Counters(t, k.New(t).Open(t), 5, 6) }},
		{"cancelled", cancelled},
		{"cancelled at any moment", cancelledAnywhere},
		{"every bit of the log", everyBit},
		{"rows changed", rowsChanged},
		{"rolled back", rolledBack},
		{"written anew with the shop's key", writtenAnew},
	} {
		t.Run(test.name, func(t *testing.T) { test.run(t, k) })
	}
}

// start is when the invented logs begin.
var start = time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC)

// shop is an invented shop with its log.
type shop struct {
	name            string
	private, public string
	store           *store.Store
}

var ctx = context.Background()

// begin opens the log of a new shop.
func begin(t testing.TB, s *store.Store, name string) shop {
	t.Helper()
	private, public, err := ledger.NewKey(name)
	if err != nil {
		t.Fatal(err)
	}
	sh := shop{name, private, public, s}
	sh.write(t, func(tx *store.Tx) error { return tx.OpenLog(public) })
	return sh
}

func (sh shop) write(t testing.TB, do func(tx *store.Tx) error) {
	t.Helper()
	if err := sh.store.Write(ctx, sh.name, do); err != nil {
		t.Fatal(err)
	}
}

func (sh shop) read(t testing.TB, do func(tx *store.Tx) error) {
	t.Helper()
	if err := sh.store.Read(ctx, sh.name, do); err != nil {
		t.Fatal(err)
	}
}

// draft is the n-th invented entry.
func draft(n int) ledger.Entry {
	return ledger.Entry{
		Head: ledger.Head{
			Kind: "weighed", Subject: fmt.Sprintf("item-%d", n/3), Person: "invented person", Station: "bench",
			Key: fmt.Sprintf("key-%d", n), Request: fmt.Sprintf("asked-%d", n), Time: start.Add(time.Duration(n) * time.Minute),
		},
		Body: ledger.Document(fmt.Sprintf(`{"mass_g": "%d.250", "note": "Ünze <demo>"}`, n)),
	}
}

// grow appends the entries from one number on and before another, in one write.
func (sh shop) grow(t testing.TB, from, before int) {
	t.Helper()
	sh.write(t, func(tx *store.Tx) error {
		for n := from; n < before; n++ {
			if _, err := tx.Append(draft(n)); err != nil {
				return err
			}
		}
		return nil
	})
}

// seal keeps a checkpoint of the present state and gives it.
func (sh shop) seal(t testing.TB, reason string) (signed string, cp ledger.Checkpoint) {
	t.Helper()
	sh.write(t, func(tx *store.Tx) (err error) {
		signed, err = tx.Checkpoint(sh.private, reason, start.Add(time.Hour))
		return err
	})
	cp, err := ledger.OpenCheckpoint(signed, sh.public)
	if err != nil {
		t.Fatal(err)
	}
	return signed, cp
}

// verify fails unless the log is in order.
func (sh shop) verify(t testing.TB, expected ...store.Expectation) store.Report {
	t.Helper()
	r, err := sh.store.Verify(ctx, sh.name, []string{sh.public}, expected, nil)
	if err != nil {
		t.Fatalf("verify %s: %v", sh.name, err)
	}
	return r
}

// wantBroken fails unless the error says that the log is broken at an entry, with these words; an
// entry of -2 is any.
func wantBroken(t testing.TB, err error, seq int64, words string) {
	t.Helper()
	var b *ledger.Broken
	switch {
	case !errors.As(err, &b):
		t.Errorf("got %v, want a broken log (%s)", err, words)
	case seq != -2 && b.Seq != seq || !strings.Contains(b.Error(), words):
		t.Errorf("got entry %d: %q, want entry %d and %q", b.Seq, b.Error(), seq, words)
	}
}

// wantError fails unless the error is there, is the target (if any), and has these words.
func wantError(t testing.TB, err, target error, words string) {
	t.Helper()
	if err == nil || target != nil && !errors.Is(err, target) || !strings.Contains(err.Error(), words) {
		t.Errorf("got error %v, want one with %q", err, words)
	}
}

// exec runs a statement on a raw connection.
func exec(t testing.TB, db *sql.DB, statement string, args ...any) {
	t.Helper()
	if _, err := db.ExecContext(ctx, statement, args...); err != nil {
		t.Fatalf("%s: %v", statement, err)
	}
}
