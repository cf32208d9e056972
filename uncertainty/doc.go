// Package uncertainty propagates what is known about inputs through a measurement model.
//
// An Input is a named quantity with a value, a standard uncertainty, a distribution and
// degrees of freedom. A Model is a function of the inputs. FirstOrder gives the budget by the
// law of propagation (JCGM 100:2008 5.1, G.4); Linear does so for several outputs of one model
// with their covariances (JCGM 102:2011). Propagate propagates the distributions (JCGM
// 101:2008) by deterministic points with one direction integrated analytically; Plain and
// Adaptive do the same by plain random trials and serve as the oracle of the tests. Validate
// tells whether the first-order answer is good enough.
//
// A cause shared by several quantities (one balance, one bath) is one input that enters the
// model more than once; that is how correlation is expressed.
//
// First order and propagation do not mean the same by the uncertainty of a few repeats: in
// first order it is s/√n with n-1 degrees of freedom, in propagation the standard deviation of
// a t distribution, which is larger by √((n-1)/(n-3)) and infinite for n of three or fewer.
package uncertainty
