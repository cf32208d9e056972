package uncertainty

import (
	"fmt"
	"math"
)

// InputError says which input of a model cannot be used, and how to mend it.
type InputError struct {
	Input   string // the input's name, or its place in the list where it has none
	Problem string
	Hint    string // a whole sentence
}

// Error says what was wrong, for people.
func (e *InputError) Error() string {
	return fmt.Sprintf("input %q: %s", e.Input, e.Problem)
}

func inputError(inputs []Input, i int, hint, format string, args ...any) error {
	return &InputError{Input: inputName(inputs, i), Problem: fmt.Sprintf(format, args...), Hint: hint}
}

// inputName is the name of an input for people, or its place in the list.
func inputName(inputs []Input, i int) string {
	if inputs[i].Name != "" {
		return inputs[i].Name
	}
	return fmt.Sprintf("number %d", i+1)
}

// checkInputs returns an *InputError for the first input that is not usable.
func checkInputs(inputs []Input) error {
	for i := range inputs {
		in := &inputs[i]
		switch {
		case !finite(in.Value):
			return inputError(inputs, i, "Give the value as a number.", "value %v is not a finite number", in.Value)
		case !finite(in.U):
			return inputError(inputs, i, "Give the standard uncertainty as a number, zero if it is none.",
				"standard uncertainty %v is not a finite number", in.U)
		case in.U < 0:
			return inputError(inputs, i, "Give a standard uncertainty of zero or more.",
				"standard uncertainty %g %s is negative", in.U, in.Unit)
		case math.IsNaN(in.Dof) || in.Dof < 0:
			return inputError(inputs, i, "Give degrees of freedom above zero, or leave them out.",
				"%v degrees of freedom make no sense", in.Dof)
		case in.Dist > Arcsine:
			return inputError(inputs, i, "Choose normal, t, rectangular, triangular or arcsine.",
				"distribution number %d is not known", in.Dist)
		case in.Dist == StudentT && in.Dof == 0:
			return inputError(inputs, i, "Give the number of repeats less one, or choose the normal distribution.",
				"a t distribution needs its degrees of freedom")
		}
	}
	return nil
}

// checkCoverage returns an error unless p is a probability between 0 and 1.
func checkCoverage(p float64) error {
	if p > 0 && p < 1 {
		return nil
	}
	return fmt.Errorf("coverage probability %v is not between 0 and 1; 0.95 is usual", p)
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
