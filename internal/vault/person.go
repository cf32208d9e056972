package vault

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"wreath/internal/strictjson"
)

// MaxDocument is the largest personal document that is read, in bytes.
const MaxDocument = 64 << 10

// Format is the number of the form in which a Person is written now.
const Format = 1

// Person is what is noted of one customer. Nothing in it is mandatory by itself; a register rule may
// ask for fields.
type Person struct {
	Format   int       `json:"format,omitempty" doc:"form of this document, 1"`
	Name     string    `json:"name,omitempty" doc:"name as in the identity document"`
	Address  string    `json:"address,omitempty" doc:"postal address; may have several lines"`
	BornOn   string    `json:"born_on,omitempty" doc:"date of birth, yyyy-mm-dd"`
	Identity *Identity `json:"identity_document,omitempty" doc:"the identity document that was seen"`
	Contact  string    `json:"contact,omitempty" doc:"telephone number or address for messages"`
	Note     string    `json:"note,omitempty" doc:"anything else; the customer can ask to read it"`
}

// Identity is an identity document that somebody saw; no copy of it is kept.
type Identity struct {
	Kind       string `json:"kind,omitempty" doc:"passport, identity card, ..."`
	Number     string `json:"number,omitempty" doc:"its number"`
	Issuer     string `json:"issuer,omitempty" doc:"who issued it"`
	ValidUntil string `json:"valid_until,omitempty" doc:"its last day, yyyy-mm-dd"`
}

// Longest texts, in characters.
const (
	maxName, maxAddress, maxContact, maxNote = 200, 500, 200, 2000
	maxKind, maxNumber, maxIssuer            = 60, 60, 200
)

// Fields are the names of the fields that a register rule can ask for.
var Fields = []string{"name", "address", "born_on", "identity_document", "contact"}

// Has tells whether one of Fields is filled in. An identity document counts when its kind and number
// are there.
func (p Person) Has(field string) bool {
	given := func(s string) bool { return strings.TrimSpace(s) != "" }
	switch field {
	case "name":
		return given(p.Name)
	case "address":
		return given(p.Address)
	case "born_on":
		return given(p.BornOn)
	case "identity_document":
		return p.Identity != nil && given(p.Identity.Kind) && given(p.Identity.Number)
	case "contact":
		return given(p.Contact)
	}
	return false
}

// Missing lists the asked fields that are not filled in, in the order of asked.
func (p Person) Missing(asked []string) []string {
	return slices.DeleteFunc(slices.Clone(asked), p.Has)
}

// String and GoString keep personal data out of logs and messages.
func (p Person) String() string   { return "personal data (not shown)" }
func (p Person) GoString() string { return p.String() }

// String and GoString keep personal data out of logs and messages.
func (i Identity) String() string   { return "identity document (not shown)" }
func (i Identity) GoString() string { return i.String() }

// Decode reads one person from JSON. A *strictjson.FieldError names the field at fault.
func Decode(data []byte) (Person, error) {
	var p Person
	if len(data) > MaxDocument {
		return p, bad("", "Shorten the texts.", "the personal data are larger than %d bytes", MaxDocument)
	}
	if err := strictjson.Unmarshal(data, &p); err != nil {
		return Person{}, withoutContent(err)
	}
	if p.Format == 0 {
		p.Format = Format
	}
	if err := p.Check(); err != nil {
		return Person{}, err
	}
	return p, nil
}

// Encode writes a person as JSON that Decode reads back to the same value.
func (p Person) Encode() ([]byte, error) {
	if p.Format == 0 {
		p.Format = Format
	}
	if err := p.Check(); err != nil {
		return nil, err
	}
	return json.Marshal(p)
}

// Check returns a *strictjson.FieldError for the first text that is too long or holds characters
// that do not belong into it, and for a day that does not exist.
func (p Person) Check() error {
	if p.Format != 0 && p.Format != Format {
		return bad("format", "Read this document with the program that wrote it, or a newer one.",
			"is %d, but this program knows %d", p.Format, Format)
	}
	id := Identity{}
	if p.Identity != nil {
		id = *p.Identity
	}
	for _, f := range []struct {
		path, text string
		longest    int
		lines      bool
	}{
		{"name", p.Name, maxName, false},
		{"address", p.Address, maxAddress, true},
		{"contact", p.Contact, maxContact, false},
		{"note", p.Note, maxNote, true},
		{"identity_document.kind", id.Kind, maxKind, false},
		{"identity_document.number", id.Number, maxNumber, false},
		{"identity_document.issuer", id.Issuer, maxIssuer, false},
	} {
		if err := checkText(f.path, f.text, f.longest, f.lines); err != nil {
			return err
		}
	}
	if err := checkDay("born_on", p.BornOn); err != nil {
		return err
	}
	return checkDay("identity_document.valid_until", id.ValidUntil)
}

// withoutContent takes out of an error what it quotes from the document: an error may end in a log.
func withoutContent(err error) error {
	var field *strictjson.FieldError
	if !errors.As(err, &field) {
		return err
	}
	if i := strings.LastIndex(field.Reason, ", but "); i >= 0 {
		field.Reason = "is of another kind; " + field.Reason[i+len(", but "):]
	}
	return field
}

func checkDay(path, text string) error {
	if text == "" {
		return nil
	}
	// The text itself stays out of the message: it is personal.
	if _, err := time.Parse(time.DateOnly, text); err != nil {
		return bad(path, "Write year, month and day with hyphens, for example 1984-02-29.", "is not a day of the calendar")
	}
	return nil
}

func bad(path, hint, reason string, args ...any) error {
	return &strictjson.FieldError{Path: path, Reason: fmt.Sprintf(reason, args...), Hint: hint}
}
