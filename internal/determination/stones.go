package determination

import (
	"fmt"
	"slices"
	"strings"

	"wreath/conformity"
	"wreath/gem"
	"wreath/internal/nearest"
)

// stoneCalled is the key of the stone that a word most likely means: one that the word is a variety of, as
// sapphire is of corundum, else one that is written much like it; "" where there is none.
func stoneCalled(word string) string {
	for _, s := range gem.All() {
		for variety := range strings.SplitSeq(s.Variety, ",") {
			if strings.EqualFold(strings.TrimSpace(variety), word) {
				return s.Key
			}
		}
	}
	return nearest.Word(word, stoneKeys())
}

// judgeStone answers a claim of a stone: density and refraction can exclude a species, never prove
// that a stone is natural.
func (e *evaluation) judgeStone(c claim) error {
	claimed, ok := gem.ByKey(c.stone)
	if !ok {
		hint := "wreath materials stones lists those that are known."
		if n := stoneCalled(c.stone); n != "" {
			hint = "Did you mean " + n + "? " + hint
		}
		return bad("claim.stone", hint, "there is no stone %q in the tables", c.stone)
	}
	if err := e.candidates(c); err != nil {
		return err
	}
	f := &Finding{Claim: claimed.FullName(), Rule: c.rule.Title() + "; density range of the species, 99 %"}
	f.Result = "undecided"
	f.Missing = e.missing(c.rule)
	e.answer.Finding = f
	if claimed.Caution != "" {
		e.answer.Cautions = append(e.answer.Cautions, claimed.Caution)
	}
	z := e.rangeDistance(claimed.Low.KgPerM3(), claimed.High.KgPerM3())
	if z > e.fits {
		f.Reasons = []string{fmt.Sprintf("the density lies %.1f standard uncertainties outside the range of %s", z, claimed.FullName())}
		e.hold(f, c.rule, conformity.NotMet)
		f.Sentence = fmt.Sprintf("The density is not that of %s.", claimed.FullName())
		if f.WouldBe != "" {
			f.Sentence = fmt.Sprintf("Not decided yet. On these numbers alone it would not be %s.", claimed.FullName())
		}
		return nil
	}
	others, left := 0, []string{}
	for i := range e.leaves {
		l := &e.leaves[i]
		if !l.Fits || l.species == nil || l.Name == claimed.FullName() {
			continue
		}
		others++
		if l.ShareWithEvidence != nil && !e.spokenAgainst(i) {
			left = append(left, l.Name)
		}
	}
	f.Reasons = []string{fmt.Sprintf("the density fits %s; %d other materials fit too", claimed.FullName(), others)}
	if !e.tested("refraction") {
		f.Sentence = fmt.Sprintf("The density is one that %s has; density alone never names a stone. Measure the refractive index next.", claimed.FullName())
		return nil
	}
	switch {
	case slices.ContainsFunc(e.answer.Evidence, func(x EvidenceEffect) bool { return len(x.Contradicts) > 0 }):
		e.hold(f, c.rule, conformity.Undecided)
		f.Sentence = fmt.Sprintf("The evidence contradicts %s or itself: measure again before anything is said of the stone.", claimed.FullName())
	case len(left) == 0:
		f.Sentence = fmt.Sprintf("Density and refraction are those of %s and of nothing else in the tables. Whether it is grown, filled or treated they can't say.", claimed.FullName())
	default:
		f.Reasons = append(f.Reasons, "density and refraction leave: "+strings.Join(left, ", "))
		f.Sentence = fmt.Sprintf("Density and refraction are those of %s, and of %s.", claimed.FullName(), strings.Join(left, ", "))
	}
	return nil
}

func stoneKeys() (keys []string) {
	for _, s := range species() {
		keys = append(keys, s.Key)
	}
	return keys
}
