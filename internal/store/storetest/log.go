package storetest

import (
	"fmt"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"wreath/internal/ledger"
	"wreath/internal/store"
)

func openOnce(t *testing.T, k Kind) {
	s := k.New(t).Open(t)
	if there, err := s.Exists(ctx, "demo"); err != nil || there {
		t.Errorf("a new store holds the log of demo: %v, %v", there, err)
	}
	if names, err := s.Shops(ctx); err != nil || len(names) != 0 {
		t.Errorf("a new store holds the shops %v, %v", names, err)
	}
	sh := begin(t, s, "demo")
	wantError(t, s.Write(ctx, "demo", func(tx *store.Tx) error { return tx.OpenLog(sh.public) }), nil, "has a log already")
	wantError(t, s.Write(ctx, "Demo Shop", func(tx *store.Tx) error { return tx.OpenLog(sh.public) }), nil, "can't name a shop")
	wantError(t, s.Write(ctx, "hill-road", func(tx *store.Tx) error { return tx.OpenLog(sh.public) }), nil, "belongs to wreath-log/demo")
	wantError(t, s.Write(ctx, "hill-road", func(tx *store.Tx) error { return tx.OpenLog("nonsense") }), nil, "public key")
	wantError(t, s.Write(ctx, "hill-road", func(tx *store.Tx) error {
		_, err := tx.Append(draft(0))
		return err
	}), store.ErrNotFound, `no log of a shop "hill-road"`)
	wantError(t, s.Write(ctx, "hill-road", func(tx *store.Tx) error {
		_, err := tx.Checkpoint(sh.private, "demo", start)
		return err
	}), store.ErrNotFound, `no log of a shop "hill-road"`)
	if there, err := s.Exists(ctx, "demo"); err != nil || !there {
		t.Errorf("the log of demo is not there: %v, %v", there, err)
	}
	if names, err := s.Shops(ctx); err != nil || !reflect.DeepEqual(names, []string{"demo"}) {
		t.Errorf("shops %v, %v", names, err)
	}
	if s.Name() != k.Name {
		t.Errorf("the store is called %s, want %s", s.Name(), k.Name)
	}
}

func entriesComeBack(t *testing.T, k Kind) {
	home := k.New(t)
	sh := begin(t, home.Open(t), "demo")
	const n = 2100 // more than two pages
	var kept []ledger.Entry
	for from := 0; from < n; from += 700 {
		sh.write(t, func(tx *store.Tx) error {
			kept = kept[:from]
			for i := from; i < from+700; i++ {
				d := draft(i)
				d.Time = d.Time.Add(1234 * time.Nanosecond)
				if i%7 == 0 {
					d.Key, d.Request = "", ""
				}
				e, err := tx.Append(d)
				if err != nil {
					return err
				}
				if size, err := tx.Size(); err != nil || size != int64(i+1) {
					return fmt.Errorf("size %d after entry %d: %v", size, i, err)
				}
				kept = append(kept, e)
			}
			return nil
		})
	}
	for i, e := range kept {
		want := draft(i)
		if e.Seq != int64(i) || e.Shop != "demo" || e.Kind != want.Kind || e.Subject != want.Subject || !e.Time.Equal(want.Time.Add(time.Microsecond)) {
			t.Fatalf("entry %d was kept as %+v", i, e.Head)
		}
	}
	compare := func(got ledger.Entry, i int) {
		t.Helper()
		want, err := kept[i].Encode()
		if err != nil {
			t.Fatal(err)
		}
		raw, err := got.Encode()
		if err != nil || string(raw) != string(want) {
			t.Fatalf("entry %d comes back as %s, %v, want %s", i, raw, err, want)
		}
	}
	// From another opening of the same database too.
	for _, s := range []*store.Store{sh.store, home.Open(t)} {
		sh := shop{sh.name, sh.private, sh.public, s}
		sh.read(t, func(tx *store.Tx) error {
			for _, from := range []int{0, 1, 999, 1000, 1001, n - 1, n} {
				i := from
				for e, err := range tx.Entries(int64(from)) {
					if err != nil {
						return err
					}
					compare(e, i)
					i++
				}
				if i != n {
					t.Errorf("entries from %d end at %d, want %d", from, i, n)
				}
			}
			for e, err := range tx.Entries(5) { // a loop that ends early
				if err != nil {
					return err
				}
				compare(e, 5)
				break
			}
			i := 0
			for e, err := range tx.Of("item-4") {
				if err != nil {
					return err
				}
				compare(e, 12+i)
				i++
			}
			if i != 3 {
				t.Errorf("%d entries about one item, want 3", i)
			}
			e, err := tx.Entry(1700)
			if err != nil {
				return err
			}
			compare(e, 1700)
			_, err = tx.Entry(n)
			wantError(t, err, store.ErrNotFound, "has no entry 2100")
			_, err = tx.Raw(-1)
			wantError(t, err, store.ErrNotFound, "has no entry -1")
			if size, err := tx.Size(); err != nil || size != n {
				t.Errorf("size %d, %v, want %d", size, err, n)
			}
			if key, err := tx.PublicKey(); err != nil || key != sh.public {
				t.Errorf("public key %q, %v", key, err)
			}
			if tx.Shop() != "demo" {
				t.Errorf("shop %q", tx.Shop())
			}
			_, err = tx.Append(draft(0))
			wantError(t, err, nil, "")
			return nil
		})
	}
	sh.verify(t)
}

