// Package report writes an answer for people: as text for a terminal now, as paper later.
//
// The order is always that of the five questions: density and how sure, what it can be, the
// claim, whether to trust the weighing, what to pay by. A finding never stands without its rule,
// nor a fineness without the alloys that it assumes.
package report
