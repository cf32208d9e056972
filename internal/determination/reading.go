package determination

import (
	"errors"
	"fmt"
	"math"
	"strconv"

	"wreath/internal/strictjson"
	"wreath/quantity"
)

// Reading is one reading of a balance: the number in grams and the text it was made from.
type Reading struct {
	Gram     float64
	Text     string  // as typed or received
	Interval float64 // size of its last digit in grams; 0 when the text does not tell
}

// MaxReadingG is the heaviest reading that is believed: one tonne.
const MaxReadingG = 1e6

// FromNumber takes a JSON number in grams.
func (r *Reading) FromNumber(text string) error {
	f, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(f, 0) {
		return &strictjson.FieldError{Reason: "is " + text + ", which is too large to be a reading", Hint: "Check the exponent and the digits."}
	}
	*r = Reading{Gram: f, Text: text, Interval: quantity.Interval(text)}
	return nil
}

// FromText takes a text with its own unit, such as "62.2155 ct".
func (r *Reading) FromText(text string) error {
	grams, err := quantity.ParseMass(text, false)
	if err != nil {
		return numberError(err)
	}
	*r = Reading{Gram: grams, Text: text}
	if plain, _ := quantity.ParseMass("1"+unitOf(text), false); plain > 0 {
		r.Interval = quantity.Interval(text) * plain
	}
	return nil
}

func unitOf(text string) string {
	for i := len(text) - 1; i >= 0; i-- {
		if c := text[i]; c >= '0' && c <= '9' || c == '.' || c == ',' {
			return text[i+1:]
		}
	}
	return ""
}

func numberError(err error) error {
	var n *quantity.NumberError
	if errors.As(err, &n) {
		return &strictjson.FieldError{Reason: fmt.Sprintf("the text %q %s", n.Text, n.Reason), Hint: n.Hint}
	}
	return err
}

// MarshalJSON writes the reading as it was given.
func (r Reading) MarshalJSON() ([]byte, error) {
	if _, err := strconv.ParseFloat(r.Text, 64); err == nil {
		return []byte(r.Text), nil
	}
	if r.Text == "" {
		return strconv.AppendFloat(nil, r.Gram, 'g', -1, 64), nil
	}
	return []byte(strconv.Quote(r.Text)), nil
}

// mean returns the mean of the readings and the sample standard deviation (0 for one reading).
func mean(readings []Reading) (mean, s float64) {
	n := float64(len(readings))
	for _, r := range readings {
		mean += r.Gram / n
	}
	if n < 2 {
		return mean, 0
	}
	for _, r := range readings {
		s += (r.Gram - mean) * (r.Gram - mean)
	}
	return mean, math.Sqrt(s / (n - 1))
}
