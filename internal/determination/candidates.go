package determination

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"wreath/alloy"
	"wreath/conformity"
	"wreath/gem"
	"wreath/internal/nearest"
	"wreath/quantity"
)

// candidates lists everything in the tables that fits the density: look-alikes of the claim
// first, then the alloys by distance, stones where the density is that of stones.
func (e *evaluation) candidates(c claim) {
	e.lookalikes()
	first := len(e.answer.Candidates)
	for _, f := range alloy.Families() {
		if f.Role != alloy.Candidate && f != c.family {
			continue
		}
		standards := c.standards
		if f.Metal != c.metal {
			standards = alloy.Standards(defaultStandards, f.Metal)
		}
		near := e.near(f)
		if low, high := f.Reach(); f != c.family && (e.observation.V < low-near || e.observation.V > high+near) {
			continue
		}
		for _, s := range standards {
			claimed := s == c.fineness && f == c.family
			low, high, ok := f.Band(s, true)
			if !ok || !claimed && !made(f, s) || !claimed && (e.observation.V < low-near || e.observation.V > high+near) {
				continue
			}
			z, _ := f.Distance(e.observation, s, true)
			if math.Abs(z) > e.fits && !claimed {
				continue
			}
			e.answer.Candidates = append(e.answer.Candidates, Candidate{
				Name: f.Name + " " + strconv.FormatFloat(1000*s, 'g', 4, 64), Kind: "alloy", Family: f.Key, Fineness: 1000 * s,
				LowKgM3: 1000 / high, HighKgM3: 1000 / low, Z: z, Fits: math.Abs(z) <= e.fits,
			})
		}
	}
	slices.SortStableFunc(e.answer.Candidates[first:], func(a, b Candidate) int { return sign(math.Abs(a.Z) - math.Abs(b.Z)) })
	if rho := 1 / e.observation.V; rho < 8 {
		e.stones()
	}
}

func (e *evaluation) stones() {
	for _, s := range gem.All() {
		if z := e.rangeDistance(s.Low.KgPerM3(), s.High.KgPerM3()); z <= e.fits {
			e.answer.Candidates = append(e.answer.Candidates, Candidate{
				Name: s.FullName(), Kind: "stone", LowKgM3: s.Low.KgPerM3(), HighKgM3: s.High.KgPerM3(), Z: z, Fits: true,
			})
		}
	}
}

// lookalikes lists the materials whose usual density fits, nearest first (the table puts tungsten
// before its equals), then those that can be made to fit.
func (e *evaluation) lookalikes() {
	add := func(name, why string, low, high, z float64) {
		e.answer.Candidates = append(e.answer.Candidates, Candidate{
			Name: name, Kind: "look-alike", LowKgM3: low, HighKgM3: high, Z: z, Fits: true, Why: why,
		})
	}
	all := alloy.Lookalikes()
	v, u := e.observation.V, e.fits*e.observation.U
	lightest, densest := quantity.GramsPerCm3(1/(v+u)), quantity.GramsPerCm3(1/max(v-u, 1/densestKnown))
	for i := range all {
		l := &all[i]
		if l.High < lightest || l.Low > densest {
			continue
		}
		if low, high := l.Low.KgPerM3(), l.High.KgPerM3(); e.rangeDistance(low, high) <= e.fits {
			add(l.Name, "imitates "+l.Imitates, low, high, e.rangeDistance(low, high))
		}
	}
	slices.SortStableFunc(e.answer.Candidates, func(a, b Candidate) int { return sign(a.Z - b.Z) })
	for i := range all {
		l := &all[i]
		if !l.Tunable() || l.ReachHigh < lightest || l.ReachLow > densest {
			continue
		}
		low, high := l.ReachLow.KgPerM3(), l.ReachHigh.KgPerM3()
		if e.rangeDistance(low, high) <= e.fits && e.rangeDistance(l.Low.KgPerM3(), l.High.KgPerM3()) > e.fits {
			add(l.Name, "can be made to this density; density can't exclude it", low, high, e.rangeDistance(low, high))
		}
	}
}

// made says whether alloys of a family are made at a fineness at all: from 980 up the fine metals
// take over, and white gold stops where its printed recipes do, give or take 70 ppt.
func made(f *alloy.Family, fineness float64) bool {
	const fine, beyond = 0.980, 0.070
	if f.Low >= 0.97 {
		return true
	}
	if fineness >= fine {
		return false
	}
	highest := 0.0
	for _, box := range f.Usual {
		for _, b := range box {
			if b.Fineness == 0 {
				return true
			}
			highest = math.Max(highest, b.Fineness)
		}
	}
	return fineness <= highest+beyond
}

