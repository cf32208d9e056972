package desk

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/register"
	"wreath/internal/spool"
	"wreath/internal/station"
	"wreath/internal/store"
	"wreath/internal/value"
)

// view brings the views up to date with one entry. It uses nothing but the entry and the views as the
// entries before it left them, so that Rebuild comes to the same.
func view(tx *store.Tx, e ledger.Entry) error {
	show, known := shows[e.Kind]
	if !known {
		return fmt.Errorf("entry %d is of a kind that this program doesn't know, %q: use the newer program", e.Seq, e.Kind)
	}
	if show == nil {
		return nil
	}
	if err := show(tx, e); err != nil {
		return fmt.Errorf("show entry %d, %s: %w", e.Seq, e.Kind, err)
	}
	return nil
}

// shows lists every kind of entry with what it does to the views; nil is nothing.
var shows = map[string]func(*store.Tx, ledger.Entry) error{
	"shop-opened":     showOpening,
	"shop-changed":    showReasoned[Shop](shopKind, func(Shop) string { return shopID }),
	"person-added":    showPersonAdded,
	"person-changed":  showPersonAnew(showReasoned[people.Person]("person", func(p people.Person) string { return p.ID })),
	"person-ended":    showPersonAnew(showReasoned[people.Person]("person", func(p people.Person) string { return p.ID })),
	"password-set":    showPersonAnew(showAs[people.Person]("person")),
	"passkey-added":   showPasskey,
	"passkey-removed": showReasoned[people.Passkey]("passkey", func(k people.Passkey) string { return k.ID }),
	"password-reset":  nil, "recovery-codes-made": nil, "pin-set": nil,
	"signed-in": nil, "signed-out": nil, "sign-in-refused": nil, "clock-set-back": nil,
	"device-enrolled": showAs[people.Device]("device"),
	"device-ended":    showReasoned[people.Device]("device", func(d people.Device) string { return d.ID }),
	"token-issued":    showAs[people.ServiceToken]("token"),
	"token-ended":     showReasoned[people.ServiceToken]("token", func(t people.ServiceToken) string { return t.ID }),
	"four-eyes-set":   showFourEyes,
	ledger.KeyChanged: nil,

	"station-set":    showStation,
	"instrument-set": showInstrument,

	"sheet-opened":      showAs[record.Sheet]("sheet"),
	"reading-taken":     showTaken,
	"reading-withdrawn": onSheet(showWithdrawn),
	"reading-restored":  onSheet(showRestored),
	"sheet-moved": onSheet(func(s *record.Sheet, m record.Move) {
		s.Moves = append(s.Moves, m)
		s.Station = &m.To
	}),
	"proof-carried": onSheet(showCarried),
	"sheet-changed": onSheet(func(s *record.Sheet, r record.Request) { s.Requests = append(s.Requests, r) }),
	"sheet-noted":   onSheet(func(s *record.Sheet, n record.Note) { s.Notes = append(s.Notes, n) }),
	"sheet-dropped": func(tx *store.Tx, e ledger.Entry) error { return tx.Remove("sheet", e.Subject) },

	"determination-recorded": showRecord,
	"determination-signed":   showSignature,
	"report-issued":          showReport,
	"logo-set":               showLogo,
	"item-valued":            showWorth,
	"lot-made":               showLot,
	"prices-set":             showPrices,
	"terms-set":              showReasoned[value.Terms]("terms", func(t value.Terms) string { return t.Key }),

	"item-entered":  showItem,
	"item-changed":  showItemChange,
	"item-moved":    showItemChange,
	"item-held":     showItemChange,
	"item-released": showItemChange,
	"photo-added":   showItemChange,
	"list-imported": showImport,

	"customer-entered":   showAs[Customer]("customer"),
	"customer-corrected": showAs[Customer]("customer"),
	"customer-erased":    showAs[Customer]("customer"),
	"customer-kept":      showReasoned[Customer]("customer", func(c Customer) string { return c.ID }),
	"customer-seen":      nil, "customer-disclosed": nil,

	"register-rules-set": showReasoned[register.Rules]("register-rules", func(register.Rules) string { return "register-rules" }),
	"deal-registered":    showDeal,
	"deal-voided":        showDealEnd,
	"deal-closed":        showReasoned[Deal]("deal", func(d Deal) string { return d.Number }),

	"printer-set":      showReasoned[spool.Printer]("printer", func(p spool.Printer) string { return p.Name }),
	"printer-removed":  showPrinterRemoved,
	"print-asked":      showPrintAsked,
	"print-begun":      showPrintBegun,
	"print-ended":      showPrintEnded,
	"print-failed":     showPrintFailed,
	"print-broken-off": showPrintBrokenOff,
	"print-dropped":    showPrintDropped,
	"printed-here":     showPrintedHere,

	"branch-checkpoint": showBranch,
	"backup-made":       nil, "restored": showQueueRestored, "arrived": nil,
	"moved": func(tx *store.Tx, e ledger.Entry) error {
		return tx.Put("moved", "moved", e.Seq, json.RawMessage(e.Body))
	},
}

