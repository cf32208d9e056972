package desk

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/register"
	"wreath/internal/station"
	"wreath/internal/value"
	"wreath/internal/vault"
)

// TestBadInput gives every method something that it can't use. Each refusal has a reason and a hint,
// and leaves no entry and nothing else.
func TestBadInput(t *testing.T) {
	w := stocked(t)
	ctx := t.Context()
	by := w.boss()
	sheet, number := w.open, "D-000002"
	i := w.item()
	customer := w.customer()
	deal := w.bought(i.ID)
	w.ok(w.Confirm(ctx, by.Who, password, "", counterPlace))
	long := strings.Repeat("long ", 500)
	const ugly = "red \x1b[31m letters"
	reading := func(slot, text string) record.Reading {
		return record.Reading{Slot: slot, Text: text, Source: record.Typed}
	}
	given := func(from, to string) Given {
		g := ringGiven(t)
		if !strings.Contains(string(g.Document), from) {
			t.Fatalf("the document doesn't hold %q", from)
		}
		g.Document = []byte(strings.Replace(string(g.Document), from, to, 1))
		return g
	}
	price := func(change func(*value.Price)) []value.Price {
		p := goldPrice("80")
		change(&p)
		return []value.Price{goldPrice("81"), p}
	}
	st := func(from, to string) station.Station {
		s, err := station.DecodeStation([]byte(strings.Replace(stationDoc, from, to, 1)))
		w.ok(err)
		return *s
	}
	terms := func(from, to string) value.Terms {
		read, err := value.DecodeTerms([]byte(termsDoc))
		w.ok(err)
		read.Currency = strings.Replace(read.Currency, from, to, 1)
		return *read
	}
	other, otherPublic, err := ledger.NewKey("hill-street")
	w.ok(err)
	note := must[string](t)(ledger.Checkpoint{Shop: "hill-street", Size: 3, Time: morning}.Sign(other))

	for _, row := range []struct {
		name string
		do   func() error
	}{
		{"shop without a name", func() error { return w.OpenShop(ctx, Opening{Shop: Shop{TimeZone: "UTC"}}, "") }},
		{"shop in no time zone", func() error {
			return w.OpenShop(ctx, Opening{Shop: Shop{Name: "x", TimeZone: "Nowhere/Town"}, Person: people.Person{ID: "ada", Name: "Ada"}}, "")
		}},
		{"shop that is open", func() error { return w.OpenShop(ctx, firstOpening, "") }},
		{"person without a name", func() error { _, err := w.AddPerson(ctx, by, people.Person{ID: "xx", Roles: people.Roles}); return err }},
		{"person with a role that is none", func() error {
			_, err := w.AddPerson(ctx, by, people.Person{ID: "xx", Name: "Xenia", Roles: []people.Role{"king"}})
			return err
		}},
		{"person who is there", func() error {
			_, err := w.AddPerson(ctx, by, people.Person{ID: "sign", Name: "Xenia", Roles: people.Roles})
			return err
		}},
		{"change of nobody", func() error {
			return w.ChangePerson(ctx, by, "nobody-here", func(p people.Person) people.Person { return p }, "")
		}},
		{"no roles left", func() error {
			return w.ChangePerson(ctx, by, "sign", func(p people.Person) people.Person { return p.WithRoles(nil) }, "")
		}},
		{"who left comes back", func() error {
			return w.ChangePerson(ctx, by, "gone", func(p people.Person) people.Person { p.Ended, p.Until = false, nil; return p }, "")
		}},
		{"end of nobody", func() error { return w.EndPerson(ctx, by, "nobody-here", "left") }},
		{"easy password", func() error { return w.SetPassword(ctx, by, password, "password password", counterPlace) }},
		{"mistyped code", func() error { return w.NewPassword(ctx, "sign", "ABC", otherPassword, counterPlace) }},
		{"code of nobody", func() error { return w.NewPassword(ctx, "nobody-here", "ABC", otherPassword, counterPlace) }},
		{"PIN without a counter", func() error { return w.SetPIN(ctx, by, "830274", counterPlace) }},
		{"device without a name", func() error { _, _, err := w.EnrolDevice(ctx, by, "", true); return err }},
		{"device that is none", func() error { return w.EndDevice(ctx, by, "d-none", "lost") }},
		{"token for too long", func() error {
			_, _, err := w.IssueToken(ctx, by, "x", []people.Role{people.Audit}, morning.Add(1000*24*time.Hour))
			return err
		}},
		{"token that is none", func() error { return w.EndToken(ctx, by, "t-none", "lost") }},
		{"four eyes that say nothing", func() error {
			return w.SetFourEyes(ctx, by, people.FourEyes{Format: 1, From: "2026-11-26", Reason: "x"})
		}},

		{"sheet of no JSON", func() error { _, err := w.OpenSheet(ctx, by, Begin{Document: []byte("{")}); return err }},
		{"sheet of nothing", func() error { _, err := w.OpenSheet(ctx, by, Begin{}); return err }},
		{"sheet with readings", func() error { _, err := w.OpenSheet(ctx, by, Begin{Document: []byte(`{"air_g": [1]}`)}); return err }},
		{"sheet at no station", func() error {
			_, err := w.OpenSheet(ctx, by, Begin{Station: "S-9", Document: []byte(claimDoc)})
			return err
		}},
		{"sheet of no item", func() error {
			_, err := w.OpenSheet(ctx, by, Begin{Item: "i-none", Document: []byte(claimDoc)})
			return err
		}},
		{"reading of letters", func() error { _, err := w.Take(ctx, by, sheet, reading("air_g", "heavy")); return err }},
		{"reading of nothing known", func() error { _, err := w.Take(ctx, by, sheet, reading("weight", "7")); return err }},
		{"reading that is endless", func() error { _, err := w.Take(ctx, by, sheet, reading("air_g", "Inf")); return err }},
		{"reading on no sheet", func() error { _, err := w.Take(ctx, by, "d-none", reading("air_g", "7")); return err }},
		{"withdraw what is not there", func() error { _, err := w.Withdraw(ctx, by, sheet, 99, "bubble"); return err }},
		{"restore what is not there", func() error { _, err := w.RestoreReading(ctx, by, sheet, 99, "bubble"); return err }},
		{"restore what counts", func() error { _, err := w.RestoreReading(ctx, by, sheet, 5, "bubble"); return err }},
		{"restore for an ugly reason", func() error { _, err := w.RestoreReading(ctx, by, sheet, 5, ugly); return err }},
		{"move nowhere", func() error { _, err := w.MoveSheet(ctx, by, sheet, "S-99", "better"); return err }},
		{"move where it is", func() error { _, err := w.MoveSheet(ctx, by, sheet, "S-1", "better"); return err }},
		{"withdraw without a reason", func() error { _, err := w.Withdraw(ctx, by, sheet, 5, ""); return err }},
		{"change without a reason", func() error { _, err := w.Change(ctx, by, sheet, []byte(claimDoc), ""); return err }},
		{"change to no JSON", func() error { _, err := w.Change(ctx, by, sheet, []byte("{"), "x"); return err }},
		{"change to an unknown field", func() error {
			_, err := w.Change(ctx, by, sheet, []byte(strings.Replace(claimDoc, `"metal"`, `"mettal"`, 1)), "x")
			return err
		}},
		{"empty note", func() error { _, err := w.Note(ctx, by, sheet, ""); return err }},
		{"drop without a reason", func() error { return w.Drop(ctx, by, sheet, "") }},
		{"drop for an ugly reason", func() error { return w.Drop(ctx, by, sheet, ugly) }},
		{"withdraw for an ugly reason", func() error { _, err := w.Withdraw(ctx, by, sheet, 5, ugly); return err }},
		{"change for an ugly reason", func() error { _, err := w.Change(ctx, by, sheet, []byte(claimDoc), ugly); return err }},
		{"correct for an ugly reason", func() error { _, err := w.Correct(ctx, by, number, ringGiven(t), ugly); return err }},
		{"half a document", func() error {
			g := ringGiven(t)
			g.Document = g.Document[:20]
			_, err := w.Record(ctx, by, g)
			if err != nil && strings.Contains(err.Error(), "MarshalJSON") {
				t.Errorf("the error speaks of the program: %v", err)
			}
			return err
		}},
		{"conclude no sheet", func() error { _, err := w.Conclude(ctx, by, "d-none"); return err }},
		{"record heavier in the liquid", func() error { _, err := w.Record(ctx, by, given("6.9431", "8.9431")); return err }},
		{"record of an unknown field", func() error { _, err := w.Record(ctx, by, given(`"arrangement"`, `"arangement"`)); return err }},
		{"record of no readings", func() error {
			_, err := w.Record(ctx, by, Given{Begin: Begin{Document: []byte(claimDoc)}, Source: record.Typed})
			return err
		}},
		{"record from nowhere", func() error { g := ringGiven(t); g.Source = "dreamt"; _, err := w.Record(ctx, by, g); return err }},
		{"correct without a reason", func() error { _, err := w.Correct(ctx, by, number, ringGiven(t), ""); return err }},
		{"correct no record", func() error { _, err := w.Correct(ctx, by, "D-999999", ringGiven(t), "x"); return err }},
		{"sign with no meaning", func() error { _, err := w.Sign(ctx, by, number, "liked"); return err }},
		{"sign as released", func() error { _, err := w.Sign(ctx, by, number, people.Released); return err }},
		{"sign no record", func() error { _, err := w.Sign(ctx, by, "D-999999", people.Approved); return err }},
		{"witness before anybody approved", func() error { _, err := w.Sign(ctx, w.as("sign"), number, people.Witnessed); return err }},

		{"item without a description", func() error { _, err := w.EnterItem(ctx, by, Item{Barcode: "T-8"}); return err }},
		{"item in a tray that is taken", func() error { _, err := w.EnterItem(ctx, by, Item{Description: "x", Barcode: "T-7"}); return err }},
		{"item with a long text", func() error { _, err := w.EnterItem(ctx, by, Item{Description: long}); return err }},
		{"item with what can't be shown", func() error { _, err := w.EnterItem(ctx, by, Item{Description: "ring\x00"}); return err }},
		{"item of no text", func() error { _, err := w.EnterItem(ctx, by, Item{Description: "ring\xff"}); return err }},
		{"item as part of nothing", func() error { _, err := w.EnterItem(ctx, by, Item{Description: "x", PartOf: "i-none"}); return err }},
		{"item as part of itself", func() error { c := i; c.PartOf = i.ID; _, err := w.ChangeItem(ctx, by, c, ""); return err }},
		{"move in a way that is none", func() error { _, err := w.MoveItem(ctx, by, i.ID, "", "vanished", "", nil); return err }},
		{"melt without a reason", func() error { _, err := w.MoveItem(ctx, by, i.ID, "", "melted", "", nil); return err }},
		{"override of no hold", func() error {
			_, err := w.MoveItem(ctx, by, i.ID, "", "sold", "x", &register.Override{Ground: "x", People: []string{"boss", "sign"}})
			return err
		}},
		{"order of nobody", func() error { _, err := w.HoldItem(ctx, by, i.ID, register.Order{}); return err }},
		{"release of no order", func() error { _, err := w.ReleaseItem(ctx, by, i.ID, "P-9", "P-10"); return err }},
		{"photo that is none", func() error { _, err := w.AddPhoto(ctx, by, i.ID, []byte("GIF89a"), ""); return err }},
		{"photo of nothing", func() error { _, err := w.AddPhoto(ctx, by, "i-none", picture(t), ""); return err }},
		{"picture that is none", func() error { _, err := w.Picture(ctx, by.Who, "00"); return err }},

		{"customer of nothing", func() error { _, err := w.EnterCustomer(ctx, by, vault.Person{}); return err }},
		{"customer born on no day", func() error { _, err := w.EnterCustomer(ctx, by, vault.Person{BornOn: "1980-02-30"}); return err }},
		{"correct no customer", func() error { return w.CorrectCustomer(ctx, by, "c-none", somebody) }},
		{"look without a reason", func() error { _, err := w.SeeCustomer(ctx, by, customer, ""); return err }},
		{"hand out to nobody", func() error { _, err := w.DiscloseCustomer(ctx, by, customer, "", vault.AccessFacts{}); return err }},
		{"erase without a reason", func() error { return w.EraseCustomer(ctx, by, customer, "") }},
		{"erase for an ugly reason", func() error { return w.EraseCustomer(ctx, by, customer, ugly) }},
		{"keep on an ugly order", func() error { return w.KeepCustomer(ctx, by, customer, ugly, false) }},
		{"keep without a reference", func() error { return w.KeepCustomer(ctx, by, customer, "", false) }},
		{"end of no order", func() error { return w.KeepCustomer(ctx, by, customer, "P-9", true) }},
		{"deal of a kind that is none", func() error {
			_, err := w.Register(ctx, by, Deal{Kind: "steal", Items: []string{i.ID}})
			return err
		}},
		{"deal of nothing", func() error { _, err := w.Register(ctx, by, Deal{Kind: "buy"}); return err }},
		{"deal of what has one", func() error { _, err := w.Register(ctx, by, Deal{Kind: "buy", Items: []string{i.ID}}); return err }},
		{"deal of one item twice", func() error {
			sheet := must[ItemSheet](t)(w.ItemBy(ctx, by.Who, "T-7"))
			_, err := w.Register(ctx, by, Deal{Kind: "buy", Items: []string{sheet.Item.ID, sheet.Item.ID}})
			return err
		}},
		{"deal of an amount that is none", func() error {
			sheet := must[ItemSheet](t)(w.ItemBy(ctx, by.Who, "T-7"))
			_, err := w.Register(ctx, by, Deal{Kind: "buy", Items: []string{sheet.Item.ID}, Amount: "much", Currency: "EUR"})
			return err
		}},
		{"void without a reason", func() error { return w.VoidDeal(ctx, by, deal.Number, "") }},
		{"void of no deal", func() error { return w.VoidDeal(ctx, by, "99999", "x") }},
		{"close of no deal", func() error { return w.CloseDeal(ctx, by, "99999", "sold") }},
		{"register rules in no time zone", func() error { r := rulesOf(t); r.TimeZone = "Nowhere"; return w.SetRegisterRules(ctx, by, r, "") }},

		{"no price", func() error { return w.SetPrices(ctx, by, nil) }},
		{"price below zero", func() error { return w.SetPrices(ctx, by, price(func(p *value.Price) { p.Amount = decimalOf("-1") })) }},
		{"price of tomorrow", func() error {
			return w.SetPrices(ctx, by, price(func(p *value.Price) { p.HeldAt.Time = morning.Add(24 * time.Hour) }))
		}},
		{"price of lead", func() error { return w.SetPrices(ctx, by, price(func(p *value.Price) { p.Metal = "lead" })) }},
		{"terms in no currency", func() error { _, err := w.SetTerms(ctx, by, terms("EUR", "euros"), ""); return err }},
		{"value of no record", func() error { _, err := w.Value(ctx, by, Valuing{Records: []string{"D-999999"}}); return err }},
		{"value of two records", func() error { _, err := w.Value(ctx, by, Valuing{Records: []string{number, number}}); return err }},
		{"value by no terms", func() error {
			_, err := w.Value(ctx, by, Valuing{Records: []string{number}, Terms: "none"})
			return err
		}},
		{"value of more than there is", func() error {
			_, err := w.Value(ctx, by, Valuing{Records: []string{number}, NonMetalG: decimalOf("100"), NonMetal: "stone"})
			return err
		}},
		{"lot of nothing", func() error { _, _, err := w.Lot(ctx, by, Valuing{}); return err }},
		{"lot of one record twice", func() error {
			_, _, err := w.Lot(ctx, by, Valuing{Records: []string{number, number}, Recipes: value.MixedScrap})
			return err
		}},

		{"station of no balance", func() error { _, err := w.SetStation(ctx, by, st("B-1", "B-9"), ""); return err }},
		{"station with an instrument's name", func() error { _, err := w.SetStation(ctx, by, st("S-1", "B-1"), ""); return err }},
		{"instrument of no kind", func() error { _, err := w.SetInstrument(ctx, by, station.Instrument{ID: "X-1"}, ""); return err }},
		{"instrument of another kind", func() error {
			i := must[*station.Instrument](t)(station.DecodeInstrument([]byte(strings.NewReplacer("T-1", "B-1", `"kind"`, `"version": 1, "kind"`).Replace(thermometerDoc))))
			_, err := w.SetInstrument(ctx, by, *i, "")
			return err
		}},
		{"out of service without a reason", func() error { _, err := w.TakeOutOfService(ctx, by, "B-1", ""); return err }},
		{"out of service for an ugly reason", func() error { _, err := w.TakeOutOfService(ctx, by, "B-1", ugly); return err }},
		{"back for an ugly reason", func() error { _, err := w.ReturnToService(ctx, by, "B-1", ugly); return err }},
		{"station for an ugly reason", func() error { _, err := w.SetStation(ctx, by, st("70", "71"), ugly); return err }},
		{"leave for an ugly reason", func() error { return w.EndPerson(ctx, by, "price", ugly) }},
		{"change a person for an ugly reason", func() error {
			return w.ChangePerson(ctx, by, "price", func(p people.Person) people.Person { return p }, ugly)
		}},
		{"end a device for an ugly reason", func() error { return w.EndDevice(ctx, by, by.Who.person.ID, ugly) }},
		{"checkpoint for an ugly reason", func() error { _, _, err := w.Checkpoint(ctx, by.Who, ugly); return err }},
		{"out of service what is not there", func() error { _, err := w.TakeOutOfService(ctx, by, "B-9", "dropped"); return err }},
		{"back what never left", func() error { _, err := w.ReturnToService(ctx, by, "B-1", "checked"); return err }},

		{"evidence of nothing", func() error { _, err := w.Evidence(ctx, by.Who, nil); return err }},
		{"evidence of what nobody knows", func() error { _, err := w.Evidence(ctx, by.Who, []string{"D-999999"}); return err }},
		{"proof of a log that is longer", func() error { _, err := w.ProveExtends(ctx, by.Who, 1, 1<<40); return err }},
		{"one's own checkpoint", func() error {
			_, err := w.Witness(ctx, by, note, strings.Replace(otherPublic, "hill", "river", 1))
			return err
		}},
		{"a checkpoint of letters", func() error { _, err := w.Witness(ctx, by, "letters", otherPublic); return err }},
		{"backup into no folder", func() error { _, err := w.Backup(ctx, by, filepath.Join(t.TempDir(), "none", "b")); return err }},
		{"mark that is too long", func() error {
			_, err := w.EnterItem(ctx, By{Who: by.Who, Key: long}, Item{Description: "x"})
			return err
		}},
		{"mark that is no text", func() error {
			_, err := w.EnterItem(ctx, By{Who: by.Who, Key: "\xff"}, Item{Description: "x"})
			return err
		}},
		{"history of nothing", func() error { _, err := w.History(ctx, by.Who, "nothing"); return err }},
		{"show of nothing", func() error { _, err := w.Show(ctx, by.Who, ""); return err }},
		{"versions of nothing", func() error { _, err := w.Versions(ctx, by.Who, "B-9"); return err }},
	} {
		t.Run(row.name, func(t *testing.T) {
			entries, before := w.size(), ""
			wrongSignIn := row.name == "mistyped code" || row.name == "code of nobody" || row.name == "easy password"
			if !wrongSignIn { // those count tries
				before = w.all()
			}
			refused(t, row.name, row.do())
			if w.size() != entries {
				t.Errorf("%d entries", w.size()-entries)
			}
			if !wrongSignIn && w.all() != before {
				t.Error("the store was changed")
			}
		})
	}
	verified(t, w.Desk)
}
