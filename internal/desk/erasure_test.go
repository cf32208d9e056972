package desk

import (
	"bytes"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/register"
	"wreath/internal/store"
	"wreath/internal/store/sqlite"
	"wreath/internal/vault"
)

// filesOf are all bytes of a store on the disk.
func filesOf(t testing.TB, path string) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	for _, end := range []string{"", "-wal", "-shm", "-journal"} {
		data, err := os.ReadFile(path + end)
		if err == nil {
			out[filepath.Base(path)+end] = data
		} else if !os.IsNotExist(err) || end == "" {
			t.Fatal(err)
		}
	}
	return out
}

// forms are the ways in which bytes could stand in a file.
func forms(b []byte) [][]byte {
	return [][]byte{b, []byte(hex.EncodeToString(b)), []byte(strings.ToUpper(hex.EncodeToString(b))),
		[]byte(base64.StdEncoding.EncodeToString(b)), []byte(base64.RawURLEncoding.EncodeToString(b))}
}

// holds tells whether a store holds bytes in any form.
func holds(t testing.TB, path string, b []byte) bool {
	t.Helper()
	for _, data := range filesOf(t, path) {
		for _, form := range forms(b) {
			if bytes.Contains(data, form) {
				return true
			}
		}
	}
	return false
}

// plain are the texts that must never stand in a store.
var plainTexts = []string{somebody.Name, "Vandermeersch", somebody.Address, somebody.Identity.Number, somebody.Contact, somebody.BornOn, "Otherwise"}

func nothingPersonal(t testing.TB, path, when string) {
	t.Helper()
	for _, text := range plainTexts {
		if holds(t, path, []byte(text)) {
			t.Errorf("%s %q stands in the store", when, text)
		}
	}
}

func secretOf(t testing.TB, d *Desk, kind, id string) (value []byte) {
	t.Helper()
	err := d.o.Store.Read(t.Context(), d.Shop(), func(tx *store.Tx) (err error) { value, err = tx.Secret(kind, id); return err })
	if err != nil {
		t.Fatal(err)
	}
	return value
}

// unreadable asks that no method of the desk gives the customer's data back.
func unreadable(t testing.TB, w *world, id string) {
	t.Helper()
	ctx := t.Context()
	p, err := w.SeeCustomer(ctx, w.boss(), id, "to see whether it is gone")
	saying(t, "see", err, "erased")
	if p != (vault.Person{}) {
		t.Error("a person came back with the refusal")
	}
	given := must[vault.Access](t)(w.DiscloseCustomer(ctx, w.boss(), id, "the customer", vault.AccessFacts{Keeper: "Invented Shop"}))
	if len(given.Versions) != 0 || given.Erased == nil {
		t.Errorf("handed out: %d versions, erased %v", len(given.Versions), given.Erased)
	}
	refused(t, "correct", w.CorrectCustomer(ctx, w.boss(), id, vault.Person{Name: "Quilla Otherwise"}))
	refused(t, "erase again", w.EraseCustomer(ctx, w.boss(), id, "again"))
	i := w.item()
	_, err = w.Register(ctx, w.boss(), Deal{Kind: "buy", Items: []string{i.ID}, Customer: id, Amount: "500", Currency: "EUR"})
	saying(t, "a new deal", err, "erased")
	var log strings.Builder
	must[int64](t)(w.Export(ctx, w.who["boss"], &log))
	bundle := must[*ledger.Bundle](t)(w.Evidence(ctx, w.who["boss"], []string{id}))
	text := log.String() + replayed(t, bundle) + replayed(t, must[[]Happening](t)(w.History(ctx, w.who["boss"], id))) + replayed(t, given)
	for _, secret := range plainTexts {
		if strings.Contains(text, secret) {
			t.Errorf("%q comes out of the desk", secret)
		}
	}
	err = w.o.Store.Read(ctx, w.Shop(), func(tx *store.Tx) error {
		for _, kind := range []string{secretKey, secretSealed} {
			ids, err := tx.Secrets(kind)
			if err != nil {
				return err
			}
			for _, name := range ids {
				if strings.HasPrefix(name, id) {
					t.Errorf("%s %s is still there", kind, name)
				}
			}
		}
		return nil
	})
	w.ok(err)
}

