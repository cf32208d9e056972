// Package mint lists types of coins and bars: what a law or a mark says of their mass, size and
// fineness, and what a piece may differ by.
//
// A type is the strongest claim there is, because it fixes four things that a forger must meet at
// once: mass, diameter, thickness and density. Any three can be met by a wrong metal that is thicker
// or thinner; all four only by a metal of the same density.
//
// Tolerances are the remedy of the law where the source gives it; elsewhere they are what is usual,
// and TolerancesByLaw says so. A struck coin loses by wear and gains nothing: wear widens the light
// side only. Facts keep the source that they were taken from, with the words "seen" where the
// text was read and "memory" where it was not.
package mint
