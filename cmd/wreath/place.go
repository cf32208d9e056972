package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/ledger"
	"wreath/internal/paper"
	"wreath/internal/people"
	"wreath/internal/proof"
	"wreath/internal/store"
	"wreath/internal/store/postgres"
	"wreath/internal/store/sqlite"
	"wreath/internal/tables"
)

// place says which store and shop a command works with. Every command on records embeds it.
type place struct {
	Store string `env:"WREATH_STORE" placeholder:"FILE" help:"File of the store, or postgres://... for PostgreSQL; a file among your own data unless said."`
	Shop  string `env:"WREATH_SHOP" placeholder:"NAME" help:"Short name of the shop, where the store holds several."`
	Keys  string `env:"WREATH_KEYS" placeholder:"FOLDER" help:"Folder with the shop's signing key; beside the store unless said."`
}

// room is an open desk and what must be closed after it.
type room struct {
	*desk.Desk
	store *store.Store
	shop  string
}

func (r *room) Close() { r.store.Close() }

// isPostgres tells a database from a file.
func isPostgres(address string) bool {
	return strings.HasPrefix(address, "postgres://") || strings.HasPrefix(address, "postgresql://")
}

// dataFolder is where this user's programs keep their data.
func dataFolder() (string, error) {
	if folder := os.Getenv("XDG_DATA_HOME"); folder != "" && runtime.GOOS != "windows" {
		return filepath.Join(folder, "wreath"), nil
	}
	if runtime.GOOS == "windows" || runtime.GOOS == "darwin" {
		folder, err := os.UserConfigDir()
		return filepath.Join(folder, "wreath"), err
	}
	home, err := os.UserHomeDir()
	return filepath.Join(home, ".local", "share", "wreath"), err
}

// resolve fills in what was not said.
func (p *place) resolve() error {
	if p.Store == "" {
		folder, err := dataFolder()
		if err != nil {
			return wrong("Name it with --store FILE.", "there is no place for a store: %v", err)
		}
		p.Store = filepath.Join(folder, "records.wreath")
	}
	if p.Keys != "" {
		return nil
	}
	if !isPostgres(p.Store) {
		p.Keys = p.Store + ".keys"
		return nil
	}
	folder, err := dataFolder()
	if err != nil {
		return wrong("Name a folder with --keys FOLDER.", "there is no place for the signing key: %v", err)
	}
	p.Keys = filepath.Join(folder, "keys")
	return nil
}

// openStore opens a store by its address. Only make may begin a new file.
func openStore(ctx context.Context, address string, make bool) (*store.Store, error) {
	if isPostgres(address) {
		s, err := postgres.Open(ctx, address, postgres.Options{})
		// Where nobody answers it can be tried again; an answer of the server says what is wrong.
		var network net.Error
		if errors.As(err, &network) {
			return nil, &failure{exitLater, "the database can't be reached: " + network.Error(), "Check its address, the network, and that it runs; then do it again."}
		}
		return s, err
	}
	return sqlite.Open(ctx, address, sqlite.Options{MustBe: !make})
}

// openFile opens a store in a file, such as a backup.
func openFile(ctx context.Context, path string, write bool) (*store.Store, error) {
	return sqlite.Open(ctx, path, sqlite.Options{ReadOnly: !write})
}

// enter opens the store and sits down at the shop's desk.
func (p *place) enter(ctx context.Context) (*room, error) {
	if err := p.resolve(); err != nil {
		return nil, err
	}
	if _, err := os.Stat(p.Store); !isPostgres(p.Store) && errors.Is(err, fs.ErrNotExist) {
		return nil, &failure{exitMissing, "there is no store " + p.Store, "Open a shop first: wreath shop open --name \"Your Shop\"; or name the store with --store."}
	}
	s, err := openStore(ctx, p.Store, false)
	if err != nil {
		return nil, err
	}
	r, err := p.sit(ctx, s)
	if err != nil {
		s.Close()
		return nil, err
	}
	return r, nil
}

