//go:build linux

package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/fstest"

	"golang.org/x/mod/sumdb/tlog"

	"wreath/internal/store"
	"wreath/internal/store/faultfs"
)

// laterLayouts are the layouts of the program with two more on top, which only this test knows.
func laterLayouts(t *testing.T) fstest.MapFS {
	t.Helper()
	first, err := migrations.ReadFile("migrations/00001_log.sql")
	if err != nil {
		t.Fatal(err)
	}
	return fstest.MapFS{
		"migrations/00001_log.sql": {Data: first},
		"migrations/00002_demo.sql": {Data: []byte(`-- +goose Up
alter table thing add column colour text not null default 'none';
create table demo (shop text not null, n integer not null, primary key (shop, n)) strict, without rowid;
insert into demo select shop, seq from entry;
`)},
		"migrations/00003_demo.sql": {Data: []byte(`-- +goose Up
create index demo_n on demo (n);
update thing set colour = 'changed';
`)},
	}
}

func upgrade(t *testing.T, path string, o Options) error {
	t.Helper()
	db := open(path, o, true)
	defer db.Close()
	db.SetMaxOpenConns(1)
	return prepare(context.Background(), path, db, o, laterLayouts(t))
}

// The program that upgrades a store is killed at each step that it does to its files, and before and
// after the upgrade. The store has then one of the layouts as a whole, the log is what it was, an old
// store that was changed has its backup beside it, and the next start finishes the upgrade.
func TestKilledInUpgrade(t *testing.T) {
	if at, path := role(); at != "" {
		upgradeUntil(t, at, path)
		return
	}
	t.Parallel()
	old := filepath.Join(t.TempDir(), "old.wreath")
	if err := writeAs(old, "before", 20); err != nil {
		t.Fatal(err)
	}
	s, err := Open(context.Background(), old, Options{})
	if err != nil {
		t.Fatal(err)
	}
	err = s.Write(context.Background(), crashShop, func(tx *store.Tx) error { return tx.Put("demo", "a", 1, "invented") })
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	template, err := os.ReadFile(old)
	if err != nil {
		t.Fatal(err)
	}
	root := rootOf(t, old)
	for _, row := range []struct {
		name  string
		file  []byte // nil: there is no file yet
		least int    // kills that there must be room for
		layer func(n int) string
	}{
		{"an old store", template, 60, strconv.Itoa},
		{"a new store", nil, 50, strconv.Itoa},
		{"an old store", template, 2, upgradePoint},
		{"a new store", nil, 2, upgradePoint},
	} {
		stride := 1
		if os.Getenv("WREATH_KILLS") == "" {
			stride = max(1, row.least/12)
		}
		kills, layouts := 0, map[int64]int{}
		for n := 1; ; n += stride {
			at := row.layer(n)
			if at == "" {
				break
			}
			path := filepath.Join(t.TempDir(), "a.wreath")
			if row.file != nil {
				if err := os.WriteFile(path, row.file, 0o600); err != nil {
					t.Fatal(err)
				}
			}
			out, err := beside(t, at, path).Output()
			if err == nil {
				break // it was not killed: there is no such step
			}
			var exit *exec.ExitError
			if !errors.As(err, &exit) || exit.Sys().(syscall.WaitStatus).Signal() != syscall.SIGKILL {
				t.Fatalf("%s, at %s: %v\n%s", row.name, at, err, out)
			}
			kills++
			layouts[judgeUpgrade(t, row.name+", at "+at, path, row.file != nil, root)]++
		}
		t.Logf("%s: %d kills; it then had the layouts (by count) %v", row.name, kills, layouts)
		if kills*stride < row.least {
			t.Errorf("%s: only %d kills, one in %d steps", row.name, kills, stride)
		}
	}
}

// Two processes that find an old store at once both end with the new one, and with a whole backup.
func TestTwoProcessesUpgradeAtOnce(t *testing.T) {
	if at, path := role(); at != "" {
		upgradeUntil(t, at, path)
		return
	}
	t.Parallel()
	for round := range 5 {
		path := filepath.Join(t.TempDir(), "a.wreath")
		if err := writeAs(path, "before", 20); err != nil {
			t.Fatal(err)
		}
		root := rootOf(t, path)
		var processes sync.WaitGroup
		for range 2 {
			processes.Add(1)
			go func() {
				defer processes.Done()
				if out, err := beside(t, "the end", path).Output(); err != nil {
					t.Errorf("round %d: %v\n%s", round, err, out)
				}
			}()
		}
		processes.Wait()
		if layout := layoutOf(t, "at once", path); layout != 3 {
			t.Errorf("round %d: it has layout %d", round, layout)
		}
		if wholeBackups(t, "at once", path, root) == 0 {
			t.Errorf("round %d: there is no backup", round)
		}
	}
}

// upgradePoint names the points of an upgrade; "" when there are no more.
func upgradePoint(n int) string { return append([]string{"migration", "migrated"}, "")[min(n, 3)-1] }

