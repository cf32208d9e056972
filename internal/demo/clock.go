package demo

import "time"

// clock is the time in the shop. It moves when the story says so, and never past its end.
type clock struct{ at, end time.Time }

func (c *clock) now() time.Time { return c.at }

// to moves the clock on; it never goes back.
func (c *clock) to(t time.Time) {
	if t.After(c.end) {
		t = c.end
	}
	if t.After(c.at) {
		c.at = t
	}
}

func (c *clock) wait(d time.Duration) { c.to(c.at.Add(d)) }