// showAs keeps the body as a thing under the entry's subject.
func showAs[T any](kind string) func(*store.Tx, ledger.Entry) error {
	return func(tx *store.Tx, e ledger.Entry) error {
		doc, err := read[T](e.Body)
		if err != nil {
			return err
		}
		return tx.Put(kind, e.Subject, e.Seq, doc)
	}
}

// showReasoned keeps the document of a body that holds a reason as well.
func showReasoned[T any](kind string, id func(T) string) func(*store.Tx, ledger.Entry) error {
	return func(tx *store.Tx, e ledger.Entry) error {
		body, err := read[reasoned[T]](e.Body)
		if err != nil {
			return err
		}
		return tx.Put(kind, id(body.Is), e.Seq, body.Is)
	}
}

func showOpening(tx *store.Tx, e ledger.Entry) error {
	o, err := read[Opening](e.Body)
	if err != nil {
		return err
	}
	if err := tx.Put(shopKind, shopID, e.Seq, o.Shop); err != nil {
		return err
	}
	return tx.Put("person", o.Person.ID, e.Seq, o.Person)
}

func showPersonAdded(tx *store.Tx, e ledger.Entry) error {
	p, err := read[people.Person](e.Body)
	if err != nil {
		return err
	}
	shop, _, err := get[Shop](tx, shopKind, shopID)
	if err != nil {
		return err
	}
	shop.SignIn = true
	if err := tx.Put(shopKind, shopID, e.Seq, shop); err != nil {
		return err
	}
	return tx.Put("person", p.ID, e.Seq, p)
}

// showPersonAnew shows a person whose password or roles changed, or who left. Tokens of the person ended
// with that, and passkeys of who left.
func showPersonAnew(show func(*store.Tx, ledger.Entry) error) func(*store.Tx, ledger.Entry) error {
	return func(tx *store.Tx, e ledger.Entry) error {
		if err := show(tx, e); err != nil {
			return err
		}
		tokens, err := list[people.ServiceToken](tx, "token")
		if err != nil {
			return err
		}
		for _, t := range tokens {
			if t.Owner != e.Subject || t.Ended != nil {
				continue
			}
			t.End(e.Time)
			if err := tx.Put("token", t.ID, e.Seq, t); err != nil {
				return err
			}
		}
		p, _, err := get[people.Person](tx, "person", e.Subject)
		if err != nil || !p.Ended {
			return err
		}
		keys, err := passkeysOf(tx, p.ID)
		if err != nil {
			return err
		}
		for _, k := range keys {
			k.Ended = &e.Time
			if err := tx.Put("passkey", k.ID, e.Seq, k); err != nil {
				return err
			}
		}
		return nil
	}
}

func showPasskey(tx *store.Tx, e ledger.Entry) error {
	k, err := read[people.Passkey](e.Body)
	if err != nil {
		return err
	}
	return tx.Put("passkey", k.ID, e.Seq, k)
}

func showFourEyes(tx *store.Tx, e ledger.Entry) error {
	return tx.Put("four-eyes", fmt.Sprintf("%012d", e.Seq), e.Seq, e.Body)
}

func showStation(tx *store.Tx, e ledger.Entry) error {
	set, err := read[reasoned[station.Station]](e.Body)
	if err != nil {
		return err
	}
	return putStation(tx, e, set.Is)
}

