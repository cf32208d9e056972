package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/people"
)

const apiRoot = "/api/v1"

// endpoint is one thing that a program can ask for. The description that the server publishes is made
// from these, and so is the routing.
type endpoint struct {
	Method, Path string
	Summary      string
	Action       people.Action // that the sender must be allowed
	Or           people.Action // that is enough as well
	Query        []parameter
	Request      any  // a value of the type that is sent; nil for none, see the stand-ins in openapi.go
	Response     any  // a value of the type that comes back
	Status       int  // of an answer that is fine
	Keyed        bool // the sender can give an Idempotency-Key
	Seen         bool // the sender can say by If-Match what it saw
	do           func(s *Server, c *call) (any, error)
}

// endpoints lists all of them.
var endpoints = slices.Concat(recordEndpoints, planEndpoints, sheetEndpoints, itemEndpoints, dealEndpoints, equipmentEndpoints, moneyEndpoints, peopleEndpoints, logEndpoints, liveEndpoints, paperEndpoints)

// parameter is one parameter of the address.
type parameter struct{ Name, About string }

// call is one request of a program.
type call struct {
	r   *http.Request
	w   http.ResponseWriter
	who *desk.Who
	d   *desk.Desk
}

// written is what an endpoint gives that wrote its answer itself.
type written struct{}

func (c *call) by() desk.By { return desk.By{Who: c.who, Key: c.r.Header.Get("Idempotency-Key")} }

// name is the part of the path in braces.
func (c *call) name(of string) string { return c.r.PathValue(of) }

// seen is what the sender saw of a thing, by If-Match.
func (c *call) seen() (int64, error) {
	text := c.r.Header.Get("If-Match")
	if text == "" || text == "*" {
		return 0, nil
	}
	seq, err := strconv.ParseInt(strings.Trim(text, `"`), 10, 64)
	if err != nil || seq < 1 {
		return 0, &problem{Type: "input", Status: http.StatusBadRequest, Title: "If-Match can't be read.", Hint: "Send back the ETag as it came."}
	}
	return seq, nil
}

func (c *call) seenBy() (desk.By, error) {
	by := c.by()
	var err error
	by.Seen, err = c.seen()
	return by, err
}

// tag gives what was shown a mark, by which the sender can say later what it saw.
func (c *call) tag(seq int64) { c.w.Header().Set("ETag", fmt.Sprintf(`"%d"`, seq)) }

// maxJSON is the largest document that is read.
const maxJSON = 4 << 20

// raw reads the document as it came.
func (c *call) raw() (json.RawMessage, error) {
	kind, _, err := mime.ParseMediaType(c.r.Header.Get("Content-Type"))
	if err != nil || kind != "application/json" && !strings.HasSuffix(kind, "+json") {
		return nil, &problem{Type: "media-type", Status: http.StatusUnsupportedMediaType, Title: "This is sent as a document.", Hint: "Send JSON, with Content-Type: application/json."}
	}
	data, err := io.ReadAll(http.MaxBytesReader(c.w, c.r.Body, maxJSON))
	if err != nil {
		return nil, err
	}
	if err := whole(data); err != nil {
		return nil, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The document can't be read: " + err.Error() + ".", Hint: described}
	}
	return data, nil
}

const described = apiRoot + "/openapi.json describes every document."

// whole refuses what is no JSON, or names a field twice, so that two readers can't differ about it.
func whole(data []byte) error {
	if !json.Valid(data) {
		var any any
		return json.Unmarshal(data, &any)
	}
	d := json.NewDecoder(bytes.NewReader(data))
	var names []map[string]bool // of the objects around; nil for a list
	expectsName := false
	for {
		token, err := d.Token()
		if err != nil {
			return nil // at its end: it is valid
		}
		switch t := token.(type) {
		case json.Delim:
			switch t {
			case '{':
				names, expectsName = append(names, map[string]bool{}), true
				continue
			case '[':
				names, expectsName = append(names, nil), false
				continue
			}
			names = names[:len(names)-1]
		case string:
			if expectsName {
				if names[len(names)-1][t] {
					return fmt.Errorf("the field %q stands in it twice", t)
				}
				names[len(names)-1][t], expectsName = true, false
				continue
			}
		}
		expectsName = len(names) > 0 && names[len(names)-1] != nil
	}
}

// body reads the document that was sent; unknown fields are refused by name.
func body[T any](c *call) (out T, err error) {
	data, err := c.raw()
	if err != nil {
		return out, err
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&out); err != nil {
		return out, unread(err)
	}
	return out, nil
}

