package register

import (
	"fmt"
	"slices"
	"time"
)

// Retention says how long something must be kept.
type Retention struct {
	Name        string   `json:"name" doc:"name of the rule"`
	Of          string   `json:"of" doc:"what is kept: records, personal-data or photos"`
	Deals       []string `json:"deals" doc:"kinds of deal that it concerns"`
	From        string   `json:"from" doc:"event from which the time runs: deal, closed or last-deal"`
	FromYearEnd bool     `json:"from_year_end,omitempty" doc:"true: the time runs from the end of the year of the event"`
	For         Period   `json:"for" doc:"how long: days, months or years"`
}

// Things that are kept.
var Things = []string{"records", "personal-data", "photos"}

// Events from which a time of keeping runs: the deal itself; the end of what came of it (sold,
// redeemed, returned); the last deal of the same customer.
var Events = []string{"deal", "closed", "last-deal"}

// Kept is a deal whose records or personal data are kept.
type Kept struct {
	Number string // as in the register
	Item
	Closed time.Time // zero while the deal is open
}

// Decision says whether something may be erased.
type Decision struct {
	Allowed bool
	// Due is the instant at which the last duty ends, and from which the data must not be kept
	// without another ground. Zero when no duty was found, or when the end cannot be known yet.
	Due time.Time
	// Open says that the end cannot be known yet: an order of an authority, or a deal that is not
	// closed.
	Open bool
	// Reasons are the duties that still hold, or that decided Due, deal by deal.
	Reasons []Reason
}

// Erasable tells whether one of Things that belongs to all of the deals, for personal data all deals
// of a customer, may be erased now. Without a duty it may be at once.
func (b *Book) Erasable(of string, deals []Kept, now time.Time) (Decision, error) {
	if !slices.Contains(Things, of) {
		return Decision{}, bad("of", "Known are records, personal-data and photos.", "%q is not known", of)
	}
	d := Decision{Allowed: true}
	var last time.Time
	for _, k := range deals {
		if k.At.After(last) {
			last = k.At
		}
	}
	keep := func(rule, edition, text string, args ...any) {
		d.Allowed = false
		d.Reasons = append(d.Reasons, Reason{rule, edition, fmt.Sprintf(text, args...)})
	}
	until := func(end time.Time, rule, edition, text string, args ...any) {
		if end.After(d.Due) {
			d.Due = end
		}
		if now.Before(end) {
			keep(rule, edition, text+" until "+b.stamp(end), args...)
		}
	}
	for _, k := range deals {
		for _, o := range k.Orders {
			if o.active(now) {
				d.Open = true
				keep("", "", "deal %s: %s ordered to keep the item (%s)", k.Number, o.Authority, o.Reference)
			}
		}
		if r, held := b.lastRelease(k.Item); held {
			until(r.At, r.Rule, r.Edition, "deal %s: the item is held back", k.Number)
		}
		e, ok := b.At(k.At)
		if !ok {
			e, _ = b.At(now)
		}
		for _, rule := range e.Retention {
			if rule.Of != of || !slices.Contains(rule.Deals, k.Deal) {
				continue
			}
			from := k.At
			switch rule.From {
			case "closed":
				from = k.Closed
			case "last-deal":
				from = last
			}
			if from.IsZero() {
				d.Open = true
				keep(rule.Name, e.Edition, "deal %s: it is not closed, and the time of keeping (%s) runs from then", k.Number, rule.For)
				continue
			}
			until(b.keptUntil(rule, from), rule.Name, e.Edition, "deal %s: the time of keeping (%s) runs", k.Number, rule.For)
		}
	}
	if d.Open {
		d.Due = time.Time{}
	}
	return d, nil
}

// lastRelease is the end of the last hold of an item, whatever it forbids.
func (b *Book) lastRelease(item Item) (last Release, held bool) {
	for _, action := range Actions {
		if r, ok := b.Release(action, item.Deal, item.At); ok && r.At.After(last.At) {
			last, held = r, true
		}
	}
	return last, held
}

// keptUntil is the first instant after the time of keeping.
func (b *Book) keptUntil(r Retention, from time.Time) time.Time {
	day := b.Day(from)
	if r.FromYearEnd {
		day = Date{day.Year, time.December, 31}
	}
	return startOfDay(r.For.After(day).AddDays(1), b.zone)
}
