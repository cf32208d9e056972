// Package alloy knows the metals and their alloys: how dense a mixture is, which mixtures a
// family of alloys allows, and what a measured density says about the fineness.
//
// Terms. A metal is a pure element with its density at 20 °C. Parts are mass fractions of
// metals. A family is a base metal with the recipes that the trade melts under one name; a
// recipe is the composition of the rest, the part that is not the base metal, as shares from 0
// to 1. Usual recipes are what is commonly melted; outer recipes are legal but rare. Fineness is
// the mass fraction of the precious metal, from 0 to 1 (ISO 9202 prints parts per thousand).
//
// Everything is judged in specific volume v = 1/ρ in cm³/g at 20 °C, because specific volumes
// add by mass fraction. A family at one fineness is collapsed to the quantiles of v over its
// recipes, since density sees a recipe only through v. The quantiles, for a grid of finenesses,
// are built beforehand (go generate) and embedded.
//
// Density does not determine the fineness, because the rest is free. An answer is therefore a
// range over all recipes, and an interval under a weighting that is named. The interval covers the
// usual recipes; the outer ones decide what still fits.
//
// Sources are kept in the data files beside each number. In a source, "seen" means that the
// published text was read when the table was made, "memory" that it was not, "computed" that the
// number follows by calculation, "chosen here" that nobody has published it.
//
// Limits: the mixing model is that of one disordered phase. Order, unmixing, strain and voids
// shift densities by up to 0.5 %. No measured density of a ternary gold-silver-copper alloy, nor
// of a white gold or a platinum or palladium alloy, was available as a check.
package alloy

//go:generate go run gen_tables.go
