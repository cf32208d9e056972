package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/store"
	"wreath/internal/tables"
)

// Declared is what a list said of an item that came with it. Nobody here had looked at the item then.
type Declared struct {
	List      string `json:"list" doc:"the import that it came with"`
	Row       int    `json:"row" doc:"line of the file, or row of the sheet"`
	Serial    string `json:"serial,omitempty" doc:"number of the bar or coin"`
	Metal     string `json:"metal,omitempty" doc:"gold, silver, platinum or palladium"`
	Fineness  string `json:"fineness_ppt,omitempty" doc:"decimal, parts per thousand"`
	Mass      string `json:"mass,omitempty" doc:"decimal, in the unit of mass_unit"`
	MassUnit  string `json:"mass_unit,omitempty"`
	Claim     string `json:"claim,omitempty" doc:"in the list's own words"`
	Reference string `json:"reference,omitempty" doc:"the owner's own"`
}

// DeclaredByList marks a claim that comes from a list, in Item.ClaimBy.
const DeclaredByList = "declared by list"

// ListFile is a file with a list of items: CSV, a workbook (XLSX) or JSON Lines.
type ListFile struct {
	Name string // of the file, as people know it
	Data []byte
}

// Trial is what an import of a list would come to.
type Trial struct {
	File     string           `json:"file"`
	SHA256   string           `json:"sha256" doc:"of the file"`
	Rows     int              `json:"rows" doc:"rows below the headings"`
	Headings []tables.Heading `json:"headings"`
	Findings []tables.Finding `json:"findings" doc:"what is wrong or strange, row by row"`
	Items    []Item           `json:"items" doc:"what would be entered; their names are given then"`
	Before   *Imported        `json:"before,omitempty" doc:"the same file was imported already"`
}

// Mends counts the findings that must be mended before the list can be imported.
func (t *Trial) Mends() (n int) {
	for _, f := range t.Findings {
		if !f.Warning {
			n++
		}
	}
	return n
}

// Imported is a list that was imported.
type Imported struct {
	Format int       `json:"format"`
	ID     string    `json:"id"`
	File   string    `json:"file"`
	SHA256 string    `json:"sha256" doc:"of the file"`
	Rows   int       `json:"rows"`
	Items  []string  `json:"items" doc:"names of the items, in the order of the rows"`
	At     time.Time `json:"at"`
	Person string    `json:"person"`
	Again  bool      `json:"again,omitempty" doc:"the same file was imported before; nothing was entered now"`
}

// ListError refuses a list that can't be imported as it is. Nothing of it was entered.
type ListError struct{ Trial *Trial }

func (e *ListError) Error() string {
	return "the list can't be imported as it is; nothing of it was entered"
}

// MaxListBytes and MaxListItems bound a list; chosen here.
const (
	MaxListBytes = 8 << 20
	MaxListItems = 10_000
)

// listLimits bound how a list is read.
var listLimits = tables.Limits{Bytes: MaxListBytes, Unpacked: 16 * MaxListBytes, Rows: MaxListItems, Columns: 100, Cell: 8000}

// TryImport says what an import of a list would come to, row by row. Nothing is entered. A file that can't
// be read at all is a *tables.ReadError.
func (d *Desk) TryImport(ctx context.Context, who *Who, f ListFile) (*Trial, error) {
	l, err := d.readList(ctx, who, f)
	if err != nil {
		return nil, err
	}
	var t *Trial
	err = d.look(ctx, who, people.RegisterItem, func(tx *store.Tx) error {
		t, _, err = plan(tx, f, l)
		return err
	})
	return t, err
}

