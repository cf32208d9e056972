package sqlite_test

import (
	"context"
	"database/sql"
	"path/filepath"
	"testing"

	"wreath/internal/store"
	"wreath/internal/store/sqlite"
	"wreath/internal/store/storetest"
)

// home is a store in a file of the test's own.
type home string

var kind = storetest.Kind{Name: "sqlite", New: func(t testing.TB) storetest.Home {
	return home(filepath.Join(t.TempDir(), "demo.wreath"))
}}

func (h home) Open(t testing.TB) *store.Store {
	t.Helper()
	s, err := sqlite.Open(context.Background(), string(h), sqlite.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func (h home) Raw(t testing.TB) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+string(h)+"?_pragma=busy_timeout(10000)&_pragma=synchronous(off)")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

// Unlock drops all triggers.
func (h home) Unlock(t testing.TB, db *sql.DB) {
	t.Helper()
	rows, err := db.Query(`select name from sqlite_schema where type = 'trigger'`)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			t.Fatal(err)
		}
		names = append(names, name)
	}
	if err := rows.Err(); err != nil || len(names) == 0 {
		t.Fatalf("triggers %v, %v", names, err)
	}
	for _, name := range names {
		if _, err := db.Exec(`drop trigger ` + name); err != nil {
			t.Fatal(err)
		}
	}
}

func TestSuite(t *testing.T) { storetest.Run(t, kind) }

func BenchmarkStore(b *testing.B) { storetest.Bench(b, kind) }

func BenchmarkCounters(b *testing.B) { storetest.BenchCounters(b, kind) }
