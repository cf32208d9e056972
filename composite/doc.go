// Package composite takes apart what was weighed as one: metal with stones, a hollow, a plate on a
// core, gold in quartz.
//
// Masses and volumes of the parts add up to those of the whole; that is all there is to it. A
// density alone gives one equation, so one thing can be solved for: the metal where the stones are
// known, or the stones where the metal is.
//
// Terms. A whole is what was weighed: its mass, and its specific volume with the uncertainty of the
// weighing. A part has a mass and a specific volume. Grams, cubic centimetres and their quotients
// throughout; uncertainties are standard uncertainties, propagated by first order (JCGM 100:2008
// 5.1.2). The mass of the whole is taken as known: its relative uncertainty is a hundredth of that
// of a volume.
//
// Limits: parts are sound and do not touch the liquid differently; a setting that holds air under a
// stone is a hollow.
package composite
