// Package quantity names the quantities that are met at the bench and their base units.
//
// One base unit per quantity: gram, cubic centimetre, gram per cubic centimetre, degree
// Celsius (ITS-90), pascal, millimetre. Fractions run from 0 to 1. A quantity is a defined
// float64, so a density cannot be passed where a mass is wanted; values go in and out by the
// name of a unit: quantity.KgPerM3(998.2), rho.GramPerCm3().
//
// Mass is a true mass. What a balance shows is a Reading: the net indication in grams of a
// balance adjusted with weights of conventional mass, which differs from the mass by the
// buoyancy of the air (OIML D 28).
package quantity
