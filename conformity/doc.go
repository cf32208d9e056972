// Package conformity decides whether a measured value meets a requirement. It knows an
// estimate, limits and a rule, and neither metals nor stones.
//
// Terms (JCGM 106:2012). The tolerance limits bound the permissible values. The acceptance
// limits bound the measured values that are accepted. The guard band w is the distance between
// the two. The conformance probability is the probability that the requirement is met, given
// the measurement. The specific consumer's risk is that of one accepted item; the global risks
// are those of the next item from a population.
//
// An outcome is met, not met or undecided. Every rule has its own words beside it: pass and
// fail where the rule allows two statements, conditional pass and conditional fail where it
// allows four (ILAC-G8:09/2019 4.2).
//
// A rule is to be agreed before the measurement (ISO/IEC 17025:2017 7.1.3); the package cannot
// see to that.
//
// Sources. JCGM 106:2012 clauses 7 (conformance probability), 8.2 (simple acceptance), 8.3
// (guard bands) and 9 (risks), clause numbers below that level from memory; ILAC-G8:09/2019
// 4.2.1 to 4.2.3 and its table of guard bands. Limits: the distribution of the measurand is
// normal, or t with given degrees of freedom; for any other, ByProbability takes a probability
// computed elsewhere.
package conformity