// ImportItems enters all items of a list, or none: where a row can't be entered it gives a *ListError.
// A file that was imported before is not entered again; the earlier import comes back.
func (d *Desk) ImportItems(ctx context.Context, by By, f ListFile) (*Imported, error) {
	l, err := d.readList(ctx, by.Who, f)
	if err != nil {
		return nil, err
	}
	id := d.draw("f-")
	ids := make([]string, len(l.Items))
	for i := range ids {
		ids[i] = d.draw("i-")
	}
	var before *Imported
	e, err := d.act(ctx, by, people.RegisterItem, []any{f.Name, f.hash()}, func(tx *store.Tx, at time.Time) (draft, error) {
		before = nil
		t, planned, err := plan(tx, f, l)
		if err != nil {
			return draft{}, err
		}
		if t.Before != nil {
			before = t.Before
			return draft{}, errAgain
		}
		if t.Mends() > 0 {
			return draft{}, &ListError{t}
		}
		for _, n := range planned.order {
			i := t.Items[n]
			i.Format, i.ID, i.Entered = 1, ids[n], at
			i.Declared.List = id
			if whole, within := planned.whole[n]; within {
				i.PartOf = ids[whole]
			}
			if err := d.enterListed(tx, by, at, id, n, i); err != nil {
				return draft{}, err
			}
		}
		return draft{kind: "list-imported", subject: id, body: Imported{Format: 1, ID: id, File: f.Name, SHA256: t.SHA256, Rows: t.Rows, Items: ids, At: at, Person: by.Who.person.ID}}, nil
	})
	if errors.Is(err, errAgain) {
		before.Again = true
		return before, nil
	}
	if err != nil {
		return nil, err
	}
	return read[*Imported](e.Body)
}

// errAgain carries out of an act that the file was imported before.
var errAgain = errors.New("this file was imported before")

// enterListed makes the entry of one item of a list, within the act that imports it.
func (d *Desk) enterListed(tx *store.Tx, by By, at time.Time, list string, n int, i Item) error {
	if err := join(tx, &i); err != nil {
		return err
	}
	body, err := json.Marshal(i)
	if err != nil {
		return err
	}
	key := fmt.Sprintf("%s/%d", list, n)
	digest, err := store.Digest(i)
	if err != nil {
		return err
	}
	e, err := tx.Append(ledger.Entry{Head: ledger.Head{Time: at, Kind: "item-entered", Subject: i.ID, Person: by.Who.person.ID, Key: key, Request: digest}, Body: body})
	if err != nil {
		return err
	}
	return view(tx, e)
}

// readList reads the rows of a file. Who may not import is told so before anything is unpacked.
func (d *Desk) readList(ctx context.Context, who *Who, f ListFile) (*tables.List, error) {
	if err := d.look(ctx, who, people.RegisterItem, func(*store.Tx) error { return nil }); err != nil {
		return nil, err
	}
	return f.read()
}

// read reads the rows of the file.
func (f ListFile) read() (*tables.List, error) {
	if err := checkTexts(f.Name); err != nil {
		return nil, err
	}
	return tables.ReadList(f.Data, listLimits)
}

// hash tells one file from another, whatever it is called.
func (f ListFile) hash() string {
	sum := sha256.Sum256(f.Data)
	return hex.EncodeToString(sum[:])
}

// planned says in which order the rows of a list are entered, and which of them are parts of which.
type planned struct {
	order []int       // of the rows: what has parts comes before them
	whole map[int]int // row that another row is a part of
}

// plan finds out what an import would come to. It only reads.
func plan(tx *store.Tx, f ListFile, l *tables.List) (*Trial, planned, error) {
	t := &Trial{File: f.Name, SHA256: f.hash(), Rows: l.Rows, Headings: l.Headings, Findings: []tables.Finding{}, Items: []Item{}}
	var before Imported
	if _, err := tx.Get("list", t.SHA256, &before); err == nil {
		t.Before = &before
	} else if ignoreMissing(err) != nil {
		return nil, planned{}, err
	}
	p := &planner{tx: tx, list: l, found: map[int][]tables.Finding{}, trays: map[string]int{}, serials: map[string]int{}, same: map[string]int{}}
	for _, f := range l.Findings {
		if f.Row == 0 {
			t.Findings = append(t.Findings, f)
		} else {
			p.found[f.Row] = append(p.found[f.Row], f)
		}
	}
	if err := p.known(); err != nil {
		return nil, planned{}, err
	}
	for n, row := range l.Items {
		t.Items = append(t.Items, itemListed(row))
		if err := p.check(n, &t.Items[n]); err != nil {
			return nil, planned{}, err
		}
	}
	out, err := p.join(t.Items)
	if err != nil {
		return nil, planned{}, err
	}
	for _, row := range l.Items {
		t.Findings = append(t.Findings, p.found[row.Row]...)
	}
	if t.Before != nil {
		// What the file brought is here already, so that every row would be found twice.
		t.Findings, t.Items = []tables.Finding{}, []Item{}
	}
	return t, out, nil
}

