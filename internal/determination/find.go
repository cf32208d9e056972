package determination

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wreath/alloy"
	"wreath/conformity"
	"wreath/fault"
)

// find answers the claim: which standard is it, and apart from that, is the legal limit kept.
func (e *evaluation) find(c claim) {
	f := &Finding{Claim: c.words}
	e.answer.Finding = f
	next := 1000 * c.next
	f.Against = &next
	f.Rule = c.rule.Printed

	outcome, reasons := e.whichStandard(c, f)
	f.Reasons = reasons
	f.Missing = e.missing(c.rule)
	if outcome == conformity.NotMet && (e.method == "impregnated" || e.method == "coated") {
		outcome = conformity.Undecided
		f.Reasons = append(f.Reasons, "the density is that of the whole body with its pores; the metal itself is denser")
	}
	if item := e.draft.Item; outcome == conformity.NotMet && item != nil && item.Hollow != nil && *item.Hollow {
		outcome = conformity.Undecided
		f.Reasons = append(f.Reasons, "the item may be hollow: a sealed hollow lowers the density as a lower fineness does")
	}
	if words := e.zeroMissing(c); words != "" && outcome == conformity.Met {
		f.Missing = append(f.Missing, words)
	}
	held := e.hold(f, c.rule, outcome)
	f.Sentence = e.sentence(c, f)
	e.legalLimit(c, held || outcome == conformity.Undecided)
}

// hold writes the outcome into the finding, or holds it back where the house rule asks for more
// or the weighing is in doubt.
func (e *evaluation) hold(f *Finding, rule HouseRule, outcome conformity.Outcome) (held bool) {
	for _, d := range e.answer.Doubts {
		if d.Suspends {
			held = true
			f.Reasons = append(f.Reasons, "the weighing is in doubt: "+d.Cause)
		}
	}
	if !held && outcome == conformity.Met && e.judged && e.sound < rule.Clean {
		held, e.unsure = true, true
		f.Reasons = append(f.Reasons, fmt.Sprintf("the chance that nothing is wrong is only %s, %s is asked; what is proposed next would raise or settle it", conformity.Percent(e.sound), conformity.Percent(rule.Clean)))
	}
	held = held || len(f.Missing) > 0
	if e.parted && e.answer.Composite != nil && e.answer.Composite.Kind != "stones" {
		outcome = conformity.Undecided // the density of the whole is that of none of its parts
	}
	f.Result = outcome.String()
	if held && outcome != conformity.Undecided {
		f.WouldBe, f.Result = f.Result, conformity.Undecided.String()
	}
	return held
}

// findMetal answers a claim of a metal without a fineness: density can exclude it, never prove it.
func (e *evaluation) findMetal(c claim) {
	f := &Finding{Claim: c.metal, Rule: c.rule.Title() + "; range of density of the metal's alloys, 99 %", Missing: e.missing(c.rule)}
	e.answer.Finding = f
	z := math.Inf(1)
	for _, family := range alloy.FamiliesOf(c.metal) {
		low, high := family.Reach()
		u := math.Hypot(e.observation.U, family.ModelU*e.observation.V)
		z = math.Min(z, math.Max(0, math.Max(e.observation.V-high, low-e.observation.V)/u))
	}
	outcome := conformity.Undecided
	if z > e.fits {
		outcome = conformity.NotMet
		f.Reasons = []string{fmt.Sprintf("no alloy of %s in the tables has this density (%.1f standard uncertainties away)", c.metal, z)}
	} else {
		f.Reasons = []string{fmt.Sprintf("alloys of %s have this density, and so have other materials", c.metal)}
	}
	e.hold(f, c.rule, outcome)
	switch {
	case f.Result == "not met":
		f.Sentence = fmt.Sprintf("The density is not that of %s.", c.metal)
	case f.WouldBe != "":
		f.Sentence = fmt.Sprintf("Not decided yet. On these numbers alone it would not be %s.", c.metal)
	default:
		f.Sentence = fmt.Sprintf("The density is one that %s can have; density alone does not prove the metal.", c.metal)
	}
}

