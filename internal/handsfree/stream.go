package handsfree

import (
	"math"

	"wreath/settle"
)

// rest is a time in which the reading stood still, and what happened since the rest before it.
type rest struct {
	value, u     float64 // g
	seconds      float64 // when it was taken
	from         float64 // the load changed
	took         float64 // s
	low, high    float64 // g, extremes since the rest before
	nearZero     int     // longest run of readings near zero since then, while it moved
	interval     float64 // g
	trouble      string  // sentence, empty: none
	take, again  bool    // a person asked for it
	forced       Load    // a person said what it is
	undisturbed  bool    // the stream did not move since the rest before: the value stepped by itself
	unseenBefore bool    // the first rest after a gap: the stream was silent or without numbers
}

// stream cuts the events into rests.
type stream struct {
	begun     bool    // an event came
	low, high float64 // since the last rest
	run, most int     // readings near zero
	moved     bool    // since the last rest
	still     float64 // when it came to rest, NaN while it moves
	load      int     // of the settled events
	taken     bool    // this rest was taken
	value     float64 // of the rest that was taken
	tolerance float64 // of that value
	gap       bool
	last      settle.Event
}

// follow takes an event. It returns a rest when one is old enough to be taken.
func (s *stream) follow(e settle.Event, interval, tolerance, hold float64, now bool) (rest, bool) {
	if !s.begun {
		s.begun, s.low, s.high, s.still = true, e.Value, e.Value, math.NaN()
	}
	s.last = e
	switch e.Phase {
	case settle.Silent:
		s.gap, s.still = true, math.NaN()
		return rest{}, false
	case settle.Settled:
	default:
		s.low, s.high = min(s.low, e.Value), max(s.high, e.Value)
		if math.Abs(e.Value) <= 3*interval {
			s.run++
			s.most = max(s.most, s.run)
		} else {
			s.run = 0
		}
		if e.Phase == settle.Moving {
			s.moved = true
			s.taken = false
		}
		s.still = math.NaN()
		return rest{}, false
	}
	if math.IsNaN(s.still) || e.Load != s.load {
		if e.Load != s.load {
			s.taken, s.moved = false, true
		}
		s.still, s.load = e.Seconds, e.Load
	}
	stepped := s.taken && math.Abs(e.Value-s.value) > max(s.tolerance, tolerance, 6*e.U)
	if s.taken && !stepped && !now {
		return rest{}, false
	}
	if e.Seconds-s.still < hold && !now {
		return rest{}, false
	}
	r := rest{value: e.Value, u: e.U, seconds: e.Seconds, from: e.Began, took: e.Took, interval: interval,
		low: min(s.low, e.Value), high: max(s.high, e.Value), nearZero: s.most, take: now,
		undisturbed: !s.moved, unseenBefore: s.gap, trouble: sentence(e)}
	s.taken, s.value, s.tolerance = true, e.Value, tolerance
	s.low, s.high, s.run, s.most, s.moved, s.gap = e.Value, e.Value, 0, 0, false, false
	return r, true
}

// wait is how long a settled load still has to rest, s; 0 when it was taken.
func (s *stream) wait(hold float64) float64 {
	if s.taken || math.IsNaN(s.still) {
		return 0
	}
	return max(0, hold-(s.last.Seconds-s.still))
}

// sentence says what disturbs a reading so that its value may be wrong. Scatter alone makes it less
// sure and is in U.
func sentence(e settle.Event) string {
	for _, t := range e.Troubles {
		if t.Key != settle.Draught {
			return t.Sentence
		}
	}
	return ""
}
