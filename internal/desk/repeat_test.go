package desk

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"

	engine "modernc.org/sqlite"

	"wreath/internal/people"
	"wreath/internal/store"
)

// TestRepeat sends every act twice under one mark: one entry, one result. The mark is refused for
// another person, and for another request.
func TestRepeat(t *testing.T) {
	for _, a := range acts {
		if a.once != "" {
			continue
		}
		t.Run(a.method+" "+string(a.action), func(t *testing.T) {
			w := openWorld(t)
			by := w.boss()
			switch a.action {
			case people.SignAsMeasurer:
				by = w.as("measure")
			case people.WitnessDetermination: // boss approved before
				by = w.as("sign")
			}
			do := a.prepare(w, by.Who)
			by.Key = "a mark"
			before := w.size()
			first, err := do(by)
			w.ok(err)
			entry := lastEntry(t, w.Desk)
			if entry.Key != by.Key {
				t.Fatalf("the entry has the mark %q", entry.Key)
			}
			again, err := do(by)
			w.ok(err)
			if got := w.size() - before - further[a.method]; got != 1 {
				t.Errorf("%d entries, want one", got)
			}
			if a, b := replayed(t, first), replayed(t, again); a != b {
				t.Errorf("sent again: %s\nfirst:      %s", b, a)
			}
			// The same mark for something else, and by somebody else.
			if by.Who.person.ID == "boss" {
				state := w.all()
				_, err = w.EnterItem(t.Context(), By{Who: by.Who, Key: by.Key}, Item{Description: "something else"})
				if !errors.Is(err, store.ErrConflict) {
					t.Errorf("another request under the mark: %v", err)
				}
				for _, role := range people.Roles {
					if !people.May([]people.Role{role}, a.action) || a.method == "SetPIN" {
						continue // SetPIN asks for a session at the counter first
					}
					_, err := do(By{Who: w.who[string(role)], Key: by.Key})
					if !errors.Is(err, store.ErrConflict) {
						t.Errorf("%s under the mark of boss: %v", role, err)
					}
				}
				if w.all() != state {
					t.Error("a conflict changed the store")
				}
			}
			verified(t, w.Desk)
		})
	}
}

// TestShownOnce holds the other half: what is not known again does make a second entry.
func TestShownOnce(t *testing.T) {
	for _, a := range acts {
		if a.once != shownOnce {
			continue
		}
		t.Run(a.method, func(t *testing.T) {
			w := openWorld(t)
			by := w.boss()
			do := a.prepare(w, by.Who)
			by.Key = "a mark"
			before := w.size()
			first, err := do(by)
			w.ok(err)
			second, err := do(by)
			w.ok(err)
			if w.size()-before != 2 || replayed(t, first) == replayed(t, second) {
				t.Errorf("%d entries, %v and %v", w.size()-before, first, second)
			}
		})
	}
}

// onBoth runs a test on both databases.
func onBoth(t *testing.T, test func(t *testing.T, w *world)) {
	t.Run("sqlite", func(t *testing.T) { test(t, openWorld(t)) })
	t.Run("postgres", func(t *testing.T) {
		w := openWorld(t)
		s := onPostgres(t)
		must[store.Report](t)(store.Copy(t.Context(), w.o.Store, s, w.Shop()))
		w.Desk = sitAt(t, s, "", w.o.Private, w.o.Public, w.clock.now)
		test(t, w)
	})
}

func TestOneMarkFromManySides(t *testing.T) {
	onBoth(t, func(t *testing.T, w *world) {
		given := ringGiven(t)
		before := w.size()
		var group sync.WaitGroup
		numbers, errs := make([]string, 8), make([]error, 8)
		for i := range 8 {
			group.Go(func() {
				r, err := w.Record(context.Background(), By{Who: w.who["boss"], Key: "one mark"}, given)
				if errs[i] = err; err == nil {
					numbers[i] = r.Number
				}
			})
		}
		group.Wait()
		if err := errors.Join(errs...); err != nil {
			t.Fatal(err)
		}
		for _, n := range numbers {
			if n != "D-000001" {
				t.Errorf("numbers %v, want one", numbers)
			}
		}
		if got := w.size() - before; got != 1 {
			t.Errorf("%d entries, want one", got)
		}
	})
}