func putStation(tx *store.Tx, e ledger.Entry, s station.Station) error {
	if err := tx.Put("station", s.ID, e.Seq, s); err != nil {
		return err
	}
	if err := tx.Put("station-version", s.Ref().String(), e.Seq, s); err != nil {
		return err
	}
	return addVersion(tx, e, s.ID)
}

func showInstrument(tx *store.Tx, e ledger.Entry) error {
	set, err := read[instrumentSet](e.Body)
	if err != nil {
		return err
	}
	if err := tx.Put("instrument", set.Is.ID, e.Seq, set.Is); err != nil {
		return err
	}
	if err := tx.Put("instrument-version", set.Is.Ref().String(), e.Seq, set.Is); err != nil {
		return err
	}
	if err := addVersion(tx, e, set.Is.ID); err != nil {
		return err
	}
	for _, s := range set.Stations {
		if err := putStation(tx, e, s); err != nil {
			return err
		}
	}
	return nil
}

// addVersion notes which entries hold the versions of a station or an instrument.
func addVersion(tx *store.Tx, e ledger.Entry, id string) error {
	var seqs []int64
	if _, err := tx.Get("versions", id, &seqs); ignoreMissing(err) != nil {
		return err
	}
	return tx.Put("versions", id, e.Seq, append(seqs, e.Seq))
}

// onSheet changes a sheet by the body of an entry.
func onSheet[T any](change func(*record.Sheet, T)) func(*store.Tx, ledger.Entry) error {
	return func(tx *store.Tx, e ledger.Entry) error {
		body, err := read[T](e.Body)
		if err != nil {
			return err
		}
		sheet, _, err := get[record.Sheet](tx, "sheet", e.Subject)
		if err != nil {
			return err
		}
		change(&sheet, body)
		return tx.Put("sheet", e.Subject, e.Seq, sheet)
	}
}

func showWithdrawn(s *record.Sheet, w withdrawn) {
	for i := range s.Readings {
		if s.Readings[i].No == w.No {
			s.Readings[i].Withdrawn = &w.Withdrawal
		}
	}
}

func showRestored(s *record.Sheet, q restored) {
	for i := range s.Readings {
		if r := &s.Readings[i]; r.No == q.No {
			r.Withdrawn, r.Restored = nil, append(r.Restored, q.Restored)
		}
	}
}

func showRecord(tx *store.Tx, e ledger.Entry) error {
	r, err := decodeRecord(e)
	if err != nil {
		return err
	}
	sum, err := r.Summary()
	if err != nil {
		return err
	}
	s := standing{ID: r.ID, Number: r.Number, Seq: e.Seq}
	for _, reading := range r.Sheet.Readings {
		if reading.Withdrawn == nil && !slices.Contains(s.MeasuredBy, reading.Person) {
			s.MeasuredBy = append(s.MeasuredBy, reading.Person)
		}
	}
	if by := r.Made.Person; r.Supersedes != nil && !slices.Contains(s.MeasuredBy, by) {
		s.MeasuredBy = append(s.MeasuredBy, by) // it stands on what they wrote down
	}
	if err := tx.Put("record", r.ID, e.Seq, s); err != nil {
		return err
	}
	number := int64(0)
	if _, err := fmt.Sscanf(r.Number, "D-%d", &number); err != nil {
		return fmt.Errorf("the number %q of a record can't be read", r.Number)
	}
	if err := tx.Put("counter", "determination", e.Seq, number); err != nil {
		return err
	}
	if err := tx.Remove("sheet", r.Sheet.ID); err != nil {
		return err
	}
	row := store.Determination{
		ID: r.ID, Seq: e.Seq, At: e.Time, Number: r.Number, State: record.StateRecorded, Person: e.Person,
		Item: sum.Item, Description: sum.Description, Barcode: sum.Barcode, Claim: sum.Claim, Metal: sum.Metal,
		Fineness: or0(sum.FinenessPpt), MassG: sum.TrueMassG, DensityKgM3: sum.DensityKgM3, DensityU: sum.UKgM3, SafePpt: or0(sum.SafePpt), Doubts: int64(sum.Doubts),
	}
	if r.Station != nil {
		row.Station = r.Station.ID
	}
	if sum.Finding != "none" {
		row.Finding = sum.Finding
	}
	if err := tx.PutDetermination(row, r.Number, sum.Barcode, sum.Description, sum.Claim, sum.Item); err != nil {
		return err
	}
	if r.Supersedes == nil {
		return nil
	}
	old, _, err := get[standing](tx, "record", r.Supersedes.ID)
	if err != nil {
		return err
	}
	old.SupersededBy = r.Number
	if err := tx.Put("record", old.ID, e.Seq, old); err != nil {
		return err
	}
	return mark(tx, old.ID, record.StateSuperseded, r.Number)
}

