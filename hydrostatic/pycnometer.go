package hydrostatic

import (
	"fmt"

	"wreath/quantity"
)

// Pycnometer returns the density of grains or dust from four weighings of one pycnometer at
// one temperature: empty, with the sample, with the sample and filled with liquid to the mark,
// and with liquid only to the mark. The glass and its buoyancy cancel in the differences:
//
//	W (withSample - empty) = m - rho_a V
//	W (liquidOnly - empty) = (rho_l - rho_a) V_p
//	W (withSampleAndLiquid - withSample) = (rho_l - rho_a)(V_p - V)
//	rho = (withSample - empty)(rho_l - rho_a) /
//	      ((liquidOnly - empty) - (withSampleAndLiquid - withSample)) + rho_a
//
// Air caught between the grains makes the density too low. Errors: *WeighingError for empty_g,
// with_sample_g, with_sample_and_liquid_g and liquid_only_g, *quantity.RangeError for media.
func Pycnometer(empty, withSample, withSampleAndLiquid, liquidOnly quantity.Reading, m Media) (quantity.Density, error) {
	if err := checkPycnometer(empty, withSample, withSampleAndLiquid, liquidOnly); err != nil {
		return 0, err
	}
	if err := m.check(); err != nil {
		return 0, err
	}
	rhoL, rhoA := float64(m.Liquid), float64(m.Air)
	full := float64(liquidOnly) - float64(empty)
	beside := float64(withSampleAndLiquid) - float64(withSample)
	if full <= beside {
		return 0, overfull(beside, full)
	}
	return quantity.Density((float64(withSample)-float64(empty))*(rhoL-rhoA)/(full-beside) + rhoA), nil
}

// Fill is the state of the liquid in a pycnometer filled to the mark.
type Fill struct {
	Liquid      quantity.Density
	Temperature quantity.Temperature
}

// PycnometerFills is Pycnometer for two fills at different temperatures: sample is the fill
// beside the sample, calibration the fill with liquid only. The volume found in the
// calibration is carried to the temperature of the sample with the cubic expansion of the
// glass (about 9.9e-6 per K for borosilicate, 25e-6 for soda-lime glass):
//
//	V_p = W (liquidOnly - empty)/(rho_l2 - rho_a) · (1 + gamma (t_1 - t_2))
//	V   = V_p - W (withSampleAndLiquid - withSample)/(rho_l1 - rho_a)
//	rho = W (withSample - empty)/V + rho_a
//
// All four weighings are taken to be made in the same air. Errors as in Pycnometer.
func PycnometerFills(empty, withSample, withSampleAndLiquid, liquidOnly quantity.Reading, sample, calibration Fill, glass quantity.Expansivity, air quantity.Density) (quantity.Density, error) {
	if err := checkPycnometer(empty, withSample, withSampleAndLiquid, liquidOnly); err != nil {
		return 0, err
	}
	if err := (Media{sample.Liquid, air}).check(); err != nil {
		return 0, err
	}
	if err := (Media{calibration.Liquid, air}).check(); err != nil {
		return 0, err
	}
	if err := checkExpansion(glass, sample.Temperature); err != nil {
		return 0, err
	}
	if err := checkExpansion(glass, calibration.Temperature); err != nil {
		return 0, err
	}
	rhoA := float64(air)
	growth := 1 + float64(glass)*float64(sample.Temperature.Sub(calibration.Temperature))
	vp := (float64(liquidOnly) - float64(empty)) / (float64(calibration.Liquid) - rhoA) * growth
	vl := (float64(withSampleAndLiquid) - float64(withSample)) / (float64(sample.Liquid) - rhoA)
	if vp <= vl {
		return 0, overfull(vl, vp)
	}
	return quantity.Density((float64(withSample)-float64(empty))/(vp-vl) + rhoA), nil
}

func checkPycnometer(empty, withSample, withSampleAndLiquid, liquidOnly quantity.Reading) error {
	if err := checkReading("empty_g", "reading of the empty pycnometer", empty); err != nil {
		return err
	}
	if err := checkReading("with_sample_g", "reading with the sample", withSample); err != nil {
		return err
	}
	if err := checkReading("with_sample_and_liquid_g", "reading with sample and liquid", withSampleAndLiquid); err != nil {
		return err
	}
	if err := checkReading("liquid_only_g", "reading with liquid only", liquidOnly); err != nil {
		return err
	}
	if withSample <= empty {
		return heavierThan("with_sample_g", "with the sample", withSample, "empty", empty)
	}
	if liquidOnly <= empty {
		return heavierThan("liquid_only_g", "with liquid only", liquidOnly, "empty", empty)
	}
	if withSampleAndLiquid <= withSample {
		return heavierThan("with_sample_and_liquid_g", "with sample and liquid", withSampleAndLiquid, "with the sample alone", withSample)
	}
	return nil
}

func heavierThan(field, what string, got quantity.Reading, than string, other quantity.Reading) error {
	return &WeighingError{field,
		fmt.Sprintf("the pycnometer reads %g g %s, not more than the %g g %s", float64(got), what, float64(other), than),
		"Check which reading is which; two of them may be swapped."}
}

func overfull(beside, full float64) error {
	return &WeighingError{"with_sample_and_liquid_g",
		fmt.Sprintf("the liquid beside the sample (%.6g) is not less than the liquid that fills the whole pycnometer (%.6g)", beside, full),
		"Check that both fills reach the mark and that the readings are not swapped."}
}
