package desk

import (
	"cmp"
	"context"
	"iter"
	"slices"
	"strconv"
	"strings"
	"time"

	"wreath/internal/people"
	"wreath/internal/spool"
	"wreath/internal/store"
	"wreath/internal/tables"
	"wreath/internal/value"
	"wreath/internal/vault"
)

// column is a column of a table with what stands in it.
type column[T any] struct {
	key, name, unit string
	kind            tables.Kind
	of              func(*T) string
}

// tableOf puts columns and rows together.
func tableOf[T any](name string, columns []column[T], rows iter.Seq2[T, error]) tables.Table {
	t := tables.Table{Name: name}
	for _, c := range columns {
		t.Columns = append(t.Columns, tables.Column{Key: c.key, Name: c.name, Unit: c.unit, Kind: c.kind})
	}
	t.Rows = func(yield func([]string, error) bool) {
		cells := make([]string, len(columns))
		for row, err := range rows {
			if err != nil {
				yield(nil, err)
				return
			}
			for i, c := range columns {
				cells[i] = c.of(&row)
			}
			if !yield(cells, nil) {
				return
			}
		}
	}
	return t
}

// inHand are rows that were read.
func inHand[T any](rows []T) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		for _, row := range rows {
			if !yield(row, nil) {
				return
			}
		}
	}
}

// figure is a computed number with at most 15 digits, so that a spreadsheet holds all of them; what is behind
// them was never measured. 0 stands for none.
func figure(x float64) string {
	if x == 0 {
		return ""
	}
	return exactly(x)
}

// exactly is a number with at most 15 digits, 0 too.
func exactly(x float64) string {
	short, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 15, 64), 64)
	if err != nil { // it was a number before
		short = x
	}
	return strconv.FormatFloat(short, 'f', -1, 64)
}

func count(n int64) string { return strconv.FormatInt(n, 10) }

const perThousand = "parts per thousand"

// bookColumns are the columns of the day book.
var bookColumns = []column[store.Determination]{
	{"number", "number", "", tables.Text, func(d *store.Determination) string { return d.Number }},
	{"at", "recorded at", "", tables.Time, func(d *store.Determination) string { return tables.Moment(d.At) }},
	{"description", "item", "", tables.Text, func(d *store.Determination) string { return d.Description }},
	{"claim", "claim", "", tables.Text, func(d *store.Determination) string { return d.Claim }},
	{"metal", "metal", "", tables.Text, func(d *store.Determination) string { return d.Metal }},
	{"fineness_ppt", "claimed fineness", perThousand, tables.Number, func(d *store.Determination) string { return figure(d.Fineness) }},
	{"finding", "finding, by the rule that its record names", "", tables.Text, func(d *store.Determination) string { return d.Finding }},
	{"true_mass_g", "mass", "g", tables.Number, func(d *store.Determination) string { return figure(d.MassG) }},
	{"density_kg_m3", "density at 20 degC", "kg/m3", tables.Number, func(d *store.Determination) string { return figure(d.DensityKgM3) }},
	{"U_kg_m3", "expanded uncertainty of the density", "kg/m3", tables.Number, func(d *store.Determination) string { return figure(d.DensityU) }},
	{"safe_ppt", "safe figure", perThousand, tables.Number, func(d *store.Determination) string { return figure(d.SafePpt) }},
	{"doubts", "doubts", "", tables.Number, func(d *store.Determination) string { return count(d.Doubts) }},
	{"state", "state", "", tables.Text, func(d *store.Determination) string { return d.State }},
	{"person", "person", "", tables.Text, func(d *store.Determination) string { return d.Person }},
	{"station", "station", "", tables.Text, func(d *store.Determination) string { return d.Station }},
	{"superseded_by", "superseded by", "", tables.Text, func(d *store.Determination) string { return d.SupersededBy }},
	{"item", "name of the item", "", tables.Text, func(d *store.Determination) string { return d.Item }},
	{"barcode", "barcode", "", tables.Text, func(d *store.Determination) string { return d.Barcode }},
	{"id", "name of the record", "", tables.Text, func(d *store.Determination) string { return d.ID }},
	{"entry", "entry", "", tables.Number, func(d *store.Determination) string { return count(d.Seq) }},
}

