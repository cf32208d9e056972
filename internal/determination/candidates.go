package determination

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"

	"wreath/alloy"
	"wreath/gem"
	"wreath/quantity"
)

// leaf is one candidate with what is needed to share the evidence out.
type leaf struct {
	Candidate

	weight   float64 // before the density is known
	evidence float64 // p(v | this), per unit of ln v
	claimed  float64 // weight within what is claimed; 0 when it is not
	tuned    bool    // can be made to the density, so that it has the claim's own evidence

	family    *alloy.Family // one of these three
	lookalike *alloy.Lookalike
	species   *gem.Species
}

// candidates lists everything in the tables that fits the density: look-alikes of the claim
// first, then the alloys by distance, stones where the density is that of stones. What is claimed
// is listed whether it fits or not. Nothing that fits is left out, however small its share.
func (e *evaluation) candidates(c claim) error {
	w, err := e.resolveWeights(c.stone != "")
	if err != nil {
		return err
	}
	e.leaves = e.leaves[:0]
	e.lookalikes(w)
	first := len(e.leaves)
	e.alloys(c, w)
	slices.SortStableFunc(e.leaves[first:], func(a, b leaf) int { return cmp.Compare(math.Abs(a.Z), math.Abs(b.Z)) })
	if rho := 1 / e.observation.V; rho < densestStone {
		first = len(e.leaves)
		e.stones(c, w)
		if c.stone != "" {
			// Stones before metals: the question is which stone.
			e.leaves = slices.Concat(e.leaves[first:], e.leaves[:first])
		}
	}
	e.tune(c, w)
	e.share(func(i int) float64 { return e.leaves[i].weight * e.leaves[i].evidence }, func(i int, share float64) { e.leaves[i].Share = share })
	e.answer.Weighting = w.title
	e.neverExcluded(c)
	if err := e.furtherEvidence(c); err != nil {
		return err
	}
	for i := range e.leaves {
		e.answer.Candidates = append(e.answer.Candidates, e.leaves[i].Candidate)
	}
	return nil
}

const densestStone = 8 // g/cm³

// alloys adds the legal finenesses of every family that fit, and what is claimed.
func (e *evaluation) alloys(c claim, w *weights) {
	named := c.namedFamilies()
	claimWeight, baseWeight := 0.0, 0.0
	all := alloy.Families()
	for _, f := range all {
		if f.Role == alloy.Candidate {
			baseWeight += e.familyWeight(f, c, w)
		}
		claimWeight += e.claimWeight(f, c, named)
	}
	asClaimed := w.asClaimed
	if claimWeight == 0 {
		asClaimed = 0
	}
	for _, f := range all {
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
		ofFamily := 0.0
		if f.Role == alloy.Candidate && baseWeight > 0 {
			ofFamily = e.familyWeight(f, c, w) / baseWeight / float64(max(madeOf(f, standards), 1))
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
			l := leaf{family: f, Candidate: Candidate{
				Name: f.Name + " " + strconv.FormatFloat(1000*s, 'g', 4, 64), Kind: "alloy", Family: f.Key, Fineness: 1000 * s,
				LowKgM3: 1000 / high, HighKgM3: 1000 / low, Z: z, Fits: math.Abs(z) <= e.fits,
			}}
			l.evidence, _ = f.Evidence(e.observation, made5(f, s))
			switch {
			case claimWeight == 0:
			case c.fineness == 0 && f.Metal == c.metal:
				l.claimed = ofFamily * baseWeight / claimWeight
			case f.Metal == c.metal && s == c.fineness:
				l.claimed = e.claimWeight(f, c, named) / claimWeight
			}
			l.weight = w.precious * (asClaimed*l.claimed + (1-asClaimed)*ofFamily)
			e.leaves = append(e.leaves, l)
		}
	}
}

// made5 is the middle of what an alloy of a standard is really made to: up to 5 ppt finer.
func made5(f *alloy.Family, s float64) float64 {
	return math.Min(s+standardWidth/2, (math.Max(f.High, s)+s)/2)
}

