package station

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"wreath/internal/nearest"
	"wreath/internal/strictjson"
)

// Format is the number of the form in which stations and instruments are written.
const Format = 1

// MaxDocument is the largest document of a station or an instrument that is read, in bytes.
const MaxDocument = 1 << 20

// FieldError says what is wrong with one field of a document and how to mend it.
type FieldError = strictjson.FieldError

// Ref names one version of a station or an instrument.
type Ref struct {
	ID      string `json:"id" doc:"of the station or instrument"`
	Version int    `json:"version" doc:"its version, counted from 1"`
}

func (r Ref) String() string { return fmt.Sprintf("%s, version %d", r.ID, r.Version) }

func (r *Ref) check(path string) error {
	if r == nil {
		return nil
	}
	return first(checkID(path+".id", r.ID), checkVersion(path+".version", r.Version))
}

// Date is a day as ISO 8601 writes it: 2026-11-26. Dates compare as text does.
type Date string

// Day is the date that a clock shows at its own place.
func Day(t time.Time) Date { return Date(t.Format(time.DateOnly)) }

// time is the start of the day in UTC; only differences of such times are used.
func (d Date) time() (time.Time, error) { return time.Parse(time.DateOnly, string(d)) }

// daysUntil counts the days from one date to another; both have been checked.
func (d Date) daysUntil(other Date) int {
	from, _ := d.time()
	to, _ := other.time()
	return int(to.Sub(from).Hours() / 24)
}

func checkDate(path string, d Date, required bool) error {
	if d == "" && !required {
		return nil
	}
	if d == "" {
		return bad(path, "Give the day as year, month, day: 2026-11-26.", "is missing")
	}
	if t, err := d.time(); err != nil || t.Year() < 1900 || t.Year() > 2999 {
		return bad(path, "Give the day as year, month, day: 2026-11-26.", "%q is no date", d)
	}
	return nil
}

// MaxID is the longest id, in bytes.
const MaxID = 64

func checkID(path, id string) error {
	switch {
	case id == "":
		return bad(path, "Give it a short mark of your own, such as B-1.", "is missing")
	case len(id) > MaxID:
		return bad(path, fmt.Sprintf("Use at most %d letters.", MaxID), "is %d letters long", len(id))
	case strings.TrimSpace(id) != id || strings.ContainsFunc(id, func(r rune) bool { return r < ' ' || r == 0x7f }):
		return bad(path, "Use letters, digits, points and dashes.", "%q starts or ends with a space, or holds a control character", id)
	}
	return nil
}

func checkVersion(path string, v int) error {
	if v < 1 {
		return bad(path, "Count versions from 1.", "%d is no version", v)
	}
	return nil
}

func bad(path, hint, reason string, args ...any) error {
	return &FieldError{Path: path, Reason: fmt.Sprintf(reason, args...), Hint: hint}
}

// oneOf checks a word against the words known; "" passes.
func oneOf(path, got string, known ...string) error {
	if got == "" || slices.Contains(known, got) {
		return nil
	}
	hint := "Known: " + strings.Join(known, ", ") + "."
	if n := nearest.Word(got, known); n != "" {
		hint = "Did you mean " + n + "? " + hint
	}
	return bad(path, hint, "there is no %q", got)
}

// within checks an optional number.
func within(path string, x *float64, low, high float64, unit string) error {
	if x == nil || *x >= low && *x <= high {
		return nil
	}
	return bad(path, strings.TrimSpace(fmt.Sprintf("It lies between %g and %g %s", low, high, unit))+"; check the value and its unit.",
		"%s cannot be right", strings.TrimSpace(fmt.Sprintf("%g %s", *x, unit)))
}

// first is the first error, so that a person mends one thing at a time.
func first(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// decode reads a document of a person strictly.
func decode(data []byte, dst any) error {
	if len(data) > MaxDocument {
		return bad("", "Give one station or one instrument.", "the document is larger than %d bytes", MaxDocument)
	}
	return strictjson.Unmarshal(data, dst)
}

func checkFormat(format int) error {
	if format == Format {
		return nil
	}
	return bad("format", fmt.Sprintf("This program reads format %d; a newer one may read it.", Format), "%d is not known here", format)
}

// encode writes a document for keeping.
func encode(v any) ([]byte, error) { return json.Marshal(v) }
