// Package sqlite opens a store in one file: the default. One writer at a time, write-ahead log, and
// a commit that has reached the disk before it is acknowledged.
package sqlite

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/pressly/goose/v3"
	engine "modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"wreath/internal/store"
)

//go:embed migrations/*.sql
var migrations embed.FS

// oldest is the first engine with the fix for the loss of commits when two connections reset the
// write-ahead log at once (SQLite release notes, 3.51.3). 3.52.0 was withdrawn.
const (
	oldest    = "3.51.3"
	withdrawn = "3.52.0"
)

// Options change how a store is opened. The zero value is right outside of tests.
type Options struct {
	VFS      string // name of a registered file layer; "" is the system's
	Relaxed  bool   // synchronous=NORMAL: commits may be lost with the power. Only a test's control uses it
	MustBe   bool   // refuse a file that is not there instead of making it
	ReadOnly bool   // never write, not even a migration
}

// Open opens or makes the store in a file.
func Open(ctx context.Context, path string, o Options) (*store.Store, error) {
	if err := checkEngine(ctx); err != nil {
		return nil, err
	}
	if err := checkPlace(path, o); err != nil {
		return nil, err
	}
	if o.VFS == "" && !o.ReadOnly {
		if err := mine(path); err != nil {
			return nil, fmt.Errorf("the store %s can't be written: %w", path, err)
		}
	}
	write, read := open(path, o, true), open(path, o, false)
	write.SetMaxOpenConns(1)
	read.SetMaxOpenConns(8)
	s := store.New(write, read, dialect)
	err := prepare(ctx, path, write, o, migrations)
	if err != nil {
		s.Close()
		if plain := explain(err); plain != nil {
			err = plain
		}
		return nil, fmt.Errorf("open the store %s: %w", path, err)
	}
	return s, nil
}

func prepare(ctx context.Context, path string, db *sql.DB, o Options, layouts fs.FS) error {
	files, err := fs.Sub(layouts, "migrations")
	if err != nil {
		return err
	}
	var tables, ours int
	if err := db.QueryRowContext(ctx, `select count(*), coalesce(sum(name = 'wreath_layout'), 0) from sqlite_schema`).Scan(&tables, &ours); err != nil {
		return err
	}
	switch {
	case tables > 0 && ours == 0:
		return errors.New("it belongs to another program: it is a database, and nothing in it is of this one. Name another file")
	case ours == 0 && o.ReadOnly:
		return errors.New("it is empty; a store is made in it when it is opened for work")
	}
	if o.ReadOnly {
		return store.Migrate(ctx, db, goose.DialectSQLite3, files, nil, nil)
	}
	return store.Migrate(ctx, db, goose.DialectSQLite3, files, nil, func(version int64) error {
		// Two processes may find the old store in the same microsecond.
		return snapshot(ctx, db, fmt.Sprintf("%s.before-upgrade-from-%d-%s-%d", path, version, time.Now().UTC().Format("20060102-150405.000000"), os.Getpid()))
	})
}

// checkEngine refuses an engine that can lose commits.
func checkEngine(ctx context.Context) error {
	db, err := sql.Open("sqlite", ":memory:")
	if err != nil {
		return err
	}
	defer db.Close()
	var version string
	if err := db.QueryRowContext(ctx, `select sqlite_version()`).Scan(&version); err != nil {
		return err
	}
	return checkVersion(version)
}

func checkVersion(version string) error {
	if number(version) < number(oldest) || version == withdrawn {
		return fmt.Errorf("this program was built with SQLite %s, which can lose what was committed; build it with %s or newer, but not %s", version, oldest, withdrawn)
	}
	return nil
}

// number makes a version comparable: 3.51.3 is 3051003.
func number(version string) (n int) {
	parts := strings.Split(version, ".")
	for i := range 3 {
		var part int
		if i < len(parts) {
			fmt.Sscanf(parts[i], "%d", &part)
		}
		n = n*1000 + part
	}
	return n
}

