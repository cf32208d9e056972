package hydrostatic

import "wreath/quantity"

// Media are the densities of what surrounds the item: the immersion liquid at its temperature
// and the air at the time of weighing. Air of density zero gives the simple law without
// buoyancy in air, as school books print it.
type Media struct{ Liquid, Air quantity.Density }

// Ranges of the densities that are taken as media, in g/cm3. Chosen here to catch a slip of
// unit, not a limit of the formulas: no liquid in use is lighter than liquid butane or heavier
// than mercury, and no open air is denser than 2 kg/m3.
const (
	lightestLiquid quantity.Density = 0.5
	densestLiquid  quantity.Density = 14
	densestAir     quantity.Density = 0.002
)

// check returns a *quantity.RangeError for media that cannot be.
func (m Media) check() error {
	if m.Liquid >= lightestLiquid && m.Liquid <= densestLiquid && m.Air >= 0 && m.Air <= densestAir {
		return nil
	}
	if err := checkLiquid(m.Liquid); err != nil {
		return err
	}
	return checkAir(m.Air)
}

func checkLiquid(d quantity.Density) error {
	return quantity.CheckRange("liquid density", d.KgPerM3(), lightestLiquid.KgPerM3(), densestLiquid.KgPerM3(),
		"kg/m³", "the weighing equations (range chosen here)", "Check the unit of the liquid's density; water has about 998 kg/m³.")
}

func checkAir(d quantity.Density) error {
	return quantity.CheckRange("air density", d.KgPerM3(), 0, densestAir.KgPerM3(),
		"kg/m³", "the weighing equations (range chosen here)", "Check the unit of the air's density; it is about 1.2 kg/m³ at sea level.")
}

// checkSolid returns a *quantity.RangeError for the density of a solid that must come from a
// slip of unit: below 100 or above 50 000 kg/m3. Whether it is believable asks CheckDensity.
func checkSolid(what string, d quantity.Density) error {
	if d >= 0.1 && d <= 50 {
		return nil
	}
	return quantity.CheckRange(what, d.KgPerM3(), 100, 50000,
		"kg/m³", "the weighing equations (range chosen here)", "Check the unit of the density; steel has about 8000 kg/m³.")
}

// Conventional values of OIML D 28:2004: the air and the weights against which conventional
// mass is defined, at 20 °C.
const (
	ReferenceAir     quantity.Density = 0.0012 // g/cm3, exact by definition
	ReferenceWeights quantity.Density = 8.0    // g/cm3, exact by definition
)

// AdjustmentAir is the density of the air, in g/cm3, when the balance was last adjusted with
// weights of conventional mass.
type AdjustmentAir quantity.Density

// StandardAdjustment is an adjustment in reference air. Its W differs from that of any open air
// between 0.9 and 1.5 kg/m3 by less than 0.004 %.
const StandardAdjustment = AdjustmentAir(ReferenceAir)

// Factor returns the calibration-weight factor W = 1 - rho_adj/8000: a balance shows a net
// force F, in grams, as F/W. It is 0.99985 for adjustment in reference air.
func (a AdjustmentAir) Factor() float64 { return 1 - float64(a)/float64(ReferenceWeights) }

func (a AdjustmentAir) check() error {
	if a >= 0 && quantity.Density(a) <= densestAir {
		return nil
	}
	return checkAir(quantity.Density(a))
}

// checkRise returns a *quantity.RangeError unless a wire factor lies in 0 to 0.2.
func checkRise(kappa float64) error {
	if kappa >= 0 && kappa <= widestRise {
		return nil
	}
	return quantity.CheckRange("wire factor a/A", kappa, 0, widestRise, "", "the correction for the rise of the liquid (range chosen here)",
		"Check the diameters of wire and vessel; a usual wire takes less than 0.002 of the surface.")
}

const widestRise = 0.2
