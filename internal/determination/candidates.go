package determination

import (
	"fmt"
	"math"
	"slices"

	"wreath/alloy"
	"wreath/gem"
)

// candidates lists everything in the tables that fits the density: look-alikes of the claim
// first, then the alloys by distance, stones where the density is that of stones.
func (e *evaluation) candidates(c claim) {
	for _, l := range alloy.LookAlikes() {
		z := e.rangeDistance(l.Low.KgPerM3(), l.High.KgPerM3())
		if z > fitsWithin {
			continue
		}
		e.answer.Candidates = append(e.answer.Candidates, Candidate{
			Name: l.Material, Kind: "look-alike", LowKgM3: l.Low.KgPerM3(), HighKgM3: l.High.KgPerM3(), Z: z, Fits: true, Why: twin(l),
		})
	}
	slices.SortStableFunc(e.answer.Candidates, func(a, b Candidate) int {
		if (a.Why != "") != (b.Why != "") {
			if a.Why != "" {
				return -1
			}
			return 1
		}
		return sign(a.Z - b.Z)
	})
	first := len(e.answer.Candidates)
	for _, f := range alloy.Families() {
		if f.Role != alloy.Candidate && f != c.family {
			continue
		}
		standards := c.standards
		if f.Metal != c.metal {
			standards, _ = alloy.Standards(alloy.DefaultStandards, f.Metal)
		}
		for _, s := range standards {
			z, ok := f.Distance(e.observation, s, true)
			if !ok {
				continue
			}
			claimed := s == c.fineness && f == c.family
			if math.Abs(z) > fitsWithin && !claimed {
				continue
			}
			low, high, _ := f.Band(s, true)
			e.answer.Candidates = append(e.answer.Candidates, Candidate{
				Name: fmt.Sprintf("%s %.4g", f.Name, 1000*s), Kind: "alloy", Family: f.Key, Fineness: 1000 * s,
				LowKgM3: 1000 / high, HighKgM3: 1000 / low, Z: z, Fits: math.Abs(z) <= fitsWithin,
			})
		}
	}
	slices.SortStableFunc(e.answer.Candidates[first:], func(a, b Candidate) int { return sign(math.Abs(a.Z) - math.Abs(b.Z)) })
	if rho := 1 / e.observation.V; rho < 8 {
		e.stones()
	}
}

func twin(l alloy.LookAlike) string {
	if l.Tunable {
		return "can be made to any density in its range; density can't exclude it"
	}
	return l.Imitates
}

func (e *evaluation) stones() {
	for _, s := range gem.All() {
		if z := e.rangeDistance(s.Low.KgPerM3(), s.High.KgPerM3()); z <= fitsWithin {
			e.answer.Candidates = append(e.answer.Candidates, Candidate{
				Name: s.Name(), Kind: "stone", LowKgM3: s.Low.KgPerM3(), HighKgM3: s.High.KgPerM3(), Z: z, Fits: true,
			})
		}
	}
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
		return oneOf("claim.stone", c.stone, gem.Keys()...)
	}
	e.stones()
	f := &Finding{Claim: species.Name(), Rule: c.rule.Title() + "; density range of the species, 99 %"}
	z := e.rangeDistance(species.Low.KgPerM3(), species.High.KgPerM3())
	f.Result = "undecided"
	f.Missing = e.missing(c.rule)
	if z > fitsWithin {
		f.Reasons = []string{fmt.Sprintf("the density lies %.1f standard uncertainties outside the range of %s", z, species.Name())}
		f.Result = "not met"
		if len(f.Missing) > 0 || e.proof == disproved {
			f.WouldBe, f.Result = "not met", "undecided"
		}
		f.Sentence = fmt.Sprintf("The density is not that of %s.", species.Name())
		if f.WouldBe != "" {
			f.Sentence = fmt.Sprintf("Not decided yet. On these numbers alone it would not be %s.", species.Name())
		}
	} else {
		others := 0
		for _, k := range e.answer.Candidates {
			if k.Name != species.Name() {
				others++
			}
		}
		f.Reasons = []string{fmt.Sprintf("the density fits %s; %d other materials fit too", species.Name(), others)}
		f.Sentence = fmt.Sprintf("The density is one that %s has; density alone never names a stone. Measure the refractive index next.", species.Name())
	}
	e.answer.Finding = f
	return nil
}

// cautions adds what density cannot see and what the paper is not.
func (e *evaluation) cautions() {
	add := func(s string) { e.answer.Cautions = append(e.answer.Cautions, s) }
	rho := 1 / e.observation.V
	metal := ""
	if e.answer.Fineness != nil {
		metal = e.answer.Fineness.Metal
	}
	switch {
	case metal == "gold" || rho > 14:
		add("Density can't see tungsten: it has the density of fine gold, and tungsten alloys reach every gold alloy above 14 carat. Ask for a second property that looks through the item: sound, conductivity, or drilling.")
	case metal == "silver" || rho > 9.5 && rho < 11.5:
		add("Density can't exclude lead alloys or molybdenum in place of silver and low-carat gold. Conductivity, sound or touchstone can.")
	case metal == "platinum":
		add("Density names the platinum metal, not its fineness: platinum with iridium or rhenium is as dense as fine platinum.")
	case metal == "palladium":
		add("Density says almost nothing about the fineness of palladium; it names the metal at best.")
	}
	if item := e.draft.Item; item != nil {
		if item.Stones != nil && *item.Stones && c2metal(e.draft) {
			add("Stones were seen: they lower the density of the whole, and the fineness here is that of no metal. Unset them, or weigh a part without stones.")
		}
		if item.Hollow != nil && *item.Hollow {
			add("The item may be hollow or filled: a sealed hollow lowers the density exactly as a lower fineness does.")
		}
	}
	add("A density determination; not a hallmark, not an assay certificate, not legal advice.")
}

func c2metal(d *Draft) bool { return d.Claim == nil || d.Claim.Stone == "" }