// near is a distance in specific volume that is a little more than what fits, to sort out quickly
// what can't.
func (e *evaluation) near(f *alloy.Family) float64 {
	return 1.1 * e.fits * math.Hypot(e.observation.U, f.ModelU*e.observation.V)
}

// rangeDistance is the distance of the density from a plain range, in standard uncertainties,
// taken in specific volume.
func (e *evaluation) rangeDistance(lowKgM3, highKgM3 float64) float64 {
	v, u := e.observation.V, e.observation.U
	return math.Max(0, math.Max(v-1000/lowKgM3, 1000/highKgM3-v)/u)
}

func sign(x float64) int {
	switch {
	case x < 0:
		return -1
	case x > 0:
		return 1
	}
	return 0
}

// judgeStone answers a claim of a stone: density can exclude a species, never prove it.
func (e *evaluation) judgeStone(c claim) error {
	species, ok := gem.ByKey(c.stone)
	if !ok {
		hint := "wreath materials stones lists those that are known."
		if n := nearest.Word(c.stone, stoneKeys()); n != "" {
			hint = "Did you mean " + n + "? " + hint
		}
		return bad("claim.stone", hint, "there is no stone %q in the tables", c.stone)
	}
	e.stones()
	f := &Finding{Claim: species.FullName(), Rule: c.rule.Title() + "; density range of the species, 99 %"}
	z := e.rangeDistance(species.Low.KgPerM3(), species.High.KgPerM3())
	f.Result = "undecided"
	f.Missing = e.missing(c.rule)
	if z > e.fits {
		f.Reasons = []string{fmt.Sprintf("the density lies %.1f standard uncertainties outside the range of %s", z, species.FullName())}
		e.hold(f, conformity.NotMet)
		f.Sentence = fmt.Sprintf("The density is not that of %s.", species.FullName())
		if f.WouldBe != "" {
			f.Sentence = fmt.Sprintf("Not decided yet. On these numbers alone it would not be %s.", species.FullName())
		}
	} else {
		others := 0
		for _, k := range e.answer.Candidates {
			if k.Name != species.FullName() {
				others++
			}
		}
		f.Reasons = []string{fmt.Sprintf("the density fits %s; %d other materials fit too", species.FullName(), others)}
		f.Sentence = fmt.Sprintf("The density is one that %s has; density alone never names a stone. Measure the refractive index next.", species.FullName())
	}
	e.answer.Finding = f
	if species.Caution != "" {
		e.answer.Cautions = append(e.answer.Cautions, species.Caution)
	}
	return nil
}

func stoneKeys() (keys []string) {
	for _, s := range gem.All() {
		keys = append(keys, s.Key)
	}
	return keys
}

// unseen is what density cannot see of each metal.
var unseen = map[string]string{
	"gold":      "Density can't see tungsten: it has the density of fine gold, and tungsten alloys reach every gold alloy above 14 carat. Ask for a second property that looks through the item: sound, conductivity, or drilling.",
	"silver":    "Density can't exclude lead alloys or molybdenum in place of silver. Conductivity, sound or touchstone can.",
	"platinum":  "Density names the platinum metals, not the fineness: iridium and rhenium are as dense as platinum, and gold with tungsten or platinum with palladium may meet it. Ask for a second property, or an assay.",
	"palladium": "Density says almost nothing about the fineness of palladium; it names the metal at best, and silver and lead alloys are as dense.",
}

// cautions adds what density cannot see and what the paper is not.
func (e *evaluation) cautions() {
	add := func(s string) { e.answer.Cautions = append(e.answer.Cautions, s) }
	for _, metal := range append([]string{e.metalAtHand()}, e.answer.OtherMetals...) {
		if words, ok := unseen[metal]; ok {
			add(words)
		}
	}
	if item := e.draft.Item; item != nil {
		if item.Hollow != nil && *item.Hollow {
			add("The item may be hollow or filled: a sealed hollow lowers the density exactly as a lower fineness does.")
		}
	}
	add("A density determination; not a hallmark, not an assay certificate, not legal advice.")
}

// metalAtHand is the metal claimed, or the one that the density points to.
func (e *evaluation) metalAtHand() string {
	switch d := e.draft.Claim; {
	case d != nil && d.Metal != "":
		return d.Metal
	case e.answer.Fineness != nil:
		return e.answer.Fineness.Metal
	}
	return ""
}