func or0(x *float64) float64 {
	if x == nil {
		return 0
	}
	return *x
}

// mark changes the state in a record's row.
func mark(tx *store.Tx, id, state, supersededBy string) error {
	row, err := tx.Determination(id)
	if err != nil {
		return err
	}
	row.State, row.SupersededBy = state, supersededBy
	return tx.PutDetermination(row)
}

func showSignature(tx *store.Tx, e ledger.Entry) error {
	body, err := read[signed](e.Body)
	if err != nil {
		return err
	}
	s, _, err := get[standing](tx, "record", body.Record)
	if err != nil {
		return err
	}
	s.Signatures, s.Complete = append(s.Signatures, body.Signature), body.Complete
	if err := tx.Put("record", s.ID, e.Seq, s); err != nil {
		return err
	}
	return mark(tx, s.ID, record.StateSigned, s.SupersededBy)
}

func showWorth(tx *store.Tx, e ledger.Entry) error {
	body, err := read[valued](e.Body)
	if err != nil {
		return err
	}
	s, _, err := get[standing](tx, "record", e.Subject)
	if err != nil {
		return err
	}
	if s.Worth, err = json.Marshal(body.Worth); err != nil {
		return err
	}
	return tx.Put("record", s.ID, e.Seq, s)
}

func showLot(tx *store.Tx, e ledger.Entry) error {
	body, err := read[valued](e.Body)
	if err != nil {
		return err
	}
	return tx.Put("lot", e.Subject, e.Seq, LotRow{ID: e.Subject, Name: body.Name, Records: body.Records, Lot: body.Lot})
}

// showPrices keeps the newest price of each metal and currency; older ones stay in the log.
func showPrices(tx *store.Tx, e ledger.Entry) error {
	set, err := read[pricesSet](e.Body)
	if err != nil {
		return err
	}
	for _, p := range set.Prices {
		id := p.Metal + " " + p.Currency
		var before value.Price
		_, err := tx.Get("price", id, &before)
		if ignoreMissing(err) != nil {
			return err
		}
		if err == nil && before.HeldAt.After(p.HeldAt.Time) {
			continue
		}
		if err := tx.Put("price", id, e.Seq, p); err != nil {
			return err
		}
	}
	return nil
}

func showItem(tx *store.Tx, e ledger.Entry) error {
	i, err := read[Item](e.Body)
	if err != nil {
		return err
	}
	return putItem(tx, e, Item{}, i)
}

func showItemChange(tx *store.Tx, e ledger.Entry) error {
	body, err := read[reasoned[Item]](e.Body)
	if err != nil {
		return err
	}
	before, _, err := get[Item](tx, "item", e.Subject)
	if err != nil {
		return err
	}
	return putItem(tx, e, before, body.Is)
}

// putItem keeps an item, and who is found by its barcode and as a part of what.
func putItem(tx *store.Tx, e ledger.Entry, before, i Item) error {
	if i.Gone != "" {
		i.Barcode = "" // the tray is free again
	}
	if before.Barcode != "" && before.Barcode != i.Barcode {
		if err := tx.Remove("barcode", before.Barcode); err != nil {
			return err
		}
	}
	if i.Barcode != "" {
		if err := tx.Put("barcode", i.Barcode, e.Seq, i.ID); err != nil {
			return err
		}
	}
	if before.PartOf != i.PartOf {
		if err := changeParts(tx, e, before.PartOf, func(ids []string) []string {
			return slices.DeleteFunc(ids, func(id string) bool { return id == i.ID })
		}); err != nil {
			return err
		}
		if err := changeParts(tx, e, i.PartOf, func(ids []string) []string { return append(ids, i.ID) }); err != nil {
			return err
		}
	}
	return tx.Put("item", i.ID, e.Seq, i)
}

