package tables

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"
)

// Write writes a table to w. An error of a row, a cell that doesn't fit its column, or an error of w
// ends it; what is written then is no whole table and must not look like one.
func Write(w io.Writer, f Format, t Table) error {
	out := bufio.NewWriterSize(w, 1<<16)
	var err error
	switch f {
	case CSV:
		err = writeCSV(out, t)
	case JSONL:
		err = writeJSONL(out, t)
	case XLSX:
		err = writeXLSX(out, t)
	default:
		return fmt.Errorf("there is no table format %q; use csv, xlsx or jsonl", f)
	}
	if err == nil {
		err = out.Flush()
	}
	return err
}

// each goes through the rows and holds every cell against its column.
func (t *Table) each(do func(row []string) error) error {
	n := 0
	for row, err := range t.Rows {
		if err != nil {
			return err
		}
		n++
		if len(row) != len(t.Columns) {
			return fmt.Errorf("row %d of the table %s has %d cells and the table has %d columns", n, t.Name, len(row), len(t.Columns))
		}
		for i, cell := range row {
			if err := t.Columns[i].check(cell); err != nil {
				return fmt.Errorf("row %d of the table %s, %s: %w", n, t.Name, t.Columns[i].Name, err)
			}
		}
		if err := do(row); err != nil {
			return err
		}
	}
	return nil
}

// check refuses a cell that is not of its column's kind.
func (c Column) check(cell string) error {
	ok := true
	switch {
	case cell == "":
	case c.Kind == Text:
		ok = utf8.ValidString(cell)
	case c.Kind == Number:
		ok = plain(cell)
	case c.Kind == Time:
		t, err := time.Parse(moment, cell)
		ok = err == nil && t.Format(moment) == cell
	case c.Kind == Day:
		t, err := time.Parse(time.DateOnly, cell)
		ok = err == nil && t.Format(time.DateOnly) == cell
	}
	if !ok {
		return fmt.Errorf("%.60q is no %s", cell, map[Kind]string{Text: "UTF-8 text", Number: "decimal number", Time: "moment in UTC", Day: "day"}[c.Kind])
	}
	return nil
}

// moment is how a time stands in a cell.
const moment = "2006-01-02T15:04:05Z"

// Moment is a time as a cell of the kind Time; the zero time is an empty cell.
func Moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(moment)
}

// writeCSV writes by RFC 4180, with CR LF. A line break inside a cell stays as it is.
func writeCSV(out *bufio.Writer, t Table) error {
	line := func(cells []string) error {
		for i, cell := range cells {
			if i > 0 {
				out.WriteByte(',')
			}
			if strings.ContainsAny(cell, ",\"\r\n") || len(cells) == 1 && cell == "" || strings.Trim(cell, " \t") != cell {
				out.WriteByte('"')
				out.WriteString(strings.ReplaceAll(cell, `"`, `""`))
				out.WriteByte('"')
			} else {
				out.WriteString(cell)
			}
		}
		_, err := out.WriteString("\r\n")
		return err
	}
	cells := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		cells[i] = Guard(c.Heading())
	}
	if err := line(cells); err != nil {
		return err
	}
	return t.each(func(row []string) error {
		for i, cell := range row {
			if t.Columns[i].Kind == Text {
				cell = Guard(cell)
			}
			cells[i] = cell
		}
		return line(cells)
	})
}

// writeJSONL writes one object a line, in the order of the columns. An empty cell is left out. A number
// is a number of JSON, digit by digit; one that begins with a needless zero is none, and stands as a
// string.
func writeJSONL(out *bufio.Writer, t Table) error {
	keys := make([][]byte, len(t.Columns))
	for i, c := range t.Columns {
		key, err := json.Marshal(c.Key)
		if err != nil {
			return err
		}
		keys[i] = append(key, ':')
	}
	return t.each(func(row []string) error {
		before := byte('{')
		for i, cell := range row {
			if cell == "" {
				continue
			}
			out.WriteByte(before)
			before = ','
			out.Write(keys[i])
			if t.Columns[i].Kind == Number && json.Valid([]byte(cell)) {
				out.WriteString(cell)
				continue
			}
			if err := quote(out, cell); err != nil {
				return err
			}
		}
		if before == '{' {
			out.WriteByte('{')
		}
		_, err := out.WriteString("}\n")
		return err
	})
}

// quote writes a text as a string of JSON.
func quote(out *bufio.Writer, text string) error {
	data, err := json.Marshal(text)
	if err != nil {
		return err
	}
	_, err = out.Write(data)
	return err
}
