package hydrostatic

import (
	"fmt"

	"wreath/quantity"
)

// Hanging returns the density, at the liquid's temperature, of an item that hangs from the
// balance. Air and liquid are the net readings in air and immersed, wireRise the wire factor
// of WireRise, zero for a wire that is thin enough.
//
// Balance of forces: air·W = m - rho_a·V and liquid·W = m - rho_l·V. Subtracting and dividing,
// W cancels:
//
//	rho = air (rho_l - rho_a) / ((air - liquid)(1 - kappa)) + rho_a
//
// Principle: OIML R 111-1:2004 B.7, ISO 1183-1 method A. Errors: *WeighingError for air_g and
// liquid_g, *quantity.RangeError for media and wire factor.
func Hanging(air, liquid quantity.Reading, m Media, wireRise float64) (quantity.Density, error) {
	lost, err := lostWeight("air_g", air, "liquid_g", liquid)
	if err != nil {
		return 0, err
	}
	return fromLost(float64(air), lost, m, wireRise)
}

// Standing returns the density of an item that hangs from a stand into a vessel on the pan.
// Air is the reading of the item alone on the pan, gain the increase of the vessel's reading
// when the item hangs immersed without touching.
//
// The liquid pushes the item up with rho_l·V and so the pan down with rho_l·V; the vessel with
// the raised liquid displaces V more of air: W·gain = (rho_l - rho_a) V. Hence, as in Hanging,
//
//	rho = air (rho_l - rho_a) / (gain (1 - kappa)) + rho_a
//
// Principle: OIML R 111-1:2004 B.7 method C. Errors: *WeighingError for air_g and gain_g, also
// when the gain is so near to the air reading that the item seems to rest on the bottom.
func Standing(air, gain quantity.Reading, m Media, wireRise float64) (quantity.Density, error) {
	if err := checkReading("air_g", "reading in air", air); err != nil {
		return 0, err
	}
	if err := checkReading("gain_g", "gain of the vessel", gain); err != nil {
		return 0, err
	}
	if gain >= restingShare*air {
		return 0, heavyGain(air, gain)
	}
	return fromLost(float64(air), float64(gain), m, wireRise)
}

// restingShare is the share of the air reading from which on a gain is taken as that of an
// item resting on the bottom, which would gain the whole of it. Chosen here: amber, the
// lightest item in view, gains 0.95 of its air reading in water.
const restingShare = 0.98

func heavyGain(air, gain quantity.Reading) error {
	if gain > air/restingShare {
		return &WeighingError{"gain_g",
			fmt.Sprintf("the vessel gains %g g, more than the %g g of the item in air", float64(gain), float64(air)),
			"The two readings may be swapped. An item lighter than the liquid needs a sinker."}
	}
	return &WeighingError{"gain_g",
		fmt.Sprintf("the vessel gains %g g, nearly the %g g of the item in air", float64(gain), float64(air)),
		"The item seems to rest on the bottom. Hang it free of the vessel and read the gain again."}
}

// WithSinker returns the density of an item held under by a sinker. ItemAir is the item in
// air, sinkerLiquid the sinker alone in the liquid and bothLiquid sinker and item together,
// all hanging. The item alone would read bothLiquid - sinkerLiquid, which is negative for an
// item that floats. Errors: *WeighingError for air_g, sinker_liquid_g and both_liquid_g.
func WithSinker(itemAir, sinkerLiquid, bothLiquid quantity.Reading, m Media, wireRise float64) (quantity.Density, error) {
	if err := checkReading("air_g", "reading in air", itemAir); err != nil {
		return 0, err
	}
	if err := checkReading("sinker_liquid_g", "reading of the sinker in liquid", sinkerLiquid); err != nil {
		return 0, err
	}
	if !finite(float64(bothLiquid)) {
		return 0, badReading("both_liquid_g", "reading of sinker and item in liquid", bothLiquid)
	}
	if bothLiquid <= 0 {
		return 0, &WeighingError{"both_liquid_g",
			fmt.Sprintf("sinker and item together read %g g in liquid: they do not sink", float64(bothLiquid)),
			"Take a heavier sinker, or check the tare with the hanger immersed."}
	}
	lost := float64(itemAir) - (float64(bothLiquid) - float64(sinkerLiquid))
	if lost <= 0 {
		return 0, &WeighingError{"both_liquid_g",
			fmt.Sprintf("the item adds %g g in liquid, not less than its %g g in air", float64(bothLiquid)-float64(sinkerLiquid), float64(itemAir)),
			"Check which reading is the sinker alone and which is both together."}
	}
	return fromLost(float64(itemAir), lost, m, wireRise)
}

// fromLost is the common last step: air reading and lost weight in grams to density.
func fromLost(air, lost float64, m Media, wireRise float64) (quantity.Density, error) {
	if err := m.check(); err != nil {
		return 0, err
	}
	if err := checkRise(wireRise); err != nil {
		return 0, err
	}
	return Density(quantity.Reading(air), quantity.Reading(lost), m, wireRise), nil
}

// Density is the equation that Hanging, Standing and WithSinker share, for arguments that are
// known to be sound, as in a propagation of uncertainty:
//
//	rho = air (rho_l - rho_a) / (lost (1 - kappa)) + rho_a
//
// Lost is air - liquid or the gain. Nothing is checked; zero lost weight gives an infinity.
func Density(air, lost quantity.Reading, m Media, wireRise float64) quantity.Density {
	rhoL, rhoA := float64(m.Liquid), float64(m.Air)
	return quantity.Density(float64(air)*(rhoL-rhoA)/(float64(lost)*(1-wireRise)) + rhoA)
}
