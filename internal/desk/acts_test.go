package desk

import (
	"encoding/json"
	"io"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wreath/internal/determination"
	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/people/passkeytest"
	"wreath/internal/record"
	"wreath/internal/register"
	"wreath/internal/spool"
	"wreath/internal/station"
	"wreath/internal/store"
	"wreath/internal/tables"
	"wreath/internal/value"
	"wreath/internal/vault"
)

// act is a method of the desk that writes, with the action that it stands for.
type act struct {
	method string
	action people.Action
	kind   string // of its entry; "" for one that makes no entry
	// prepare does what must be there before, and gives the act. Who is who will try, or nil.
	prepare func(w *world, who *Who) func(by By) (any, error)
	// once says why the act is not known again by its mark.
	once string
}

// plain is an act that needs nothing beforehand.
func plain(do func(w *world, by By) (any, error)) func(*world, *Who) func(By) (any, error) {
	return func(w *world, _ *Who) func(By) (any, error) {
		return func(by By) (any, error) { return do(w, by) }
	}
}

// on is an act on something that is made beforehand.
func on[T any](prepare func(w *world) T, do func(w *world, by By, on T) (any, error)) func(*world, *Who) func(By) (any, error) {
	return func(w *world, _ *Who) func(By) (any, error) {
		thing := prepare(w)
		return func(by By) (any, error) { return do(w, by, thing) }
	}
}

// only is an act that gives nothing back.
func only(err error) (any, error) { return nil, err }

// two gives the first of two results.
func two[A, B any](a A, _ B, err error) (any, error) { return a, err }

func one[A any](a A, err error) (any, error) { return a, err }

func signing(m people.Meaning, before ...people.Meaning) func(*world, *Who) func(By) (any, error) {
	return func(w *world, who *Who) func(By) (any, error) {
		number := w.recorded(w.as("measure"))
		for _, b := range before {
			w.sign("boss", number, b)
		}
		if who != nil && who.key != "" && who.roles == nil {
			// Who may not come in at all can't confirm either.
			if err := w.Confirm(w.t.Context(), who, password, "", counterPlace); err != nil && who.person.ID != "gone" {
				w.t.Fatal(err)
			}
		}
		return func(by By) (any, error) {
			r, err := w.Sign(w.t.Context(), by, number, m)
			r.Seen, r.Worth = 0, nil
			return r, err
		}
	}
}

const shownOnce = "what it gives is shown once and not kept"