// DayBookTable is what a search of the records finds, newest first, all pages of it.
func (d *Desk) DayBookTable(ctx context.Context, who *Who, q store.Query) (tables.Table, error) {
	q.Limit = 1000
	first, err := d.Find(ctx, who, q)
	if err != nil {
		return tables.Table{}, err
	}
	return tableOf("day-book", bookColumns, pages(first, q, func(q store.Query) ([]store.Determination, error) { return d.Find(ctx, who, q) })), nil
}

// lotRow is one line of a lot: an item, the sum of a metal, a step of the money, or the payout.
type lotRow struct {
	line, what, metal, state, working, unit string

	items                          int
	metalG, fineness, safeG, money string
	fineG, fineU                   float64
}

var lotColumns = []column[lotRow]{
	{"line", "line", "", tables.Text, func(r *lotRow) string { return r.line }},
	{"what", "what", "", tables.Text, func(r *lotRow) string { return r.what }},
	{"metal", "metal", "", tables.Text, func(r *lotRow) string { return r.metal }},
	{"finding", "finding", "", tables.Text, func(r *lotRow) string { return r.state }},
	{"items", "items", "", tables.Number, func(r *lotRow) string {
		if r.items == 0 {
			return ""
		}
		return strconv.Itoa(r.items)
	}},
	{"metal_g", "weight of the metal in air", "g", tables.Number, func(r *lotRow) string { return r.metalG }},
	{"safe_ppt", "safe figure", perThousand, tables.Number, func(r *lotRow) string { return r.fineness }},
	{"safe_fine_g", "fine mass by the safe figure", "g", tables.Number, func(r *lotRow) string { return r.safeG }},
	{"fine_g", "likeliest fine mass", "g", tables.Number, func(r *lotRow) string { return figure(r.fineG) }},
	{"U_fine_g", "expanded uncertainty of the likeliest fine mass", "g", tables.Number, func(r *lotRow) string { return figure(r.fineU) }},
	{"result", "result", "", tables.Number, func(r *lotRow) string { return r.money }},
	{"unit", "unit of the result", "", tables.Text, func(r *lotRow) string { return r.unit }},
	{"working", "working", "", tables.Text, func(r *lotRow) string { return r.working }},
}

// LotTable is one lot as it was valued: its items, a sum for each metal, and the money, step by step.
func (d *Desk) LotTable(ctx context.Context, who *Who, id string) (tables.Table, error) {
	var lot LotRow
	err := d.look(ctx, who, people.SeePrices, func(tx *store.Tx) (err error) {
		lot, _, err = get[LotRow](tx, "lot", id)
		return err
	})
	if err != nil {
		return tables.Table{}, err
	}
	return tableOf("lot "+lot.ID, lotColumns, inHand(lotRows(lot.Lot))), nil
}

func lotRows(w *value.LotWorth) (rows []lotRow) {
	step := func(line, metal string, l value.Line) lotRow {
		return lotRow{line: line, what: l.What, metal: metal, working: l.Working, money: l.Result.String(), unit: l.Unit}
	}
	for _, i := range w.Items {
		what := strings.TrimSpace(i.ID + " " + i.Item)
		rows = append(rows, lotRow{line: "item", what: what, metal: i.Metal, state: i.State, metalG: i.MetalG.String(), fineness: i.Fineness.String(), safeG: i.FineG.String()})
		for _, l := range i.Grams {
			rows = append(rows, step("step", i.Metal, l))
		}
	}
	for _, m := range w.Metals {
		row := lotRow{line: "metal", what: "sum of " + m.Metal, metal: m.Metal, items: m.Items, metalG: m.MetalG.String(), safeG: m.SafeG.String(), fineG: m.FineG, fineU: m.FineUExpanded}
		if m.Gross != nil {
			row.money, row.unit = m.Gross.String(), w.Currency
		}
		rows = append(rows, row)
	}
	for _, l := range w.Money {
		rows = append(rows, step("money", "", l))
	}
	total := lotRow{line: "payout", what: "payout", working: w.NoPrice}
	if w.Payout != nil {
		total.money, total.unit = w.Payout.String(), w.Currency
	}
	return append(rows, total)
}