func changeParts(tx *store.Tx, e ledger.Entry, whole string, change func([]string) []string) error {
	if whole == "" {
		return nil
	}
	var ids []string
	if _, err := tx.Get("parts", whole, &ids); ignoreMissing(err) != nil {
		return err
	}
	return tx.Put("parts", whole, e.Seq, change(ids))
}

func showDeal(tx *store.Tx, e ledger.Entry) error {
	body, err := read[dealEntry](e.Body)
	if err != nil {
		return err
	}
	deal := body.Deal
	if err := tx.Put("deal", deal.Number, e.Seq, deal); err != nil {
		return err
	}
	if err := tx.Put("counter", "deal", e.Seq, last{deal.Counter, deal.Place}); err != nil {
		return err
	}
	err = changeItems(tx, e, deal.Items, func(i *Item) {
		switch {
		case deal.Kind == "sell":
			i.Sale, i.Gone = deal.Number, "sold"
			return
		case i.Deal != "":
			i.Earlier, i.Deal = append(i.Earlier, i.Deal), deal.Number
		default:
			i.Deal = deal.Number
		}
		if deal.Kind != "measure-only" {
			i.Voided = ""
		}
	})
	if err != nil {
		return err
	}
	if deal.Customer == "" {
		return nil
	}
	c, _, err := get[Customer](tx, "customer", deal.Customer)
	if err != nil {
		return err
	}
	c.Deals = append(c.Deals, deal.Number)
	return tx.Put("customer", c.ID, e.Seq, c)
}

// showDealEnd frees the items of a deal that came to nothing.
func showDealEnd(tx *store.Tx, e ledger.Entry) error {
	body, err := read[reasoned[Deal]](e.Body)
	if err != nil {
		return err
	}
	number := body.Is.Number
	if err := tx.Put("deal", number, e.Seq, body.Is); err != nil {
		return err
	}
	return changeItems(tx, e, body.Is.Items, func(i *Item) {
		if i.Sale == number {
			i.Sale, i.Gone = "", ""
		}
		i.Earlier = slices.DeleteFunc(i.Earlier, func(n string) bool { return n == number })
		if i.Deal != number {
			return
		}
		i.Deal = ""
		if n := len(i.Earlier); n > 0 {
			i.Deal, i.Earlier = i.Earlier[n-1], i.Earlier[:n-1]
		} else if body.Is.Kind != "measure-only" {
			i.Voided = number
		}
	})
}

// changeItems changes what the views say of the items of a deal.
func changeItems(tx *store.Tx, e ledger.Entry, ids []string, change func(*Item)) error {
	for _, id := range ids {
		before, _, err := get[Item](tx, "item", id)
		if err != nil {
			return err
		}
		after := before
		change(&after)
		if err := putItem(tx, e, before, after); err != nil {
			return err
		}
	}
	return nil
}

func showBranch(tx *store.Tx, e ledger.Entry) error {
	b, err := read[branch](e.Body)
	if err != nil {
		return err
	}
	return tx.Put("branch", fmt.Sprintf("%s %012d", b.Shop, b.Size), e.Seq, b)
}

// Rebuild computes the views anew from the log.
func (d *Desk) Rebuild(ctx context.Context) error {
	return d.o.Store.Write(ctx, d.o.Shop, rebuild)
}

// viewsEdition rises when entries are shown otherwise than before. A store whose views are of another
// edition is computed anew when it is opened for work.
const viewsEdition = 2

// Refresh computes the views anew where another version of this program made them, and says whether it
// did.
func (d *Desk) Refresh(ctx context.Context) (done bool, err error) {
	var edition int
	err = d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		if _, err := tx.PublicKey(); err != nil {
			return err
		}
		edition, err = secret[int](tx, secretViews, theOne)
		return ignoreMissing(err)
	})
	if errors.Is(err, store.ErrNotFound) {
		return false, nil
	}
	if err != nil || edition == viewsEdition {
		return false, err
	}
	return true, d.Rebuild(ctx)
}

func rebuild(tx *store.Tx) error {
	if err := tx.Clear(); err != nil {
		return err
	}
	if err := putSecret(tx, secretViews, theOne, viewsEdition); err != nil {
		return err
	}
	for e, err := range tx.Entries(0) {
		if err != nil {
			return err
		}
		if err := view(tx, e); err != nil {
			return err
		}
	}
	return nil
}
