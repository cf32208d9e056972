// Package practice has items to practise on: invented, of known make, with a seeded fault or none. A person
// is told what a counter would know, weighs at a simulated bench, judges, and then sees the truth, a
// score and the reason.
//
// It is pure: time passes where the bench is run, pages are drawn elsewhere. Nothing of it may enter a
// ledger.
package practice
