package trial

import (
	"math"

	"wreath/settle"
)

// estimator turns samples into events.
type estimator interface {
	Add(settle.Sample) settle.Event
}

// plain is the plainest rule there is: it rests when the readings of the last seconds lie within a span
// that the balance's scatter explains, and its value is their mean. It tells how much of what goes
// wrong is the recogniser's and how much is that of the settled value.
type plain struct {
	span    float64 // g
	samples []settle.Sample
	began   float64
	load    int
	resting bool
	level   float64
}

// The rule's time and count of readings; chosen here.
const (
	plainSeconds = 2.0
	plainCount   = 4
	plainKept    = 400
)

func (p *plain) Add(s settle.Sample) settle.Event {
	p.samples = append(p.samples, s)
	if len(p.samples) > plainKept {
		p.samples = p.samples[1:]
	}
	// As far back as all readings lie within the span.
	low, high, sum, n := s.Value, s.Value, 0.0, 0
	from := s.Seconds
	squares := 0.0
	for i := len(p.samples) - 1; i >= 0; i-- {
		x := p.samples[i]
		l, h := min(low, x.Value), max(high, x.Value)
		if h-l > p.span || s.Seconds-x.Seconds > 10 {
			break
		}
		low, high, from = l, h, x.Seconds
		sum += x.Value
		squares += (x.Value - s.Value) * (x.Value - s.Value)
		n++
	}
	mean := sum / float64(n)
	e := settle.Event{Phase: settle.Moving, Seconds: s.Seconds, Value: s.Value, U: p.span, N: n, From: from, Began: p.began, Wait: -1}
	if n >= plainCount && s.Seconds-from >= plainSeconds {
		if !p.resting {
			p.resting = true
			if math.Abs(mean-p.level) > p.span {
				p.load++
			}
		}
		p.level = mean
		spread := math.Sqrt(max(0, squares/float64(n)-(mean-s.Value)*(mean-s.Value)))
		e.Phase, e.Value, e.Wait = settle.Settled, mean, 0
		e.U = math.Hypot(spread/math.Sqrt(float64(n)), p.span/60)
	} else {
		if p.resting {
			p.began = s.Seconds
		}
		p.resting = false
	}
	e.Load = p.load
	return e
}
