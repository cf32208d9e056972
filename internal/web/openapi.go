package web

import (
	"encoding/json"
	"maps"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"wreath/internal/determination"
	"wreath/internal/people"
	"wreath/internal/proof"
	"wreath/internal/station"
	"wreath/internal/value"
)

// Stand-ins for what is not written by encoding/json: a determination's draft and answer, whose schemas
// the determination publishes itself, a picture, lines of JSON, and what an instrument said.
type (
	draftDocument   struct{ json.RawMessage }
	answerDocument  struct{ *determination.Answer }
	pictureDocument struct{}
	linesDocument   struct{}
	streamDocument  struct{}
)

// object is a JSON object under construction.
type object = map[string]any

// description is the OpenAPI 3.1 document, made from the list of endpoints.
func (s *Server) description() object {
	g := &schemas{done: object{}}
	paths := map[string]object{}
	for _, e := range endpoints {
		parameters := []any{}
		for part := range strings.SplitSeq(e.Path, "/") {
			if name, isVariable := strings.CutPrefix(part, "{"); isVariable {
				parameters = append(parameters, object{"name": strings.TrimSuffix(name, "}"), "in": "path", "required": true, "schema": object{"type": "string"}})
			}
		}
		for _, q := range e.Query {
			p := object{"name": q.Name, "in": "query", "schema": object{"type": "string"}}
			if q.About != "" {
				p["description"] = q.About
			}
			parameters = append(parameters, p)
		}
		if e.Keyed {
			parameters = append(parameters, object{"name": "Idempotency-Key", "in": "header", "schema": object{"type": "string", "maxLength": 200}, "description": "your own mark: the same act sent again under it is not done twice"})
		}
		if e.Seen {
			parameters = append(parameters, object{"name": "If-Match", "in": "header", "schema": object{"type": "string"}, "description": "the ETag that you saw; refused with 409 when somebody changed it meanwhile"})
		}
		operation := object{
			"summary": e.Summary, "operationId": operationID(e), "parameters": parameters,
			"responses": object{
				strconv.Itoa(e.status()): object{"description": "done", "content": g.content(e.Response)},
				"default":                object{"description": "what went wrong", "content": object{problemMedia: object{"schema": object{"$ref": "#/components/schemas/Problem"}}}},
			},
			"x-roles": rolesOf(e),
		}
		if e.Request != nil {
			g.given = true
			operation["requestBody"] = object{"required": true, "content": g.content(e.Request)}
			g.given = false
		}
		if paths[apiRoot+e.Path] == nil {
			paths[apiRoot+e.Path] = object{}
		}
		paths[apiRoot+e.Path][strings.ToLower(e.Method)] = operation
	}
	g.of(reflect.TypeOf(problem{}))
	g.done["Problem"] = g.done["web.problem"]
	delete(g.done, "web.problem")
	return object{
		"openapi": "3.1.0",
		"info": object{"title": "Wreath", "version": s.o.Version,
			"description": "The desk for programs. A density determination is no hallmark and no assay certificate; density can't see tungsten in gold. Sign in with a token: Authorization: Bearer."},
		"paths":      paths,
		"components": object{"schemas": g.done, "securitySchemes": object{"token": object{"type": "http", "scheme": "bearer"}}},
		"security":   []any{object{"token": []string{}}, object{}},
	}
}

// content is a document in the form in which it travels.
func (g *schemas) content(document any) object {
	switch document.(type) {
	case pictureDocument:
		return object{"image/jpeg": object{}, "image/png": object{}}
	case streamDocument:
		return object{"application/octet-stream": object{}}
	case linesDocument:
		return object{"application/jsonl": object{}}
	case pdfDocument:
		return object{"application/pdf": object{}}
	case textDocument:
		return object{"text/plain": object{}}
	case svgDocument:
		return object{"image/svg+xml": object{}}
	case jwtDocument:
		return object{proof.MediaType: object{}}
	case tableDocument, listDocument:
		return object{"text/csv": object{}, "application/jsonl": object{}, "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet": object{}}
	}
	return object{"application/json": object{"schema": g.of(reflect.TypeOf(document))}}
}

func operationID(e endpoint) string {
	var out strings.Builder
	out.WriteString(strings.ToLower(e.Method))
	for part := range strings.SplitSeq(e.Path, "/") {
		if part = strings.Trim(part, "{}"); part != "" {
			out.WriteString(strings.ToUpper(part[:1]) + part[1:])
		}
	}
	return out.String()
}

// rolesOf are the roles that may ask for an endpoint.
func rolesOf(e endpoint) (roles []people.Role) {
	for _, role := range people.Roles {
		if people.May([]people.Role{role}, e.Action) || people.May([]people.Role{role}, e.Or) {
			roles = append(roles, role)
		}
	}
	return roles
}

