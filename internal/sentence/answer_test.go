package sentence

import (
	"bytes"
	"encoding/json"
	"errors"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"wreath/alloy"
	"wreath/gem"
	"wreath/internal/determination"
	"wreath/internal/strictjson"
	"wreath/mint"
)

// documents are the drafts of the examples, and what those of them come to that have a mistake.
func documents(t *testing.T) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	for _, pattern := range []string{"../../examples/*.json", "../../examples/*.jsonl", "../../examples/wrong/*.json", "testdata/*.json"} {
		names, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range names {
			data, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			if !strings.HasSuffix(name, "l") {
				out[name] = data
				continue
			}
			for i, line := range bytes.Split(bytes.TrimSpace(data), []byte("\n")) {
				out[name+":"+string(rune('1'+i))] = line
			}
		}
	}
	if len(out) < 15 {
		t.Fatalf("only %d documents", len(out))
	}
	return out
}

// spoken gathers the texts of an answer that people read. Names of fields and marks are not among them,
// nor what the draft itself says of the item.
func spoken(t *testing.T, a *determination.Answer) []string {
	t.Helper()
	data, err := json.Marshal(a)
	if err != nil {
		t.Fatal(err)
	}
	var tree any
	if err := json.Unmarshal(data, &tree); err != nil {
		t.Fatal(err)
	}
	var out []string
	var walk func(name string, v any)
	walk = func(name string, v any) {
		switch v := v.(type) {
		case map[string]any:
			for name, v := range v {
				walk(name, v)
			}
		case []any:
			for _, v := range v {
				walk(name, v)
			}
		case string:
			if !slices.Contains([]string{"id", "item", "version", "formulas", "tables", "field", "key", "group", "family", "typed", "instead", "source", "law", "tolerance_source"}, name) {
				out = append(out, v)
			}
		}
	}
	walk("", tree)
	return out
}

// TestEveryAnswerIsSaid asks for no English in what the examples come to.
func TestEveryAnswerIsSaid(t *testing.T) {
	texts := map[string]string{}
	for name, data := range documents(t) {
		draft, err := determination.Decode(data)
		var answer *determination.Answer
		if err == nil {
			answer, err = determination.Evaluate(draft, determination.Options{})
		}
		if err != nil {
			var field *strictjson.FieldError
			if !errors.As(err, &field) {
				t.Fatalf("%s: %v", name, err)
			}
			texts[field.Reason], texts[field.Hint] = name, name
			continue
		}
		for _, text := range spoken(t, answer) {
			texts[text] = name
		}
	}
	for _, m := range mint.Types() { // names and laws of coins stay as their country writes them
		delete(texts, m.Name)
		delete(texts, m.Country+" "+m.Name)
		delete(texts, m.Law)
		for text := range texts {
			if m.Law != "" && strings.HasPrefix(text, m.Law) || strings.Contains(text, "as the source says") {
				delete(texts, text)
			}
		}
	}
	saidAll(t, texts)
}

// TestEveryNameIsSaid asks for the names of what the tables hold.
func TestEveryNameIsSaid(t *testing.T) {
	names := map[string]string{}
	for _, f := range alloy.Families() {
		names[f.Name] = "families"
	}
	for _, l := range alloy.Lookalikes() {
		names[l.Name], names[l.Imitates] = "look-alikes", "look-alikes"
	}
	for _, s := range gem.All() {
		names[s.FullName()] = "stones"
	}
	for _, r := range determination.HouseRules {
		names[r.Name], names[r.Note], names[r.Printed] = "house rules", "house rules", "house rules"
	}
	delete(names, "")
	saidAll(t, names)
}

func saidAll(t *testing.T, texts map[string]string) {
	t.Helper()
	for _, lang := range Languages {
		book := In(lang)
		for _, text := range slices.Sorted(maps.Keys(texts)) {
			if said, known := book.Knows(text); !known {
				t.Errorf("%s: %q of %s becomes %q", lang, text, texts[text], said)
			}
		}
	}
}
