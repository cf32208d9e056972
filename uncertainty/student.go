package uncertainty

import "math"

// Degrees of freedom above this make Student's t the normal distribution to all digits that
// these functions promise.
const normalDof = 1e10

// StudentCDF returns the probability that Student's t with nu degrees of freedom is at most
// t. nu is any number above zero, also fractional or +Inf (JCGM 100:2008 G.3, G.4). The
// smaller tail is right to about 1e-9 of itself. It returns NaN for nu not above zero.
func StudentCDF(t, nu float64) float64 {
	if t < 0 {
		return studentTail(-t, nu)
	}
	return 1 - studentTail(t, nu)
}

// StudentQuantile returns the t with StudentCDF(t, nu) = p, for any nu above zero, also
// fractional or +Inf. The coverage factor for a probability P, both tails equal, is
// StudentQuantile((1+P)/2, nu) (JCGM 100:2008 G.3.4). It returns -Inf and +Inf for p = 0 and
// p = 1, and NaN for p outside 0 to 1 or nu not above zero.
func StudentQuantile(p, nu float64) float64 {
	switch {
	case math.IsNaN(p) || p < 0 || p > 1 || math.IsNaN(nu) || nu <= 0:
		return math.NaN()
	case nu > normalDof:
		return NormalQuantile(p)
	case p < 0.5:
		return -studentUpper(p, nu)
	case p > 0.5:
		return studentUpper(1-p, nu)
	}
	return 0
}

// studentUpper returns the t above zero whose upper tail is p, 0 <= p < 1/2.
func studentUpper(p, nu float64) float64 {
	switch {
	case p == 0:
		return math.Inf(1)
	case nu == 1:
		return 1 / math.Tan(math.Pi*p)
	case nu == 2:
		return (1 - 2*p) / math.Sqrt(2*p*(1-p))
	case nu < 1:
		return studentUpperBisect(p, nu)
	}
	if nu > 12 {
		if t, ok := hillInverse(-NormalQuantile(p), nu); ok {
			return t
		}
	}
	t := hillQuantile(2*p, nu)
	for range 8 {
		// Second-order Taylor step of the inverse: the density's own slope is known.
		tail, density := studentTailBeta(t, nu)
		h := (tail - p) / density
		step := h * (1 + h*t*(nu+1)/(2*(nu+t*t)))
		if !(math.Abs(step) < 0.5*t) {
			break
		}
		t += step
		if math.Abs(h) < 5e-4*t {
			return t
		}
	}
	return studentUpperBisect(p, nu)
}

// studentUpperBisect halves an interval of ln t; slow, for nu below one and lost starts.
func studentUpperBisect(p, nu float64) float64 {
	lo, hi := -700.0, 700.0
	for range 80 {
		mid := (lo + hi) / 2
		if studentTail(math.Exp(mid), nu) > p {
			lo = mid
		} else {
			hi = mid
		}
	}
	return math.Exp((lo + hi) / 2)
}

// hillQuantile is a first approximation of the t whose two tails together hold p.
// G. W. Hill, Algorithm 396: Student's t-quantiles, Commun. ACM 13 (1970) 619.
func hillQuantile(p, nu float64) float64 {
	a := 1 / (nu - 0.5)
	b := 48 / (a * a)
	c := ((20700*a/b-98)*a-16)*a + 96.36
	d := ((94.5/(b+c)-3)/b + 1) * math.Sqrt(a*math.Pi/2) * nu
	y := math.Exp(2 / nu * math.Log(d*p))
	if y > 0.05+a || (nu < 2.1 && p > 0.5) {
		x := NormalQuantile(p / 2)
		y = x * x
		if nu < 5 {
			c += 0.3 * (nu - 4.5) * (x + 0.6)
		}
		c += (((0.05*d*x-5)*x-7)*x-2)*x + b
		y = (((((0.4*y+6.3)*y+36)*y+94.5)/c-y-3)/b + 1) * x
		return math.Sqrt(nu * math.Expm1(a*y*y))
	}
	y = ((1/(((nu+6)/(nu*y)-0.089*d-0.822)*(nu+2)*3)+0.5/(nu+4))*y-1)*(nu+1)/(nu+2) + 1/y
	return math.Sqrt(nu * y)
}

// studentDensity returns the density of Student's t.
func studentDensity(t, nu float64) float64 {
	if nu > normalDof {
		return normalPDF(t)
	}
	if nu <= mostWhole && nu == math.Floor(nu) {
		// (1 + t²/ν)^(-(ν+1)/2) by multiplication.
		n := int(nu)
		base := 1 / (1 + t*t/nu)
		power := 1.0
		if n%2 == 0 {
			power = math.Sqrt(base)
		}
		for range (n + 1) / 2 {
			power *= base
		}
		return wholePeaks[n] * power
	}
	return studentPeak(nu) * math.Exp(-(nu+1)/2*math.Log1p(t*t/nu))
}

// studentPeak returns the density of Student's t at 0.
func studentPeak(nu float64) float64 { return gammaHalfRatio(nu/2) / math.Sqrt(math.Pi*nu) }

// mostWhole is up to how many whole degrees of freedom the finite forms are used.
const mostWhole = 30

// wholePeaks holds studentPeak for whole degrees of freedom.
var wholePeaks = func() (peaks [mostWhole + 1]float64) {
	for n := 1; n <= mostWhole; n++ {
		peaks[n] = studentPeak(float64(n))
	}
	return peaks
}()

