package tables

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
)

// readJSONL reads one JSON object a line. A number keeps its digits; null is an empty cell. Names that come
// later than in the first line are further columns.
func readJSONL(data []byte, limits Limits) (*Sheet, error) {
	s := &Sheet{Format: JSONL}
	no := 0
	for line := range bytes.Lines(data) {
		no++
		if len(bytes.TrimSpace(line)) == 0 {
			continue
		}
		cells := make([]string, len(s.Headings))
		err := fields(line, func(name, cell string) error {
			i := slices.Index(s.Headings, name)
			if i < 0 {
				if i = len(s.Headings); i == limits.Columns {
					return fmt.Errorf("there are more than %d names", limits.Columns)
				}
				s.Headings, cells = append(s.Headings, name), append(cells, "")
			}
			cells[i] = cell
			return nil
		})
		if err != nil {
			return nil, unread(no, `Write one object a line, such as {"serial": "A 1001", "metal": "gold"}.`, "%v", err)
		}
		if err := s.add(no, cells, limits); err != nil {
			return nil, err
		}
	}
	if len(s.Headings) == 0 {
		return nil, unread(0, `Write one object a line, such as {"serial": "A 1001", "metal": "gold"}.`, "no line of the file names anything")
	}
	for i := range s.Rows {
		row := &s.Rows[i]
		row.Cells = append(row.Cells, make([]string, len(s.Headings)-len(row.Cells))...)
	}
	return s, nil
}

// fields goes through the names and values of one object.
func fields(line []byte, each func(name, cell string) error) error {
	dec := json.NewDecoder(bytes.NewReader(line))
	dec.UseNumber()
	if start, err := dec.Token(); err != nil || start != json.Delim('{') {
		return errors.New("the line is no JSON object")
	}
	var names []string
	for dec.More() {
		token, err := dec.Token()
		if err != nil {
			return readable(err)
		}
		name, _ := token.(string) // in an object that the decoder accepts, it is one
		if name == "" {
			return errors.New("a name is empty")
		}
		if slices.Contains(names, name) {
			return fmt.Errorf("the name %.40q stands twice", name)
		}
		names = append(names, name)
		if token, err = dec.Token(); err != nil {
			return readable(err)
		}
		var cell string
		switch v := token.(type) {
		case string:
			cell = v
		case json.Number:
			cell = v.String()
		case bool:
			cell = fmt.Sprint(v)
		case json.Delim:
			return fmt.Errorf("the value of %.40q is no text and no number", name)
		}
		if err := each(name, cell); err != nil {
			return err
		}
	}
	if _, err := dec.Token(); err != nil {
		return readable(err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return errors.New("something stands behind the object")
	}
	return nil
}

func readable(err error) error {
	if err == io.EOF || errors.Is(err, io.ErrUnexpectedEOF) {
		return errors.New("the object ends too early")
	}
	return fmt.Errorf("the line is no JSON: %w", err)
}
