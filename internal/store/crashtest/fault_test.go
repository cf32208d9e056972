//go:build linux

package crashtest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"

	sqlite3 "modernc.org/sqlite/lib"

	"wreath/internal/ledger"
	"wreath/internal/store"
	"wreath/internal/store/faultfs"
	"wreath/internal/store/sqlite"
)

// fault makes the n-th step of a kind fail.
type fault struct {
	kind faultfs.Kind
	code int32
	// stays: every later step of the kind fails too, until the disk is mended.
	stays bool
}

// faulty is a file layer with one fault at a time.
type faulty struct {
	fault
	left   atomic.Int64 // steps of the kind until the one that fails
	mended atomic.Bool
}

func (f *faulty) before(s faultfs.Step) int32 {
	if s.Kind != f.kind || f.mended.Load() {
		return 0
	}
	if left := f.left.Add(-1); left == 0 || left < 0 && f.stays {
		return f.code
	}
	return 0
}

// set sets the next fault; only while no store is open.
func (f *faulty) set(what fault, n int) {
	f.fault = what
	f.left.Store(int64(n))
	f.mended.Store(false)
}

// newFaulty registers the layer under its test's name.
func newFaulty(t *testing.T) *faulty {
	t.Helper()
	f := &faulty{}
	if _, err := faultfs.New(t.Name(), faultfs.Options{Before: f.before, NoSync: true}); err != nil {
		t.Fatal(err)
	}
	return f
}

// script is ten acts on a store that has some.
type script struct {
	t               *testing.T
	private, public string
	template        []byte // the file
	before          *promises
	layer           *faulty
}

