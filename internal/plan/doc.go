// Package plan says before an item is wet what a weighing can be expected to decide: the interval,
// the questions that it answers and in how many repeats, what no number of repeats can pass, and
// what to improve first.
//
// It has no model of its own. It makes the readings that an item of the claimed material would give
// at the station, hands them to the measurement model of internal/determination, and takes the
// budget that comes back. What the weighing would find follows by integrating over the specific
// volume that may be observed: recipes, mixing model and the weighing's uncertainty together. There
// is no chance in it: the same question gives the same plan.
//
// Terms. A repeat is one weighing in air and one in the liquid. A question is the claim against one
// other material. The error of a question is the share of wrong decisions of the best rule there is
// where both materials are equally likely (the Bayes error); its floor is what stays of the error
// when the weighing has no uncertainty, because recipes overlap.
package plan
