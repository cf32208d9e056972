package determination

import (
	"errors"
	"fmt"
	"math"
	"strconv"

	"wreath/internal/strictjson"
	"wreath/quantity"
)

// InputError says what is wrong with one field of a draft and how to mend it.
type InputError = strictjson.FieldError

func bad(field, hint, reason string, args ...any) error {
	return &InputError{Path: field, Reason: fmt.Sprintf(reason, args...), Hint: hint}
}

// at puts the name of the draft's field on an error of a formula.
func at(field string, err error) error {
	var r *quantity.RangeError
	if errors.As(err, &r) {
		return &InputError{Path: field, Reason: r.Error(), Hint: r.Hint}
	}
	if err == nil {
		return nil
	}
	return &InputError{Path: field, Reason: err.Error(), Hint: "Check this value."}
}

// within checks an optional number; nil passes.
func within(field string, x *float64, low, high float64, unit string) error {
	if x == nil || *x >= low && *x <= high {
		return nil
	}
	if math.IsNaN(*x) {
		return bad(field, "Give a number.", "is not a number")
	}
	return bad(field, fmt.Sprintf("It lies between %s and %s %s; check the value and its unit.", written(low), written(high), unit),
		"%s %s cannot be right", written(*x), unit)
}

// written is a number as people write it, without an exponent where it has fewer than twenty digits.
func written(x float64) string {
	if a := math.Abs(x); a >= 1e15 || a > 0 && a < 1e-12 {
		return strconv.FormatFloat(x, 'g', 4, 64)
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}
