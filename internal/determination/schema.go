package determination

import (
	"encoding/json"
	"reflect"
	"strings"

	"wreath/internal/strictjson"
)

// schema is as much of JSON Schema 2020-12 as drafts and answers need. Field order is kept.
type schema struct {
	Schema      string      `json:"$schema,omitempty"`
	ID          string      `json:"$id,omitempty"`
	Title       string      `json:"title,omitempty"`
	Description string      `json:"description,omitempty"`
	Type        any         `json:"type,omitempty"`
	Enum        []string    `json:"enum,omitempty"`
	AnyOf       []*schema   `json:"anyOf,omitempty"`
	Items       *schema     `json:"items,omitempty"`
	Properties  *properties `json:"properties,omitempty"`
	Required    []string    `json:"required,omitempty"`
	Closed      *bool       `json:"additionalProperties,omitempty"`
}

// properties keeps the order of the fields, which encoding/json maps do not.
type properties struct {
	names   []string
	schemas []*schema
}

func (p *properties) MarshalJSON() ([]byte, error) {
	var b strings.Builder
	for i, name := range p.names {
		if i > 0 {
			b.WriteByte(',')
		}
		key, _ := json.Marshal(name)
		value, err := json.Marshal(p.schemas[i])
		if err != nil {
			return nil, err
		}
		b.Write(key)
		b.WriteByte(':')
		b.Write(value)
	}
	return []byte("{" + b.String() + "}"), nil
}

// words lists what a text field of the draft may hold, where that is a closed list; a field of one
// object alone goes before those of the same name elsewhere.
var words = map[string][]string{
	"arrangement": {"hanging", "standing"},
	"method":      Methods,
	"kind":        {"water", "ethanol-water", "measured"},
	"metal":       {"gold", "silver", "platinum", "palladium"},
	"colour":      {"yellow", "red", "pink", "green", "white"},
	"zero":        {"tared", "read"},

	"Done.act":        settlerKeys(),
	"Evidence.kind":   EvidenceKinds,
	"Evidence.result": {"none", "weak", "strong"},
	"Evidence.shape":  {"coin", "bar"},

	"SurfacePart.metal": surfaceMetals(),
	"Weights.use":       weightingKeys(),
}

// DraftSchema is the JSON Schema of a draft.
func DraftSchema() ([]byte, error) {
	return document(reflect.TypeFor[Draft](), "draft", "A determination as it is given to wreath determine", true)
}

// AnswerSchema is the JSON Schema of an answer.
func AnswerSchema() ([]byte, error) {
	return document(reflect.TypeFor[Answer](), "answer", "What wreath determine answers", false)
}

func document(t reflect.Type, name, title string, draft bool) ([]byte, error) {
	s := describe(t, draft)
	s.Schema, s.ID, s.Title = "https://json-schema.org/draft/2020-12/schema", "urn:wreath:schema:"+name+":1", title
	return json.MarshalIndent(s, "", "  ")
}

func describe(t reflect.Type, draft bool) *schema {
	switch {
	case t == reflect.TypeFor[Reading]():
		return &schema{AnyOf: []*schema{{Type: "number"}, {Type: "string", Description: `a number with its own unit, such as "62.2155 ct"`}}}
	case t.Kind() == reflect.Pointer:
		return describe(t.Elem(), draft)
	case t.Kind() == reflect.Slice:
		list := &schema{Type: "array", Items: describe(t.Elem(), draft)}
		if !draft {
			return list
		}
		return &schema{AnyOf: []*schema{list, describe(t.Elem(), draft)}}
	case t.Kind() == reflect.Struct:
		closed := false
		s := &schema{Type: "object", Properties: &properties{}, Closed: &closed}
		for _, f := range strictjson.Fields(t) {
			field := t.Field(f.Index)
			p := describe(field.Type, draft)
			p.Description = f.Doc
			if draft && field.Type.Kind() == reflect.String {
				if p.Enum = words[t.Name()+"."+f.Name]; p.Enum == nil {
					p.Enum = words[f.Name]
				}
			}
			omits := strings.Contains(field.Tag.Get("json"), ",omitempty")
			if !draft && field.Type.Kind() == reflect.Pointer && !omits {
				p.Type = []any{p.Type, "null"}
			}
			if !draft && !omits {
				s.Required = append(s.Required, f.Name)
			}
			s.Properties.names = append(s.Properties.names, f.Name)
			s.Properties.schemas = append(s.Properties.schemas, p)
		}
		return s
	case t.Kind() == reflect.Float64:
		return &schema{Type: "number"}
	case t.Kind() == reflect.Int:
		return &schema{Type: "integer"}
	case t.Kind() == reflect.Bool:
		return &schema{Type: "boolean"}
	case t.Kind() == reflect.String:
		return &schema{Type: "string"}
	}
	panic("schema: no rule for " + t.String())
}
