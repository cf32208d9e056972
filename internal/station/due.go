package station

import (
	"fmt"
	"time"
)

// What an instrument's papers say on a day.
const (
	InOrder      = "in order"
	DueSoon      = "due soon"
	Overdue      = "overdue"
	OutOfUse     = "out of service"
	NotTraceable = "traceability not shown"
)

// Warn is how many days ahead a calibration is said to be due soon; common practice.
const Warn = 60

// Status says how an instrument's papers stand on a day.
type Status struct {
	State       string `json:"state" doc:"in order, due soon, overdue, out of service, or traceability not shown"`
	Days        int    `json:"days,omitempty" doc:"due soon: days that are left; overdue: days past"`
	Certificate string `json:"certificate,omitempty" doc:"the certificate that counts: number, issuer, date"`
	Sentence    string `json:"sentence" doc:"in words"`
}

// Due says how the instrument's papers stand on the day that now shows at its own place.
func (i *Instrument) Due(now time.Time) Status { return i.dueOn(Day(now)) }

func (i *Instrument) dueOn(day Date) Status {
	c := i.CertificateOn(day)
	s := Status{}
	if c != nil {
		s.Certificate = c.title()
	}
	switch {
	case i.OutOfService != nil && i.OutOfService.Since <= day:
		s.State = OutOfUse
		s.Sentence = fmt.Sprintf("The %s is out of service since %s: %s.", i.title(), i.OutOfService.Since, i.OutOfService.Reason)
	case c == nil:
		s.State = NotTraceable
		s.Sentence = fmt.Sprintf("The %s has no calibration certificate: traceability not shown.", i.title())
	case c.NextDue < day:
		s.State, s.Days = Overdue, c.NextDue.daysUntil(day)
		s.Sentence = fmt.Sprintf("The calibration of the %s is overdue since %s, for %s: traceability not shown.", i.title(), c.NextDue, days(s.Days))
	case day.daysUntil(c.NextDue) <= Warn:
		s.State, s.Days = DueSoon, day.daysUntil(c.NextDue)
		s.Sentence = fmt.Sprintf("The calibration of the %s is due within %s, by %s.", i.title(), days(s.Days), c.NextDue)
		if s.Days == 0 {
			s.Sentence = fmt.Sprintf("The calibration of the %s is due today, %s.", i.title(), c.NextDue)
		}
	default:
		s.State = InOrder
		s.Sentence = fmt.Sprintf("The calibration of the %s is in order until %s.", i.title(), c.NextDue)
	}
	return s
}

func days(n int) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}
