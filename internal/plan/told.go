package plan

import (
	"fmt"
	"math"
	"sort"
	"strconv"

	"wreath/internal/determination"
)

// Answers to a question.
const (
	Yes     = "yes"      // the interval is smaller than half the gap: told apart whatever the usual recipe
	ForMost = "for most" // the bands are too near for that, but few items would be told wrongly
	No      = "no"
)

// Told is how well the claim is told from one other material.
type Told struct {
	Claim       string   `json:"claim"`
	Against     string   `json:"against"`
	Needs       float64  `json:"needs_g_cm3"`  // expanded uncertainty that answers it whatever the recipe; 0 where the bands overlap
	Answer      string   `json:"answer"`       // yes, for most, or no
	Error       float64  `json:"error"`        // share of wrong decisions at best, both equally likely
	RepeatFloor float64  `json:"repeat_floor"` // the same after no end of repeats
	Floor       float64  `json:"floor"`        // the same with no uncertainty of weighing at all
	Best        string   `json:"best"`         // the best answer that any balance gives
	Repeats     int      `json:"repeats"`      // repeats from which it has the best answer; 0: none up to 20
	SmallestG   *float64 `json:"smallest_g"`   // smallest item with the best answer at the planned repeats; null: none

	told float64 // error that counts as told
}

// questions fills in what the weighing tells apart.
func (a *asking) questions(p *Plan, e expectation, seen bool) error {
	many, manySeen, err := a.expect(a.MassG, a.rho, manyRepeats)
	if err != nil {
		return err
	}
	for _, other := range a.others {
		t := Told{Claim: a.claimed.Name, Against: other.Name, Error: 0.5, RepeatFloor: 0.5, told: 1 - a.asked.Rule.Accept}
		t.Needs = a.needs(other)
		t.Floor = confused(a.claimed, other, 0)
		if seen {
			t.Error = confused(a.claimed, other, e.u)
		}
		if manySeen {
			t.RepeatFloor = math.Min(t.Error, confused(a.claimed, other, many.u))
		}
		switch {
		case t.Needs > 0:
			t.Best = Yes
		case t.Floor <= t.told:
			t.Best = ForMost
		default:
			t.Best = No
		}
		t.Answer = a.answer(t, other, e, seen)
		if t.Best != No {
			if err := a.reach(&t, other); err != nil {
				return err
			}
		}
		p.Questions = append(p.Questions, t)
	}
	return nil
}

// gap is the distance of the bands of two materials in specific volume, 0 where they overlap, and
// the standard uncertainty of the mixing model across it.
func (a *asking) gap(other determination.Material) (gap, model float64) {
	low1, high1 := a.claimed.Band()
	low2, high2 := other.Band()
	at := (math.Max(low1, low2) + math.Min(high1, high2)) / 2
	return math.Max(0, math.Max(low2-high1, low1-high2)), math.Max(a.claimed.ModelU(), other.ModelU()) * at
}

// needs is the expanded uncertainty of the density that tells a material from the claim whatever
// the recipe: half the gap between the bands, less what the mixing model takes of it.
func (a *asking) needs(other determination.Material) float64 {
	if other.Tuned(a.claimed) {
		return 0
	}
	gap, model := a.gap(other)
	left := gap*gap/4 - 4*model*model
	if left <= 0 {
		return 0
	}
	return math.Sqrt(left) * a.rho * a.rho
}

// answer is the answer that an expected weighing gives.
func (a *asking) answer(t Told, other determination.Material, e expectation, seen bool) string {
	switch {
	case !seen:
		return No
	case t.Needs > 0 && e.expanded <= t.Needs:
		return Yes
	case confused(a.claimed, other, e.u) <= t.told:
		return ForMost
	}
	return No
}

// reach finds how many repeats and how heavy an item it takes for the best answer.
func (a *asking) reach(t *Told, other determination.Material) error {
	var failed error
	enough := func(grams float64, n int) bool {
		e, seen, err := a.expect(grams, a.rho, n)
		if err != nil {
			failed = err
		}
		if err != nil || !seen {
			return false
		}
		if t.Best == Yes {
			return e.expanded <= t.Needs
		}
		return confused(a.claimed, other, e.u) <= t.told
	}
	for n := 1; n <= MostRepeats && t.Repeats == 0; n++ {
		if enough(a.MassG, n) {
			t.Repeats = n
		}
	}
	top := a.most
	if !enough(top, a.Repeats) {
		return failed
	}
	const perDecade = 200
	decades := math.Log10(top / leastG)
	i := sort.Search(int(perDecade*decades), func(i int) bool { return enough(leastG*math.Pow(10, float64(i)/perDecade), a.Repeats) })
	grams := math.Min(top, leastG*math.Pow(10, float64(i)/perDecade))
	t.SmallestG = &grams
	return failed
}

