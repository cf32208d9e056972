package desk

import (
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/register"
	"wreath/internal/station"
	"wreath/internal/store"
	"wreath/internal/value"
	"wreath/internal/vault"
)

// day is a day at the desk: what is there, and how many of the acts were taken.
type day struct {
	*world
	t         *rapid.T
	sheets    []string
	records   []string
	items     []string
	customers []string
	deals     []string
	counts    map[string]int
	people    int
}

// did takes note of an act. Every refusal must be one that a person can read.
func (d *day) did(what string, err error) bool {
	if err == nil {
		d.counts[what]++
		return true
	}
	if hintOf(err) == "" {
		d.t.Fatalf("%s: %T %v", what, err, err)
	}
	return false
}

func (d *day) pick(name string, from []string) string {
	return rapid.SampledFrom(from).Draw(d.t, name)
}

func (d *day) by() By {
	return d.as(rapid.SampledFrom([]string{"boss", "boss", "second", "price"}).Draw(d.t, "who"))
}

func (d *day) actions() map[string]func(*rapid.T) {
	ctx := d.world.t.Context()
	reason := func() string {
		return rapid.SampledFrom([]string{"bubble seen", "asked for", "größer 金 \"quoted\"", ""}).Draw(d.t, "reason")
	}
	return map[string]func(*rapid.T){
		"open a sheet": func(t *rapid.T) {
			b := Begin{Document: []byte(claimDoc)}
			if rapid.Bool().Draw(t, "at the station") {
				b.Station = "S-1"
			}
			if len(d.items) > 0 && rapid.Bool().Draw(t, "of an item") {
				b.Item = d.pick("item", d.items)
			}
			s, err := d.OpenSheet(ctx, d.by(), b)
			if d.did("sheet", err) {
				d.sheets = append(d.sheets, s.Sheet.ID)
			}
		},
		"take a reading": func(t *rapid.T) {
			slot := rapid.SampledFrom([][2]string{{"air_g", "7.4218"}, {"liquid_g", "6,9431"}, {"closing_air_g", "7.4219"},
				{"liquid.temperature_c", "21,5"}, {"liquid.proof.air_g", "39.6500"}, {"liquid.proof.liquid_g", "34.6655"}}).Draw(t, "slot")
			_, err := d.Take(ctx, d.by(), d.pick("sheet", d.sheets), record.Reading{Slot: slot[0], Text: slot[1], Source: record.Typed})
			d.did("reading", err)
		},
		"withdraw": func(t *rapid.T) {
			_, err := d.Withdraw(ctx, d.by(), d.pick("sheet", d.sheets), rapid.IntRange(1, 4).Draw(t, "no"), reason())
			d.did("withdrawal", err)
		},
		"restore": func(t *rapid.T) {
			_, err := d.RestoreReading(ctx, d.by(), d.pick("sheet", d.sheets), rapid.IntRange(1, 4).Draw(t, "no"), reason())
			d.did("restoration", err)
		},
		"move a sheet": func(t *rapid.T) {
			_, err := d.MoveSheet(ctx, d.by(), d.pick("sheet", d.sheets), "S-1", reason())
			d.did("move", err)
		},
		"change": func(t *rapid.T) {
			fineness := rapid.SampledFrom([]string{"585", "750", "916"}).Draw(t, "fineness")
			_, err := d.Change(ctx, d.by(), d.pick("sheet", d.sheets), []byte(strings.ReplaceAll(claimDoc, "750", fineness)), reason())
			d.did("change", err)
		},
		"note": func(t *rapid.T) {
			_, err := d.Note(ctx, d.by(), d.pick("sheet", d.sheets), reason())
			d.did("note", err)
		},
		"drop": func(t *rapid.T) { d.did("drop", d.Drop(ctx, d.by(), d.pick("sheet", d.sheets), reason())) },
		"conclude": func(t *rapid.T) {
			r, err := d.Conclude(ctx, d.by(), d.pick("sheet", d.sheets))
			if d.did("conclusion", err) {
				d.records = append(d.records, r.Number)
			}
		},
		"record": func(t *rapid.T) {
			given := ringGiven(d.world.t)
			if len(d.items) > 0 && rapid.Bool().Draw(t, "of an item") {
				given.Item = d.pick("item", d.items)
			}
			r, err := d.Record(ctx, d.by(), given)
			if d.did("record", err) {
				d.records = append(d.records, r.Number)
			}
		},
		"correct": func(t *rapid.T) {
			r, err := d.Correct(ctx, d.by(), d.pick("record", d.records), ringGiven(d.world.t), reason())
			if d.did("correction", err) {
				d.records = append(d.records, r.Number)
			}
		},
		"sign": func(t *rapid.T) {
			by, number := d.by(), d.pick("record", d.records)
			d.did("proof", d.Confirm(ctx, by.Who, password, "", counterPlace))
			meaning := rapid.SampledFrom(people.Meanings).Draw(t, "meaning").Meaning
			_, err := d.Sign(ctx, by, number, meaning)
			d.did("signature", err)
		},
		"value": func(t *rapid.T) {
			_, err := d.Value(ctx, d.by(), Valuing{Records: []string{d.pick("record", d.records)}})
			d.did("value", err)
		},
		"lot": func(t *rapid.T) {
			_, _, err := d.Lot(ctx, d.by(), Valuing{Records: d.records[len(d.records)-2:], Recipes: value.MixedScrap})
			d.did("lot", err)
		},
		"item": func(t *rapid.T) {
			i := Item{Description: "plain band", Barcode: rapid.SampledFrom([]string{"", "T-1", "T-2"}).Draw(t, "barcode")}
			if len(d.items) > 0 && rapid.Bool().Draw(t, "a part") {
				i.PartOf = d.pick("whole", d.items)
			}
			i, err := d.EnterItem(ctx, d.by(), i)
			if d.did("item", err) {
				d.items = append(d.items, i.ID)
			}
		},
		"change an item": func(t *rapid.T) {
			to := Item{ID: d.pick("item", d.items), Description: "ring", Barcode: rapid.SampledFrom([]string{"", "T-1", "T-3"}).Draw(t, "barcode")}
			if rapid.Bool().Draw(t, "a part") {
				to.PartOf = d.pick("whole", d.items)
			}
			_, err := d.ChangeItem(ctx, d.by(), to, reason())
			d.did("item changed", err)
		},
		"move": func(t *rapid.T) {
			gone := rapid.SampledFrom([]string{"", "", "sold", "melted", "altered", "returned"}).Draw(t, "gone")
			_, err := d.MoveItem(ctx, d.by(), d.pick("item", d.items), "safe", gone, reason(), nil)
			d.did("move", err)
		},
		"hold": func(t *rapid.T) {
			_, err := d.HoldItem(ctx, d.by(), d.pick("item", d.items), register.Order{Authority: "Invented Police", Reference: "P-1"})
			d.did("hold", err)
		},
		"release": func(t *rapid.T) {
			_, err := d.ReleaseItem(ctx, d.by(), d.pick("item", d.items), "P-1", "P-2")
			d.did("release", err)
		},
		"photo": func(t *rapid.T) {
			_, err := d.AddPhoto(ctx, d.by(), d.pick("item", d.items), picture(d.world.t), reason())
			d.did("photo", err)
		},
		"customer": func(t *rapid.T) {
			id, err := d.EnterCustomer(ctx, d.by(), somebody)
			if d.did("customer", err) {
				d.customers = append(d.customers, id)
			}
		},
		"correct a customer": func(t *rapid.T) {
			d.did("customer corrected", d.CorrectCustomer(ctx, d.by(), d.pick("customer", d.customers), vault.Person{Name: "Quilla Otherwise"}))
		},
		"see a customer": func(t *rapid.T) {
			_, err := d.SeeCustomer(ctx, d.by(), d.pick("customer", d.customers), reason())
			d.did("customer seen", err)
		},
		"keep a customer": func(t *rapid.T) {
			d.did("customer kept", d.KeepCustomer(ctx, d.by(), d.pick("customer", d.customers), "P-3", rapid.Bool().Draw(t, "release")))
		},
		"erase a customer": func(t *rapid.T) {
			d.did("erasure", d.EraseCustomer(ctx, d.by(), d.pick("customer", d.customers), reason()))
		},
		"deal": func(t *rapid.T) {
			deal := Deal{Kind: rapid.SampledFrom(register.Kinds).Draw(t, "kind"), Items: []string{d.pick("item", d.items)}, Amount: "50", Currency: "EUR"}
			if len(d.customers) > 0 && rapid.Bool().Draw(t, "known") {
				deal.Customer = d.pick("customer", d.customers)
			}
			deal, err := d.Register(ctx, d.by(), deal)
			if d.did("deal", err) {
				d.deals = append(d.deals, deal.Number)
			}
		},
		"void":  func(t *rapid.T) { d.did("void", d.VoidDeal(ctx, d.by(), d.pick("deal", d.deals), reason())) },
		"close": func(t *rapid.T) { d.did("close", d.CloseDeal(ctx, d.by(), d.pick("deal", d.deals), reason())) },
		"price": func(t *rapid.T) {
			p := goldPrice(rapid.SampledFrom([]string{"79.5", "80", "81"}).Draw(t, "amount"))
			p.HeldAt.Time = p.HeldAt.Add(time.Duration(rapid.IntRange(-60, 1).Draw(t, "minutes")) * time.Minute)
			d.did("price", d.SetPrices(ctx, d.by(), []value.Price{p}))
		},
		"register rules": func(t *rapid.T) { d.did("rules", d.SetRegisterRules(ctx, d.by(), rulesOf(d.world.t), reason())) },
		"four eyes": func(t *rapid.T) {
			d.did("four eyes", d.SetFourEyes(ctx, d.by(), people.FourEyes{Format: 1, From: "2026-11-26", Reason: "invented", AboveAmount: "100", Currency: "EUR"}))
		},
		"person": func(t *rapid.T) {
			d.people++
			id := fmt.Sprintf("newcomer-%d", d.people)
			_, err := d.AddPerson(ctx, d.by(), people.Person{ID: id, Name: "New " + id, Roles: []people.Role{people.Audit}})
			if d.did("person", err) && rapid.Bool().Draw(t, "leaves") {
				d.did("leaver", d.EndPerson(ctx, d.boss(), id, reason()))
			}
		},
		"instrument": func(t *rapid.T) {
			if rapid.Bool().Draw(t, "out of service") {
				_, err := d.TakeOutOfService(ctx, d.by(), "T-1", "dropped")
				d.did("out of service", err)
			} else {
				_, err := d.ReturnToService(ctx, d.by(), "T-1", "checked")
				d.did("in service", err)
			}
		},
		"station": func(t *rapid.T) {
			st := must[*station.Station](d.world.t)(station.DecodeStation([]byte(stationDoc)))
			st.Note = reason()
			// Its instruments may have newer versions by now; then the old ones are named still.
			_, err := d.SetStation(ctx, d.by(), *st, "")
			d.did("station", err)
		},
		"checkpoint": func(t *rapid.T) {
			_, _, err := d.Checkpoint(ctx, d.boss().Who, "printed")
			d.did("checkpoint", err)
		},
		"evidence": func(t *rapid.T) {
			b, err := d.Evidence(ctx, d.boss().Who, []string{d.pick("record", d.records)})
			if d.did("evidence", err) {
				if _, _, err := b.Verify(d.o.Public); err != nil {
					t.Fatal(err)
				}
			}
		},
		"time": func(t *rapid.T) {
			d.clock.move(time.Duration(rapid.IntRange(-90, 120).Draw(t, "seconds")) * time.Second)
		},
	}
}

