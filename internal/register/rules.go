package register

import (
	"fmt"
	"time"

	"wreath/internal/strictjson"
)

// MaxDocument is the largest rules document that is read, in bytes.
const MaxDocument = 1 << 20

// Format is the number of the form in which Rules are written now.
const Format = 1

// Rules are the register rules of one place, edition after edition.
type Rules struct {
	Format   int       `json:"format" doc:"form of this document, 1"`
	Name     string    `json:"name" doc:"name of the place or business whose rules these are"`
	Note     string    `json:"note,omitempty" doc:"anything a reader should know"`
	TimeZone string    `json:"time_zone" doc:"zone of the IANA table whose calendar counts, such as Europe/Vienna"`
	Editions []Edition `json:"editions,omitempty" doc:"what holds from one day to another"`
}

// Edition is what holds from one day to another, both included.
type Edition struct {
	Edition      string        `json:"edition" doc:"name of this edition"`
	Source       string        `json:"source" doc:"where the rules are written, so that a person can read them"`
	ValidFrom    Date          `json:"valid_from" doc:"first day, yyyy-mm-dd"`
	ValidUntil   *Date         `json:"valid_until,omitempty" doc:"last day, yyyy-mm-dd; open when left out"`
	Numbering    *Numbering    `json:"numbering,omitempty" doc:"how deals are numbered"`
	Holds        []Hold        `json:"holds,omitempty" doc:"how long items are held back"`
	Identity     []Identity    `json:"identity,omitempty" doc:"when personal data are asked"`
	CashCeilings []CashCeiling `json:"cash_ceilings,omitempty" doc:"how much may be paid in cash"`
	Retention    []Retention   `json:"retention,omitempty" doc:"how long records and personal data are kept"`
}

// Kinds are the kinds of deal that a rule can name. Measuring alone makes no deal, but a job of its own.
var Kinds = []string{"buy", "sell", "exchange", "pledge", "consign", "measure-only"}

// None are the rules of a fresh installation: nothing is asked, nothing is held.
func None(timeZone string) Rules {
	return Rules{Format: Format, Name: "no register rules", TimeZone: timeZone}
}

// Decode reads rules from JSON and checks them. A *strictjson.FieldError names the field at fault.
func Decode(data []byte) (Rules, error) {
	var r Rules
	if len(data) > MaxDocument {
		return r, bad("", "Are these register rules?", "the document is larger than %d bytes", MaxDocument)
	}
	if err := strictjson.Unmarshal(data, &r); err != nil {
		return Rules{}, err
	}
	if _, err := New(r); err != nil {
		return Rules{}, err
	}
	return r, nil
}

// Book is Rules ready for use. It may be used by several goroutines at once.
type Book struct {
	rules Rules
	zone  *time.Location
}

// New checks rules and makes them ready. The first fault that Lint finds is the error.
func New(r Rules) (*Book, error) {
	for _, f := range Lint(r) {
		if !f.Caution {
			return nil, &strictjson.FieldError{Path: f.Path, Reason: f.Reason, Hint: f.Hint}
		}
	}
	zone, err := time.LoadLocation(r.TimeZone)
	if err != nil {
		return nil, err
	}
	return &Book{r, zone}, nil
}

// Rules are what the book was made from.
func (b *Book) Rules() Rules { return b.rules }

// Zone is the time zone whose calendar counts.
func (b *Book) Zone() *time.Location { return b.zone }

// Day is the day of the calendar at an instant.
func (b *Book) Day(t time.Time) Date { return dateOf(t.In(b.zone)) }

// StartOfDay is the first instant of a day.
func (b *Book) StartOfDay(d Date) time.Time { return startOfDay(d, b.zone) }

// End is the first instant after a period that began at from, whose day does not count; for holds,
// terms of loans and times of keeping.
func (b *Book) End(from time.Time, p Period) time.Time {
	return startOfDay(p.After(b.Day(from)).AddDays(1), b.zone)
}

// EndSameTime is the end of a period at the time of day at which it began.
func (b *Book) EndSameTime(from time.Time, p Period) time.Time {
	return sameTime(from, p.After(b.Day(from)), b.zone)
}

// At is the edition that holds at an instant; false when none does.
func (b *Book) At(t time.Time) (Edition, bool) {
	day := b.Day(t)
	for _, e := range b.rules.Editions {
		if e.holds(day) {
			return e, true
		}
	}
	return Edition{}, false
}

func (e Edition) holds(day Date) bool {
	return !day.Before(e.ValidFrom) && (e.ValidUntil == nil || !e.ValidUntil.Before(day))
}

// stamp writes an instant for people of the zone.
func (b *Book) stamp(t time.Time) string {
	return t.In(b.zone).Format("2006-01-02 15:04 -07:00") + " (" + b.zone.String() + ")"
}

// Reason says which rule of which edition has an effect, in one sentence.
type Reason struct {
	Rule    string `json:"rule"`
	Edition string `json:"edition"`
	Text    string `json:"text"`
}

func bad(path, hint, reason string, args ...any) error {
	return &strictjson.FieldError{Path: path, Reason: fmt.Sprintf(reason, args...), Hint: hint}
}
