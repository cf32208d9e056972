package ledger

import (
	"bytes"
	"slices"
	"testing"
	"time"

	"golang.org/x/mod/sumdb/tlog"
)

// follow runs a checker over a log.
func follow(c *Checker, raws [][]byte) error {
	for _, raw := range raws {
		if _, _, err := c.Add(raw); err != nil {
			return err
		}
	}
	return c.End()
}

func TestCheckerFollowsAGoodLog(t *testing.T) {
	for _, n := range []int{0, 1, 2, 40} {
		l := newLog(t, "demo", n)
		c := NewChecker("demo")
		grown := newLog(t, "demo", 0)
		for i := range n + 1 {
			if err := c.Expect("a checkpoint", grown.checkpoint()); err != nil {
				t.Fatal(err)
			}
			c.ExpectShort("a slip", grown.checkpoint().Short())
			if i < n {
				e, err := Decode(l.raws[i])
				if err != nil {
					t.Fatal(err)
				}
				grown.add(t, e)
			}
		}
		if err := follow(c, l.raws); err != nil {
			t.Errorf("%d entries: %v", n, err)
		}
		if c.Size() != int64(n) || c.Root() != l.tree.Root() || !bytes.Equal(c.Frontier(), l.tree.Frontier()) {
			t.Errorf("%d entries: ends at %d, %v", n, c.Size(), c.Root())
		}
	}
}

// changed encodes an entry of the log in another way.
func changed(t *testing.T, raw []byte, change func(e *Entry)) []byte {
	t.Helper()
	e, err := Decode(raw)
	if err != nil {
		t.Fatal(err)
	}
	change(&e)
	raw, err = e.Encode()
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

func TestCheckerFindsWhereALogIsBroken(t *testing.T) {
	const n = 20
	l := newLog(t, "demo", n)
	other := newLog(t, "other", n)
	with := func(i int, change func(e *Entry)) [][]byte {
		raws := slices.Clone(l.raws)
		raws[i] = changed(t, raws[i], change)
		return raws
	}
	for _, row := range []struct {
		name  string
		raws  [][]byte
		seq   int64
		words string
	}{
		{"deleted", slices.Delete(slices.Clone(l.raws), 7, 8), 7, "entry 8 stands in its place"},
		{"first deleted", l.raws[1:], 0, "entry 1 stands in its place"},
		{"reordered", slices.Concat(l.raws[:4], [][]byte{l.raws[5], l.raws[4]}, l.raws[6:]), 4, "entry 5 stands in its place"},
		{"inserted", slices.Concat(l.raws[:4], [][]byte{l.raws[3]}, l.raws[4:]), 4, "entry 3 stands in its place"},
		{"of another shop", slices.Concat(l.raws[:4], [][]byte{other.raws[4]}, l.raws[5:]), 4, `shop "other"`},
		{"the same mark", with(9, func(e *Entry) { e.Key = "key-3" }), 9, "the same mark as entry 3"},
		{"earlier without remark", with(9, func(e *Entry) { e.Time = start }), 9, "contradict"},
		{"remark without reason", with(9, func(e *Entry) { e.Clock = SetBack }), 9, "contradict"},
		{"first with remark", with(0, func(e *Entry) { e.Clock = SetBack }), 0, "contradict"},
		{"no entry", slices.Concat(l.raws[:4], [][]byte{[]byte("{}")}), 4, "one form"},
		{"other layout", slices.Concat(l.raws[:2], [][]byte{bytes.Replace(l.raws[2], []byte(`"wreath":1`), []byte(`"wreath":2`), 1)}), 2, "layout 2"},
	} {
		t.Run(row.name, func(t *testing.T) {
			wantBroken(t, follow(NewChecker("demo"), row.raws), row.seq, row.words)
		})
	}
}

// A clock may be set back if the entry says so, and the next one goes on from there.
func TestCheckerTakesAClockSetBack(t *testing.T) {
	l := newLog(t, "demo", 3)
	body := Document(`{}`)
	l.add(t, Entry{Head{Shop: "demo", Seq: 3, Time: start.Add(-time.Hour), Clock: SetBack, Kind: "x"}, body})
	l.add(t, Entry{Head{Shop: "demo", Seq: 4, Time: start.Add(-time.Minute), Kind: "x"}, body})
	if err := follow(NewChecker("demo"), l.raws); err != nil {
		t.Error(err)
	}
	// The year 0 comes before Go's first moment.
	early := newLog(t, "demo", 0)
	early.add(t, Entry{Head{Shop: "demo", Time: time.Date(0, 3, 1, 0, 0, 0, 0, time.UTC), Kind: "x"}, body})
	if err := follow(NewChecker("demo"), early.raws); err != nil {
		t.Error(err)
	}
}

func TestCheckerAgainstCheckpoints(t *testing.T) {
	l := newLog(t, "demo", 20)
	at12 := newLog(t, "demo", 12).checkpoint()

	// The tail is gone.
	c := NewChecker("demo")
	if err := c.Expect("the day sheet", at12); err != nil {
		t.Fatal(err)
	}
	wantBroken(t, follow(c, l.raws[:11]), -1, "the log ends after 11 entries, but the day sheet was made of 12")
	c = NewChecker("demo")
	c.ExpectShort("the slip", at12.Short())
	wantBroken(t, follow(c, nil), -1, "the log ends after 0 entries, but the slip was made of 12")

	// The whole log is written anew, in perfect order, with one word changed.
	forged := &log{shop: "demo", hashes: map[int64]tlog.Hash{}}
	for i, raw := range l.raws {
		e, err := Decode(raw)
		if err != nil {
			t.Fatal(err)
		}
		if i == 2 {
			e.Person = "somebody else"
		}
		forged.add(t, e)
	}
	if err := follow(NewChecker("demo"), forged.raws); err != nil {
		t.Fatalf("the forged log must be in order by itself: %v", err)
	}
	c = NewChecker("demo")
	c.ExpectShort("the slip of 2 November", at12.Short())
	wantBroken(t, follow(c, forged.raws), -1, "the first 12 entries are not those that the slip of 2 November was made of")
	c = NewChecker("demo")
	c.ExpectShort("a slip from before the change", newLog(t, "demo", 2).checkpoint().Short())
	if err := follow(c, forged.raws); err != nil {
		t.Errorf("a slip from before the change can't tell: %v", err)
	}

	// A lie about the empty log.
	c = NewChecker("demo")
	c.ExpectShort("the first slip", Short{})
	wantBroken(t, follow(c, l.raws), -1, "the first 0 entries")
	c = NewChecker("demo")
	c.ExpectShort("the first slip", Short{})
	wantBroken(t, follow(c, nil), -1, "the first 0 entries")

	wantBroken(t, NewChecker("other").Expect("the day sheet", at12), -1, "belongs to shop demo, not to other")
}
