// Package gem lists gem species with their densities and optical constants, and says which of
// them a measured density allows.
//
// Density alone never names a stone: Fits returns every species whose range overlaps the
// measured interval, imitations and grown stones among them. Diamond, topaz and sphene share
// 3.50 to 3.53 g/cm3; refractive index, birefringence and hardness tell them apart.
//
// Terms. Species: the mineral or material, with a variety where the trade names one. Origin:
// natural, grown or imitation. A grown ruby has the constants of the natural one and is
// not a row of its own; the note says so.
//
// Sources are named in each row of data/gems.csv, figures from memory are called so. The
// tables print specific gravity, which is taken as g/cm3; the two differ by less than 0.003 %.
// Ranges are those of usual stones: inclusions, fillings and composites lie outside.
package gem
