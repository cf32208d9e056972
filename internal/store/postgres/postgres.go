// Package postgres opens a store in PostgreSQL, for many counters. Each shop has its own log, so
// counters of different shops never wait for each other.
package postgres

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"strconv"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"

	"wreath/internal/store"
)

//go:embed migrations/*.sql
var migrations embed.FS

// oldest is the first server that is supported, as server_version_num: 15.
const oldest = 150000

// Options change how a store is opened.
type Options struct {
	// Connections bounds the connections to the server; 10 unless set.
	Connections int
	// Backup is called before the layout of a store is upgraded, with the version that it has. An
	// upgrade without it is refused.
	Backup func(version int64) error
}

// Open opens or makes the store in a database that is there. The address is a PostgreSQL URL or
// keyword string.
func Open(ctx context.Context, address string, o Options) (*store.Store, error) {
	config, err := configure(address)
	if err != nil {
		return nil, err
	}
	// A connection may have gone with a restart of the server since it was used last.
	always := func(context.Context, stdlib.ShouldPingParams) bool { return true }
	db := stdlib.OpenDB(*config, stdlib.OptionAfterConnect(readBack), stdlib.OptionShouldPing(always))
	if o.Connections == 0 {
		o.Connections = 10
	}
	db.SetMaxOpenConns(o.Connections)
	db.SetMaxIdleConns(o.Connections)
	if err := prepare(ctx, db, o); err != nil {
		db.Close()
		if plain := explain(err); plain != nil {
			err = plain
		}
		return nil, fmt.Errorf("open the store in PostgreSQL: %w", err)
	}
	return store.New(db, db, dialect), nil
}

func configure(address string) (*pgx.ConnConfig, error) {
	config, err := pgx.ParseConfig(address)
	if err != nil {
		return nil, fmt.Errorf("the address of the database can't be read: it looks like postgres://name@host/database: %w", err)
	}
	for name, value := range wanted {
		config.RuntimeParams[name] = value
	}
	config.RuntimeParams["application_name"] = "wreath"
	return config, nil
}

// wanted is set on every connection and read back.
var wanted = map[string]string{
	"synchronous_commit":                  "on",
	"lock_timeout":                        "10s",
	"idle_in_transaction_session_timeout": "1min",
	"timezone":                            "UTC",
}

// readBack refuses a connection on which a promise would not hold.
func readBack(ctx context.Context, conn *pgx.Conn) error {
	var commit, fsync, pages, version string
	err := conn.QueryRow(ctx, `select current_setting('synchronous_commit'), current_setting('fsync'), current_setting('full_page_writes'), current_setting('server_version_num')`).
		Scan(&commit, &fsync, &pages, &version)
	if err != nil {
		return err
	}
	return check(commit, fsync, pages, version)
}

func check(commit, fsync, pages, version string) error {
	n, err := strconv.Atoi(version)
	switch {
	case err != nil || n < oldest:
		return fmt.Errorf("the server has version number %s; this program needs PostgreSQL 15 or newer", version)
	case fsync != "on":
		return errors.New("the server runs with fsync=off: what it commits can be lost with the power. Set fsync = on in its configuration and restart it")
	case pages != "on":
		return errors.New("the server runs with full_page_writes=off: a torn page can damage it. Set full_page_writes = on in its configuration and reload it")
	case commit != "on":
		return fmt.Errorf("the server keeps synchronous_commit = %s where on is needed for what was promised", commit)
	}
	return nil
}

func prepare(ctx context.Context, db *sql.DB, o Options) error {
	if err := db.PingContext(ctx); err != nil {
		return err
	}
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	locker, err := lock.NewPostgresSessionLocker()
	if err != nil {
		return err
	}
	return store.Migrate(ctx, db, goose.DialectPostgres, files, locker, func(version int64) error {
		if o.Backup == nil {
			return errors.New("say where the backup goes")
		}
		return o.Backup(version)
	})
}

var dialect = store.Dialect{
	Name: "postgres",
	Lock: " for update",
	// A plan that is made without knowing the words asked for is far slower for common ones.
	Search:  "set local plan_cache_mode = force_custom_plan",
	Patient: "set local idle_in_transaction_session_timeout = 0",
	Again: func(err error) bool {
		switch code(err) {
		case "40001", "40P01", "55P03": // serialization failure, deadlock, lock not available
			return true
		}
		return false
	},
	Explain: explain,
	Storage: func(err error) bool {
		switch code(err) {
		case "58030", "XX001", "XX002": // io error, data corrupted, index corrupted
			return true
		}
		return false
	},
	// An answer of the server is definite, unless the server was going down meanwhile.
	Definite: func(err error) bool {
		c := code(err)
		return c != "" && c[:2] != "57" && c[:2] != "08" && c[:2] != "58" && c[:2] != "XX"
	},
}

// code is the SQLSTATE of an error; "" when the server didn't answer.
func code(err error) string {
	var e *pgconn.PgError
	if errors.As(err, &e) {
		return e.Code
	}
	return ""
}

func explain(err error) error {
	var connect *pgconn.ConnectError
	var network *net.OpError
	switch c := code(err); {
	case c == "53100":
		return fmt.Errorf("%w: the act was not kept, everything before it is there. Make room for the database, then do it again: %w", store.ErrFull, err)
	case c == "57P01" || c == "57P02" || c == "57P03":
		return fmt.Errorf("the database is stopping or starting; do it again in a moment: %w", err)
	case c == "40001" || c == "40P01" || c == "55P03":
		return fmt.Errorf("other acts stood in the way for too long: nothing was kept; do it again: %w", err)
	case c == "22021":
		return fmt.Errorf("a text holds a zero byte or is not UTF-8, which the database can't keep: %w", err)
	case c == "42501":
		return fmt.Errorf("this user of the database lacks a right: %w", err)
	case errors.As(err, &connect):
		return fmt.Errorf("the database can't be reached; check its address and that it runs: %w", err)
	case !errors.Is(err, store.ErrUnknown) && (errors.As(err, &network) || errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, driver.ErrBadConn)):
		return fmt.Errorf("the connection to the database broke before the act was kept; do it again: %w", err)
	}
	return nil
}