// whichStandard decides on the numbers alone: met when the density puts the item on the claim's
// side of the middle between the claim and the next lower standard; not met when even a sceptic
// who believes most stamps can not think it true, or when no alloy of the metal fits.
func (e *evaluation) whichStandard(c claim, f *Finding) (conformity.Outcome, []string) {
	if c.metal == "palladium" {
		return conformity.Undecided, []string{"density says almost nothing about the fineness of palladium"}
	}
	z, side := e.distanceFromClaim(c)
	if math.IsInf(z, 1) {
		return conformity.Undecided, []string{fmt.Sprintf("the tables hold no alloy of the colour seen that is %s", c.short)}
	}
	if z > e.fits {
		if side == between {
			return conformity.Undecided, []string{fmt.Sprintf("the density lies between the families of %s, %.1f standard uncertainties from the nearest", c.short, z)}
		}
		if side == denser {
			if e.denserThanMetal(c.metal) {
				return conformity.NotMet, []string{fmt.Sprintf("denser than any %s alloy (%.1f standard uncertainties beyond the claim)", c.metal, z)}
			}
			return conformity.Undecided, []string{fmt.Sprintf("denser than %s by %.1f standard uncertainties: finer than claimed, or another material", c.words, z)}
		}
		zero := 0.0
		f.Probability = &zero
		return conformity.NotMet, []string{fmt.Sprintf("lighter than any recipe of %s by %.1f standard uncertainties", c.words, z)}
	}
	kept := e.kept()
	if len(kept) == 0 {
		return conformity.Undecided, []string{"no alloy family of the metal is within reach of the density"}
	}
	middle := c.fineness - (c.fineness-c.next)/2
	half := atLeast(e.members, middle)
	f.Probability = &half
	chance := sceptic(e.members)
	if chance <= c.rule.Reject && !slices.ContainsFunc(kept, func(m member) bool { return m.sceptic > c.rule.Reject }) {
		return conformity.NotMet, []string{fmt.Sprintf("even where most stamps are true, the chance of reaching the claim is only %s", conformity.Percent(chance))}
	}

	var reasons []string
	switch rivals := e.rivals(c); {
	case len(rivals) > 1:
		reasons = append(reasons, "more than one standard fits: "+join(rivals, "%.4g", " and "))
	case len(rivals) == 1 && rivals[0] != 1000*c.fineness:
		reasons = append(reasons, fmt.Sprintf("another standard fits better: %.4g", rivals[0]))
	}
	if gap, ok := e.gap(c, kept[0].family); ok && e.observation.U > gap/3 {
		reasons = append(reasons, fmt.Sprintf("this weighing can't decide it: its standard uncertainty is %.2g of the gap in density between %.4g and %.4g, a third is the most that can", e.observation.U/gap, 1000*c.fineness, 1000*c.next))
	}
	if words := e.disagreement(c, kept, middle); words != "" {
		reasons = append(reasons, words)
	}
	if high := quantile(kept, 0.975); high < c.fineness-c.tolerance {
		reasons = append(reasons, fmt.Sprintf("the interval of fineness ends at %.4g, below the claim", math.Floor(10000*high)/10))
	}
	if half < c.rule.Accept {
		reasons = append(reasons, fmt.Sprintf("the chance that it is nearer %.4g than %.4g is %s, %s is asked", 1000*c.fineness, 1000*c.next, conformity.Percent(half), conformity.Percent(c.rule.Accept)))
	}
	if len(reasons) > 0 {
		return conformity.Undecided, reasons
	}
	return conformity.Met, nil
}

// distanceFromClaim is the least distance of the density from the claimed fineness over the
// families of the metal that the colour allows, rare recipes included, and on which side it lies.
func (e *evaluation) distanceFromClaim(c claim) (z float64, s side) {
	z = math.Inf(1)
	anyDenser, anyLighter := false, false
	named := c.namedFamilies()
	for _, f := range alloy.FamiliesOf(c.metal) {
		if e.prior(f, c, named) == 0 || !made(f, c.fineness) && f != c.family {
			continue
		}
		d, ok := f.Distance(e.observation, c.fineness, true)
		if !ok {
			continue
		}
		z = math.Min(z, math.Abs(d))
		anyDenser, anyLighter = anyDenser || d < 0, anyLighter || d > 0
	}
	switch {
	case anyDenser && anyLighter:
		return z, between
	case anyDenser:
		return z, denser
	}
	return z, lighter
}

// side is where a density lies that fits none of several bands.
type side uint8

const (
	lighter side = iota // than all of them
	denser
	between
)

// denserThanMetal is true when no alloy of the metal reaches this density.
func (e *evaluation) denserThanMetal(metal string) bool {
	lightest := math.Inf(1)
	for _, f := range alloy.FamiliesOf(metal) {
		low, _ := f.Reach()
		lightest = math.Min(lightest, low)
	}
	return e.observation.V < lightest-e.fits*e.observation.U
}

// rivals are the standards that hold more than a twentieth each under the trade weighting.
func (e *evaluation) rivals(c claim) (ppt []float64) {
	shares := make([]float64, len(c.standards))
	for _, m := range e.members {
		if m.share < noticed/100 {
			break // they are in order, and what follows can't make up a twentieth
		}
		all := m.posterior.EvidenceUnder(c.trade) / m.posterior.Observation.V
		for i, s := range c.standards {
			shares[i] += m.share * m.posterior.Mass(c.trade, s, s+standardWidth) / all
		}
	}
	for i, s := range c.standards {
		if shares[i] > noticed {
			ppt = append(ppt, 1000*s)
		}
	}
	return ppt
}

// gap is the distance in specific volume between the claim and the next lower standard.
func (e *evaluation) gap(c claim, f *alloy.Family) (float64, bool) {
	low, high, ok := f.Band(c.fineness, false)
	nextLow, nextHigh, nextOk := f.Band(c.next, false)
	gap := math.Abs((nextLow+nextHigh)/2 - (low+high)/2)
	return gap, ok && nextOk && gap > 0
}

