package postgres

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"wreath/internal/ledger"
	"wreath/internal/store"
	"wreath/internal/store/pgtest"
)

var ctx = context.Background()

func wantError(t *testing.T, err error, words string) {
	t.Helper()
	if err == nil || !strings.Contains(err.Error(), words) {
		t.Errorf("got error %v, want one with %q", err, words)
	}
}

func opened(t *testing.T, address string, o Options) *store.Store {
	t.Helper()
	s, err := Open(ctx, address, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// refused fails when the store opens.
func refused(t *testing.T, address, words string) {
	t.Helper()
	s, err := Open(ctx, address, Options{})
	if err == nil {
		s.Close()
	}
	wantError(t, err, words)
}

func begin(t *testing.T, s *store.Store) {
	t.Helper()
	_, public, err := ledger.NewKey("demo")
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Write(ctx, "demo", func(tx *store.Tx) error { return errors.Join(tx.OpenLog(public), tx.Put("tray", "t", 0, 0)) }); err != nil {
		t.Fatal(err)
	}
}

// act is one entry; it counts how often it is run.
func act(runs *int) func(tx *store.Tx) error {
	return func(tx *store.Tx) error {
		*runs++
		_, err := tx.Append(ledger.Entry{Head: ledger.Head{Kind: "demo", Time: time.Now()}, Body: ledger.Document(`{}`)})
		return err
	}
}

func verify(t *testing.T, s *store.Store, entries int64) {
	t.Helper()
	if r, err := s.Verify(ctx, "demo", nil, nil, nil); err != nil || r.Entries != entries {
		t.Errorf("the log has %d entries, %v, want %d", r.Entries, err, entries)
	}
}

func TestCheck(t *testing.T) {
	for _, row := range []struct{ commit, fsync, pages, version, words string }{
		{"on", "on", "on", "150000", ""},
		{"on", "on", "on", "150018", ""},
		{"on", "on", "on", "180001", ""},
		{"on", "on", "on", "140021", "needs PostgreSQL 15 or newer"},
		{"on", "on", "on", "90624", "needs PostgreSQL 15 or newer"},
		{"on", "on", "on", "", "needs PostgreSQL 15 or newer"},
		{"on", "on", "on", "fifteen", "needs PostgreSQL 15 or newer"},
		{"on", "off", "on", "150000", "fsync=off"},
		{"on", "on", "off", "150000", "full_page_writes=off"},
		{"off", "on", "on", "150000", "synchronous_commit = off"},
		{"local", "on", "on", "150000", "synchronous_commit = local"},
	} {
		err := check(row.commit, row.fsync, row.pages, row.version)
		if row.words == "" && err != nil {
			t.Errorf("%+v: %v", row, err)
		}
		if row.words != "" {
			wantError(t, err, row.words)
		}
	}
}

func TestServersThatLoseCommits(t *testing.T) {
	s := pgtest.New(t, "fsync=off")
	address := s.Database(t)
	refused(t, address, "fsync=off: what it commits can be lost with the power. Set fsync = on")
	s.Restart(t, "full_page_writes=off")
	refused(t, address, "full_page_writes=off: a torn page can damage it")
	s.Restart(t, "synchronous_commit=off") // the store sets it for itself
	begin(t, opened(t, address, Options{}))
}

func TestEveryConnectionIsSafe(t *testing.T) {
	address := pgtest.Start(t).Database(t) + " synchronous_commit=off lock_timeout=0 timezone=Asia/Tokyo"
	s := opened(t, address, Options{Connections: 4})
	begin(t, s)
	raw := rawDB(t, address)
	var name string
	if err := raw.QueryRow(`select current_setting('synchronous_commit')`).Scan(&name); err != nil || name != "off" {
		t.Fatalf("the address does not ask for what it should: %s, %v", name, err)
	}
	var n int
	if err := raw.QueryRow(`select count(*) from pg_stat_activity where application_name = 'wreath' and datname = current_database()`).Scan(&n); err != nil || n < 1 || n > 4 {
		t.Errorf("%d connections of the store, %v, want 1 to 4", n, err)
	}
	// What a connection of the store says of itself.
	config, err := configure(address)
	if err != nil {
		t.Fatal(err)
	}
	conn, err := pgx.ConnectConfig(ctx, config)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	for name, want := range map[string]string{"synchronous_commit": "on", "lock_timeout": "10s", "timezone": "UTC", "idle_in_transaction_session_timeout": "1min"} {
		var got string
		if err := conn.QueryRow(ctx, `select current_setting($1)`, name).Scan(&got); err != nil || got != want {
			t.Errorf("%s = %s, %v, want %s", name, got, err, want)
		}
	}
	if err := readBack(ctx, conn); err != nil {
		t.Error(err)
	}
	// Had it been set back on the way, the connection would be refused.
	if _, err := conn.Exec(ctx, `set synchronous_commit = off`); err != nil {
		t.Fatal(err)
	}
	wantError(t, readBack(ctx, conn), "synchronous_commit = off where on is needed")
}

func rawDB(t *testing.T, address string) *sql.DB {
	t.Helper()
	db, err := sql.Open("pgx", address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

func TestAddressesThatLeadNowhere(t *testing.T) {
	server := pgtest.Start(t)
	address := server.Database(t)
	refused(t, "postgres://%zz", "can't be read")
	refused(t, "host=/nowhere/at/all dbname=x user=x", "can't be reached")
	refused(t, strings.Replace(address, "dbname=", "dbname=no_", 1), "can't be reached")
	raw := rawDB(t, address)
	if _, err := raw.Exec(`drop role if exists guest`); err != nil {
		t.Fatal(err)
	}
	if _, err := raw.Exec(`create role guest login`); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if _, err := raw.Exec(`drop role guest`); err != nil {
			t.Error(err)
		}
	})
	refused(t, strings.Replace(address, "user=postgres", "user=guest", 1), "lacks a right")
}

func TestNewerLayoutIsRefused(t *testing.T) {
	server := pgtest.Start(t)
	address := server.Database(t)
	begin(t, opened(t, address, Options{}))
	if _, err := rawDB(t, address).Exec(`insert into wreath_layout (version_id, is_applied) values (99, true)`); err != nil {
		t.Fatal(err)
	}
	refused(t, address, "it has layout 99, this program knows up to")
	_, err := Open(ctx, address, Options{})
	if !errors.Is(err, store.ErrNewer) {
		t.Errorf("%v is no ErrNewer", err)
	}
}

// shortly makes the stores opened in this test wait for a lock so long only.
func shortly(t *testing.T, wait string) {
	before := wanted["lock_timeout"]
	wanted["lock_timeout"] = wait
	t.Cleanup(func() { wanted["lock_timeout"] = before })
}

// held takes the shop's row and holds it until the function is called.
func held(t *testing.T, db *sql.DB) (letGo func()) {
	t.Helper()
	tx, err := db.Begin()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := tx.Exec(`update shop set last_time = last_time where shop = 'demo'`); err != nil {
		t.Fatal(err)
	}
	return func() {
		if err := tx.Commit(); err != nil {
			t.Error(err)
		}
	}
}

// sqlstate is what the server answered to somebody who does not try again.
func sqlstate(err error) string {
	var e *pgconn.PgError
	if errors.As(err, &e) {
		return e.Code
	}
	return ""
}

func TestLockHeldForAWhile(t *testing.T) {
	shortly(t, "200ms")
	server := pgtest.Start(t)
	address := server.Database(t)
	s := opened(t, address, Options{})
	begin(t, s)
	raw := rawDB(t, address+" lock_timeout=200ms")
	letGo := held(t, raw)
	time.AfterFunc(700*time.Millisecond, letGo)
	if _, err := raw.Exec(`select 1 from shop for update`); sqlstate(err) != "55P03" {
		t.Fatalf("without another try: %v, want 55P03; the test tells nothing", err)
	}
	runs := 0
	if err := s.Write(ctx, "demo", act(&runs)); err != nil {
		t.Errorf("a lock held for 0.7 s: %v", err)
	}
	verify(t, s, 1)

	// Held for good, it is given up after a bounded time.
	letGo = held(t, raw)
	begun := time.Now()
	wantError(t, s.Write(ctx, "demo", act(&runs)), "other acts stood in the way for too long")
	if took := time.Since(begun); took < time.Second || took > 6*time.Second {
		t.Errorf("given up after %v, want eight tries of 0.2 s with short pauses", took)
	}
	// Who is in a hurry gives up sooner.
	hurry, cancel := context.WithTimeout(ctx, 300*time.Millisecond)
	defer cancel()
	begun = time.Now()
	if err := s.Write(hurry, "demo", act(&runs)); !errors.Is(err, context.DeadlineExceeded) || time.Since(begun) > 2*time.Second {
		t.Errorf("after %v: %v, want the deadline", time.Since(begun), err)
	}
	letGo()
	verify(t, s, 1)
}

func TestDeadlock(t *testing.T) {
	server := pgtest.Start(t)
	address := server.Database(t)
	s := opened(t, address, Options{})
	begin(t, s)
	other, err := rawDB(t, address+" deadlock_timeout=60s").Begin() // so that the store is the one to yield
	if err != nil {
		t.Fatal(err)
	}
	if _, err := other.Exec(`update thing set seq = seq where id = 't'`); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	runs := 0
	err = s.Write(ctx, "demo", func(tx *store.Tx) error {
		if err := act(&runs)(tx); err != nil {
			return err
		}
		if runs == 1 {
			go func() {
				_, err := other.Exec(`update shop set last_time = last_time where shop = 'demo'`)
				ended <- errors.Join(err, other.Commit())
			}()
			time.Sleep(200 * time.Millisecond) // until the other one waits
		}
		return tx.Put("tray", "t", 1, 1)
	})
	if err != nil || runs < 2 { // it may be overtaken once more
		t.Errorf("%v after %d runs, want at least two", err, runs)
	}
	if err := <-ended; err != nil {
		t.Errorf("the other one: %v", err)
	}
	verify(t, s, 1)
}

// A server may be set to a stricter isolation than the store needs.
func TestSerializationFailure(t *testing.T) {
	for _, level := range []string{"repeatable read", "serializable"} {
		t.Run(level, func(t *testing.T) {
			server := pgtest.Start(t)
			address := server.Database(t) + " default_transaction_isolation='" + level + "'"
			s := opened(t, address, Options{})
			begin(t, s)
			raw := rawDB(t, address)
			letGo := held(t, raw)
			plain := make(chan error)
			go func() {
				_, err := raw.Exec(`select 1 from shop for update`)
				plain <- err
			}()
			time.AfterFunc(300*time.Millisecond, letGo)
			runs := 0
			if err := s.Write(ctx, "demo", act(&runs)); err != nil {
				t.Error(err)
			}
			if err := <-plain; sqlstate(err) != "40001" {
				t.Errorf("without another try: %v, want 40001; the test tells nothing", err)
			}
			verify(t, s, 1)
		})
	}
}

func TestServerRestartedBetweenActs(t *testing.T) {
	server := pgtest.New(t)
	s := opened(t, server.Database(t), Options{})
	begin(t, s)
	runs, kept := 0, int64(0)
	write := func(after string) {
		t.Helper()
		if err := s.Write(ctx, "demo", act(&runs)); err != nil {
			t.Errorf("%s: %v", after, err)
		}
		kept++
	}
	write("at first")
	server.Restart(t)
	write("after a restart")
	server.Kill(t)
	server.Restart(t)
	write("after a crash")
	if _, err := s.Lookup(ctx, "demo", "none"); !errors.Is(err, store.ErrNotFound) {
		t.Error(err)
	}
	server.Stop(t)
	wantError(t, s.Write(ctx, "demo", act(&runs)), "can't be reached")
	_, err := s.Shops(ctx)
	wantError(t, err, "can't be reached")
	server.Restart(t)
	if _, err := s.Shops(ctx); err != nil {
		t.Errorf("reading after a stop: %v", err)
	}
	write("after a stop")
	verify(t, s, kept)
}

// TestServerStopsInTheMiddle: nothing is kept, and the next act works.
func TestServerStopsInTheMiddle(t *testing.T) {
	server := pgtest.New(t)
	s := opened(t, server.Database(t), Options{})
	begin(t, s)
	runs := 0
	for _, stop := range []func(testing.TB){server.Stop, server.Kill} {
		err := s.Write(ctx, "demo", func(tx *store.Tx) error {
			if err := act(&runs)(tx); err != nil {
				return err
			}
			stop(t)
			return tx.Put("tray", "t", 1, 1)
		})
		wantError(t, err, "do it again")
		server.Restart(t)
	}
	if err := s.Write(ctx, "demo", act(&runs)); err != nil {
		t.Error(err)
	}
	verify(t, s, 1)
}