// TestUnknownOutcome loses the answer to a commit, once before and once after it was kept. The desk
// looks the mark up and does the act once either way.
func TestUnknownOutcome(t *testing.T) {
	for _, kept := range []bool{false, true} {
		t.Run(fmt.Sprintf("kept=%t", kept), func(t *testing.T) {
			w := openWorld(t)
			line := &badLine{kept: kept}
			w.Desk = sitAt(t, storeOver(t, w.path, line), w.path, w.o.Private, w.o.Public, w.clock.now)
			before := w.size()
			line.lose.Store(1)
			i := must[Item](t)(w.EnterItem(t.Context(), w.boss(), Item{Description: "plain band"}))
			if line.lose.Load() != 0 {
				t.Fatal("no answer was lost")
			}
			if e := lastEntry(t, w.Desk); w.size()-before != 1 || e.Subject != i.ID {
				t.Errorf("%d entries, the last of %s; want one of %s", w.size()-before, e.Subject, i.ID)
			}
			verified(t, w.Desk)

			// A line that stays bad gives up, and says that it doesn't know.
			line.lose.Store(100)
			_, err := w.EnterItem(t.Context(), By{Who: w.who["boss"], Key: "unsure"}, Item{Description: "chain"})
			if !errors.Is(err, store.ErrUnknown) {
				t.Errorf("a line that stays bad: %v", err)
			}
			line.lose.Store(0)
			i = must[Item](t)(w.EnterItem(t.Context(), By{Who: w.who["boss"], Key: "unsure"}, Item{Description: "chain"}))
			if e := lastEntry(t, w.Desk); w.size()-before != 2 || e.Subject != i.ID {
				t.Errorf("%d entries, the last of %s; want a second of %s", w.size()-before, e.Subject, i.ID)
			}
		})
	}
}

// badLine loses the answers to the next commits.
type badLine struct {
	lose atomic.Int32
	kept bool // the commit itself arrives
}

// storeOver is a store in a file behind a line.
func storeOver(t *testing.T, path string, line *badLine) *store.Store {
	t.Helper()
	db := sql.OpenDB(lineTo{"file:" + path + "?_txlock=immediate&_pragma=busy_timeout(10000)", line})
	db.SetMaxOpenConns(1)
	reading := must[*sql.DB](t)(sql.Open("sqlite", "file:"+path))
	none := func(error) bool { return false }
	s := store.New(db, reading, store.Dialect{Name: "sqlite", Again: none, Storage: none, Definite: none, Explain: func(error) error { return nil }})
	t.Cleanup(func() { s.Close() })
	return s
}

type lineTo struct {
	dsn  string
	line *badLine
}

func (l lineTo) Driver() driver.Driver { return &engine.Driver{} }

func (l lineTo) Connect(context.Context) (driver.Conn, error) {
	conn, err := l.Driver().Open(l.dsn)
	return &farConn{conn, l.line}, err
}

type farConn struct {
	driver.Conn
	line *badLine
}

func (c *farConn) PrepareContext(ctx context.Context, query string) (driver.Stmt, error) {
	return c.Conn.(driver.ConnPrepareContext).PrepareContext(ctx, query)
}

func (c *farConn) ExecContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Result, error) {
	return c.Conn.(driver.ExecerContext).ExecContext(ctx, query, args)
}

func (c *farConn) QueryContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Rows, error) {
	return c.Conn.(driver.QueryerContext).QueryContext(ctx, query, args)
}

func (c *farConn) BeginTx(ctx context.Context, o driver.TxOptions) (driver.Tx, error) {
	tx, err := c.Conn.(driver.ConnBeginTx).BeginTx(ctx, o)
	return &farTx{tx, c.line}, err
}

type farTx struct {
	driver.Tx
	line *badLine
}

// Commit loses the answer; whether the commit arrived is another matter.
func (tx *farTx) Commit() error {
	if tx.line.lose.Add(-1) < 0 {
		tx.line.lose.Store(0)
		return tx.Tx.Commit()
	}
	if tx.line.kept {
		if err := tx.Tx.Commit(); err != nil {
			return err
		}
	} else if err := tx.Tx.Rollback(); err != nil {
		return err
	}
	return errors.New("the line broke")
}
