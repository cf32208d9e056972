package station

import (
	"encoding/json"
	"reflect"

	"wreath/internal/determination"
	"wreath/internal/strictjson"
)

// Draft, Liquid and Hanger are parts of a determination's draft as documents that are kept: what
// is left out stays out when they are written again.
type (
	Draft  determination.Draft
	Liquid determination.Liquid
	Hanger determination.Hanger
)

func (d Draft) MarshalJSON() ([]byte, error)      { return appendGroup(nil, reflect.ValueOf(d)) }
func (d *Draft) UnmarshalJSON(data []byte) error  { return strictjson.Unmarshal(data, d) }
func (l Liquid) MarshalJSON() ([]byte, error)     { return appendGroup(nil, reflect.ValueOf(l)) }
func (l *Liquid) UnmarshalJSON(data []byte) error { return strictjson.Unmarshal(data, l) }
func (h Hanger) MarshalJSON() ([]byte, error)     { return appendGroup(nil, reflect.ValueOf(h)) }
func (h *Hanger) UnmarshalJSON(data []byte) error { return strictjson.Unmarshal(data, h) }

// WriteDraft writes a draft as its document: fields in the order of the struct, nothing that was
// left out, readings as they were given. Decoding it gives the same draft.
func WriteDraft(d *determination.Draft) ([]byte, error) {
	return appendGroup(nil, reflect.ValueOf(*d))
}

func appendGroup(b []byte, group reflect.Value) ([]byte, error) {
	b = append(b, '{')
	comma := false
	for _, f := range strictjson.Fields(group.Type()) {
		v := group.Field(f.Index)
		if left(v) {
			continue
		}
		if comma {
			b = append(b, ',')
		}
		comma = true
		b = append(append(append(b, '"'), f.Name...), '"', ':')
		var err error
		if b, err = appendValue(b, v); err != nil {
			return nil, err
		}
	}
	return append(b, '}'), nil
}

// left is true of a field that the document leaves out. An empty group is not left out: it says
// that there is a liquid, for example, and nothing more.
func left(v reflect.Value) bool {
	switch v.Kind() {
	case reflect.Slice, reflect.String:
		return v.Len() == 0
	case reflect.Pointer:
		return v.IsNil()
	}
	return false
}

func appendValue(b []byte, v reflect.Value) ([]byte, error) {
	switch {
	case v.Kind() == reflect.Pointer:
		return appendValue(b, v.Elem())
	case v.Kind() == reflect.Slice:
		b = append(b, '[')
		for i := range v.Len() {
			if i > 0 {
				b = append(b, ',')
			}
			var err error
			if b, err = appendValue(b, v.Index(i)); err != nil {
				return nil, err
			}
		}
		return append(b, ']'), nil
	case v.Type() == reflect.TypeFor[determination.Reading]():
		return appendReading(b, v.Interface().(determination.Reading))
	case v.Kind() == reflect.Struct:
		return appendGroup(b, v)
	}
	text, err := json.Marshal(v.Interface())
	return append(b, text...), err
}

func appendReading(b []byte, r determination.Reading) ([]byte, error) {
	if r.Text != "" && isNumber(r.Text) {
		return append(b, r.Text...), nil
	}
	var text []byte
	var err error
	if r.Text == "" {
		text, err = json.Marshal(r.Gram)
	} else {
		text, err = json.Marshal(r.Text)
	}
	return append(b, text...), err
}

// isNumber is true of a text that is a JSON number by itself.
func isNumber(text string) bool {
	c := text[0]
	return (c == '-' || c >= '0' && c <= '9') && json.Valid([]byte(text))
}
