package hydrostatic

import "wreath/quantity"

// LiquidBySinker returns the density of a liquid from a sinker of known volume at 20 °C and
// known cubic expansion, weighed in air and hanging in the liquid at temperature t:
//
//	rho_l = rho_a + W (air - liquid)/V,  V = V20 (1 + gamma (t - 20))
//
// The rise of the liquid at the wire cancels when the volume was found on the same hanger.
// Errors: *WeighingError for sinker_air_g and sinker_liquid_g, *quantity.RangeError for the
// rest, and for a result that no liquid has.
func LiquidBySinker(air, liquid quantity.Reading, volume20 quantity.Volume, expansion quantity.Expansivity, t quantity.Temperature, airDensity quantity.Density, adjust AdjustmentAir) (quantity.Density, error) {
	lost, err := lostWeight("sinker_air_g", air, "sinker_liquid_g", liquid)
	if err != nil {
		return 0, err
	}
	if err := checkVolume("sinker volume", volume20); err != nil {
		return 0, err
	}
	if err := checkExpansion(expansion, t); err != nil {
		return 0, err
	}
	if err := checkAir(airDensity); err != nil {
		return 0, err
	}
	if err := adjust.check(); err != nil {
		return 0, err
	}
	v := float64(volume20) * growth(expansion, t)
	return liquidResult(float64(airDensity) + adjust.Factor()*lost/v)
}

// SinkerVolume returns the volume at 20 °C of a sinker weighed in air and in a liquid of known
// density at temperature t, usually water:
//
//	V20 = W (air - liquid)/(rho_l - rho_a) / (1 + gamma (t - 20))
//
// Errors as in LiquidBySinker.
func SinkerVolume(air, liquid quantity.Reading, m Media, expansion quantity.Expansivity, t quantity.Temperature, adjust AdjustmentAir) (quantity.Volume, error) {
	lost, err := lostWeight("sinker_air_g", air, "sinker_liquid_g", liquid)
	if err != nil {
		return 0, err
	}
	if err := m.check(); err != nil {
		return 0, err
	}
	if err := checkExpansion(expansion, t); err != nil {
		return 0, err
	}
	if err := adjust.check(); err != nil {
		return 0, err
	}
	v := adjust.Factor() * lost / (float64(m.Liquid) - float64(m.Air))
	return quantity.Volume(v / growth(expansion, t)), nil
}

// SinkerWeighing is one weighing of a sinker in air and in a liquid.
type SinkerWeighing struct {
	Air, Liquid quantity.Reading
	AirDensity  quantity.Density
	Temperature quantity.Temperature // of the liquid and the sinker in it
}

// LiquidByRatio returns the density of a liquid from a sinker whose volume is not known,
// weighed once in that liquid and once in a known one, usually water. W cancels:
//
//	rho_l = rho_a + (rho_w - rho_a') (L_l/L_w)(1 + gamma (t_w - 20))/(1 + gamma (t_l - 20))
//
// L is the lost weight, rho_a and rho_a' the air of either weighing; the balance was adjusted
// once. Errors: *WeighingError for sinker_air_g, sinker_liquid_g, known_air_g and
// known_liquid_g, *quantity.RangeError for the rest.
func LiquidByRatio(unknown, known SinkerWeighing, knownLiquid quantity.Density, expansion quantity.Expansivity) (quantity.Density, error) {
	lost, err := lostWeight("sinker_air_g", unknown.Air, "sinker_liquid_g", unknown.Liquid)
	if err != nil {
		return 0, err
	}
	knownLost, err := lostWeight("known_air_g", known.Air, "known_liquid_g", known.Liquid)
	if err != nil {
		return 0, err
	}
	if err := (Media{knownLiquid, known.AirDensity}).check(); err != nil {
		return 0, err
	}
	if err := checkAir(unknown.AirDensity); err != nil {
		return 0, err
	}
	if err := checkExpansion(expansion, unknown.Temperature); err != nil {
		return 0, err
	}
	if err := checkExpansion(expansion, known.Temperature); err != nil {
		return 0, err
	}
	swelling := growth(expansion, known.Temperature) / growth(expansion, unknown.Temperature)
	return liquidResult(float64(unknown.AirDensity) + (float64(knownLiquid)-float64(known.AirDensity))*(lost/knownLost)*swelling)
}

// LiquidBySolid returns the density of a liquid from a solid of known density, at the liquid's
// temperature, weighed in air and hanging in the liquid. W cancels:
//
//	rho_l = rho_a + (rho_s - rho_a)(air - liquid)/air
//
// Errors: *WeighingError for solid_air_g and solid_liquid_g, *quantity.RangeError for the
// densities.
func LiquidBySolid(air, liquid quantity.Reading, solid, airDensity quantity.Density) (quantity.Density, error) {
	lost, err := lostWeight("solid_air_g", air, "solid_liquid_g", liquid)
	if err != nil {
		return 0, err
	}
	if err := checkSolid("density of the solid", solid); err != nil {
		return 0, err
	}
	if err := checkAir(airDensity); err != nil {
		return 0, err
	}
	rhoS, rhoA := float64(solid), float64(airDensity)
	return liquidResult(rhoA + (rhoS-rhoA)*lost/float64(air))
}

func liquidResult(rho float64) (quantity.Density, error) {
	if d := quantity.Density(rho); d >= lightestLiquid && d <= densestLiquid {
		return d, nil
	}
	return 0, &quantity.RangeError{What: "density found for the liquid", Got: 1000 * rho,
		Low: lightestLiquid.KgPerM3(), High: densestLiquid.KgPerM3(), Unit: "kg/m³",
		Source: "the weighing equations (range chosen here)",
		Hint:   "Check the two readings and the volume or density of the sinker."}
}

func checkVolume(what string, v quantity.Volume) error {
	return quantity.CheckRange(what, float64(v), 0.001, 1e6, "cm³", "the weighing equations (range chosen here)",
		"Give the volume in cm³, as the certificate or a calibration in water has it.")
}
