package alloy

import (
	"math"
	"sort"
)

// Workspace holds what Posterior computes in, so that it need not allocate. One workspace serves
// one goroutine and one result at a time.
type Workspace struct {
	posterior Posterior
	diagonal  []float64 // of the spline's equations
}

// Posterior is the distribution of the fineness of one family under flat weighting on its span,
// given a measured specific volume, over the usual recipes. It lies in the workspace that made it.
type Posterior struct {
	Family      *Family
	Observation Observation

	f     []float64 // fineness, ascending
	p     []float64 // density p(v|f) in g/cm³
	right []float64 // dp/df to the right of f[i], in cell i
	left  []float64 // dp/df to the left of f[i], in cell i-1; differs where the bounds of recipes bend
	c     []float64 // integral of p from f[0]
	bends []int     // the points where a spline ends and the next begins
}

// Posterior judges the fineness from a measured specific volume. It returns false when no
// fineness of the family's span is in reach, or the observation is not a number. A nil workspace
// allocates a new one.
func (f *Family) Posterior(o Observation, ws *Workspace) (*Posterior, bool) {
	if !o.valid() {
		return nil, false
	}
	l := newLikelihood(o, f.ModelU)
	t := f.table
	reach := math.Sqrt(l.cut2 * l.variance(l.v))
	if l.v < t.low-reach || l.v > t.high+reach {
		return nil, false
	}
	first, last, ok := l.rowsInReach(t)
	if !ok {
		return nil, false
	}
	if ws == nil {
		ws = &Workspace{}
	}
	p := &ws.posterior
	p.Family, p.Observation = f, o
	p.f, p.p, p.bends = p.f[:0], p.p[:0], p.bends[:0]
	step := l.largestStep(t, first, last)
	for i := first; ; {
		if t.bends[i] || i == first || i == last {
			p.bends = append(p.bends, len(p.f))
		}
		p.f = append(p.f, t.grid[i])
		p.p = append(p.p, l.overRow(t, i))
		if i == last {
			break
		}
		i = l.nextRow(t, i, last, step)
	}
	p.fitSlopes(ws)
	p.accumulate()
	if !(p.total() > 0) {
		return nil, false
	}
	return p, true
}

// rowsInReach returns the first and the last row that the observation reaches, and one more row
// on each side where there is one.
func (l *likelihood) rowsInReach(t *table) (first, last int, ok bool) {
	first, last = t.bands[0].overlap(l.v-l.reach, l.v+l.reach)
	if first > last {
		return 0, 0, false
	}
	end := len(t.grid) - 1
	first, last = max(first-1, 0), min(last+1, end)
	for last-first < 3 { // the spline wants a few
		first, last = max(first-1, 0), min(last+1, end)
	}
	return first, last, true
}

// beyond returns the squared distance of the observation from the band of the usual recipes of a
// row, in standard uncertainties; 0 inside.
func (l *likelihood) beyond(t *table, i int) float64 {
	low, high := t.band(i, false)
	d := max(low-l.v, l.v-high)
	if d <= 0 {
		return 0
	}
	return d * d / l.variance(l.v)
}

// largestStep returns the step of fineness that still resolves the likelihood: half a standard
// uncertainty.
func (l *likelihood) largestStep(t *table, first, last int) float64 {
	low1, high1 := t.band(first, false)
	low2, high2 := t.band(last, false)
	width := t.grid[last] - t.grid[first]
	slope := max(math.Abs(low2-low1), math.Abs(high2-high1)) / width
	s := math.Sqrt(l.variance(l.v))
	return min(s/slope/2, width/16)
}

// nextRow returns the row to evaluate after row i: one step on, farther where the density bends
// little: in the tails, and well inside a wide band.
func (l *likelihood) nextRow(t *table, i, last int, step float64) int {
	if !l.normal {
		step *= max(1, math.Sqrt(l.beyond(t, i))/4)
	} else if low, high := t.band(i, false); min(l.v-low, high-l.v) > 4*l.least || max(low-l.v, l.v-high) > 3*l.least {
		step *= 2
	}
	next := i + 1
	for next < last && !t.bends[next] && t.grid[next+1]-t.grid[i] <= step*(1+1e-9) {
		next++
	}
	return next
}

// fitSlopes sets the slopes of the cubic splines through the densities, one spline between two
// bends. At its ends the slope is that of the cubic through the four nearest points.
func (p *Posterior) fitSlopes(ws *Workspace) {
	n := len(p.f)
	p.left, p.right = resized(p.left, n), resized(p.right, n)
	ws.diagonal = resized(ws.diagonal, n)
	for k := range len(p.bends) - 1 {
		from, to := p.bends[k], p.bends[k+1]
		x, y := p.f[from:to+1], p.p[from:to+1]
		d := p.right[from : to+1]
		splineSlopes(x, y, d, ws.diagonal)
		copy(p.left[from+1:to+1], d[1:])
	}
}

// splineSlopes sets d to the slopes of the spline through (x, y).
func splineSlopes(x, y, d, diagonal []float64) {
	n := len(x)
	d[0] = endSlope(x, y, 0, 1)
	d[n-1] = endSlope(x, y, n-1, -1)

	// h1 d[i-1] + 2 (h0 + h1) d[i] + h0 d[i+1] = 3 (h1 s0 + h0 s1), h and s width and secant of
	// the cells left and right (Thomas algorithm).
	diagonal[0] = 1
	above := 0.0 // coefficient of d[i] in row i-1
	for i := 1; i < n-1; i++ {
		h0, h1 := x[i]-x[i-1], x[i+1]-x[i]
		s0, s1 := (y[i]-y[i-1])/h0, (y[i+1]-y[i])/h1
		factor := h1 / diagonal[i-1]
		diagonal[i] = 2*(h0+h1) - factor*above
		d[i] = 3*(h1*s0+h0*s1) - factor*d[i-1]
		above = h0
	}
	for i := n - 2; i > 0; i-- {
		h0 := x[i] - x[i-1]
		d[i] = (d[i] - h0*d[i+1]) / diagonal[i]
	}
}