// registerRow is a deal, with the customer's data where they were opened for it.
type registerRow struct {
	Deal
	personal string // opened, or erased and when
	person   vault.Person
}

func (r *registerRow) identity() vault.Identity {
	if r.person.Identity == nil {
		return vault.Identity{}
	}
	return *r.person.Identity
}

func (r *registerRow) state() string {
	switch {
	case r.Void != "":
		return "void"
	case r.Closed != nil:
		return "closed"
	}
	return "open"
}

var registerColumns = []column[registerRow]{
	{"number", "number", "", tables.Text, func(r *registerRow) string { return r.Number }},
	{"at", "registered at", "", tables.Time, func(r *registerRow) string { return tables.Moment(r.At) }},
	{"kind", "kind", "", tables.Text, func(r *registerRow) string { return r.Kind }},
	{"items", "items", "", tables.Text, func(r *registerRow) string { return strings.Join(r.Items, " ") }},
	{"amount", "amount agreed, in the currency beside it", "", tables.Number, func(r *registerRow) string { return r.Amount }},
	{"cash", "part of it in cash", "", tables.Number, func(r *registerRow) string { return r.Cash }},
	{"currency", "currency", "", tables.Text, func(r *registerRow) string { return r.Currency }},
	{"customer", "customer, by the name of the log", "", tables.Text, func(r *registerRow) string { return r.Customer }},
	{"asked", "asked of the customer", "", tables.Text, func(r *registerRow) string { return strings.Join(r.Asked, ", ") }},
	{"unclear", "left to decide", "", tables.Text, func(r *registerRow) string { return strings.Join(r.Unclear, "; ") }},
	{"note", "note", "", tables.Text, func(r *registerRow) string { return r.Note }},
	{"sell_from", "may be sold from", "", tables.Time, func(r *registerRow) string { return tables.Moment(r.Holds["sell"].At) }},
	{"melt_from", "may be melted from", "", tables.Time, func(r *registerRow) string { return tables.Moment(r.Holds["melt"].At) }},
	{"state", "state", "", tables.Text, func(r *registerRow) string { return r.state() }},
	{"void", "void because", "", tables.Text, func(r *registerRow) string { return r.Void }},
	{"closed", "closed at", "", tables.Time, func(r *registerRow) string {
		if r.Closed == nil {
			return ""
		}
		return tables.Moment(*r.Closed)
	}},
	{"place", "place in the register", "", tables.Number, func(r *registerRow) string { return count(r.Place) }},
}

// personColumns stand behind those of the register where personal data were opened for it.
var personColumns = []column[registerRow]{
	{"personal_data", "personal data", "", tables.Text, func(r *registerRow) string { return r.personal }},
	{"name", "customer's name", "", tables.Text, func(r *registerRow) string { return r.person.Name }},
	{"address", "customer's address", "", tables.Text, func(r *registerRow) string { return r.person.Address }},
	{"born_on", "customer's date of birth", "", tables.Text, func(r *registerRow) string { return r.person.BornOn }},
	{"document", "identity document", "", tables.Text, func(r *registerRow) string { return r.identity().Kind }},
	{"document_number", "its number", "", tables.Text, func(r *registerRow) string { return r.identity().Number }},
	{"document_issuer", "issued by", "", tables.Text, func(r *registerRow) string { return r.identity().Issuer }},
	{"document_until", "valid until", "", tables.Text, func(r *registerRow) string { return r.identity().ValidUntil }},
	{"contact", "contact", "", tables.Text, func(r *registerRow) string { return r.person.Contact }},
	{"customer_note", "note on the customer", "", tables.Text, func(r *registerRow) string { return r.person.Note }},
}

