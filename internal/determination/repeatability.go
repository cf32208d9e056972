package determination

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"wreath/uncertainty"
)

// defaultDof says how well a repeatability is known that was guessed from the scale interval
// alone: to about a third of itself (JCGM 100:2008 G.4.2, eq. (G.3): dof = 1/2 · (1/3)^-2).
const defaultDof = 4

// tooOdd is the chance below which a scatter is no longer put down to chance; chosen here.
const tooOdd = 0.002

// roundingVariance is that of a reading rounded to d with a tare set to zero within d/4, in d².
const roundingVariance = 1./12 + 1./48

// enoughRepeats is the number of repeats from which their own scatter stands alone.
const enoughRepeats = 5

// defaultRepeatability is taken when only the scale interval d is known: fine balances scatter
// by one interval in air, and surface forces add half a milligram in the liquid; coarse ones
// hide their scatter in the interval. Chosen here; common practice at the bench.
func defaultRepeatability(d float64, immersed bool) float64 {
	switch {
	case d >= 0.01 && immersed:
		return d
	case d >= 0.01:
		return d / 2
	case immersed:
		return math.Hypot(2*d, 0.0005)
	}
	return d
}

// repeatability gives the standard uncertainty of the mean of n readings with sample standard
// deviation s, with its degrees of freedom.
//
// What is known of the balance and what the readings show are pooled by their degrees of
// freedom. When the readings scatter more than the balance explains (F-test at 0.2 %), they stand
// alone, and that is a doubt. Rounding to the scale interval scatters too, and is allowed for.
func (e *evaluation) repeatability(name string, n int, s float64, immersed bool) (u, dof float64, dist uncertainty.Distribution) {
	s0, nu0 := e.statedRepeatability(immersed)
	own := float64(n - 1)
	switch {
	case n == 1:
		s, dof = s0, nu0
	case surplus(s*s/(s0*s0+roundingVariance*e.resolution*e.resolution), own, nu0) < tooOdd:
		dof = own
		e.suspend(causeScatter, "Weigh again: re-seat the item, brush off bubbles, shield the balance from draught.",
			"%s: standard deviation %.2g g of %d readings, the balance explains %.2g g", name, s, n, s0)
	case n >= enoughRepeats && e.assumedRepeatability(immersed):
		dof = own
	case math.IsInf(nu0, 1):
		s, dof = s0, nu0
	default:
		s, dof = math.Sqrt((nu0*s0*s0+own*s*s)/(nu0+own)), nu0+own
	}
	if math.IsInf(dof, 1) {
		return s / math.Sqrt(float64(n)), 0, uncertainty.Normal
	}
	return s / math.Sqrt(float64(n)), dof, uncertainty.StudentT
}

// assumedRepeatability is true where the draft does not say how well such readings repeat.
func (e *evaluation) assumedRepeatability(immersed bool) bool {
	return e.balance.RepeatabilityG == nil && !(immersed && e.balance.RepeatabilityLiquidG != nil)
}

// surplus is the chance of a ratio of variances at least this large when both are the same.
func surplus(ratio, own, known float64) float64 {
	if ratio <= 1 {
		return 1
	}
	if math.IsInf(known, 1) {
		return distuv.ChiSquared{K: own}.Survival(ratio * own)
	}
	return distuv.F{D1: own, D2: known}.Survival(ratio)
}

// statedRepeatability is what the draft says of the balance, or the default.
func (e *evaluation) statedRepeatability(immersed bool) (s, dof float64) {
	b := e.balance
	s = -1
	if b.RepeatabilityG != nil {
		s = *b.RepeatabilityG
	}
	if immersed && b.RepeatabilityLiquidG != nil {
		s = *b.RepeatabilityLiquidG
	}
	if s < 0 {
		return defaultRepeatability(e.resolution, immersed), defaultDof
	}
	return s, or(b.RepeatabilityDof, math.Inf(1))
}
