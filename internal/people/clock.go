package people

import "time"

// ClockSlack is how far a clock may step back without anybody being signed out: time servers
// correct by seconds.
const ClockSlack = 2 * time.Minute

// Clock notices a clock that is set back, which would make expired sessions and codes look fresh.
// It is kept on disk, so that it notices across a restart.
type Clock struct {
	Highest time.Time `json:"highest"`
}

// See takes the time now. It returns by how much the clock was set back, or 0. The caller then ends
// all sessions. From there on the new time counts, or a clock that was once a year ahead would stop
// all limits for a year.
func (c *Clock) See(now time.Time) (back time.Duration) {
	if back = c.Highest.Sub(now); back > ClockSlack && !c.Highest.IsZero() {
		c.Highest = now
		return back
	}
	if now.After(c.Highest) {
		c.Highest = now
	}
	return 0
}
