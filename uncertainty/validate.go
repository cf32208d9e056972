package uncertainty

import (
	"math"
	"strconv"
)

// Tolerance returns the numerical tolerance of a standard uncertainty u that is stated to
// the given number of significant digits, 1 or 2: half a unit of the last of them (JCGM
// 101:2008 7.9.2). It is zero for u = 0.
func Tolerance(u float64, digits int) float64 {
	if u == 0 {
		return 0
	}
	_, exponent := significant(u, digits)
	return 0.5 * math.Pow10(exponent)
}

// significant rounds u to a whole number of the given count of digits, times a power of ten.
func significant(u float64, digits int) (c, exponent int) {
	digits = max(digits, 1)
	text := strconv.FormatFloat(math.Abs(u), 'e', digits-1, 64)
	for i := range text {
		if text[i] == 'e' {
			exponent, _ = strconv.Atoi(text[i+1:])
			mantissa, _ := strconv.ParseFloat(text[:i], 64)
			c = int(math.Round(mantissa * math.Pow10(digits-1)))
		}
	}
	return c, exponent - digits + 1
}

// Validation compares a first-order interval with a propagated one (JCGM 101:2008 8.1).
type Validation struct {
	OK        bool    // both ends agree within Tolerance: the first-order answer may be used
	Low, High float64 // absolute differences of the lower and of the upper ends
	Tolerance float64
}

// Validate compares the interval of a budget with that of a propagation for the same coverage
// probability. digits is the number of significant digits of the standard uncertainty that
// matter, 1 or 2.
func Validate(b Budget, r Result, digits int) Validation {
	v := Validation{
		Low:       math.Abs(b.Low() - r.Low),
		High:      math.Abs(b.High() - r.High),
		Tolerance: Tolerance(b.U, digits),
	}
	v.OK = v.Low <= v.Tolerance && v.High <= v.Tolerance
	return v
}
