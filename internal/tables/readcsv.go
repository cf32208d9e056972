package tables

import (
	"bytes"
	"strings"
)

// csvReader goes through a CSV file. Line breaks inside a cell in quotation marks stay as they are.
type csvReader struct {
	rest  []byte
	comma byte // what parts the cells
	line  int  // of what comes next, from 1
}

// readCSV reads a CSV file. Lines end with CR LF, LF or CR; an empty line is no row.
func readCSV(data []byte, limits Limits) (*Sheet, error) {
	r := &csvReader{rest: data, line: 1}
	r.comma = r.separator()
	s := &Sheet{Format: CSV, Comma: r.comma != ','}
	for len(r.rest) > 0 {
		no := r.line
		cells, blank, err := r.row(limits)
		switch {
		case err != nil:
			return nil, err
		case blank:
		case s.Headings == nil:
			err = s.head(cells, limits)
		default:
			err = s.add(no, cells, limits)
		}
		if err != nil {
			return nil, err
		}
	}
	if s.Headings == nil {
		return nil, unread(0, "The first row holds the headings.", "the file has no headings")
	}
	return s, nil
}

// separator is what parts the cells: what a first line "sep=;" says, which some programs write, or what the
// headings hold most of outside of quotation marks.
func (r *csvReader) separator() byte {
	line := r.rest
	if i := bytes.IndexAny(line, "\r\n"); i >= 0 {
		line = line[:i]
	}
	if len(line) == 5 && bytes.EqualFold(line[:4], []byte("sep=")) && bytes.IndexByte([]byte(",;\t"), line[4]) >= 0 {
		r.rest = r.rest[len(line):]
		r.end()
		return line[4]
	}
	best, most := byte(','), 0
	for _, comma := range []byte(",;\t") {
		n, quoted := 0, false
		for _, b := range bytes.TrimLeft(r.rest, "\r\n") {
			if b == '"' {
				quoted = !quoted
			}
			if !quoted && (b == '\r' || b == '\n') {
				break
			}
			if !quoted && b == comma {
				n++
			}
		}
		if n > most {
			best, most = comma, n
		}
	}
	return best
}

// end goes past the end of a line, if it is there.
func (r *csvReader) end() bool {
	n := 0
	switch {
	case bytes.HasPrefix(r.rest, []byte("\r\n")):
		n = 2
	case len(r.rest) > 0 && (r.rest[0] == '\r' || r.rest[0] == '\n'):
		n = 1
	default:
		return len(r.rest) == 0
	}
	r.rest = r.rest[n:]
	r.line++
	return true
}

// row reads one row; blank says that the line was empty.
func (r *csvReader) row(limits Limits) (cells []string, blank bool, err error) {
	no := r.line
	if r.end() {
		return nil, true, nil
	}
	for {
		var cell string
		if r.rest[0] == '"' {
			if cell, err = r.quoted(no); err != nil {
				return nil, false, err
			}
		} else {
			n := bytes.IndexAny(r.rest, string(r.comma)+"\r\n")
			if n < 0 {
				n = len(r.rest)
			}
			cell, r.rest = string(r.rest[:n]), r.rest[n:]
		}
		if len(cells) > limits.Columns {
			return nil, false, unread(no, "Leave out the columns that are not needed.", "there are more than %d cells", limits.Columns)
		}
		cells = append(cells, cell)
		switch {
		case r.end():
			return cells, false, nil
		case r.rest[0] != r.comma:
			return nil, false, unread(no, `Put the whole cell into quotation marks, and write "" for one inside.`, "something stands behind the closing quotation mark of %.30q", cell)
		}
		r.rest = r.rest[1:]
		if len(r.rest) == 0 || r.rest[0] == '\r' || r.rest[0] == '\n' { // an empty last cell
			cells = append(cells, "")
			r.end()
			return cells, false, nil
		}
	}
}

// quoted reads a cell in quotation marks.
func (r *csvReader) quoted(no int) (string, error) {
	var cell strings.Builder
	r.rest = r.rest[1:]
	for {
		n := bytes.IndexByte(r.rest, '"')
		if n < 0 {
			return "", unread(no, `Close it; a quotation mark inside a cell is written "".`, "a quotation mark is opened and not closed")
		}
		part := r.rest[:n]
		r.line += bytes.Count(part, []byte("\n")) + bytes.Count(part, []byte("\r")) - bytes.Count(part, []byte("\r\n"))
		cell.Write(part)
		r.rest = r.rest[n+1:]
		if len(r.rest) == 0 || r.rest[0] != '"' {
			return cell.String(), nil
		}
		cell.WriteByte('"')
		r.rest = r.rest[1:]
	}
}