// familyWeight is the weight of a family before the density is known, the claim apart.
func (e *evaluation) familyWeight(f *alloy.Family, c claim, w *weights) float64 {
	return w.metal[f.Metal] / float64(candidatesOf()[f.Metal]) * w.colourOf(f, c.colour)
}

// claimWeight is the weight of a family within what is claimed.
func (e *evaluation) claimWeight(f *alloy.Family, c claim, named []string) float64 {
	switch {
	case c.metal == "" || f.Metal != c.metal:
		return 0
	case c.fineness == 0:
		if f.Role != alloy.Candidate {
			return 0
		}
		return e.prior(f, c, nil)
	case !made(f, c.fineness) && f != c.family || c.fineness < f.Low || c.fineness > f.High:
		return 0
	}
	return e.prior(f, c, named)
}

// madeOf counts the standards that a family is made at.
func madeOf(f *alloy.Family, standards []float64) (n int) {
	for _, s := range standards {
		if made(f, s) && s >= f.Low && s <= f.High {
			n++
		}
	}
	return n
}

// species are all stones, once.
var species = sync.OnceValue(gem.All)

// stones adds the species that fit, and the one that is claimed.
func (e *evaluation) stones(c claim, w *weights) {
	for i := range species() {
		s := &species()[i]
		z := e.rangeDistance(s.Low.KgPerM3(), s.High.KgPerM3())
		if z > e.fits && s.Key != c.stone {
			continue
		}
		l := leaf{species: s, Candidate: Candidate{
			Name: s.FullName(), Kind: "stone", LowKgM3: s.Low.KgPerM3(), HighKgM3: s.High.KgPerM3(), Z: z, Fits: z <= e.fits,
		}}
		l.evidence, _ = alloy.RangeEvidence(e.observation, 1/s.High.GramPerCm3(), 1/s.Low.GramPerCm3(), 0)
		l.weight = w.ofOrigin[s.Origin]
		if c.stone != "" {
			l.weight *= 1 - w.asClaimed
			if s.Key == c.stone {
				l.claimed = 1
				l.weight += w.asClaimed
			}
		}
		l.weight *= w.stone
		e.leaves = append(e.leaves, l)
	}
}

// lookalikes adds the materials whose usual density fits, nearest first (the table puts tungsten
// before its equals), then those that can be made to fit.
func (e *evaluation) lookalikes(w *weights) {
	add := func(m *alloy.Lookalike, why string, low, high quantity.Density, tuned bool) {
		z := e.rangeDistance(low.KgPerM3(), high.KgPerM3())
		l := leaf{lookalike: m, tuned: tuned, weight: w.lookAlike * w.ofSort[m.Sort], Candidate: Candidate{
			Name: m.Name, Kind: "look-alike", LowKgM3: low.KgPerM3(), HighKgM3: high.KgPerM3(), Z: z, Fits: true, Why: why,
		}}
		l.evidence, _ = alloy.RangeEvidence(e.observation, 1/high.GramPerCm3(), 1/low.GramPerCm3(), 0)
		e.leaves = append(e.leaves, l)
	}
	all := alloy.Lookalikes()
	v, u := e.observation.V, e.fits*e.observation.U
	lightest, densest := quantity.GramsPerCm3(1/(v+u)), quantity.GramsPerCm3(1/max(v-u, 1/densestKnown))
	for i := range all {
		l := &all[i]
		if l.Sort == "stone" && lightest.GramPerCm3() < densestStone {
			continue // the table of stones lists it
		}
		if l.Low <= densest && l.High >= lightest && e.rangeDistance(l.Low.KgPerM3(), l.High.KgPerM3()) <= e.fits {
			add(l, "imitates "+l.Imitates, l.Low, l.High, l.Tunable())
		}
	}
	slices.SortStableFunc(e.leaves, func(a, b leaf) int { return cmp.Compare(a.Z, b.Z) })
	for i := range all {
		l := &all[i]
		if !l.Tunable() || l.ReachHigh < lightest || l.ReachLow > densest {
			continue
		}
		if e.rangeDistance(l.ReachLow.KgPerM3(), l.ReachHigh.KgPerM3()) <= e.fits && e.rangeDistance(l.Low.KgPerM3(), l.High.KgPerM3()) > e.fits {
			add(l, "can be made to this density; density can't exclude it", l.ReachLow, l.ReachHigh, true)
		}
	}
	for i := range e.leaves {
		// A core has no usual density: all of its range is its reach.
		if l := &e.leaves[i]; l.lookalike.Sort == "core" {
			l.Why = "can be made to this density; density can't exclude it"
		}
	}
}