// TestViewsFollowFromTheLog takes random acts; then the views computed anew are the ones that were
// kept, on either database.
func TestViewsFollowFromTheLog(t *testing.T) {
	counts := map[string]int{}
	rapid.Check(t, func(r *rapid.T) {
		w := openWorld(t)
		number := w.recorded(w.boss())
		i := w.item()
		d := &day{world: w, t: r, counts: counts, sheets: []string{w.sheet()}, records: []string{w.recorded(w.boss()), number},
			items: []string{i.ID}, customers: []string{w.customer()}, deals: []string{w.bought(i.ID).Number}}
		actions := d.actions()
		names := slices.Sorted(maps.Keys(actions))
		for range rapid.IntRange(20, 60).Draw(r, "acts") {
			actions[rapid.SampledFrom(names).Draw(r, "act")](r)
		}
		same(r, t, d.Desk)
	})
	if taken := slices.Collect(maps.Keys(counts)); len(taken) < 25 {
		t.Errorf("only %v were done in all of the days: the test sees too little", taken)
	}
}

// same computes the views anew and compares.
func same(f interface{ Fatalf(string, ...any) }, t *testing.T, d *Desk) {
	digest := func() (out string) {
		err := d.o.Store.Read(t.Context(), d.o.Shop, func(tx *store.Tx) (err error) { out, err = tx.ViewsDigest(); return err })
		if err != nil {
			f.Fatalf("%v", err)
		}
		return out
	}
	kept := digest()
	scratch := openFile(t, filepath.Join(t.TempDir(), "scratch"))
	defer scratch.Close()
	if _, err := d.Verify(t.Context(), []string{d.o.Public}, nil, scratch, nil); err != nil {
		f.Fatalf("%v", err)
	}
	if err := d.Rebuild(t.Context()); err != nil {
		f.Fatalf("%v", err)
	}
	if anew := digest(); anew != kept {
		f.Fatalf("the views computed anew differ from those that were kept")
	}
}

