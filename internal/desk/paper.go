package desk

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"wreath/internal/determination"
	"wreath/internal/ledger"
	"wreath/internal/paper"
	"wreath/internal/people"
	"wreath/internal/photo"
	"wreath/internal/record"
	"wreath/internal/station"
	"wreath/internal/store"
)

// issued is the body of the entry of a report: the facts without the record, which has its own entry,
// and the hash of the twin.
type issued struct {
	Facts paper.Facts `json:"facts"`
	Twin  string      `json:"twin"` // SHA-256, in hex
}

// reportRow is what the views keep of a report.
type reportRow struct {
	Number       string    `json:"number"`
	Record       string    `json:"record"` // id
	RecordNumber string    `json:"record_number"`
	Seq          int64     `json:"seq"` // its entry
	At           time.Time `json:"at"`
	Twin         string    `json:"twin"`
	SupersededBy string    `json:"superseded_by,omitempty"` // the report that amends it
}

// logo is the picture that stands at the head of the shop's papers.
type logo struct {
	Hash      string `json:"hash"` // of the attachment; "" takes the logo away
	MediaType string `json:"media_type,omitempty"`
	Width     int    `json:"width,omitempty"`
	Height    int    `json:"height,omitempty"`
}

// Paper gathers what the papers of a record can say: by the number of a report as that was issued, by
// the number of a record as it stands now. Prices are in it for who may see them, personal data never;
// see PaperWithCustomer.
func (d *Desk) Paper(ctx context.Context, who *Who, number string) (out *paper.Facts, err error) {
	err = d.look(ctx, who, people.PrintSlip, func(tx *store.Tx) error {
		if out, err = d.paper(tx, number); err != nil {
			return err
		}
		if who.allow(tx, people.SeePrices, d.o.Now()) != nil {
			out.Worth = nil
		}
		return nil
	})
	return out, err
}

// PaperWithCustomer is Paper with the customer by name, where one is kept. That somebody looked, and
// why, stands in the log.
func (d *Desk) PaperWithCustomer(ctx context.Context, by By, number string) (*paper.Facts, error) {
	f, err := d.Paper(ctx, by.Who, number)
	if err != nil || f.Customer.ID == "" {
		return f, err
	}
	p, err := d.SeeCustomer(ctx, by, f.Customer.ID, "printed on paper "+f.Number())
	if err != nil {
		return nil, err
	}
	f.Person = &paper.Person{Name: p.Name, Address: p.Address, Contact: p.Contact}
	return f, nil
}

func (d *Desk) paper(tx *store.Tx, number string) (*paper.Facts, error) {
	var row reportRow
	if _, err := tx.Get("report", number, &row); err == nil {
		return d.issuedPaper(tx, row)
	} else if ignoreMissing(err) != nil {
		return nil, err
	}
	s, _, err := d.standing(tx, number)
	if err != nil {
		return nil, err
	}
	f, err := d.gather(tx, s)
	if err != nil {
		return nil, err
	}
	f.SupersededBy, f.Worth = s.SupersededBy, s.Worth
	return f, d.pictures(tx, f)
}

// issuedPaper are the facts of a report as it was issued.
func (d *Desk) issuedPaper(tx *store.Tx, row reportRow) (*paper.Facts, error) {
	e, err := tx.Entry(row.Seq)
	if err != nil {
		return nil, err
	}
	body, err := read[issued](e.Body)
	if err != nil {
		return nil, err
	}
	s, _, err := d.standing(tx, row.Record)
	if err != nil {
		return nil, err
	}
	of, err := tx.Entry(s.Seq)
	if err != nil {
		return nil, err
	}
	f := body.Facts
	if f.Record, err = decodeRecord(of); err != nil {
		return nil, err
	}
	hash, err := f.TwinHash()
	if err != nil {
		return nil, err
	}
	if hash != body.Twin {
		return nil, &ledger.Broken{Seq: row.Seq, Reason: fmt.Sprintf("the facts of report %s are not those that were issued", row.Number)}
	}
	f.SupersededBy, f.Worth = cmp.Or(row.SupersededBy, s.SupersededBy), s.Worth
	return &f, d.pictures(tx, &f)
}

