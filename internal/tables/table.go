package tables

import (
	"iter"
	"strings"
)

// Kind says what the cells of a column hold.
type Kind int

// The kinds of cells. An empty cell is always allowed: nothing is known.
const (
	Text   Kind = iota // any valid UTF-8
	Number             // a decimal with a point, such as 1250.50; its digits are kept as they are
	Time               // a moment in UTC to the second, such as 2026-03-04T09:30:00Z (RFC 3339)
	Day                // a calendar day, such as 2026-03-04 (ISO 8601)
)

// Column is one column of a table.
type Column struct {
	Key  string // its name for programs, with the unit at its end: mass_g
	Name string // its name for people, without the unit: mass
	Unit string // the unit of its numbers: g; "" without one
	Kind Kind
}

// Heading is the name of the column with its unit.
func (c Column) Heading() string {
	if c.Unit == "" {
		return c.Name
	}
	return c.Name + ", " + c.Unit
}

// Table is what is written.
type Table struct {
	Name    string // short, for the file and the sheet: day-book
	Columns []Column
	Rows    iter.Seq2[[]string, error] // the cells of each row in the order of the columns
}

// Format is a form of file.
type Format string

// The formats.
const (
	CSV   Format = "csv"   // RFC 4180: UTF-8, commas, CR LF
	XLSX  Format = "xlsx"  // Office Open XML (ECMA-376)
	JSONL Format = "jsonl" // one JSON object a line
)

// Formats lists them.
var Formats = []Format{CSV, XLSX, JSONL}

// MediaType is the media type of a file of this format, for HTTP.
func (f Format) MediaType() string {
	switch f {
	case CSV:
		return "text/csv; charset=utf-8"
	case XLSX:
		return "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
	case JSONL:
		return "application/jsonl; charset=utf-8"
	}
	return "application/octet-stream"
}

// FormatOf finds the format of a file by the end of its name.
func FormatOf(name string) (Format, bool) {
	for _, f := range Formats {
		if strings.HasSuffix(strings.ToLower(name), "."+string(f)) {
			return f, true
		}
	}
	return "", false
}
