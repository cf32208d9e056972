package value

import (
	"strings"

	"wreath/internal/nearest"
	"wreath/quantity"
)

// gramsPer is the exact size of a unit of mass in grams, and the unit's symbol as it is written.
// The sizes of quantity.MassUnits are decimals of at most ten digits, so that the shortest decimal
// for each is the one that defines it.
func gramsPer(unit string) (grams Decimal, symbol string, ok bool) {
	if strings.EqualFold(unit, "oz t") {
		unit = "ozt"
	}
	for _, u := range quantity.MassUnits {
		if strings.EqualFold(u.Symbol, unit) {
			return fromFloat(u.Gram), u.Symbol, true
		}
	}
	return Decimal{}, "", false
}

// unitHint says how to mend a unit that is not known.
func unitHint(unit string) string {
	var known []string
	for _, u := range quantity.MassUnits {
		known = append(known, u.Symbol)
	}
	switch strings.ToLower(unit) {
	case "gr":
		return "gr is read as gram and as grain. Write g, or grain."
	case "oz":
		return "An ounce of precious metal is the troy ounce: write ozt if it is meant."
	}
	if n := nearest.Word(unit, known); n != "" && len(unit) > 2 { // any two letters are near to g
		return "Did you mean " + n + "?"
	}
	return "Units known: " + strings.Join(known, ", ") + "."
}
