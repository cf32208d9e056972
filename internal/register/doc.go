// Package register applies the rules by which a business keeps its register of deals: how deals are
// numbered, how long a bought item is held back, when a customer is asked for personal data, how
// much may be paid in cash, and how long records are kept.
//
// Such rules differ by country, state and even town, and they change. So none is built in: Rules are
// dated data with a source, written or chosen by the user, and a fresh installation has none. Without
// rules nothing is asked, nothing is held, and deals are numbered from 1. This package does not know
// what the law is and gives no advice on it.
//
// Terms: an Edition is what holds from one day to another; editions of one Rules document follow each
// other. A Book is Rules that were checked and are ready for use. A day is a day of the calendar in
// the time zone of the Rules, whatever the zone of an instant that comes in.
//
// A deal is judged by the edition of the day on which it was made, also when a later edition says
// otherwise. The retention of deals of a day without an edition goes by the edition of today, because
// to erase cannot be undone.
//
// A period of days or months runs from the day of the deal, which does not count; a month ends on the
// same day number or, when there is none, on the last day of the month. It ends with the last instant
// of its last day, unless a rule says that it ends at the time of day at which it began; where
// daylight saving skips that time or gives it twice, the later end counts. The same reckoning is in
// Regulation (EEC, Euratom) No 1182/71, Article 3 (from memory).
//
// Time zones come from the system's table or, where there is none, from the one in the program.
package register
