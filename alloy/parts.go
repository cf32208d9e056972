package alloy

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"wreath/internal/nearest"
)

// Part is the mass fraction of one metal, from 0 to 1.
type Part struct {
	Symbol   string
	Fraction float64
}

// Parts is a composition by mass. The fractions add up to 1.
type Parts []Part

// Fraction returns the mass fraction of a metal, 0 when it is absent.
func (p Parts) Fraction(symbol string) float64 {
	for _, part := range p {
		if part.Symbol == symbol {
			return part.Fraction
		}
	}
	return 0
}

// String prints the composition in parts per thousand: "Au=750,Ag=125,Cu=125".
func (p Parts) String() string {
	texts := make([]string, len(p))
	for i, part := range p {
		texts[i] = part.Symbol + "=" + strconv.FormatFloat(math.Round(part.Fraction*1e8)/1e5, 'f', -1, 64)
	}
	return strings.Join(texts, ",")
}

// PartsError says what is wrong with a composition and how to mend it.
type PartsError struct {
	Problem string
	Hint    string
}

// Error says what was wrong, for people.
func (e *PartsError) Error() string { return e.Problem }

const partsExample = `Write symbol and amount, such as "Au=750,Ag=125,Cu=125"; any total will do.`

// ParseParts reads a composition such as "Au=750,Ag=125,Cu=125". The amounts are parts by mass
// of any total. Names ("gold=3") and any case are understood. Errors are *PartsError.
func ParseParts(text string) (Parts, error) {
	if strings.TrimSpace(text) == "" {
		return nil, &PartsError{"The composition is empty.", partsExample}
	}
	var parts Parts
	for _, item := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' }) {
		item = strings.TrimSpace(item)
		if item == "" {
			continue
		}
		name, amount, found := strings.Cut(item, "=")
		if !found {
			return nil, &PartsError{fmt.Sprintf("%q has no amount.", item), partsExample}
		}
		metal, err := findMetal(strings.TrimSpace(name))
		if err != nil {
			return nil, err
		}
		x, err := strconv.ParseFloat(strings.TrimSpace(amount), 64)
		if err != nil || math.IsNaN(x) || x < 0 || x > 1e9 {
			return nil, &PartsError{
				fmt.Sprintf("The amount %q of %s is not a number from 0 to 1e9.", strings.TrimSpace(amount), metal.Symbol),
				"Write parts by mass with a decimal point, such as 62.5.",
			}
		}
		for _, earlier := range parts {
			if earlier.Symbol == metal.Symbol {
				return nil, &PartsError{
					fmt.Sprintf("%s (%s) is named twice.", metal.Symbol, metal.Name),
					"Add the two amounts and name it once.",
				}
			}
		}
		parts = append(parts, Part{metal.Symbol, math.Abs(x)}) // -0 is 0
	}
	return parts.normalised()
}

// normalised scales the amounts to a total of 1.
func (p Parts) normalised() (Parts, error) {
	total := 0.0
	for _, part := range p {
		if !(part.Fraction >= 0) || math.IsInf(part.Fraction, 1) {
			return nil, &PartsError{
				fmt.Sprintf("The amount of %s is %g.", part.Symbol, part.Fraction),
				"An amount is 0 or more.",
			}
		}
		total += part.Fraction
	}
	if !(total > 1e-9) || math.IsInf(total, 1) {
		return nil, &PartsError{"The amounts add up to nothing.", partsExample}
	}
	scaled := make(Parts, len(p))
	for i, part := range p {
		scaled[i] = Part{part.Symbol, part.Fraction / total}
	}
	return scaled, nil
}

// findMetal returns the metal with that symbol or name.
func findMetal(name string) (Metal, error) {
	for _, m := range loadMetals().list {
		if strings.EqualFold(m.Symbol, name) || strings.EqualFold(m.Name, name) {
			return m, nil
		}
	}
	return Metal{}, &PartsError{fmt.Sprintf("No metal is called %q.", name), metalHint(strings.ToLower(name))}
}

// metalHint tells which metal a mistyped name may stand for: the one whose name is nearest, or,
// since two symbols are always near each other, all whose symbol begins with the same letter.
func metalHint(name string) string {
	if name == "" || len(name) > 20 {
		return partsExample
	}
	if len(name) <= 2 {
		var alike []string
		for _, m := range loadMetals().list {
			if strings.EqualFold(m.Symbol[:1], name[:1]) {
				alike = append(alike, m.Symbol+" ("+m.Name+")")
			}
		}
		if alike == nil {
			return partsExample
		}
		return "Did you mean " + strings.Join(alike, ", ") + "?"
	}
	names := make([]string, 0, len(loadMetals().list))
	for _, m := range loadMetals().list {
		names = append(names, m.Name)
	}
	word := nearest.Word(name, names)
	for _, m := range loadMetals().list {
		if m.Name == word {
			return fmt.Sprintf("Did you mean %s (%s)?", m.Symbol, m.Name)
		}
	}
	return partsExample
}