// gather puts together what a paper of a record says now.
func (d *Desk) gather(tx *store.Tx, s standing) (*paper.Facts, error) {
	shown, err := d.recorded(tx, s, 0)
	if err != nil {
		return nil, err
	}
	f := &paper.Facts{
		Format: paper.Format, Entry: shown.Entry, Hash: shown.Hash, Record: shown.Record, State: shown.State.Word, Unsigned: shown.Missing,
	}
	if f.Shop, err = d.shopOnPaper(tx); err != nil {
		return nil, err
	}
	zone, err := f.Zone()
	if err != nil {
		return nil, err
	}
	for _, g := range s.Signatures {
		f.Signatures = append(f.Signatures, paper.Signature{
			Person: g.Person, Name: g.Name, At: g.At.In(zone), Meaning: g.Meaning, Sentence: sentenceOf(g.Meaning), Mark: g.How.Mark(),
		})
	}
	if err := d.itemOnPaper(tx, f, zone); err != nil {
		return nil, err
	}
	if f.Declared, err = declared(f); err != nil {
		return nil, err
	}
	f.Instruments = instrumentsOnPaper(f.Record)
	kept, err := tx.Covering(s.Seq + 1)
	if err != nil {
		return nil, err
	}
	if kept.Size > 0 {
		cp, err := openCheckpoint(tx, kept.Signed)
		if err != nil {
			return nil, &ledger.Broken{Seq: -1, Reason: fmt.Sprintf("the kept checkpoint of %d entries: %v", kept.Size, err)}
		}
		f.Checkpoint = cp.Short().String()
	}
	return f, nil
}

func (d *Desk) shopOnPaper(tx *store.Tx) (paper.Shop, error) {
	shop, _, err := get[Shop](tx, shopKind, shopID)
	if err != nil {
		return paper.Shop{}, err
	}
	var l logo
	if _, err := tx.Get("logo", "logo", &l); ignoreMissing(err) != nil {
		return paper.Shop{}, err
	}
	return paper.Shop{ID: d.o.Shop, Name: shop.Name, Address: shop.Address, TimeZone: shop.TimeZone, Demo: shop.Demo, Logo: l.Hash}, nil
}

// itemOnPaper fills in the item, when it came, and whose it is.
func (d *Desk) itemOnPaper(tx *store.Tx, f *paper.Facts, zone *time.Location) error {
	f.Customer.Why = "no customer is kept with this item"
	if f.Record.Sheet.Item == "" {
		return nil
	}
	i, _, err := get[Item](tx, "item", f.Record.Sheet.Item)
	if err != nil {
		return err
	}
	f.Item = &paper.Item{ID: i.ID, Description: i.Description, Marks: i.Marks, Condition: i.Condition, Barcode: cmp.Or(i.Barcode, f.Record.Sheet.Barcode), Place: i.Place, Deal: i.Deal}
	if n := len(i.Photos); n > 0 {
		f.Item.Photo, f.Item.Caption = i.Photos[n-1].Hash, i.Photos[n-1].Caption
	}
	at := i.Entered.In(zone)
	f.Received = &at
	if i.Claim != "" {
		f.Declared = append(f.Declared, paper.Declared{What: "said of the item", Text: i.Claim, By: cmp.Or(i.ClaimBy, "customer")})
	}
	if i.Deal == "" {
		return nil
	}
	deal, _, err := get[Deal](tx, "deal", i.Deal)
	if err != nil || deal.Customer == "" {
		return err
	}
	c, _, err := get[Customer](tx, "customer", deal.Customer)
	if err != nil {
		return err
	}
	if c.Erased != nil {
		f.Customer.Why = "the customer's data were erased"
		return nil
	}
	f.Customer = paper.Party{ID: c.ID}
	return nil
}

