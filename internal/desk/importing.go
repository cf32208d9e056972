package desk

import (
	"context"
	"errors"
	"time"

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

var errNotYet = errors.New("lists can't be imported yet")

// TryImport says what an import of a list would come to, row by row. Nothing is entered.
func (d *Desk) TryImport(ctx context.Context, who *Who, f ListFile) (*Trial, error) {
	return nil, errNotYet
}

// ImportItems enters all items of a list, or none: where a row can't be entered it gives a *ListError.
// A file that was imported before is not entered again; the earlier import comes back.
func (d *Desk) ImportItems(ctx context.Context, by By, f ListFile) (*Imported, error) {
	return nil, errNotYet
}
