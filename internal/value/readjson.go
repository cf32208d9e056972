package value

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"strings"

	"wreath/internal/strictjson"
)

// readJSON reads a list of prices. Each is read strictly on its own, so that one bad one does not
// hide the rest.
func readJSON(data []byte) ([]PriceRow, error) {
	dec := json.NewDecoder(bytes.NewReader(data))
	counted, lines := 0, 1
	line := func() int { // where the next value begins
		from := min(int(dec.InputOffset()), len(data))
		for from < len(data) && strings.IndexByte(" \t\r\n,", data[from]) >= 0 {
			from++
		}
		lines += bytes.Count(data[counted:from], []byte("\n"))
		counted = from
		return lines
	}
	notJSON := func(err error) error {
		return fileFault("Check commas, quotes and brackets there; was the file cut off?", "not JSON from line %d on: %v", line(), err)
	}
	if _, err := dec.Token(); err != nil {
		return nil, notJSON(err)
	}
	var rows []PriceRow
	for dec.More() {
		if len(rows) == MaxPriceRows {
			return nil, errTooManyRows
		}
		row := PriceRow{Line: line()}
		var raw json.RawMessage
		if err := dec.Decode(&raw); err != nil {
			return nil, notJSON(err)
		}
		row.read(raw)
		rows = append(rows, row)
	}
	if _, err := dec.Token(); err != nil {
		return nil, notJSON(err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return nil, fileFault("End the file after the list.", "more follows after the end of the list, on line %d", line())
	}
	if len(rows) == 0 {
		return nil, fileFault(`Give prices: [{"metal": "gold", …}].`, "the list holds no price")
	}
	return rows, nil
}

func (row *PriceRow) read(raw []byte) {
	if row.tooLong(len(raw)) {
		return
	}
	err := strictjson.Unmarshal(raw, &row.Price)
	if err == nil {
		return
	}
	row.unread = true
	var field *strictjson.FieldError
	if errors.As(err, &field) {
		row.Faults = Faults{field}
		return
	}
	row.Faults.add("", "Check this price.", "%v", err)
}