// finestU is a relative uncertainty that stands for none, so that a material of one density has a
// width.
const finestU = 2e-5

// mostIntervals is the range of a balance in scale intervals that is hardly passed; chosen here.
const mostIntervals = 2e6

// confused is the Bayes error of telling two materials apart by a specific volume that is observed
// with a standard uncertainty u: half of what their distributions share.
func confused(x, y determination.Material, u float64) float64 {
	if x.Tuned(y) || y.Tuned(x) {
		return 0.5
	}
	low1, high1 := x.Band()
	low2, high2 := y.Band()
	u = math.Max(u, finestU*low1)
	wide := func(m determination.Material, v float64) float64 { return math.Hypot(u, m.ModelU()*v) }
	s1, s2 := wide(x, low1), wide(y, low2)
	const tails = 6
	low := math.Max(math.Min(low1, low2)-tails*math.Max(s1, s2), 1e-4)
	high := math.Max(high1, high2) + tails*math.Max(s1, s2)
	finest := math.Min(s1, s2)
	for _, width := range []float64{high1 - low1, high2 - low2} {
		if width > 0 {
			finest = math.Min(finest, math.Max(width/4, math.Max(s1, s2)/8))
		}
	}
	n := int(math.Min(4000, math.Max(200, 3*(high-low)/math.Max(finest, 1e-9))))
	step := (high - low) / float64(n)
	shared, ofX, ofY := 0.0, 0.0, 0.0
	for i := range n {
		v := low + (float64(i)+0.5)*step
		px, py := x.Observed(v, u)*step, y.Observed(v, u)*step
		shared, ofX, ofY = shared+math.Min(px, py), ofX+px, ofY+py
	}
	// A coarse balance observes volumes that nothing has, even none at all: they tell nothing.
	shared += math.Max(0, math.Min(1-ofX, 1-ofY))
	return math.Min(0.5, shared/2)
}

// sentence says what comes of the weighing for the first question.
func (a *asking) sentence(p *Plan) string {
	t := p.Questions[0]
	mass := grams(p.MassG)
	if p.TooSmall {
		return fmt.Sprintf("This balance does not see the weight that an item of %s loses in the liquid; %s.", mass, a.otherwise(p, t))
	}
	expect := fmt.Sprintf("expect ± %.2g g/cm³", p.Expanded)
	if t.Needs > 0 {
		expect = fmt.Sprintf("expect ± %.2g g/cm³, ± %.2g is needed to be sure whatever the recipe", p.Expanded, t.Needs)
	}
	switch {
	case t.Answer == Yes:
		return fmt.Sprintf("This station tells %s from %s on an item of %s: %s.", t.Claim, t.Against, mass, expect)
	case t.Answer == ForMost && t.Best == ForMost:
		return fmt.Sprintf("This station tells %s from %s on an item of %s for most recipes, wrongly in %s of cases: %s.", t.Claim, t.Against, mass, percent(t.Error), expect)
	case t.Best == No:
		return fmt.Sprintf("No balance tells %s from %s: their densities overlap, and %s of decisions would be wrong at best; %s.", t.Claim, t.Against, percent(t.Floor), expect)
	case t.Answer == ForMost:
		return fmt.Sprintf("This station tells %s from %s on an item of %s for most recipes only: %s; %s.", t.Claim, t.Against, mass, expect, a.otherwise(p, t))
	}
	return fmt.Sprintf("This station can't tell %s from %s on an item of %s: %s; %s.", t.Claim, t.Against, mass, expect, a.otherwise(p, t))
}

// otherwise says what would help: repeats, a heavier item, a finer balance.
func (a *asking) otherwise(p *Plan, t Told) string {
	if t.Best != No && t.Repeats > p.Repeats {
		return fmt.Sprintf("%d repeats would do", t.Repeats)
	}
	heavier := t.SmallestG != nil && *t.SmallestG > p.MassG
	for _, f := range p.Finer {
		if len(f.Answers) == 0 || f.Answers[0] != t.Best {
			continue
		}
		finer := strconv.FormatFloat(f.ResolutionG, 'f', -1, 64)
		if heavier {
			return fmt.Sprintf("from %s on it can, and a balance that reads %s g can", grams(*t.SmallestG), finer)
		}
		return fmt.Sprintf("a balance that reads %s g can", finer)
	}
	if heavier {
		return fmt.Sprintf("from %s on it can", grams(*t.SmallestG))
	}
	return "it takes another kind of evidence"
}
