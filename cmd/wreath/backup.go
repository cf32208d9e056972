package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"wreath/internal/desk"
	"wreath/internal/keyring"
	"wreath/internal/people"
	"wreath/internal/store"
	"wreath/internal/store/sqlite"
	"wreath/internal/vault"
)

type backupCmd struct {
	place
	once
	formatted
	File string `arg:"" help:"New file for the backup. It is never written over."`
}

func (backupCmd) Help() string {
	return `Examples:

  wreath backup monday.wreath

The store stays in use meanwhile. The backup counts only after it was opened, every entry verified, and
what is shown computed anew from its log. Keep it in another place; it holds personal data and hashes of
passwords, but not the signing key, of which you keep a copy of its own.`
}

// Run makes a backup.
func (c *backupCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		made, err := r.Backup(ctx, c.by(who), c.File)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, made)
		}
		page := newPage()
		page.say("Backup", "%s, %d bytes; it was opened and verified", c.File, made.Bytes)
		page.say("", "%s, root %s", entriesIn(made.Entries), made.Root)
		page.say("", "SHA-256 %s", made.SHA256)
		return page.print(s.Out)
	})
}

type restoreCmd struct {
	place
	formatted
	File     string `arg:"" help:"Backup to restore from."`
	DryRun   bool   `help:"Verify the backup and say what would be done; change nothing."`
	Erasures string `placeholder:"FILE" help:"List of customers erased since (wreath export --erasures), where the present store is lost. Those of the present store are taken by themselves."`
	Reason   string `help:"Why, in a few words; needed unless it is a dry run."`
}

func (restoreCmd) Help() string {
	return `Examples:

  wreath restore monday.wreath --dry-run
  wreath restore monday.wreath --reason "the disk failed"

The backup is verified first. The new store is made beside the present one and verified too; only then
does it take its place, and the present one stays under another name. Whoever was erased since the
backup is erased again; where the present store is lost, give the list that wreath export --erasures
wrote. Everybody signs in anew. In PostgreSQL the shop must not be there yet: restore
into an empty database, then work with that.`
}

// Run restores.
func (c *restoreCmd) Run(s *streams) error {
	if c.Reason == "" && !c.DryRun {
		return wrong("Say why, in a few words: --reason \"the disk failed\".", "a restore needs a reason")
	}
	ctx := context.Background()
	if err := c.resolve(); err != nil {
		return err
	}
	if _, err := os.Stat(c.File); errors.Is(err, fs.ErrNotExist) {
		return &failure{exitMissing, "there is no backup " + c.File, "Check the name of the file."}
	}
	if sameFile(c.File, c.Store) {
		return wrong("Name a backup of it. What is shown is computed anew with wreath rebuild.", "%s is the store itself, not a backup", c.File)
	}
	backup, err := openFile(ctx, c.File, false)
	if err != nil && plain(err) == nil {
		return wrong("Name a file that wreath backup made.", "%s is no backup: %v", c.File, err)
	}
	if err != nil {
		return err
	}
	defer backup.Close()
	if err := c.chooseOf(ctx, backup); err != nil {
		return err
	}
	person, erased, err := c.present(ctx)
	if err != nil {
		return err
	}
	listed, err := c.listed(s)
	if err != nil {
		return err
	}
	erased = append(erased, listed...)
	if isPostgres(c.Store) {
		return c.intoDatabase(ctx, s, person, backup, erased)
	}
	return c.intoFile(ctx, s, person, backup, erased)
}

// chooseOf finds the shop in the backup.
func (c *restoreCmd) chooseOf(ctx context.Context, backup *store.Store) error {
	of := c.place
	of.Store = c.File
	err := of.choose(ctx, backup)
	c.Shop = of.Shop
	return err
}

// present asks the store that is there who may restore, and whom it erased. Where there is none, or it
// can't be opened, whoever has the console may restore.
func (c *restoreCmd) present(ctx context.Context) (person string, erased []vault.Erasure, err error) {
	if _, err := os.Stat(c.Store); !isPostgres(c.Store) && errors.Is(err, fs.ErrNotExist) {
		return people.Console, nil, nil
	}
	st, err := openStore(ctx, c.Store, false)
	if err != nil {
		return people.Console, nil, nil
	}
	defer st.Close()
	shops, err := st.Shops(ctx)
	if err != nil {
		return people.Console, nil, nil
	}
	if len(shops) == 0 {
		return people.Console, nil, nil
	}
	if !isPostgres(c.Store) && (len(shops) > 1 || shops[0] != c.Shop) {
		return "", nil, wrong("Restore into a file of its own with --store.", "the store %s holds other shops too: %s", c.Store, strings.Join(shops, ", "))
	}
	if !slices.Contains(shops, c.Shop) {
		return people.Console, nil, nil
	}
	here := c.place
	r, err := here.sit(ctx, st)
	if err != nil {
		return "", nil, err
	}
	who, err := here.who(ctx, r)
	if err != nil {
		return "", nil, err
	}
	if !who.May(people.Restore) {
		return "", nil, &people.Refused{Action: people.Restore, Name: who.Person().Name, Reason: "it is for the role administer", Hint: "Ask somebody with that role."}
	}
	erased, err = r.Erasures(ctx, who)
	return who.Person().ID, erased, err
}

