// Package fluid gives the densities of the media an item is weighed in: water, ethanol-water
// mixtures, a liquid that was measured, and moist air.
//
// # Terms
//
// Air-free water is water from which the dissolved air was boiled or pumped out. Air
// saturation is the share of dissolved air, 0 for air-free and 1 for water that stood in air
// until it took up no more. Mass fraction is the mass of ethanol by the mass of the mixture;
// volume fraction at 20 °C is what labels print: the volume the ethanol would fill alone by the
// volume of the mixture, both at 20 °C. A measured liquid is one whose density comes from a
// sinker or a certificate. A formula uncertainty is how far the formula itself may be from the
// truth; what the inputs add is for the budget.
//
// # Sources
//
//   - Water: M. Tanaka, G. Girard, R. Davis, A. Peuto, N. Bignell, Recommended table for the
//     density of water between 0 °C and 40 °C based on recent experimental reports, Metrologia
//     38 (2001) 301. Surface tension: IAPWS R1-76(2014).
//   - Ethanol-water: OIML R 22:1975, International alcoholometric tables; the same formula is in
//     the Annex of Council Directive 76/766/EEC.
//   - Moist air: A. Picard, R. S. Davis, M. Gläser, K. Fujii, Revised formula for the density of
//     moist air (CIPM-2007), Metrologia 45 (2008) 149; OIML R 111-1:2004, E.3.
//
// Tables stand in data/ as printed, with a source in every row.
//
// # Limits
//
// Every formula holds in a stated range and returns a *quantity.RangeError outside it; nothing
// is extrapolated, and a value that is not a number is outside every range. Temperatures are
// ITS-90. The formulas allocate nothing and are safe for concurrent use.
package fluid

// The names and editions of the formulas, for a record that must say what it was computed with.
const (
	WaterFormula        = "Tanaka 2001"
	EthanolWaterFormula = "OIML R 22:1975"
)
