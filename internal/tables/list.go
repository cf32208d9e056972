package tables

import (
	"fmt"
	"slices"
	"strings"

	"wreath/internal/nearest"
)

// Field is one thing that a list may say of an item.
type Field string

// The fields of a list.
const (
	Serial      Field = "serial"       // number of the bar or coin
	Marks       Field = "marks"        // stamps and marks: whose bar it is
	Description Field = "description"  // what it is
	Condition   Field = "condition"    // how it arrived
	Metal       Field = "metal"        // what it is said to be of: gold, silver, platinum or palladium
	Fineness    Field = "fineness_ppt" // as claimed, in parts per thousand
	Mass        Field = "mass"         // as claimed
	MassUnit    Field = "mass_unit"    // g, kg, ozt and so on
	Claim       Field = "claim"        // what it is said to be, in words
	ClaimBy     Field = "claim_by"     // who says so, where that is not the list itself
	Barcode     Field = "barcode"      // of its tray or bag
	Reference   Field = "reference"    // the owner's own
	PartOf      Field = "part_of"      // the lot, bag or item that it belongs to
	Place       Field = "place"        // where it lies
)

// ListColumns are the columns of a list in their usual order, as this program writes them.
var ListColumns = []Column{
	{string(Serial), "serial", "", Text},
	{string(Marks), "marks", "", Text},
	{string(Description), "description", "", Text},
	{string(Condition), "condition", "", Text},
	{string(Metal), "metal", "", Text},
	{string(Fineness), "fineness", "parts per thousand", Number},
	{string(Mass), "mass", "", Number},
	{string(MassUnit), "mass unit", "", Text},
	{string(Claim), "claim", "", Text},
	{string(ClaimBy), "claimed by", "", Text},
	{string(Barcode), "barcode", "", Text},
	{string(Reference), "reference", "", Text},
	{string(PartOf), "part of", "", Text},
	{string(Place), "place", "", Text},
}

// Declared is one row of a list: what the list says of an item. Nobody here has looked at the item yet.
type Declared struct {
	Row   int              // the line of the file, or the row of the sheet
	Cells map[Field]string // without the empty ones; numbers with a point, words and units as this program has them
}

// Finding says what is wrong with a list, or strange about it.
type Finding struct {
	Row     int    `json:"row,omitempty" doc:"the line of the file, or the row of the sheet; left out for the file as a whole"`
	Column  string `json:"column,omitempty" doc:"the heading, as in the file"`
	Wrong   string `json:"wrong" doc:"what is wrong"`
	Mend    string `json:"mend" doc:"how to mend it"`
	Warning bool   `json:"warning,omitempty" doc:"it can be entered all the same"`
}

// Heading is what a heading was taken for.
type Heading struct {
	Text string `json:"heading" doc:"as in the file"`
	As   Field  `json:"as,omitempty" doc:"the field that it was taken for; left out where the column is not entered"`
	Unit string `json:"unit,omitempty" doc:"the unit that the heading names"`
}

// List is a list of items as it was read.
type List struct {
	Headings []Heading
	Items    []Declared // of every row in which something stands, also of those with findings
	Findings []Finding  // those of the file first, then in the order of the rows
	Rows     int        // rows below the headings in which something stands
}

// Column is the heading of a field as the file has it; the usual one where it has none.
func (l *List) Column(f Field) string {
	for _, h := range l.Headings {
		if h.As == f {
			return h.Text
		}
	}
	return headings[f][0]
}

// ReadList reads a list of items from a CSV file, a workbook or JSON Lines; see Read. A file that can't be
// read at all is a *ReadError; what is wrong in a row is a finding.
func ReadList(data []byte, limits Limits) (*List, error) {
	s, err := Read(data, limits)
	if err != nil {
		return nil, err
	}
	l := &List{}
	if err := l.head(s.Headings); err != nil {
		return nil, err
	}
	used := make([]bool, len(s.Headings))
	for _, row := range s.Rows {
		if strings.TrimSpace(strings.Join(row.Cells, "")) == "" {
			continue
		}
		l.Rows++
		r := &reader{list: l, sheet: s, no: row.No, cells: map[Field]string{}}
		for i, cell := range row.Cells {
			used[i] = used[i] || cell != ""
		}
		r.read(row.Cells)
		l.Items = append(l.Items, Declared{row.No, r.cells})
	}
	var first []Finding
	for i, h := range l.Headings {
		if h.As == "" && used[i] {
			first = append(first, unknown(h.Text))
		}
	}
	l.Findings = append(first, l.Findings...)
	if l.Rows == 0 {
		return nil, unread(0, "Below the headings, write one item a row.", "the list has headings and no items")
	}
	return l, nil
}

// head finds out what each heading stands for.
func (l *List) head(texts []string) error {
	for _, text := range texts {
		h := Heading{Text: text}
		h.As, h.Unit = fieldOf(text)
		if h.As != "" {
			for _, before := range l.Headings {
				if before.As == h.As {
					return unread(0, "Leave one of them out, or give it another heading.", "the headings %q and %q mean the same: %s", before.Text, text, headings[h.As][0])
				}
			}
		}
		l.Headings = append(l.Headings, h)
	}
	if !slices.ContainsFunc(l.Headings, func(h Heading) bool { return h.As != "" }) {
		hint := "The first row holds the headings, such as serial, marks, metal, fineness, mass, mass unit."
		for _, text := range texts {
			if near := near(text); near != "" {
				hint = fmt.Sprintf("Did you mean %s where it says %q?", near, text)
				break
			}
		}
		return unread(0, hint, "none of the headings is known: %s", short(strings.Join(texts, ", ")))
	}
	return nil
}

// unknown is the finding of a column that is not entered.
func unknown(text string) Finding {
	f := Finding{Column: text, Wrong: fmt.Sprintf("the column %q is not entered", short(text)), Warning: true, Mend: "Nothing need be done. The known headings are: " + knownHeadings() + "."}
	words := plainWords(text)
	switch {
	case contains(words, "carat", "carats", "karat", "kt", "quilate", "quilates"):
		f.Warning, f.Mend = false, "Write the fineness in parts per thousand, as it is stamped: 585 for 14 carats, 750 for 18; or take the column out."
	case contains(words, "fine", "fein", "feingewicht", "fino", "feinunzen"):
		f.Mend = "Nothing need be done: the fine mass follows from mass and fineness."
	default:
		if near := near(text); near != "" {
			f.Mend = fmt.Sprintf("If it is meant as %s, write that; otherwise nothing need be done.", near)
		}
	}
	return f
}

// contains tells whether one of some words is among others.
func contains(words []string, any ...string) bool {
	return slices.ContainsFunc(words, func(w string) bool { return slices.Contains(any, w) })
}

func knownHeadings() string {
	var out []string
	for _, c := range ListColumns {
		out = append(out, headings[Field(c.Key)][0])
	}
	return strings.Join(out, ", ")
}

// near is the known heading that an unknown one may be a slip for; "" when none is near.
func near(text string) string {
	var known []string
	for _, names := range headings {
		known = append(known, names...)
	}
	slices.Sort(known)
	return nearest.Word(strings.Join(plainWords(text), " "), known)
}

// short cuts a text that came from a file, for a sentence.
func short(text string) string {
	if r := []rune(text); len(r) > 60 {
		return string(r[:59]) + "…"
	}
	return text
}
