package uncertainty

import "math"

// variance returns the variance of the standard form of a shape (Input with U = 1), +Inf for
// t with two degrees of freedom or fewer (JCGM 101:2008 6.4.9.4).
func (d Distribution) variance(nu float64) float64 {
	if d != StudentT || math.IsInf(nu, 1) {
		return 1
	}
	if nu <= 2 {
		return math.Inf(1)
	}
	return nu / (nu - 2)
}

// moments returns the second, fourth, sixth and eighth moment of the standard form of a shape
// with variance 1; for t, where they may not exist, those of the normal.
func (d Distribution) moments() (m2, m4, m6, m8 float64) {
	switch d {
	case Rectangular:
		return 1, 9. / 5, 27. / 7, 9
	case Triangular:
		return 1, 12. / 5, 54. / 7, 144. / 5
	case Arcsine:
		return 1, 3. / 2, 5. / 2, 35. / 8
	}
	return 1, 3, 15, 105
}

// gauss returns the five-point Gauss rule of a shape with variance 1: nodes 0, ±inner and
// ±outer, and their weights. It is exact for polynomials of degree 9.
func (d Distribution) gauss() (r gaussRule) {
	m2, m4, m6, m8 := d.moments()
	// The nodes are the roots of x⁵ - p x³ + q x, which is orthogonal to x and x³.
	det := m4*m4 - m2*m6
	p := (m4*m6 - m2*m8) / det
	q := (m6*m6 - m4*m8) / det
	root := math.Sqrt(p*p/4 - q)
	a, b := p/2-root, p/2+root
	r.inner, r.outer = math.Sqrt(a), math.Sqrt(b)
	r.innerWeight = (b*m2 - m4) / (2 * a * (b - a))
	r.outerWeight = (m4 - a*m2) / (2 * b * (b - a))
	r.middleWeight = 1 - 2*r.innerWeight - 2*r.outerWeight
	return r
}

type gaussRule struct {
	inner, outer                           float64
	middleWeight, innerWeight, outerWeight float64
}

// quantile returns the p-quantile of the standard form of a shape.
func (d Distribution) quantile(p, nu float64) float64 {
	switch d {
	case StudentT:
		return StudentQuantile(p, nu)
	case Rectangular:
		return math.Sqrt(3) * (2*p - 1)
	case Triangular:
		if p > 0.5 {
			return -d.quantile(1-p, nu)
		}
		return math.Sqrt(6) * (math.Sqrt(2*p) - 1)
	case Arcsine:
		return -math.Sqrt2 * math.Cos(math.Pi*p)
	}
	return NormalQuantile(p)
}

// cdf returns the distribution function and the density of the standard form of a shape.
func (d Distribution) cdf(x, nu float64) (probability, density float64) {
	switch d {
	case StudentT:
		return StudentCDF(x, nu), studentDensity(x, nu)
	case Rectangular:
		a := math.Sqrt(3)
		if math.Abs(x) >= a {
			return step01(x), 0
		}
		return (x + a) / (2 * a), 1 / (2 * a)
	case Triangular:
		a := math.Sqrt(6)
		if math.Abs(x) >= a {
			return step01(x), 0
		}
		rest := 1 - math.Abs(x)/a
		p := rest * rest / 2
		if x > 0 {
			p = 1 - p
		}
		return p, rest / a
	case Arcsine:
		a := math.Sqrt2
		if math.Abs(x) >= a {
			return step01(x), 0
		}
		return 0.5 + math.Asin(x/a)/math.Pi, 1 / (math.Pi * math.Sqrt(a*a-x*x))
	}
	return normalBoth(x)
}

func step01(x float64) float64 {
	if x < 0 {
		return 0
	}
	return 1
}

// smooth tells whether the density has no jump and no kink.
func (d Distribution) smooth() bool { return d == Normal || d == StudentT }
