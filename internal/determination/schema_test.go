package determination

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// compiled compiles one of our schemas with an independent library.
func compiled(t *testing.T, schema func() ([]byte, error)) *jsonschema.Schema {
	t.Helper()
	text, err := schema()
	if err != nil {
		t.Fatal(err)
	}
	document, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("schema.json", document); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestSchemas holds every example against the draft's schema, and its answer against the
// answer's.
func TestSchemas(t *testing.T) {
	draft, answer := compiled(t, DraftSchema), compiled(t, AnswerSchema)
	files, _ := filepath.Glob("../../examples/*.json")
	if len(files) < 12 {
		t.Fatalf("only %d examples", len(files))
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		instance, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		if err := draft.Validate(instance); err != nil {
			t.Errorf("%s: %v", file, err)
		}
		d, err := Decode(data)
		if err != nil {
			t.Errorf("%s: %v", file, err)
			continue
		}
		if filepath.Base(file) == "station.json" {
			continue // what rows of a batch share: no readings of its own
		}
		a, err := Evaluate(d, Options{Version: "test"})
		if err != nil {
			t.Errorf("%s: %v", file, err)
			continue
		}
		out, err := json.Marshal(a)
		if err != nil {
			t.Fatal(err)
		}
		if instance, err = jsonschema.UnmarshalJSON(bytes.NewReader(out)); err != nil {
			t.Fatal(err)
		}
		if err := answer.Validate(instance); err != nil {
			t.Errorf("%s: %v", file, err)
		}
	}
	for _, wrong := range []string{`{"air_q": [1]}`, `{"air_g": ["a", {}]}`, `{"liquid": {"kind": "wather"}}`, `{"claim": {"fineness": "750"}}`} {
		instance, _ := jsonschema.UnmarshalJSON(bytes.NewReader([]byte(wrong)))
		if draft.Validate(instance) == nil {
			t.Errorf("the schema lets %s pass", wrong)
		}
	}
}

// TestSchemaNamesEveryField: a field without a description is one that nobody can use.
func TestSchemaNamesEveryField(t *testing.T) {
	for _, schema := range []func() ([]byte, error){DraftSchema, AnswerSchema} {
		text, err := schema()
		if err != nil {
			t.Fatal(err)
		}
		var tree any
		if err := json.Unmarshal(text, &tree); err != nil {
			t.Fatal(err)
		}
		described(t, "", tree)
	}
}

func described(t *testing.T, path string, node any) {
	t.Helper()
	object, ok := node.(map[string]any)
	if !ok {
		return
	}
	if properties, ok := object["properties"].(map[string]any); ok {
		for name, p := range properties {
			if d, _ := p.(map[string]any)["description"].(string); d == "" {
				t.Errorf("%s.%s has no description", path, name)
			}
			described(t, path+"."+name, p)
		}
	}
	described(t, path+"[]", object["items"])
	if any, ok := object["anyOf"].([]any); ok {
		for _, a := range any {
			described(t, path, a)
		}
	}
}
