package hydrostatic

import (
	"fmt"

	"wreath/quantity"
)

// Coated returns the envelope density of a porous item that was sealed with a coating (wax,
// lacquer) of known density: its mass, without the air in its pores, over the volume of its
// outline. BareAir is the item in air before coating, coatedAir and coatedLiquid the coated
// item in air and liquid. OpenPorosity is the share of the envelope that is open to the air
// during the bare weighing, from 0 to 1; taking 0 where it is unknown costs less than 1.2
// kg/m3 times the true share.
//
// From the balance of forces, with the air of the pores sealed in:
//
//	V_all = W (coatedAir - coatedLiquid)/(rho_l - rho_a)
//	V_coat = W (coatedAir - bareAir)/(rho_coat - rho_a)
//	V = V_all - V_coat,  rho = (W bareAir + rho_a V (1 - P))/V
//
// W cancels, since every volume carries it once; adjust is asked for so that a volume made
// from the same readings uses the same number. Errors: *WeighingError for bare_air_g,
// coated_air_g and coated_liquid_g, *quantity.RangeError for the rest.
func Coated(bareAir, coatedAir, coatedLiquid quantity.Reading, coating quantity.Density, m Media, adjust AdjustmentAir, openPorosity float64) (quantity.Density, error) {
	if err := checkReading("bare_air_g", "reading of the bare item in air", bareAir); err != nil {
		return 0, err
	}
	lost, err := lostWeight("coated_air_g", coatedAir, "coated_liquid_g", coatedLiquid)
	if err != nil {
		return 0, err
	}
	if coatedAir < bareAir {
		return 0, &WeighingError{"coated_air_g",
			fmt.Sprintf("the coated item reads %g g in air, less than the %g g of the bare item", float64(coatedAir), float64(bareAir)),
			"The bare and the coated reading may be swapped."}
	}
	if err := m.check(); err != nil {
		return 0, err
	}
	if err := adjust.check(); err != nil {
		return 0, err
	}
	if err := checkSolid("coating density", coating); err != nil {
		return 0, err
	}
	if err := checkShare("open porosity", openPorosity); err != nil {
		return 0, err
	}
	w := adjust.Factor()
	rhoL, rhoA, rhoCoat := float64(m.Liquid), float64(m.Air), float64(coating)
	vAll := w * lost / (rhoL - rhoA)
	vCoat := w * (float64(coatedAir) - float64(bareAir)) / (rhoCoat - rhoA)
	v := vAll - vCoat
	if !(v > 0) {
		return 0, &WeighingError{"coated_liquid_g",
			fmt.Sprintf("the coating of %.4g cm³ leaves nothing of the displaced %.4g cm³", vCoat, vAll),
			"Check the three readings and the density of the coating."}
	}
	return quantity.Density((w*float64(bareAir) + rhoA*v*(1-openPorosity)) / v), nil
}

// Impregnated returns the densities of a permeable item before and after its open pores were
// filled with oil, both over the volume of its outline, and its open porosity (0 to 1). DryAir
// is the dry item in air, impAir and impLiquid the impregnated one in air and liquid.
//
//	P   = (impAir - dryAir)(rho_l - rho_a) / ((rho_oil - rho_a)(impAir - impLiquid))
//	dry = dryAir (rho_l - rho_a)/(impAir - impLiquid) + rho_a (1 - P)
//	wet = impAir (rho_l - rho_a)/(impAir - impLiquid) + rho_a
//
// Principle of ISO 2738 (printed there without the terms of air, derived here from the balance
// of forces; air fills the dry pores). Errors: *WeighingError for dry_air_g, impregnated_air_g
// and impregnated_liquid_g, *quantity.RangeError for the densities.
func Impregnated(dryAir, impAir, impLiquid quantity.Reading, oil quantity.Density, m Media) (dry, wet quantity.Density, openPorosity float64, err error) {
	if err := checkReading("dry_air_g", "reading of the dry item in air", dryAir); err != nil {
		return 0, 0, 0, err
	}
	lost, err := lostWeight("impregnated_air_g", impAir, "impregnated_liquid_g", impLiquid)
	if err != nil {
		return 0, 0, 0, err
	}
	if impAir < dryAir {
		return 0, 0, 0, &WeighingError{"impregnated_air_g",
			fmt.Sprintf("the impregnated item reads %g g in air, less than the %g g of the dry item", float64(impAir), float64(dryAir)),
			"The dry and the impregnated reading may be swapped."}
	}
	if err := m.check(); err != nil {
		return 0, 0, 0, err
	}
	if err := checkOil(oil); err != nil {
		return 0, 0, 0, err
	}
	rhoL, rhoA, rhoOil := float64(m.Liquid), float64(m.Air), float64(oil)
	s := (rhoL - rhoA) / lost
	p := (float64(impAir) - float64(dryAir)) * s / (rhoOil - rhoA)
	if !(p < 1) {
		return 0, 0, 0, &WeighingError{"impregnated_air_g",
			fmt.Sprintf("the oil of %.4g g fills more than the whole outline of the item", float64(impAir)-float64(dryAir)),
			"Check the three readings, and wipe free oil from the surface before weighing."}
	}
	dry = quantity.Density(float64(dryAir)*s + rhoA*(1-p))
	wet = quantity.Density(float64(impAir)*s + rhoA)
	return dry, wet, p, nil
}

func checkOil(d quantity.Density) error {
	return quantity.CheckRange("oil density", d.KgPerM3(), lightestLiquid.KgPerM3(), 2000,
		"kg/m³", "the impregnation equations (range chosen here)", "Check the unit of the oil's density; oils have about 900 kg/m³.")
}

func checkShare(what string, x float64) error {
	if x >= 0 && x < 1 {
		return nil
	}
	return quantity.CheckRange(what, x, 0, 0.999, "", "the weighing equations", "Give the share as a fraction of one, not in per cent.")
}
