// Package evidence turns a second look at an item into likelihoods over the materials it may be:
// size, magnet, electrical conductivity, speed of sound, surface analysis, touchstone, and for
// stones refractive index and birefringence.
//
// Every kind works alike. A material has a range for the property (several in the case of the
// magnet). Inside the range the reading fits fully; outside it fits the less, the farther it lies
// in standard uncertainties z, as exp(-z²/2). The likelihood is
//
//	error + (1 - error) · exp(-z²/2),
//
// so that 1 is the best that a material can reach and the error rate of the test the least. Two
// consequences are wanted. No single test ever speaks more strongly than 1 to its error rate. And a
// material whose range is wide is not thought less likely for it: whoever makes a twin chooses the
// value that suits, and a likelihood spread over his choices would call him innocent.
//
// A material of which the property is not known has likelihood 1: the test says nothing of it, and
// the second result of Likelihood is false. Nothing is ever given the likelihood 0.
//
// Tests of different groups are taken as independent for a given material. Tests of one group are
// not: a plated item misleads the touchstone and the analysis of its surface alike, and a second
// try with the same magnet repeats the first mistake. Of these the lowest likelihood counts once.
//
// Surface analysis and touchstone see the skin. They say nothing of a look-alike, which may be
// plated, and little against an alloy when they read finer than it is. Error rates are chosen
// here, about what users of each test report, and stand in one table.
package evidence