func marks(t *testing.T, k Kind) {
	sh := begin(t, k.New(t).Open(t), "demo")
	sh.grow(t, 0, 5)
	sh.write(t, func(tx *store.Tx) error {
		e, found, err := tx.Earlier("key-3", "asked-3")
		if err != nil || !found || e.Seq != 3 {
			t.Errorf("key-3: entry %d, %v, %v", e.Seq, found, err)
		}
		_, found, err = tx.Earlier("key-3", "something else")
		wantError(t, err, store.ErrConflict, `"key-3" belongs to entry 3, "weighed"`)
		if !found {
			t.Error("a conflict is not found")
		}
		if _, found, err := tx.Earlier("key-9", "asked-9"); err != nil || found {
			t.Errorf("key-9: %v, %v", found, err)
		}
		return nil
	})
	if e, err := sh.store.Lookup(ctx, "demo", "key-4"); err != nil || e.Seq != 4 {
		t.Errorf("looked up key-4: %d, %v", e.Seq, err)
	}
	_, err := sh.store.Lookup(ctx, "demo", "key-5")
	wantError(t, err, store.ErrNotFound, "")
	// Without looking first, the database refuses the second one.
	wantError(t, sh.store.Write(ctx, "demo", func(tx *store.Tx) error {
		_, err := tx.Append(draft(4))
		return err
	}), nil, "")
	if r := sh.verify(t); r.Entries != 5 {
		t.Errorf("%d entries, want 5", r.Entries)
	}
	one, err := store.Digest(map[string]int{"a": 1, "b": 2})
	if err != nil || len(one) != 64 {
		t.Fatal(one, err)
	}
	for _, other := range []any{map[string]int{"a": 1, "b": 3}, nil, "a"} {
		if two, err := store.Digest(other); err != nil || two == one {
			t.Errorf("%v has the digest of another request: %v", other, err)
		}
	}
	if _, err := store.Digest(func() {}); err == nil {
		t.Error("a function has a digest")
	}
}

// sameMarkAtOnce sends the same requests from eight sides, as impatient clients do.
func sameMarkAtOnce(t *testing.T, k Kind) {
	home := k.New(t)
	sh := begin(t, home.Open(t), "demo")
	stores := []*store.Store{sh.store, home.Open(t)}
	const requests = 20
	var wg sync.WaitGroup
	seqs := make([][requests]int64, 8)
	for side := range seqs {
		wg.Go(func() {
			for i := range requests {
				err := stores[side%2].Write(ctx, "demo", func(tx *store.Tx) error {
					d := draft(i)
					e, found, err := tx.Earlier(d.Key, d.Request)
					if err == nil && !found {
						e, err = tx.Append(d)
					}
					seqs[side][i] = e.Seq
					return err
				})
				if err != nil {
					t.Errorf("side %d, request %d: %v", side, i, err)
				}
			}
		})
	}
	wg.Wait()
	for side := range seqs {
		if seqs[side] != seqs[0] {
			t.Errorf("side %d was told entries %v, side 0 %v", side, seqs[side], seqs[0])
		}
	}
	if r := sh.verify(t); r.Entries != requests {
		t.Errorf("%d requests made %d entries", requests, r.Entries)
	}
}

