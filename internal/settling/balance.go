// Package settling makes streams of readings with a known truth and counts how well package settle
// reads them. It shares no code and no model with settle: the response is stepped through time, and
// noise goes through it.
//
// All balances are invented.
package settling

import (
	"math"
	"math/rand/v2"
)

// Balance describes an invented balance. Weights share one unit, times are seconds.
type Balance struct {
	Interval float64
	Rate     float64 // readings a second
	Tau      float64 // time constant of the response, or of its envelope
	Damping  float64 // 0: first order; below 1: second order that swings with this damping ratio
	Filter   float64 // length of a moving average behind it, 0 for none
	Noise    float64 // standard deviation of readings at rest before rounding; it passes the response
	White    float64 // the same, of noise that does not pass it
	Hand     float64 // how long a hand takes to place a load
}

// Stream is one balance running.
type Stream struct {
	b      Balance
	rng    *rand.Rand
	fine   float64 // seconds a step
	many   int     // steps a reading
	input  float64 // standard deviation of the noise a step
	x, v   float64
	mean   []float64
	at     int
	sum    float64
	count  int
	from   float64
	load   float64
	placed float64 // when the hand began

	// Disturb adds to the load at each time, before the response; nil for none.
	Disturb func(t float64) float64
	// Scatter is the standard deviation of noise that is added to each reading, as of a draught.
	Scatter float64
	// Stuck holds the output, as of a line that repeats an old value.
	Stuck bool
	stuck float64
}

// NewStream starts a balance at rest without a load.
func NewStream(b Balance, seed uint64) *Stream {
	s := &Stream{b: b, rng: rand.New(rand.NewPCG(seed, 77))}
	s.many = 1
	for b.Tau > 0 && 1/(b.Rate*float64(s.many)) > b.Tau/12 && s.many < 400 {
		s.many++
	}
	for b.Filter > 0 && 1/(b.Rate*float64(s.many)) > b.Filter/8 && s.many < 400 {
		s.many++
	}
	s.fine = 1 / (b.Rate * float64(s.many))
	s.placed = -1e9
	s.clear()
	if b.Noise > 0 {
		// The energy of the impulse response says how much noise comes through.
		energy := 0.0
		first := s.respond(1)
		energy += first * first
		for range int(20*(b.Tau+b.Filter)/s.fine) + 10 {
			y := s.respond(0)
			energy += y * y
		}
		s.input = b.Noise / math.Sqrt(energy)
		s.clear()
		// A balance that has been on for a while has its noise in it.
		for range int(20*(b.Tau+b.Filter)/s.fine) + 10 {
			s.respond(s.input * s.rng.NormFloat64())
		}
	}
	return s
}

func (s *Stream) clear() {
	s.x, s.v, s.sum, s.at = 0, 0, 0, 0
	s.mean = make([]float64, max(1, int(math.Round(s.b.Filter/s.fine))))
}

// respond takes one fine step.
func (s *Stream) respond(u float64) float64 {
	switch {
	case s.b.Tau <= 0:
		s.x = u
	case s.b.Damping > 0:
		// The envelope of a swing falls with damping times angular frequency.
		w := 1 / (s.b.Tau * s.b.Damping)
		s.v += s.fine * (w*w*(u-s.x) - 2*s.b.Damping*w*s.v)
		s.x += s.fine * s.v
	default:
		s.x += (u - s.x) * -math.Expm1(-s.fine/s.b.Tau)
	}
	s.sum += s.x - s.mean[s.at]
	s.mean[s.at] = s.x
	s.at = (s.at + 1) % len(s.mean)
	if s.at == 0 { // sums of floats wander
		s.sum = 0
		for _, v := range s.mean {
			s.sum += v
		}
	}
	return s.sum / float64(len(s.mean))
}

// Place begins to change the load.
func (s *Stream) Place(load float64) {
	s.from = s.loadAt(s.Now())
	s.load, s.placed = load, s.Now()
}

// Now is the time of the last reading.
func (s *Stream) Now() float64 { return float64(s.count) / s.b.Rate }

func (s *Stream) loadAt(t float64) float64 {
	if s.b.Hand > 0 && t < s.placed+s.b.Hand {
		part := (t - s.placed) / s.b.Hand
		return s.from + (s.load-s.from)*part*part*(3-2*part)
	}
	return s.load
}

// Next returns the time and the value of the next reading.
func (s *Stream) Next() (t, y float64) {
	for i := range s.many {
		at := s.Now() + float64(i+1)*s.fine
		u := s.loadAt(at)
		if s.Disturb != nil {
			u += s.Disturb(at)
		}
		if s.input > 0 {
			u += s.input * s.rng.NormFloat64()
		}
		y = s.respond(u)
	}
	s.count++
	y += (s.b.White + s.Scatter) * s.rng.NormFloat64()
	if s.Stuck {
		return s.Now(), s.stuck
	}
	if d := s.b.Interval; d > 0 {
		y = d * math.Round(y/d)
	}
	s.stuck = y
	return s.Now(), y
}