// declared lists what the evaluation took from what somebody said.
func declared(f *paper.Facts) ([]paper.Declared, error) {
	draft, err := f.Draft()
	if err != nil {
		return nil, err
	}
	answer, err := f.Answer()
	if err != nil {
		return nil, err
	}
	out := f.Declared
	if c := draft.Claim; c != nil {
		out = append(out, paper.Declared{What: "claim", Text: claimWords(c, answer), By: cmp.Or(c.MadeBy, "customer")})
	}
	if i := draft.Item; i != nil {
		if i.IntakeMassG != nil {
			out = append(out, paper.Declared{What: "mass on intake", Text: fmt.Sprintf("%v g", *i.IntakeMassG), By: "customer"})
		}
		for _, s := range i.StonesSet {
			out = append(out, paper.Declared{What: "stones set", Text: stoneWords(s), By: "customer"})
		}
	}
	return out, nil
}

func claimWords(c *determination.Claim, a *determination.Answer) string {
	if a.Finding != nil && a.Finding.Claim != "" {
		return a.Finding.Claim
	}
	words := []string{cmp.Or(c.Metal, c.Stone)}
	if c.Fineness != nil {
		words = append(words, fmt.Sprint(*c.Fineness))
	}
	if c.Carat != nil {
		words = append(words, fmt.Sprintf("%v ct", *c.Carat))
	}
	return strings.TrimSpace(strings.Join(append(words, c.Family), " "))
}

func stoneWords(s determination.StonesSet) string {
	n := 1
	if s.Number != nil {
		n = *s.Number
	}
	text := fmt.Sprintf("%d × %s", n, s.Species)
	if s.CaratEach != nil {
		text += fmt.Sprintf(", %v ct each", *s.CaratEach)
	}
	if s.DiameterMM != nil {
		text += fmt.Sprintf(", %v mm", *s.DiameterMM)
	}
	return text
}

// instrumentsOnPaper lists what took part, with the certificates that counted on the day of the readings.
func instrumentsOnPaper(r *record.Record) (out []paper.Instrument) {
	day := station.Day(r.Made.Time)
	for _, reading := range r.Sheet.Readings {
		if r.Sheet.Counts(reading) {
			day = station.Day(reading.Time)
			break
		}
	}
	for i := range r.Instruments {
		in := &r.Instruments[i]
		if !slices.Contains(r.Used, in.Ref()) {
			continue
		}
		one := paper.Instrument{ID: in.ID, Version: in.Version, Kind: in.Kind, Title: strings.Join(strings.Fields(in.Maker+" "+in.Type+" "+in.Serial), " ")}
		if c := in.CertificateOn(day); c != nil {
			one.Certificate, one.Issuer, one.Calibrated, one.Due = c.Number, c.Issuer, string(c.Date), string(c.NextDue)
		}
		out = append(out, one)
	}
	return out
}

// pictures reads logo and photo.
func (d *Desk) pictures(tx *store.Tx, f *paper.Facts) error {
	var err error
	if f.Shop.Logo != "" {
		if f.Logo, err = pictureAt(tx, f.Shop.Logo); err != nil {
			return fmt.Errorf("the logo: %w", err)
		}
	}
	if f.Item != nil && f.Item.Photo != "" {
		if f.Photo, err = pictureAt(tx, f.Item.Photo); err != nil {
			return fmt.Errorf("the photo of item %s: %w", f.Item.ID, err)
		}
	}
	return nil
}

// pictureAt reads a kept picture by its hash.
func pictureAt(tx *store.Tx, hash string) (*paper.Picture, error) {
	data, err := tx.Attachment(hash)
	if err != nil {
		return nil, err
	}
	return paper.PictureOf(data)
}

