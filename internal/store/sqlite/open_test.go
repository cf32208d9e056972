package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"wreath/internal/ledger"
	"wreath/internal/store"
)

var ctx = context.Background()

// newStore makes a store with one shop in it and closes it again.
func newStore(t *testing.T) (path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "demo.wreath")
	if err := writeAs(path, "demo", 3); err != nil {
		t.Fatal(err)
	}
	return path
}

func wantError(t *testing.T, err error, words string) {
	t.Helper()
	if err == nil || !strings.Contains(err.Error(), words) {
		t.Errorf("got error %v, want one with %q", err, words)
	}
}

// TestEveryConnectionIsSafe asks all connections of both pools what they keep.
func TestEveryConnectionIsSafe(t *testing.T) {
	path := newStore(t)
	for _, row := range []struct {
		name    string
		o       Options
		writing bool
		want    map[string]string
	}{
		{"write", Options{}, true, map[string]string{"synchronous": "2", "journal_mode": "wal", "foreign_keys": "1", "secure_delete": "1", "trusted_schema": "0", "cell_size_check": "1", "busy_timeout": "10000"}},
		{"read", Options{}, false, map[string]string{"synchronous": "2", "journal_mode": "wal", "foreign_keys": "1", "secure_delete": "1", "trusted_schema": "0", "cell_size_check": "1", "busy_timeout": "10000"}},
		{"relaxed", Options{Relaxed: true}, true, map[string]string{"synchronous": "1", "journal_mode": "wal"}},
		{"read only", Options{ReadOnly: true}, false, map[string]string{"query_only": "1", "trusted_schema": "0"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			db := open(path, row.o, row.writing)
			defer db.Close()
			for range 8 { // all at once, so that each is a connection of its own
				conn, err := db.Conn(ctx)
				if err != nil {
					t.Fatal(err)
				}
				defer conn.Close()
				for name, want := range row.want {
					var got string
					if err := conn.QueryRowContext(ctx, `pragma `+name).Scan(&got); err != nil || got != want {
						t.Errorf("%s = %s, %v, want %s", name, got, err, want)
					}
				}
			}
			if n := db.Stats().OpenConnections; n != 8 {
				t.Errorf("%d connections were tried, want 8", n)
			}
		})
	}
	// A database that does not take a setting is refused: one in memory has no write-ahead log.
	db := sql.OpenDB(connector{":memory:", [][2]string{{"journal_mode", "wal"}}})
	defer db.Close()
	wantError(t, db.Ping(), "keeps journal_mode = memory where wal is needed")
}

func TestVersions(t *testing.T) {
	for version, good := range map[string]bool{
		"3.7.0": false, "3.46.1": false, "3.51.2": false, "3.51.3": true, "3.51.10": true, "3.52.0": false, "3.52.1": true,
		"3.53.0": true, "3.54.1": true, "4.0.0": true, "2.99.99": false, "3.51": false, "": false, "nonsense": false,
	} {
		if err := checkVersion(version); (err == nil) != good {
			t.Errorf("SQLite %s: %v, want good: %v", version, err, good)
		}
	}
	if err := checkEngine(ctx); err != nil {
		t.Error(err)
	}
}

