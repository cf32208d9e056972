package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/store"
	"wreath/internal/vault"
)

// BackupMade is a backup that was tried: it was opened and verified after it was written.
type BackupMade struct {
	File    string    `json:"file"`
	SHA256  string    `json:"sha256"`
	Bytes   int64     `json:"bytes"`
	Entries int64     `json:"entries"`
	Root    tlog.Hash `json:"root"`
}

// Backup writes a copy of the store to a new file while it is in use. The backup counts only after it
// was opened, verified and its views computed anew from its log; a file that fails is taken away.
func (d *Desk) Backup(ctx context.Context, by By, to string) (made BackupMade, err error) {
	var before int64
	var repeated bool
	err = d.look(ctx, by.Who, people.Backup, func(tx *store.Tx) error {
		if made, repeated, err = madeBefore(tx, by, to); err != nil || repeated {
			return err
		}
		if err := open(tx); err != nil {
			return err
		}
		before, err = tx.Size()
		return err
	})
	if err != nil || repeated {
		return made, err
	}
	if info, err := os.Stat(filepath.Dir(to)); err != nil || !info.IsDir() {
		return made, bad("Make the folder first, or plug in the disk.", "there is no folder %s for the backup", filepath.Dir(to))
	}
	if err := d.o.Snapshot(ctx, to); err != nil {
		return made, err
	}
	report, err := d.tryBackup(ctx, to)
	if err == nil && report.Entries < before {
		err = fmt.Errorf("it has %d entries, the store had %d before", report.Entries, before)
	}
	if err != nil {
		return made, fmt.Errorf("the backup is no good and was taken away; nothing else was changed: %w", errors.Join(err, os.Remove(to)))
	}
	made = BackupMade{File: filepath.Base(to), Entries: report.Entries, Root: report.Root}
	if made.SHA256, made.Bytes, err = digest(to); err != nil {
		return made, err
	}
	_, err = d.act(ctx, by, people.Backup, made, func(tx *store.Tx, at time.Time) (draft, error) {
		return draft{kind: "backup-made", subject: "backup", body: made}, nil
	})
	return made, err
}

// madeBefore finds the backup that was made under a mark.
func madeBefore(tx *store.Tx, by By, to string) (made BackupMade, found bool, err error) {
	if by.Key == "" {
		return made, false, nil
	}
	e, err := tx.ByKey(by.Key)
	if err != nil {
		return made, false, ignoreMissing(err)
	}
	if made, err = read[BackupMade](e.Body); e.Kind != "backup-made" || err != nil || made.File != filepath.Base(to) || e.Person != by.Who.person.ID {
		return BackupMade{}, true, fmt.Errorf("%w: the mark %q belongs to entry %d, %q", store.ErrConflict, by.Key, e.Seq, e.Kind)
	}
	return made, true, nil
}

// tryBackup opens a backup as a restore would, and checks everything in it.
func (d *Desk) tryBackup(ctx context.Context, path string) (store.Report, error) {
	copied, err := d.o.OpenFile(ctx, path, false)
	if err != nil {
		return store.Report{}, err
	}
	defer copied.Close()
	return Try(ctx, copied, d.o, filepath.Dir(path))
}

// Try verifies a store and computes its views anew in a scratch store in a folder.
func Try(ctx context.Context, s *store.Store, o Options, folder string) (store.Report, error) {
	o.Store = s
	d, err := New(o)
	if err != nil {
		return store.Report{}, err
	}
	name, err := os.MkdirTemp(folder, "wreath-try-")
	if err != nil {
		return store.Report{}, err
	}
	defer os.RemoveAll(name)
	scratch, err := o.OpenFile(ctx, filepath.Join(name, "scratch"), true)
	if err != nil {
		return store.Report{}, err
	}
	defer scratch.Close()
	return d.Verify(ctx, nil, nil, scratch, nil)
}

func digest(path string) (sum string, size int64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	h := sha256.New()
	if size, err = io.Copy(h, f); err != nil {
		return "", 0, err
	}
	return hex.EncodeToString(h.Sum(nil)), size, nil
}

