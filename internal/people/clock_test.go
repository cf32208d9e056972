package people

import (
	"testing"
	"time"
)

func TestClock(t *testing.T) {
	var c Clock
	for _, step := range []struct {
		at   time.Duration
		back time.Duration
	}{
		{0, 0}, {time.Hour, 0}, {time.Hour - time.Minute, 0}, {time.Hour - ClockSlack, 0}, {2 * time.Hour, 0},
		{time.Hour, time.Hour}, // set back
		{time.Hour + time.Second, 0},
		{10000 * time.Hour, 0}, // far ahead
		{3 * time.Hour, 9997 * time.Hour},
		{3*time.Hour + time.Second, 0}, // and the right time counts again
	} {
		if got := c.See(noon.Add(step.at)); got != step.back {
			t.Errorf("at %s: set back by %s, want %s", step.at, got, step.back)
		}
	}
	roundTrip(t, c)
}