// Issue is a report to be issued.
type Issue struct {
	Record      string     `json:"record"` // id or number
	Description string     `json:"description,omitempty" doc:"of an item that was not entered, where the record does not say it"`
	Condition   string     `json:"condition,omitempty" doc:"of an item whose condition nobody wrote down when it came"`
	Received    *time.Time `json:"received,omitempty" doc:"when an item came that was not entered"`
	NoCustomer  string     `json:"no_customer,omitempty" doc:"why the report names no customer, although one is kept"`
	Deviations  string     `json:"deviations,omitempty" doc:"what was added to the method, left out or done otherwise"`
	Opinion     string     `json:"opinion,omitempty" doc:"opinion of who issues, marked as such on paper"`
	Reason      string     `json:"reason,omitempty" doc:"why an earlier report is amended; that of the correction unless said"`
}

func (i Issue) check() error {
	return checkTexts(i.Record, i.Description, i.Condition, i.NoCustomer, i.Deviations, i.Opinion, i.Reason)
}

// IssueReport issues the report of a record under a number of its own; who issues it authorises it.
// Where a report of this record, or of one that it corrects, was issued before, the new one amends
// it: it names the old one and lists what changed and why. A *paper.MissingError names what ISO/IEC
// 17025 asks of a report and nobody filled in.
func (d *Desk) IssueReport(ctx context.Context, by By, i Issue) (*paper.Facts, error) {
	if err := i.check(); err != nil {
		return nil, err
	}
	if err := d.sealable(); err != nil {
		return nil, err
	}
	e, err := d.act(ctx, by, people.IssueReport, i, func(tx *store.Tx, at time.Time) (draft, error) {
		s, seq, err := d.standing(tx, i.Record)
		if err == nil {
			err = current("the record", by.Seen, seq)
		}
		if err != nil {
			return draft{}, err
		}
		if s.SupersededBy != "" {
			return draft{}, bad("Issue the report of that one.", "record %s was superseded by %s", s.Number, s.SupersededBy)
		}
		f, err := d.gather(tx, s)
		if err != nil {
			return draft{}, err
		}
		if err := d.issue(tx, by, f, i, at); err != nil {
			return draft{}, err
		}
		if missing := f.Check(); len(missing) > 0 {
			return draft{}, &paper.MissingError{Missing: missing}
		}
		twin, err := f.TwinHash()
		if err != nil {
			return draft{}, err
		}
		bare := *f
		bare.Record = nil
		return draft{kind: "report-issued", subject: s.ID, body: issued{bare, twin}}, nil
	})
	if err != nil {
		return nil, err
	}
	body, err := read[issued](e.Body)
	if err != nil {
		return nil, err
	}
	if _, err := d.seal(ctx, "issued "+body.Facts.Report.Number); err != nil {
		return nil, err
	}
	return d.Paper(ctx, by.Who, body.Facts.Report.Number)
}

// issue makes a report of facts that were gathered.
func (d *Desk) issue(tx *store.Tx, by By, f *paper.Facts, i Issue, at time.Time) error {
	zone, err := f.Zone()
	if err != nil {
		return err
	}
	var last int64
	if _, err := tx.Get("counter", "report", &last); ignoreMissing(err) != nil {
		return err
	}
	p, _, err := get[people.Person](tx, "person", by.Who.person.ID)
	if err != nil {
		return err
	}
	f.Report = &paper.Report{
		Number: fmt.Sprintf("R-%06d", last+1), Issued: at.In(zone).Round(0), Person: p.ID, Name: p.Name, Mark: by.Who.Mark(),
		Deviations: i.Deviations, Opinion: i.Opinion,
	}
	for _, r := range p.Roles {
		f.Report.Function = append(f.Report.Function, string(r))
	}
	if i.Received != nil && f.Received == nil {
		received := i.Received.In(zone)
		if first, _ := f.Performed(); received.After(at) || !first.IsZero() && received.After(first) {
			return bad("Give the day on which the item came.", "the item can't have come at %s, after its first reading", received.Format(time.RFC3339))
		}
		f.Received = &received
	}
	if f.Item == nil && (i.Description != "" || i.Condition != "") {
		f.Item = &paper.Item{Description: cmp.Or(i.Description, f.Description()), Barcode: f.Record.Sheet.Barcode}
	}
	if f.Item != nil {
		f.Item.Condition = cmp.Or(f.Item.Condition, i.Condition)
	}
	if i.NoCustomer != "" {
		f.Customer = paper.Party{Why: i.NoCustomer}
	}
	return d.amends(tx, f, i.Reason)
}