func (p *place) sit(ctx context.Context, s *store.Store) (*room, error) {
	if err := p.choose(ctx, s); err != nil {
		return nil, err
	}
	o, err := p.unlocking(ctx, s)
	if err != nil {
		return nil, err
	}
	d, err := desk.New(o)
	if err != nil {
		return nil, err
	}
	if _, err := d.Refresh(ctx); err != nil {
		return nil, err
	}
	return &room{d, s, p.Shop}, nil
}

// choose finds the shop that is meant: the only one unless said.
func (p *place) choose(ctx context.Context, s *store.Store) error {
	shops, err := s.Shops(ctx)
	if err != nil {
		return err
	}
	switch {
	case len(shops) == 0:
		return &failure{exitMissing, "no shop is open in " + p.Store, "Open one: wreath shop open --name \"Your Shop\"."}
	case p.Shop != "" && !slices.Contains(shops, p.Shop):
		return &failure{exitMissing, "there is no shop " + p.Shop + " in " + p.Store, "There is: " + strings.Join(shops, ", ") + "."}
	case p.Shop == "" && len(shops) > 1:
		return wrong("Say which one with --shop: "+strings.Join(shops, ", ")+".", "the store holds %d shops", len(shops))
	case p.Shop == "":
		p.Shop = shops[0]
	}
	return nil
}

func (p *place) options(s *store.Store, private, public string) desk.Options {
	o := desk.Options{Store: s, Shop: p.Shop, Private: private, Public: public, Version: version, OpenFile: openFile}
	if isPostgres(p.Store) {
		o.Snapshot = func(ctx context.Context, to string) error {
			if err := free(to); err != nil {
				return err
			}
			file, err := openFile(ctx, to, true)
			if err != nil {
				return err
			}
			defer file.Close()
			_, err = store.Copy(ctx, s, file, p.Shop)
			return err
		}
		return o
	}
	o.Snapshot = func(ctx context.Context, to string) error {
		if err := free(to); err != nil {
			return err
		}
		return sqlite.Snapshot(ctx, p.Store, to)
	}
	o.Scrub = func(ctx context.Context) error { return sqlite.Scrub(ctx, p.Store) }
	return o
}

// free refuses a file that is there, before a backup goes into it.
func free(to string) error {
	if _, err := os.Stat(to); err == nil {
		return wrong("Name a new file.", "%s is there already; a backup never goes over a file", to)
	}
	return nil
}

// own is a file in which this account of this machine keeps something for one shop.
func (p *place) own(kind string) (string, error) {
	folder, err := dataFolder()
	if err != nil {
		return "", err
	}
	address := p.Store
	if !isPostgres(address) {
		if address, err = filepath.Abs(address); err != nil {
			return "", err
		}
	}
	sum := sha256.Sum256([]byte(address + "\n" + p.Shop))
	return filepath.Join(folder, kind, hex.EncodeToString(sum[:8])), nil
}

// who finds out who works: a program by WREATH_TOKEN, a person who signed in, or the one person of a
// bench of one.
func (p *place) who(ctx context.Context, r *room) (*desk.Who, error) {
	if token := os.Getenv("WREATH_TOKEN"); token != "" {
		return r.EnterProgram(ctx, token)
	}
	name, err := p.own("sessions")
	if err != nil {
		return nil, err
	}
	token, err := os.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) {
		return r.Local(ctx, people.Console)
	}
	if err != nil {
		return nil, err
	}
	at, err := p.at()
	if err != nil {
		return nil, err
	}
	return r.Enter(ctx, strings.TrimSpace(string(token)), at, true)
}

// at is where a person at this command line sits: at an enrolled device where this account keeps the
// secret of one.
func (p *place) at() (desk.Place, error) {
	here := desk.Place{Source: people.Console}
	name, err := p.own("devices")
	if err != nil {
		return here, err
	}
	secret, err := os.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) {
		return here, nil
	}
	here.Device = strings.TrimSpace(string(secret))
	return here, err
}

// keepOwn writes a secret of this account.
func (p *place) keepOwn(kind, secret string) error {
	name, err := p.own(kind)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(name), 0o700); err != nil {
		return err
	}
	return os.WriteFile(name, []byte(secret+"\n"), 0o600)
}

