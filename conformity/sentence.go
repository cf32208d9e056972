package conformity

import (
	"fmt"
	"math"
	"strings"
)

// Percent prints a probability in per cent to one decimal, rounded towards 50 % so that a
// threshold never looks reached that is not: "96.4 %", "more than 99.9 %", "less than 0.1 %".
func Percent(p float64) string {
	switch {
	case p > 0.999:
		return "more than 99.9 %"
	case p < 0.001:
		return "less than 0.1 %"
	case p > 0.5:
		return fmt.Sprintf("%.1f %%", math.Floor(1000*p+1e-9)/10)
	}
	return fmt.Sprintf("%.1f %%", math.Ceil(1000*p-1e-9)/10)
}

// Chance prints the probability of a cause to whole percents: weights that were chosen stand behind
// it, and no further digit of it means anything. It is rounded towards one half.
func Chance(p float64) string {
	switch {
	case p < 0.01:
		return "under 1 %"
	case p > 0.99:
		return "over 99 %"
	}
	if p > 0.5 {
		return fmt.Sprintf("%.0f %%", math.Floor(100*p+1e-9))
	}
	return fmt.Sprintf("%.0f %%", math.Ceil(100*p-1e-9))
}

// Words prints the limits as a requirement: "at least 750 ‰", "15.2 to 15.6 g/cm³". Format
// prints a value with its unit.
func (l Limits) Words(format func(float64) string) string {
	switch {
	case math.IsInf(l.Upper, 1):
		return "at least " + format(l.Lower)
	case math.IsInf(l.Lower, -1):
		return "at most " + format(l.Upper)
	}
	return format(l.Lower) + " to " + format(l.Upper)
}

// Explain builds the paragraph that a customer reads: value with expanded uncertainty,
// requirement, finding with its reason, acceptance limits and rule. What names the measurand
// ("density"), format prints a value with its unit.
func Explain(what string, e Estimate, l Limits, r Rule, d Decision, format func(float64) string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "The %s is %s with an expanded uncertainty of %s (k = %s). ", what, format(e.Value), format(e.Expanded()), short(math.Round(100*e.coverage())/100))
	fmt.Fprintf(&b, "Required: %s. ", l.Words(format))
	if d.Word == d.Outcome.String() {
		fmt.Fprintf(&b, "Result: %s. ", d.Word)
	} else {
		fmt.Fprintf(&b, "Result: %s (%s). ", d.Word, d.Outcome)
	}
	b.WriteString(d.Sentence)
	a := d.AcceptanceLimits
	if a != l && !a.Empty() && !(math.IsInf(a.Lower, -1) && math.IsInf(a.Upper, 1)) {
		fmt.Fprintf(&b, " This rule accepts measured values of %s.", a.Words(format))
	}
	fmt.Fprintf(&b, " Rule: %s.", r.Name())
	return b.String()
}

func sentence(o Outcome, reason string, p float64) string {
	var lead string
	switch o {
	case Met:
		lead = "The requirement is met"
	case NotMet:
		lead = "The requirement is not met"
	default:
		lead = "Whether the requirement is met cannot be decided"
	}
	return fmt.Sprintf("%s: %s. The probability that it is met is %s.", lead, reason, Percent(p))
}
