package strictjson

import (
	"encoding/json"
	"errors"
	"reflect"
	"strings"
	"testing"
)

type bath struct {
	TemperatureC *float64 `json:"temperature_c"`
	Kind         string   `json:"kind"`
}

type sheet struct {
	ID      string    `json:"id"`
	AirG    []float64 `json:"air_g"`
	Liquid  *bath     `json:"liquid"`
	Wires   *int      `json:"wires"`
	Stones  *bool     `json:"stones"`
	LiquidG []float64 `json:"liquid_g"`
}

func TestUnmarshal(t *testing.T) {
	var got sheet
	err := Unmarshal([]byte(`{"id": "R-1", "air_g": [12.4431, 12.4433], "liquid_g": 11.6472,
		"liquid": {"kind": "water", "temperature_c": 21.4}, "wires": 2, "stones": false}`), &got)
	if err != nil {
		t.Fatal(err)
	}
	celsius, wires, stones := 21.4, 2, false
	want := sheet{"R-1", []float64{12.4431, 12.4433}, &bath{&celsius, "water"}, &wires, &stones, []float64{11.6472}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

func TestUnmarshalRefuses(t *testing.T) {
	for _, c := range []struct{ name, in, path, reason, hint string }{
		{"empty", "  \n", "", "empty", "examples"},
		{"unknown field", `{"air_g": [1], "liqiud": {}}`, "liqiud", "no such field", "liquid"},
		{"unknown field within", `{"liquid": {"temprature_c": 21}}`, "liquid.temprature_c", "no such field", "temperature_c"},
		{"nothing near", `{"colour_of_moon": 1}`, "colour_of_moon", "no such field", "air_g"},
		{"twice", `{"id": "a", "id": "b"}`, "id", "given twice", "one"},
		{"text for a number", `{"air_g": ["12,4431"]}`, "air_g[0]", `"12,4431"`, "12.4431"},
		{"truncated", `{"air_g": [12.4431,`, "air_g[1]", "ends too early", "cut off"},
		{"truncated word", `{"air_g": [12.44`, "air_g[1]", "ends too early", "cut off"},
		{"null", `{"liquid": null}`, "liquid", "null", "Leave"},
		{"too large", `{"air_g": [1e999]}`, "air_g[0]", "too large", "exponent"},
		{"NaN", `{"air_g": [NaN]}`, "air_g[0]", "not JSON", "12.4431"},
		{"two documents", `{"id": "a"} {"id": "b"}`, "", "more follows", "batch"},
		{"number for a group", `{"liquid": 21.4}`, "liquid", "group of fields", "temperature_c"},
		{"list for a number", `{"liquid": {"temperature_c": [21.4]}}`, "liquid.temperature_c", "a list", "point"},
		{"half a wire", `{"wires": 1.5}`, "wires", "whole number", "2"},
		{"text for yes", `{"stones": "no"}`, "stones", "true or false", "quotes"},
		{"Latin-1", "{\"id\": \"caf\xe9\"}", "", "UTF-8", "UTF-8"},
		{"UTF-16", "\xff\xfe{\x00}\x00", "", "UTF-16", "UTF-8"},
		{"mark", "\xef\xbb\xbf{}", "", "byte order mark", "without"},
		{"bare list", `[1, 2]`, "", "group of fields", "id"},
	} {
		var got sheet
		err := Unmarshal([]byte(c.in), &got)
		var f *FieldError
		if !errors.As(err, &f) {
			t.Errorf("%s: error %v, want a FieldError", c.name, err)
			continue
		}
		if f.Path != c.path || !strings.Contains(f.Reason, c.reason) || !strings.Contains(f.Hint, c.hint) {
			t.Errorf("%s: got path %q, reason %q, hint %q; want %q, …%s…, …%s…", c.name, f.Path, f.Reason, f.Hint, c.path, c.reason, c.hint)
		}
	}
}

// FuzzUnmarshal: whatever is accepted is JSON that encoding/json accepts too, and no input
// crashes or loses its error's hint.
func FuzzUnmarshal(f *testing.F) {
	for _, s := range []string{`{"id": "R-1", "air_g": [12.4431]}`, `{"liquid": {"temperature_c": 21.4}}`, `{"air_g": [1e999]}`, "{", `{"id":"\u00e9"}`, `[]`, ``} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var got sheet
		err := Unmarshal(data, &got)
		if err == nil {
			if !json.Valid(data) {
				t.Errorf("accepted what is not JSON: %q", data)
			}
			return
		}
		var field *FieldError
		if !errors.As(err, &field) || field.Hint == "" || field.Reason == "" {
			t.Errorf("%q: error %v has no reason or hint", data, err)
		}
	})
}

// TestRaw takes a group as it stands, and finds every mistake in it and behind it.
func TestRaw(t *testing.T) {
	type holder struct {
		Raw  json.RawMessage `json:"raw"`
		Then string          `json:"then"`
	}
	var h holder
	if err := Unmarshal([]byte(`{"raw":  {"a": [1, {"b": "}"}], "c": 1.50}, "then": "x"}`), &h); err != nil || string(h.Raw) != `{"a": [1, {"b": "}"}], "c": 1.50}` || h.Then != "x" {
		t.Errorf("%s, %q, %v", h.Raw, h.Then, err)
	}
	for _, doc := range []string{`{"raw": 1}`, `{"raw": "x"}`, `{"raw": [1]}`, `{"raw": null}`, `{"raw": {"a": 1}`, `{"raw": {"a" 1}}`, `{"raw": {}, "raw": {}}`} {
		if err := Unmarshal([]byte(doc), new(holder)); err == nil {
			t.Errorf("%s is read", doc)
		}
	}
}
