package plan

import (
	"fmt"

	"wreath/conformity"
)

// grams prints a mass as it is said.
func grams(g float64) string {
	switch {
	case g >= 1000:
		return fmt.Sprintf("%.3g kg", g/1000)
	case g >= 100:
		return fmt.Sprintf("%.0f g", g)
	case g < 0.01:
		return fmt.Sprintf("%.2g mg", 1000*g)
	}
	return fmt.Sprintf("%.3g g", g)
}

func percent(p float64) string { return conformity.Percent(p) }