// RegisterTable is the register of deals from one moment until before another; zero times leave it open.
// With a reason, the data of each customer in it are opened: that needs the right to see them, and every
// look stands in the log with the reason.
func (d *Desk) RegisterTable(ctx context.Context, who *Who, from, until time.Time, reason string) (tables.Table, error) {
	deals, _, err := d.Book(ctx, who)
	if err != nil {
		return tables.Table{}, err
	}
	var rows []registerRow
	for _, deal := range deals {
		if !deal.At.Before(from) && (until.IsZero() || deal.At.Before(until)) {
			rows = append(rows, registerRow{Deal: deal})
		}
	}
	columns := registerColumns
	if reason != "" {
		columns = slices.Concat(registerColumns, personColumns)
		if err := d.openPersons(ctx, who, rows, reason); err != nil {
			return tables.Table{}, err
		}
	}
	return tableOf("register", columns, inHand(rows)), nil
}

// openPersons opens the data of the customers of some deals, each customer once.
func (d *Desk) openPersons(ctx context.Context, who *Who, rows []registerRow, reason string) error {
	// Who may not see any is told before the first look.
	err := d.look(ctx, who, people.SeePersonalData, func(*store.Tx) error { return nil })
	if err != nil {
		return err
	}
	type seen struct {
		personal string
		person   vault.Person
	}
	opened := map[string]seen{}
	for i := range rows {
		id := rows[i].Customer
		if id == "" {
			continue
		}
		one, before := opened[id]
		if !before {
			var c Customer
			err := d.look(ctx, who, people.SeePersonalData, func(tx *store.Tx) (err error) {
				c, _, err = get[Customer](tx, "customer", id)
				return err
			})
			if err != nil {
				return err
			}
			if c.Erased != nil {
				one = seen{personal: "erased on " + c.Erased.At.UTC().Format(time.DateOnly)}
			} else {
				p, err := d.SeeCustomer(ctx, By{Who: who}, id, reason)
				if err != nil {
					return err
				}
				one = seen{"opened", p}
			}
			opened[id] = one
		}
		rows[i].personal, rows[i].person = one.personal, one.person
	}
	return nil
}

// itemRow is an item with the newest determination of it that stands.
type itemRow struct {
	Item
	Newest store.Determination
}

func (r *itemRow) declared() *Declared {
	if r.Declared == nil {
		return &Declared{}
	}
	return r.Declared
}