// acts lists every method that writes, for the tests of authority and of repetition.
var acts = []act{
	{"AddPerson", people.AddPerson, "person-added", plain(func(w *world, by By) (any, error) {
		_, err := w.AddPerson(w.t.Context(), by, people.Person{ID: "newcomer", Name: "New Invented", Roles: []people.Role{people.Measure}})
		return nil, err // the code is shown the first time only
	}), ""},
	{"ChangePerson", people.ChangeRoles, "person-changed", plain(func(w *world, by By) (any, error) {
		return only(w.ChangePerson(w.t.Context(), by, "second", func(p people.Person) people.Person { return p.WithRoles([]people.Role{people.Sign}) }, "less"))
	}), ""},
	{"EndPerson", people.EndPerson, "person-ended", plain(func(w *world, by By) (any, error) {
		return only(w.EndPerson(w.t.Context(), by, "second", "left"))
	}), ""},
	{"SetPassword", people.OwnCredentials, "password-set", plain(func(w *world, by By) (any, error) {
		return only(w.SetPassword(w.t.Context(), by, password, "nine paper boats on a quiet lake", counterPlace))
	}), "it ends the session that it was asked in"},
	{"ResetPassword", people.ResetPassword, "password-reset", plain(func(w *world, by By) (any, error) {
		return one(w.ResetPassword(w.t.Context(), by, "second"))
	}), shownOnce},
	{"RecoveryCodes", people.OwnCredentials, "recovery-codes-made", plain(func(w *world, by By) (any, error) {
		return one(w.RecoveryCodes(w.t.Context(), by))
	}), shownOnce},
	{"SetPIN", people.OwnCredentials, "pin-set", func(w *world, who *Who) func(By) (any, error) {
		at := Place{Source: "192.0.2.7", Device: w.device}
		if who != nil && who.key != "" && who.roles == nil && who.person.ID != "gone" {
			_, there, err := w.SignIn(w.t.Context(), who.person.ID, password, at)
			w.ok(err)
			*who = *there
		}
		return func(by By) (any, error) { return only(w.SetPIN(w.t.Context(), by, "830274", at)) }
	}, ""},
	{"AddPasskey", people.OwnCredentials, "passkey-added", func(w *world, who *Who) func(By) (any, error) {
		ticket, answer := "none", []byte("{}")
		if who != nil && who.SignedIn() && who.person.ID != "gone" {
			w.ok(w.Confirm(w.t.Context(), who, password, "", counterPlace))
			var options []byte
			var err error
			ticket, options, err = w.AskNewPasskey(w.t.Context(), who, hereSite)
			w.ok(err)
			_, answer = passkeytest.Make(options, passkeytest.Answer{Origin: hereSite.Origin})
		}
		return func(by By) (any, error) { return one(w.AddPasskey(w.t.Context(), by, ticket, "phone", answer)) }
	}, "an answer is good once"},
	{"RemovePasskey", people.OwnCredentials, "passkey-removed", func(w *world, who *Who) func(By) (any, error) {
		id := "none"
		if who != nil && who.SignedIn() && who.person.ID != "gone" {
			_, k := w.passkey(who, hereSite)
			id = k.ID
			w.ok(w.Confirm(w.t.Context(), who, password, "", counterPlace))
		}
		return func(by By) (any, error) { return only(w.RemovePasskey(w.t.Context(), by, id)) }
	}, ""},
	{"RemovePasskeyOf", people.RemovePasskey, "passkey-removed", on(func(w *world) people.Passkey {
		_, k := w.passkey(w.who["second"], hereSite)
		return k
	}, func(w *world, by By, k people.Passkey) (any, error) {
		return only(w.RemovePasskeyOf(w.t.Context(), by, k.Person, k.ID, "phone lost"))
	}), ""},
	{"SetTwoFactors", people.SetTwoFactors, "shop-changed", plain(func(w *world, by By) (any, error) {
		return only(w.SetTwoFactors(w.t.Context(), by, false, "as before"))
	}), ""},
	{"ChangeKey", people.ChangeKey, ledger.KeyChanged, on(func(w *world) keyPair {
		return newKeyPair(w.t, w.Shop())
	}, func(w *world, by By, k keyPair) (any, error) {
		return only(w.ChangeKey(w.t.Context(), by, k.private, k.public, false, "yearly"))
	}), ""},
	{"EndOwn", people.OwnCredentials, "signed-out", func(w *world, who *Who) func(By) (any, error) {
		id := "none"
		if who != nil && who.key != "" && who.roles == nil && who.person.ID != "gone" {
			_, other, err := w.SignIn(w.t.Context(), who.person.ID, password, counterPlace)
			w.ok(err)
			id = sittingID(other.session)
		}
		return func(by By) (any, error) { return only(w.EndOwn(w.t.Context(), by, id)) }
	}, ""},
	{"EnrolDevice", people.EnrolDevice, "device-enrolled", plain(func(w *world, by By) (any, error) {
		return two(w.EnrolDevice(w.t.Context(), by, "back counter", true))
	}), shownOnce},
	{"EndDevice", people.EndDevice, "device-ended", on(func(w *world) string {
		_, device, err := w.EnrolDevice(w.t.Context(), w.boss(), "back counter", true)
		w.ok(err)
		return device.ID
	}, func(w *world, by By, id string) (any, error) { return only(w.EndDevice(w.t.Context(), by, id, "lost")) }), ""},
	{"IssueToken", people.IssueToken, "token-issued", func(w *world, who *Who) func(By) (any, error) {
		if who != nil && who.person.ID == "administer" { // a token has roles of its owner only, and never administer
			w.ok(w.ChangePerson(w.t.Context(), w.boss(), "administer", func(p people.Person) people.Person {
				return p.WithRoles([]people.Role{people.Administer, people.Audit})
			}, ""))
			_, again, err := w.SignIn(w.t.Context(), "administer", password, counterPlace)
			w.ok(err)
			*who = *again
		}
		return func(by By) (any, error) {
			shown, _, err := w.IssueToken(w.t.Context(), by, "reader", []people.Role{people.Audit}, w.clock.now().Add(time.Hour))
			return shown, err
		}
	}, shownOnce},
	{"EndToken", people.EndToken, "token-ended", on(func(w *world) string {
		_, token, err := w.IssueToken(w.t.Context(), w.boss(), "label printer", []people.Role{people.Measure}, w.clock.now().Add(time.Hour))
		w.ok(err)
		return token.ID
	}, func(w *world, by By, id string) (any, error) { return only(w.EndToken(w.t.Context(), by, id, "lost")) }), ""},
	{"SetFourEyes", people.SetFourEyes, "four-eyes-set", plain(func(w *world, by By) (any, error) {
		return only(w.SetFourEyes(w.t.Context(), by, people.FourEyes{Format: 1, From: "2026-11-26", Reason: "invented", AboveAmount: "5000", Currency: "EUR"}))
	}), ""},

	{"OpenSheet", people.OpenDraft, "sheet-opened", plain(func(w *world, by By) (any, error) {
		return one(w.OpenSheet(w.t.Context(), by, Begin{Station: "S-1", Document: []byte(claimDoc)}))
	}), ""},
	{"Take", people.TakeReading, "reading-taken", on((*world).sheet, func(w *world, by By, id string) (any, error) {
		return one(w.Take(w.t.Context(), by, id, record.Reading{Slot: "air_g", Text: "7.4219", Source: record.Typed}))
	}), ""},
	{"TakeHeard", people.TakeReading, "reading-taken", on((*world).sheet, func(w *world, by By, id string) (any, error) {
		return one(w.TakeHeard(w.t.Context(), by, id, record.Reading{Slot: "air_g", Text: "7.4219", Source: record.Received, Settled: true}, Heard{Stream: []byte("a 7.4219 g\r\n")}))
	}), ""},
	{"CarryProof", people.TakeReading, "proof-carried", on(func(w *world) string {
		if w.open == "" {
			w.sheet()
		}
		return w.bareSheet()
	}, func(w *world, by By, id string) (any, error) {
		return one(w.CarryProof(w.t.Context(), by, id))
	}), ""},
	{"Withdraw", people.WithdrawReading, "reading-withdrawn", on((*world).sheet, func(w *world, by By, id string) (any, error) {
		return one(w.Withdraw(w.t.Context(), by, id, 5, "bubble seen"))
	}), ""},
	{"RestoreReading", people.WithdrawReading, "reading-restored", on(func(w *world) string {
		id := w.sheet()
		must[Sheet](w.t)(w.Withdraw(w.t.Context(), w.boss(), id, 5, "bubble seen"))
		return id
	}, func(w *world, by By, id string) (any, error) {
		return one(w.RestoreReading(w.t.Context(), by, id, 5, "it was no bubble"))
	}), ""},
	{"MoveSheet", people.ChangeDraft, "sheet-moved", on(func(w *world) string {
		w.secondStation()
		return w.sheet()
	}, func(w *world, by By, id string) (any, error) {
		return one(w.MoveSheet(w.t.Context(), by, id, "S-2", "this balance can't decide it"))
	}), ""},
	{"Change", people.ChangeDraft, "sheet-changed", on((*world).sheet, func(w *world, by By, id string) (any, error) {
		return one(w.Change(w.t.Context(), by, id, []byte(strings.ReplaceAll(claimDoc, "750", "585")), "stamp read again"))
	}), ""},
	{"Note", people.ChangeDraft, "sheet-noted", on((*world).sheet, func(w *world, by By, id string) (any, error) {
		return one(w.Note(w.t.Context(), by, id, "a scratch inside"))
	}), ""},
	{"Drop", people.DropDraft, "sheet-dropped", on((*world).sheet, func(w *world, by By, id string) (any, error) {
		return only(w.Drop(w.t.Context(), by, id, "customer left"))
	}), ""},
	{"Conclude", people.RecordDetermination, "determination-recorded", on((*world).sheet, func(w *world, by By, id string) (any, error) {
		return one(w.Conclude(w.t.Context(), by, id))
	}), ""},
	{"Record", people.RecordDetermination, "determination-recorded", plain(func(w *world, by By) (any, error) {
		return one(w.Record(w.t.Context(), by, ringGiven(w.t)))
	}), ""},
	{"Correct", people.CorrectDetermination, "determination-recorded", on(func(w *world) string { return w.recorded(w.boss()) }, func(w *world, by By, number string) (any, error) {
		return one(w.Correct(w.t.Context(), by, number, ringGiven(w.t), "wrong item"))
	}), ""},
	{"Sign", people.SignAsMeasurer, "determination-signed", signing(people.Measured), ""},
	{"Sign", people.SignDetermination, "determination-signed", signing(people.Approved), ""},
	{"Sign", people.ReviewDetermination, "determination-signed", signing(people.Reviewed), ""},
	{"Sign", people.WitnessDetermination, "determination-signed", signing(people.Witnessed, people.Approved), ""},
	{"Sign", people.RefuseDetermination, "determination-signed", signing(people.Declined), ""},

	{"IssueReport", people.IssueReport, "report-issued", on((*world).reportable, func(w *world, by By, number string) (any, error) {
		return one(w.IssueReport(w.t.Context(), by, Issue{Record: number}))
	}), ""},
	{"PaperWithCustomer", people.SeePersonalData, "customer-seen", on((*world).withCustomer, func(w *world, by By, number string) (any, error) {
		return one(w.PaperWithCustomer(w.t.Context(), by, number))
	}), "every look is an act of its own"},
	{"SetShop", people.SetShop, "shop-changed", plain(func(w *world, by By) (any, error) {
		return only(w.SetShop(w.t.Context(), by, "", "Invented Lane 1", "moved"))
	}), ""},
	{"SetLogo", people.SetShop, "logo-set", plain(func(w *world, by By) (any, error) {
		return only(w.SetLogo(w.t.Context(), by, picture(w.t)))
	}), ""},

	{"EnterItem", people.RegisterItem, "item-entered", plain(func(w *world, by By) (any, error) {
		return one(w.EnterItem(w.t.Context(), by, Item{Description: "chain", Barcode: "T-9"}))
	}), ""},
	{"ChangeItem", people.RegisterItem, "item-changed", on((*world).item, func(w *world, by By, i Item) (any, error) {
		i.Marks = "750"
		return one(w.ChangeItem(w.t.Context(), by, i, "stamp found"))
	}), ""},
	{"MoveItem", people.MoveItem, "item-moved", on((*world).item, func(w *world, by By, i Item) (any, error) {
		return one(w.MoveItem(w.t.Context(), by, i.ID, "safe", "", "", nil))
	}), ""},
	{"MoveItem", people.OverrideHold, "item-moved", func(w *world, _ *Who) func(By) (any, error) {
		w.ok(w.SetRegisterRules(w.t.Context(), w.boss(), rulesOf(w.t), ""))
		i := w.item()
		w.bought(i.ID)
		second := must[*Who](w.t)(w.Second(w.t.Context(), "second", password, counterPlace))
		return func(by By) (any, error) {
			o := &register.Override{Ground: "an invented decision", People: []string{"", "second"}}
			if by.Who != nil {
				o.People[0] = by.Who.person.ID
			}
			by.Second = second
			return one(w.MoveItem(w.t.Context(), by, i.ID, "", "sold", "asked for", o))
		}
	}, ""},
	{"HoldItem", people.HoldItem, "item-held", on((*world).item, func(w *world, by By, i Item) (any, error) {
		return one(w.HoldItem(w.t.Context(), by, i.ID, register.Order{Authority: "Invented Police", Reference: "P-1"}))
	}), ""},
	{"ReleaseItem", people.ReleaseItem, "item-released", on(func(w *world) Item {
		return must[Item](w.t)(w.HoldItem(w.t.Context(), w.boss(), w.item().ID, register.Order{Authority: "Invented Police", Reference: "P-1"}))
	}, func(w *world, by By, i Item) (any, error) {
		return one(w.ReleaseItem(w.t.Context(), by, i.ID, "P-1", "P-2"))
	}), ""},
	{"ImportItems", people.RegisterItem, "list-imported", plain(func(w *world, by By) (any, error) {
		return one(w.ImportItems(w.t.Context(), by, bars))
	}), ""},
	{"AddPhoto", people.AddPhoto, "photo-added", on((*world).item, func(w *world, by By, i Item) (any, error) {
		return one(w.AddPhoto(w.t.Context(), by, i.ID, picture(w.t), "front"))
	}), ""},

	{"EnterCustomer", people.EnterCustomer, "customer-entered", plain(func(w *world, by By) (any, error) {
		return one(w.EnterCustomer(w.t.Context(), by, somebody))
	}), ""},
	{"CorrectCustomer", people.CorrectCustomer, "customer-corrected", on((*world).customer, func(w *world, by By, id string) (any, error) {
		return only(w.CorrectCustomer(w.t.Context(), by, id, vault.Person{Name: "Quilla Otherwise"}))
	}), ""},
	{"SeeCustomer", people.SeePersonalData, "customer-seen", on((*world).customer, func(w *world, by By, id string) (any, error) {
		return one(w.SeeCustomer(w.t.Context(), by, id, "collects the ring"))
	}), "every look is an act of its own"},
	{"DiscloseCustomer", people.DisclosePersonal, "customer-disclosed", on((*world).customer, func(w *world, by By, id string) (any, error) {
		return one(w.DiscloseCustomer(w.t.Context(), by, id, "the customer", vault.AccessFacts{Keeper: "Invented Shop"}))
	}), "every look is an act of its own"},
	{"EraseCustomer", people.EraseCustomer, "customer-erased", on((*world).customer, func(w *world, by By, id string) (any, error) {
		return only(w.EraseCustomer(w.t.Context(), by, id, "asked for"))
	}), ""},
	{"KeepCustomer", people.KeepCustomerOnOrder, "customer-kept", on((*world).customer, func(w *world, by By, id string) (any, error) {
		return only(w.KeepCustomer(w.t.Context(), by, id, "P-3", false))
	}), ""},

	{"SetRegisterRules", people.SetRegisterRule, "register-rules-set", plain(func(w *world, by By) (any, error) {
		return only(w.SetRegisterRules(w.t.Context(), by, rulesOf(w.t), "invented"))
	}), ""},
	{"Register", people.RegisterDeal, "deal-registered", on((*world).item, func(w *world, by By, i Item) (any, error) {
		return one(w.Register(w.t.Context(), by, Deal{Kind: "buy", Items: []string{i.ID}, Amount: "50", Currency: "EUR"}))
	}), ""},
	{"VoidDeal", people.RegisterDeal, "deal-voided", on(func(w *world) Deal { return w.bought(w.item().ID) }, func(w *world, by By, deal Deal) (any, error) {
		return only(w.VoidDeal(w.t.Context(), by, deal.Number, "came to nothing"))
	}), ""},
	{"CloseDeal", people.RegisterDeal, "deal-closed", on(func(w *world) Deal { return w.bought(w.item().ID) }, func(w *world, by By, deal Deal) (any, error) {
		return only(w.CloseDeal(w.t.Context(), by, deal.Number, "redeemed"))
	}), ""},

	{"SetPrices", people.SetPrice, "prices-set", plain(func(w *world, by By) (any, error) {
		return only(w.SetPrices(w.t.Context(), by, []value.Price{goldPrice("81")}))
	}), ""},
	{"SetTerms", people.SetTerms, "terms-set", plain(func(w *world, by By) (any, error) {
		terms, err := value.DecodeTerms([]byte(strings.ReplaceAll(termsDoc, "92", "90")))
		w.ok(err)
		return one(w.SetTerms(w.t.Context(), by, *terms, "less"))
	}), ""},
	{"Value", people.ValueItem, "item-valued", on(func(w *world) string { return w.recorded(w.boss()) }, func(w *world, by By, number string) (any, error) {
		return one(w.Value(w.t.Context(), by, Valuing{Records: []string{number}}))
	}), ""},
	{"Lot", people.MakeLot, "lot-made", on(func(w *world) []string { return []string{w.recorded(w.boss()), w.recorded(w.boss())} }, func(w *world, by By, numbers []string) (any, error) {
		return two(w.Lot(w.t.Context(), by, Valuing{Records: numbers, Recipes: value.MixedScrap, Name: "invented lot"}))
	}), ""},

	{"SetStation", people.ManageStation, "station-set", plain(func(w *world, by By) (any, error) {
		st, err := station.DecodeStation([]byte(strings.ReplaceAll(stationDoc, "S-1", "S-2")))
		w.ok(err)
		return one(w.SetStation(w.t.Context(), by, *st, "new"))
	}), ""},
	{"SetInstrument", people.ManageInstrument, "instrument-set", plain(func(w *world, by By) (any, error) {
		i, err := station.DecodeInstrument([]byte(strings.NewReplacer("B-1", "B-2", `"kind"`, `"version": 1, "kind"`).Replace(balanceDoc)))
		w.ok(err)
		return one(w.SetInstrument(w.t.Context(), by, *i, "new"))
	}), ""},
	{"LinkInstrument", people.ManageInstrument, "instrument-set", plain(func(w *world, by By) (any, error) {
		return one(w.LinkInstrument(w.t.Context(), by, "B-1", invented(), "wired"))
	}), ""},
	{"BindInstrument", people.CheckInstrument, "instrument-set", func(w *world, _ *Who) func(By) (any, error) {
		must[station.Ref](w.t)(w.LinkInstrument(w.t.Context(), w.boss(), "B-1", invented(), "wired"))
		return func(by By) (any, error) {
			return one(w.BindInstrument(w.t.Context(), by, "B-1", Bound{Port: "usb-1", ReadG: 100.0002}))
		}
	}, ""},
	{"TakeOutOfService", people.TakeOutOfService, "instrument-set", plain(func(w *world, by By) (any, error) {
		return one(w.TakeOutOfService(w.t.Context(), by, "B-1", "dropped"))
	}), ""},
	{"ReturnToService", people.ReturnToService, "instrument-set", func(w *world, _ *Who) func(By) (any, error) {
		must[station.Ref](w.t)(w.TakeOutOfService(w.t.Context(), w.boss(), "B-1", "dropped"))
		return func(by By) (any, error) { return one(w.ReturnToService(w.t.Context(), by, "B-1", "checked")) }
	}, ""},

	{"SetPrinter", people.ManagePrinter, "printer-set", plain(func(w *world, by By) (any, error) {
		return one(w.SetPrinter(w.t.Context(), by, sheetPrinter, "new"))
	}), ""},
	{"RemovePrinter", people.ManagePrinter, "printer-removed", on((*world).sparePrinter, func(w *world, by By, name string) (any, error) {
		return only(w.RemovePrinter(w.t.Context(), by, name, "given away"))
	}), ""},
	{"AskPrint", people.PrintSlip, "print-asked", on(func(w *world) PrintAsk {
		return PrintAsk{Document: spool.Slip, Subject: w.recorded(w.boss()), Printer: w.printer()}
	}, func(w *world, by By, ask PrintAsk) (any, error) {
		return one(w.AskPrint(w.t.Context(), by, ask))
	}), ""},
	{"AskPrint", people.ManagePrinter, "print-asked", on((*world).printer, func(w *world, by By, name string) (any, error) {
		return one(w.AskPrint(w.t.Context(), by, PrintAsk{Document: spool.Test, Printer: name}))
	}), ""},
	{"PrintAgain", people.PrintSlip, "print-asked", on((*world).printedSlip, func(w *world, by By, number string) (any, error) {
		return one(w.PrintAgain(w.t.Context(), by, number, ""))
	}), ""},
	{"PrintHere", people.PrintSlip, "printed-here", on(func(w *world) string { return w.recorded(w.boss()) }, func(w *world, by By, number string) (any, error) {
		return one(w.PrintHere(w.t.Context(), by, PrintAsk{Document: spool.Slip, Subject: number}))
	}), ""},
	{"DropPrint", people.PrintSlip, "print-dropped", on((*world).slipAsked, func(w *world, by By, job spool.Job) (any, error) {
		return only(w.DropPrint(w.t.Context(), by, job.Number, "customer left"))
	}), ""},

	{"Checkpoint", people.MakeCheckpoint, "", plain(func(w *world, by By) (any, error) {
		return two(w.Checkpoint(w.t.Context(), by.Who, "printed"))
	}), "it is kept beside the log, which it covers"},
	{"Evidence", people.ExportEvidence, "", on(func(w *world) string { return w.recorded(w.boss()) }, func(w *world, by By, number string) (any, error) {
		return one(w.Evidence(w.t.Context(), by.Who, []string{number}))
	}), "it reads, and keeps the checkpoint that it rests on beside the log"},
	{"Prove", people.PrintSlip, "", on(func(w *world) string { return w.recorded(w.boss()) }, func(w *world, by By, number string) (any, error) {
		return one(w.Prove(w.t.Context(), by.Who, number))
	}), "it reads, and keeps the checkpoint that it rests on beside the log"},
	{"Credential", people.PrintSlip, "", on(func(w *world) string { return w.recorded(w.boss()) }, func(w *world, by By, number string) (any, error) {
		return one(w.Credential(w.t.Context(), by.Who, number))
	}), "it reads, and keeps the checkpoint that it rests on beside the log"},
	{"StatusList", people.ExportEvidence, "", plain(func(w *world, by By) (any, error) {
		return one(w.StatusList(w.t.Context(), by.Who))
	}), "it reads, and keeps the checkpoint that it rests on beside the log"},
	{"EvidenceOf", people.ExportEvidence, "", on(func(w *world) string { return w.recorded(w.boss()) }, func(w *world, by By, _ string) (any, error) {
		b, _, err := w.EvidenceOf(w.t.Context(), by.Who, morning.Add(-time.Hour), morning.Add(24*time.Hour))
		return b, err
	}), "it reads, and keeps the checkpoint that it rests on beside the log"},
	{"Witness", people.MakeCheckpoint, "branch-checkpoint", on(func(w *world) [2]string {
		private, public, err := ledger.NewKey("hill-street")
		w.ok(err)
		signed, err := ledger.Checkpoint{Shop: "hill-street", Size: 7, Time: morning}.Sign(private)
		w.ok(err)
		return [2]string{signed, public}
	}, func(w *world, by By, on [2]string) (any, error) {
		return one(w.Witness(w.t.Context(), by, on[0], on[1]))
	}), ""},
	{"Backup", people.Backup, "backup-made", on(func(w *world) string { return filepath.Join(w.t.TempDir(), "backup.wreath") }, func(w *world, by By, to string) (any, error) {
		return one(w.Backup(w.t.Context(), by, to))
	}), ""},
	{"Move", people.MoveStore, "moved", on(func(w *world) *store.Store { return openFile(w.t, filepath.Join(w.t.TempDir(), "moved.wreath")) }, func(w *world, by By, to *store.Store) (any, error) {
		return one(w.Move(w.t.Context(), by, to))
	}), ""},
}