// itemListed is the item that a row of a list speaks of.
func itemListed(row tables.Declared) Item {
	c := row.Cells
	i := Item{
		Description: c[tables.Description], Marks: c[tables.Marks], Condition: c[tables.Condition], ClaimBy: c[tables.ClaimBy],
		Barcode: c[tables.Barcode], PartOf: c[tables.PartOf], Place: c[tables.Place],
		Declared: &Declared{
			Row: row.Row, Serial: c[tables.Serial], Metal: c[tables.Metal], Fineness: c[tables.Fineness],
			Mass: c[tables.Mass], MassUnit: c[tables.MassUnit], Claim: c[tables.Claim], Reference: c[tables.Reference],
		},
	}
	i.Claim = i.Declared.claim()
	if i.Description == "" {
		i.Description = i.Declared.description()
	}
	switch {
	case i.Claim == "" && i.ClaimBy == "":
	case i.ClaimBy == "":
		i.ClaimBy = DeclaredByList
	default:
		i.ClaimBy = DeclaredByList + ": " + i.ClaimBy
	}
	return i
}

// claim is what a list claims, in its own words or else in ours.
func (l *Declared) claim() string {
	if l.Claim != "" {
		return l.Claim
	}
	out := l.Metal
	if l.Fineness != "" {
		out += " " + l.Fineness
	}
	if l.Mass != "" {
		if out != "" {
			out += ", "
		}
		out += l.Mass + " " + l.MassUnit
	}
	return out
}

// description stands for an item of which a list says only what is claimed.
func (l *Declared) description() string {
	if l.Serial != "" {
		return "listed item no. " + l.Serial
	}
	return "listed item"
}

// listed are the cells of an item in the columns of a list, such that an import of them comes to the same
// item. The whole that it is part of is named by its tray, where it lies in one.
func listed(i Item, whole string) map[tables.Field]string {
	l := i.Declared
	if l == nil {
		l = &Declared{}
	}
	out := map[tables.Field]string{
		tables.Serial: l.Serial, tables.Marks: i.Marks, tables.Description: i.Description, tables.Condition: i.Condition,
		tables.Metal: l.Metal, tables.Fineness: l.Fineness, tables.Mass: l.Mass, tables.MassUnit: l.MassUnit,
		tables.Claim: i.Claim, tables.ClaimBy: i.ClaimBy, tables.Barcode: i.Barcode, tables.Reference: l.Reference, tables.PartOf: whole, tables.Place: i.Place,
	}
	if i.Claim == l.claim() {
		out[tables.Claim] = l.Claim
	}
	if i.Description == l.description() {
		out[tables.Description] = ""
	}
	if by, found := strings.CutPrefix(i.ClaimBy, DeclaredByList); found {
		out[tables.ClaimBy] = strings.TrimPrefix(by, ": ")
	}
	return out
}

// planner holds the rows of a list against each other and against what is here.
type planner struct {
	tx    *store.Tx
	list  *tables.List
	found map[int][]tables.Finding // by row

	trays, serials, same map[string]int    // row of the list that has them
	here                 map[string]string // item that has a serial number and marks
}

func (p *planner) find(n int, f tables.Field, mend, wrong string, args ...any) {
	row := p.list.Items[n].Row
	p.found[row] = append(p.found[row], tables.Finding{Row: row, Column: p.list.Column(f), Wrong: fmt.Sprintf(wrong, args...), Mend: mend})
}

// known takes the serial numbers of the items that are here.
func (p *planner) known() error {
	items, err := list[Item](p.tx, "item")
	p.here = map[string]string{}
	for _, i := range items {
		if i.Gone == "" && i.Declared != nil && i.Declared.Serial != "" {
			p.here[serialOf(&i)] = i.ID
		}
	}
	return err
}

// serialOf tells a bar from all others: makers number for themselves.
func serialOf(i *Item) string { return i.Declared.Serial + "\x00" + i.Marks }