func TestErasure(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	id := w.customer()
	w.ok(w.CorrectCustomer(ctx, w.boss(), id, vault.Person{Name: "Quilla Otherwise", Address: somebody.Address}))
	if p := must[vault.Person](t)(w.SeeCustomer(ctx, w.boss(), id, "collects the ring")); p.Name != "Quilla Otherwise" {
		t.Errorf("seen: %s", p.Name)
	}
	given := must[vault.Access](t)(w.DiscloseCustomer(ctx, w.boss(), id, "the customer", vault.AccessFacts{Keeper: "Invented Shop"}))
	if len(given.Versions) != 2 || given.Versions[0].Person.Identity.Number != somebody.Identity.Number || len(given.Facts.Views) != 1 {
		t.Errorf("handed out: %+v", given)
	}
	nothingPersonal(t, w.path, "before the erasure")
	key := secretOf(t, w.Desk, secretKey, id)
	blob := must[vault.Sealed](t)(read[vault.Sealed](secretOf(t, w.Desk, secretSealed, id+"@000001"))).Blob
	if !holds(t, w.path, key) || !holds(t, w.path, blob) {
		t.Fatal("the test doesn't find the key before the erasure, so it can't see that it is gone")
	}
	// Sealed data of another customer stay.
	other := w.customer()

	w.ok(w.EraseCustomer(ctx, w.boss(), id, "asked for by the customer"))
	if e := lastEntry(t, w.Desk); e.Kind != "customer-erased" || e.Subject != id {
		t.Errorf("the last entry is %s of %s", e.Kind, e.Subject)
	}
	for what, secret := range map[string][]byte{"the key": key, "the sealed data": blob} {
		for _, part := range [][]byte{secret, secret[:16], secret[len(secret)-16:]} {
			if holds(t, w.path, part) {
				t.Errorf("%s stands in the files after the erasure", what)
			}
		}
	}
	nothingPersonal(t, w.path, "after the erasure")
	unreadable(t, w, id)
	if p := must[vault.Person](t)(w.SeeCustomer(ctx, w.boss(), other, "collects the ring")); p.Name != somebody.Name {
		t.Error("the other customer's data are gone too")
	}
	verified(t, w.Desk)
}

func TestErasureIsDeferred(t *testing.T) {
	ctx := t.Context()
	// buys is a customer who sold something under the rules.
	buys := func(t *testing.T) (w *world, id, item string) {
		w = openWorld(t)
		w.ok(w.SetRegisterRules(ctx, w.boss(), rulesOf(t), ""))
		id, i := w.customer(), w.item()
		must[Deal](t)(w.Register(ctx, w.boss(), Deal{Kind: "buy", Items: []string{i.ID}, Customer: id, Amount: "150", Currency: "EUR"}))
		return w, id, i.ID
	}
	later := func(w *world, by time.Duration) {
		w.clock.move(by)
		var err error
		_, w.who["boss"], err = w.SignIn(ctx, "boss", password, counterPlace)
		w.ok(err)
	}
	const year = 366 * 24 * time.Hour
	t.Run("by the time of keeping", func(t *testing.T) {
		w, id, _ := buys(t)
		before := w.all()
		saying(t, "at once", w.EraseCustomer(ctx, w.boss(), id, "asked for"), "(2 years) runs until 2028-11-27")
		if w.all() != before {
			t.Error("a deferred erasure changed the store")
		}
		later(w, year)
		refused(t, "after one year", w.EraseCustomer(ctx, w.boss(), id, "asked for"))
		later(w, year)
		w.ok(w.EraseCustomer(ctx, w.boss(), id, "the time of keeping is over"))
		unreadable(t, w, id)
	})
	t.Run("by the order to keep an item", func(t *testing.T) {
		w, id, item := buys(t)
		must[Item](t)(w.HoldItem(ctx, w.boss(), item, register.Order{Authority: "Invented Police", Reference: "P-1"}))
		later(w, 3*year)
		saying(t, "under an order", w.EraseCustomer(ctx, w.boss(), id, "time is over"), "P-1")
		must[Item](t)(w.ReleaseItem(ctx, w.boss(), item, "P-1", "P-2"))
		w.ok(w.EraseCustomer(ctx, w.boss(), id, "time is over"))
	})
	t.Run("by the order to keep the data", func(t *testing.T) {
		w := openWorld(t)
		id := w.customer()
		w.ok(w.KeepCustomer(ctx, w.boss(), id, "P-3", false))
		w.ok(w.KeepCustomer(ctx, w.boss(), id, "P-4", false))
		saying(t, "under two orders", w.EraseCustomer(ctx, w.boss(), id, "asked for"), "P-3")
		w.ok(w.KeepCustomer(ctx, w.boss(), id, "P-3", true))
		saying(t, "under one order", w.EraseCustomer(ctx, w.boss(), id, "asked for"), "P-4")
		w.ok(w.KeepCustomer(ctx, w.boss(), id, "P-4", true))
		w.ok(w.EraseCustomer(ctx, w.boss(), id, "asked for"))
		refused(t, "kept after it is gone", w.KeepCustomer(ctx, w.boss(), id, "P-5", false))
	})
}