func TestPlacesThatHoldNoStore(t *testing.T) {
	folder := t.TempDir()
	file := func(name string, data []byte) string {
		name = filepath.Join(folder, name)
		if err := os.WriteFile(name, data, 0o600); err != nil {
			t.Fatal(err)
		}
		return name
	}
	other := filepath.Join(folder, "other")
	db, err := sql.Open("sqlite", other)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec(`create table somebody_elses (x text)`); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(newStore(t))
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		name, path string
		o          Options
		words      string
	}{
		{"folder", folder, Options{}, "is a folder; name a file"},
		{"missing folder", filepath.Join(folder, "none", "a.wreath"), Options{}, "the folder " + filepath.Join(folder, "none")},
		{"file as a folder", filepath.Join(file("plain", nil), "a.wreath"), Options{}, "can't be looked at"},
		{"missing, must be", filepath.Join(folder, "none.wreath"), Options{MustBe: true}, "there is no store"},
		{"missing, read only", filepath.Join(folder, "none.wreath"), Options{ReadOnly: true}, "there is no store"},
		{"a text", file("text", []byte(strings.Repeat("no store at all\n", 1000))), Options{}, "is not a store of this program"},
		{"a short text", file("short", []byte("x")), Options{}, ""},
		{"another program's", other, Options{}, "belongs to another program"},
		{"another program's, read only", other, Options{ReadOnly: true}, "belongs to another program"},
		{"an empty file, read only", file("empty", nil), Options{ReadOnly: true}, "it is empty"},
		{"the first half of a store", file("half", whole[:len(whole)/2]), Options{}, ""},
	} {
		t.Run(row.name, func(t *testing.T) {
			s, err := Open(ctx, row.path, row.o)
			if err == nil {
				_, err = s.Verify(ctx, crashShop, nil, nil, nil)
				s.Close()
			}
			wantError(t, err, row.words)
		})
	}
	for _, name := range []string{"none.wreath", "none"} {
		if _, err := os.Stat(filepath.Join(folder, name)); err == nil {
			t.Errorf("%s was made", name)
		}
	}
	if text, err := os.ReadFile(filepath.Join(folder, "text")); err != nil || !strings.HasPrefix(string(text), "no store") || len(text) != 16000 {
		t.Error("the text was written to")
	}
	// An empty file becomes a store; a file that is made is nobody else's.
	path := file("becomes", nil)
	if err := writeAs(path, "demo", 1); err != nil {
		t.Error(err)
	}
	info, err := os.Stat(newStore(t))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the file of a store has mode %v, %v", info.Mode(), err)
	}
}

// TestStrangeNames: what means something in an address means nothing in the name of a file.
func TestStrangeNames(t *testing.T) {
	for _, name := range []string{"a b.wreath", "Größe", "50%.wreath", "%41", "a?mode=ro", "a#b", "file:a", "a&b=c", "'", `"`, ":memory:"} {
		path := filepath.Join(t.TempDir(), name)
		if err := writeAs(path, "demo", 1); err != nil {
			t.Errorf("%q: %v", name, err)
			continue
		}
		if info, err := os.Stat(path); err != nil || info.Size() == 0 {
			t.Errorf("%q is not where it was named: %v", name, err)
		}
		to := filepath.Join(t.TempDir(), name)
		if err := Snapshot(ctx, path, to); err != nil {
			t.Errorf("%q: %v", name, err)
		}
		if err := Sound(ctx, to); err != nil {
			t.Errorf("%q: %v", name, err)
		}
	}
}

func TestNewerLayoutIsRefused(t *testing.T) {
	path := newStore(t)
	db := open(path, Options{}, true)
	if _, err := db.Exec(`insert into wreath_layout (version_id, is_applied) values (99, 1)`); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	for _, o := range []Options{{}, {ReadOnly: true}} {
		s, err := Open(ctx, path, o)
		if err == nil {
			s.Close()
		}
		wantError(t, err, "it has layout 99, this program knows up to")
		wantError(t, err, store.ErrNewer.Error())
	}
}

func TestReadOnly(t *testing.T) {
	path := newStore(t)
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	s, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	if r, err := s.Verify(ctx, crashShop, nil, nil, nil); err != nil || r.Entries != 3 {
		t.Errorf("verified %+v, %v", r, err)
	}
	err = s.Write(ctx, crashShop, func(tx *store.Tx) error {
		_, err := tx.Append(ledger.Entry{Head: ledger.Head{Kind: "demo"}, Body: ledger.Document(`{}`)})
		return err
	})
	wantError(t, err, "the store can't be written")
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	after, err := os.ReadFile(path)
	if err != nil || string(after) != string(before) {
		t.Errorf("the file was written to: %v", err)
	}
}

