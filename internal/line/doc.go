// Package line turns the bytes of a balance or a thermometer into readings.
//
// Three steps: a Framer cuts bytes into lines, a Pattern reads one line, and Learn makes a
// pattern from lines that were seen while known weights were on. No maker's format is built in;
// a pattern is a stored document with tests of its own (see doc/lines.md).
//
// The package is strict where it reads and modest where it learns. A line that does not fit the
// pattern as a whole is an error that says why, never a value. A unit is read or was said by a
// person, never assumed. What the samples could not show is a doubt in words.
//
// It knows no clock, disk or network: times are seconds that the caller gives.
package line
