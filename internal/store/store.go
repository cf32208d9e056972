package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"sync/atomic"
	"time"

	"wreath/internal/ledger"
)

// Dialect is what differs between the databases.
type Dialect struct {
	Name string
	// Lock ends the statement that reads a shop's row before it is written.
	Lock string
	// Merges says that a compound select with an order follows its parts side by side through their
	// indices. Otherwise a join is asked for, and the planner finds that out.
	Merges bool
	// Search is run before a search; "" is nothing.
	Search string
	// Patient is said in a transaction that waits for long while other work goes on; "" where none is
	// needed.
	Patient string
	// Again says that a transaction failed only because another one was in its way.
	Again func(error) bool
	// Explain turns an error of the database into one that says what happened and what to do. It
	// gives nil when it knows nothing better.
	Explain func(error) error
	// Storage says that the storage below the database fails, so that nothing more may be promised.
	Storage func(error) bool
	// Definite says that an error of a commit means that nothing was kept. After any other the act
	// may be there or not.
	Definite func(error) bool
}

// Errors that callers tell apart.
var (
	ErrNotFound = errors.New("there is no such thing")
	// ErrConflict: the same mark was used for something else before.
	ErrConflict = errors.New("this mark was used for another request before")
	// ErrNewer: the store was written by a newer program.
	ErrNewer = errors.New("the store belongs to a newer version of this program")
	// ErrUnknown: the connection broke while the database was asked to commit. The act may be
	// there; look its mark up.
	ErrUnknown = errors.New("the database didn't say whether the act was kept")
	// ErrFull: the disk is full. What was acknowledged is there and can be read.
	ErrFull = errors.New("the disk is full")
	// ErrFailing: the storage failed before; nothing is written until the program starts anew.
	ErrFailing = errors.New("the storage fails")
)

// Store is a database with the logs of one or more shops.
type Store struct {
	write, read *sql.DB
	dialect     Dialect
	failing     atomic.Bool
}

// New makes a store of two pools, which may be one: write for acts, read for looking.
func New(write, read *sql.DB, d Dialect) *Store {
	return &Store{write: write, read: read, dialect: d}
}

// Name is the kind of database: sqlite or postgres.
func (s *Store) Name() string { return s.dialect.Name }

// Close ends all connections.
func (s *Store) Close() error {
	if s.read == s.write {
		return s.write.Close()
	}
	return errors.Join(s.read.Close(), s.write.Close())
}

// A transaction that stood in another one's way is tried again, so often and for so long. Each try
// waits up to ten seconds for the lock by itself.
const (
	attempts = 8
	patience = 9 * time.Second
)

// Write runs do in one transaction that owns the shop's log, and commits it. When it gives nil, what
// do wrote is durable. Do may run more than once and must not keep anything from an earlier run.
func (s *Store) Write(ctx context.Context, shop string, do func(*Tx) error) error {
	if s.failing.Load() {
		return fmt.Errorf("%w: nothing more is written; what is there can be read. Check the disk, make a backup, and start the program anew", ErrFailing)
	}
	pause := 2 * time.Millisecond
	begun := time.Now()
	for try := 1; ; try++ {
		err := s.attempt(ctx, shop, do)
		if err == nil {
			return nil
		}
		if try == attempts || time.Since(begun) > patience || !s.dialect.Again(err) {
			return s.explain(err)
		}
		select {
		case <-ctx.Done():
			return s.explain(errors.Join(err, ctx.Err()))
		case <-time.After(pause + rand.N(pause)):
		}
		pause *= 2
	}
}

func (s *Store) attempt(ctx context.Context, shop string, do func(*Tx) error) error {
	inner, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer inner.Rollback()
	tx := &Tx{ctx: ctx, store: s, tx: inner, shop: shop, writing: true}
	if err := tx.takeHead(); err != nil {
		return err
	}
	if err := do(tx); err != nil {
		return err
	}
	if err := tx.keepHead(); err != nil {
		return err
	}
	reach("before commit")
	if err := inner.Commit(); err != nil {
		if s.dialect.Again(err) || s.dialect.Definite(err) {
			return err
		}
		return fmt.Errorf("%w: %w", ErrUnknown, err)
	}
	reach("after commit")
	return nil
}

// Read runs do on one unchanging state of the store.
func (s *Store) Read(ctx context.Context, shop string, do func(*Tx) error) error {
	inner, err := s.read.BeginTx(ctx, &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true})
	if err != nil {
		return s.explain(err)
	}
	defer inner.Rollback()
	if err := do(&Tx{ctx: ctx, store: s, tx: inner, shop: shop}); err != nil {
		return s.explain(err)
	}
	return nil
}

// explain makes an error of the database readable and remembers failing storage.
func (s *Store) explain(err error) error {
	if s.dialect.Storage(err) {
		s.failing.Store(true)
		return fmt.Errorf("%w: nothing was acknowledged, and nothing more is written. Check the disk, make a backup, and start the program anew: %w", ErrFailing, err)
	}
	if plain := s.dialect.Explain(err); plain != nil {
		return plain
	}
	return err
}

// Shops lists the shops whose logs are in the store.
func (s *Store) Shops(ctx context.Context) (names []string, err error) {
	err = s.Read(ctx, "", func(tx *Tx) error {
		names = nil
		return tx.rows(func(scan func(...any) error) error {
			var name string
			if err := scan(&name); err != nil {
				return err
			}
			names = append(names, name)
			return nil
		}, `select shop from shop order by shop`)
	})
	return names, err
}

// Lookup says whether an act with that mark was kept, for a sender that doesn't know. A server may
// still be at work on a commit whose sender is gone; that act holds the shop's row, so Lookup waits
// for it as the next act would.
func (s *Store) Lookup(ctx context.Context, shop, key string) (e ledger.Entry, err error) {
	look := s.Read
	if s.dialect.Lock != "" && !s.failing.Load() {
		look = s.Write
	}
	err = look(ctx, shop, func(tx *Tx) error {
		e, err = tx.ByKey(key)
		return err
	})
	return e, err
}

// Reach, when set, is told the named points that a write passes. Only tests set it.
var Reach func(point string)

func reach(point string) {
	if Reach != nil {
		Reach(point)
	}
}
