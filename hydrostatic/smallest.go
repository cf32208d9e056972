package hydrostatic

import "wreath/quantity"

// SmallestItem returns the mass of the smallest item of density rho whose density comes out
// with a relative expanded uncertainty of no more than relative (0.005 for 0.5 %), when the
// lost weight has the standard uncertainty uLost and the coverage factor is k. The lost weight
// is about m (rho_l - rho_a)/rho and is taken as the only source of uncertainty:
//
//	m = rho/(rho_l - rho_a) · k u/relative
//
// Derived here. Errors: *quantity.RangeError for every argument out of its range.
func SmallestItem(rho quantity.Density, m Media, uLost quantity.Reading, k, relative float64) (quantity.Mass, error) {
	if err := checkSolid("density of the item", rho); err != nil {
		return 0, err
	}
	if err := m.check(); err != nil {
		return 0, err
	}
	if err := checkPlan("uncertainty of the lost weight", float64(uLost), 1e-9, 1e6, "g", "Give the standard uncertainty in grams."); err != nil {
		return 0, err
	}
	if err := checkPlan("coverage factor", k, 0.1, 100, "", "Give the coverage factor, 2 for about 95 %."); err != nil {
		return 0, err
	}
	if err := checkPlan("relative uncertainty", relative, 1e-9, 1, "", "Give the share as a fraction: 0.005 for 0.5 %."); err != nil {
		return 0, err
	}
	return quantity.Mass(float64(rho) / (float64(m.Liquid) - float64(m.Air)) * k * float64(uLost) / relative), nil
}

func checkPlan(what string, x, low, high float64, unit, hint string) error {
	return quantity.CheckRange(what, x, low, high, unit, "the smallest item (range chosen here)", hint)
}
