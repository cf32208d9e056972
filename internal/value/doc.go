// Package value turns a determination into money: a price of fine metal, the terms of a house, and
// what an item or a lot is worth under them.
//
// Terms of this package:
//
//   - Price: what one unit of mass of a fine metal costs, with currency, source and the time it held.
//   - Terms: what a house pays: a percentage of the fine-metal value, charges, rounding, and what
//     it does with a finding that is not `met`. No law is built in.
//   - Safe figure: the fineness that is exceeded with 95 % probability (determination.Fineness.Safe).
//   - Worth: the value of one item, every step written out so that a person can compute it again.
//   - Lot: several items judged apart and added up; its own safe figure is larger than the sum of
//     those of its items, because not all of them are at their lowest together.
//
// # Numbers
//
// Money, prices, percentages and masses to pay by are exact decimals (Decimal); no binary fraction
// touches them. The measurement works in binary fractions. Its figures cross into decimals at two
// places only, and always downwards: the safe figure of an item is cut after Terms.FinenessDecimals
// digits, the safe fine mass of a lot after 0.1 mg. The mass of an item is not one of them: it is
// read from the text that the balance showed. The money is then cut or rounded at two named steps:
// the fine-metal value is cut after the eighth decimal (a price per troy ounce has no end in
// decimals), and the payout is rounded as the terms say.
//
// # A doubt never turns into a price by default
//
// A finding that is undecided, not met, or missing gives no price unless the terms say that the
// house pays by the safe figure then. A finding that is suspended gives no price under any terms: the
// weighing itself is in doubt, so the safe figure is as well.
//
// The package is pure: it knows no clock, disk or network. The time is passed in.
package value
