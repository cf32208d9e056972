package hydrostatic

import (
	"math"

	"wreath/quantity"
)

// BubbleLift returns the mass equivalent of the lift of a spherical bubble of air that clings
// to the item: the weight of the displaced liquid less that of the air,
//
//	(rho_l - rho_a) pi d^3/6
//
// It takes from a hanging reading in liquid and adds to the gain of a standing vessel.
// Diameter in mm, 0 to 100.
func BubbleLift(diameter quantity.Length, m Media) (quantity.Mass, error) {
	if err := m.check(); err != nil {
		return 0, err
	}
	v, err := BubbleVolume(diameter)
	if err != nil {
		return 0, err
	}
	return quantity.Mass((float64(m.Liquid) - float64(m.Air)) * float64(v)), nil
}

// BubbleVolume returns the volume in cm3 of a spherical bubble, diameter in mm, 0 to 100.
func BubbleVolume(diameter quantity.Length) (quantity.Volume, error) {
	if err := quantity.CheckRange("bubble diameter", diameter.Mm(), 0, 100, "mm", "the lift of a bubble (range chosen here)",
		"Give the diameter of the bubble in millimetres."); err != nil {
		return 0, err
	}
	d := diameter.Mm() / 10
	return quantity.Volume(math.Pi / 6 * d * d * d), nil
}

// WithCavity returns the apparent density m/(V + V_c) of an item of true mass and density that
// carries a closed cavity or a clinging bubble of volume V_c. It is low by the share
// V_c/(V + V_c). The mass of the air in the cavity is left out; it is below 1.3 kg/m3 times
// that share.
func WithCavity(mass quantity.Mass, rho quantity.Density, cavity quantity.Volume) (quantity.Density, error) {
	if err := checkMass(mass); err != nil {
		return 0, err
	}
	if err := checkSolid("density of the item", rho); err != nil {
		return 0, err
	}
	if err := quantity.CheckRange("cavity volume", float64(cavity), 0, 1e6, "cm³", "the apparent density (range chosen here)",
		"Give the volume of the cavity in cm³, 0 for none."); err != nil {
		return 0, err
	}
	v := float64(mass) / float64(rho)
	return quantity.Density(float64(mass) / (v + float64(cavity))), nil
}
