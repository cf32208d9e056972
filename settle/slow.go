package settle

import "math"

const slowSize = 96

// slow keeps means over blocks of the whole time since a load came to rest, for troubles that take
// minutes. When it is full neighbours are joined, so it always holds all of that time.
type slow struct {
	block      [slowSize]point
	n          int
	length     float64 // seconds a block
	sumT, sumY float64 // of the block that is open, from its first point
	first      point
	open       int
	next       int // number of blocks at which shapes are compared next
}

func (s *slow) reset() { *s = slow{} }

func (s *slow) add(t, y, length float64) {
	if s.length < length {
		s.length = length
	}
	if s.open > 0 && t-s.first.t >= s.length*0.999 {
		s.close()
	}
	if s.open == 0 {
		s.first = point{t, y}
		s.sumT, s.sumY = 0, 0
	}
	s.open++
	s.sumT += t - s.first.t
	s.sumY += y - s.first.y
}

func (s *slow) close() {
	if s.n == slowSize {
		for i := range slowSize / 2 {
			a, b := s.block[2*i], s.block[2*i+1]
			s.block[i] = point{a.t + (b.t-a.t)/2, a.y + (b.y-a.y)/2}
		}
		s.n = slowSize / 2
		s.length *= 2
		s.next = s.n + 1
	}
	n := float64(s.open)
	s.block[s.n] = point{s.first.t + s.sumT/n, s.first.y + s.sumY/n}
	s.n++
	s.open = 0
}

// shape is a course of time that a slow trouble may follow.
type shape uint8

const (
	straight shape = iota
	root
	exponential
	jump // at one time, and rest before and after
	shapes
)

// course is what the blocks show.
type course struct {
	move float64 // over all blocks, along the best shape
	line float64 // the same along a straight line
	u    float64 // standard uncertainty of that
	z    float64 // of von Neumann's ratio: far below 0 for a trend
	best shape
	// apart[k] is how much likelier best is than shape k, as twice the logarithm of the ratio of
	// likelihoods.
	apart [shapes]float64
	ahead float64 // what an exponential still has to go, signed
	tau   float64 // its time constant
	span  float64
}

// compare fits the shapes to the blocks; began is when the load changed.
func (s *slow) compare(began float64, d float64) course {
	n := s.n
	b := s.block[:n]
	t0, y0 := b[0].t, b[0].y
	span := b[n-1].t - t0
	var out course
	out.span = span
	sum, steps := 0.0, 0.0
	for i, p := range b {
		sum += p.y - y0
		if i > 0 {
			steps += (p.y - b[i-1].y) * (p.y - b[i-1].y)
		}
	}
	mean := sum / float64(n)
	total := 0.0
	for _, p := range b {
		total += (p.y - y0 - mean) * (p.y - y0 - mean)
	}
	_, out.z = ratio(steps, total, n)

	fit := func(f func(t float64) float64) (slope, rss, sxx float64) {
		var sx, sy, xx, xy, yy float64
		for _, p := range b {
			x, y := f(p.t), p.y-y0-mean
			sx += x
			sy += y
			xx += x * x
			xy += x * y
			yy += y * y
		}
		c := float64(n)
		sxx = xx - sx*sx/c
		if sxx <= 0 {
			return 0, yy, 0
		}
		slope = (xy - sx*sy/c) / sxx
		return slope, max(yy-sy*sy/c-slope*(xy-sx*sy/c), 0), sxx
	}
	// Rounded means fit no line better than this.
	floor := float64(n) * d * d / 2000
	var rss [shapes]float64
	slope, r, sxx := fit(func(t float64) float64 { return (t - t0) / span })
	rss[straight] = r + floor
	if sxx > 0 {
		out.u = math.Sqrt((r + floor) / float64(n-2) / sxx)
	}
	out.line = slope
	moves := [shapes]float64{straight: slope}
	a := max(b[0].t-began, 0)
	rootSpan := math.Sqrt(a+span) - math.Sqrt(a)
	slope, r, _ = fit(func(t float64) float64 { return (math.Sqrt(max(t-began, 0)) - math.Sqrt(a)) / rootSpan })
	rss[root], moves[root] = r+floor, slope
	rss[exponential] = math.Inf(1)
	for _, part := range [...]float64{0.08, 0.15, 0.25, 0.4, 0.6, 0.9} {
		tau := part * span
		whole := 1 - math.Exp(-1/part)
		slope, r, _ = fit(func(t float64) float64 { return (1 - math.Exp(-(t-t0)/tau)) / whole })
		if r+floor < rss[exponential] {
			rss[exponential], moves[exponential] = r+floor, slope
			out.tau = tau
			out.ahead = slope / whole * math.Exp(-1/part)
		}
	}
	rss[jump], moves[jump] = s.split(y0 + mean)
	rss[jump] += floor
	for k := range shapes {
		if rss[k] < rss[out.best] {
			out.best = k
		}
	}
	out.move = moves[out.best]
	for k := range shapes {
		out.apart[k] = float64(n) * math.Log(rss[k]/rss[out.best])
	}
	return out
}

// split finds the time at which a jump fits best, at least two blocks from either end, and returns the
// sum of squares about the two means and the jump.
func (s *slow) split(about float64) (rss, size float64) {
	n := s.n
	total, squares := 0.0, 0.0
	for _, p := range s.block[:n] {
		y := p.y - about
		total += y
		squares += y * y
	}
	rss = math.Inf(1)
	before := 0.0
	for i, p := range s.block[:n] {
		before += p.y - about
		k := float64(i + 1)
		if i < 1 || i > n-3 {
			continue
		}
		after := total - before
		if r := squares - before*before/k - after*after/(float64(n)-k); r < rss {
			rss, size = r, after/(float64(n)-k)-before/k
		}
	}
	return max(rss, 0), size
}