// amends finds the report that a new one takes the place of, and lists what differs.
func (d *Desk) amends(tx *store.Tx, f *paper.Facts, reason string) error {
	before, err := d.standingReport(tx, f.Record)
	if err != nil {
		return err
	}
	if before == nil {
		if reason != "" {
			return bad("Leave out the reason.", "no report of record %s was issued before, so none is amended", f.Record.Number)
		}
		return nil
	}
	if reason == "" && f.Record.Supersedes != nil && before.Record != f.Record.ID {
		reason = f.Record.Supersedes.Reason
	}
	if reason == "" {
		return bad("Say what was wrong with it, in a few words.", "report %s stands already; one that amends it needs a reason", before.Number)
	}
	old, err := d.issuedPaper(tx, *before)
	if err != nil {
		return err
	}
	changes, err := paper.Changes(old, f)
	if err != nil {
		return err
	}
	f.Report.Amends = &paper.Amends{Number: old.Report.Number, Issued: old.Report.Issued, Record: old.Record.Number, Reason: reason, Changes: changes}
	return nil
}

// standingReport is the newest report of a record, or of the records that it corrects; nil without one.
func (d *Desk) standingReport(tx *store.Tx, r *record.Record) (*reportRow, error) {
	for {
		var numbers []string
		if _, err := tx.Get("reports", r.ID, &numbers); ignoreMissing(err) != nil {
			return nil, err
		}
		if n := len(numbers); n > 0 {
			row, _, err := get[reportRow](tx, "report", numbers[n-1])
			return &row, err
		}
		if r.Supersedes == nil {
			return nil, nil
		}
		s, _, err := d.standing(tx, r.Supersedes.ID)
		if err != nil {
			return nil, err
		}
		e, err := tx.Entry(s.Seq)
		if err != nil {
			return nil, err
		}
		if r, err = decodeRecord(e); err != nil {
			return nil, err
		}
	}
}

// Report is a report in a list.
type Report struct {
	Number       string    `json:"number"`
	Record       string    `json:"record" doc:"number of the record"`
	Issued       time.Time `json:"issued"`
	Twin         string    `json:"twin" doc:"SHA-256 of the facts that go along in it"`
	SupersededBy string    `json:"superseded_by,omitempty" doc:"report that amends it"`
}

// Reports lists the reports of a record, oldest first; of all records where none is named.
func (d *Desk) Reports(ctx context.Context, who *Who, name string) (out []Report, err error) {
	err = d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		out = nil
		id := ""
		if name != "" {
			s, _, err := d.standing(tx, name)
			if err != nil {
				return err
			}
			id = s.ID
		}
		rows, err := list[reportRow](tx, "report")
		if err != nil {
			return err
		}
		for _, r := range rows {
			if id == "" || r.Record == id {
				out = append(out, Report{r.Number, r.RecordNumber, r.At, r.Twin, r.SupersededBy})
			}
		}
		return nil
	})
	return out, err
}

