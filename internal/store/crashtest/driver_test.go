//go:build linux

package crashtest

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"

	"wreath/internal/store"
	"wreath/internal/store/faultfs"
	"wreath/internal/store/pgtest"
	"wreath/internal/store/postgres"
	"wreath/internal/store/sqlite"
)

// job is what a driver is told to do, in the variable WREATH_DRIVER.
type job struct {
	SQLite, Postgres string // one of them: the file or the address
	Private, Public  string
	Folder           string // for backups
	Next             map[int]int
	Point            string // where the driver kills itself: a point of the store, or "step" of the file layer
	Pass             int64  // at which passing
}

func TestMain(m *testing.M) {
	if text := os.Getenv("WREATH_DRIVER"); text != "" {
		var j job
		err := json.Unmarshal([]byte(text), &j)
		if err == nil {
			err = j.drive(context.Background())
		}
		say("error %q", fmt.Sprint(err))
		os.Exit(1)
	}
	pgtest.Main(m)
}

var saying sync.Mutex

// say writes one line to the pipe, at once.
func say(format string, args ...any) {
	saying.Lock()
	defer saying.Unlock()
	fmt.Fprintf(os.Stdout, format+"\n", args...)
}

func die() {
	syscall.Kill(os.Getpid(), syscall.SIGKILL)
	select {}
}

// driver runs clients on one store until it is killed.
type driver struct {
	job
	mu    sync.RWMutex // held for reading while the store is used, for writing while it is opened anew
	store *store.Store
}

func (j job) drive(ctx context.Context) error {
	left := atomic.Int64{}
	left.Store(j.Pass)
	pass := func(point string) {
		if point == j.Point && left.Add(-1) == 0 {
			die()
		}
	}
	store.Reach = pass
	if j.Point == "step" {
		_, err := faultfs.New("killer", faultfs.Options{Before: func(s faultfs.Step) int32 {
			if s.Kind != faultfs.Read {
				pass("step")
			}
			return 0
		}})
		if err != nil {
			return err
		}
	}
	d := &driver{job: j}
	var err error
	if d.store, err = d.open(ctx); err != nil {
		return err
	}
	if err := openLog(ctx, d.store, j.Public); err != nil {
		return err
	}
	say("ready")
	failed := make(chan error)
	for client, next := range j.Next {
		go func() {
			for n := next; ; n++ {
				if err := d.act(ctx, act{client, n}); err != nil {
					failed <- err
					return
				}
			}
		}()
	}
	return <-failed
}

func (d *driver) open(ctx context.Context) (*store.Store, error) {
	if d.Postgres != "" {
		return postgres.Open(ctx, d.Postgres, postgres.Options{Connections: 6})
	}
	o := sqlite.Options{}
	if d.Point == "step" {
		o.VFS = "killer"
	}
	return sqlite.Open(ctx, d.SQLite, o)
}

// act does one act, says so, and does what else is due.
func (d *driver) act(ctx context.Context, a act) error {
	if err := d.write(ctx, a); err != nil {
		return err
	}
	if a.n%10 == 9 { // a client that asks twice
		if err := d.write(ctx, act{a.client, rand.IntN(a.n)}); err != nil {
			return err
		}
	}
	turn := a.n + a.client*5
	switch {
	case d.Postgres != "" && turn%40 == 11:
		return d.backup(ctx, fmt.Sprintf("%s-copy", a.key()), d.copy)
	case d.Postgres != "":
		return nil
	case turn%40 == 7:
		return d.backup(ctx, a.key(), func(ctx context.Context, to string) error { return sqlite.Snapshot(ctx, d.SQLite, to) })
	case turn%40 == 11:
		return d.backup(ctx, a.key()+"-copy", d.copy)
	case turn%20 == 5:
		err := sqlite.Scrub(ctx, d.SQLite)
		if err != nil && (strings.Contains(err.Error(), "in use") || strings.Contains(err.Error(), "locked")) {
			err = nil // readers were in the way
		}
		return err
	case turn%40 == 17:
		return d.reopen(ctx)
	}
	return nil
}

func (d *driver) write(ctx context.Context, a act) error {
	d.mu.RLock()
	defer d.mu.RUnlock()
	do := a.write
	if d.Postgres != "" {
		do = a.persist
	}
	got, err := do(ctx, d.store, d.Private)
	if err != nil {
		return fmt.Errorf("%s: %w", a.key(), err)
	}
	say("ack %d %d %d %d", a.client, a.n, got.seq, got.number)
	return nil
}

func (d *driver) backup(ctx context.Context, name string, make func(ctx context.Context, to string) error) error {
	d.mu.RLock()
	defer d.mu.RUnlock()
	path := filepath.Join(d.Folder, fmt.Sprintf("%d-%s.wreath", os.Getpid(), name))
	say("begin %s", path)
	err := make(ctx, path)
	if err != nil && d.Postgres != "" {
		return nil // the server went; the copy is not said to be done
	}
	if err == nil {
		say("done %s", path)
	}
	return err
}

func (d *driver) copy(ctx context.Context, path string) error {
	to, err := sqlite.Open(ctx, path, sqlite.Options{})
	if err != nil {
		return err
	}
	_, err = store.Copy(ctx, d.store, to, shop)
	return errors.Join(err, to.Close())
}

func (d *driver) reopen(ctx context.Context) (err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.store.Close(); err != nil {
		return err
	}
	d.store, err = d.open(ctx)
	return err
}
