package register

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Numbering says how the deals of a register are numbered.
type Numbering struct {
	Pattern string `json:"pattern" doc:"number with {number} or {number:5} for the running number, padded to 5 digits, and {year} if wanted: A-{year}-{number:5}"`
	Restart string `json:"restart,omitempty" doc:"when the running number starts again at 1: yearly or never; never when left out"`
}

// Values of Numbering.Restart.
const (
	Yearly = "yearly"
	Never  = "never"
)

// plainNumbering is used until an edition says otherwise.
var plainNumbering = Numbering{Pattern: "{number:5}", Restart: Never}

const maxDigits = 12

// Counter is the place of the last number that was given. The zero Counter starts at 1.
type Counter struct {
	Year int   `json:"year"` // of the calendar, when the last number was given
	Last int64 `json:"last"`
}

// Next gives the number of the next deal and the counter that belongs to it. It must be called and
// its counter stored in the transaction that stores the deal: only so there are neither gaps nor
// twins. A deal that comes to nothing keeps its number, as a void with a reason.
func (b *Book) Next(previous Counter, at time.Time) (string, Counter, error) {
	return b.NumberingAt(at).next(previous, b.Day(at).Year)
}

// NumberingAt is how deals are numbered at an instant: as the latest edition says that began by then
// and speaks of it, even when it has ended. Before the first one numbers count from 00001.
func (b *Book) NumberingAt(at time.Time) Numbering {
	n, since, day := plainNumbering, Date{}, b.Day(at)
	for _, e := range b.rules.Editions {
		if e.Numbering != nil && !day.Before(e.ValidFrom) && !e.ValidFrom.Before(since) {
			n, since = *e.Numbering, e.ValidFrom
		}
	}
	return n
}

func (n Numbering) next(previous Counter, year int) (string, Counter, error) {
	c := Counter{Year: year, Last: previous.Last}
	if n.Restart == Yearly && year != previous.Year {
		if year < previous.Year {
			return "", previous, bad("", "Set the clock of this machine right.",
				"the last number was given in %d, but the clock shows %d: a number could be given twice", previous.Year, year)
		}
		c.Last = 0
	}
	// The year never goes back, or a later restart could give a number again.
	c.Year = max(year, previous.Year)
	if c.Last < 0 || c.Last == math.MaxInt64 {
		return "", previous, bad("", "Check the register.", "the running number %d cannot be right", c.Last)
	}
	c.Last++
	p, err := parsePattern(n.Pattern)
	if err != nil {
		return "", previous, err
	}
	return p.write(c), c, nil
}

// pattern is a Pattern cut at its placeholders.
type pattern struct {
	parts  []string // texts and the placeholders year and number in their order
	digits int
}

const (
	yearPart   = "\x00year"
	numberPart = "\x00number"
)

func parsePattern(text string) (pattern, error) {
	fail := func(reason string, args ...any) (pattern, error) {
		return pattern{}, bad("pattern", "Write it like A-{year}-{number:5}.", reason, args...)
	}
	p := pattern{digits: 1}
	numbers, years := 0, 0
	for rest := text; rest != ""; {
		literal, after, found := strings.Cut(rest, "{")
		for i, r := range literal {
			start := i == 0 && len(rest) == len(text)
			if !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || !start && strings.ContainsRune("-/._", r)) {
				return fail("%q cannot stand there: a number is made of letters a to z, digits, and - / . _ between them", r)
			}
		}
		if literal != "" {
			p.parts = append(p.parts, literal)
		}
		if !found {
			break
		}
		name, behind, closed := strings.Cut(after, "}")
		if !closed {
			return fail("a brace is not closed")
		}
		rest = behind
		digits, padded := strings.CutPrefix(name, "number:")
		switch {
		case name == "year":
			years++
			p.parts = append(p.parts, yearPart)
		case name == "number" || padded:
			numbers++
			if padded {
				d, err := strconv.Atoi(digits)
				if err != nil || d < 1 || d > maxDigits {
					return fail("the running number cannot be padded to %q digits: 1 to %d are possible", digits, maxDigits)
				}
				p.digits = d
			}
			p.parts = append(p.parts, numberPart)
		default:
			return fail("{%s} is not known: there are {year}, {number} and {number:5}", name)
		}
	}
	if numbers != 1 || years > 1 {
		return fail("it needs {number} once, and {year} at most once")
	}
	if len(text) > 40 {
		return fail("it is longer than 40 characters")
	}
	return p, nil
}

func (p pattern) hasYear() bool { return slices.Contains(p.parts, yearPart) }

func (p pattern) write(c Counter) string {
	var out strings.Builder
	for _, part := range p.parts {
		switch part {
		case yearPart:
			fmt.Fprintf(&out, "%04d", c.Year)
		case numberPart:
			fmt.Fprintf(&out, "%0*d", p.digits, c.Last)
		default:
			out.WriteString(part)
		}
	}
	return out.String()
}

// read is the inverse of write. All parts but the number have a fixed length, so there is one way
// to read a number, or none.
func (p pattern) read(text string) (Counter, bool) {
	fixed := 0
	for _, part := range p.parts {
		switch part {
		case yearPart:
			fixed += 4
		case numberPart:
		default:
			fixed += len(part)
		}
	}
	long := len(text) - fixed
	if long < 1 {
		return Counter{}, false
	}
	var c Counter
	at := 0
	for _, part := range p.parts {
		var err error
		switch part {
		case yearPart:
			c.Year, err = strconv.Atoi(text[at : at+4])
			at += 4
		case numberPart:
			c.Last, err = strconv.ParseInt(text[at:at+long], 10, 64)
			at += long
		default:
			if !strings.HasPrefix(text[at:], part) {
				return Counter{}, false
			}
			at += len(part)
		}
		if err != nil {
			return Counter{}, false
		}
	}
	// What reads alike but was written otherwise ("+1", "007" for "7") is not a number of ours.
	return c, c.Last > 0 && p.write(c) == text
}