// look is a method that reads.
type looking struct {
	method string
	action people.Action
	do     func(w *world, who *Who) error
}

// stocked is a world with something to look at.
func stocked(t testing.TB) *world {
	t.Helper()
	w := openWorld(t)
	i := must[Item](t)(w.EnterItem(t.Context(), w.boss(), Item{Description: "plain band", Barcode: "T-7"}))
	must[Item](t)(w.AddPhoto(t.Context(), w.boss(), i.ID, picture(t), ""))
	number := w.recorded(w.boss())
	corrected := must[*record.Record](t)(w.Correct(t.Context(), w.boss(), number, ringGiven(t), "wrong item"))
	lot, _, err := w.Lot(t.Context(), w.boss(), Valuing{Records: []string{corrected.Number}, Recipes: value.MixedScrap, Name: "invented lot"})
	w.ok(err)
	w.lot = lot
	w.open = w.sheet()
	w.slipAsked()
	must[Sheet](t)(w.TakeHeard(t.Context(), w.boss(), w.open, record.Reading{Slot: "air_g", Text: "7.4219", Source: record.Received}, Heard{Stream: []byte("7.4219 g\r\n")}))
	return w
}

// further is how many entries an act makes besides its own.
var further = map[string]int64{"ImportItems": 3}

// bars is an invented list of bars.
var bars = ListFile{"bars.csv", []byte("serial,marks,metal,fineness,mass,mass unit,barcode,reference\r\n" +
	"A 1001,INVENTED WORKS,gold,999.9,100.00,g,T-901,lot 7\r\nA 1002,INVENTED WORKS,gold,999.9,1.000,kg,,lot 7\r\nB 7,,silver,999,100,ozt,,\r\n")}

