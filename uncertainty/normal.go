package uncertainty

import "math"

// NormalCDF returns the probability that a standard normal quantity is at most z.
func NormalCDF(z float64) float64 {
	return 0.5 * math.Erfc(-z/math.Sqrt2)
}

// NormalQuantile returns the z with NormalCDF(z) = p. It returns -Inf for p = 0, +Inf for
// p = 1, and NaN for p outside 0 to 1.
func NormalQuantile(p float64) float64 {
	if p > 0.5 {
		return -NormalQuantile(1 - p)
	}
	if p > 0.01 {
		return math.Sqrt2 * math.Erfinv(2*p-1)
	}
	if p == 0 {
		return math.Inf(-1)
	}
	// In the tail 2p-1 has lost digits of p: start from the leading term of the tail and
	// correct by Halley's method on the logarithm-free residual.
	l := -2 * math.Log(p)
	z := -math.Sqrt(l - math.Log(2*math.Pi*(l-math.Log(2*math.Pi*l))))
	for range 3 {
		e := (NormalCDF(z) - p) / normalPDF(z)
		z -= e / (1 + z*e/2)
	}
	return z
}

// normalPDF returns the standard normal density.
func normalPDF(z float64) float64 {
	return math.Exp(-0.5*z*z) / math.Sqrt(2*math.Pi)
}

// normalBoth returns the standard normal distribution function and density with one
// exponential between them, the former to about 1e-15: the rational form of J. F. Hart et
// al., Computer Approximations (1968), algorithm 5666, coefficients from memory and checked
// in the tests against the error function of the standard library.
func normalBoth(z float64) (probability, density float64) {
	x := math.Abs(z)
	e := math.Exp(-0.5 * x * x)
	density = e * (1 / 2.50662827463100050242) // √(2π)
	if x < 7.07106781186547 {
		above := ((((((3.52624965998911e-02*x+0.700383064443688)*x+6.37396220353165)*x+33.912866078383)*x+112.079291497871)*x+221.213596169931)*x + 220.206867912376)
		below := (((((((8.83883476483184e-02*x+1.75566716318264)*x+16.064177579207)*x+86.7807322029461)*x+296.564248779674)*x+637.333633378831)*x+793.826512519948)*x + 440.413735824752)
		probability = e * above / below
	} else {
		probability = NormalCDF(-x)
	}
	if z > 0 {
		probability = 1 - probability
	}
	return probability, density
}
