package batch

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"wreath/internal/determination"
)

// drafts reads rows and returns their drafts as they would be evaluated.
func drafts(t *testing.T, input string, base *determination.Draft) (read []*determination.Draft, messages string) {
	t.Helper()
	b, err := Open(strings.NewReader(input), "rows", Options{Base: base, Workers: 1})
	if err != nil {
		t.Fatal(err)
	}
	b.evaluate = func(d *determination.Draft, _ determination.Options) (*determination.Answer, error) {
		read = append(read, d)
		return &determination.Answer{}, nil
	}
	var out, said strings.Builder
	if _, err := b.Run(t.Context(), &out, &said); err != nil {
		t.Fatal(err)
	}
	return read, said.String()
}

// sample is a value of a field as a cell holds it and as JSON does.
func sample(t *testing.T, f field) (cell, document string) {
	t.Helper()
	kind := reflect.TypeFor[determination.Draft]().FieldByIndex(f.index[:1]).Type
	for _, i := range f.index[1:] {
		kind = kind.Elem().Field(i).Type
	}
	switch kind {
	case reflect.TypeFor[string]():
		return "words of it", `"words of it"`
	case reflect.TypeFor[*float64]():
		return "12.50", "12.50"
	case reflect.TypeFor[*int]():
		return "2", "2"
	case reflect.TypeFor[*bool]():
		return "false", "false"
	case reflect.TypeFor[[]float64]():
		return "585 750", "[585, 750]"
	case reflect.TypeFor[[]string]():
		return "magnet sound", `["magnet", "sound"]`
	case reflect.TypeFor[[]determination.Reading]():
		return "12.50 62.2155 ct", `[12.50, "62.2155 ct"]`
	}
	t.Fatalf("%s is a %v: the test has no sample", f.path, kind)
	return "", ""
}

// TestEveryField gives every field of a draft a column of its own, and asks for the same draft as
// from JSON. A cell that does not fit is refused with the name of the field, a reason and a way out.
func TestEveryField(t *testing.T) {
	seen := 0
	for _, f := range draftFields {
		if f.group {
			continue
		}
		seen++
		cell, document := sample(t, f)
		if f.list && strings.Contains(cell, "ct") {
			cell, document = "12.50 12.51", "[12.50, 12.51]" // a unit stands on all readings of a cell or on none
		}
		for i := strings.Count(f.path, "."); i >= 0; i-- {
			document = fmt.Sprintf(`{%q: %s}`, strings.Split(f.path, ".")[i], document)
		}
		want, err := determination.Decode([]byte(document))
		if err != nil {
			t.Errorf("%s: %v", document, err)
			continue
		}
		got, messages := drafts(t, f.path+"\n"+cell+"\n", nil)
		if len(got) != 1 || !reflect.DeepEqual(got[0], want) {
			t.Errorf("%s: a cell %q is not read as JSON %s: %s", f.path, cell, document, messages)
		}
		if cell == "words of it" || cell == "magnet sound" {
			continue // any text fits a field of words; the evaluation refuses a word that it does not know
		}
		got, messages = drafts(t, f.path+"\nwarm\n", nil)
		if len(got) != 0 || !strings.HasPrefix(messages, "wreath: row 2: "+f.path+": \"warm\" is n") || !strings.Contains(messages, "; ") {
			t.Errorf("%s: a cell \"warm\" is answered by %q", f.path, messages)
		}
	}
	if seen < 60 {
		t.Errorf("%d fields, want all of a draft", seen)
	}
}

// TestNumbersThatAreNone: what looks like a number to somebody, in a comma-parted and in a
// semicolon-parted file.
func TestNumbersThatAreNone(t *testing.T) {
	for _, c := range []struct{ cell, comma, semicolon string }{
		{"NaN", "not a number", "not a number"},
		{"-Inf", "not a number", "not a number"},
		{"1e999", "not a number", "not a number"},
		{"0x10", "not a number", "not a number"},
		{"1_000", "not a number", "not a number"},
		{"1\u202f234.5", "not a number", "not a number"},
		{"7,5", "decimal comma", ""},
		{"1.234,5", "mixes points and commas", "mixes points and commas"},
		{"7.5.1", "not a number", "not a number"},
	} {
		for _, way := range []struct{ delimiter, want string }{{",", c.comma}, {";", c.semicolon}} {
			got, messages := drafts(t, fmt.Sprintf("id%sair_g\nx%s\"%s\"\n", way.delimiter, way.delimiter, c.cell), nil)
			if way.want == "" {
				if len(got) != 1 {
					t.Errorf("%q between %q is refused: %s", c.cell, way.delimiter, messages)
				}
				continue
			}
			if len(got) != 0 || !strings.HasPrefix(messages, "wreath: row 2: air_g: ") || !strings.Contains(messages, way.want) {
				t.Errorf("%q between %q is answered by %q, want …%s…", c.cell, way.delimiter, messages, way.want)
			}
		}
	}
}

