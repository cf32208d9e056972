package settle

import "math"

// window holds the sums of the readings of a plateau: enough for a fit of rest plus exponential creep,
// for a straight line, and for von Neumann's ratio. Values count from the first, times too, so that
// nothing cancels.
type window struct {
	t0, y0 float64 // the first
	tau    float64 // time constant of the creep that is fitted
	ridge  float64 // how firmly the creep is expected to be small: its inverse variance before, in units of one reading's
	n      int
	look   int // count at which the slower checks are made next

	y, yy     float64 // sums of y, y²
	e, ee, ey float64 // of the template exp(-t/tau)
	t, tt, ty float64 // of time
	dd        float64 // of squared successive differences
	lastT     float64
	lastY     float64
	low, high float64
}

// leastRidge expects the creep within seven times the scatter.
const leastRidge = 0.02

func (w *window) start(t, y, tau float64) {
	*w = window{t0: t, y0: y, tau: tau, ridge: leastRidge, look: 4}
}

func (w *window) add(seconds, value float64) {
	t, y := seconds-w.t0, value-w.y0
	f := 0.0
	if w.tau > 0 {
		if x := t / w.tau; x < 40 {
			f = math.Exp(-x)
		}
	} else if t == 0 {
		f = 1
	}
	if w.n > 0 {
		w.dd += (y - w.lastY) * (y - w.lastY)
	}
	w.n++
	w.y += y
	w.yy += y * y
	w.e += f
	w.ee += f * f
	w.ey += f * y
	w.t += t
	w.tt += t * t
	w.ty += t * y
	w.lastT, w.lastY = t, y
	w.low, w.high = min(w.low, y), max(w.high, y)
}

// twoDigits says that all readings are one number or two neighbours.
func (w *window) twoDigits(d float64) bool { return w.high-w.low < 1.5*d }

// span is the time from the first to the last reading.
func (w *window) span() float64 { return w.lastT }

// fit returns the value at rest, the creep at the beginning of the window, and the variance of the
// value in units of the variance of one reading. The creep is expected within a few digits: where the
// readings say little about it, that keeps it small.
func (w *window) fit() (value, creep, gain float64) {
	if w.n == 0 {
		return 0, 0, 1
	}
	n := float64(w.n)
	ee := 1.02*w.ee + w.ridge
	det := n*ee - w.e*w.e
	if w.n < leastCount || det <= 1e-9*n*ee {
		return w.y0 + w.y/n, 0, 1 / n
	}
	rest := (ee*w.y - w.e*w.ey) / det
	creep = (n*w.ey - w.e*w.y) / det
	return w.y0 + rest, creep, ee / det
}

// scatter returns the variance of single readings about the fit and its degrees of freedom, given how
// many readings count as one. Few independent ones show less than there is; that is put right.
func (w *window) scatter(correlated, d float64) (variance, dof float64) {
	n := float64(w.n)
	if w.n < leastCount {
		return 0, 0
	}
	value, creep, _ := w.fit()
	rest := value - w.y0
	sum := w.yy + n*rest*rest + creep*creep*w.ee - 2*rest*w.y - 2*creep*w.ey + 2*rest*creep*w.e
	if sxx := w.tt - w.t*w.t/n; w.n >= 12 && sxx > 0 {
		sxy := w.ty - w.t*w.y/n
		sum = min(sum, w.yy-w.y*w.y/n-sxy*sxy/sxx) // what drifts does not scatter
	}
	independent := n / correlated
	dof = max(independent-2, 0.2)
	variance = max(sum, 0) / n * min(independent/max(independent-2, 0.5), 2)
	if w.twoDigits(d) {
		variance = min(variance, d*d/12+0.09*d*d) // more would have shown a third digit
	}
	return variance, dof
}

// trend returns how far a straight line through the readings moves over the window, and the standard
// uncertainty of that.
func (w *window) trend(correlated, sigma float64) (move, u float64) {
	n := float64(w.n)
	sxx := w.tt - w.t*w.t/n
	if w.n < leastCount || sxx <= 0 {
		return 0, 0
	}
	slope := (w.ty - w.t*w.y/n) / sxx
	return slope * w.span(), sigma * math.Sqrt(correlated/sxx) * w.span()
}

// ratio is the mean squared successive difference over the variance: near 2 for white scatter, far
// below it for a trend. z is its distance from what white scatter gives, in standard deviations
// (J. von Neumann, Annals of Mathematical Statistics 12 (1941) 367-395: mean 2n/(n-1), variance
// 4n²(n-2)/((n+1)(n-1)³) with both sums divided by n-1; near enough normal from ten readings on).
func ratio(squaredSteps, squaredDeviations float64, count int) (r, z float64) {
	n := float64(count)
	if count < 4 || squaredDeviations <= 0 {
		return 2, 0
	}
	r = squaredSteps / squaredDeviations * n / (n - 1)
	mean := 2 * n / (n - 1)
	return r, (r - mean) / math.Sqrt(4*n*n*(n-2)/((n+1)*(n-1)*(n-1)*(n-1)))
}

// rounding is the standard uncertainty that rounding to d leaves in the mean of many readings that
// scatter by sigma before they are rounded: d/√12 without scatter, next to nothing from d/2 on. It is
// the root mean square of the periodic error of the mean over all places between two digits
// (Fourier series of the rounding error: B. Widrow and I. Kollár, Quantization Noise, Cambridge 2008).
func rounding(d, sigma float64) float64 {
	if d <= 0 {
		return 0
	}
	if sigma == 0 {
		return d / math.Sqrt(12)
	}
	x := 4 * math.Pi * math.Pi * sigma * sigma / (d * d)
	if x > 40 {
		return 0
	}
	sum := 0.0
	for k := 1.0; k <= 40; k++ {
		term := math.Exp(-k*k*x) / (k * k)
		sum += term
		if term < 1e-3*sum {
			break
		}
	}
	return d / (math.Pi * math.Sqrt2) * math.Sqrt(min(sum, math.Pi*math.Pi/6))
}

// widen is the factor by which Student's t with nu degrees of freedom is wider than the normal
// distribution at 95 % (Cornish-Fisher, after Abramowitz and Stegun 26.7.5).
func widen(nu float64) float64 {
	nu = max(nu, 1)
	const x = 1.959964
	t := x + (x*x*x+x)/(4*nu) + (5*x*x*x*x*x+16*x*x*x+3*x)/(96*nu*nu) +
		(3*math.Pow(x, 7)+19*math.Pow(x, 5)+17*x*x*x-15*x)/(384*nu*nu*nu)
	return t / x
}