// schemas gathers the schemas of types by their names.
type schemas struct {
	done object
	// given is true for what is sent: documents that have a reader of their own say themselves what is
	// missing, and which fields are filled in here.
	given bool
}

var (
	rawType  = reflect.TypeFor[json.RawMessage]()
	timeType = reflect.TypeFor[time.Time]()
	textType = reflect.TypeFor[interface{ MarshalText() ([]byte, error) }]()
	jsonType = reflect.TypeFor[json.Marshaler]()
)

// of is the schema of a type, by reference where the type has a name.
func (g *schemas) of(t reflect.Type) object {
	switch {
	case t == reflect.TypeFor[draftDocument]():
		return g.published("Draft", determination.DraftSchema)
	case t == reflect.TypeFor[answerDocument]():
		return g.published("Answer", determination.AnswerSchema)
	case t == rawType:
		return object{}
	case t == timeType, t == reflect.TypeFor[value.Moment]():
		return object{"type": "string", "format": "date-time"}
	case t == reflect.TypeFor[value.Decimal]():
		return object{"type": "string", "description": "a decimal number; a plain number is read as well"}
	case t == reflect.TypeFor[station.Draft]():
		return g.published("Draft", determination.DraftSchema)
	}
	switch t.Kind() {
	case reflect.Pointer:
		return g.of(t.Elem())
	case reflect.String:
		return object{"type": "string"}
	case reflect.Bool:
		return object{"type": "boolean"}
	case reflect.Int, reflect.Int64, reflect.Int32, reflect.Uint8, reflect.Uint32:
		return object{"type": "integer"}
	case reflect.Float64:
		return object{"type": "number"}
	case reflect.Map:
		return object{"type": "object", "additionalProperties": g.of(t.Elem())}
	case reflect.Array, reflect.Slice:
		if t.Implements(jsonType) || t.Implements(textType) || t.Elem().Kind() == reflect.Uint8 {
			return object{"type": "string"}
		}
		return object{"type": []string{"array", "null"}, "items": g.of(t.Elem())}
	case reflect.Struct:
		if t.Implements(jsonType) || reflect.PointerTo(t).Implements(jsonType) || t.Implements(textType) {
			switch {
			case t.Implements(textType):
				return object{"type": "string"}
			case !strings.HasSuffix(t.PkgPath(), "/station"):
				return object{} // it says itself how it is written
			}
			// Groups of a station are written field by field, without those that say nothing.
		}
		name := t.String() // with its package: several have a Sheet
		if g.given {
			name += ".given"
		}
		if _, known := g.done[name]; !known {
			g.done[name] = object{} // against a type that holds itself
			g.done[name] = g.structure(t)
		}
		return object{"$ref": "#/components/schemas/" + name}
	}
	return object{}
}

func (g *schemas) structure(t reflect.Type) object {
	properties := object{}
	required := []string{}
	g.fields(t, properties, &required)
	if g.given && !strings.HasSuffix(t.PkgPath(), "/web") || t.Implements(jsonType) {
		required = []string{}
	}
	return object{"type": "object", "properties": properties, "required": required}
}

func (g *schemas) fields(t reflect.Type, properties object, required *[]string) {
	for i := range t.NumField() {
		f := t.Field(i)
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		if f.Anonymous && name == "" && f.Type.Kind() == reflect.Struct {
			g.fields(f.Type, properties, required)
			continue
		}
		if !f.IsExported() || name == "-" {
			continue
		}
		if name == "" {
			name = f.Name
		}
		schema := maps.Clone(g.of(f.Type))
		if f.Type.Kind() == reflect.Pointer && !g.given && !strings.Contains(options, "omit") {
			schema = object{"anyOf": []any{schema, object{"type": "null"}}}
		}
		if doc := f.Tag.Get("doc"); doc != "" {
			schema["description"] = doc
		}
		properties[name] = schema
		if !strings.Contains(options, "omit") && f.Type.Kind() != reflect.Pointer {
			*required = append(*required, name)
		}
	}
	slices.Sort(*required)
}

// published takes in a schema that the determination publishes itself.
func (g *schemas) published(name string, schema func() ([]byte, error)) object {
	if _, known := g.done[name]; !known {
		var doc object
		data, err := schema()
		if err == nil {
			err = json.Unmarshal(data, &doc)
		}
		if err != nil {
			panic(err) // it is made from our own types
		}
		delete(doc, "$schema")
		delete(doc, "$id")
		g.done[name] = doc
	}
	return object{"$ref": "#/components/schemas/" + name}
}