// disagreement says so when the families that count fall on both sides of the middle.
func (e *evaluation) disagreement(c claim, kept []member, middle float64) string {
	var yes, no []string
	for _, m := range kept {
		switch p := m.posterior.AtLeast(middle); {
		case p >= c.rule.Accept:
			yes = append(yes, m.family.Name)
		case p <= c.rule.Reject:
			no = append(no, m.family.Name)
		}
	}
	if len(yes) == 0 || len(no) == 0 {
		return ""
	}
	return fmt.Sprintf("the family is not known: as %s it would be met, as %s not", strings.Join(yes, " or "), strings.Join(no, " or "))
}

// missing lists what the house rule asks for and the draft does not hold.
func (e *evaluation) missing(r HouseRule) (missing []string) {
	immersions := e.immersions()
	if immersions < r.Immersions {
		missing = append(missing, fmt.Sprintf("%s immersed (%d of %d)", plural(r.Immersions-immersions, "more weighing"), immersions, r.Immersions))
	}
	if r.ClosingAir && len(e.draft.ClosingAirG) == 0 && e.closable() {
		missing = append(missing, "a closing weighing in air (closing_air_g)")
	}
	if r.LiquidProof && e.proof == unproved {
		missing = append(missing, "a proof of the liquid with a check piece (liquid.proof)")
	}
	return missing
}

// zeroMissing says that the empty hanger should be read, where a zero that moved before the first
// immersion and stayed could make the next lower standard look like the claim: all immersions then
// agree, and so do both weighings in air. "" where it could not, or where the zero was seen.
func (e *evaluation) zeroMissing(c claim) string {
	if c.rule.ZeroSeen <= 0 || e.answer.Clean == nil || e.method != "immersion" || e.zeroSeen() {
		return ""
	}
	least := math.Inf(1)
	for _, m := range e.kept() {
		low, high, ok := m.family.Band(c.next, false)
		if !ok {
			continue
		}
		for _, v := range [...]float64{low, high} {
			if shift, ok := e.faults.Needed(fault.Zero, v); ok {
				least = math.Min(least, math.Abs(shift))
			}
		}
	}
	if least > c.rule.ZeroSeen {
		return ""
	}
	return fmt.Sprintf("a reading of the empty hanger after the last immersion (closing_zero_g): a zero that moved by %.0f scale intervals would make %.4g look like %.4g", least, 1000*c.next, 1000*c.fineness)
}

// closable says whether the item can be weighed in air again as it was: not when it is full of
// oil, coated, or wet dust in a pycnometer.
func (e *evaluation) closable() bool {
	return e.method == "immersion" || e.method == "comparison" || e.method == "sinker-aided"
}

func plural(n int, what string) string {
	if n == 1 {
		return "one " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// legalLimit answers the second question: is the legal limit itself kept.
func (e *evaluation) legalLimit(c claim, held bool) {
	limit := c.fineness - c.tolerance
	p := sceptic(e.members)
	l := &LegalLimit{LimitPpt: 1000 * limit, Probability: p, Weighting: c.sceptic.Name}
	switch {
	case held || len(e.members) == 0:
		l.Result = conformity.Undecided.String()
	case p >= c.rule.Accept && atLeast(e.members, limit) >= c.rule.Accept:
		l.Result = conformity.Met.String()
	case p <= c.rule.Reject:
		l.Result = conformity.NotMet.String()
	default:
		l.Result = conformity.Undecided.String()
	}
	l.Sentence = fmt.Sprintf("Whether the fineness is at least %.4g is a finer question than density alone can usually answer: the chance is %s under the weighting %q.",
		l.LimitPpt, conformity.Percent(p), c.sceptic.Name)
	e.answer.LegalLimit = l
}

// sentence is the finding as a customer can read it.
func (e *evaluation) sentence(c claim, f *Finding) string {
	what := c.short
	switch {
	case f.Result == "met":
		words := fmt.Sprintf("The density is that of %s", what)
		words += fmt.Sprintf(" and not of the next lower standard (%.4g)", 1000*c.next)
		if c.metal == "gold" && c.fineness >= 0.980 {
			return words + ". Tungsten has the same density: measure a second property that looks through the item before relying on this."
		}
		return words + ". A material made to the same density can't be excluded."
	case f.Result == "not met":
		return fmt.Sprintf("The density is not that of %s.", what)
	case f.WouldBe != "":
		return fmt.Sprintf("Not decided yet. On these numbers alone the claim of %s would be %s.", what, f.WouldBe)
	}
	return fmt.Sprintf("This weighing does not decide whether the item is %s.", what)
}

func join(values []float64, format, between string) string {
	words := make([]string, len(values))
	for i, v := range values {
		words[i] = fmt.Sprintf(format, v)
	}
	return strings.Join(words, between)
}
