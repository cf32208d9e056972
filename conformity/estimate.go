package conformity

import (
	"fmt"
	"math"

	"wreath/quantity"
)

// Estimate is a measured value with its standard uncertainty, in one unit.
type Estimate struct {
	Value float64
	U     float64 // standard uncertainty, more than zero
	Dof   float64 // degrees of freedom of U; 0 or +Inf: taken as known, the distribution is normal
	K     float64 // coverage factor of the expanded uncertainty; 0: 2, as in JCGM 106 8.3.2
}

// Expanded returns the expanded uncertainty K·U.
func (e Estimate) Expanded() float64 { return e.coverage() * e.U }

func (e Estimate) coverage() float64 {
	if e.K == 0 {
		return 2
	}
	return e.K
}

func (e Estimate) check() error {
	if err := checkEstimate(e.Value, e.U, e.Dof); err != nil {
		return err
	}
	if e.K == 0 {
		return nil
	}
	return quantity.CheckRange("coverage factor", e.K, 0.1, 100, "", "the decision rules (range chosen here)", "Give the coverage factor, 2 for about 95 %.")
}

// InputError says that an estimate or limits cannot be decided on.
type InputError struct {
	Field  string // "value", "uncertainty", "degrees of freedom", "limits", "prior"
	Reason string // what is wrong
	Hint   string // what to do, a whole sentence
}

// Error says what was wrong, for people.
func (e *InputError) Error() string { return e.Reason }

func finite(x float64) bool { return math.Abs(x) <= math.MaxFloat64 }

func checkEstimate(y, u, dof float64) error {
	switch {
	case !finite(y):
		return &InputError{"value", "the measured value is not a number", "Only a number can be held against a limit."}
	case !(u > 0) || !finite(u):
		return &InputError{"uncertainty", fmt.Sprintf("the standard uncertainty is %g, but must be more than zero", u),
			"A decision needs the uncertainty of the value; give it in the unit of the value."}
	case !(dof == 0 || dof >= 0.5):
		return &InputError{"degrees of freedom", fmt.Sprintf("%g degrees of freedom are not enough for a t distribution", dof),
			"Give the degrees of freedom of the uncertainty, 0 where it is taken as known."}
	}
	return nil
}

// Limits are a lower and an upper limit, an infinity where there is none. Both limits belong to
// the permitted values. As acceptance limits, a lower one above the upper accepts nothing.
type Limits struct{ Lower, Upper float64 }

// AtLeast is a lower limit alone.
func AtLeast(x float64) Limits { return Limits{x, math.Inf(1)} }

// AtMost is an upper limit alone.
func AtMost(x float64) Limits { return Limits{math.Inf(-1), x} }

// Between is a lower and an upper limit.
func Between(lower, upper float64) Limits { return Limits{lower, upper} }

// Contain reports whether x lies within the limits.
func (l Limits) Contain(x float64) bool { return x >= l.Lower && x <= l.Upper }

// Empty reports whether no value lies within the limits.
func (l Limits) Empty() bool { return !(l.Lower <= l.Upper) }

// inset moves both limits inwards by w, outwards by a negative w.
func (l Limits) inset(w float64) Limits { return Limits{l.Lower + w, l.Upper - w} }

// width is the distance between the limits, an infinity for one limit alone.
func (l Limits) width() float64 { return l.Upper - l.Lower }

func (l Limits) check() error {
	if l.Lower < l.Upper && !math.IsInf(l.Lower, 1) && !math.IsInf(l.Upper, -1) && !(math.IsInf(l.Lower, -1) && math.IsInf(l.Upper, 1)) {
		return nil
	}
	reason := "the lower limit is not below the upper limit"
	switch {
	case math.IsNaN(l.Lower) || math.IsNaN(l.Upper):
		reason = "a limit is not a number"
	case math.IsInf(l.Lower, -1) && math.IsInf(l.Upper, 1):
		reason = "there is no limit, so there is nothing to decide"
	}
	return &InputError{"limits", reason, "Give a lower limit, an upper limit, or a lower one below an upper one."}
}
