package simulation

import "math"

// filter is the slowness of a balance: a weighing cell of first or second order, and behind it a
// moving average.
type filter struct {
	first bool
	keep  float64    // first order: share that lasts to the next conversion
	m     [4]float64 // second order: what a step makes of distance and speed
	x, v  float64    // cell and its speed
	ring  []float64
	at    int
	sum   float64
	out   float64
	noise float64 // what the filter leaves of a white noise of standard deviation 1
}

func newFilter(o LiveOptions, h float64) filter {
	f := filter{first: o.Damping <= 0, keep: math.Exp(-h / o.TimeConstant)}
	if !f.first {
		// A step of h of the damped oscillator x'' = -w²x - 2zwx', in closed form.
		w, z := 1/o.TimeConstant, min(o.Damping, 0.99)
		wd := w * math.Sqrt(1-z*z)
		e, c, s := math.Exp(-z*w*h), math.Cos(wd*h), math.Sin(wd*h)
		f.m = [4]float64{e * (c + z*w/wd*s), e * s / wd, -e * w * w / wd * s, e * (c - z*w/wd*s)}
	}
	f.ring = make([]float64, max(1, int(math.Round(o.Average/h))))
	if o.Slow > 0 {
		f.noise = f.leaves()
	}
	return f
}

// leaves is the root of the sum of the squares of what one unit blow comes to.
func (f filter) leaves() float64 {
	f.ring = make([]float64, len(f.ring))
	sum, quiet := 0.0, 0
	for n := 0; quiet < len(f.ring)+8 && n < 4000; n++ {
		blow := 0.0
		if n == 0 {
			blow = 1
		}
		f.take(blow)
		sum += f.out * f.out
		if math.Abs(f.out) < 1e-6 {
			quiet++
		} else {
			quiet = 0
		}
	}
	return math.Sqrt(sum)
}

// rest brings the filter to rest at a level.
func (f *filter) rest(level float64) {
	f.x, f.v, f.out = level, 0, level
	for i := range f.ring {
		f.ring[i] = level
	}
	f.sum = level * float64(len(f.ring))
}

// take goes one conversion on with a level that held since the last.
func (f *filter) take(level float64) {
	if f.first {
		f.x = level + (f.x-level)*f.keep
	} else {
		d := f.x - level
		f.x, f.v = level+f.m[0]*d+f.m[1]*f.v, f.m[2]*d+f.m[3]*f.v
	}
	if len(f.ring) == 1 {
		f.out = f.x
		return
	}
	f.sum += f.x - f.ring[f.at]
	f.ring[f.at] = f.x
	if f.at++; f.at == len(f.ring) {
		f.at, f.sum = 0, 0
		for _, x := range f.ring {
			f.sum += x // what rounding left is forgotten
		}
	}
	f.out = f.sum / float64(len(f.ring))
}

// mark says whether a display rests: it kept within a band for a time.
type mark struct {
	band, seconds float64
	around, since float64
}

func (m *mark) take(now, shown float64) bool {
	if math.Abs(shown-m.around) > m.band*1.000001 {
		m.around, m.since = shown, now
	}
	seconds := m.seconds
	if seconds < 0 {
		seconds = 1 // it is not told, and known inside all the same
	}
	return now-m.since >= seconds-1e-9
}
