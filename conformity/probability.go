package conformity

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Probability returns the conformance probability: the probability that the measurand lies
// between lower and upper (-Inf or +Inf where there is no limit), given the measured value y,
// its standard uncertainty u and the degrees of freedom dof of u. With dof 0 or +Inf the
// distribution is normal (JCGM 106:2012 7.2 to 7.4), else a t distribution scaled by u.
//
// Errors: *InputError for an estimate or limits that are none.
func Probability(y, u, dof, lower, upper float64) (float64, error) {
	if err := checkEstimate(y, u, dof); err != nil {
		return 0, err
	}
	if err := (Limits{lower, upper}).check(); err != nil {
		return 0, err
	}
	return probability(y, u, dof, Limits{lower, upper}), nil
}

// probability is Probability for arguments already checked.
func probability(y, u, dof float64, l Limits) float64 {
	a, b := (l.Lower-y)/u, (l.Upper-y)/u
	if a > 0 { // subtract the small tails, not numbers near one
		a, b = -b, -a
	}
	return max(0, cdf(b, dof)-cdf(a, dof))
}

// knownDof is the number of degrees of freedom from which on the normal distribution is taken;
// its largest difference from t is then below 1e-8.
const knownDof = 1e7

func isNormal(dof float64) bool { return dof == 0 || dof >= knownDof }

// cdf is the standard normal or t distribution function.
func cdf(x, dof float64) float64 {
	if isNormal(dof) || math.IsInf(x, 0) {
		return 0.5 * math.Erfc(-x/math.Sqrt2)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.CDF(x)
}

// quantile is the inverse of cdf, for 0 < p < 1.
func quantile(p, dof float64) float64 {
	if isNormal(dof) {
		return math.Sqrt2 * math.Erfinv(2*p-1)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Quantile(p)
}
