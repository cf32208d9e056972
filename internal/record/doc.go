// Package record is the life of a determination on paper.
//
// A sheet is a determination under way: what was asked, and every reading as it was typed or
// received. Nothing on it is ever changed or taken away: a reading is set aside with a reason, a
// request is followed by another. A record is a sheet together with the complete document that was
// evaluated, the answer exactly as computed, and the versions of everything that took part, so that
// anybody can evaluate it again. A correction is a new record that names the old one.
//
// The package knows no clock and no disk: times and persons are passed in. Every operation returns
// a new sheet and leaves the old one alone.
//
// Observations kept at the time and amendments that keep both versions follow ISO/IEC 17025:2017,
// 7.5; a claim and a rule that are fixed before the first reading follow its 7.1.3.
package record