// checkPlace refuses what can't hold a store before the engine says so in its own words.
func checkPlace(path string, o Options) error {
	info, err := os.Stat(path)
	switch {
	case err == nil && info.IsDir():
		return fmt.Errorf("%s is a folder; name a file for the store", path)
	case errors.Is(err, fs.ErrNotExist) && (o.MustBe || o.ReadOnly):
		return fmt.Errorf("there is no store %s; check the name, or make a shop there first", path)
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("the store %s can't be looked at: %w", path, err)
	}
	folder := filepath.Dir(path)
	if _, err := os.Stat(folder); err != nil {
		return fmt.Errorf("the folder %s of the store is not there; make it first", folder)
	}
	if name := networkFolder(folder); name != "" {
		return fmt.Errorf("%s lies on a network folder (%s); the write-ahead log needs a disk of this machine. Keep the store on a local disk, or use PostgreSQL", path, name)
	}
	return nil
}

// settings must read back as they were set, on every connection.
func settings(o Options) [][2]string {
	synchronous := "2" // FULL
	if o.Relaxed {
		synchronous = "1"
	}
	if o.ReadOnly {
		return [][2]string{{"busy_timeout", "10000"}, {"query_only", "1"}, {"trusted_schema", "0"}, {"cache_size", "-65536"}}
	}
	return [][2]string{
		{"busy_timeout", "10000"}, {"journal_mode", "wal"}, {"synchronous", synchronous}, {"foreign_keys", "1"},
		{"trusted_schema", "0"}, {"cell_size_check", "1"}, {"secure_delete", "1"}, {"cache_size", "-65536"},
	}
}

func open(path string, o Options, writing bool) *sql.DB {
	query := url.Values{}
	if o.VFS != "" {
		query.Set("vfs", o.VFS)
	}
	if writing {
		query.Set("_txlock", "immediate")
	}
	mode := "rwc"
	if o.ReadOnly {
		mode = "ro"
	}
	query.Set("mode", mode)
	dsn := (&url.URL{Scheme: "file", Opaque: (&url.URL{Path: filepath.ToSlash(path)}).EscapedPath(), RawQuery: query.Encode()}).String()
	return sql.OpenDB(connector{dsn, settings(o)})
}

// connector opens connections and reads back what was set on them.
type connector struct {
	dsn      string
	settings [][2]string
}

func (c connector) Driver() driver.Driver { return &engine.Driver{} }

// Connect opens one connection.
func (c connector) Connect(ctx context.Context) (driver.Conn, error) {
	conn, err := c.Driver().Open(c.dsn)
	if err != nil {
		return nil, err
	}
	// The engine itself does not wait when two programs begin a write-ahead log at once.
	deadline := time.Now().Add(10 * time.Second)
	for _, s := range c.settings {
		err := set(ctx, conn, s[0], s[1])
		for code(err) == sqlite3.SQLITE_BUSY && ctx.Err() == nil && time.Now().Before(deadline) {
			time.Sleep(5 * time.Millisecond)
			err = set(ctx, conn, s[0], s[1])
		}
		if err != nil {
			return nil, errors.Join(err, conn.Close())
		}
	}
	return conn, nil
}

func set(ctx context.Context, conn driver.Conn, name, value string) error {
	if _, err := conn.(driver.ExecerContext).ExecContext(ctx, `pragma `+name+` = `+value, nil); err != nil {
		return err
	}
	rows, err := conn.(driver.QueryerContext).QueryContext(ctx, `pragma `+name, nil)
	if err != nil {
		return err
	}
	defer rows.Close()
	got := make([]driver.Value, 1)
	if err := rows.Next(got); err != nil {
		return fmt.Errorf("read back %s: %w", name, err)
	}
	if fmt.Sprint(got[0]) != value {
		return fmt.Errorf("the database keeps %s = %v where %s is needed for what was promised", name, got[0], value)
	}
	return nil
}

var dialect = store.Dialect{
	Name:     "sqlite",
	Merges:   true,
	Again:    func(err error) bool { return code(err) == sqlite3.SQLITE_BUSY },
	Explain:  explain,
	Definite: definite,
	Storage: func(err error) bool {
		switch code(err) {
		case sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CANTOPEN:
			return true
		}
		return false
	},
}

// A commit that failed for want of room or of the lock left nothing; after an error of the disk its
// frames may stand in the write-ahead log.
func definite(err error) bool {
	switch code(err) {
	case sqlite3.SQLITE_FULL, sqlite3.SQLITE_BUSY, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CONSTRAINT:
		return true
	}
	return false
}

