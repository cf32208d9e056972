package storetest

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"wreath/internal/store"
)

// guards: the database itself refuses to change the log, whoever asks.
func guards(t *testing.T, k Kind) {
	home := k.New(t)
	sh := begin(t, home.Open(t), "demo")
	sh.grow(t, 0, 4)
	sh.seal(t, "test")
	raw := home.Raw(t)
	statements := []string{
		`update entry set kind = 'changed' where seq = 1`,
		`update entry set raw = raw`,
		`update entry set shop = 'other'`,
		`delete from entry where seq = 3`,
		`delete from entry`,
		`update node set hash = hash where id = 2`,
		`delete from node`,
		`update checkpoint set reason = 'other'`,
		`delete from checkpoint`,
		`update shop set size = size - 1`,
		`update shop set shop = 'other'`,
		`delete from shop`,
	}
	if k.Name == "postgres" {
		statements = append(statements, `truncate entry`, `truncate node`, `truncate checkpoint`, `truncate shop`, `truncate shop, entry, node, checkpoint cascade`)
	} else {
		statements = append(statements,
			`insert or replace into entry (shop, seq, at, kind, subject, person, key, leaf, raw) select shop, seq, at, 'changed', subject, person, key, leaf, raw from entry where seq = 1`,
			`insert or replace into node (shop, id, hash) select shop, id, x'00' from node`,
			`insert or replace into checkpoint (shop, size, reason, signed) select shop, size, reason, 'changed' from checkpoint`,
			`insert or replace into shop (shop, public_key, size, frontier, last_time) select shop, public_key, 0, x'', 0 from shop`,
			`update or replace entry set seq = 0 where seq = 1`)
	}
	for _, statement := range statements {
		if _, err := raw.ExecContext(ctx, statement); err == nil {
			t.Errorf("the database did it: %s", statement)
		} else if !strings.Contains(err.Error(), "never") {
			t.Errorf("%s: refused for another reason: %v", statement, err)
		}
	}
	if r := sh.verify(t); r.Entries != 4 || r.Checkpoints != 1 {
		t.Errorf("afterwards: %+v", r)
	}
}

func twoShops(t *testing.T, k Kind) {
	s := k.New(t).Open(t)
	a, b := begin(t, s, "river-street"), begin(t, s, "hill-road")
	for i := range 12 {
		a.grow(t, i, i+1)
		if i%2 == 0 {
			b.grow(t, i/2, i/2+1) // the same marks
		}
	}
	a.write(t, func(tx *store.Tx) error {
		return errors.Join(tx.Put("tray", "t", 1, "a"), tx.PutSecret("key", "s", []byte("a")))
	})
	hash := ""
	a.write(t, func(tx *store.Tx) (err error) {
		hash, err = tx.Attach([]byte("picture"))
		return err
	})
	if a, b := a.verify(t), b.verify(t); a.Entries != 12 || b.Entries != 6 || a.Root == b.Root || b.Attachments != 0 {
		t.Errorf("reports %+v and %+v", a, b)
	}
	b.read(t, func(tx *store.Tx) error {
		_, err := tx.Get("tray", "t", new(string))
		wantError(t, err, store.ErrNotFound, "")
		_, err = tx.Secret("key", "s")
		wantError(t, err, store.ErrNotFound, "")
		_, err = tx.Attachment(hash)
		wantError(t, err, store.ErrNotFound, "")
		_, err = tx.ByKey("key-9")
		wantError(t, err, store.ErrNotFound, "")
		_, err = tx.Entry(9)
		wantError(t, err, store.ErrNotFound, "")
		return nil
	})
	b.write(t, func(tx *store.Tx) error {
		return errors.Join(tx.Clear(), tx.DropSecret("key", "s"), tx.Remove("tray", "t"))
	})
	a.read(t, func(tx *store.Tx) error {
		_, err := tx.Get("tray", "t", new(string))
		_, err2 := tx.Secret("key", "s")
		return errors.Join(err, err2)
	})
	if names, err := s.Shops(ctx); err != nil || fmt.Sprint(names) != "[hill-road river-street]" {
		t.Errorf("shops %v, %v", names, err)
	}
}

// oneState reads while a writer writes.
func oneState(t *testing.T, k Kind) {
	sh := begin(t, k.New(t).Open(t), "demo")
	sh.grow(t, 0, 10)
	count := func(tx *store.Tx) (n int) {
		for _, err := range tx.Entries(0) {
			if err != nil {
				t.Error(err)
			}
			n++
		}
		return n
	}
	sh.read(t, func(tx *store.Tx) error {
		if _, err := tx.Size(); err != nil {
			return err
		}
		written := make(chan error)
		go func() {
			written <- sh.store.Write(ctx, "demo", func(tx *store.Tx) error {
				_, err := tx.Append(draft(10))
				return errors.Join(err, tx.Put("tray", "t", 10, "new"))
			})
		}()
		if err := <-written; err != nil {
			return err
		}
		size, err := tx.Size()
		if n := count(tx); err != nil || size != 10 || n != 10 {
			t.Errorf("a read that began before sees %d and %d entries, %v", size, n, err)
		}
		_, err = tx.Get("tray", "t", new(string))
		wantError(t, err, store.ErrNotFound, "")
		return nil
	})
	sh.read(t, func(tx *store.Tx) error {
		if n := count(tx); n != 11 {
			t.Errorf("the next read sees %d entries, want 11", n)
		}
		return nil
	})
	// A read writes nothing, even when it tries.
	wantError(t, sh.store.Read(ctx, "demo", func(tx *store.Tx) error { return tx.Put("tray", "u", 1, "x") }), nil, "nothing is written")
}

