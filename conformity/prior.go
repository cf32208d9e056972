package conformity

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/integrate/quad"
)

// Prior is what was known of an item before it was measured: the normal distribution of the
// population that it comes from.
type Prior struct{ Mean, SD float64 }

// Update combines the prior with a normal measurement: the posterior mean is the mean of prior
// and measured value weighted by the inverse variances (JCGM 106:2012 6 and 7.2). The result is
// an estimate with known uncertainty.
func (p Prior) Update(y, u float64) (Estimate, error) {
	if err := checkEstimate(y, u, 0); err != nil {
		return Estimate{}, err
	}
	if err := p.check(); err != nil {
		return Estimate{}, err
	}
	share := 1 / (1 + (u/p.SD)*(u/p.SD)) // of the measurement
	return Estimate{Value: share*y + (1-share)*p.Mean, U: u * math.Sqrt(share)}, nil
}

func (p Prior) check() error {
	if finite(p.Mean) && p.SD > 0 && finite(p.SD) {
		return nil
	}
	return &InputError{"prior", "the mean or the standard deviation of the items is not a number, or the latter not above zero",
		"Give mean and standard deviation of the items before measurement."}
}

// GlobalRisks returns the risks for the next item drawn from the population and measured with
// standard uncertainty u (JCGM 106:2012 9.5): consumer, the probability that it is accepted and
// misses the requirement; producer, that it is rejected and meets it. Requirement and
// acceptance are limits of the true and of the measured value.
func GlobalRisks(p Prior, u float64, requirement, acceptance Limits) (consumer, producer float64, err error) {
	if err := checkEstimate(0, u, 0); err != nil {
		return 0, 0, err
	}
	if err := p.check(); err != nil {
		return 0, 0, err
	}
	if err := requirement.check(); err != nil {
		return 0, 0, err
	}
	if math.IsNaN(acceptance.Lower) || math.IsNaN(acceptance.Upper) {
		return 0, 0, &InputError{"limits", "an acceptance limit is not a number", "Take the acceptance limits from a decision."}
	}
	accepted := func(truth float64) float64 {
		if acceptance.Empty() {
			return 0
		}
		return probability(truth, u, 0, acceptance)
	}
	density := func(truth float64) float64 {
		z := (truth - p.Mean) / p.SD
		return math.Exp(-z*z/2) / (p.SD * math.Sqrt(2*math.Pi))
	}
	const reach = 9 // standard deviations; beyond lies less than 1e-18
	low, high := p.Mean-reach*p.SD, p.Mean+reach*p.SD
	nodes := []float64{low, p.Mean - 3*p.SD, p.Mean, p.Mean + 3*p.SD, high, requirement.Lower, requirement.Upper}
	for _, a := range []float64{acceptance.Lower, acceptance.Upper} {
		nodes = append(nodes, a-reach*u, a-3*u, a, a+3*u, a+reach*u)
	}
	sort.Float64s(nodes)
	for i := 1; i < len(nodes); i++ {
		a, b := max(nodes[i-1], low), min(nodes[i], high)
		if !(a < b) {
			continue
		}
		if requirement.Contain((a + b) / 2) {
			producer += quad.Fixed(func(x float64) float64 { return density(x) * (1 - accepted(x)) }, a, b, 48, quad.Legendre{}, 0)
		} else {
			consumer += quad.Fixed(func(x float64) float64 { return density(x) * accepted(x) }, a, b, 48, quad.Legendre{}, 0)
		}
	}
	return consumer, producer, nil
}