// check holds one row against the rows before it and against what is here.
func (p *planner) check(n int, i *Item) error {
	for _, c := range tables.ListColumns {
		f := tables.Field(c.Key)
		var user *UserError
		if err := checkTexts(p.list.Items[n].Cells[f]); errors.As(err, &user) {
			p.find(n, f, user.Hint, "%s", user.Reason)
		} else if err != nil {
			return err
		}
	}
	if len(p.found[p.list.Items[n].Row]) == 0 {
		var user *UserError
		if err := i.check(); errors.As(err, &user) {
			p.find(n, tables.Description, user.Hint, "%s", user.Reason)
		} else if err != nil {
			return err
		}
	}
	if err := p.tray(n, i); err != nil {
		return err
	}
	if i.Declared.Serial != "" {
		serial := serialOf(i)
		if other, twice := p.serials[serial]; twice {
			p.find(n, tables.Serial, "Take one of the two rows out, or tell the two apart by their marks.", "row %d has the same serial number and marks", p.list.Items[other].Row)
		} else if id, here := p.here[serial]; here {
			p.find(n, tables.Serial, "Take the row out, or note first where that item went.", "the item %s that is here has the same serial number and marks", id)
		}
		p.serials[serial] = n
		return nil
	}
	if i.Barcode != "" {
		return nil
	}
	row := *i.Declared
	row.Row = 0
	key, err := json.Marshal([]any{row, i.Description, i.Marks, i.Condition, i.PartOf, i.Place})
	if err != nil {
		return err
	}
	if other, twice := p.same[string(key)]; twice {
		row := p.list.Items[n].Row
		p.found[row] = append(p.found[row], tables.Finding{Row: row, Wrong: fmt.Sprintf("it says the same as row %d, and nothing tells the two items apart", p.list.Items[other].Row),
			Mend: "Nothing need be done if there are two. Otherwise take one out.", Warning: true})
	} else {
		p.same[string(key)] = n
	}
	return nil
}

// tray refuses a tray or bag that holds another item.
func (p *planner) tray(n int, i *Item) error {
	if i.Barcode == "" {
		return nil
	}
	if other, twice := p.trays[i.Barcode]; twice {
		p.find(n, tables.Barcode, "Give each item a tray of its own; for a bag with several items, enter the bag as a row and name its barcode under part of.", "row %d lies in the same tray", p.list.Items[other].Row)
		return nil
	}
	p.trays[i.Barcode] = n
	var user *UserError
	if err := freeBarcode(p.tx, i.Barcode, ""); errors.As(err, &user) {
		p.find(n, tables.Barcode, user.Hint, "%s", user.Reason)
	} else if err != nil {
		return err
	}
	return nil
}

// join finds what each row is part of: another row by its barcode, or what is here by name or barcode.
func (p *planner) join(items []Item) (planned, error) {
	out := planned{whole: map[int]int{}}
	for n := range items {
		i := items[n]
		if i.PartOf == "" {
			continue
		}
		if whole, within := p.trays[i.PartOf]; within {
			out.whole[n] = whole
			continue
		}
		var user *UserError
		if err := join(p.tx, &i); errors.As(err, &user) {
			p.find(n, tables.PartOf, "Name a bag or item that is here by its barcode, or one of this list by the barcode of its row. What the owner calls it stands under reference.", "%s", user.Reason)
		} else if err != nil {
			return out, err
		} else if depth, err := wholes(p.tx, i); err != nil {
			return out, err
		} else if len(depth) == deepest {
			p.find(n, tables.PartOf, "Name the bag or the lot itself.", "parts of parts have at most %d levels", deepest)
		}
	}
	placed := make([]bool, len(items))
	for n := range items {
		chain := []int{n}
		for whole, within := out.whole[n]; within && !placed[whole]; whole, within = out.whole[whole] {
			if slices.Contains(chain, whole) || len(chain) > deepest {
				p.find(n, tables.PartOf, "Name the larger one of the two; parts of parts have few levels.", "the rows are parts of each other, or of too many levels")
				chain = nil
				break
			}
			chain = append(chain, whole)
		}
		for _, n := range slices.Backward(chain) {
			if !placed[n] {
				placed[n], out.order = true, append(out.order, n)
			}
		}
	}
	return out, nil
}

func showImport(tx *store.Tx, e ledger.Entry) error {
	l, err := read[Imported](e.Body)
	if err != nil {
		return err
	}
	return tx.Put("list", l.SHA256, e.Seq, l)
}
