package conformity

import (
	"fmt"
	"math"
	"strconv"

	"wreath/quantity"
)

// GuardBand says how wide a guard band is: a multiple of the expanded uncertainty, or as wide
// as a given specific consumer's risk needs. Make one with Factor or SpecificRisk.
type GuardBand struct {
	factor float64
	risk   float64 // 0: by factor
}

// Factor is a guard band w = r·U, with U the expanded uncertainty of the estimate (JCGM
// 106:2012 8.3.2). Published risks at the acceptance limit, for U = 2u (table of guard bands in
// ILAC-G8:09/2019): r = 1 below 2.5 %, 0.83 below 5 %, 1.5 below 0.16 %, 3 below 1 ppm.
func Factor(r float64) GuardBand { return GuardBand{factor: r} }

// SpecificRisk is a guard band just wide enough that an item at the acceptance limit fails the
// requirement with this probability, 0.05 for 5 % (w = 1.645 u for one normal limit). With two
// limits the probability beyond either counts.
func SpecificRisk(p float64) GuardBand { return GuardBand{risk: p} }

// String says the guard band as it is printed.
func (g GuardBand) String() string {
	if g.risk != 0 {
		return fmt.Sprintf("w for a specific risk of %s %%", short(100*g.risk))
	}
	if g.factor == 1 {
		return "w = U"
	}
	return fmt.Sprintf("w = %s U", short(g.factor))
}

func short(x float64) string { return strconv.FormatFloat(x, 'g', 6, 64) }

func (g GuardBand) check() error {
	if g.risk != 0 {
		return quantity.CheckRange("specific risk", g.risk, 1e-9, 0.5, "", "a guard band (range chosen here)", "Give the risk as a fraction: 0.05 for 5 %.")
	}
	return quantity.CheckRange("guard band factor", g.factor, 0, 10, "", "a guard band (range chosen here)", "Give w as a multiple of U: 1 for w = U.")
}

// widths returns how far inside the limits a value must be to be accepted, +Inf where no value
// can be, and how far outside to be rejected.
func (g GuardBand) widths(e Estimate, l Limits) (accept, reject float64) {
	if g.risk == 0 {
		w := g.factor * e.Expanded()
		return w, w
	}
	one := -quantile(g.risk, e.Dof) * e.U
	half := l.width() / 2
	if math.IsInf(half, 1) {
		return one, one
	}
	at := func(w float64) float64 { return probability(l.Lower+w, e.U, e.Dof, l) }
	if at(half) < 1-g.risk {
		return math.Inf(1), one
	}
	low, high := 0.0, half // at(w) rises towards the middle
	for range 60 {
		if mid := (low + high) / 2; at(mid) < 1-g.risk {
			low = mid
		} else {
			high = mid
		}
	}
	return high, one
}