// studentTail returns the probability above t, t >= 0.
func studentTail(t, nu float64) float64 {
	switch {
	case math.IsNaN(t) || math.IsNaN(nu) || nu <= 0:
		return math.NaN()
	case nu > normalDof:
		return NormalCDF(-t)
	case math.IsInf(t, 1):
		return 0
	}
	if nu <= mostWhole && nu == math.Floor(nu) {
		if p := studentTailWhole(t, int(nu)); p > 1e-5 {
			return p
		}
	}
	if nu > 12 {
		if z, ok := hillNormal(t, nu); ok {
			return NormalCDF(-z)
		}
	}
	p, _ := studentTailBeta(t, nu)
	return p
}

// studentTailWhole is the finite sum for whole nu (Abramowitz and Stegun 26.7.3, 26.7.4).
// It subtracts from one, so it loses digits far out.
func studentTailWhole(t float64, nu int) float64 {
	n := float64(nu)
	cos2 := n / (n + t*t)
	if nu%2 == 0 {
		sum, term := 1.0, 1.0
		for k := 2; k <= nu-2; k += 2 {
			term *= cos2 * float64(k-1) / float64(k)
			sum += term
		}
		return (1 - t/math.Sqrt(n+t*t)*sum) / 2
	}
	sum, term := 0.0, 1.0
	for k := 3; k <= nu; k += 2 {
		sum += term
		term *= cos2 * float64(k-1) / float64(k)
	}
	return (math.Atan2(math.Sqrt(n), t) - t*math.Sqrt(n)/(n+t*t)*sum) / math.Pi
}

// hillNormal returns the normal deviate with the same tail as t, and false where the
// expansion is not good enough for the digits promised.
func hillNormal(t, nu float64) (float64, bool) {
	a := nu - 0.5
	w := math.Sqrt(a * math.Log1p(t*t/nu))
	return hillSeries(w, 48*a*a), hillHolds(w, 48*a*a)
}

// hillInverse returns the t with the same tail as the normal deviate z, and false where the
// expansion is not good enough for the digits promised.
func hillInverse(z, nu float64) (float64, bool) {
	a := nu - 0.5
	b := 48 * a * a
	if !hillHolds(z, b) {
		return 0, false
	}
	w := z - z*(z*z+3)/b
	for range 2 {
		w -= (hillSeries(w, b) - z) / (1 + 3*(w*w+1)/b)
	}
	return math.Sqrt(nu * math.Expm1(w*w/a)), true
}

// hillSeries gives the normal deviate for w = √(a ln(1+t²/nu)), a = nu-1/2, b = 48a². The
// expansion is that of G. W. Hill, Algorithm 395: Student's t-distribution, Commun. ACM 13
// (1970) 617, with one term more.
func hillSeries(w, b float64) float64 {
	w2 := w * w
	second := (((4*w2+33)*w2+240)*w2 + 855) / 10
	c := 1 / b
	return w * (1 + c*(w2+3-c*(second-c*hillThird(w2))))
}

func hillThird(w2 float64) float64 {
	return (((((64*w2+788)*w2+9801)*w2+89775)*w2+543375)*w2 + 1788885) / 210
}

// hillHolds tells whether the last term of the series is small enough.
func hillHolds(w, b float64) bool {
	return hillThird(w*w)*(1+w*w) < 1e-7*b*b*b
}

// studentTailBeta returns the probability above t and the density at t, t > 0. The tail is
// half the incomplete beta function of nu/(nu+t²) with nu/2 and 1/2 (Abramowitz and Stegun
// 26.5, 26.7.1): a series of positive terms in the middle, a continued fraction outside.
func studentTailBeta(t, nu float64) (tail, density float64) {
	a := nu / 2
	t2 := t * t
	y := t2 / (nu + t2)
	front := math.Sqrt(y) * math.Exp(-a*math.Log1p(t2/nu)) * gammaHalfRatio(a) / math.SqrtPi
	if y*(a+2.5) < 1.5 {
		sum, term := 1.0, 1.0
		for k := 0.0; term > 1e-11*sum; k++ {
			term *= y * (a + 0.5 + k) / (1.5 + k)
			sum += term
		}
		return 0.5 - front*sum, front / t
	}
	return front * betaFraction(nu/(nu+t2), a) / nu, front / t
}

// betaFraction is the continued fraction of the incomplete beta function I_x(a, 1/2)
// (NIST Digital Library of Mathematical Functions 8.17.22), by forward recurrence of its
// numerators p and denominators q.
func betaFraction(x, a float64) float64 {
	p0, q0 := 0.0, 1.0
	p1, q1 := 1.0, 1.0
	ratio := 1.0
	for m := 0.0; m < 400; m++ {
		odd := -(a + m) * (a + m + 0.5) * x / ((a + 2*m) * (a + 2*m + 1))
		p0, p1 = p1, p1+odd*p0
		q0, q1 = q1, q1+odd*q0
		even := (m + 1) * (-0.5 - m) * x / ((a + 2*m + 1) * (a + 2*m + 2))
		p0, p1 = p1, p1+even*p0
		q0, q1 = q1, q1+even*q0
		last := ratio
		ratio = p1 / q1
		if math.Abs(ratio-last) < 1e-10*ratio {
			break
		}
	}
	return ratio
}

// gammaHalfRatio returns Γ(a+1/2)/Γ(a), by its series in 1/a after shifting a above 12
// (the series of Abramowitz and Stegun 6.1.47 with 1/2 and 0).
func gammaHalfRatio(a float64) float64 {
	shift := 1.0
	for a < 12 {
		shift *= a / (a + 0.5)
		a++
	}
	r := 1 / a
	s := 1 + r*(-1./8+r*(1./128+r*(5./1024+r*(-21./32768+r*(-399./262144+r*(869./4194304+r*39325./33554432))))))
	return shift * math.Sqrt(a) * s
}