func clockSetBack(t *testing.T, k Kind) {
	sh := begin(t, k.New(t).Open(t), "demo")
	steps := []time.Duration{0, time.Hour, time.Hour - time.Microsecond, time.Hour - time.Nanosecond, time.Hour, -400 * 24 * time.Hour, 24 * time.Hour, time.Minute}
	want := []string{"", "", ledger.SetBack, "", "", ledger.SetBack, "", ledger.SetBack}
	for i, step := range steps {
		sh.write(t, func(tx *store.Tx) error {
			d := draft(i)
			d.Time, d.Clock = start.Add(step), "what the caller says does not count"
			e, err := tx.Append(d)
			if err == nil && e.Clock != want[i] {
				t.Errorf("entry %d at %s: remark %q, want %q", i, step, e.Clock, want[i])
			}
			return err
		})
	}
	r := sh.verify(t)
	if !reflect.DeepEqual(r.ClockSet, []int64{2, 5, 7}) {
		t.Errorf("clocks set back at %v", r.ClockSet)
	}
	if !r.Last.Equal(start.Add(time.Minute)) {
		t.Errorf("last entry at %s", r.Last)
	}
	// The far ends of time, and a clock before 1970.
	for i, at := range []time.Time{time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(1969, 1, 1, 0, 0, 0, 1000, time.UTC), time.Date(1, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(9999, 12, 31, 23, 59, 59, 0, time.UTC), {}} {
		sh.write(t, func(tx *store.Tx) error {
			d := draft(100 + i)
			d.Time = at
			_, err := tx.Append(d)
			return err
		})
	}
	sh.verify(t)
}

func refusals(t *testing.T, k Kind) {
	sh := begin(t, k.New(t).Open(t), "demo")
	sh.grow(t, 0, 2)
	for _, row := range []struct {
		name   string
		change func(e *ledger.Entry)
		words  string
	}{
		{"long kind", func(e *ledger.Entry) { e.Kind = strings.Repeat("k", 257) }, "at most 256 bytes"},
		{"long mark", func(e *ledger.Entry) { e.Key = strings.Repeat("k", 257) }, "at most 256 bytes"},
		{"bytes that are no text", func(e *ledger.Entry) { e.Subject = "a\xffb" }, "UTF-8"},
		{"zero byte", func(e *ledger.Entry) { e.Person = "a\x00b" }, "zero byte"},
		{"no body", func(e *ledger.Entry) { e.Body = nil }, "no JSON object"},
		{"body a list", func(e *ledger.Entry) { e.Body = ledger.Document(`[]`) }, "no JSON object"},
		{"half a body", func(e *ledger.Entry) { e.Body = ledger.Document(`{"a":`) }, "body of entry 2"},
		{"body no text", func(e *ledger.Entry) { e.Body = ledger.Document("{\"a\":\"\xff\"}") }, "UTF-8"},
		{"huge body", func(e *ledger.Entry) {
			e.Body = ledger.Document(`{"a":"` + strings.Repeat("x", ledger.MaxEntry) + `"}`)
		}, "at most 4194304"},
		{"year 10000", func(e *ledger.Entry) { e.Time = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC) }, "entry 2"},
	} {
		d := draft(7)
		row.change(&d)
		err := sh.store.Write(ctx, "demo", func(tx *store.Tx) error {
			_, err := tx.Append(d)
			return err
		})
		if err == nil || !strings.Contains(err.Error(), row.words) {
			t.Errorf("%s: %v, want an error with %q", row.name, err, row.words)
		}
	}
	// The largest and the strangest that can be kept.
	sh.write(t, func(tx *store.Tx) error {
		d := draft(7)
		d.Kind, d.Subject, d.Person = strings.Repeat("ü", 128), `,"body":{"`+"\u2028\x01\n'\"", "; drop table entry"
		d.Body = ledger.Document(`{"a":"` + strings.Repeat("x", ledger.MaxEntry-2000) + `","b":"\u0000"}`)
		_, err := tx.Append(d)
		return err
	})
	sh.read(t, func(tx *store.Tx) error {
		e, err := tx.ByKey("key-7")
		if err == nil && (e.Person != "; drop table entry" || len(e.Body) < ledger.MaxEntry-2000) {
			t.Errorf("came back as %+v", e.Head)
		}
		return err
	})
	if r := sh.verify(t); r.Entries != 3 {
		t.Errorf("%d entries, want 3", r.Entries)
	}
}

// proofs proves entries and any two states from the hashes in the database.
func proofs(t *testing.T, k Kind) {
	sh := begin(t, k.New(t).Open(t), "demo")
	var cps []ledger.Checkpoint
	for n := range 40 {
		if n > 0 {
			sh.grow(t, n-1, n)
		}
		_, cp := sh.seal(t, "test")
		if cp.Size != int64(n) {
			t.Fatalf("the checkpoint after %d entries says %d", n, cp.Size)
		}
		cps = append(cps, cp)
	}
	sh.read(t, func(tx *store.Tx) error {
		hashes := tx.Hashes()
		for i, older := range cps {
			for _, newer := range cps[i:] {
				var proof tlog.TreeProof
				var err error
				if older.Size > 0 {
					if proof, err = tlog.ProveTree(newer.Size, older.Size, hashes); err != nil {
						return err
					}
				}
				if err := ledger.Extends(older, newer, proof); err != nil {
					t.Errorf("%d to %d: %v", older.Size, newer.Size, err)
				}
			}
		}
		last := cps[len(cps)-1]
		for seq := range last.Size {
			raw, err := tx.Raw(seq)
			if err != nil {
				return err
			}
			proof, err := tlog.ProveRecord(last.Size, seq, hashes)
			if err != nil {
				return err
			}
			if err := tlog.CheckRecord(proof, last.Size, last.Root, seq, ledger.LeafHash(raw)); err != nil {
				t.Errorf("entry %d: %v", seq, err)
			}
		}
		if root, err := tlog.TreeHash(last.Size, hashes); err != nil || root != last.Root {
			t.Errorf("the stored hashes lead to %v, %v, want %v", root, err, last.Root)
		}
		if _, err := tlog.ProveRecord(last.Size+5, last.Size+1, hashes); err == nil {
			t.Error("an entry that is not there is proved")
		}
		return nil
	})
}