var itemColumns = []column[itemRow]{
	{"id", "item", "", tables.Text, func(r *itemRow) string { return r.ID }},
	{"entered", "entered at", "", tables.Time, func(r *itemRow) string { return tables.Moment(r.Entered) }},
	{"description", "description", "", tables.Text, func(r *itemRow) string { return r.Description }},
	{"marks", "marks", "", tables.Text, func(r *itemRow) string { return r.Marks }},
	{"condition", "condition", "", tables.Text, func(r *itemRow) string { return r.Condition }},
	{"claim", "claim", "", tables.Text, func(r *itemRow) string { return r.Claim }},
	{"claim_by", "claimed by", "", tables.Text, func(r *itemRow) string { return r.ClaimBy }},
	{"barcode", "barcode", "", tables.Text, func(r *itemRow) string { return r.Barcode }},
	{"part_of", "part of", "", tables.Text, func(r *itemRow) string { return r.PartOf }},
	{"place", "place", "", tables.Text, func(r *itemRow) string { return r.Place }},
	{"gone", "gone", "", tables.Text, func(r *itemRow) string { return r.Gone }},
	{"deal", "came by deal", "", tables.Text, func(r *itemRow) string { return r.Deal }},
	{"earlier_deals", "came before by", "", tables.Text, func(r *itemRow) string { return strings.Join(r.Earlier, " ") }},
	{"sale", "sold by deal", "", tables.Text, func(r *itemRow) string { return r.Sale }},
	{"orders", "kept on orders", "", tables.Text, func(r *itemRow) string {
		var out []string
		for _, o := range r.Orders {
			if o.Lifted == nil {
				out = append(out, o.Authority+", "+o.Reference)
			}
		}
		return strings.Join(out, "; ")
	}},
	{"photos", "photos", "", tables.Number, func(r *itemRow) string { return strconv.Itoa(len(r.Photos)) }},
	{"list", "came with list", "", tables.Text, func(r *itemRow) string { return r.declared().List }},
	{"list_row", "row of the list", "", tables.Number, func(r *itemRow) string {
		if r.Declared == nil {
			return ""
		}
		return strconv.Itoa(r.Declared.Row)
	}},
	{"declared_serial", "serial, declared by list", "", tables.Text, func(r *itemRow) string { return r.declared().Serial }},
	{"declared_metal", "metal, declared by list", "", tables.Text, func(r *itemRow) string { return r.declared().Metal }},
	{"declared_fineness_ppt", "fineness, declared by list", perThousand, tables.Number, func(r *itemRow) string { return r.declared().Fineness }},
	{"declared_mass", "mass, declared by list, in the unit beside it", "", tables.Number, func(r *itemRow) string { return r.declared().Mass }},
	{"declared_mass_unit", "unit of the declared mass", "", tables.Text, func(r *itemRow) string { return r.declared().MassUnit }},
	{"reference", "owner's reference, declared by list", "", tables.Text, func(r *itemRow) string { return r.declared().Reference }},
	{"record", "record", "", tables.Text, func(r *itemRow) string { return r.Newest.Number }},
	{"finding", "finding, by the rule that its record names", "", tables.Text, func(r *itemRow) string { return r.Newest.Finding }},
	{"true_mass_g", "mass", "g", tables.Number, func(r *itemRow) string { return figure(r.Newest.MassG) }},
	{"density_kg_m3", "density at 20 degC", "kg/m3", tables.Number, func(r *itemRow) string { return figure(r.Newest.DensityKgM3) }},
	{"U_kg_m3", "expanded uncertainty of the density", "kg/m3", tables.Number, func(r *itemRow) string { return figure(r.Newest.DensityU) }},
	{"safe_ppt", "safe figure", perThousand, tables.Number, func(r *itemRow) string { return figure(r.Newest.SafePpt) }},
}

// ItemsTable is all items as they stand, those that left too, in the order in which they came.
func (d *Desk) ItemsTable(ctx context.Context, who *Who) (tables.Table, error) {
	var rows []itemRow
	err := d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		rows = nil
		items, err := itemsInOrder(tx)
		if err != nil {
			return err
		}
		newest := map[string]store.Determination{}
		for row, err := range everyRecord(tx, store.Query{}) {
			if err != nil {
				return err
			}
			if _, newer := newest[row.Item]; row.Item != "" && !newer && row.SupersededBy == "" {
				newest[row.Item] = row
			}
		}
		for _, i := range items {
			rows = append(rows, itemRow{i, newest[i.ID]})
		}
		return nil
	})
	return tableOf("items", itemColumns, inHand(rows)), err
}

// itemsInOrder are all items in the order in which they came, those of a list in the order of its rows.
func itemsInOrder(tx *store.Tx) ([]Item, error) {
	items, err := list[Item](tx, "item")
	row := func(i *Item) (string, int) {
		if i.Declared == nil {
			return "", 0
		}
		return i.Declared.List, i.Declared.Row
	}
	slices.SortFunc(items, func(a, b Item) int {
		listA, rowA := row(&a)
		listB, rowB := row(&b)
		return cmp.Or(a.Entered.Compare(b.Entered), cmp.Compare(listA, listB), cmp.Compare(rowA, rowB), cmp.Compare(a.ID, b.ID))
	})
	return items, err
}

// everyRecord goes through all pages of a search, newest first.
func everyRecord(tx *store.Tx, q store.Query) iter.Seq2[store.Determination, error] {
	q.Limit = 1000
	return func(yield func(store.Determination, error) bool) {
		first, err := tx.Find(q)
		if err != nil {
			yield(store.Determination{}, err)
			return
		}
		pages(first, q, tx.Find)(yield)
	}
}