func TestSnapshotWhileWriting(t *testing.T) {
	path := newStore(t)
	s, err := Open(ctx, path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	kept := make(chan int64)
	stop := make(chan struct{})
	ended := make(chan error, 1)
	go func() {
		for i := 0; ; i++ {
			var seq int64
			err := s.Write(ctx, crashShop, func(tx *store.Tx) error {
				e, err := tx.Append(ledger.Entry{Head: ledger.Head{Kind: "demo", Key: fmt.Sprint("more-", i)}, Body: ledger.Document(`{"text":"` + strings.Repeat("x", 3000) + `"}`)})
				seq = e.Seq
				return err
			})
			if err != nil {
				ended <- err
				return
			}
			select {
			case kept <- seq:
			case <-stop:
				ended <- nil
				return
			}
		}
	}()
	for i := range 6 {
		var seq int64
		for range 20 {
			seq = <-kept
		}
		to := filepath.Join(t.TempDir(), fmt.Sprintf("copy-%d", i))
		if err := os.WriteFile(to+".part", []byte("left behind by a backup that was cut off"), 0o600); err != nil {
			t.Fatal(err)
		}
		done := make(chan error)
		go func() { done <- Snapshot(ctx, path, to) }()
		for waiting := true; waiting; {
			select {
			case <-kept: // the shop goes on meanwhile
			case err := <-done:
				if err != nil {
					t.Fatal(err)
				}
				waiting = false
			}
		}
		if err := Sound(ctx, to); err != nil {
			t.Error(err)
		}
		c, err := Open(ctx, to, Options{ReadOnly: true})
		if err != nil {
			t.Fatal(err)
		}
		if r, err := c.Verify(ctx, crashShop, nil, nil, nil); err != nil || r.Entries <= seq {
			t.Errorf("copy %d holds %d entries, %v; entry %d was acknowledged before", i, r.Entries, err, seq)
		}
		c.Close()
		if info, err := os.Stat(to); err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("the copy has mode %v, %v", info.Mode(), err)
		}
		wantError(t, Snapshot(ctx, path, to), "never goes over a file")
	}
	close(stop)
	if err := <-ended; err != nil {
		t.Error(err)
	}
	wantError(t, Snapshot(ctx, path, filepath.Join(t.TempDir(), "none", "copy")), "")
	none := filepath.Join(t.TempDir(), "none.wreath")
	wantError(t, Snapshot(ctx, none, filepath.Join(t.TempDir(), "copy")), "there is no store")
	wantError(t, Scrub(ctx, none), "there is no store")
	wantError(t, Sound(ctx, none), "there is no store")
	if _, err := os.Stat(none); err == nil {
		t.Error("a store was made by looking for one")
	}
}

// TestScrub: what was erased is nowhere in the files any more.
func TestScrub(t *testing.T) {
	path := newStore(t)
	s, err := Open(ctx, path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	const secret = "an invented key that must be gone afterwards"
	write := func(do func(tx *store.Tx) error) {
		t.Helper()
		if err := s.Write(ctx, crashShop, do); err != nil {
			t.Fatal(err)
		}
	}
	holds := func() (names []string) {
		for _, suffix := range []string{"", "-wal"} {
			if data, err := os.ReadFile(path + suffix); err == nil && strings.Contains(string(data), secret) {
				names = append(names, "the file"+suffix)
			}
		}
		return names
	}
	write(func(tx *store.Tx) error { return tx.PutSecret("key", "a", []byte(secret)) })
	if len(holds()) == 0 {
		t.Fatal("the secret is not in the files; the test tells nothing")
	}
	write(func(tx *store.Tx) error { return tx.DropSecret("key", "a") })
	if err := Scrub(ctx, path); err != nil {
		t.Fatal(err)
	}
	if names := holds(); len(names) > 0 {
		t.Errorf("after the scrub the secret is still in %v", names)
	}
	// A reader holds the log back.
	write(func(tx *store.Tx) error { return tx.PutSecret("key", "b", []byte(secret)) })
	short, cancel := context.WithCancel(ctx)
	defer cancel()
	err = s.Read(short, crashShop, func(tx *store.Tx) error {
		if _, err := tx.Secret("key", "b"); err != nil {
			return err
		}
		write(func(tx *store.Tx) error { return tx.DropSecret("key", "b") })
		db := open(path, Options{}, true)
		defer db.Close()
		if _, err := db.Exec(`pragma busy_timeout = 10`); err != nil {
			return err
		}
		var busy, logged, moved int
		if err := db.QueryRow(`pragma wal_checkpoint(truncate)`).Scan(&busy, &logged, &moved); err != nil || busy == 0 {
			t.Errorf("a reader does not hold the log back: %d, %v", busy, err)
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
}