// listed reads the list of erasures from a file.
func (c *restoreCmd) listed(s *streams) (all []vault.Erasure, err error) {
	if c.Erasures == "" {
		return nil, nil
	}
	data, err := readUpTo(c.Erasures, s.In, 1<<26)
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(data, &all); err != nil {
		return nil, wrong("Give what wreath export --erasures wrote.", "%s is no list of erasures: %v", c.Erasures, err)
	}
	for _, e := range all {
		if err := e.Check(); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// deskOver sits down at a store that is not the one in use.
func (c *restoreCmd) deskOver(ctx context.Context, st, backup *store.Store, address string) (*desk.Desk, desk.Options, error) {
	var public string
	err := backup.Read(ctx, c.Shop, func(tx *store.Tx) (err error) { public, err = tx.PublicKey(); return err })
	if err != nil {
		return nil, desk.Options{}, err
	}
	at := c.place
	at.Store = address
	o := at.options(st, "", public)
	d, err := desk.New(o)
	return d, o, err
}

func (c *restoreCmd) intoDatabase(ctx context.Context, s *streams, person string, backup *store.Store, erased []vault.Erasure) error {
	to, err := openStore(ctx, c.Store, true)
	if err != nil {
		return err
	}
	defer to.Close()
	if there, err := to.Exists(ctx, c.Shop); err != nil {
		return err
	} else if there {
		return wrong("Restore into an empty database, then work with that one.", "the shop %s is in this database already; a restore never goes over a log", c.Shop)
	}
	d, o, err := c.deskOver(ctx, to, backup, c.Store)
	if err != nil {
		return err
	}
	done, err := d.Restore(ctx, person, backup, erased, c.Reason, c.DryRun)
	if err != nil {
		return err
	}
	if !c.DryRun {
		if _, err := desk.Try(ctx, to, o, os.TempDir()); err != nil {
			return err
		}
	}
	return c.print(s, done, "")
}

func (c *restoreCmd) intoFile(ctx context.Context, s *streams, person string, backup *store.Store, erased []vault.Erasure) error {
	if c.DryRun {
		d, o, err := c.deskOver(ctx, backup, backup, c.File)
		if err != nil {
			return err
		}
		if _, err := desk.Try(ctx, backup, o, os.TempDir()); err != nil {
			return err
		}
		done, err := d.Restore(ctx, person, backup, erased, c.Reason, true)
		if err != nil {
			return err
		}
		return c.print(s, done, "")
	}
	if err := os.MkdirAll(filepath.Dir(c.Store), 0o700); err != nil {
		return wrong("Name another file with --store.", "the folder of the store can't be made: %v", err)
	}
	now := time.Now().UTC().Format("20060102-150405.000")
	anew := c.Store + ".restoring-" + now
	done, err := c.build(ctx, anew, person, backup, erased)
	if err != nil {
		return errors.Join(err, remove(anew))
	}
	aside, err := putInPlace(ctx, anew, c.Store, c.Store+".before-restore-"+now)
	if err != nil {
		return errors.Join(err, remove(anew))
	}
	return c.print(s, done, aside)
}

// build makes the new store and tries it.
func (c *restoreCmd) build(ctx context.Context, path, person string, backup *store.Store, erased []vault.Erasure) (done desk.Restoration, err error) {
	to, err := openStore(ctx, path, true)
	if err != nil {
		return done, err
	}
	defer func() { err = errors.Join(err, to.Close()) }()
	d, o, err := c.deskOver(ctx, to, backup, path)
	if err != nil {
		return done, err
	}
	if done, err = d.Restore(ctx, person, backup, erased, c.Reason, false); err != nil {
		return done, err
	}
	_, err = desk.Try(ctx, to, o, filepath.Dir(path))
	return done, err
}

// remove takes a store away that was never in use.
func remove(path string) error {
	for _, name := range []string{path, path + "-wal", path + "-shm", path + "-journal"} {
		if err := os.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}

// putInPlace gives a finished store the name of the present one, which goes on under another name. At
// no time is there no store under the name.
func putInPlace(ctx context.Context, anew, path, aside string) (string, error) {
	if err := sqlite.Alone(ctx, anew); err != nil {
		return "", err
	}
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return "", os.Rename(anew, path)
	}
	if err := sqlite.Alone(ctx, path); err != nil {
		if sqlite.Sound(ctx, path) == nil {
			return "", wrong("End every program that works with the store, then restore again.", "the store %s is in use", path)
		}
		// A damaged store goes aside with all that lies beside it.
		for _, beside := range []string{"-wal", "-shm", "-journal"} {
			if err := os.Rename(path+beside, aside+beside); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return "", err
			}
		}
	}
	if err := os.Link(path, aside); err != nil { // where there are no links there is a moment without a store
		if err := os.Rename(path, aside); err != nil {
			return "", err
		}
	}
	return aside, os.Rename(anew, path)
}

func (c *restoreCmd) print(s *streams, done desk.Restoration, aside string) error {
	if c.forPrograms() {
		return writeJSON(s.Out, struct {
			desk.Restoration
			DryRun bool   `json:"dry_run,omitempty"`
			Aside  string `json:"aside,omitempty"`
		}{done, c.DryRun, aside})
	}
	page := newPage()
	page.say("Backup", "%s, shop %s: verified, %s, root %s", c.File, c.Shop, entriesIn(done.Entries), done.Root)
	page.say("", "last entry %s", done.Last.Format(time.RFC3339))
	if c.DryRun {
		page.say("Erase", "customers to be erased again: %d", len(done.Erased))
		page.say("Dry run", "nothing was changed")
		return page.print(s.Out)
	}
	page.say("Restored", "%s", c.Store)
	page.say("", "customers erased again: %d", len(done.Erased))
	if aside != "" {
		page.say("Aside", "what was there before is %s", aside)
	}
	if r, err := c.ring(); err != nil {
		return err
	} else if closed, err := r.Find(c.Shop); err != nil {
		page.say("Key", "the signing key is not in %s: put your copy of it there (wreath key put), or nothing can be signed", c.Keys)
	} else {
		page.say("Key", "%s", closed.Public)
	}
	return page.print(s.Out)
}

type moveCmd struct {
	place
	once
	formatted
	To string `arg:"" help:"File of the new store, or postgres://... for PostgreSQL. The shop must not be there yet."`
}

func (moveCmd) Help() string {
	return `Examples:

  wreath move elsewhere.wreath
  wreath move postgres://wreath@db/wreath

The log and all that belongs to it is copied and verified on the other side; both roots are printed and
are equal. The store that was left can be read, and refuses every act from then on.`
}

// Run moves the records.
func (c *moveCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if !who.May(people.MoveStore) {
			return &people.Refused{Action: people.MoveStore, Name: who.Person().Name, Reason: "it is for the role administer", Hint: "Ask somebody with that role."}
		}
		to, err := openStore(ctx, c.To, true)
		if err != nil && plain(err) == nil && !errors.As(err, new(*failure)) {
			return wrong("Name another file or database.", "the records can't go to %s: %v", harmlessAddress(c.To), err)
		}
		if err != nil {
			return err
		}
		defer to.Close()
		moved, err := r.Move(ctx, c.by(who), to)
		if err != nil {
			return err
		}
		var left tlog.Hash
		err = r.store.Read(ctx, r.shop, func(tx *store.Tx) error {
			left, err = tlog.TreeHash(moved.Entries, tx.Hashes())
			return err
		})
		if err != nil {
			return err
		}
		key, err := c.takeKey()
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, struct {
				desk.Moved
				Left tlog.Hash `json:"root_left"`
				Key  string    `json:"signing_key,omitempty"`
			}{moved, left, key})
		}
		page := newPage()
		page.say("Moved", "%s of shop %s to %s", entriesIn(moved.Entries), r.shop, harmlessAddress(c.To))
		page.say("Root here", "%s", left)
		page.say("Root there", "%s", moved.Root)
		page.say("Key", "%s", key)
		page.say("Mind", "this store takes no act any more; work with the other one: --store or WREATH_STORE")
		return page.print(s.Out)
	})
}

