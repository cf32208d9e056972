package settle

import "math"

// ThermometerOptions describe a thermometer.
type ThermometerOptions struct {
	Interval float64 // one unit of the last digit, degrees Celsius
	// Steady is the rate of change, in degrees a minute, below which a temperature counts as settled.
	// 0 takes 0.1, or one interval in half a minute if that is more.
	Steady float64
	// Old is the age in seconds beyond which a reading is stale. 0 takes 60.
	Old float64
}

// Temperature is the state of a thermometer.
type Temperature struct {
	Phase   Phase
	Value   float64 // degrees Celsius: the mean of the last readings, or the last one while Moving
	U       float64 // standard uncertainty of Value as an estimate of the reading now: scatter, rounding, change
	Age     float64 // seconds since the last sample
	Rate    float64 // degrees a minute
	N       int     // readings behind Value
	Refused string
}

// Thermometer follows one thermometer. A temperature is never at rest as a load is: what counts is that
// it changes slowly, and how old the last reading is.
type Thermometer struct {
	o    ThermometerOptions
	ring [thermometerRing]point
	n    int
	open float64 // when the newest place of the ring was opened
	last Temperature
}

const (
	thermometerRing = 64
	// thermometerSpan is how far back readings count, seconds (chosen here: a probe in a stirred liquid
	// follows within about ten).
	thermometerSpan = 30.0
	// No thermometer at a bench reads beyond these, degrees Celsius.
	coldest, hottest = -273.15, 1e4
)

// NewThermometer makes one. Options that are negative or no number count as 0.
func NewThermometer(o ThermometerOptions) *Thermometer {
	for _, v := range []*float64{&o.Interval, &o.Steady, &o.Old} {
		if !(*v > 0) || math.IsInf(*v, 0) {
			*v = 0
		}
	}
	if o.Steady == 0 {
		o.Steady = max(0.1, 2*o.Interval)
	}
	if o.Old == 0 {
		o.Old = 60
	}
	return &Thermometer{o: o, last: Temperature{Phase: Moving}}
}

// Add takes the next sample and returns the state after it. A sample that is no number, beyond any
// thermometer, or older than the one before changes nothing and comes back with Refused.
func (t *Thermometer) Add(s Sample) Temperature {
	why := ""
	switch {
	case math.IsNaN(s.Value) || s.Value < coldest || s.Value > hottest:
		why = "the value is no temperature"
	case math.IsNaN(s.Seconds) || math.Abs(s.Seconds) > tooLarge:
		why = "the time is no number"
	case t.n > 0 && s.Seconds < t.at(0).t:
		why = "the time goes backwards"
	}
	if why != "" {
		out := t.last
		out.Refused = why
		return out
	}
	if t.n > 0 && s.Seconds-t.at(0).t > t.o.Old {
		t.n = 0 // what came before the gap says nothing of the rate now
	}
	if t.n == 0 || s.Seconds-t.open >= thermometerSpan/thermometerRing {
		t.n++
		t.open = s.Seconds
	} // else a fast sender: the newest stands for its neighbours
	t.ring[(t.n-1)%thermometerRing] = point{s.Seconds, s.Value}
	t.last = t.state()
	return t.last
}

// at returns the point i before the newest.
func (t *Thermometer) at(i int) point { return t.ring[(t.n-1-i)%thermometerRing] }

func (t *Thermometer) state() Temperature {
	now := t.at(0)
	var n, st, sy, tt, ty, yy float64
	for i := 0; i < min(t.n, thermometerRing); i++ {
		p := t.at(i)
		if now.t-p.t > thermometerSpan {
			break
		}
		x, y := p.t-now.t, p.y-now.y
		n++
		st += x
		sy += y
		tt += x * x
		ty += x * y
		yy += y * y
	}
	out := Temperature{Phase: Moving, Value: now.y, N: 1, U: t.o.Interval / math.Sqrt(12)}
	sxx := tt - st*st/n
	if n < leastCount || sxx <= 0 {
		return out
	}
	slope := (ty - st*sy/n) / sxx
	rest := max(yy-sy*sy/n-slope*(ty-st*sy/n), 0) / (n - 2)
	out.Rate = slope * 60
	// Half a digit of rounding at either end is no change.
	span := -t.oldest()
	blur := t.o.Interval / span * 60
	out.U = math.Sqrt(t.o.Interval*t.o.Interval/12 + rest/n + rest/sxx*(st/n)*(st/n))
	if span >= thermometerSpan/3 && math.Abs(out.Rate) <= t.o.Steady+blur {
		out.Phase = Settled
		out.N = int(n)
		out.Value = now.y + sy/n
		late := slope * st / n // how far the mean lags behind now
		out.U = math.Sqrt(t.o.Interval*t.o.Interval/12 + rest/n + late*late)
	} else if math.Abs(out.Rate) <= 20*t.o.Steady {
		out.Phase = Settling
	}
	return out
}

// oldest is the time of the oldest reading that counts, from the newest.
func (t *Thermometer) oldest() float64 {
	now := t.at(0).t
	out := 0.0
	for i := 0; i < min(t.n, thermometerRing); i++ {
		if p := t.at(i); now-p.t <= thermometerSpan {
			out = p.t - now
		}
	}
	return out
}

// At returns the state at a time at or after the last sample: Silent once the last reading is stale.
func (t *Thermometer) At(seconds float64) Temperature {
	out := t.last
	if t.n == 0 || math.IsNaN(seconds) {
		return out
	}
	out.Age = max(0, seconds-t.at(0).t)
	if out.Age > t.o.Old {
		out.Phase = Silent
	}
	return out
}