// TestRestoredBackupForgetsTheErased makes a backup, erases a customer, and restores the backup: the
// data are erased again before anything else, and the log tells it.
func TestRestoredBackupForgetsTheErased(t *testing.T) {
	for _, how := range []string{"with the list of the store", "with a list from a file"} {
		t.Run(how, func(t *testing.T) {
			ctx, w := t.Context(), openWorld(t)
			id, other := w.customer(), w.customer()
			key := secretOf(t, w.Desk, secretKey, id)
			file := filepath.Join(t.TempDir(), "backup.wreath")
			must[BackupMade](t)(w.Backup(ctx, w.boss(), file))
			late := w.customer() // the backup doesn't know this one
			w.ok(w.EraseCustomer(ctx, w.boss(), id, "asked for"))
			w.ok(w.EraseCustomer(ctx, w.boss(), late, "asked for"))
			erased := must[[]vault.Erasure](t)(w.Erasures(ctx, w.who["audit"]))
			if how == "with a list from a file" {
				data := replayed(t, erased)
				erased = nil
				w.ok(json.Unmarshal([]byte(data), &erased))
			}
			backup := must[*store.Store](t)(sqlite.Open(ctx, file, sqlite.Options{ReadOnly: true}))
			defer backup.Close()
			if !holds(t, file, key) {
				t.Fatal("the backup doesn't hold the key, so nothing is tried here")
			}
			path := filepath.Join(t.TempDir(), "restored.wreath")
			to := &world{t: t, path: path, clock: w.clock, who: w.who, token: w.token}
			to.Desk = sitAt(t, openFile(t, path), path, w.o.Private, w.o.Public, w.clock.now)
			dry := must[Restoration](t)(to.Restore(ctx, "boss", backup, erased, "disk died", true))
			if known := must[bool](t)(to.Known(ctx)); known || len(dry.Erased) != 1 {
				t.Errorf("a dry run: the shop is there: %t; erased again: %v", known, dry.Erased)
			}
			r := must[Restoration](t)(to.Restore(ctx, "boss", backup, erased, "disk died", false))
			if fmt.Sprint(r.Erased) != fmt.Sprint([]string{id}) {
				t.Errorf("erased again: %v, want %s", r.Erased, id)
			}
			last := lastEntry(t, to.Desk)
			if last.Kind != "restored" || last.Person != "boss" || !strings.Contains(string(last.Body), id) || !strings.Contains(string(last.Body), "disk died") {
				t.Errorf("the last entry is %s: %s", last.Kind, last.Body)
			}
			if holds(t, path, key) {
				t.Error("the key stands in the restored files")
			}
			nothingPersonal(t, path, "after the restore")
			_, err := to.Enter(ctx, w.token["boss"], counterPlace, true)
			refused(t, "a session of before", err)
			_, boss, err := to.SignIn(ctx, "boss", password, counterPlace)
			w.ok(err)
			to.who = map[string]*Who{"boss": boss}
			unreadable(t, to, id)
			if p := must[vault.Person](t)(to.SeeCustomer(ctx, to.boss(), other, "collects")); p.Name != somebody.Name {
				t.Error("the other customer's data are gone too")
			}
			_, err = to.SeeCustomer(ctx, to.boss(), late, "collects")
			refused(t, "who came after the backup", err)
			verified(t, to.Desk)

			_, err = to.Restore(ctx, "boss", backup, erased, "again", false)
			if err == nil || !strings.Contains(err.Error(), "never goes over a log") {
				t.Errorf("over a log: %v", err)
			}
		})
	}
}