// whole writes a table to nowhere.
func whole(t tables.Table, err error) error {
	if err != nil {
		return err
	}
	return tables.Write(io.Discard, tables.CSV, t)
}

// looks lists every method that reads for somebody.
var looks = []looking{
	{"Sheet", people.SeeRecords, func(w *world, who *Who) error { _, err := w.Sheet(w.t.Context(), who, w.open); return err }},
	{"Sheets", people.SeeRecords, func(w *world, who *Who) error { _, err := w.Sheets(w.t.Context(), who); return err }},
	{"ProofAtHand", people.SeeRecords, func(w *world, who *Who) error { _, err := w.ProofAtHand(w.t.Context(), who, w.open); return err }},
	{"Filled", people.SeeRecords, func(w *world, who *Who) error { _, err := w.Filled(w.t.Context(), who, w.open); return err }},
	{"AtStation", people.SeeStations, func(w *world, who *Who) error {
		_, err := w.AtStation(w.t.Context(), who, "S-1", &determination.Draft{})
		return err
	}},
	{"Evaluate", people.SeeRecords, func(w *world, who *Who) error { _, err := w.Evaluate(w.t.Context(), who, w.open); return err }},
	{"Show", people.SeeRecords, func(w *world, who *Who) error { _, err := w.Show(w.t.Context(), who, "D-000001"); return err }},
	{"History", people.SeeRecords, func(w *world, who *Who) error { _, err := w.History(w.t.Context(), who, "D-000001"); return err }},
	{"History", people.SeeAccessLog, func(w *world, who *Who) error { _, err := w.History(w.t.Context(), who, "measure"); return err }},
	{"Paper", people.PrintSlip, func(w *world, who *Who) error { _, err := w.Paper(w.t.Context(), who, "D-000001"); return err }},
	{"Reports", people.SeeRecords, func(w *world, who *Who) error { _, err := w.Reports(w.t.Context(), who, "D-000001"); return err }},
	{"Logo", people.SeeRecords, func(w *world, who *Who) error { _, err := w.Logo(w.t.Context(), who); return err }},
	{"Again", people.SeeRecords, func(w *world, who *Who) error { _, err := w.Again(w.t.Context(), who, "D-000001"); return err }},
	{"Compare", people.SeeRecords, func(w *world, who *Who) error { _, err := w.Compare(w.t.Context(), who, "D-000002"); return err }},
	{"Find", people.Search, func(w *world, who *Who) error { _, err := w.Find(w.t.Context(), who, store.Query{}); return err }},
	{"ItemBy", people.SeeRecords, func(w *world, who *Who) error { _, err := w.ItemBy(w.t.Context(), who, "T-7"); return err }},
	{"LastCheckpoint", people.SeeRecords, func(w *world, who *Who) error { _, err := w.LastCheckpoint(w.t.Context(), who); return err }},
	{"Checkpoints", people.SeeRecords, func(w *world, who *Who) error { _, err := w.Checkpoints(w.t.Context(), who); return err }},
	{"CoveredBy", people.SeeRecords, func(w *world, who *Who) error { _, err := w.CoveredBy(w.t.Context(), who, 0); return err }},
	{"Witnessed", people.SeeRecords, func(w *world, who *Who) error { _, err := w.Witnessed(w.t.Context(), who, "hill-street"); return err }},
	{"Picture", people.SeeRecords, func(w *world, who *Who) error {
		sheet, err := w.ItemBy(w.t.Context(), w.who["boss"], "T-7")
		w.ok(err)
		_, err = w.Picture(w.t.Context(), who, sheet.Item.Photos[0].Hash)
		return err
	}},
	{"Stream", people.SeeRecords, func(w *world, who *Who) error {
		s := must[Sheet](w.t)(w.Sheet(w.t.Context(), w.who["boss"], w.open))
		_, err := w.Stream(w.t.Context(), who, s.Sheet.Readings[len(s.Sheet.Readings)-1].Evidence)
		return err
	}},
	{"Estimate", people.SeePrices, func(w *world, who *Who) error { _, err := w.Estimate(w.t.Context(), who, w.open); return err }},
	{"AskedOf", people.SeePrices, func(w *world, who *Who) error {
		_, err := w.AskedOf(w.t.Context(), who, Deal{Kind: "buy"})
		return err
	}},
	{"Book", people.SeePrices, func(w *world, who *Who) error { _, _, err := w.Book(w.t.Context(), who); return err }},
	{"Prices", people.SeePrices, func(w *world, who *Who) error { _, err := w.Prices(w.t.Context(), who); return err }},
	{"TermsOf", people.SeePrices, func(w *world, who *Who) error { _, err := w.TermsOf(w.t.Context(), who); return err }},
	{"Lots", people.SeePrices, func(w *world, who *Who) error { _, err := w.Lots(w.t.Context(), who); return err }},
	{"RegisterRules", people.SeeRules, func(w *world, who *Who) error { _, err := w.RegisterRules(w.t.Context(), who); return err }},
	{"FourEyes", people.SeeRules, func(w *world, who *Who) error { _, err := w.FourEyes(w.t.Context(), who); return err }},
	{"Equipment", people.SeeStations, func(w *world, who *Who) error { _, err := w.Equipment(w.t.Context(), who); return err }},
	{"Versions", people.SeeStations, func(w *world, who *Who) error { _, err := w.Versions(w.t.Context(), who, "B-1"); return err }},
	{"Printers", people.SeePrinters, func(w *world, who *Who) error { _, err := w.Printers(w.t.Context(), who); return err }},
	{"PrintQueue", people.SeePrinters, func(w *world, who *Who) error { _, err := w.PrintQueue(w.t.Context(), who); return err }},
	{"PrintJob", people.SeePrinters, func(w *world, who *Who) error { _, err := w.PrintJob(w.t.Context(), who, "P-000001"); return err }},
	{"Prints", people.SeePrinters, func(w *world, who *Who) error {
		_, _, err := w.Prints(w.t.Context(), who, spool.Slip, "D-000001")
		return err
	}},
	{"Staff", people.SeePeople, func(w *world, who *Who) error { _, err := w.Staff(w.t.Context(), who); return err }},
	{"HasPassword", people.OwnCredentials, func(w *world, who *Who) error { _, err := w.HasPassword(w.t.Context(), who); return err }},
	{"Passkeys", people.OwnCredentials, func(w *world, who *Who) error { _, err := w.Passkeys(w.t.Context(), who); return err }},
	{"Sessions", people.OwnCredentials, func(w *world, who *Who) error { _, err := w.Sessions(w.t.Context(), who); return err }},
	{"TryImport", people.RegisterItem, func(w *world, who *Who) error { _, err := w.TryImport(w.t.Context(), who, bars); return err }},
	{"DayBookTable", people.Search, func(w *world, who *Who) error {
		return whole(w.DayBookTable(w.t.Context(), who, store.Query{}))
	}},
	{"LotTable", people.SeePrices, func(w *world, who *Who) error {
		return whole(w.LotTable(w.t.Context(), who, w.lot))
	}},
	{"RegisterTable", people.SeePrices, func(w *world, who *Who) error {
		return whole(w.RegisterTable(w.t.Context(), who, time.Time{}, time.Time{}, ""))
	}},
	{"HistoryTable", people.SeeStations, func(w *world, who *Who) error { return whole(w.HistoryTable(w.t.Context(), who, "B-1")) }},
	{"ItemsTable", people.SeeRecords, func(w *world, who *Who) error { return whole(w.ItemsTable(w.t.Context(), who)) }},
	{"ClaimsTable", people.SeeRecords, func(w *world, who *Who) error { return whole(w.ClaimsTable(w.t.Context(), who)) }},
	{"PrintsTable", people.SeePrinters, func(w *world, who *Who) error { return whole(w.PrintsTable(w.t.Context(), who)) }},
	{"Erasures", people.VerifyLedger, func(w *world, who *Who) error { _, err := w.Erasures(w.t.Context(), who); return err }},
	{"ProveExtends", people.VerifyLedger, func(w *world, who *Who) error { _, err := w.ProveExtends(w.t.Context(), who, 1, 2); return err }},
	{"Export", people.ReadLedger, func(w *world, who *Who) error {
		_, err := w.Export(w.t.Context(), who, new(strings.Builder))
		return err
	}},
}

// replayed is a value as a sender sees it.
func replayed(t testing.TB, v any) string {
	t.Helper()
	data, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}
