package main

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"golang.org/x/term"

	"wreath/internal/desk"
	"wreath/internal/keyring"
	"wreath/internal/ledger"
	"wreath/internal/store"
)

// ring is where the signing keys of a place lie.
func (p *place) ring() (keyring.Ring, error) {
	// Not the folder of the store, so that a copy of that can't sign.
	folder, err := os.UserConfigDir()
	if err != nil {
		return keyring.Ring{}, wrong("Set HOME.", "there is no place for the secret of this account: %v", err)
	}
	return keyring.Ring{Folder: p.Keys, Identity: filepath.Join(folder, "wreath-unlock", "identity"), Ask: askPassphrase}, nil
}

// askPassphrase gives the passphrase of the signing key: from the environment, from a file that it
// names, or from whoever sits at the terminal.
func askPassphrase() (string, error) {
	if passphrase := os.Getenv("WREATH_KEY_PASSPHRASE"); passphrase != "" {
		return passphrase, nil
	}
	if file := os.Getenv("WREATH_KEY_PASSPHRASE_FILE"); file != "" {
		data, err := os.ReadFile(file)
		return strings.TrimRight(string(data), "\r\n"), err
	}
	if !term.IsTerminal(int(os.Stdin.Fd())) {
		return "", keyring.ErrNoPassphrase
	}
	return ask(&streams{In: os.Stdin, Err: os.Stderr}, "passphrase of the signing key")
}

// keyFailure says what to do about a signing key that can't be used.
func keyFailure(err error) error {
	switch {
	case errors.Is(err, keyring.ErrOpenToOthers):
		return wrong("Let its owner alone read it: chmod 600.", "%v", err)
	case errors.Is(err, keyring.ErrDamaged):
		return wrong("Put a copy of the key back: wreath key put FILE.", "%v", err)
	case errors.Is(err, keyring.ErrOtherMachine):
		return wrong("Put a copy of the key in its place: wreath key put FILE. Without any: wreath key lost.", "%v", err)
	case errors.Is(err, keyring.ErrNoPassphrase):
		return wrong("Set WREATH_KEY_PASSPHRASE or WREATH_KEY_PASSPHRASE_FILE, or start it at a terminal.", "%v", err)
	case errors.Is(err, keyring.ErrWrongPassphrase):
		return wrong("Type it again; capital letters and blanks count.", "%v", err)
	}
	return err
}

// unlocking are the options of a desk that unlocks the signing key when it first seals something.
// Reading and verifying work without the key.
func (p *place) unlocking(ctx context.Context, s *store.Store) (desk.Options, error) {
	var public string
	err := s.Read(ctx, p.Shop, func(tx *store.Tx) (err error) { public, err = tx.PublicKey(); return err })
	if err != nil {
		return desk.Options{}, err
	}
	o := p.options(s, "", public)
	o.Unlock = func() (string, error) {
		k, err := p.openKey(public)
		if errors.Is(err, fs.ErrNotExist) {
			return "", &desk.UserError{Reason: "the signing key is not at " + p.Keys}
		}
		if said, is := errors.AsType[*failure](err); is {
			return "", &desk.UserError{Reason: said.Reason, Hint: said.Hint}
		}
		return k.Private, err
	}
	return o, nil
}

// openKey opens the signing key of the shop, which must be the one that is in use.
func (p *place) openKey(inUse string) (keyring.Key, error) {
	r, err := p.ring()
	if err != nil {
		return keyring.Key{}, err
	}
	// A change of the key that was cut short is ended here.
	if _, err := r.Turn(p.Shop, inUse); err != nil {
		return keyring.Key{}, keyFailure(err)
	}
	closed, err := r.Find(p.Shop)
	if err != nil {
		return keyring.Key{}, keyFailure(err)
	}
	if closed.Public != inUse {
		return keyring.Key{}, wrong("Put a copy of the newer key in its place: wreath key put FILE.", "the signing key at %s is not the one that the shop uses now", r.File(p.Shop))
	}
	k, err := r.Open(closed)
	return k, keyFailure(err)
}

// makeKey makes the shop's signing key, or opens it where an earlier try made it.
func (p *place) makeKey() (keyring.Key, error) {
	r, err := p.ring()
	if err != nil {
		return keyring.Key{}, err
	}
	closed, err := r.Find(p.Shop)
	if err == nil {
		k, err := r.Open(closed)
		return k, keyFailure(err)
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return keyring.Key{}, keyFailure(err)
	}
	var k keyring.Key
	if k.Private, k.Public, err = ledger.NewKey(p.Shop); err != nil {
		return k, wrong("", "%v", err)
	}
	how, passphrase := keyring.Machine, os.Getenv("WREATH_KEY_PASSPHRASE")
	if passphrase != "" {
		how = keyring.Passphrase
	}
	return k, r.Keep(p.Shop, k, how, passphrase)
}