func checkpoints(t *testing.T, k Kind) {
	sh := begin(t, k.New(t).Open(t), "demo")
	first, _ := sh.seal(t, "day")
	sh.grow(t, 0, 4)
	second, cp := sh.seal(t, "day")
	third, _ := sh.seal(t, "report")
	var again string
	sh.write(t, func(tx *store.Tx) (err error) {
		again, err = tx.Checkpoint(sh.private, "day", start.Add(99*time.Hour))
		return err
	})
	if again != second {
		t.Error("the same state was sealed twice for the same reason")
	}
	sh.read(t, func(tx *store.Tx) error {
		got, err := tx.Checkpoints(0)
		if want := []store.Kept{{Size: 0, Reason: "day", Signed: first}, {Size: 4, Reason: "day", Signed: second}, {Size: 4, Reason: "report", Signed: third}}; err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("kept %v, %v, want %v", got, err, want)
		}
		got, err = tx.Checkpoints(1)
		if err != nil || len(got) != 2 {
			t.Errorf("covering one entry: %v, %v", got, err)
		}
		for size, want := range []string{first, second, second, second, second} {
			if k, err := tx.Covering(int64(size)); err != nil || k.Signed != want {
				t.Errorf("the first checkpoint of %d entries is %v, %v", size, k, err)
			}
		}
		if k, err := tx.Covering(5); err != nil || k != (store.Kept{}) {
			t.Errorf("no checkpoint has 5 entries, found %v, %v", k, err)
		}
		return nil
	})
	other, _, err := ledger.NewKey("hill-road")
	if err != nil {
		t.Fatal(err)
	}
	wantError(t, sh.store.Write(ctx, "demo", func(tx *store.Tx) error {
		_, err := tx.Checkpoint(other, "other", start)
		return err
	}), nil, "belongs to wreath-log/hill-road")
	short := cp.Short()
	r := sh.verify(t, store.Expectation{Name: "a day sheet", Checkpoint: &cp}, store.Expectation{Name: "a slip", Short: &short})
	if r.Checkpoints != 3 || r.Root != cp.Root {
		t.Errorf("report %+v", r)
	}
}

func verifyGood(t *testing.T, k Kind) {
	s := k.New(t).Open(t)
	_, err := s.Verify(ctx, "demo", nil, nil, nil)
	wantError(t, err, store.ErrNotFound, `no log of a shop "demo"`)
	sh := begin(t, s, "demo")
	if r := sh.verify(t); r.Entries != 0 || r.Shop != "demo" {
		t.Errorf("the empty log: %+v", r)
	}
	sizes := []int{1, 2, 3, 7, 8, 999, 1000, 1001, 2000}
	if testing.Short() {
		sizes = sizes[:5]
	}
	grown := 0
	for _, size := range sizes {
		sh.grow(t, grown, size)
		grown = size
		sh.write(t, func(tx *store.Tx) error {
			_, err := tx.Attach(fmt.Appendf(nil, "picture after %d", size))
			return err
		})
		var done []int64
		r, err := sh.store.Verify(ctx, "demo", nil, nil, func(n, of int64) {
			done = append(done, n)
			if of != int64(size) {
				t.Errorf("progress to %d, want %d", of, size)
			}
		})
		if err != nil || r.Entries != int64(size) || done[len(done)-1] != int64(size) {
			t.Errorf("%d entries: %+v, %v, progress %v", size, r, err, done)
		}
		_, cp := sh.seal(t, "test")
		if r := sh.verify(t); r.Root != cp.Root {
			t.Errorf("%d entries: root %v, sealed %v", size, r.Root, cp.Root)
		}
	}
	if r := sh.verify(t); r.Attachments != len(sizes) || r.Checkpoints != len(sizes) {
		t.Errorf("report %+v, want %d attachments and checkpoints", r, len(sizes))
	}
	_, stranger, err := ledger.NewKey("demo")
	if err != nil {
		t.Fatal(err)
	}
	_, err = s.Verify(ctx, "demo", []string{stranger}, nil, nil)
	wantBroken(t, err, -1, "none of those that are trusted")
	if _, err := s.Verify(ctx, "demo", []string{stranger, sh.public + "\n"}, nil, nil); err != nil {
		t.Errorf("two trusted keys: %v", err)
	}
}
