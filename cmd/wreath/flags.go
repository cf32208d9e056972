package main

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"wreath/alloy"
	"wreath/hydrostatic"
	"wreath/internal/nearest"
	"wreath/quantity"
)

// decimal is a number given by a flag; the zero decimal was not given. Numbers are read as in a
// document: with a point, finite, in decimal digits.
type decimal struct {
	text  string
	value float64
}

// UnmarshalText reads the value of a flag.
func (d *decimal) UnmarshalText(text []byte) error {
	x, err := quantity.ParseNumber(string(text), false)
	if err != nil {
		return err
	}
	*d = decimal{string(text), x}
	return nil
}

func (d decimal) given() bool { return d.text != "" }

// or returns the number, or what stands for it when it was not given.
func (d decimal) or(otherwise float64) float64 {
	if d.given() {
		return d.value
	}
	return otherwise
}

// wrong ends a command because of a value that was given.
func wrong(hint, reason string, args ...any) error {
	return &failure{exitUsage, fmt.Sprintf(reason, args...), hint}
}

// within refuses a number outside low to high; one that was not given passes.
func within(flag string, d decimal, low, high float64, unit, hint string) error {
	if !d.given() || d.value >= low && d.value <= high {
		return nil
	}
	return wrong(hint, "--%s %s is outside %g to %g %s", flag, d.text, low, high, unit)
}

// positive refuses a standard uncertainty that is not more than zero.
func positive(flag string, d decimal) error {
	if !d.given() || d.value > 0 {
		return nil
	}
	return wrong("A standard uncertainty is more than zero; half of an expanded one (k = 2).",
		"--%s %s is no standard uncertainty", flag, d.text)
}

// oneOf refuses a word that is not known and names the nearest one.
func oneOf(flag, got string, known []string) error {
	for _, k := range known {
		if got == k {
			return nil
		}
	}
	hint := "Known: " + strings.Join(known, ", ") + "."
	if n := nearest.Word(got, known); n != "" {
		hint = "Did you mean " + n + "?"
	}
	return wrong(hint, "%s: there is no %q", flag, got)
}

// fromFormula turns the error of a formula into one of usage: the values came from flags.
func fromFormula(err error) error {
	var outside *quantity.RangeError
	var weighing *hydrostatic.WeighingError
	var parts *alloy.PartsError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &outside):
		return wrong(outside.Hint, "%s", outside.Error())
	case errors.As(err, &weighing):
		return wrong(weighing.Hint, "%s", weighing.Reason)
	case errors.As(err, &parts):
		return wrong(parts.Hint, "%s", strings.TrimSuffix(parts.Problem, "."))
	}
	return wrong("Check the values given.", "%s", err.Error())
}

func firstError(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// rounded keeps the decimals that mean something, so that the same input prints the same number
// on every processor.
func rounded(x float64, decimals int) float64 {
	scale := math.Pow10(decimals)
	return math.Round(x*scale) / scale
}

// significant rounds to a number of significant digits.
func significant(x float64, digits int) float64 {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return x
	}
	return rounded(x, digits-1-int(math.Floor(math.Log10(math.Abs(x)))))
}
