// Package paper holds what a paper of the shop can say: report, slip and label are written from the
// same facts, and the facts themselves go along as JSON, so that paper and program say the same.
//
// It knows no printer, no page and no database. What ISO/IEC 17025:2017 asks of a report in its
// clause 7.8.2 is held against the facts by Check.
package paper
