package hydrostatic

import "wreath/quantity"

// At20 returns the density at 20 °C of a solid that has density rho at temperature t, with its
// coefficient of cubic expansion (three times the linear one), about 42.6e-6 per K for gold:
//
//	rho(20) = rho(t) (1 + gamma (t - 20))
//
// A solid is lighter when warm, so the value at 20 °C is the higher one for t above 20 °C. The
// linear form differs from the exact cube by about 1e-7 at 10 K from 20 °C. Range: -20 to
// 60 °C and -100e-6 to 2000e-6 per K, chosen here; outside, a *quantity.RangeError.
func At20(rho quantity.Density, expansion quantity.Expansivity, t quantity.Temperature) (quantity.Density, error) {
	if err := checkExpandingSolid(rho, expansion, t); err != nil {
		return 0, err
	}
	return quantity.Density(float64(rho) * growth(expansion, t)), nil
}

// AtTemperature is the inverse of At20: the density at t of a solid with density rho20 at 20 °C.
func AtTemperature(rho20 quantity.Density, expansion quantity.Expansivity, t quantity.Temperature) (quantity.Density, error) {
	if err := checkExpandingSolid(rho20, expansion, t); err != nil {
		return 0, err
	}
	return quantity.Density(float64(rho20) / growth(expansion, t)), nil
}

// growth is the factor by which a volume at 20 °C has grown at t.
func growth(expansion quantity.Expansivity, t quantity.Temperature) float64 {
	return 1 + float64(expansion)*(float64(t)-20)
}

func checkExpandingSolid(rho quantity.Density, expansion quantity.Expansivity, t quantity.Temperature) error {
	if err := checkSolid("density", rho); err != nil {
		return err
	}
	return checkExpansion(expansion, t)
}

func checkExpansion(expansion quantity.Expansivity, t quantity.Temperature) error {
	if t >= -20 && t <= 60 && expansion >= -100e-6 && expansion <= 2000e-6 {
		return nil
	}
	if err := quantity.CheckRange("temperature", float64(t), -20, 60, "°C", "the linear expansion to 20 °C (range chosen here)",
		"Let item and liquid come to room temperature and weigh again."); err != nil {
		return err
	}
	return quantity.CheckRange("cubic expansion", float64(expansion), -100e-6, 2000e-6, "per K", "the linear expansion to 20 °C (range chosen here)",
		"Give the cubic coefficient per kelvin; metals have 25e-6 to 90e-6.")
}
