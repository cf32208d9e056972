package determination

import (
	"fmt"
	"math"

	"wreath/uncertainty"
)

// mostRepeats is the most weighings in the liquid where no rule says it; chosen here.
const mostRepeats = 10

// Verdicts between two repeats.
const (
	Enough  = "enough"
	OneMore = "one more"
	Useless = "useless"
)

// StopRule says when to stop repeating. It is agreed before the first reading, so that nobody can
// stop where the answer pleases.
type StopRule struct {
	ExpandedKgM3 *float64 `json:"expanded_kg_m3" doc:"expanded uncertainty of the density that is enough; what the finding asks for unless said"`
	Least        *int     `json:"least" doc:"fewest weighings in the liquid; those of the house rule unless said"`
	Most         *int     `json:"most" doc:"most weighings in the liquid; 10 unless said"`
}

// Stop is what the stop rule says between two repeats.
type Stop struct {
	Verdict      string   `json:"verdict" doc:"enough, one more or useless"`
	Why          string   `json:"why" doc:"in words"`
	Repeats      int      `json:"repeats" doc:"weighings in the liquid so far"`
	Least        int      `json:"least" doc:"fewest that the rule asks for"`
	Most         int      `json:"most" doc:"most that the rule allows"`
	WantedKgM3   *float64 `json:"wanted_kg_m3" doc:"expanded uncertainty that is enough; null where the rule names none"`
	ExpandedKgM3 float64  `json:"expanded_kg_m3" doc:"expanded uncertainty so far"`
	AfterKgM3    float64  `json:"after_kg_m3" doc:"expanded uncertainty to expect after one more weighing in the liquid"`
	FloorKgM3    float64  `json:"floor_kg_m3" doc:"expanded uncertainty that no number of repeats passes"`
}

// checkStopRule refuses a rule that can't be followed.
func (d *Draft) checkStopRule() error {
	r := d.StopRule
	if r == nil {
		return nil
	}
	if r.Least != nil && (*r.Least < 1 || *r.Least > 100) {
		return bad("stop_rule.least", "It counts weighings in the liquid: 1 to 100.", "%d cannot be right", *r.Least)
	}
	if r.Most != nil && (*r.Most < 1 || *r.Most > 100) {
		return bad("stop_rule.most", "It counts weighings in the liquid: 1 to 100.", "%d cannot be right", *r.Most)
	}
	if r.Least != nil && r.Most != nil && *r.Least > *r.Most {
		return bad("stop_rule.most", "The most is at least the least.", "%d is less than stop_rule.least, %d", *r.Most, *r.Least)
	}
	return within("stop_rule.expanded_kg_m3", r.ExpandedKgM3, 0.001, 10000, "kg/m³")
}

// stop says whether enough was weighed. It looks at what was agreed, at the uncertainty and at the
// scatter. It does not look at the density, so nobody can stop because the answer pleases; and it
// takes the balance for no better than it is known to be, so that readings which happen to agree do
// not end the weighing early.
func (e *evaluation) stop(c claim) {
	if e.method != "immersion" {
		return
	}
	asked := e.asked(c)
	wanted, at := e.wanted(asked)
	s := &Stop{Least: max(asked.Rule.Immersions, 1), Most: mostRepeats, Repeats: len(e.sets[1].readings)}
	if r := e.draft.StopRule; r != nil {
		if r.Least != nil {
			s.Least = *r.Least
		}
		if r.Most != nil {
			s.Most = *r.Most
		}
	}
	s.Most = max(s.Most, s.Least)
	if wanted == 0 && e.draft.StopRule == nil {
		return // nothing is asked, and nothing agreed
	}
	density := 1000 * at * at // from cm³/g to kg/m³, at a density that the readings do not move
	n := s.Repeats
	now, known := e.repeated(n, true), e.repeated(n, false)
	so := math.Max(now, known)
	s.ExpandedKgM3 = density * so
	s.AfterKgM3 = density * math.Max(e.repeated(n+1, true), e.repeated(n+1, false))
	s.FloorKgM3 = density * e.repeated(0, false)
	if wanted > 0 {
		kg := density * wanted
		s.WantedKgM3 = &kg
	}
	left := math.Max(e.repeated(s.Most, true), e.repeated(s.Most, false))
	switch {
	case n < s.Least:
		s.Verdict, s.Why = OneMore, fmt.Sprintf("%s in the liquid, at least %d are agreed", weighings(n), s.Least)
	case e.scattered() && n < s.Most:
		s.Verdict, s.Why = OneMore, "the readings differ more than the balance explains; look for the cause, and weigh again"
	case e.scattered():
		s.Verdict, s.Why = Useless, fmt.Sprintf("the readings differ more than the balance explains, and %s were agreed at most: find the cause first", weighings(s.Most))
	case wanted == 0:
		s.Verdict, s.Why = Enough, fmt.Sprintf("%s, as agreed; no uncertainty was agreed", weighings(n))
	case so <= wanted:
		s.Verdict, s.Why = Enough, fmt.Sprintf("the expanded uncertainty is ± %.2g g/cm³, ± %.2g is enough", s.ExpandedKgM3/1000, *s.WantedKgM3/1000)
	case s.FloorKgM3 > *s.WantedKgM3:
		s.Verdict, s.Why = Useless, fmt.Sprintf("no number of repeats gives less than ± %.2g g/cm³, ± %.2g is asked: take a finer balance, or know the liquid better", s.FloorKgM3/1000, *s.WantedKgM3/1000)
	case n >= s.Most:
		s.Verdict, s.Why = Useless, fmt.Sprintf("%s were agreed at most, and the expanded uncertainty is ± %.2g g/cm³ where ± %.2g is asked", weighings(s.Most), s.ExpandedKgM3/1000, *s.WantedKgM3/1000)
	case left > wanted:
		s.Verdict, s.Why = Useless, fmt.Sprintf("even %s in the liquid, the most that is agreed, leave ± %.2g g/cm³ where ± %.2g is asked; repeats in air may help", weighings(s.Most), density*left/1000, *s.WantedKgM3/1000)
	default:
		s.Verdict, s.Why = OneMore, fmt.Sprintf("the expanded uncertainty is ± %.2g g/cm³, ± %.2g is asked; one more gives about ± %.2g", s.ExpandedKgM3/1000, *s.WantedKgM3/1000, s.AfterKgM3/1000)
	}
	e.answer.Stop = s
}