// Restoration is what a restore did.
type Restoration struct {
	Entries int64     `json:"entries"`
	Root    tlog.Hash `json:"root"`
	Last    time.Time `json:"last"`             // of the last entry of the backup
	Erased  []string  `json:"erased,omitempty"` // customers whose data the backup still held
	Reason  string    `json:"reason"`
}

// Restore makes the store of this desk, which must be empty, from a backup. Customers who were erased
// after the backup was made are erased again before anything else. A dry run only looks.
func (d *Desk) Restore(ctx context.Context, person string, backup *store.Store, erased []vault.Erasure, reason string, dryRun bool) (r Restoration, err error) {
	report, err := backup.Verify(ctx, d.o.Shop, nil, nil, nil)
	if err != nil {
		return r, fmt.Errorf("the backup is no good; nothing was changed: %w", err)
	}
	r = Restoration{Entries: report.Entries, Root: report.Root, Last: report.Last, Reason: reason}
	var again []vault.Erasure
	err = backup.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		if err := open(tx); err != nil {
			return err
		}
		again, r.Erased = nil, nil
		for _, e := range erased {
			c, _, err := get[Customer](tx, "customer", e.Customer)
			if errors.As(err, new(*UserError)) {
				continue // entered after the backup
			}
			if err != nil {
				return err
			}
			if c.Erased == nil {
				again, r.Erased = append(again, e), append(r.Erased, e.Customer)
			}
		}
		return nil
	})
	if err != nil || dryRun {
		return r, err
	}
	_, err = store.CopyThen(ctx, backup, d.o.Store, d.o.Shop, func(tx *store.Tx) error {
		now := d.o.Now()
		for _, e := range again {
			c, _, err := get[Customer](tx, "customer", e.Customer)
			if err != nil {
				return err
			}
			c.Erased = &e
			if err := errors.Join(d.destroy(tx, e.Customer), d.enter(tx, now, person, draft{kind: "customer-erased", subject: e.Customer, body: c})); err != nil {
				return err
			}
		}
		// Sessions, PINs and codes of the time of the backup don't come back to life.
		for _, kind := range []string{secretSession, secretPIN, secretCode} {
			if err := dropAll(tx, kind, nil); err != nil {
				return err
			}
		}
		if err := d.endTokens(tx, now, person); err != nil {
			return err
		}
		return d.enter(tx, now, person, draft{kind: "restored", subject: "backup", body: r})
	})
	if err == nil && d.o.Scrub != nil {
		err = d.o.Scrub(ctx)
	}
	return r, err
}

// endTokens ends all tokens of programs: nobody knows which were ended since the backup.
func (d *Desk) endTokens(tx *store.Tx, at time.Time, person string) error {
	tokens, err := list[people.ServiceToken](tx, "token")
	if err != nil {
		return err
	}
	for _, t := range tokens {
		if t.Ended != nil {
			continue
		}
		t.End(at)
		ended := draft{kind: "token-ended", subject: t.ID, body: reasoned[people.ServiceToken]{t, "restored from a backup"}}
		if err := d.enter(tx, at, person, ended); err != nil {
			return err
		}
	}
	return dropAll(tx, secretToken, nil)
}

// Moved is where a log went.
type Moved struct {
	To      string    `json:"to"` // kind of database
	Entries int64     `json:"entries"`
	Root    tlog.Hash `json:"root"`
}

// Move copies the log and all that belongs to it to another store, and closes this one: its last entry
// says that the log goes on elsewhere, and no act is taken any more. The root is the same on both
// sides. Nothing is written here meanwhile. The keys of customers stay in one place only: the new one.
//
// Until the log is closed here, the other store takes no act either. A move that was cut off is done
// again and goes on from where it was.
func (d *Desk) Move(ctx context.Context, by By, to *store.Store) (m Moved, err error) {
	there := d.o
	there.Store = to
	target, err := New(there)
	if err != nil {
		return m, err
	}
	e, err := d.closeFor(ctx, by, target)
	if err != nil {
		return m, err
	}
	if m, err = read[Moved](e.Body); err != nil {
		return m, err
	}
	if err := target.arrive(ctx, by, m); err != nil {
		return m, err
	}
	err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		for _, kind := range []string{secretKey, secretSealed} {
			if err := dropAll(tx, kind, nil); err != nil {
				return err
			}
		}
		return nil
	})
	if err == nil && d.o.Scrub != nil {
		err = d.o.Scrub(ctx)
	}
	return m, err
}

