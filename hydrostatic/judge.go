package hydrostatic

import (
	"fmt"

	"wreath/quantity"
)

// Densities that an item can have, in g/cm3.
const (
	densestMetal quantity.Density = 22.6 // osmium: 22.59, X-ray density computed from the lattice in Platinum Metals Rev. 1972 16(2) 59, rounded up
	lightestItem quantity.Density = 0.5  // chosen here: amber, the lightest item in view, has 1.05
)

// CheckDensity judges a result of the formulas: it returns a *WeighingError for a density that
// no item can have, below 0.5 g/cm3 or beyond osmium, the densest metal, at 22.6 g/cm3. The
// formulas themselves return such a density, so that it can be looked at and propagated.
func CheckDensity(rho quantity.Density) error {
	if rho >= lightestItem && rho <= densestMetal {
		return nil
	}
	d := float64(rho)
	if !finite(d) {
		return &WeighingError{"density_g_cm3", "the density is not a number", "Check the readings and the densities of liquid and air."}
	}
	if rho > densestMetal {
		return &WeighingError{"density_g_cm3",
			fmt.Sprintf("the density %.4g g/cm³ is beyond osmium, the densest metal, at 22.6 g/cm³", d),
			"The lost weight is too small: look for contact with the vessel, a wrong tare, a slipped digit, or an item too light for this balance."}
	}
	return &WeighingError{"density_g_cm3",
		fmt.Sprintf("the density %.4g g/cm³ is below 0.5 g/cm³, lighter than any item", d),
		"The lost weight is too large: look for a slipped digit or unit, a wrong tare, or trapped air."}
}
