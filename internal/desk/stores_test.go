package desk

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"wreath/internal/determination"
	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/store"
	"wreath/internal/store/sqlite"
	"wreath/internal/value"
)

// A store of every layout that was released lies in testdata/stores for ever: the store itself, its
// signing key, and a checkpoint as it was printed. Everything in them is invented. With -update the one
// of the newest layout is made anew; that is allowed only until it is released.
var update = flag.Bool("update", false, "make the store of the newest layout anew")

// layout is the newest layout of a store.
const layout = 1

// unwritten are the kinds of entries that can't stand in a store of one log that stays in its place,
// and the one that can be read and that nothing writes yet.
var unwritten = []string{"moved", "arrived", "restored", "shop-changed"}

// writeAll takes one act of every kind.
func writeAll(t *testing.T) *world {
	w := stocked(t)
	ctx := t.Context()
	last := []string{"SetPIN", "ChangePerson", "SetPassword", "EndPerson"} // they end sessions that others need
	done := map[string]bool{"": true, "moved": true}
	take := func(a act) {
		if done[a.kind] {
			return
		}
		done[a.kind] = true
		by := w.boss()
		if _, err := a.prepare(w, by.Who)(by); err != nil {
			t.Fatalf("%s: %v: %s", a.method, err, hintOf(err))
		}
	}
	for _, a := range acts {
		if !slices.Contains(last, a.method) && a.action != people.SignAsMeasurer {
			take(a)
		}
	}
	for _, method := range last {
		i := slices.IndexFunc(acts, func(a act) bool { return a.method == method })
		take(acts[i])
		if method == "SetPassword" {
			var err error
			_, w.who["boss"], err = w.SignIn(ctx, "boss", otherPassword, counterPlace)
			w.ok(err)
		}
	}
	w.printEnds()
	_, out, err := w.SignIn(ctx, "audit", password, counterPlace)
	w.ok(err)
	w.ok(w.SignOut(ctx, out, false))
	_, _, err = w.SignIn(ctx, "audit", otherPassword, counterPlace)
	refused(t, "a wrong password", err)
	w.clock.move(10 * time.Minute)
	must[*Who](t)(w.Enter(ctx, w.token["audit"], counterPlace, true))
	w.clock.move(-5 * time.Minute)
	_, err = w.Enter(ctx, w.token["audit"], counterPlace, true)
	refused(t, "a clock that was set back", err)
	return w
}

