// Package uncertainty propagates what is known about inputs through a measurement model.
//
// An Input is a named quantity with a value, a standard uncertainty, a distribution and
// degrees of freedom. A Model is a function of the inputs. FirstOrder gives the budget by the
// law of propagation (JCGM 100:2008 5.1, G.4); Propagate propagates the distributions
// (JCGM 101:2008) by deterministic points with one input integrated analytically; Plain does
// the same by plain random trials and serves as the oracle of the tests.
//
// A cause shared by several quantities (one balance, one bath) is one input that enters the
// model more than once; that is how correlation is expressed.
package uncertainty