func newScript(t *testing.T) *script {
	t.Helper()
	ctx := context.Background()
	private, public, err := ledger.NewKey(shop)
	if err != nil {
		t.Fatal(err)
	}
	c := &script{t: t, private: private, public: public, before: newPromises(), layer: newFaulty(t)}
	path := filepath.Join(t.TempDir(), "template.wreath")
	s, err := sqlite.Open(ctx, path, sqlite.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := openLog(ctx, s, public); err != nil {
		t.Fatal(err)
	}
	for n := range 3 {
		a := act{brief, n}
		d, err := a.write(ctx, s, private)
		if err == nil {
			err = c.before.ack(a, d)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if c.template, err = os.ReadFile(path); err != nil {
		t.Fatal(err)
	}
	return c
}

// run runs the script with a fault, mends the disk where the fault was seen, and goes on to the end.
// It tells whether the fault was met, and whether somebody saw it.
func (c *script) run(path string, what fault, n int) (met, seen bool) {
	t := c.t
	t.Helper()
	ctx := context.Background()
	p := newPromises()
	for a, d := range c.before.acked {
		p.ack(a, d)
	}
	where := fmt.Sprintf("%s %d fails with %d (stays: %t)", what.kind, n, what.code, what.stays)
	c.layer.set(what, n)
	full := what.code == sqlite3.SQLITE_FULL
	s, err := sqlite.Open(ctx, path, sqlite.Options{VFS: t.Name()})
	if err != nil {
		seen = true
		if !helps(err, full) {
			t.Errorf("%s: the store does not open, and says %v", where, err)
		}
		c.layer.mended.Store(true)
		if s, err = sqlite.Open(ctx, path, sqlite.Options{VFS: t.Name()}); err != nil {
			t.Fatalf("%s: mended, the store does not open: %v", where, err)
		}
	}
	for i := range 10 {
		a := act{brief + 1, i}
		d, err := a.write(ctx, s, c.private)
		if err != nil {
			if seen {
				t.Fatalf("%s: once more, at %s: %v", where, a.key(), err)
			}
			seen = true
			s = c.mend(where, path, s, p, a, full, err)
			d, err = a.write(ctx, s, c.private)
		}
		if err == nil {
			err = p.ack(a, d)
		}
		if err != nil {
			t.Fatalf("%s: mended, at %s: %v", where, a.key(), err)
		}
		if i == 6 {
			// A checkpoint of the write-ahead log may fail; nothing depends on it.
			_ = checkpoint(path, t.Name())
		}
	}
	_ = s.Close() // with a fault; what was acknowledged must be there all the same
	met = c.layer.left.Load() <= 0
	c.layer.mended.Store(true)
	c.look(where, path, p)
	return met, seen
}

// helps says whether the error of an Open tells people what to do.
func helps(err error, full bool) bool {
	if full {
		return strings.Contains(err.Error(), "the disk is full") && strings.Contains(err.Error(), "Make room")
	}
	return strings.Contains(err.Error(), "check the disk")
}

// mend holds an error against what it must be, and gives a store that works.
func (c *script) mend(where, path string, s *store.Store, p *promises, a act, full bool, err error) *store.Store {
	t := c.t
	t.Helper()
	ctx := context.Background()
	text := err.Error()
	if c.layer.kind == faultfs.Read {
		c.layer.mended.Store(true) // a disk that can't be read can't be read
	}
	if err := s.Read(ctx, shop, p.compare); err != nil {
		t.Errorf("%s: at %s, reading: %v", where, a.key(), err)
	}
	if full {
		if errors.Is(err, store.ErrFailing) || errors.Is(err, store.ErrUnknown) || !strings.Contains(text, "the disk is full: the act was not kept") || !strings.Contains(text, "Make room") {
			t.Errorf("%s: at %s it says %v", where, a.key(), err)
		}
		if _, err := s.Lookup(ctx, shop, a.key()); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("%s: %s was said not to be kept, and is there: %v", where, a.key(), err)
		}
		c.layer.mended.Store(true)
		return s
	}
	if !errors.Is(err, store.ErrFailing) || !strings.Contains(text, "Check the disk, make a backup, and start the program anew") {
		t.Errorf("%s: at %s it says %v", where, a.key(), err)
	}
	c.layer.mended.Store(true)
	if _, err := a.write(ctx, s, c.private); !errors.Is(err, store.ErrFailing) {
		t.Errorf("%s: after the disk failed, a write gives %v", where, err)
	}
	if err := s.Read(ctx, shop, p.compare); err != nil {
		t.Errorf("%s: after the disk failed, reading gives %v", where, err)
	}
	_ = s.Close()
	s, err = sqlite.Open(ctx, path, sqlite.Options{VFS: t.Name()})
	if err != nil {
		t.Fatalf("%s: mended, the store does not open: %v", where, err)
	}
	if _, err := s.Verify(ctx, shop, nil, nil, nil); err != nil {
		t.Errorf("%s: mended, %v", where, err)
	}
	return s
}

// look opens the file as any program does and holds it against what was acknowledged.
func (c *script) look(where, path string, p *promises) {
	c.t.Helper()
	ctx := context.Background()
	s, err := sqlite.Open(ctx, path, sqlite.Options{})
	if err != nil {
		c.t.Fatalf("%s: at the end, %v", where, err)
	}
	defer s.Close()
	if entries := p.check(c.t, s); entries != int64(len(p.acked)) {
		c.t.Errorf("%s: %d entries for %d acts", where, entries, len(p.acked))
	}
	if err := sqlite.Sound(ctx, path); err != nil {
		c.t.Errorf("%s: %v", where, err)
	}
}

// Every single step of a script fails once, in every way that a step can fail.
func TestEveryFault(t *testing.T) {
	t.Parallel()
	c := newScript(t)
	for _, row := range []struct {
		fault
		least int // so many faults must have been met at least
		seen  int // and so many seen by a client
	}{
		{fault{faultfs.Write, sqlite3.SQLITE_FULL, true}, 100, 100},
		{fault{faultfs.Write, sqlite3.SQLITE_FULL, false}, 100, 100},
		{fault{faultfs.Write, sqlite3.SQLITE_IOERR_WRITE, true}, 100, 100},
		{fault{faultfs.Sync, sqlite3.SQLITE_IOERR_FSYNC, true}, 10, 10},
		{fault{faultfs.Sync, sqlite3.SQLITE_IOERR_FSYNC, false}, 10, 10},
		{fault{faultfs.Truncate, sqlite3.SQLITE_IOERR_TRUNCATE, true}, 1, 0},
		{fault{faultfs.Delete, sqlite3.SQLITE_IOERR_DELETE, true}, 1, 0},
		{fault{faultfs.Create, sqlite3.SQLITE_CANTOPEN, true}, 1, 1},
		{fault{faultfs.Read, sqlite3.SQLITE_IOERR_READ, false}, 10, 10},
	} {
		met, seen := 0, 0
		for n := 1; ; n++ {
			path := filepath.Join(t.TempDir(), "fault.wreath")
			if err := os.WriteFile(path, c.template, 0o600); err != nil {
				t.Fatal(err)
			}
			wasMet, wasSeen := c.run(path, row.fault, n)
			if !wasMet {
				break
			}
			met++
			if wasSeen {
				seen++
			}
			if t.Failed() {
				t.FailNow()
			}
		}
		t.Logf("%s, code %d, stays %t: %d faults, %d of them seen by a client", row.kind, row.code, row.stays, met, seen)
		if met < row.least || seen < row.seen {
			t.Errorf("want at least %d and %d", row.least, row.seen)
		}
	}
}

// A new store that meets a fault while it is made says so, and is made by the next try.
func TestEveryFaultWhileMade(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	layer := newFaulty(t)
	_, public, err := ledger.NewKey(shop)
	if err != nil {
		t.Fatal(err)
	}
	for _, what := range []fault{
		{faultfs.Write, sqlite3.SQLITE_FULL, true},
		{faultfs.Write, sqlite3.SQLITE_IOERR_WRITE, false},
		{faultfs.Sync, sqlite3.SQLITE_IOERR_FSYNC, true},
		{faultfs.Create, sqlite3.SQLITE_CANTOPEN, true},
	} {
		met, seen, step := 0, 0, 1
		if what.kind == faultfs.Write {
			step = 6 // while the table of layouts is made, each one is tried again for three seconds
		}
		for n := 1; ; n += step {
			path := filepath.Join(t.TempDir(), "new.wreath")
			layer.set(what, n)
			s, err := sqlite.Open(ctx, path, sqlite.Options{VFS: t.Name()})
			if err != nil {
				seen++
				if !helps(err, what.code == sqlite3.SQLITE_FULL) {
					t.Errorf("%s %d fails: it says %v", what.kind, n, err)
				}
				layer.mended.Store(true)
				if s, err = sqlite.Open(ctx, path, sqlite.Options{VFS: t.Name()}); err != nil {
					t.Fatalf("%s %d fails: mended, %v", what.kind, n, err)
				}
			}
			wasMet := layer.left.Load() <= 0
			layer.mended.Store(true)
			if err := openLog(ctx, s, public); err != nil {
				t.Errorf("%s %d fails: %v", what.kind, n, err)
			}
			newPromises().check(t, s)
			if err := errors.Join(s.Close(), sqlite.Sound(ctx, path)); err != nil {
				t.Errorf("%s %d fails: %v", what.kind, n, err)
			}
			if !wasMet {
				break
			}
			met++
		}
		t.Logf("%s, code %d: %d faults, %d of them seen", what.kind, what.code, met, seen)
		if met < 2 || seen < met/2 {
			t.Errorf("%s: only %d faults were met and %d seen", what.kind, met, seen)
		}
	}
}