// TestFill: the row's own value goes before the base's, field by field down to the innermost group;
// a list is taken whole.
func TestFill(t *testing.T) {
	const station = `{"note": "n", "arrangement": "hanging", "air_g": [1, 2],
		"liquid": {"kind": "water", "temperature_c": 20, "proof": {"air_g": [39.65, 39.66], "liquid_g": [34.6655], "density_kg_m3": 7930}},
		"balance": {"resolution_g": 0.0001}}`
	base, err := determination.Decode([]byte(station))
	if err != nil {
		t.Fatal(err)
	}
	row := `{"id": "a", "arrangement": "standing", "air_g": [7.4218], "liquid": {"temperature_c": 0, "proof": {"air_g": [5.5]}}, "item": {"stones": false}}` + "\n{}\n"
	got, _ := drafts(t, row, base)
	for i, document := range []string{
		`{"id": "a", "note": "n", "arrangement": "standing", "air_g": [7.4218], "item": {"stones": false},
		"liquid": {"kind": "water", "temperature_c": 0, "proof": {"air_g": [5.5], "liquid_g": [34.6655], "density_kg_m3": 7930}},
		"balance": {"resolution_g": 0.0001}}`,
		station,
	} {
		want, err := determination.Decode([]byte(document))
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(got[i], want) {
			a, _ := json.Marshal(got[i])
			b, _ := json.Marshal(want)
			t.Errorf("row %d is filled to\n%s, want\n%s", i+1, a, b)
		}
	}
	if before, _ := determination.Decode([]byte(station)); !reflect.DeepEqual(base, before) {
		t.Error("the base was changed")
	}
}

// TestDetails: with details a row is answered as its draft is alone, with the row in front.
func TestDetails(t *testing.T) {
	out, _, sum := run(t, `{"id": "a", "claim": {"metal": "gold", "fineness": 750}, "air_g": 7.4218, "liquid_g": [6.9431, 6.9428], "liquid": {"kind": "water", "temperature_c": 21.4}}
{"id": "b", "air_g": 7.4218}

{"id": "c", "air_g": 20.4410, "liquid_g": 18.4722, "liquid": {"kind": "water", "temperature_c": 21.4}}
`, Options{Details: true, Evaluate: whereNeeded})
	lines := strings.SplitAfter(out, "\n")
	if len(lines) != 4 || sum.Failed != 1 || !strings.Contains(lines[1], `"error":"liquid_g: `) && !strings.Contains(lines[1], `"error":"liquid: `) {
		t.Fatalf("%v: %s", sum, out)
	}
	for line, document := range map[int]string{
		0: `{"id": "a", "claim": {"metal": "gold", "fineness": 750}, "air_g": 7.4218, "liquid_g": [6.9431, 6.9428], "liquid": {"kind": "water", "temperature_c": 21.4}}`,
		2: `{"id": "c", "air_g": 20.4410, "liquid_g": 18.4722, "liquid": {"kind": "water", "temperature_c": 21.4}}`,
	} {
		d, err := determination.Decode([]byte(document))
		if err != nil {
			t.Fatal(err)
		}
		answer, err := determination.Evaluate(d, whereNeeded)
		if err != nil {
			t.Fatal(err)
		}
		alone, err := json.Marshal(answer)
		if err != nil {
			t.Fatal(err)
		}
		var got, want map[string]any
		if err := json.Unmarshal([]byte(lines[line]), &got); err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(alone, &want); err != nil {
			t.Fatal(err)
		}
		want["row"] = float64(line + 1)
		if line == 2 {
			want["row"] = 4.0 // after a blank line
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("answer %d is\n%s, alone it is\n%s", line+1, lines[line], alone)
		}
	}
}