func failedWrite(t *testing.T, k Kind) {
	sh := begin(t, k.New(t).Open(t), "demo")
	sh.grow(t, 0, 3)
	before := sh.verify(t)
	no := errors.New("no")
	everything := func(tx *store.Tx) error {
		if _, err := tx.Append(draft(3)); err != nil {
			return err
		}
		if _, err := tx.Append(draft(4)); err != nil {
			return err
		}
		_, err := tx.Checkpoint(sh.private, "never", start)
		_, err2 := tx.Attach([]byte("never"))
		return errors.Join(err, err2, tx.Put("tray", "t", 3, "never"), tx.PutSecret("key", "s", []byte("never")),
			tx.PutDetermination(store.Determination{ID: "d", Seq: 4}, "never"))
	}
	wantError(t, sh.store.Write(ctx, "demo", func(tx *store.Tx) error {
		if err := everything(tx); err != nil {
			return err
		}
		return no
	}), no, "no")
	func() { // a do that panics
		defer func() {
			if recover() == nil {
				t.Error("the panic is swallowed")
			}
		}()
		sh.store.Write(ctx, "demo", func(tx *store.Tx) error {
			if err := everything(tx); err != nil {
				return err
			}
			panic("in the middle")
		})
	}()
	sh.read(t, func(tx *store.Tx) error {
		_, err := tx.Get("tray", "t", new(string))
		wantError(t, err, store.ErrNotFound, "")
		_, err = tx.Secret("key", "s")
		wantError(t, err, store.ErrNotFound, "")
		_, err = tx.Determination("d")
		wantError(t, err, store.ErrNotFound, "")
		return nil
	})
	if after := sh.verify(t); after.Root != before.Root || after.Entries != 3 || after.Checkpoints != 0 || after.Attachments != 0 {
		t.Errorf("left behind: %+v", after)
	}
	sh.grow(t, 3, 5)
	if r := sh.verify(t); r.Entries != 5 {
		t.Errorf("%d entries, want 5", r.Entries)
	}
}

// triedAgain: an act whose statement fails is not tried again, and not kept in part.
func triedAgain(t *testing.T, k Kind) {
	sh := begin(t, k.New(t).Open(t), "demo")
	sh.grow(t, 0, 2)
	runs := 0
	err := sh.store.Write(ctx, "demo", func(tx *store.Tx) error {
		runs++
		_, err := tx.Append(draft(2))
		if err != nil {
			return err
		}
		_, err = tx.Append(draft(1)) // its mark is taken
		return err
	})
	if err == nil || runs != 1 {
		t.Errorf("%v after %d runs", err, runs)
	}
	if r := sh.verify(t); r.Entries != 2 {
		t.Errorf("%d entries, want 2", r.Entries)
	}
}

func cancelled(t *testing.T, k Kind) {
	sh := begin(t, k.New(t).Open(t), "demo")
	gone, cancel := context.WithCancel(ctx)
	cancel()
	wantError(t, sh.store.Write(gone, "demo", func(tx *store.Tx) error { return nil }), context.Canceled, "")
	wantError(t, sh.store.Read(gone, "demo", func(tx *store.Tx) error { return nil }), context.Canceled, "")
	for name, after := range map[string]int{"before the entry": 0, "behind the entry": 1} {
		middle, cancel := context.WithCancel(ctx)
		err := sh.store.Write(middle, "demo", func(tx *store.Tx) error {
			for i := range 2 {
				if i == after {
					cancel()
				}
				if _, err := tx.Append(draft(i)); err != nil {
					return err
				}
			}
			return nil
		})
		if !errors.Is(err, context.Canceled) {
			t.Errorf("%s: %v, want it cancelled", name, err)
		}
		cancel()
	}
	middle, cancel := context.WithCancel(ctx)
	err := sh.store.Write(middle, "demo", func(tx *store.Tx) error {
		_, err := tx.Append(draft(0))
		cancel()
		return err
	})
	wantError(t, err, context.Canceled, "")
	if r := sh.verify(t); r.Entries != 0 {
		t.Errorf("a cancelled act left %d entries", r.Entries)
	}
	_, err = sh.store.Verify(middle, "demo", nil, nil, nil)
	wantError(t, err, context.Canceled, "")
}

// cancelledAnywhere: what was acknowledged is there; what was refused is not, unless the store says
// that it doesn't know.
func cancelledAnywhere(t *testing.T, k Kind) {
	sh := begin(t, k.New(t).Open(t), "demo")
	random := rand.New(rand.NewPCG(7, 8))
	kept, lost := 0, 0
	for i := range 150 {
		d := draft(i)
		soon, cancel := context.WithTimeout(ctx, time.Duration(random.IntN(3000))*time.Microsecond)
		err := sh.store.Write(soon, "demo", func(tx *store.Tx) error {
			_, err := tx.Append(d)
			return err
		})
		cancel()
		_, look := sh.store.Lookup(ctx, "demo", d.Key)
		switch {
		case look != nil && !errors.Is(look, store.ErrNotFound):
			t.Fatal(look)
		case err == nil && look != nil:
			t.Errorf("act %d was acknowledged and is not there", i)
		case err != nil && look == nil && !errors.Is(err, store.ErrUnknown):
			t.Errorf("act %d is there after %v", i, err)
		case look == nil:
			kept++
		default:
			lost++
		}
	}
	if r := sh.verify(t); r.Entries != int64(kept) {
		t.Errorf("%d entries, want %d", r.Entries, kept)
	}
	if lost == 0 {
		t.Error("nothing was cancelled; the test tells nothing")
	}
}
