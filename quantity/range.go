package quantity

import "fmt"

// RangeError says that a value lies outside the range in which a formula or a table holds.
type RangeError struct {
	What      string  // the quantity in words: "liquid temperature"
	Got       float64 // in Unit
	Low, High float64 // the range, in Unit
	Unit      string  // "°C"
	Source    string  // what sets the range: "the water formula (Tanaka 2001)"
	Hint      string  // how to mend it, a whole sentence
}

// Error says what was wrong, for people.
func (e *RangeError) Error() string {
	unit := ""
	if e.Unit != "" {
		unit = " " + e.Unit
	}
	return fmt.Sprintf("%s %.6g%s is outside %g to %g%s, where %s holds",
		e.What, e.Got, unit, e.Low, e.High, unit, e.Source)
}

// CheckRange returns a *RangeError when got is not a number within low to high.
func CheckRange(what string, got, low, high float64, unit, source, hint string) error {
	if got >= low && got <= high {
		return nil
	}
	return &RangeError{What: what, Got: got, Low: low, High: high, Unit: unit, Source: source, Hint: hint}
}
