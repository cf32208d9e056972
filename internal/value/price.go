package value

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/bojanz/currency"

	"wreath/internal/nearest"
	"wreath/internal/strictjson"
)

// Metals are the metals that a price can be of.
var Metals = []string{"gold", "silver", "platinum", "palladium"}

// Price is what one unit of mass of a fine metal cost at a time.
type Price struct {
	Metal     string  `json:"metal" doc:"gold, silver, platinum or palladium"`
	Amount    Decimal `json:"amount" doc:"price of one unit, as written"`
	Per       string  `json:"per" doc:"the unit: g, kg, ozt (troy ounce), tola, …"`
	Currency  string  `json:"currency" doc:"ISO 4217 code"`
	HeldAt    Moment  `json:"held_at" doc:"when the price held, with offset from UTC"`
	Source    string  `json:"source" doc:"where the price is from"`
	EnteredBy string  `json:"entered_by,omitempty" doc:"who entered it; set by the program from who is signed in, whatever a file says"`
}

// ClockTolerance is how far a price may lie in the future before it is refused: the clocks of two
// honest machines differ by less (chosen here).
const ClockTolerance = 5 * time.Minute

// Faults is everything that is wrong with one document, not the first thing only.
type Faults []*strictjson.FieldError

func (f Faults) Error() string {
	var all []string
	for _, fault := range f {
		all = append(all, fault.Error())
	}
	return strings.Join(all, "; ")
}

// Unwrap gives the single faults to errors.As.
func (f Faults) Unwrap() []error {
	var all []error
	for _, fault := range f {
		all = append(all, fault)
	}
	return all
}

func (f *Faults) add(path, hint, reason string, args ...any) {
	*f = append(*f, &strictjson.FieldError{Path: path, Reason: fmt.Sprintf(reason, args...), Hint: hint})
}

// orNil keeps an empty list from being an error.
func (f Faults) orNil() error {
	if len(f) == 0 {
		return nil
	}
	return f
}

// Check returns Faults that name every field at fault, or nil. A price from after now is refused.
func (p *Price) Check(now time.Time) error {
	var f Faults
	checkMetal(&f, "metal", p.Metal)
	if p.Amount.Sign() <= 0 {
		f.add("amount", "Give the price of one unit, above nothing.", "is %s", p.Amount)
	}
	if _, symbol, ok := gramsPer(p.Per); !ok {
		f.add("per", unitHint(p.Per), "%q is not a unit of mass known here", p.Per)
	} else if symbol != p.Per {
		f.add("per", "Write "+symbol+".", "%q is not how this unit is written", p.Per)
	}
	checkCurrency(&f, "currency", p.Currency)
	switch {
	case p.HeldAt.IsZero():
		f.add("held_at", "Say when the price held: 2026-11-26T09:30:00+01:00.", "is missing")
	case p.HeldAt.After(now.Add(ClockTolerance)):
		f.add("held_at", "Check the date and the offset from UTC, and the clock of this machine.",
			"%s is in the future; it is %s now", p.HeldAt, Moment{now.In(p.HeldAt.Location()).Truncate(time.Second)})
	}
	if strings.TrimSpace(p.Source) == "" {
		f.add("source", "Say where the price is from; a price without a source can't be checked.", "is missing")
	}
	checkText(&f, "source", p.Source)
	checkText(&f, "entered_by", p.EnteredBy)
	return f.orNil()
}

func checkMetal(f *Faults, path, metal string) {
	if slices.Contains(Metals, metal) {
		return
	}
	hint := "Metals known: " + strings.Join(Metals, ", ") + "."
	if n := nearest.Word(strings.ToLower(metal), Metals); n != "" && metal != "" {
		hint = "Did you mean " + n + "?"
	}
	f.add(path, hint, "%q is not a metal known here", metal)
}

func checkCurrency(f *Faults, path, code string) {
	switch {
	case code == "":
		f.add(path, "Give the three letters of ISO 4217, such as EUR.", "is missing")
	case !currency.IsValid(code):
		hint := "Give the three letters of ISO 4217, such as EUR; not a sign or a name."
		if upper := strings.ToUpper(code); currency.IsValid(upper) {
			hint = "Did you mean " + upper + "?"
		}
		f.add(path, hint, "%q is not a currency of ISO 4217", code)
	}
}

// maxText is the longest text of a price or of terms, in bytes; chosen here.
const maxText = 500

// checkText refuses what would harm a screen, a printed page or a spreadsheet that shows the text.
func checkText(f *Faults, path, text string) {
	switch {
	case len(text) > maxText:
		f.add(path, "Shorten it.", "is longer than %d bytes", maxText)
	case strings.ContainsFunc(text, func(r rune) bool {
		return unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == unicode.ReplacementChar
	}):
		f.add(path, "Write it on one line of plain text.", "holds a character that can't be seen")
	case text != strings.TrimSpace(text):
		f.add(path, "Take the space away.", "begins or ends with a space")
	case strings.ContainsRune("=+-@", first(text)):
		f.add(path, "Begin with a letter or a digit.", "begins with %q, which a spreadsheet takes for a formula", first(text))
	}
}

func first(text string) rune {
	for _, r := range text {
		return r
	}
	return 0
}

// Age is how long before now the price held; 0 for one that the clocks put just ahead.
func (p *Price) Age(now time.Time) time.Duration { return max(0, now.Sub(p.HeldAt.Time)) }

// Stale is true for a price older than max.
func (p *Price) Stale(now time.Time, max time.Duration) bool { return p.Age(now) > max }

// String writes the price as people say it: 78.50 EUR per g of fine gold.
func (p *Price) String() string {
	return fmt.Sprintf("%s %s per %s of fine %s", p.Amount, p.Currency, p.Per, p.Metal)
}

// Latest returns the newest of the prices of a metal in a currency that held at or before now;
// false where there is none.
func Latest(prices []Price, metal, currency string, now time.Time) (Price, bool) {
	var latest Price
	found := false
	for _, p := range prices {
		if p.Metal == metal && p.Currency == currency && !p.HeldAt.After(now) && (!found || p.HeldAt.After(latest.HeldAt.Time)) {
			latest, found = p, true
		}
	}
	return latest, found
}

// words says a span of time in words.
func words(d time.Duration) string {
	minutes := int(d / time.Minute)
	switch {
	case minutes >= 48*60:
		return fmt.Sprintf("%d days", minutes/60/24)
	case minutes >= 120:
		return fmt.Sprintf("%d h %d min", minutes/60, minutes%60)
	}
	return fmt.Sprintf("%d min", minutes)
}

// counted writes a number of things: 1 item, 2 items.
func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}
