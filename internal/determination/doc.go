// Package determination turns a draft (item, claim, readings, conditions) into an answer: the
// density with its uncertainty, what the item can be, the finding on the claim, and what was
// assumed on the way.
//
// A Draft is what a person or an instrument gives; Decode reads one from JSON. Evaluate makes
// the Answer and never changes the Draft. Everything that Evaluate takes for granted stands in
// Answer.Assumed.
package determination
