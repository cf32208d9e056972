package register

import (
	"fmt"
	"time"
	_ "time/tzdata" // a till without a zone table must still know its own midnight

	"wreath/internal/strictjson"
)

// Date is a day of the calendar.
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// ParseDate reads yyyy-mm-dd.
func ParseDate(text string) (Date, error) {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil || t.Year() < 1 {
		return Date{}, &strictjson.FieldError{Reason: fmt.Sprintf("%q is not a day of the calendar", text),
			Hint: "Write year, month and day with hyphens, for example 2028-02-29."}
	}
	return dateOf(t), nil
}

func dateOf(t time.Time) Date {
	y, m, d := t.Date()
	return Date{y, m, d}
}

// utc is the start of the day in UTC, in which all days have 24 hours.
func (d Date) utc() time.Time { return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC) }

// String is the day as yyyy-mm-dd.
func (d Date) String() string { return fmt.Sprintf("%04d-%02d-%02d", d.Year, int(d.Month), d.Day) }

// IsZero tells that no day was given.
func (d Date) IsZero() bool { return d == Date{} }

// Before tells whether d lies before other.
func (d Date) Before(other Date) bool { return d.utc().Before(other.utc()) }

// DaysSince counts the days from other to d.
func (d Date) DaysSince(other Date) int { return int(d.utc().Sub(other.utc()) / (24 * time.Hour)) }

// AddDays is the day n days later.
func (d Date) AddDays(n int) Date { return dateOf(d.utc().AddDate(0, 0, n)) }

// AddMonths is the same day n months later, or the last day of that month when it is shorter.
func (d Date) AddMonths(n int) Date {
	first := time.Date(d.Year, d.Month+time.Month(n), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	return Date{first.Year(), first.Month(), min(d.Day, last)}
}

// FromText reads a day of a document.
func (d *Date) FromText(text string) (err error) {
	*d, err = ParseDate(text)
	return err
}

// FromNumber refuses.
func (d *Date) FromNumber(text string) error {
	return &strictjson.FieldError{Reason: "is the number " + text + ", but a day is meant", Hint: `Put it in quotes: "2028-02-29".`}
}

// MarshalText writes the day as yyyy-mm-dd.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads yyyy-mm-dd.
func (d *Date) UnmarshalText(text []byte) error { return d.FromText(string(text)) }

// Period is a number of days, or of months, or of years of the calendar; exactly one is given.
type Period struct {
	Days   int `json:"days,omitempty" doc:"days of the calendar"`
	Months int `json:"months,omitempty" doc:"months of the calendar"`
	Years  int `json:"years,omitempty" doc:"years of the calendar"`
}

// String is the period in words.
func (p Period) String() string {
	say := func(n int, unit string) string {
		if n == 1 {
			return "1 " + unit
		}
		return fmt.Sprintf("%d %ss", n, unit)
	}
	switch {
	case p.Months != 0:
		return say(p.Months, "month")
	case p.Years != 0:
		return say(p.Years, "year")
	}
	return say(p.Days, "day")
}

// After is the last day of the period that begins with the day d, which does not count.
func (p Period) After(d Date) Date { return d.AddMonths(p.Months + 12*p.Years).AddDays(p.Days) }

// startOfDay is the first instant after the day before is over; where the clock skips midnight, the
// instant of the skip.
func startOfDay(d Date, zone *time.Location) time.Time {
	first, last := instants(d.utc(), zone)
	// Clocks set back over midnight show it twice, with the end of the day before between.
	if dateOf(last.Add(-1).In(zone)).Before(d) {
		return last
	}
	return first
}

// instants turns a time on the wall, given as if it were UTC, into the first and the last instant at
// which clocks of the zone show it. They differ when clocks are set back. When clocks skip the
// time, both are the instant of the skip.
func instants(wall time.Time, zone *time.Location) (first, last time.Time) {
	// Zones differ from UTC by 14 hours at most, and once skipped a whole day.
	offsets := map[int]bool{}
	for _, h := range []time.Duration{-48, -24, 0, 24, 48} {
		_, offset := wall.Add(h * time.Hour).In(zone).Zone()
		offsets[offset] = true
	}
	var latest time.Time
	for offset := range offsets {
		t := wall.Add(-time.Duration(offset) * time.Second).In(zone)
		if latest.IsZero() || t.After(latest) {
			latest = t
		}
		if _, shown := t.Zone(); shown != offset {
			continue
		}
		if first.IsZero() || t.Before(first) {
			first = t
		}
		if last.IsZero() || t.After(last) {
			last = t
		}
	}
	if !first.IsZero() {
		return first, last
	}
	// Reckoned with the offset before the skip, the time falls behind the skip.
	start, _ := latest.ZoneBounds()
	return start, start
}

// sameTime is the instant on day d at the time of day of t; the later one when there are two.
func sameTime(t time.Time, d Date, zone *time.Location) time.Time {
	t = t.In(zone)
	hour, minute, second := t.Clock()
	_, last := instants(time.Date(d.Year, d.Month, d.Day, hour, minute, second, t.Nanosecond(), time.UTC), zone)
	return last
}
