// Package strictjson reads JSON into Go structs without forgiving anything: an unknown field, a
// field given twice, text where a number is meant, a number too large to hold, or a file that
// ends too early is an error that names the place by its path and says how to mend it.
//
// encoding/json forgives several of these and names places by byte offset only.
package strictjson

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"

	"wreath/internal/nearest"
)

// FieldError says what is wrong with one place of a document.
type FieldError struct {
	Path   string // "liquid.temperature_c", "air_g[1]", or "" for the whole document
	Reason string
	Hint   string
}

func (e *FieldError) Error() string {
	if e.Path == "" {
		return e.Reason
	}
	return e.Path + ": " + e.Reason
}

// Scalar is implemented by types that read themselves from one JSON number or text.
type Scalar interface {
	// FromNumber takes a JSON number as it was written.
	FromNumber(text string) error
	// FromText takes a JSON string.
	FromText(text string) error
}

// Unmarshal reads exactly one JSON document into the struct that dst points to.
func Unmarshal(data []byte, dst any) error {
	if err := encoding(data); err != nil {
		return err
	}
	d := &decoder{dec: json.NewDecoder(bytes.NewReader(data)), data: data}
	d.dec.UseNumber()
	tok, err := d.token("")
	if err != nil {
		return err
	}
	if err := d.value("", tok, reflect.ValueOf(dst).Elem()); err != nil {
		return err
	}
	if _, err := d.dec.Token(); err != io.EOF {
		return &FieldError{Reason: "more follows after the end of the document",
			Hint: "Give one document per file, or use `wreath batch` with one document per line."}
	}
	return nil
}

func encoding(data []byte) error {
	switch {
	case len(bytes.TrimSpace(data)) == 0:
		return &FieldError{Reason: "the file is empty", Hint: "Give one JSON document; the folder examples has some to start from."}
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}) || bytes.HasPrefix(data, []byte{0xfe, 0xff}) || bytes.IndexByte(data, 0) >= 0:
		return &FieldError{Reason: "the file is not UTF-8 text (it looks like UTF-16)", Hint: "Save it as UTF-8."}
	case bytes.HasPrefix(data, []byte{0xef, 0xbb, 0xbf}):
		return &FieldError{Reason: "the file starts with a byte order mark", Hint: "Save it as UTF-8 without a byte order mark."}
	case !utf8.Valid(data):
		return &FieldError{Reason: "the file is not UTF-8 text", Hint: "Save it as UTF-8 (not Latin-1 or another code page)."}
	}
	return nil
}

type decoder struct {
	dec  *json.Decoder
	data []byte
}

// token reads the next token; path says where, for the error.
func (d *decoder) token(path string) (json.Token, error) {
	tok, err := d.dec.Token()
	if err == nil {
		return tok, nil
	}
	line, column := d.place()
	var syntax *json.SyntaxError
	switch {
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return nil, &FieldError{path, fmt.Sprintf("the document ends too early, on line %d", line),
			"Close every brace, bracket and quote; was the file cut off?"}
	case errors.As(err, &syntax):
		hint := "Check commas, quotes and brackets there. Numbers take a point and no quotes: 12.4431."
		return nil, &FieldError{path, fmt.Sprintf("not JSON on line %d, column %d: %v", line, column, syntax), hint}
	}
	return nil, &FieldError{path, err.Error(), "Check the JSON on line " + strconv.Itoa(line) + "."}
}

func (d *decoder) place() (line, column int) {
	read := d.data[:min(int(d.dec.InputOffset()), len(d.data))]
	return 1 + bytes.Count(read, []byte("\n")), len(read) - bytes.LastIndexByte(read, '\n')
}

func (d *decoder) value(path string, tok json.Token, dst reflect.Value) error {
	if tok == nil {
		return &FieldError{path, "is null", "Leave the field out instead."}
	}
	if dst.Kind() == reflect.Pointer {
		if dst.IsNil() {
			dst.Set(reflect.New(dst.Type().Elem()))
		}
		return d.value(path, tok, dst.Elem())
	}
	if s, ok := dst.Addr().Interface().(Scalar); ok {
		return scalar(path, tok, s)
	}
	if raw, ok := dst.Addr().Interface().(*json.RawMessage); ok {
		return d.raw(path, tok, raw)
	}
	switch dst.Kind() {
	case reflect.Struct:
		if tok != json.Delim('{') {
			return &FieldError{path, "is " + word(tok) + ", but a group of fields in braces is meant", example(dst.Type())}
		}
		return d.object(path, dst)
	case reflect.Slice:
		return d.list(path, tok, dst)
	case reflect.Float64:
		return number(path, tok, dst)
	case reflect.Int:
		n, ok := tok.(json.Number)
		i, err := strconv.Atoi(string(n))
		if !ok || err != nil {
			return &FieldError{path, "is " + word(tok) + ", but a whole number is meant", "Write it without quotes or point: 2."}
		}
		dst.SetInt(int64(i))
	case reflect.String:
		s, ok := tok.(string)
		if !ok {
			return &FieldError{path, "is " + word(tok) + ", but text is meant", `Put it in quotes: "…".`}
		}
		dst.SetString(s)
	case reflect.Bool:
		b, ok := tok.(bool)
		if !ok {
			return &FieldError{path, "is " + word(tok) + ", but true or false is meant", "Write true or false, without quotes."}
		}
		dst.SetBool(b)
	default:
		panic("strictjson: no rule for " + dst.Type().String())
	}
	return nil
}