func TestViewsOnPostgres(t *testing.T) {
	w := openWorld(t)
	s := onPostgres(t)
	must[store.Report](t)(store.Copy(t.Context(), w.o.Store, s, w.Shop()))
	w.Desk = sitAt(t, s, "", w.o.Private, w.o.Public, w.clock.now)
	number := w.recorded(w.boss())
	w.sign("sign", number, people.Approved)
	must[*value.Worth](t)(w.Value(t.Context(), w.boss(), Valuing{Records: []string{number}}))
	must[*record.Record](t)(w.Correct(t.Context(), w.boss(), number, ringGiven(t), "wrong item"))
	i := w.item()
	must[Item](t)(w.AddPhoto(t.Context(), w.boss(), i.ID, picture(t), ""))
	w.bought(i.ID)
	w.sheet()
	same(t, t, w.Desk)
}

// TestChangedViewIsFound changes what is shown behind the desk's back: the log is whole, but Verify
// tells that what is shown does not follow from it, and Rebuild mends it.
func TestChangedViewIsFound(t *testing.T) {
	for _, row := range []struct{ name, statement string }{
		{"a wrong finding in the search", `update determination set finding = 'not met' where number = 'D-000001'`},
		{"a record nobody finds", `delete from word where word like '%000001%'`},
		{"a record that is gone", `delete from determination where number = 'D-000001'`},
		{"a signature that nobody gave", `update thing set doc = replace(doc, '"number":"D-000002"', '"number":"D-000002","complete":true') where kind = 'record'`},
		{"a role that nobody gave", `update thing set doc = replace(doc, '["audit"]', '["administer"]') where kind = 'person'`},
		{"an entry that made it so", `update thing set seq = seq - 1 where kind = 'item'`},
		{"a thing of no entry", `insert into thing (shop, kind, id, seq, doc) values ('river-street', 'item', 'i-invented', 3, '{}')`},
	} {
		t.Run(row.name, func(t *testing.T) {
			w := stocked(t)
			verified(t, w.Desk)
			exec(t, w.path, row.statement)
			if row.name == "a wrong finding in the search" {
				found := must[[]store.Determination](t)(w.Find(t.Context(), w.who["audit"], store.Query{Number: "D-000001"}))
				if len(found) != 1 || found[0].Finding != "not met" {
					t.Fatalf("the search shows %+v", found)
				}
			}
			var broken *ledger.Broken
			_, err := w.Verify(t.Context(), nil, nil, openFile(t, filepath.Join(t.TempDir(), "scratch")), nil)
			if !errors.As(err, &broken) || !strings.Contains(broken.Reason, "wreath rebuild") {
				t.Fatalf("verified: %v", err)
			}
			if _, err := w.Verify(t.Context(), nil, nil, nil, nil); err != nil {
				t.Errorf("the log itself: %v", err)
			}
			w.ok(w.Rebuild(t.Context()))
			verified(t, w.Desk)
		})
	}
}