// code is the primary result code of an error; 0 when it isn't the engine's.
func code(err error) int {
	var e *engine.Error
	if errors.As(err, &e) {
		return e.Code() & 0xff
	}
	return 0
}

func explain(err error) error {
	switch code(err) {
	case sqlite3.SQLITE_FULL:
		return fmt.Errorf("%w: the act was not kept, everything before it is there and can be read. Make room, then do it again: %w", store.ErrFull, err)
	case sqlite3.SQLITE_READONLY:
		return fmt.Errorf("the store can't be written: check who owns the file and its folder, and whether the disk went read-only: %w", err)
	case sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN:
		return fmt.Errorf("the disk does not read or write as it should: check the disk, and who may write in the folder; then start the program anew: %w", err)
	case sqlite3.SQLITE_CORRUPT:
		return fmt.Errorf("the file is damaged: keep it, check the disk, and restore a backup: %w", err)
	case sqlite3.SQLITE_NOTADB:
		return fmt.Errorf("the file is not a store of this program, or it is damaged: %w", err)
	case sqlite3.SQLITE_BUSY:
		return fmt.Errorf("another program holds the store; end it, or wait, and do it again: %w", err)
	}
	return nil
}

// Snapshot writes a consistent copy of a store in use to a new file, which then is on the disk.
func Snapshot(ctx context.Context, path, to string) error {
	if err := checkPlace(path, Options{MustBe: true}); err != nil {
		return err
	}
	db := open(path, Options{}, false)
	defer db.Close()
	return snapshot(ctx, db, to)
}

func snapshot(ctx context.Context, db *sql.DB, to string) error {
	if _, err := os.Stat(to); err == nil {
		return fmt.Errorf("%s is there already; a backup never goes over a file", to)
	}
	part := to + ".part"
	if err := os.Remove(part); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	err := mine(part)
	if err == nil {
		_, err = db.ExecContext(ctx, `vacuum into ?`, part)
	}
	if err == nil {
		err = onDisk(part)
	}
	if err == nil {
		err = os.Rename(part, to)
	}
	if err != nil {
		os.Remove(part) // half a backup helps nobody, and a full disk needs the room
		if plain := explainBackup(err); plain != nil {
			err = plain
		}
		return fmt.Errorf("write %s: %w", part, err)
	}
	return onDisk(filepath.Dir(to))
}

// explainBackup speaks of the backup where explain would speak of an act.
func explainBackup(err error) error {
	if code(err) == sqlite3.SQLITE_FULL {
		return fmt.Errorf("the disk is full, so there is no backup. Make room, or name another place, and do it again: %w", err)
	}
	return explain(err)
}

// mine makes an empty file that nobody else may read, if there is none yet: what becomes a store
// holds personal data and hashes of passwords.
func mine(path string) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return err
	}
	return f.Close()
}

// onDisk asks the system to bring a file or folder to the disk.
func onDisk(name string) error {
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && info.IsDir() {
		return syncFolder(f)
	}
	return f.Sync()
}

// Scrub takes what was deleted out of the write-ahead log as well, so that a destroyed key is not
// left on the disk. It waits for readers.
func Scrub(ctx context.Context, path string) error {
	if err := checkPlace(path, Options{MustBe: true}); err != nil {
		return err
	}
	db := open(path, Options{}, true)
	defer db.Close()
	var busy, logged, moved int
	if err := db.QueryRowContext(ctx, `pragma wal_checkpoint(truncate)`).Scan(&busy, &logged, &moved); err != nil {
		return err
	}
	if busy != 0 {
		return errors.New("the write-ahead log is in use; what was erased may stand in it until the next scrub")
	}
	return nil
}

// Sound asks the engine whether the file is whole.
func Sound(ctx context.Context, path string) error {
	if err := checkPlace(path, Options{MustBe: true}); err != nil {
		return err
	}
	db := open(path, Options{ReadOnly: true}, false)
	defer db.Close()
	var answer string
	if err := db.QueryRowContext(ctx, `pragma integrity_check(1)`).Scan(&answer); err != nil {
		return err
	}
	if answer != "ok" {
		return fmt.Errorf("the file %s is damaged: %s", path, answer)
	}
	return nil
}
