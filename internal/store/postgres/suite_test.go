package postgres_test

import (
	"context"
	"database/sql"
	"path/filepath"
	"testing"

	"wreath/internal/store"
	"wreath/internal/store/pgtest"
	"wreath/internal/store/postgres"
	"wreath/internal/store/sqlite"
	"wreath/internal/store/storetest"
)

func TestMain(m *testing.M) { pgtest.Main(m) }

// home is a store in a database of the test's own.
type home string

var kind = storetest.Kind{Name: "postgres", New: func(t testing.TB) storetest.Home {
	return home(pgtest.Start(t).Database(t))
}}

func (h home) Open(t testing.TB) *store.Store {
	t.Helper()
	return open(t, string(h), postgres.Options{})
}

func open(t testing.TB, address string, o postgres.Options) *store.Store {
	t.Helper()
	s, err := postgres.Open(context.Background(), address, o)
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
	db, err := sql.Open("pgx", string(h)+" synchronous_commit=off")
	if err != nil {
		t.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	t.Cleanup(func() { db.Close() })
	return db
}

// Unlock makes the connection one of those on which no trigger runs.
func (h home) Unlock(t testing.TB, db *sql.DB) {
	t.Helper()
	if _, err := db.Exec(`set session_replication_role = replica`); err != nil {
		t.Fatal(err)
	}
}

// fileKind is a store in a file, to move to and from.
var fileKind = storetest.Kind{Name: "sqlite", New: func(t testing.TB) storetest.Home {
	return fileHome(filepath.Join(t.TempDir(), "demo.wreath"))
}}

type fileHome string

func (h fileHome) Open(t testing.TB) *store.Store {
	t.Helper()
	s, err := sqlite.Open(context.Background(), string(h), sqlite.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func (h fileHome) Raw(t testing.TB) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+string(h)+"?_pragma=busy_timeout(10000)")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

func (h fileHome) Unlock(t testing.TB, db *sql.DB) {
	t.Helper()
	if _, err := db.Exec(`drop trigger entry_stays`); err != nil {
		t.Fatal(err)
	}
}

func TestSuite(t *testing.T) { storetest.Run(t, kind) }

func TestMove(t *testing.T) {
	t.Run("from a file and back", func(t *testing.T) { storetest.Move(t, fileKind, kind) })
	t.Run("from a server and back", func(t *testing.T) { storetest.Move(t, kind, fileKind) })
}

func BenchmarkStore(b *testing.B) { storetest.Bench(b, kind) }
