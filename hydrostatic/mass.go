package hydrostatic

import (
	"fmt"

	"wreath/quantity"
)

// ItemVolume returns the volume of an item from its lost weight: the reading in air less the
// reading in liquid for a hanging item, the gain for a standing vessel.
//
//	V = W lost (1 - kappa)/(rho_l - rho_a)
//
// Errors: *WeighingError for lost_g, *quantity.RangeError for media, wire factor, adjustment.
func ItemVolume(lost quantity.Reading, m Media, wireRise float64, adjust AdjustmentAir) (quantity.Volume, error) {
	if err := checkReading("lost_g", "lost weight", lost); err != nil {
		return 0, err
	}
	if err := m.check(); err != nil {
		return 0, err
	}
	if err := checkRise(wireRise); err != nil {
		return 0, err
	}
	if err := adjust.check(); err != nil {
		return 0, err
	}
	return quantity.Volume(adjust.Factor() * float64(lost) * (1 - wireRise) / (float64(m.Liquid) - float64(m.Air))), nil
}

// TrueMass returns the mass of a body of density rho from its reading in air. AirNow is the
// air at the weighing, airAtAdjustment the air when the balance was adjusted with weights of
// density weights (8 g/cm3 for conventional mass):
//
//	m = reading (1 - rho_adj/rho_weights)/(1 - rho_a/rho)
//
// Errors: *WeighingError for air_g, *quantity.RangeError for the densities.
func TrueMass(reading quantity.Reading, rho, airNow, airAtAdjustment, weights quantity.Density) (quantity.Mass, error) {
	if err := checkReading("air_g", "reading in air", reading); err != nil {
		return 0, err
	}
	if err := checkSolid("density of the item", rho); err != nil {
		return 0, err
	}
	if err := checkAir(airNow); err != nil {
		return 0, err
	}
	if err := checkAir(airAtAdjustment); err != nil {
		return 0, err
	}
	if err := checkSolid("density of the weights", weights); err != nil {
		return 0, err
	}
	w := 1 - float64(airAtAdjustment)/float64(weights)
	return quantity.Mass(float64(reading) * w / (1 - float64(airNow)/float64(rho))), nil
}

// ConventionalMass returns the conventional mass, in grams, of a body of true mass and density
// rho: the mass of a weight of 8000 kg/m3 that balances it in air of 1.2 kg/m3 (OIML D
// 28:2004). It is what an adjusted balance shows in such air, hence a Reading.
//
//	m_c = m (1 - 1.2/rho)/(1 - 1.2/8000)
func ConventionalMass(mass quantity.Mass, rho quantity.Density) (quantity.Reading, error) {
	if err := checkMass(mass); err != nil {
		return 0, err
	}
	if err := checkSolid("density of the item", rho); err != nil {
		return 0, err
	}
	return quantity.Reading(float64(mass) * (1 - float64(ReferenceAir)/float64(rho)) / StandardAdjustment.Factor()), nil
}

// MassOfConventional is the inverse of ConventionalMass: the true mass of a body of density
// rho that has the given conventional mass, as on the certificate of a weight.
func MassOfConventional(conventional quantity.Reading, rho quantity.Density) (quantity.Mass, error) {
	return TrueMass(conventional, rho, ReferenceAir, ReferenceAir, ReferenceWeights)
}

func checkMass(m quantity.Mass) error {
	if m >= lightest && m <= heaviest {
		return nil
	}
	return &WeighingError{"mass_g", fmt.Sprintf("the mass %g g is not a number from a nanogram to a thousand tonnes", float64(m)), "Give the mass in grams, more than zero."}
}
