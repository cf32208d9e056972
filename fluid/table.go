package fluid

import (
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
)

// row is one line of an embedded table, by the names of its columns.
type row struct {
	file   string
	line   int
	fields map[string]string
}

// mustRows reads an embedded table. The tables are part of the program, so one that cannot be
// read stops it at the start.
func mustRows(file, text string) []row {
	records, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		panic(fmt.Sprintf("%s: %v", file, err))
	}
	var rows []row
	for i, record := range records[1:] {
		fields := make(map[string]string, len(record))
		for j, name := range records[0] {
			fields[name] = record[j]
		}
		rows = append(rows, row{file: file, line: i + 2, fields: fields})
	}
	return rows
}

func (r row) text(column string) string {
	s, ok := r.fields[column]
	if !ok {
		panic(fmt.Sprintf("%s: no column %q", r.file, column))
	}
	return s
}

func (r row) number(column string) float64 {
	x, err := strconv.ParseFloat(r.text(column), 64)
	if err != nil {
		panic(fmt.Sprintf("%s, line %d, %s: %q is not a number", r.file, r.line, column, r.text(column)))
	}
	return x
}

// numberOrZero returns 0 where the table leaves the field empty.
func (r row) numberOrZero(column string) float64 {
	if r.text(column) == "" {
		return 0
	}
	return r.number(column)
}

func (r row) integer(column string) int { return int(r.number(column)) }