// harmlessAddress leaves the password out of the address of a database.
func harmlessAddress(address string) string {
	if isPostgres(address) {
		return "PostgreSQL"
	}
	return address
}

// takeKey copies the signing key to where the new store looks for it.
func (c *moveCmd) takeKey() (string, error) {
	there := place{Store: c.To}
	if err := there.resolve(); err != nil {
		return "", err
	}
	from, to := keyring.Ring{Folder: c.Keys}.File(c.Shop), keyring.Ring{Folder: there.Keys}.File(c.Shop)
	data, err := os.ReadFile(from)
	if errors.Is(err, fs.ErrNotExist) {
		return "the signing key is not here; put your copy of it there with wreath key put: " + to, nil
	}
	if err != nil {
		return "", err
	}
	if old, err := os.ReadFile(to); err == nil {
		if string(old) != string(data) {
			return fmt.Sprintf("another key lies at %s: keep it apart, and put %s there", to, from), nil
		}
		return to, nil
	}
	if err := os.MkdirAll(there.Keys, 0o700); err != nil {
		return "", err
	}
	return to, os.WriteFile(to, data, 0o600)
}

type rebuildCmd struct{ place }

func (rebuildCmd) Help() string {
	return `Examples:

  wreath rebuild

Everything that is shown follows from the log and can be computed anew from it at any time. The log is
verified first and is not changed, so whoever holds the store may do it without signing in.`
}

// Run computes the views anew.
func (c *rebuildCmd) Run(s *streams) error {
	ctx := context.Background()
	r, err := c.enter(ctx)
	if err != nil {
		return err
	}
	defer r.Close()
	p := startProgress(s, "entries")
	report, err := r.Verify(ctx, nil, nil, nil, p.show)
	p.stop()
	if err != nil {
		return err
	}
	if err := r.Rebuild(ctx); err != nil {
		return err
	}
	say(s, "What is shown was computed anew from %s.", entriesIn(report.Entries))
	return nil
}
