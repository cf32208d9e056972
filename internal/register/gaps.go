package register

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Given is a number as it stands in the register.
type Given struct {
	Number     string
	Void       bool
	VoidReason string
}

// Fault is something that a register without gaps does not have.
type Fault struct {
	Kind   FaultKind
	Number string // the number, or the first of several that are missing
	Last   string // the last one that is missing
	Count  int64  // how many numbers are concerned
}

// FaultKind says what is wrong.
type FaultKind string

// The kinds of faults.
const (
	Missing    FaultKind = "missing"     // numbers that were never entered
	Twice      FaultKind = "twice"       // one number for several deals
	Unreadable FaultKind = "unreadable"  // not a number of this pattern
	Outside    FaultKind = "outside"     // before the first or after the last number that was given
	NoReason   FaultKind = "void reason" // a void without a reason
)

// String is the fault in a sentence.
func (f Fault) String() string {
	switch f.Kind {
	case Missing:
		if f.Count == 1 {
			return "number " + f.Number + " is missing"
		}
		return fmt.Sprintf("the %d numbers %s to %s are missing", f.Count, f.Number, f.Last)
	case Twice:
		return fmt.Sprintf("number %s stands in the register %d times", f.Number, f.Count)
	case Unreadable:
		return fmt.Sprintf("%q is not a number of this register", f.Number)
	case Outside:
		return "number " + f.Number + " was never given"
	}
	return "number " + f.Number + " is void without a reason"
}

// Gaps checks that every number after start up to end stands in the register once, whatever the order
// of the list, and that every void has its reason. start and end are the counters before the first
// and after the last number of the list; the zero start is that of a new register. Where the pattern
// changed, call it for each numbering with the counters at the change.
func (n Numbering) Gaps(list []Given, start, end Counter) ([]Fault, error) {
	p, err := parsePattern(n.Pattern)
	if err != nil {
		return nil, err
	}
	// One running series for each year, or one in all: the year then is only written, not counted.
	yearly := n.Restart == Yearly
	type entry struct {
		Counter
		number string
	}
	var faults []Fault
	var entries []entry
	for _, g := range list {
		c, ok := p.read(g.Number)
		if !ok {
			faults = append(faults, Fault{Kind: Unreadable, Number: g.Number, Count: 1})
			continue
		}
		if g.Void && strings.TrimSpace(g.VoidReason) == "" {
			faults = append(faults, Fault{Kind: NoReason, Number: g.Number, Count: 1})
		}
		entries = append(entries, entry{c, g.Number})
	}
	before := func(a, b Counter) int {
		if yearly {
			if d := cmp.Compare(a.Year, b.Year); d != 0 {
				return d
			}
		}
		return cmp.Compare(a.Last, b.Last)
	}
	slices.SortStableFunc(entries, func(a, b entry) int { return before(a.Counter, b.Counter) })

	missing := func(year int, from, to int64) {
		if from > to {
			return
		}
		faults = append(faults, Fault{Missing, p.write(Counter{year, from}), p.write(Counter{year, to}), to - from + 1})
	}
	at := start // all up to here is accounted for
	for i := 0; i < len(entries); {
		e := entries[i]
		same := i + 1
		for same < len(entries) && before(entries[same].Counter, e.Counter) == 0 {
			same++
		}
		if same-i > 1 {
			faults = append(faults, Fault{Kind: Twice, Number: e.number, Count: int64(same - i)})
		}
		i = same
		if before(e.Counter, start) <= 0 || before(e.Counter, end) > 0 {
			faults = append(faults, Fault{Kind: Outside, Number: e.number, Count: 1})
			continue
		}
		if yearly && e.Year != at.Year {
			at = Counter{e.Year, 0}
		}
		missing(e.Year, at.Last+1, e.Last-1)
		at = e.Counter
	}
	if yearly && end.Year != at.Year {
		at = Counter{end.Year, 0}
	}
	missing(end.Year, at.Last+1, end.Last)
	return faults, nil
}
