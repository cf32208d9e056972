package alloy

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Evidence returns the density of the observation per unit of ln v for one fineness of the
// family, over its usual and outer recipes. False outside the family's span.
func (f *Family) Evidence(o Observation, fineness float64) (float64, bool) {
	if !o.valid() {
		return 0, false
	}
	t := f.table
	i, part, ok := t.place(fineness)
	if !ok {
		return 0, false
	}
	l := newLikelihood(o, f.ModelU)
	var between [usualNodes + outerNodes]float32
	a, b := t.row(i), t.row(i+1)
	n := t.usual + t.outer
	for k := range n {
		between[k] = a[k] + float32(part)*(b[k]-a[k])
	}
	p := l.overNodes(between[:t.usual], t.weights[:t.usual])
	if t.outer > 0 {
		p += l.overNodes(between[t.usual:n], t.weights[t.usual:])
	}
	return o.V * p, true
}

// RangeEvidence returns the density of the observation per unit of ln v for a material whose
// specific volume lies anywhere between low and high (cm³/g, every value equally likely), with a
// relative standard uncertainty of its own.
func RangeEvidence(o Observation, low, high, relU float64) (float64, bool) {
	if !o.valid() || !(low > 0 && low <= high) || !(relU >= 0) {
		return 0, false
	}
	l := newLikelihood(o, relU)
	middle := min(max(o.V, low), high)
	variance := l.variance(middle)
	s := math.Sqrt(variance)
	if s == 0 {
		return 0, false
	}
	if high-low < 1e-3*s {
		return o.V * l.at(middle, variance), true
	}
	return o.V * (l.cumulative((high-o.V)/s, variance) - l.cumulative((low-o.V)/s, variance)) / (high - low), true
}

// cumulative returns the distribution function at z standard uncertainties.
func (l *likelihood) cumulative(z, variance float64) float64 {
	if l.normal {
		return math.Erfc(-z/math.Sqrt2) / 2
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: min(l.effectiveDof(variance), manyDof)}.CDF(z)
}

// RangeDistance returns how many standard uncertainties the observation lies outside a range of
// specific volumes: 0 inside, positive when less dense, negative when denser.
func RangeDistance(o Observation, low, high, relU float64) float64 {
	l := newLikelihood(o, relU)
	switch {
	case o.V > high:
		return (o.V - high) / math.Sqrt(l.variance(high))
	case o.V < low:
		return (o.V - low) / math.Sqrt(l.variance(low))
	}
	return 0
}