// endSlope returns the slope at point i of the polynomial through it and up to three points on
// the side of the step (+1 or -1), by divided differences.
func endSlope(x, y []float64, i, step int) float64 {
	j := i + step
	d01 := (y[j] - y[i]) / (x[j] - x[i])
	if len(x) == 2 {
		return d01
	}
	k := j + step
	d12 := (y[k] - y[j]) / (x[k] - x[j])
	d012 := (d12 - d01) / (x[k] - x[i])
	slope := d01 + (x[i]-x[j])*d012
	if len(x) == 3 {
		return slope
	}
	m := k + step
	d23 := (y[m] - y[k]) / (x[m] - x[k])
	d123 := (d23 - d12) / (x[m] - x[j])
	d0123 := (d123 - d012) / (x[m] - x[i])
	return slope + (x[i]-x[j])*(x[i]-x[k])*d0123
}

func resized(x []float64, n int) []float64 {
	if cap(x) < n {
		return make([]float64, n, n+n/2)
	}
	return x[:n]
}

// accumulate integrates the spline cell by cell.
func (p *Posterior) accumulate() {
	p.c = resized(p.c, len(p.f))
	p.c[0] = 0
	for i := range len(p.f) - 1 {
		p.c[i+1] = p.c[i] + max(p.inCell(i, 1), 0)
	}
}

// inCell returns the integral of p from f[i] over the part t (0 to 1) of cell i.
func (p *Posterior) inCell(i int, t float64) float64 {
	h := p.f[i+1] - p.f[i]
	t2 := t * t
	t3, t4 := t2*t, t2*t2
	return h * (p.p[i]*(t-t3+t4/2) + p.p[i+1]*(t3-t4/2) +
		h*(p.right[i]*(t2/2-2*t3/3+t4/4)+p.left[i+1]*(t4/4-t3/3)))
}

// density returns p within cell i at the part t (0 to 1).
func (p *Posterior) density(i int, t float64) float64 {
	h := p.f[i+1] - p.f[i]
	t2 := t * t
	t3 := t2 * t
	return p.p[i]*(1-3*t2+2*t3) + p.p[i+1]*(3*t2-2*t3) +
		h*(p.right[i]*(t-2*t2+t3)+p.left[i+1]*(t3-t2))
}

func (p *Posterior) total() float64 { return p.c[len(p.c)-1] }

// below returns the integral of p up to a fineness.
func (p *Posterior) below(fineness float64) float64 {
	n := len(p.f)
	if !(fineness > p.f[0]) {
		return 0
	}
	if fineness >= p.f[n-1] {
		return p.c[n-1]
	}
	i := max(sort.SearchFloat64s(p.f, fineness)-1, 0)
	t := (fineness - p.f[i]) / (p.f[i+1] - p.f[i])
	return min(max(p.c[i]+p.inCell(i, t), p.c[i]), p.c[i+1])
}

// Quantile returns the fineness that is exceeded with probability 1-q, q from 0 to 1.
func (p *Posterior) Quantile(q float64) float64 {
	n := len(p.f)
	target := min(max(q, 0), 1) * p.total()
	i := min(max(sort.SearchFloat64s(p.c, target)-1, 0), n-2)
	// Newton's method within the cell, held between bounds.
	h := p.f[i+1] - p.f[i]
	low, high := 0.0, 1.0
	t := 0.5
	for range 60 {
		miss := p.c[i] + p.inCell(i, t) - target
		if miss < 0 {
			low = t
		} else {
			high = t
		}
		next := t - miss/(h*p.density(i, t))
		if !(next > low && next < high) {
			next = (low + high) / 2
		}
		if math.Abs(next-t) < 1e-7 {
			t = next
			break
		}
		t = next
	}
	return p.f[i] + t*h
}

// AtLeast returns the probability that the fineness is at least f, under flat weighting.
func (p *Posterior) AtLeast(f float64) float64 {
	return 1 - p.below(f)/p.total()
}

// Evidence returns the density of the observation per unit of ln v for this family, every
// fineness of its span being equally likely.
func (p *Posterior) Evidence() float64 {
	return p.Observation.V * p.total() / (p.Family.High - p.Family.Low)
}

// Mean returns the mean fineness under flat weighting.
func (p *Posterior) Mean() float64 {
	mean, _ := p.moments()
	return mean
}

// SD returns the standard deviation of the fineness under flat weighting.
func (p *Posterior) SD() float64 {
	_, sd := p.moments()
	return sd
}

// moments integrates with three Gauss-Legendre points per cell, exact for the spline.
func (p *Posterior) moments() (mean, sd float64) {
	var m0, m1, m2 float64
	origin := p.f[len(p.f)/2]
	for i := range len(p.f) - 1 {
		h := p.f[i+1] - p.f[i]
		for k, t := range gauss3 {
			x := p.f[i] + t*h - origin
			w := h * gauss3Weights[k] * p.density(i, t)
			m0 += w
			m1 += w * x
			m2 += w * x * x
		}
	}
	mean = m1 / m0
	return origin + mean, math.Sqrt(max(m2/m0-mean*mean, 0))
}

// Three-point Gauss-Legendre quadrature on 0 to 1 (Abramowitz and Stegun, table 25.4).
var (
	gauss3        = [3]float64{0.5 - 0.3872983346207417, 0.5, 0.5 + 0.3872983346207417}
	gauss3Weights = [3]float64{5.0 / 18, 8.0 / 18, 5.0 / 18}
)