// tune gives every twin that can be made to the density the evidence of what it is sold as. A
// likelihood spread over all that its maker could have chosen would call the twin innocent the more,
// the wider his choice; density must leave its share where it was before.
func (e *evaluation) tune(c claim, w *weights) {
	claimEvidence, claimFits := 0.0, false
	preciousWeight, preciousEvidence := 0.0, 0.0
	for i := range e.leaves {
		l := &e.leaves[i]
		if l.family == nil || !l.Fits {
			continue
		}
		preciousWeight += l.weight
		preciousEvidence += l.weight * l.evidence
		if l.claimed > 0 {
			claimEvidence += l.claimed * l.evidence
			claimFits = true
		}
	}
	switch {
	case c.fineness > 0 && !claimFits:
		return // the twin of something else: its own evidence
	case c.fineness == 0 && preciousWeight > 0:
		// No fineness is claimed: it is sold as whatever it looks like, in the same proportions.
		claimEvidence = preciousEvidence / w.precious
	case c.fineness == 0:
		return
	}
	if claimEvidence == 0 {
		return // only rare recipes reach this density, and nothing says how often they are made
	}
	for i := range e.leaves {
		if l := &e.leaves[i]; l.tuned {
			l.evidence = claimEvidence
		}
	}
}

// share shares out what fits, by a figure of each candidate.
func (e *evaluation) share(figure func(i int) float64, set func(i int, share float64)) {
	e.figures = e.figures[:0]
	sum := 0.0
	for i := range e.leaves {
		x := 0.0
		if e.leaves[i].Fits {
			x = figure(i)
		}
		e.figures = append(e.figures, x)
		sum += x
	}
	for i, x := range e.figures {
		if sum > 0 {
			x /= sum
		}
		set(i, x)
	}
}

// neverExcluded says in words what density can never exclude of what is at hand.
func (e *evaluation) neverExcluded(c claim) {
	add := func(s string) { e.answer.NeverExcluded = append(e.answer.NeverExcluded, s) }
	var tuned []string
	tungsten := false
	for i := range e.leaves {
		l := &e.leaves[i]
		if l.lookalike == nil {
			continue
		}
		if l.tuned && l.lookalike.Sort != "core" {
			tuned = append(tuned, l.Name)
		}
		tungsten = tungsten || l.lookalike.Sort == "tungsten" && 1/e.observation.V > 17.5
	}
	metals := false
	for i := range e.leaves {
		if e.leaves[i].family != nil && e.leaves[i].Fits {
			metals = true
			break
		}
	}
	if metals {
		add("A core of tungsten, lead or another metal under plate, thinned with a lighter metal until the whole has the density of what it is sold as.")
		add("A hollow with a dense filling that together have the right density.")
	}
	if tungsten && metals {
		add("Tungsten in fine gold: half of the volume moves the density by less than two parts in a thousand.")
	}
	if len(tuned) > 0 && metals {
		add("Mixtures that are made to any density within their reach: " + strings.Join(tuned, ", ") + ".")
	}
	if metals {
		add("Another recipe of the same density: a lower fineness with a denser rest.")
	}
	if c.stone != "" {
		add("A grown stone of the same species: it has the constants of the natural one.")
		add("A filled, dyed or heated stone, and a doublet whose parts average to the right density.")
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