// closeFor copies the log to the target and closes it here. Where an earlier try closed it already, that
// entry comes back.
func (d *Desk) closeFor(ctx context.Context, by By, target *Desk) (ledger.Entry, error) {
	waits, err := target.awaits(ctx)
	if err != nil {
		return ledger.Entry{}, err
	}
	var closed ledger.Entry
	err = d.look(ctx, by.Who, people.MoveStore, func(tx *store.Tx) error {
		seq, err := tx.Get("moved", "moved", new(Moved))
		if err == nil && waits {
			closed, err = tx.Entry(seq)
		}
		return ignoreMissing(err)
	})
	if err != nil || closed.Kind != "" {
		return closed, err
	}
	return d.act(ctx, by, people.MoveStore, target.o.Store.Name(), func(tx *store.Tx, at time.Time) (draft, error) {
		if err := tx.Patient(); err != nil {
			return draft{}, err
		}
		report, err := d.copyTo(ctx, target, waits)
		if err != nil {
			return draft{}, err
		}
		size, err := tx.Size()
		if err == nil && size != report.Entries {
			err = bad("Empty that database, then move again.", "%d entries are there of an earlier try, and %d here", report.Entries, size)
		}
		return draft{kind: "moved", subject: "store", body: Moved{To: target.o.Store.Name(), Entries: report.Entries, Root: report.Root}}, err
	})
}

// copyTo copies the log to a store that then waits for its arrival, or verifies the copy of an earlier try.
func (d *Desk) copyTo(ctx context.Context, target *Desk, waits bool) (store.Report, error) {
	if waits {
		return target.o.Store.Verify(ctx, d.o.Shop, nil, nil, nil)
	}
	there, err := target.Known(ctx)
	if err != nil {
		return store.Report{}, err
	}
	if there {
		return store.Report{}, bad("Move it to a database that doesn't hold the shop.", "the shop %s is in that store already; a move never goes over a log", d.o.Shop)
	}
	return store.CopyThen(ctx, d.o.Store, target.o.Store, d.o.Shop, func(tx *store.Tx) error {
		return tx.PutSecret(secretMoving, theOne, []byte("true"))
	})
}

// awaits says whether the store holds a log that is not closed yet where it comes from.
func (d *Desk) awaits(ctx context.Context) (waits bool, err error) {
	err = d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		_, err := tx.Secret(secretMoving, theOne)
		waits = err == nil
		return ignoreMissing(err)
	})
	return waits, err
}

// arrive opens the store for acts. One that takes acts already stays as it is.
func (d *Desk) arrive(ctx context.Context, by By, m Moved) error {
	return d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		if _, err := tx.Secret(secretMoving, theOne); err != nil {
			return ignoreMissing(err)
		}
		if err := tx.DropSecret(secretMoving, theOne); err != nil {
			return err
		}
		at := d.o.Now()
		if err := by.Who.allow(tx, people.MoveStore, at); err != nil {
			return err
		}
		return d.enter(tx, at, by.Who.person.ID, draft{kind: "arrived", subject: "store", body: m})
	})
}

// open refuses acts on a log that goes on elsewhere, or that is not closed yet where it comes from.
func open(tx *store.Tx) error {
	if _, err := tx.Secret(secretMoving, theOne); err == nil {
		return bad("Do the move again; it goes on from where it was.", "this log is being moved here, and the move was not finished")
	} else if ignoreMissing(err) != nil {
		return err
	}
	var m Moved
	_, err := tx.Get("moved", "moved", &m)
	if err == nil {
		return bad("Work with the store that it was moved to.", "this log was moved: it goes on in another store (%s)", m.To)
	}
	return ignoreMissing(err)
}
