package station

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"

	"wreath/internal/strictjson"
)

// Change is one difference between two versions of a document. Old and New are as they stand in
// the documents, in JSON; "" where there is nothing.
type Change struct {
	Path string `json:"path" doc:"where: liquid.temperature_c, certificates[0].number"`
	Old  string `json:"old,omitempty" doc:"what stood there"`
	New  string `json:"new,omitempty" doc:"what stands there now"`
}

// Compare lists what differs between two JSON documents, in the order of the paths. Numbers are
// compared as written: 5.1 and 5.10 differ, since a reading may end in a nought.
func Compare(before, after []byte) ([]Change, error) {
	x, err := tree(before)
	if err != nil {
		return nil, fmt.Errorf("the old version: %w", err)
	}
	y, err := tree(after)
	if err != nil {
		return nil, fmt.Errorf("the new version: %w", err)
	}
	var changes []Change
	compare("", x, y, &changes)
	return changes, nil
}

// absent stands where a document has nothing; null is a value of its own.
type absent struct{}

func tree(data []byte) (any, error) {
	if len(data) == 0 {
		return absent{}, nil
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	var v any
	if err := d.Decode(&v); err != nil {
		return nil, err
	}
	return v, nil
}

func compare(path string, x, y any, changes *[]Change) {
	group, isGroup := x.(map[string]any)
	other, otherGroup := y.(map[string]any)
	list, isList := x.([]any)
	otherList, otherIsList := y.([]any)
	switch {
	case isGroup && otherGroup:
		keys := slices.Collect(maps.Keys(group))
		for key := range other {
			if _, ok := group[key]; !ok {
				keys = append(keys, key)
			}
		}
		slices.Sort(keys)
		for _, key := range keys {
			compare(strictjson.Join(path, key), entry(group, key), entry(other, key), changes)
		}
	case isList && otherIsList:
		for n := range max(len(list), len(otherList)) {
			compare(path+"["+strconv.Itoa(n)+"]", element(list, n), element(otherList, n), changes)
		}
	default:
		before, after := written(x), written(y)
		if before != after {
			*changes = append(*changes, Change{path, before, after})
		}
	}
}

func entry(group map[string]any, key string) any {
	if v, ok := group[key]; ok {
		return v
	}
	return absent{}
}

func element(list []any, n int) any {
	if n < len(list) {
		return list[n]
	}
	return absent{}
}

func written(v any) string {
	if _, ok := v.(absent); ok {
		return ""
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return fmt.Sprint(v) // not reached: v was read from JSON
	}
	return string(bytes.TrimSuffix(b.Bytes(), []byte("\n")))
}

// ChangesOf lists what differs between two versions of a station or of an instrument.
func ChangesOf[T Station | Instrument](before, after *T) ([]Change, error) {
	x, err := encode(before)
	if err != nil {
		return nil, err
	}
	y, err := encode(after)
	if err != nil {
		return nil, err
	}
	return Compare(x, y)
}