func weighings(n int) string {
	if n == 1 {
		return "1 weighing"
	}
	return fmt.Sprintf("%d weighings", n)
}

// wanted is the expanded uncertainty of the specific volume that is enough, 0 where none is agreed or
// follows; and the density in g/cm³ at which it is written as one of the density: that of the claim.
//
// What is asked for the finding is a standard uncertainty of a sixth of the gap between the claim and
// the next lower standard, in the family where the gap is smallest: the middle between them is then
// three standard uncertainties away. The finding itself can be decided up to a third. Chosen here.
func (e *evaluation) wanted(a Asked) (expanded, at float64) {
	gap, middle := math.Inf(1), 0.0
	for _, f := range a.families {
		low, high, ok := f.Band(a.Fineness, false)
		nextLow, nextHigh, nextOk := f.Band(a.Next, false)
		if !ok || !made(f, a.Fineness) && len(a.families) > 1 {
			continue
		}
		middle = math.Max(middle, (low+high)/2)
		if g := math.Abs(nextLow+nextHigh-low-high) / 2; nextOk && g > 0 {
			gap = math.Min(gap, g)
		}
	}
	at = 1 / e.v20.Y
	if middle > 0 {
		at = 1 / middle
	}
	switch r := e.draft.StopRule; {
	case r != nil && r.ExpandedKgM3 != nil:
		return *r.ExpandedKgM3 / (1000 * at * at), at
	case a.Fineness > 0 && !math.IsInf(gap, 1):
		return uncertainty.NormalQuantile((1+coverage)/2) * gap / 6, at
	}
	return 0, at
}

// repeated is the expanded uncertainty of the specific volume, had the item been weighed n times in
// the liquid; 0: without end, in air and in the liquid. With shown, what the readings show of the
// repeatability counts; without, what is known of the balance alone.
func (e *evaluation) repeated(n int, shown bool) float64 {
	variance, fourth := 0.0, 0.0
	for _, r := range e.v20.Rows {
		part, dof := r.Sensitivity*r.U, r.Nu()
		for i, set := range e.sets {
			if r.Name != set.name+": repeatability" {
				continue
			}
			taken, hoped := len(set.readings), len(set.readings)
			if i == 1 {
				hoped = n
			}
			s, nu := r.U*math.Sqrt(float64(taken)), dof
			if !shown {
				s, nu = e.statedRepeatability(set.immersed)
			} else if !math.IsInf(nu, 1) && hoped > taken {
				nu += float64(hoped - taken)
			}
			dof = nu
			if n == 0 {
				part = 0
			} else {
				part = r.Sensitivity * s / math.Sqrt(float64(hoped))
			}
		}
		variance += part * part
		if !math.IsInf(dof, 1) {
			fourth += part * part * part * part / dof
		}
	}
	if fourth == 0 {
		return uncertainty.NormalQuantile((1+coverage)/2) * math.Sqrt(variance)
	}
	return uncertainty.StudentQuantile((1+coverage)/2, variance*variance/fourth) * math.Sqrt(variance)
}

// scattered is true where the readings of a kind differ more than the balance explains.
func (e *evaluation) scattered() bool {
	for _, set := range e.sets {
		if len(set.readings) < 2 {
			continue
		}
		_, s := mean(set.readings)
		s0, nu0 := e.statedRepeatability(set.immersed)
		if surplus(s*s/(s0*s0+roundingVariance*e.resolution*e.resolution), float64(len(set.readings)-1), nu0) < tooOdd {
			return true
		}
	}
	return false
}