// upgradeUntil upgrades a store and kills itself at a point, or at a step given by its number.
func upgradeUntil(t *testing.T, at, path string) {
	left, _ := strconv.Atoi(at) // 0 for a point, and for the end
	die := func() { syscall.Kill(os.Getpid(), syscall.SIGKILL) }
	store.Reach = func(point string) {
		if point == at {
			die()
		}
	}
	_, err := faultfs.New("killer", faultfs.Options{Before: func(s faultfs.Step) int32 {
		if s.Kind != faultfs.Read {
			if left--; left == 0 {
				die()
			}
		}
		return 0
	}})
	if err == nil {
		err = upgrade(t, path, Options{VFS: "killer"})
	}
	if err != nil {
		t.Fatal(err)
	}
}

// judgeUpgrade looks at a store whose upgrade was cut short, finishes the upgrade, and gives the layout that
// it found.
func judgeUpgrade(t *testing.T, where, path string, isOld bool, root tlog.Hash) int64 {
	t.Helper()
	layout := layoutOf(t, where, path)
	backups := wholeBackups(t, where, path, root)
	if isOld && layout == 0 {
		t.Errorf("%s: the old store is gone", where)
	}
	if isOld && layout == 1 && rootOf(t, path) != root {
		t.Errorf("%s: the old program finds another log", where)
	}
	if isOld && layout > 1 {
		if backups == 0 {
			t.Errorf("%s: the store was upgraded, and there is no backup", where)
		}
		if _, err := Open(context.Background(), path, Options{}); !errors.Is(err, store.ErrNewer) {
			t.Errorf("%s: the old program opens the upgraded store: %v", where, err)
		}
	}
	if err := upgrade(t, path, Options{}); err != nil {
		t.Fatalf("%s: the next start does not finish the upgrade: %v", where, err)
	}
	if now := layoutOf(t, where, path); now != 3 {
		t.Errorf("%s: after the next start it has layout %d", where, now)
	}
	if err := Sound(context.Background(), path); err != nil {
		t.Errorf("%s: %v", where, err)
	}
	if !isOld {
		return layout
	}
	s := store.New(open(path, Options{}, true), open(path, Options{}, false), dialect)
	defer s.Close()
	if report, err := s.Verify(context.Background(), crashShop, nil, nil, nil); err != nil || report.Root != root {
		t.Errorf("%s: after the upgrade the log is another one: %v", where, err)
	}
	if wholeBackups(t, where, path, root) == 0 {
		t.Errorf("%s: there is no backup", where)
	}
	return layout
}

// layoutOf gives the layout of a store, and fails when it has another one in parts.
func layoutOf(t *testing.T, where, path string) (layout int64) {
	t.Helper()
	db := open(path, Options{}, false)
	defer db.Close()
	has := func(query string) bool {
		t.Helper()
		var n int
		if err := db.QueryRow(query).Scan(&n); err != nil {
			t.Fatalf("%s: %s: %v", where, query, err)
		}
		return n > 0
	}
	object := func(name string) bool {
		t.Helper()
		return has(`select count(*) from sqlite_schema where name = '` + name + `'`)
	}
	if object("wreath_layout") {
		var version sql.NullInt64
		if err := db.QueryRow(`select max(version_id) from wreath_layout`).Scan(&version); err != nil {
			t.Fatalf("%s: %v", where, err)
		}
		layout = version.Int64
	}
	parts := map[string]bool{
		"the first table":   object("shop") == (layout >= 1),
		"the last trigger":  object("shop_remains") == (layout >= 1),
		"a new table":       object("demo") == (layout >= 2),
		"an index":          object("demo_n") == (layout >= 3),
		"a column":          has(`select count(*) from pragma_table_info('thing') where name = 'colour'`) == (layout >= 2),
		"rows of a table":   layout < 2 || !has(`select count(*) from entry where seq not in (select n from demo)`),
		"rows with a value": layout < 3 || !has(`select count(*) from thing where colour <> 'changed'`),
	}
	for what, right := range parts {
		if !right {
			t.Errorf("%s: half an upgrade: it says layout %d, and %s is not as there", where, layout, what)
		}
	}
	return layout
}

// wholeBackups counts the backups beside a store and fails when one of them is not whole.
func wholeBackups(t *testing.T, where, path string, root tlog.Hash) (n int) {
	t.Helper()
	names, err := filepath.Glob(path + ".before-upgrade-*")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		if strings.HasSuffix(name, ".part") || strings.HasSuffix(name, "-journal") || strings.HasSuffix(name, "-wal") || strings.HasSuffix(name, "-shm") {
			continue
		}
		n++
		if got := layoutOf(t, where, name); got != 1 && got != 2 {
			t.Errorf("%s: the backup has layout %d", where, got)
		} else if got == 1 && rootOf(t, name) != root {
			t.Errorf("%s: the backup has another log", where)
		}
	}
	return n
}

func rootOf(t *testing.T, path string) tlog.Hash {
	t.Helper()
	s, err := Open(context.Background(), path, Options{MustBe: true})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	report, err := s.Verify(context.Background(), crashShop, nil, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	return report.Root
}
