package value

import (
	"strconv"
	"time"

	"wreath/internal/strictjson"
)

// Moment is a time as RFC 3339 writes it, with the offset from UTC that it was given in.
type Moment struct{ time.Time }

// String writes the time as RFC 3339.
func (m Moment) String() string { return m.Format(time.RFC3339Nano) }

// FromNumber refuses: a bare number does not say what it counts.
func (m *Moment) FromNumber(text string) error { return m.FromText(text) }

// FromText reads a time with its offset, such as 2026-11-26T09:30:00+01:00.
func (m *Moment) FromText(text string) error {
	var t time.Time
	if err := t.UnmarshalText([]byte(text)); err != nil {
		return &strictjson.FieldError{Reason: strconv.Quote(text) + " is not a time with its offset from UTC",
			Hint: "Write date, time and offset: 2026-11-26T09:30:00+01:00, or …T08:30:00Z for UTC."}
	}
	m.Time = t
	return nil
}
