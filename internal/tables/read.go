package tables

import (
	"bytes"
	"fmt"
	"unicode/utf8"
)

// Limits bound what is read.
type Limits struct {
	Bytes    int // of the file
	Unpacked int // of a workbook, unpacked, and of the texts of all its cells
	Rows     int // below the headings
	Columns  int
	Cell     int // bytes of one cell
}

// Sheet is a table as it was read.
type Sheet struct {
	Format   Format
	Headings []string // of a CSV file or a workbook; the names of JSON Lines
	Rows     []Row

	// Comma says that a comma inside a number is a decimal comma, because it is not what parts the cells.
	Comma bool
}

// Row is one row.
type Row struct {
	No    int      // the line of the file, or the row of the sheet, from 1
	Cells []string // as many as there are headings
}

// ReadError says what can't be read, where, and how to mend it.
type ReadError struct {
	Row          int // the line of the file or the row of the sheet; 0 for the file as a whole
	Reason, Hint string
}

func (e *ReadError) Error() string {
	if e.Row > 0 {
		return fmt.Sprintf("row %d: %s", e.Row, e.Reason)
	}
	return e.Reason
}

func unread(row int, hint, reason string, args ...any) error {
	return &ReadError{row, fmt.Sprintf(reason, args...), hint}
}

// Read reads a table from a CSV file (parted by commas, semicolons or tabs), a workbook (its first sheet
// that is not hidden) or JSON Lines; which of them it is, the bytes say. The apostrophe of Guard is taken
// away; JSON Lines have none. All errors are of the type *ReadError.
func Read(data []byte, limits Limits) (*Sheet, error) {
	if len(data) > limits.Bytes {
		return nil, unread(0, "Split it into several files.", "the file has %d bytes and %d are read at most", len(data), limits.Bytes)
	}
	switch {
	case bytes.HasPrefix(data, []byte("PK\x03\x04")):
		return readXLSX(data, limits)
	case bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0")):
		return nil, unread(0, "Save it as a workbook of the form .xlsx without a password, or as CSV.", "the file is a workbook of the old form, or locked with a password")
	case bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")):
		return nil, unread(0, "Save it as CSV in UTF-8.", "the file is text in UTF-16")
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if !utf8.Valid(data) {
		return nil, unread(firstBad(data), "Save it as CSV in UTF-8.", "the file is no text in UTF-8")
	}
	start := bytes.TrimLeft(data, " \t\r\n")
	switch {
	case len(start) == 0:
		return nil, unread(0, "The first row holds the headings.", "the file is empty")
	case start[0] == '{':
		return readJSONL(data, limits)
	case start[0] == '[':
		return nil, unread(0, "Write one object a line (JSON Lines), without brackets around them.", "the file is one JSON array")
	}
	return readCSV(data, limits)
}

// firstBad is the line of the first byte that is no UTF-8.
func firstBad(data []byte) int {
	line := 1
	for len(data) > 0 {
		r, n := utf8.DecodeRune(data)
		if r == utf8.RuneError && n == 1 {
			break
		}
		if r == '\n' {
			line++
		}
		data = data[n:]
	}
	return line
}

// head keeps the headings of a sheet, without the empty ones at its end.
func (s *Sheet) head(cells []string, limits Limits) error {
	for len(cells) > 0 && cells[len(cells)-1] == "" {
		cells = cells[:len(cells)-1]
	}
	if len(cells) == 0 {
		return unread(0, "The first row holds the headings.", "the file has no headings")
	}
	if len(cells) > limits.Columns {
		return unread(0, "Leave out the columns that are not needed.", "the file has %d columns and %d are read at most", len(cells), limits.Columns)
	}
	for _, cell := range cells {
		if len(cell) > limits.Cell {
			return unread(0, "Shorten it.", "the heading %.30q... has more than %d bytes", cell, limits.Cell)
		}
		s.Headings = append(s.Headings, Unguard(cell))
	}
	return nil
}

// add keeps a row, filled up to as many cells as there are headings.
func (s *Sheet) add(no int, cells []string, limits Limits) error {
	if len(s.Rows) == limits.Rows {
		return unread(no, "Split it into several files.", "the file has more than %d rows below its headings", limits.Rows)
	}
	row := Row{no, make([]string, len(s.Headings))}
	for i, cell := range cells {
		switch {
		case len(cell) > limits.Cell:
			return unread(no, "Shorten it.", "the cell %.30q... has more than %d bytes", cell, limits.Cell)
		case i < len(row.Cells):
			if row.Cells[i] = cell; s.Format != JSONL {
				row.Cells[i] = Unguard(cell)
			}
		case cell != "":
			return unread(no, "Give each column a heading, and put a cell that holds the separator into quotation marks.", "there are more cells than headings: %d and %d", len(cells), len(s.Headings))
		}
	}
	s.Rows = append(s.Rows, row)
	return nil
}