// checkReports looks whether every report that was issued can be printed again as it was issued, with its
// logo and its photo.
func (d *Desk) checkReports(ctx context.Context) error {
	return d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		rows, err := list[reportRow](tx, "report")
		if err != nil {
			return err
		}
		for _, row := range rows {
			_, err := d.issuedPaper(tx, row)
			if errors.Is(err, store.ErrNotFound) {
				err = &ledger.Broken{Seq: row.Seq, Reason: fmt.Sprintf("report %s can't be printed as it was issued: %v", row.Number, err)}
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
}

func showReport(tx *store.Tx, e ledger.Entry) error {
	body, err := read[issued](e.Body)
	if err != nil {
		return err
	}
	f := body.Facts
	var s standing
	if _, err := tx.Get("record", e.Subject, &s); err != nil {
		return err
	}
	row := reportRow{Number: f.Report.Number, Record: e.Subject, RecordNumber: s.Number, Seq: e.Seq, At: f.Report.Issued, Twin: body.Twin}
	if err := tx.Put("report", row.Number, e.Seq, row); err != nil {
		return err
	}
	var numbers []string
	if _, err := tx.Get("reports", e.Subject, &numbers); ignoreMissing(err) != nil {
		return err
	}
	if err := tx.Put("reports", e.Subject, e.Seq, append(numbers, row.Number)); err != nil {
		return err
	}
	count := int64(0)
	if _, err := fmt.Sscanf(row.Number, "R-%d", &count); err != nil {
		return fmt.Errorf("the number %q of a report can't be read", row.Number)
	}
	if err := tx.Put("counter", "report", e.Seq, count); err != nil {
		return err
	}
	if f.Report.Amends == nil {
		return nil
	}
	old, _, err := get[reportRow](tx, "report", f.Report.Amends.Number)
	if err != nil {
		return err
	}
	old.SupersededBy = row.Number
	return tx.Put("report", old.Number, e.Seq, old)
}

// SetShop changes what papers say of the shop: its name and its address.
func (d *Desk) SetShop(ctx context.Context, by By, name, address, reason string) error {
	_, err := d.act(ctx, by, people.SetShop, []any{name, address, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		shop, seq, err := get[Shop](tx, shopKind, shopID)
		if err == nil {
			err = current("the shop", by.Seen, seq)
		}
		if err != nil {
			return draft{}, err
		}
		shop.Name, shop.Address = cmp.Or(name, shop.Name), cmp.Or(address, shop.Address)
		return draft{kind: "shop-changed", subject: shopID, body: reasoned[Shop]{shop, reason}}, errors.Join(shop.Check(), checkTexts(address, reason))
	})
	return err
}

// SetLogo puts a picture at the head of the shop's papers, decoded and written anew without what
// programs add. An empty upload takes the logo away. Reports that were issued keep theirs.
func (d *Desk) SetLogo(ctx context.Context, by By, upload []byte) error {
	err := d.look(ctx, by.Who, people.SetShop, func(*store.Tx) error { return nil })
	if err != nil {
		return err
	}
	var l logo
	var clean photo.Photo
	if len(upload) > 0 {
		if clean, err = photo.Clean(upload); err != nil {
			return err
		}
		l = logo{clean.SHA256, clean.MediaType, clean.Width, clean.Height}
	}
	_, err = d.act(ctx, by, people.SetShop, l, func(tx *store.Tx, at time.Time) (draft, error) {
		if l.Hash != "" {
			if _, err := tx.Attach(clean.Bytes); err != nil {
				return draft{}, err
			}
		}
		return draft{kind: "logo-set", subject: shopID, body: l}, nil
	})
	return err
}

// Logo is the shop's logo; nil without one.
func (d *Desk) Logo(ctx context.Context, who *Who) (p *paper.Picture, err error) {
	err = d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		p = nil
		var l logo
		if _, err := tx.Get("logo", "logo", &l); ignoreMissing(err) != nil || l.Hash == "" {
			return ignoreMissing(err)
		}
		p, err = pictureAt(tx, l.Hash)
		return err
	})
	return p, err
}

func showLogo(tx *store.Tx, e ledger.Entry) error {
	l, err := read[logo](e.Body)
	if err != nil {
		return err
	}
	return tx.Put("logo", "logo", e.Seq, l)
}