// dropOwn removes it.
func (p *place) dropOwn(kind string) error {
	name, err := p.own(kind)
	if err != nil {
		return err
	}
	if err := os.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// work opens the desk and finds out who works; every command on records begins with it.
func (p *place) work(do func(ctx context.Context, r *room, who *desk.Who) error) error {
	ctx := context.Background()
	r, err := p.enter(ctx)
	if err != nil {
		return err
	}
	defer r.Close()
	who, err := p.who(ctx, r)
	if err != nil {
		return err
	}
	return do(ctx, r, who)
}

// plain turns the errors of the rooms below into the two lines that people read.
func plain(err error) *failure {
	var (
		user    *desk.UserError
		stale   *desk.StaleError
		refused *people.Refused
		signIn  *people.SignInError
		wait    *people.WaitError
		off     *people.OffError
		code    *people.CodeError
		broken  *ledger.Broken
		unsound *proof.Error
		unread  *tables.ReadError
		lacking *paper.MissingError
		hinted  interface {
			error
			Hint() string
		}
	)
	switch {
	case errors.As(err, &user) && user.Missing:
		return &failure{exitMissing, user.Reason, user.Hint}
	case errors.As(err, &user):
		return &failure{exitUsage, user.Reason, user.Hint}
	case errors.As(err, &stale):
		return &failure{exitConflict, stale.Error(), "Look at it again, then repeat what is still wanted."}
	case errors.As(err, &refused):
		return &failure{exitRefused, refused.Error(), refused.Hint}
	case errors.As(err, &signIn):
		return &failure{exitRefused, signIn.Reason, onCommandLine(signIn.Hint)}
	case errors.Is(err, people.ErrLocked):
		return &failure{exitRefused, "the session is locked, because nothing was done for a while", "Sign in again with wreath sign-in NAME."}
	case errors.As(err, &wait):
		return &failure{exitLater, wait.Error(), wait.Hint}
	case errors.As(err, &off):
		return &failure{exitRefused, off.Error(), off.Hint + " For who administers there is, on the machine itself: wreath person reset " + off.Account + " --console."}
	case errors.As(err, &code):
		return &failure{exitUsage, code.Reason, code.Hint}
	case errors.As(err, &unread):
		return &failure{exitUsage, unread.Error(), unread.Hint}
	case errors.As(err, &lacking):
		return &failure{exitUsage, lacking.Error(), lacking.Hint()}
	case errors.As(err, &hinted):
		return &failure{exitRefused, hinted.Error(), hinted.Hint()}
	case errors.As(err, &broken) && strings.HasSuffix(broken.Reason, "wreath rebuild"):
		return &failure{exitBroken, err.Error(), "Run wreath rebuild; it changes nothing in the log."}
	case errors.As(err, &broken):
		return &failure{exitBroken, err.Error(), "Keep the store as it is, look at its backups, and find out who had access."}
	case errors.As(err, &unsound):
		return proofFailure(unsound, err.Error())
	case errors.Is(err, store.ErrConflict):
		return &failure{exitConflict, err.Error(), "Use a new --key for a new act; the same one only to send the same act again."}
	case errors.Is(err, store.ErrFailing), errors.Is(err, store.ErrFull):
		return &failure{exitStorage, err.Error(), "Make room, or have the disk looked at; what is there can be read."}
	case errors.Is(err, store.ErrUnknown):
		return &failure{exitLater, err.Error(), "Send it again under the same --key: it is not done twice."}
	case errors.Is(err, store.ErrNewer):
		return &failure{exitFailed, err.Error(), "Install the newer program."}
	}
	return nil
}

// onCommandLine names the command where a hint tells to sign in.
func onCommandLine(hint string) string {
	switch hint {
	case "Sign in.", "Sign in again.", "Sign in with your name and password.":
		return strings.TrimSuffix(hint, ".") + ": wreath sign-in NAME."
	}
	return hint
}

// once is the sender's mark for an act.
type once struct {
	Key string `placeholder:"MARK" help:"Your own mark for this act: the same act sent again under it is not done twice."`
}

func (o once) by(who *desk.Who) desk.By { return desk.By{Who: who, Key: o.Key} }

// say prints a line for people.
func say(s *streams, format string, args ...any) { fmt.Fprintf(s.Out, format+"\n", args...) }
