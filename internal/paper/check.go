package paper

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"wreath/internal/determination"
)

// Missing is something that a report must say and the facts don't hold.
type Missing struct {
	Clause string `json:"clause" doc:"of ISO/IEC 17025:2017, 7.8.2.1: a to p"`
	What   string `json:"what" doc:"what is missing"`
	Hint   string `json:"hint" doc:"what to fill in, and where"`
}

// Check lists what ISO/IEC 17025:2017 asks of a report in clause 7.8.2.1 and the facts don't hold, in
// the order of the clause. Title, end mark, page numbers and the statements of (k) and (l) are written
// by the form itself.
func (f *Facts) Check() []Missing {
	var out []Missing
	need := func(there bool, clause, what, hint string) {
		if !there {
			out = append(out, Missing{clause, what, hint})
		}
	}
	said := func(s string) bool { return strings.TrimSpace(s) != "" }
	answer, err := f.Answer()
	readable := err == nil
	need(said(f.Shop.Name), "b", "name of the shop", "Set the name of the shop.")
	need(said(f.Shop.Address), "b", "address of the shop", "Set the address of the shop.")
	need(said(f.Place()), "c", "place where it was weighed", "Write down the place of the station, or the address of the shop.")
	need(f.Report != nil && said(f.Report.Number), "d", "number of the report", "Issue the report; it gets its number then.")
	need(said(f.Customer.ID) || said(f.Customer.Why), "e", "customer, or why none is named", "Enter the customer with the deal, or say why none is named.")
	need(readable && said(answer.Method), "f", "method", "Evaluate and record the determination anew.")
	need(said(f.Description()), "g", "description of the item", "Say what the item is.")
	need(said(f.Condition()), "g", "condition of the item", "Write down how the item arrived: clean, worn, bent, soldered, with stones.")
	need(f.Received != nil, "h", "date on which the item came", "Enter the item, or say when it came.")
	from, _ := f.Performed()
	need(!from.IsZero(), "i", "dates of the readings", "Take the readings at the desk, so that each has its time.")
	need(f.Report != nil && !f.Report.Issued.IsZero(), "j", "date of issue", "Issue the report; it gets its date then.")
	need(readable && answer.Density20C.KgM3 > 0, "m", "result with its unit", "Evaluate and record the determination anew.")
	need(f.Report != nil && said(f.Report.Name), "o", "person who authorises the report", "Let a person with the role sign issue it.")
	for _, words := range f.Unsigned {
		need(false, "o", "signature: "+words, "Let that person sign the record before the report is issued.")
	}
	return out
}

// MissingError says that a report can't be issued, and what to fill in.
type MissingError struct{ Missing []Missing }

func (e *MissingError) Error() string {
	var parts []string
	for _, m := range e.Missing {
		parts = append(parts, m.What)
	}
	return fmt.Sprintf("a report needs more than is known (ISO/IEC 17025, 7.8.2): %s", strings.Join(parts, "; "))
}

// Hint says what to fill in, one sentence a thing.
func (e *MissingError) Hint() string {
	var parts []string
	for _, m := range e.Missing {
		parts = append(parts, m.Hint)
	}
	return strings.Join(parts, " ")
}

// Answer reads the record's answer.
func (f *Facts) Answer() (*determination.Answer, error) {
	a := &determination.Answer{}
	if err := json.Unmarshal(f.Record.Answer, a); err != nil {
		return nil, fmt.Errorf("the answer of record %s can't be read: %w", f.Record.Number, err)
	}
	return a, nil
}

// Draft reads the document that was evaluated.
func (f *Facts) Draft() (*determination.Draft, error) {
	d, err := determination.Decode(f.Record.Document)
	if err != nil {
		return nil, fmt.Errorf("the document of record %s can't be read: %w", f.Record.Number, err)
	}
	return d, nil
}

// Description says what the item is: as it was entered, else as the draft says.
func (f *Facts) Description() string {
	if f.Item != nil {
		return f.Item.Description
	}
	if a, err := f.Answer(); err == nil {
		return a.Item
	}
	return ""
}

// Condition says how the item arrived; "" where nobody wrote it down.
func (f *Facts) Condition() string {
	if f.Item != nil {
		return f.Item.Condition
	}
	return ""
}

// Place is where the item was weighed: the place of the station, else the shop.
func (f *Facts) Place() string {
	if s := f.Record.Station; s != nil && s.Place != "" {
		return s.Place
	}
	return f.Shop.Address
}

// Performed is when the first and the last reading that counts were taken; zero without readings.
func (f *Facts) Performed() (first, last time.Time) {
	for _, r := range f.Record.Sheet.Readings {
		if !f.Record.Sheet.Counts(r) {
			continue
		}
		if first.IsZero() || r.Time.Before(first) {
			first = r.Time
		}
		if r.Time.After(last) {
			last = r.Time
		}
	}
	return first, last
}
