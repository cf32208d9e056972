package batch

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"wreath/internal/determination"
	"wreath/internal/nearest"
	"wreath/internal/strictjson"
)

// field is one field of a draft, named by its path: "liquid.temperature_c".
type field struct {
	path  string
	index []int // of the struct fields on the way to it
	list  bool  // holds several values
	group bool  // holds fields, no value of its own
}

// draftFields lists every field of a draft, groups too.
var draftFields = listFields(nil, "", nil, reflect.TypeFor[determination.Draft]())

func listFields(known []field, path string, index []int, t reflect.Type) []field {
	for _, f := range strictjson.Fields(t) {
		at, way := strictjson.Join(path, f.Name), append(slices.Clone(index), f.Index)
		kind := t.Field(f.Index).Type
		if kind.Kind() == reflect.Pointer && kind.Elem().Kind() == reflect.Struct {
			known = append(known, field{path: at, index: way, group: true})
			known = listFields(known, at, way, kind.Elem())
			continue
		}
		if kind.Kind() == reflect.Slice && strictjson.Grouped(kind.Elem()) {
			continue // a list of groups has no place in a cell; give it as JSON lines
		}
		known = append(known, field{path: at, index: way, list: kind.Kind() == reflect.Slice})
	}
	return known
}

// findColumns finds the field of each column of a CSV header. A column without a name has the
// zero field; its cells must be empty.
func findColumns(header []string) ([]field, error) {
	columns := make([]field, len(header))
	named := false
	for i, name := range header {
		if name == "" {
			continue
		}
		named = true
		at := slices.IndexFunc(draftFields, func(f field) bool { return f.path == name })
		if at < 0 {
			return nil, columnError(i, name, "is not known", suggest(name))
		}
		f := draftFields[at]
		if f.group {
			return nil, columnError(i, name, "is a group of fields", "Give each field a column of its own: "+strings.Join(fieldsOf(name), ", ")+".")
		}
		if !f.list && slices.Contains(header[:i], name) {
			return nil, columnError(i, name, "is there twice", "Only columns of readings may be repeated; keep one.")
		}
		columns[i] = f
	}
	if !named {
		return nil, &determination.InputError{Reason: "the first line names no columns", Hint: headerHint}
	}
	return columns, nil
}

const headerHint = "The first line names the columns by the fields of a draft, parted by commas, semicolons or tabs, such as id,claim.metal,claim.fineness,air_g,liquid_g; wreath schema draft lists them."

func columnError(place int, name, reason, hint string) error {
	return &determination.InputError{Reason: fmt.Sprintf("column %d, %s, %s", place+1, printable(name), reason), Hint: hint}
}

// suggest names the field that an unknown column most likely means.
func suggest(name string) string {
	small := strings.ToLower(name)
	var paths, ends []string
	for _, f := range draftFields {
		if f.group {
			continue
		}
		paths = append(paths, f.path)
		if strings.HasSuffix(f.path, "."+small) {
			ends = append(ends, f.path)
		}
	}
	switch n := nearest.Word(small, paths); {
	case slices.Contains(paths, small):
		return "Did you mean " + small + "?"
	case len(ends) == 1:
		return "Did you mean " + ends[0] + "?"
	case len(ends) > 1:
		return "Did you mean one of " + strings.Join(ends, ", ") + "?"
	case n != "":
		return "Did you mean " + n + "?"
	}
	return headerHint
}

func fieldsOf(group string) (paths []string) {
	for _, f := range draftFields {
		if strings.HasPrefix(f.path, group+".") && !f.group {
			paths = append(paths, f.path)
		}
	}
	return paths
}
