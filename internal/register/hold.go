package register

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Hold says that an item is held back for some time after a deal.
type Hold struct {
	Name    string   `json:"name" doc:"name of the rule"`
	Deals   []string `json:"deals" doc:"kinds of deal that it concerns"`
	For     Period   `json:"for" doc:"how long: days, months or years"`
	Ends    string   `json:"ends,omitempty" doc:"day-end: with the last day (when left out); same-time: at the time of day of the deal"`
	Forbids []string `json:"forbids,omitempty" doc:"what may not be done with the item; sell, melt, alter and move when left out"`
}

// Values of Hold.Ends.
const (
	DayEnd   = "day-end"
	SameTime = "same-time"
)

// Actions are what can be done with an item. To return it to its owner is not forbidden by a hold
// that does not say so.
var Actions = []string{"sell", "melt", "alter", "move", "return"}

func (h Hold) forbids(action string) bool {
	if len(h.Forbids) == 0 {
		return action != "return"
	}
	return slices.Contains(h.Forbids, action)
}

// Order is the order of an authority to keep an item. It has no end of its own, and nobody here can
// override it: it ends when the authority lifts it.
type Order struct {
	Authority string    `json:"authority"`
	Reference string    `json:"reference"` // the authority's own
	From      time.Time `json:"from"`
	Lifted    *Lifting  `json:"lifted,omitempty"`
}

// Lifting is the end of an order.
type Lifting struct {
	At        time.Time `json:"at"`
	Reference string    `json:"reference"` // by which the authority lifted it
}

// Check tells whether an order is complete.
func (o Order) Check() error {
	switch {
	case strings.TrimSpace(o.Authority) == "":
		return bad("authority", "Say who gave the order.", "is missing")
	case strings.TrimSpace(o.Reference) == "":
		return bad("reference", "Give the authority's reference or the name of its officer.", "is missing")
	case o.From.IsZero():
		return bad("from", "Give the time from which the order holds.", "is missing")
	case o.Lifted != nil && strings.TrimSpace(o.Lifted.Reference) == "":
		return bad("lifted.reference", "Give the reference by which the authority lifted its order.", "is missing")
	case o.Lifted != nil && o.Lifted.At.Before(o.From):
		return bad("lifted.at", "Check both times.", "lies before the order")
	}
	return nil
}

func (o Order) active(now time.Time) bool {
	return !now.Before(o.From) && (o.Lifted == nil || now.Before(o.Lifted.At))
}

// Item is what the hold of one item depends on.
type Item struct {
	Deal   string    // kind of the deal by which it came
	At     time.Time // when that deal was made
	Orders []Order
	// Holds are the ends that the deal was told when it was made. Later rules can make them later, never
	// earlier.
	Holds map[string]Release
}

// Release is the end of one hold.
type Release struct {
	Rule    string    `json:"rule"`
	Edition string    `json:"edition"`
	At      time.Time `json:"at"` // the earliest instant at which the action is allowed
}

// Release tells when an action with an item is allowed: the latest end of the holds that forbid it.
// false means that no rule forbids it. Orders of authorities are not in it.
func (b *Book) Release(action, deal string, at time.Time) (Release, bool) {
	var latest Release
	e, _ := b.At(at)
	for _, h := range e.Holds {
		if !slices.Contains(h.Deals, deal) || !h.forbids(action) {
			continue
		}
		end := b.End(at, h.For)
		if h.Ends == SameTime {
			end = b.EndSameTime(at, h.For)
		}
		if end.After(latest.At) {
			latest = Release{h.Name, e.Edition, end}
		}
	}
	return latest, latest.Rule != ""
}

// Override is how a hold can be broken: two people stand for it, on a legal ground.
type Override struct {
	Ground string   `json:"ground"` // the law or decision that allows it, in words
	People []string `json:"people"` // identifiers of two different people
}

func (o Override) check() error {
	if strings.TrimSpace(o.Ground) == "" {
		return bad("override.ground", "Name the law or the decision that allows it.", "is missing")
	}
	var people []string
	for _, p := range o.People {
		if p = strings.ToLower(strings.TrimSpace(p)); p != "" && !slices.Contains(people, p) {
			people = append(people, p)
		}
	}
	if len(people) < 2 {
		return bad("override.people", "A second person must agree, with their own sign-in.", "names %d, but two different people are needed", len(people))
	}
	return nil
}

// RefusedError says that something may not be done with an item yet.
type RefusedError struct {
	Action  string
	Rule    string    // empty for an order of an authority
	Edition string    // empty for an order of an authority
	Until   time.Time // zero for an order of an authority
	Order   *Order
	until   string
}

func (e *RefusedError) Error() string {
	done := map[string]string{"sell": "sold", "melt": "melted", "alter": "altered", "move": "moved", "return": "returned"}[e.Action]
	if e.Order != nil {
		return fmt.Sprintf("the item may not be %s: %s ordered to keep it (%s), with no end", done, e.Order.Authority, e.Order.Reference)
	}
	return fmt.Sprintf("the item may not be %s before %s: rule %q of edition %q", done, e.until, e.Rule, e.Edition)
}

// Hint says what helps.
func (e *RefusedError) Hint() string {
	if e.Order != nil {
		return "Only the authority can lift its order; enter its decision first."
	}
	return "Wait, or let two people override it on a legal ground that they write down."
}

// May tells whether something may be done with an item now; nil when it may. A *RefusedError says
// until when it may not. An override, nil when there is none, breaks holds, but never an order of an
// authority; one that is needed and not complete is a *strictjson.FieldError.
func (b *Book) May(action string, item Item, now time.Time, o *Override) error {
	if !slices.Contains(Actions, action) {
		return bad("action", "Known are: "+strings.Join(Actions, ", ")+".", "%q is not known", action)
	}
	for _, order := range item.Orders {
		if order.active(now) {
			return &RefusedError{Action: action, Order: &order}
		}
	}
	release, held := b.Release(action, item.Deal, item.At)
	if told, was := item.Holds[action]; was && (!held || told.At.After(release.At)) {
		release, held = told, true
	}
	if !held || !now.Before(release.At) {
		return nil
	}
	if o != nil {
		return o.check()
	}
	return &RefusedError{Action: action, Rule: release.Rule, Edition: release.Edition, Until: release.At, until: b.stamp(release.At)}
}
