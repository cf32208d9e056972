package hydrostatic

import (
	"fmt"

	"wreath/quantity"
)

// Comparison returns the density of an item weighed against a reference solid of known density
// in the same liquid and air, hanging from the same balance and hanger. The item and the
// reference each give their ratio of air reading to lost weight; the density of the liquid
// appears in both and drops out, and so does the wire factor:
//
//	(rho - rho_a)/(rho_ref - rho_a) = (itemAir/(itemAir - itemLiquid)) / (refAir/(refAir - refLiquid))
//
// Principle: hydrostatic comparison, OIML R 111-1:2004 B.7 method A, derived here for two
// solids. Errors: *WeighingError for item_air_g, item_liquid_g, reference_air_g and
// reference_liquid_g, *quantity.RangeError for the densities.
func Comparison(itemAir, itemLiquid, refAir, refLiquid quantity.Reading, ref, air quantity.Density) (quantity.Density, error) {
	itemLost, err := lostWeight("item_air_g", itemAir, "item_liquid_g", itemLiquid)
	if err != nil {
		return 0, err
	}
	refLost, err := lostWeight("reference_air_g", refAir, "reference_liquid_g", refLiquid)
	if err != nil {
		return 0, err
	}
	if err := checkSolid("reference density", ref); err != nil {
		return 0, err
	}
	if err := checkAir(air); err != nil {
		return 0, err
	}
	rhoRef, rhoA := float64(ref), float64(air)
	ratio := (float64(itemAir) / itemLost) * (refLost / float64(refAir))
	return quantity.Density((rhoRef-rhoA)*ratio + rhoA), nil
}

// Balanced is an item balanced against weights on a comparator: the true mass of the weights,
// the indication for the item less the indication for the weights, and the air around the
// weights. In the second weighing the item is in the liquid and the weights are in air.
type Balanced struct {
	Weights    quantity.Mass
	Difference quantity.Reading
	Air        quantity.Density
}

// AgainstWeights returns the density of an item compared with weights of density weights, once
// in air and once immersed, so that the balance has only to show small differences:
//
//	X = m_ra (1 - rho_a/rho_r) + W d_a    = m - rho_a V
//	Y = m_rl (1 - rho_a'/rho_r) + W d_l   = m - rho_l V
//	rho = (rho_l X - rho_a Y)/(X - Y)
//
// with the air rho_a of the first weighing and rho_a' of the second. Principle: OIML R
// 111-1:2004 B.7 method A, derived here. Errors: *WeighingError for weights_air_g,
// weights_liquid_g, difference_air_g and difference_liquid_g, *quantity.RangeError for the
// densities.
func AgainstWeights(inAir, inLiquid Balanced, weights, liquid quantity.Density, adjust AdjustmentAir) (quantity.Density, error) {
	if err := checkReading("weights_air_g", "mass of the weights in air", quantity.Reading(inAir.Weights)); err != nil {
		return 0, err
	}
	if err := checkReading("weights_liquid_g", "mass of the weights against the immersed item", quantity.Reading(inLiquid.Weights)); err != nil {
		return 0, err
	}
	if err := checkDifference("difference_air_g", "difference in air", inAir.Difference); err != nil {
		return 0, err
	}
	if err := checkDifference("difference_liquid_g", "difference in liquid", inLiquid.Difference); err != nil {
		return 0, err
	}
	if err := (Media{liquid, inAir.Air}).check(); err != nil {
		return 0, err
	}
	if err := checkAir(inLiquid.Air); err != nil {
		return 0, err
	}
	if err := checkSolid("density of the weights", weights); err != nil {
		return 0, err
	}
	if err := adjust.check(); err != nil {
		return 0, err
	}
	w, rhoR, rhoL, rhoA := adjust.Factor(), float64(weights), float64(liquid), float64(inAir.Air)
	x := float64(inAir.Weights)*(1-rhoA/rhoR) + w*float64(inAir.Difference)
	y := float64(inLiquid.Weights)*(1-float64(inLiquid.Air)/rhoR) + w*float64(inLiquid.Difference)
	if !(x > 0) {
		return 0, &WeighingError{"difference_air_g",
			fmt.Sprintf("weights of %g g and a difference of %g g leave no item in air", float64(inAir.Weights), float64(inAir.Difference)),
			"The difference is the item less the weights; check its sign."}
	}
	if !(x > y) {
		return 0, &WeighingError{"weights_liquid_g",
			fmt.Sprintf("the item weighs %.6g g in liquid, not less than the %.6g g in air", y, x),
			"The weighings in air and in liquid may be swapped."}
	}
	return quantity.Density((rhoL*x - rhoA*y) / (x - y)), nil
}
