package quantity

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// MassUnit is a unit in which a balance may show a mass.
type MassUnit struct {
	Symbol string  // as written after the number
	Name   string  // in words
	Gram   float64 // grams in one unit, exact where the unit is defined so
	Source string
}

// MassUnits lists the units that are read, with their size in grams.
var MassUnits = []MassUnit{
	{"g", "gram", 1, "SI"},
	{"kg", "kilogram", 1000, "SI"},
	{"mg", "milligram", 0.001, "SI"},
	{"ct", "metric carat", 0.2, "4th CGPM (1907)"},
	{"ozt", "troy ounce", 31.1034768, "international yard and pound agreement (1959): 480 grains"},
	{"dwt", "pennyweight", 1.55517384, "international yard and pound agreement (1959): 24 grains"},
	{"grain", "grain", 0.06479891, "international yard and pound agreement (1959)"},
	{"tola", "tola", 11.6638038, "180 grains; common practice"},
	{"momme", "momme", 3.75, "common practice"},
	{"baht", "baht weight of gold", 15.244, "common practice (bullion; jewellery 15.16)"},
}

// NumberError says why a text is not a number that can be used.
type NumberError struct{ Text, Reason, Hint string }

func (e *NumberError) Error() string { return fmt.Sprintf("%q %s", e.Text, e.Reason) }

// ParseNumber reads a plain decimal number with a point. With comma it reads a decimal comma
// as well. It refuses everything that is not finite, and anything with both marks.
func ParseNumber(text string, comma bool) (float64, error) {
	s := strings.TrimSpace(text)
	if s == "" {
		return 0, &NumberError{text, "is empty", "Give a number such as 12.4431."}
	}
	if strings.Contains(s, ",") {
		point := strings.ReplaceAll(s, ",", ".")
		if strings.Count(s, ",") > 1 || strings.Contains(s, ".") {
			return 0, &NumberError{text, "mixes points and commas", "Write it with one decimal mark and no thousands marks."}
		}
		if !comma {
			return 0, &NumberError{text, "has a decimal comma", "Write it with a point: " + point + "."}
		}
		s = point
	}
	if strings.ContainsAny(s, "xXpP_") || strings.ContainsAny(s, "nN") {
		return 0, &NumberError{text, "is not a number", "Give a decimal number such as 12.4431."}
	}
	f, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(f, 0) || math.IsNaN(f) {
		return 0, &NumberError{text, "is not a number", "Give a decimal number such as 12.4431."}
	}
	return f, nil
}

// ParseMass reads a number with its unit, "62.2155 ct", and returns grams.
func ParseMass(text string, comma bool) (grams float64, err error) {
	s := strings.TrimSpace(text)
	i := strings.LastIndexAny(s, "0123456789.,") + 1
	number, symbol := s[:i], strings.TrimSpace(s[i:])
	if number == "" && symbol != "" {
		return 0, &NumberError{text, "holds no number", "Give the digits and the unit, such as 12.4431 g."}
	}
	value, err := ParseNumber(number, comma)
	if err != nil {
		return 0, err
	}
	if symbol == "" {
		return 0, &NumberError{text, "has no unit", "Write the unit after the number: \"" + number + " g\"."}
	}
	u := slices.IndexFunc(MassUnits, func(u MassUnit) bool { return strings.EqualFold(u.Symbol, symbol) })
	if strings.EqualFold(symbol, "gr") {
		return 0, &NumberError{text, `has the unit "gr", which is read as gram and as grain`, "Write g for gram, or grain."}
	}
	if u < 0 {
		var known []string
		for _, u := range MassUnits {
			known = append(known, u.Symbol)
		}
		return 0, &NumberError{text, "has the unknown unit " + strconv.Quote(symbol), "Units known: " + strings.Join(known, ", ") + "."}
	}
	grams = value * MassUnits[u].Gram
	if math.IsInf(grams, 0) {
		return 0, &NumberError{text, "is too large", "Check the exponent and the unit."}
	}
	return grams, nil
}

// Interval returns the size of the last digit of a decimal number as written: 0.0001 for
// "12.4431", 1 for "12". It is what a balance that shows this text can tell at best.
func Interval(text string) float64 {
	s := strings.TrimSpace(text)
	if strings.ContainsAny(s, "eE") {
		return 0
	}
	i := strings.IndexAny(s, ".,")
	if i < 0 {
		return 1
	}
	digits := 0
	for _, r := range s[i+1:] {
		if r < '0' || r > '9' {
			break
		}
		digits++
	}
	return math.Pow10(-digits)
}
