package batch

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"wreath/internal/determination"
)

// csvRows gives the rows of a CSV file.
type csvRows struct {
	lines     *lines
	delimiter byte
	comma     bool    // a decimal comma is read
	columns   []field // of the cells, in order
	cells     []string
}

// newCSV reads the header.
func newCSV(l *lines, first line) (*csvRows, error) {
	if err := checkText(first.text); err != nil {
		return nil, err
	}
	if first.tooLong {
		return nil, errTooLong
	}
	header := string(first.text)
	if strings.Contains(header, "\r") {
		return nil, &determination.InputError{Reason: "its lines end with carriage returns alone", Hint: "Save it with the line ends of this decade: CR LF or LF."}
	}
	delimiter := findDelimiter(header)
	names, marks := splitCells(nil, header, delimiter)
	if marks != balanced {
		return nil, &determination.InputError{Reason: "the quotation marks in the line of column names do not pair", Hint: "Column names need no quotation marks."}
	}
	columns, err := findColumns(names)
	if err != nil {
		return nil, err
	}
	return &csvRows{lines: l, delimiter: delimiter, comma: delimiter != ',', columns: columns}, nil
}

// findDelimiter finds which delimiter the header holds most of.
func findDelimiter(header string) byte {
	best, most := byte(','), strings.Count(header, ",")
	for _, d := range []byte{';', '\t'} {
		if n := strings.Count(header, string(d)); n > most {
			best, most = d, n
		}
	}
	return best
}

func (s *csvRows) next(c *chunk) error {
	for {
		l, err := s.lines.next()
		if err != nil {
			return err
		}
		start := len(c.text)
		switch {
		case l.tooLong:
			c.add(l.number, start, errTooLong)
			return nil
		case s.blank(l.text):
			continue
		}
		c.text = append(c.text, l.text...)
		if bytes.IndexByte(l.text, '"') >= 0 {
			err = s.quoted(c, start)
		}
		c.add(l.number, start, err)
		if err != nil {
			c.rows[len(c.rows)-1].id = s.id(s.cells)
		}
		return nil
	}
}

// blank is true for a row without anything in its cells, as spreadsheets leave them at the end.
func (s *csvRows) blank(text []byte) bool {
	for _, b := range text {
		if b != s.delimiter && b != ' ' && b != '\t' && b != '\r' {
			return false
		}
	}
	return true
}

// maxRowLines is how many lines one row may go over; chosen here, so that a lost quotation mark is
// noticed before the rest of the file is taken for one cell.
const maxRowLines = 100

// quoted reads on where a quoted cell goes on in the next line. When the marks never pair, or the
// row that comes out has not the right number of cells, only the first line is taken for the row
// and the rest is read again as rows of their own, so that one lost mark costs one row.
func (s *csvRows) quoted(c *chunk, start int) error {
	s.cells = s.cells[:0]
	if err := checkText(c.text[start:]); err != nil {
		return err
	}
	end := len(c.text)
	var more []line
	marks := open
	for marks == open {
		s.cells, marks = splitCells(s.cells[:0], string(c.text[start:]), s.delimiter)
		if marks == balanced && (len(more) == 0 || len(s.cells) == len(s.columns)) {
			return nil // decode counts the cells of a row on one line
		}
		if marks == open && !s.readOn(c, start, &more) {
			break
		}
	}
	s.lines.putBack(more)
	c.text = c.text[:end]
	s.cells, _ = splitCells(s.cells[:0], string(c.text[start:]), s.delimiter)
	switch {
	case marks == open:
		return s.quoteError("its quotation mark is never closed", closeQuote)
	case len(more) > 0:
		return s.quoteError("its quotation mark is not closed on this line, and the next lines do not make the row whole", closeQuote)
	}
	return s.quoteError("a quotation mark stands inside the cell", `Put the whole cell in quotation marks and write a mark inside it twice: "3"" ring".`)
}

const closeQuote = "Close the cell with a quotation mark."

// readOn adds lines to the row up to the next one that holds a quotation mark; false where there
// is none near enough.
func (s *csvRows) readOn(c *chunk, start int, more *[]line) bool {
	for len(*more) < maxRowLines {
		l, err := s.lines.next()
		if err != nil {
			return false // the error comes again when the next row is read
		}
		l.text = bytes.Clone(l.text)
		*more = append(*more, l)
		if l.tooLong || len(c.text)-start+len(l.text) > maxRow {
			return false
		}
		c.text = append(append(c.text, '\n'), l.text...)
		if bytes.IndexByte(l.text, '"') >= 0 {
			return true
		}
	}
	return false
}

// quoteError is about the cell after those that were read.
func (s *csvRows) quoteError(reason, hint string) error {
	return &determination.InputError{Path: s.columnName(len(s.cells)), Reason: reason, Hint: hint}
}

// id finds the row's own mark among its cells; "" where it is not given.
func (s *csvRows) id(cells []string) string {
	i := slices.IndexFunc(s.columns, func(f field) bool { return f.path == "id" })
	if i < 0 || i >= len(cells) {
		return ""
	}
	return cells[i]
}

func (s *csvRows) columnName(i int) string {
	if i < len(s.columns) && s.columns[i].path != "" {
		return s.columns[i].path
	}
	return fmt.Sprintf("column %d", i+1)
}

func (s *csvRows) newDecoder() decoder {
	var cells []string
	return func(text []byte, d *determination.Draft) error {
		if err := checkText(text); err != nil {
			return err
		}
		var marks quoting
		cells, marks = splitCells(cells[:0], string(text), s.delimiter)
		if marks != balanced {
			return errors.New("quotation marks that were balanced when the row was read are not")
		}
		return s.decode(cells, d)
	}
}

// decode reads all cells of a row, its id first so that an error can name it.
func (s *csvRows) decode(cells []string, d *determination.Draft) error {
	d.ID = s.id(cells)
	if len(cells) != len(s.columns) {
		return s.wrongCount(cells)
	}
	draft := reflect.ValueOf(d).Elem()
	blank := true
	for i, cell := range cells {
		if cell == "" {
			continue
		}
		blank = false
		f := &s.columns[i]
		if f.path == "" {
			return &determination.InputError{Path: s.columnName(i), Reason: fmt.Sprintf("%q stands in a column without a name", cell), Hint: "Name the column in the first line, or empty the cell."}
		}
		if err := f.set(draft, cell, s.comma); err != nil {
			return err
		}
	}
	if blank {
		return errBlank
	}
	return nil
}

func (s *csvRows) wrongCount(cells []string) error {
	have, want := len(cells), len(s.columns)
	e := &determination.InputError{Reason: fmt.Sprintf("the row has %d cells, the first line names %d columns", have, want)}
	switch {
	case have < want:
		e.Path = s.columnName(have)
		e.Hint = "The row ends before this column; leave a cell empty rather than out."
	case s.delimiter == ',' && slices.ContainsFunc(cells, decimals):
		e.Hint = "A decimal comma parts a cell in two: write 12.4431, or part the columns by semicolons."
	default:
		e.Path = s.columnName(want)
		e.Hint = fmt.Sprintf("The first cell too many holds %q; put a cell that holds the delimiter in quotation marks.", cells[want])
	}
	return e
}

// decimals is true for a cell that may be what stood behind a decimal comma.
func decimals(cell string) bool {
	return len(cell) >= 2 && strings.Trim(cell, "0123456789") == ""
}
