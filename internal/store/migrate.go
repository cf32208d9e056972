package store

import (
	"context"
	"database/sql"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"
)

// Migrate brings a database to the newest layout, forward only. Before an old one is changed, backup
// is called with the version that it has. A database from a newer program is refused with ErrNewer.
// Without a backup function nothing is changed, and an older layout is refused too.
func Migrate(ctx context.Context, db *sql.DB, dialect goose.Dialect, files fs.FS, locker lock.SessionLocker, backup func(version int64) error) error {
	options := []goose.ProviderOption{goose.WithDisableGlobalRegistry(true), goose.WithTableName("wreath_layout")}
	if locker != nil {
		options = append(options, goose.WithSessionLocker(locker))
	}
	p, err := goose.NewProvider(dialect, db, files, options...)
	if err != nil {
		return fmt.Errorf("read the layouts of the store: %w", err)
	}
	now, err := p.GetDBVersion(ctx)
	if err != nil {
		return fmt.Errorf("ask for the layout of the store: %w", err)
	}
	sources := p.ListSources()
	newest := sources[len(sources)-1].Version
	switch {
	case now > newest:
		return fmt.Errorf("%w: it has layout %d, this program knows up to %d. Install the newer program, or restore a backup from before the upgrade", ErrNewer, now, newest)
	case now == newest:
		return nil
	case backup == nil:
		return fmt.Errorf("the store has layout %d and this program works with %d; it is upgraded when it is opened for work", now, newest)
	case now > 0:
		if err := backup(now); err != nil {
			return fmt.Errorf("the store was left as it is, because no backup could be made before the upgrade: %w", err)
		}
	}
	reach("migration")
	for before := now; ; {
		_, err := p.Up(ctx)
		if err == nil {
			break
		}
		// Another process may have upgraded the store meanwhile; then this one takes up from there.
		now, asked := p.GetDBVersion(ctx)
		if asked != nil || now <= before {
			return fmt.Errorf("upgrade the store from layout %d to %d: %w", before, newest, err)
		}
		before = now
	}
	reach("migrated")
	return nil
}
