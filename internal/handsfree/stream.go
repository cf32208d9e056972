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
	drift        float64 // g/s, as far as the stream names one
	take, again  bool    // a person asked for it
	wanted       []string
	forced       Load // a person said what it is
	way          way  // how the reading came from the rest before
	unseenBefore bool // the first rest after a gap: the stream was silent or without numbers
}

// way is how a reading came from one rest to the next.
type way uint8

const (
	unclear way = iota
	leapt       // from one to the other with nothing in between: the key that sets the zero does that
	carried     // by steps, as a filter and a hand do
)

// slowest is the time between two readings, in s, beyond which a hand may come between them unseen.
const slowest = .25

// mostPassed is how many readings between two rests are looked at.
const mostPassed = 64

// stream cuts the events into rests.
type stream struct {
	begun     bool      // an event came
	low, high float64   // since the last rest
	run, most int       // readings near zero
	passed    []float64 // readings while it moved, every so many, and the time of the first and the last

	passedFrom, passedTo float64
	stride, skipped      int

	still    float64 // since when it has rested, NaN while it moves
	steady   float64 // value then
	load     int     // of the settled events
	taken    bool    // this rest was taken
	rested   bool    // there was one before
	at       float64 // when, or when it was taken anew
	value, u float64 // as it was taken
	noise    float64 // of single readings then
	key      string  // of its trouble
	gap      bool    // the stream was silent or without numbers
	last     settle.Event
}

// cut is what an event makes of the rests.
type cut uint8

const (
	nothing cut = iota
	begins      // a rest is to be taken
	becomes     // the rest that was taken has crept on: it is to be taken anew
)

// anewSeconds is the time after which a rest that creeps is taken anew.
const anewSeconds = 2

// roughSeconds is how long a reading that scatters is waited for.
const roughSeconds = 3

// follow takes an event. step is what a rest may change by and still be the same.
// rough is the uncertainty beyond which it pays to wait. now takes what is settled without waiting, fresh
// makes it a rest of its own.
func (s *stream) follow(e settle.Event, interval, step, rough, hold float64, now, fresh bool) (rest, cut) {
	if !s.begun {
		s.begun, s.low, s.high, s.still, s.last = true, e.Value, e.Value, math.NaN(), e
	}
	before := e.Seconds
	if s.last.Phase != settle.Silent {
		before = min(s.last.Seconds, e.Seconds)
	}
	s.last = e
	if e.Phase != settle.Settled {
		s.still = math.NaN()
		switch e.Phase {
		case settle.Silent:
			s.gap = true
			return rest{}, nothing
		case settle.Moving:
			s.taken = false
		}
		s.low, s.high = min(s.low, e.Value), max(s.high, e.Value)
		if !s.taken {
			s.pass(e)
		}
		if math.Abs(e.Value) <= 3*interval {
			s.run++
			s.most = max(s.most, s.run)
		} else {
			s.run = 0
		}
		return rest{}, nothing
	}
	if e.U <= rough {
		step = max(step, 4*e.U)
	} // where the uncertainty says nothing, the value has to stand still by itself
	if e.Load != s.load || math.Abs(e.Value-s.value) > 20*step {
		s.taken = false // more than a creep
	}
	if math.IsNaN(s.still) || e.Load != s.load || !s.taken && math.Abs(e.Value-s.steady) > .7*step {
		// It rests since the reading before at the latest: on a slow line that is long ago.
		s.still, s.steady, s.load = e.Seconds-min(e.Seconds-before, hold/2), e.Value, e.Load
	}
	key, words := trouble(e)
	r := rest{value: e.Value, u: e.U, seconds: e.Seconds, from: e.Began, took: e.Took, interval: interval,
		low: min(s.low, e.Value), high: max(s.high, e.Value), nearZero: s.most, take: now, unseenBefore: s.gap, trouble: words, drift: drift(e)}
	if s.taken && !now {
		// What scatters more than it did is under a hand: it does not creep.
		if e.Seconds-s.at < anewSeconds || e.Noise > 2*max(s.noise, interval/2) || math.Abs(e.Value-s.value) <= step && key == s.key && (s.u <= rough || e.U > s.u/2) {
			return rest{}, nothing
		}
		s.at, s.value, s.u, s.key, s.noise = e.Seconds, e.Value, e.U, key, e.Noise
		s.low, s.high = e.Value, e.Value // a creep is no movement, however far it comes
		return r, becomes
	}
	switch {
	case e.N == 1 && e.Marked:
		hold = 0 // the balance sends one line at a press of its key, and nothing that shows it resting
	case e.U > rough:
		hold = max(hold, roughSeconds)
	}
	if e.Seconds-s.still < hold && !now {
		return rest{}, nothing
	}
	// What goes to zero may have been set to zero: that is a rest of its own.
	zeroed := math.Abs(e.Value) <= interval && math.Abs(s.value) > 5*interval
	if s.rested && !now && !fresh && !s.gap && !zeroed && r.high-r.low <= 12*step && math.Abs(e.Value-s.value) <= 12*step {
		// It was hardly touched: the same rest goes on.
		s.taken, s.at, s.value, s.u, s.key, s.noise = true, e.Seconds, e.Value, e.U, key, e.Noise
		return r, becomes
	}
	s.rested = true
	r.way = s.came(e.Value, step)
	s.taken, s.at, s.value, s.u, s.key, s.noise, s.passed = true, e.Seconds, e.Value, e.U, key, e.Noise, s.passed[:0]
	s.low, s.high, s.run, s.most, s.gap = e.Value, e.Value, 0, 0, false
	return r, begins
}

// pass remembers a reading of the movement. Where there are too many, every second one is forgotten.
func (s *stream) pass(e settle.Event) {
	if len(s.passed) == 0 {
		s.passedFrom, s.stride, s.skipped = e.Seconds, 1, 0
	}
	if s.skipped++; s.skipped < s.stride {
		return
	}
	s.skipped = 0
	if len(s.passed) == mostPassed {
		for i := range mostPassed / 2 {
			s.passed[i] = s.passed[2*i]
		}
		s.passed, s.stride = s.passed[:mostPassed/2], 2*s.stride
	}
	s.passed, s.passedTo = append(s.passed, e.Value), e.Seconds
}

// came tells how the reading came from the rest before to a value.
func (s *stream) came(value, step float64) way {
	apart := math.Abs(value - s.value)
	n := len(s.passed)
	if n < 4 || apart < 20*step || s.gap || s.passedTo-s.passedFrom > slowest*float64(n-1) {
		return unclear
	}
	off := 0
	for _, v := range s.passed {
		if min(math.Abs(v-value), math.Abs(v-s.value)) > .05*apart {
			off++
		}
	}
	switch {
	case off == 0:
		return leapt
	case off >= 3:
		return carried
	}
	return unclear
}

// wait is how long a settled load still has to rest, s; 0 when it was taken.
func (s *stream) wait(hold float64) float64 {
	if s.taken || math.IsNaN(s.still) {
		return 0
	}
	return max(0, hold-(s.last.Seconds-s.still))
}

// trouble says what disturbs a reading so that its value may be wrong. Scatter alone makes it less sure
// and is in U.
func trouble(e settle.Event) (key, sentence string) {
	for _, t := range e.Troubles {
		if t.Key != settle.Draught {
			return t.Key, t.Sentence
		}
	}
	return "", ""
}

// drift is how fast the reading drifts where the stream says so, g/s.
func drift(e settle.Event) float64 {
	for _, t := range e.Troubles {
		if t.Key == settle.Drift && t.Unit == "/s" {
			return t.Size
		}
	}
	return 0
}
