package hydrostatic

import (
	"math"

	"wreath/quantity"
)

// WireRise returns the wire factor kappa = a/A: the area of the wires that cross the surface
// over the inner area of the vessel there. An item of volume V lifts the level by V/(A - a) and
// so wets more of the wires, which makes the lost weight too large by A/(A - a); the true
// volume is the apparent one times 1 - kappa. It holds for both arrangements when the tare was
// taken with the hanger immersed to the same mark. Derived here.
//
// Errors: *quantity.RangeError for diameters that are not positive, fewer than 0 or more than
// 100 wires, and wires that fill more than 0.2 of the surface.
func WireRise(wireDiameter quantity.Length, wires int, vesselDiameter quantity.Length) (float64, error) {
	if err := quantity.CheckRange("wire diameter", wireDiameter.Mm(), 0, 100, "mm", "the wire factor (range chosen here)",
		"Give the diameter of one wire in millimetres, 0 for none."); err != nil {
		return 0, err
	}
	if err := quantity.CheckRange("number of wires", float64(wires), 0, 100, "", "the wire factor (range chosen here)",
		"Count the wires that cross the surface of the liquid."); err != nil {
		return 0, err
	}
	if err := quantity.CheckRange("vessel diameter", vesselDiameter.Mm(), 1, 10000, "mm", "the wire factor (range chosen here)",
		"Give the inner diameter of the vessel at the surface in millimetres."); err != nil {
		return 0, err
	}
	ratio := wireDiameter.Mm() / vesselDiameter.Mm()
	kappa := float64(wires) * ratio * ratio
	return kappa, checkRise(kappa)
}

// StandardGravity is the conventional value of the acceleration of free fall, in m/s2 (3rd
// CGPM, 1901). Local gravity differs by at most 0.3 %, far less than a meniscus is known.
const StandardGravity = 9.80665

// MeniscusPull returns the mass equivalent of the pull of the meniscus on one wire,
//
//	pi d gamma cos(theta)/g
//
// for surface tension gamma in mN/m (72.7 for water at 20 °C) and contact angle theta in
// degrees (0 for a wetted wire). It adds to a hanging reading and takes from a standing one.
// What is in the tare cancels; what counts is its change between tare and weighing. Range:
// 0 to 100 mm, 0 to 600 mN/m, 0 to 180 degrees.
func MeniscusPull(wireDiameter quantity.Length, surfaceTensionMNm, contactAngleDeg float64) (quantity.Mass, error) {
	if err := quantity.CheckRange("wire diameter", wireDiameter.Mm(), 0, 100, "mm", "the pull of the meniscus (range chosen here)",
		"Give the diameter of one wire in millimetres."); err != nil {
		return 0, err
	}
	if err := quantity.CheckRange("surface tension", surfaceTensionMNm, 0, 600, "mN/m", "the pull of the meniscus (range chosen here)",
		"Give the surface tension in mN/m; water has 72.7, ethanol 22.3."); err != nil {
		return 0, err
	}
	if err := quantity.CheckRange("contact angle", contactAngleDeg, 0, 180, "degrees", "the pull of the meniscus",
		"Give the contact angle in degrees; 0 for a wetted wire."); err != nil {
		return 0, err
	}
	newtons := math.Pi * (wireDiameter.Mm() / 1000) * (surfaceTensionMNm / 1000) * math.Cos(contactAngleDeg*math.Pi/180)
	return quantity.Mass(1000 * newtons / StandardGravity), nil
}