// pages goes on from the first page of a search to its last.
func pages(first []store.Determination, q store.Query, find func(store.Query) ([]store.Determination, error)) iter.Seq2[store.Determination, error] {
	return func(yield func(store.Determination, error) bool) {
		q, rows := q, first
		for {
			for _, row := range rows {
				if !yield(row, nil) {
					return
				}
			}
			if len(rows) < q.Limit {
				return
			}
			q.Before = rows[len(rows)-1].Seq
			var err error
			if rows, err = find(q); err != nil {
				yield(store.Determination{}, err)
				return
			}
		}
	}
}

// ClaimsTable is all items that are here in the columns of a list: what an import reads, and what comes to
// the same items in another shop.
func (d *Desk) ClaimsTable(ctx context.Context, who *Who) (tables.Table, error) {
	var rows []map[tables.Field]string
	err := d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		rows = nil
		items, err := itemsInOrder(tx)
		if err != nil {
			return err
		}
		tray := map[string]string{}
		for _, i := range items {
			tray[i.ID] = i.Barcode
		}
		for _, i := range items {
			if i.Gone == "" {
				rows = append(rows, listed(i, cmp.Or(tray[i.PartOf], i.PartOf)))
			}
		}
		return nil
	})
	var columns []column[map[tables.Field]string]
	for _, c := range tables.ListColumns {
		columns = append(columns, column[map[tables.Field]string]{c.Key, c.Name, c.Unit, c.Kind, func(r *map[tables.Field]string) string { return (*r)[tables.Field(c.Key)] }})
	}
	return tableOf("claims", columns, inHand(rows)), err
}

var printColumns = []column[spool.Job]{
	{"number", "number", "", tables.Text, func(j *spool.Job) string { return j.Number }},
	{"asked", "asked at", "", tables.Time, func(j *spool.Job) string { return tables.Moment(j.Asked) }},
	{"asked_by", "asked by", "", tables.Text, func(j *spool.Job) string { return j.AskedBy }},
	{"document", "document", "", tables.Text, func(j *spool.Job) string { return j.Document }},
	{"subject", "subject", "", tables.Text, func(j *spool.Job) string { return j.Subject }},
	{"copy", "copy", "", tables.Number, func(j *spool.Job) string { return strconv.Itoa(j.Copy) }},
	{"printer", "printer", "", tables.Text, func(j *spool.Job) string { return j.Printer }},
	{"state", "state", "", tables.Text, func(j *spool.Job) string { return string(j.State) }},
	{"ended", "ended at", "", tables.Time, func(j *spool.Job) string { return tables.Moment(j.Ended) }},
	{"bytes", "length", "bytes", tables.Number, func(j *spool.Job) string { return count(j.Bytes) }},
	{"sha256", "SHA-256", "", tables.Text, func(j *spool.Job) string { return j.SHA256 }},
	{"said", "how it went", "", tables.Text, func(j *spool.Job) string { return j.Said }},
	{"of", "prints again", "", tables.Text, func(j *spool.Job) string { return j.Of }},
	{"again", "printed again by", "", tables.Text, func(j *spool.Job) string { return j.Again }},
}

// PrintsTable is everything that was ever to be printed, in the order in which it was asked for.
func (d *Desk) PrintsTable(ctx context.Context, who *Who) (tables.Table, error) {
	var rows []spool.Job
	err := d.look(ctx, who, people.SeePrinters, func(tx *store.Tx) error {
		rows = nil
		jobs, err := list[printJob](tx, "print-job")
		for _, j := range jobs {
			j.State = d.stateOf(tx, j.Job)
			rows = append(rows, j.Job)
		}
		slices.SortStableFunc(rows, func(a, b spool.Job) int { return cmp.Or(a.Asked.Compare(b.Asked), cmp.Compare(a.Number, b.Number)) })
		return err
	})
	return tableOf("prints", printColumns, inHand(rows)), err
}