// raw takes a group of fields as it stands, for a reader of its own.
func (d *decoder) raw(path string, tok json.Token, dst *json.RawMessage) error {
	if tok != json.Delim('{') {
		return &FieldError{path, "is " + word(tok) + ", but a group of fields in braces is meant", "Write it in braces."}
	}
	from := d.dec.InputOffset() - 1
	for depth := 1; depth > 0; {
		tok, err := d.token(path)
		if err != nil {
			return err
		}
		switch tok {
		case json.Delim('{'), json.Delim('['):
			depth++
		case json.Delim('}'), json.Delim(']'):
			depth--
		}
	}
	*dst = bytes.Clone(d.data[from:d.dec.InputOffset()])
	return nil
}

func scalar(path string, tok json.Token, s Scalar) error {
	var err error
	switch v := tok.(type) {
	case json.Number:
		err = s.FromNumber(string(v))
	case string:
		err = s.FromText(v)
	default:
		return &FieldError{path, "is " + word(tok) + ", but a number is meant", "Write it with a point and no quotes: 12.4431."}
	}
	var field *FieldError
	if errors.As(err, &field) {
		field.Path = path
	}
	return err
}

func number(path string, tok json.Token, dst reflect.Value) error {
	n, ok := tok.(json.Number)
	if !ok {
		return &FieldError{path, "is " + word(tok) + ", but a number is meant", "Write it with a point and no quotes: 12.4431."}
	}
	f, err := strconv.ParseFloat(string(n), 64)
	if err != nil || math.IsInf(f, 0) {
		return &FieldError{path, "is " + string(n) + ", which is too large to be a number here", "Check the exponent and the digits."}
	}
	dst.SetFloat(f)
	return nil
}

// list reads an array; a single value where a list is meant counts as a list of one.
func (d *decoder) list(path string, tok json.Token, dst reflect.Value) error {
	if tok != json.Delim('[') {
		item := reflect.New(dst.Type().Elem()).Elem()
		if err := d.value(path, tok, item); err != nil {
			return err
		}
		dst.Set(reflect.Append(dst, item))
		return nil
	}
	for i := 0; ; i++ {
		at := path + "[" + strconv.Itoa(i) + "]"
		tok, err := d.token(at)
		if err != nil {
			return err
		}
		if tok == json.Delim(']') {
			return nil
		}
		item := reflect.New(dst.Type().Elem()).Elem()
		if err := d.value(at, tok, item); err != nil {
			return err
		}
		dst.Set(reflect.Append(dst, item))
	}
}

func (d *decoder) object(path string, dst reflect.Value) error {
	fields := Fields(dst.Type())
	var seen [64]bool
	for {
		tok, err := d.token(path)
		if err != nil {
			return err
		}
		if tok == json.Delim('}') {
			return nil
		}
		name := tok.(string) // the decoder gives nothing else where a key stands
		at := Join(path, name)
		i := slices.IndexFunc(fields, func(f Field) bool { return f.Name == name })
		if i < 0 {
			return Unknown(at, name, dst.Type())
		}
		if seen[i] {
			return &FieldError{at, "is given twice", "Keep one of them."}
		}
		seen[i] = true
		if tok, err = d.token(at); err != nil {
			return err
		}
		if err := d.value(at, tok, dst.Field(fields[i].Index)); err != nil {
			return err
		}
	}
}

// Field is one field of a document's struct.
type Field struct {
	Name  string // its name in the document
	Doc   string // what it means, from the tag doc
	Index int    // its place in the struct
}

var fieldCache sync.Map // of reflect.Type to []Field

// Fields lists the fields of a struct that carry a json tag, in order.
func Fields(t reflect.Type) []Field {
	if f, ok := fieldCache.Load(t); ok {
		return f.([]Field)
	}
	var fields []Field
	for i := range t.NumField() {
		if name, _, _ := strings.Cut(t.Field(i).Tag.Get("json"), ","); name != "" && name != "-" {
			fields = append(fields, Field{name, t.Field(i).Tag.Get("doc"), i})
		}
	}
	fieldCache.Store(t, fields)
	return fields
}

// Grouped is true of a type that a document writes as a group of fields.
func Grouped(t reflect.Type) bool {
	return t.Kind() == reflect.Struct && !reflect.PointerTo(t).Implements(reflect.TypeFor[Scalar]())
}

// Unknown is the error for a field that the struct t does not have; it names the nearest one.
func Unknown(path, name string, t reflect.Type) error {
	var names []string
	for _, f := range Fields(t) {
		names = append(names, f.Name)
	}
	if n := nearest.Word(name, names); n != "" {
		return &FieldError{path, "there is no such field", "Did you mean " + n + "?"}
	}
	return &FieldError{path, "there is no such field", "Fields known here: " + strings.Join(names, ", ") + "."}
}

// Join appends a field's name to a path.
func Join(path, name string) string {
	if path == "" {
		return name
	}
	return path + "." + name
}

func word(tok json.Token) string {
	switch v := tok.(type) {
	case json.Delim:
		if v == '[' {
			return "a list"
		}
		return "a group in braces"
	case string:
		return fmt.Sprintf("the text %q", v)
	case bool:
		return strconv.FormatBool(v)
	case json.Number:
		return "the number " + string(v)
	}
	return "nothing"
}

func example(t reflect.Type) string {
	fields := Fields(t)
	if len(fields) == 0 {
		return "Write it in braces."
	}
	return fmt.Sprintf("Write it in braces, for example {%q: …}.", fields[0].Name)
}
