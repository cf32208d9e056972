// Package settle reads the settled value out of a stream of numbers from a balance or a thermometer.
//
// It knows no clock: every sample carries its own seconds, on any scale that grows. It knows no unit:
// values, intervals and uncertainties share whatever unit the caller uses (grams for balances, degrees
// Celsius for thermometers). Memory is bounded and an Add costs the same however long the stream is.
//
// A balance's own mark for "settled" is evidence, not truth: a balance may mark too early, mark an old
// value, or have no mark at all. The statistics decide; the mark only shortens or lengthens the wait.
//
// doc/settling.md holds the figures: bias, coverage, time to settle, troubles told from each other.
package settle