// unread says which field of a document can't be read.
func unread(err error) error {
	p := &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The document can't be read: " + strings.TrimPrefix(err.Error(), "json: ") + ".", Hint: described}
	if name, is := strings.CutPrefix(err.Error(), "json: unknown field "); is {
		p.Field, _ = strconv.Unquote(name)
		p.Title = "There is no field " + p.Field + " in this document."
		return p
	}
	if typed, is := errors.AsType[*json.UnmarshalTypeError](err); is {
		p.Field = typed.Field
		p.Title = fmt.Sprintf("The field %s can't be %s.", typed.Field, article(typed.Value))
	}
	return p
}

func article(what string) string {
	switch what {
	case "array", "object":
		return "an " + what
	case "bool":
		return "true or false"
	}
	return "a " + what
}

// api routes the endpoints.
func (s *Server) api() {
	for _, e := range endpoints {
		s.mux.HandleFunc(e.Method+" "+apiRoot+e.Path, func(w http.ResponseWriter, r *http.Request) {
			if err := s.answer(w, r, e); err != nil {
				s.fail(w, r, err)
			}
		})
	}
	s.mux.HandleFunc("GET "+apiRoot+"/openapi.json", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "application/openapi+json;version=3.1")
		json.NewEncoder(w).Encode(s.description())
	})
}

// answer does what one request asks for.
func (s *Server) answer(w http.ResponseWriter, r *http.Request, e endpoint) error {
	d := s.current()
	if d == nil {
		return &problem{Type: "first-run", Status: http.StatusServiceUnavailable, Title: "No shop is open yet.", Hint: "Open the pages and go through the first run."}
	}
	if err := checkCall(r, e); err != nil {
		return err
	}
	who, err := s.who(r, r.Method != http.MethodGet)
	if err != nil {
		return err
	}
	if !who.May(e.Action) && !who.May(e.Or) {
		return refused(who, e.Action)
	}
	out, err := e.do(s, &call{r, w, who, d})
	if err != nil {
		return err
	}
	if _, is := out.(written); is {
		return nil
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(e.status())
	encoder := json.NewEncoder(w)
	encoder.SetEscapeHTML(false)
	if err := encoder.Encode(out); err != nil {
		s.o.Log.Warn("answer was not taken", "path", r.URL.Path, "error", err)
	}
	return nil
}

func (e endpoint) status() int {
	if e.Status == 0 {
		return http.StatusOK
	}
	return e.Status
}

// checkCall refuses marks and parameters that would otherwise be passed over in silence.
func checkCall(r *http.Request, e endpoint) error {
	if len(r.Header.Get("Idempotency-Key")) > 200 {
		return &problem{Type: "input", Status: http.StatusBadRequest, Title: "The Idempotency-Key is too long.", Hint: "Use at most 200 characters."}
	}
	for name, values := range r.URL.Query() {
		switch {
		case !slices.ContainsFunc(e.Query, func(p parameter) bool { return p.Name == name }):
			return &problem{Type: "input", Status: http.StatusBadRequest, Title: fmt.Sprintf("There is no parameter %q here.", name), Hint: described, Field: name}
		case len(values) > 1:
			return &problem{Type: "input", Status: http.StatusBadRequest, Title: fmt.Sprintf("The parameter %q is given twice.", name), Hint: "Give it once.", Field: name}
		}
	}
	return nil
}

// count is a parameter that is a number within bounds.
func (c *call) count(name string, unless, least, most int64) (int64, error) {
	text := c.r.URL.Query().Get(name)
	if text == "" {
		return unless, nil
	}
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < least || n > most {
		return 0, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: fmt.Sprintf("The parameter %s can't be %q.", name, text), Hint: fmt.Sprintf("Give %d to %d.", least, most), Field: name}
	}
	return n, nil
}

// further is the address of the next part of a list.
func (c *call) further(name string, value int64) string {
	next := c.r.URL.Query()
	next.Set(name, strconv.FormatInt(value, 10))
	return c.r.URL.Path + "?" + next.Encode()
}

// partOf cuts a part out of a list that only grows: what comes after so many rows.
func partOf[T any](c *call, all []T) (part []T, next string, err error) {
	after, err := c.count("after", 0, 0, 1<<53)
	if err != nil {
		return nil, "", err
	}
	limit, err := c.count("limit", 100, 1, maxPart)
	if err != nil {
		return nil, "", err
	}
	part = orEmpty(all[min(after, int64(len(all))):])
	if int64(len(part)) > limit {
		part, next = part[:limit], c.further("after", after+limit)
	}
	return part, next, nil
}

const maxPart = 1000

// parts are the parameters of a list that comes in parts.
var parts = []parameter{{"after", "as next says"}, {"limit", "1 to 1000; 100 unless given"}}

// orEmpty is a list that is written as [], never as null.
func orEmpty[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}
