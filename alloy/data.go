package alloy

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
)

// record is one row of an embedded table, by column name.
type record struct {
	file   string
	line   int
	fields map[string]string
}

// readTable reads an embedded CSV file whose first row names the columns. The files are part of
// the program, so a damaged one is a fault of the program and stops it; tests read them all.
func readTable(file string, data []byte) []record {
	reader := csv.NewReader(bytes.NewReader(data))
	rows, err := reader.ReadAll()
	if err != nil {
		panic(fmt.Sprintf("alloy: embedded %s: %v", file, err))
	}
	records := make([]record, 0, len(rows)-1)
	for i, row := range rows[1:] {
		fields := make(map[string]string, len(row))
		for j, column := range rows[0] {
			fields[column] = strings.TrimSpace(row[j])
		}
		records = append(records, record{file: file, line: i + 2, fields: fields})
	}
	return records
}

// text returns the field of a column.
func (r record) text(column string) string {
	field, ok := r.fields[column]
	if !ok {
		panic(fmt.Sprintf("alloy: embedded %s has no column %s", r.file, column))
	}
	return field
}

// number returns the field of a column as a number, 0 when it is empty.
func (r record) number(column string) float64 {
	field := r.text(column)
	if field == "" {
		return 0
	}
	x, err := strconv.ParseFloat(field, 64)
	if err != nil {
		panic(fmt.Sprintf("alloy: embedded %s line %d, %s: %v", r.file, r.line, column, err))
	}
	return x
}
