//go:build linux

package faultfs

import (
	"bytes"
	"database/sql"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	_ "modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

func open(t *testing.T, path, layer string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+path+"?vfs="+layer+"&_pragma=journal_mode(wal)&_pragma=synchronous(full)")
	if err != nil {
		t.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	t.Cleanup(func() { db.Close() })
	return db
}

func newLayer(t *testing.T, o Options) *Layer {
	t.Helper()
	l, err := New(t.Name(), o)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// What was recorded, done again, gives the files that SQLite made.
func TestStepsGiveTheFiles(t *testing.T) {
	l := newLayer(t, Options{Record: true})
	path := filepath.Join(t.TempDir(), "a.db")
	db := open(t, path, t.Name())
	for _, query := range []string{
		`create table a (n integer primary key, data blob)`,
		`insert into a (data) with recursive c(n) as (select 1 union all select n+1 from c where n < 50) select randomblob(3000) from c`,
		`delete from a where n % 3 = 0`, `pragma wal_checkpoint(truncate)`, `vacuum`, `delete from a`, `vacuum`, `pragma wal_checkpoint(truncate)`,
		`insert into a (data) values (randomblob(9000))`,
	} {
		if _, err := db.Exec(query); err != nil {
			t.Fatalf("%s: %v", query, err)
		}
	}
	steps := l.Take()
	for _, kind := range []Kind{Create, Write, Truncate, Sync, SyncFolder, Delete} {
		if !slices.ContainsFunc(steps, func(s Step) bool { return s.Kind == kind }) {
			t.Errorf("no %q was recorded", kind)
		}
	}
	d := disk{seen: map[string]*inode{}, names: map[string]*inode{}}
	for _, s := range steps {
		d.do(s)
	}
	for name, f := range d.seen {
		for _, p := range f.pending {
			f.safe = apply(f.safe, p)
		}
		onDisk, err := os.ReadFile(name)
		if err != nil || !bytes.Equal(onDisk, f.safe) {
			t.Errorf("%s has %d bytes and its steps give %d others (%v)", name, len(onDisk), len(f.safe), err)
		}
	}
	if len(d.seen) != 2 {
		t.Errorf("%d files were recorded, want the database and its log", len(d.seen))
	}
}

func TestBeforeMakesStepsFail(t *testing.T) {
	for _, row := range []struct {
		kind Kind
		code int32
		says string
	}{
		{Write, sqlite3.SQLITE_FULL, "full"},
		{Write, sqlite3.SQLITE_IOERR_WRITE, "I/O"},
		{Sync, sqlite3.SQLITE_IOERR_FSYNC, "I/O"},
		{Create, sqlite3.SQLITE_CANTOPEN, "unable to open"},
	} {
		name := t.Name() + string(row.kind) + row.says
		failed := false
		if _, err := New(name, Options{Before: func(s Step) int32 {
			if s.Kind != row.kind {
				return 0
			}
			failed = true
			return row.code
		}}); err != nil {
			t.Fatal(err)
		}
		_, err := open(t, filepath.Join(t.TempDir(), "a.db"), name).Exec(`create table a (n)`)
		if !failed || err == nil || !strings.Contains(err.Error(), row.says) {
			t.Errorf("%s fails with %d: %v, want it to say %q", row.kind, row.code, err, row.says)
		}
	}
}

func TestPowerLoss(t *testing.T) {
	const a, b = "/x/a", "/x/b"
	block := func(letter string, n int) []byte { return bytes.Repeat([]byte(letter), n) }
	steps := []Step{
		{Kind: Create, Path: a},
		{Kind: Write, Path: a, Data: block("1", 1024)},
		{Kind: Sync, Path: a},
		{Kind: SyncFolder, Path: "/x"},
		{Kind: Mark, Path: "safe"},
		{Kind: Write, Path: a, Offset: 512, Data: block("2", 1024)},
		{Kind: Create, Path: b},
		{Kind: Write, Path: b, Data: block("3", 10)},
		{Kind: Sync, Path: b},
	}
	random := rand.New(rand.NewPCG(1, 2))
	if got := AfterPowerLoss(steps[:3], DropAll, random); len(got) != 0 {
		t.Errorf("a file whose folder was not synced is there: %d files", len(got))
	}
	if got := AfterPowerLoss(steps, DropAll, random); len(got) != 1 || !bytes.Equal(got[a], block("1", 1024)) {
		t.Errorf("with all dropped: %d files, %q", len(got), got[a])
	}
	outcomes := map[string]bool{}
	for range 200 {
		got := AfterPowerLoss(steps, TearSome, random)
		for len(got[a]) < 1536 {
			got[a] = append(got[a], '.')
		}
		outcomes[string(got[a][0])+string(got[a][512])+string(got[a][1024])+string(got[b])] = true
	}
	for _, want := range []string{"11.", "12.", "112", "122", "11.3333333333", "1223333333333"} {
		if !outcomes[want] {
			t.Errorf("the outcome %q never came", want)
		}
		delete(outcomes, want)
	}
	for other := range outcomes {
		if other != "12.3333333333" && other != "1123333333333" {
			t.Errorf("impossible outcome %q", other)
		}
	}
}