// TestShowReadsTheLog holds that a record is shown from the log, whatever a view says of it.
func TestShowReadsTheLog(t *testing.T) {
	w := openWorld(t)
	number := w.recorded(w.boss())
	exec(t, w.path, `update determination set finding = 'not met', density_kg_m3 = 1`)
	shown := must[Recorded](t)(w.Show(t.Context(), w.who["audit"], number))
	if sum := must[*record.Summary](t)(shown.Record.Summary()); sum.Finding == "not met" || sum.DensityKgM3 < 10000 {
		t.Errorf("shown: %s, %g kg/m³", sum.Finding, sum.DensityKgM3)
	}
	exec(t, w.path, `drop trigger entry_stays; update entry set raw = cast(replace(cast(raw as text), '750', '751') as blob) where kind = 'determination-recorded'`)
	var broken *ledger.Broken
	if _, err := w.Show(t.Context(), w.who["audit"], number); !errors.As(err, &broken) {
		t.Errorf("a changed entry is shown: %v", err)
	}
	if _, err := w.Verify(t.Context(), nil, nil, nil, nil); !errors.As(err, &broken) {
		t.Errorf("a changed entry passes: %v", err)
	}
}

func TestNewerEntryKind(t *testing.T) {
	w := openWorld(t)
	err := w.o.Store.Write(t.Context(), w.Shop(), func(tx *store.Tx) error {
		_, err := tx.Append(ledger.Entry{Head: ledger.Head{Time: morning, Kind: "ring-enchanted", Subject: "ring"}, Body: []byte(`{}`)})
		return err
	})
	w.ok(err)
	_, err = w.Verify(t.Context(), nil, nil, openFile(t, filepath.Join(t.TempDir(), "scratch")), nil)
	for what, err := range map[string]error{"verify": err, "rebuild": w.Rebuild(t.Context())} {
		if err == nil || !strings.Contains(err.Error(), `"ring-enchanted"`) || !strings.Contains(err.Error(), "use the newer program") {
			t.Errorf("%s: %v", what, err)
		}
	}
	to := filepath.Join(t.TempDir(), "backup.wreath")
	if _, err := w.Backup(t.Context(), w.boss(), to); err == nil || !strings.Contains(err.Error(), "newer program") {
		t.Errorf("backup: %v", err)
	}
	if _, err := os.Stat(to); err == nil {
		t.Error("the backup was left there")
	}
	// The views stay as they were, and the desk works on.
	must[Item](t)(w.EnterItem(t.Context(), w.boss(), Item{Description: "plain band"}))
}