func kindsIn(t *testing.T, d *Desk) map[string]int {
	t.Helper()
	kinds := map[string]int{}
	err := d.o.Store.Read(t.Context(), d.Shop(), func(tx *store.Tx) error {
		for e, err := range tx.Entries(0) {
			if err != nil {
				return err
			}
			kinds[e.Kind]++
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return kinds
}

// younger are the kinds that came after the store of a layout was written.
var younger = map[int][]string{1: {"passkey-added", "passkey-removed", "reading-restored", "sheet-moved", "report-issued", "logo-set",
	"printer-set", "printer-removed", "print-asked", "print-begun", "print-ended", "print-failed", "print-broken-off", "print-dropped", "printed-here", "list-imported", "key-changed"}}

// otherwise is what newer editions say otherwise of the records of a layout, words and names of editions and rules
// only: a number that any older edition gave must come out as it was.
var otherwise = map[int][]string{1: {"program.formulas", "program.tables", "candidates[1].why", "finding.rule"}}

func complete(t *testing.T, d *Desk, but ...string) {
	t.Helper()
	kinds := kindsIn(t, d)
	for kind := range shows {
		if kinds[kind] == 0 && !slices.Contains(unwritten, kind) && !slices.Contains(but, kind) {
			t.Errorf("no entry is of the kind %s", kind)
		}
	}
}

// TestEveryKindOfEntry writes one entry of every kind and computes the views anew.
func TestEveryKindOfEntry(t *testing.T) {
	w := writeAll(t)
	complete(t, w.Desk)
	same(t, t, w.Desk)
	if !*update {
		return
	}
	name := filepath.Join("testdata", "stores", fmt.Sprintf("layout-%d", layout))
	w.ok(os.MkdirAll(filepath.Dir(name), 0o755))
	for _, end := range []string{".wreath", ".key", ".checkpoint"} {
		if err := os.Remove(name + end); err != nil && !os.IsNotExist(err) {
			t.Fatal(err)
		}
	}
	var cp ledger.Checkpoint
	err := w.o.Store.Write(t.Context(), w.Shop(), func(tx *store.Tx) error {
		signed, err := tx.Checkpoint(w.o.Private, "printed", w.clock.now())
		if err == nil {
			cp, err = ledger.OpenCheckpoint(signed, w.o.Public)
		}
		return err
	})
	w.ok(err)
	w.ok(w.o.Snapshot(t.Context(), name+".wreath"))
	w.ok(os.WriteFile(name+".key", []byte(w.o.Private+"\n"+w.o.Public+"\n"), 0o644))
	w.ok(os.WriteFile(name+".checkpoint", []byte(cp.Short().String()+"\n"), 0o644))
}

// TestOldStores opens the stores of all layouts, verifies them against what was printed then, evaluates
// all of their records again, works on in them, and moves them to PostgreSQL.
func TestOldStores(t *testing.T) {
	for n := 1; n <= layout; n++ {
		t.Run(fmt.Sprintf("layout %d", n), func(t *testing.T) {
			ctx := t.Context()
			name := filepath.Join("testdata", "stores", fmt.Sprintf("layout-%d", n))
			kept := must[[]byte](t)(os.ReadFile(name + ".wreath"))
			if len(kept) > 450_000 {
				t.Errorf("%d bytes are too many for the tree", len(kept))
			}
			path := filepath.Join(t.TempDir(), "old.wreath")
			if err := os.WriteFile(path, kept, 0o600); err != nil {
				t.Fatal(err)
			}
			key := strings.Fields(string(must[[]byte](t)(os.ReadFile(name + ".key"))))
			short := must[ledger.Short](t)(ledger.ParseShort(strings.TrimSpace(string(must[[]byte](t)(os.ReadFile(name + ".checkpoint"))))))
			w := &world{t: t, path: path, clock: &clock{at: morning.Add(time.Hour)}}
			w.Desk = sitAt(t, openFile(t, path), path, key[0], key[1], w.clock.now)
			printed := []store.Expectation{{Name: "the paper", Short: &short}}
			must[store.Report](t)(w.Verify(ctx, []string{key[1]}, printed, nil, nil))
			complete(t, w.Desk, younger[n]...)
			must[bool](t)(w.Refresh(ctx))
			same(t, t, w.Desk)

			_, boss, err := w.SignIn(ctx, "boss", otherPassword, counterPlace)
			w.ok(err)
			w.who = map[string]*Who{"boss": boss}
			records := must[[]store.Determination](t)(w.Find(ctx, boss, store.Query{Limit: 1000}))
			if len(records) < 5 {
				t.Errorf("%d records", len(records))
			}
			for _, r := range records {
				answer := must[Recorded](t)(w.Show(ctx, boss, r.Number)).Record.Answer
				again := must[*record.Repeat](t)(w.Again(ctx, boss, r.Number))
				for _, f := range again.Figures {
					if f.Shows && f.Old != "" && !slices.Contains(otherwise[n], f.Path) {
						t.Errorf("%s: %+v is no longer what it was", r.Number, f)
					}
				}
				// What a newer edition adds or says otherwise is said to be another edition's, and the
				// record keeps the answer it has.
				var kept struct {
					Program determination.Program `json:"program"`
				}
				w.ok(json.Unmarshal(answer, &kept))
				if older := kept.Program.Formulas != determination.FormulasEdition; older != strings.Contains(again.Sentence, fmt.Sprintf("formulas %q, then %q", determination.FormulasEdition, kept.Program.Formulas)) {
					t.Errorf("%s: of edition %s, but %q", r.Number, kept.Program.Formulas, again.Sentence)
				}
				if now := must[Recorded](t)(w.Show(ctx, boss, r.Number)).Record.Answer; !bytes.Equal(now, answer) {
					t.Errorf("%s: its answer is another after it was evaluated again", r.Number)
				}
			}
			number := must[*record.Record](t)(w.Record(ctx, w.boss(), ringGiven(t))).Number
			w.ok(w.Confirm(ctx, boss, otherPassword, "", counterPlace))
			must[Recorded](t)(w.Sign(ctx, w.boss(), number, people.Approved))
			w.ok(w.SetPrices(ctx, w.boss(), []value.Price{goldPrice("82")}))
			must[*record.Record](t)(w.Correct(ctx, w.boss(), number, ringGiven(t), "wrong item"))
			must[store.Report](t)(w.Verify(ctx, []string{key[1]}, printed, nil, nil))
			same(t, t, w.Desk)

			server := onPostgres(t)
			must[store.Report](t)(store.Copy(ctx, w.o.Store, server, w.Shop()))
			there := sitAt(t, server, "", key[0], key[1], w.clock.now)
			must[store.Report](t)(there.Verify(ctx, []string{key[1]}, printed, nil, nil))
			same(t, t, there)
		})
	}
}

// TestNewerLayout refuses a store that a newer program has upgraded.
func TestNewerLayout(t *testing.T) {
	w := openWorld(t)
	exec(t, w.path, fmt.Sprintf(`insert into wreath_layout (version_id, is_applied) values (%d, 1)`, layout+1))
	_, err := sqlite.Open(t.Context(), w.path, sqlite.Options{})
	if err == nil || !strings.Contains(err.Error(), "Install the newer program") {
		t.Errorf("a newer layout: %v", err)
	}
}
