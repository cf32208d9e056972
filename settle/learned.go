package settle

import "math"

// learned is what the stream has taught of the instrument and outlives a load.
type learned struct {
	noise2   float64 // variance of single readings at rest
	noiseDof float64
	quietest float64 // standard deviation of the quietest plateau that said enough, 0 before one has

	tau float64 // seconds

	response float64 // seconds over which the balance's filter averages, from the fastest change seen
	seen     float64 // the same from the scatter itself
	seenSpan float64 // over how many seconds that was
	// seenWhite says that neighbours have nothing in common though the scatter is far above rounding,
	// which might break up what they have.
	seenWhite bool
}

// correlation is the time over which readings are alike, seconds. What the scatter shows over many
// such times is believed; before that the length of the response stands in, because the balance's
// filter treats a load and the noise that comes with it alike.
func (l *learned) correlation() float64 {
	switch {
	case l.seen == 0:
		return l.response
	case l.seenWhite:
		return l.seen
	}
	weight := l.seenSpan / (l.seenSpan + 15*max(l.seen, l.response))
	return l.seen*weight + l.response*(1-weight)
}

// take learns the scatter of a plateau that has ended.
func (l *learned) take(w *window, correlated, d float64) {
	variance, dof := w.scatter(correlated, d)
	if dof >= 8 && (l.quietest == 0 || math.Sqrt(variance) < l.quietest) {
		l.quietest = math.Sqrt(variance)
	}
	l.noise2, l.noiseDof = pool(l.noise2, min(l.noiseDof, 60), variance, dof)
}

// pool joins two variances by their degrees of freedom.
func pool(v1, f1, v2, f2 float64) (variance, dof float64) {
	if f1+f2 <= 0 {
		return 0, 0
	}
	return (v1*f1 + v2*f2) / (f1 + f2), f1 + f2
}

// hear measures how far scatter reaches from one reading to the next: the sum of the autocorrelation
// up to its first zero (the usual initial positive sequence; it is cut at a quarter of the readings). The
// newest readings, as many as skip, are not of the plateau.
func (l *learned) hear(e *Estimator, skip int) {
	n := min(e.w.n, e.kept()-skip)
	if n < 24 || e.gap <= 0 {
		return
	}
	mean := 0.0
	at := func(i int) float64 { return e.back(i+skip).y - e.w.y0 } // so that nothing cancels
	for i := range n {
		mean += at(i)
	}
	mean /= float64(n)
	zero := 0.0
	for i := range n {
		zero += (at(i) - mean) * (at(i) - mean)
	}
	if zero <= 0 {
		return
	}
	sum := 1.0
	for lag := 1; lag < n/4; lag++ {
		c := 0.0
		for i := range n - lag {
			c += (at(i) - mean) * (at(i+lag) - mean)
		}
		if c <= 0 {
			break
		}
		sum += 2 * c / zero * float64(n) / float64(n-lag)
	}
	span := float64(n) * e.gap
	old := min(l.seenSpan, 60*max(l.seen, l.response, e.gap))
	l.seen = (l.seen*old + sum*e.gap*span) / (old + span)
	l.seenSpan = old + span
	l.seenWhite = zero/float64(n) > 0.4*e.o.Interval*e.o.Interval && l.seen < 2.5*e.gap
}

// respond learns from a change of load that has come to rest. The time constant follows slowly; of the
// lengths of the response the shortest is the balance's own, a longer one is the hand's.
func (l *learned) respond(e *Estimator, value float64) {
	unit := max(e.o.Interval, e.noise())
	step := math.Abs(value - e.start)
	if step < loadDigits*unit || e.speed <= 0 {
		return
	}
	length := step * step / e.speed
	if l.response == 0 || length < l.response {
		l.response = length
	}
	if tau := e.w.tau; tau > 0 {
		switch {
		case l.tau == 0 || tau < l.tau/3:
			l.tau = tau
		case tau < 3*l.tau: // a longer one is the item's, not the balance's
			l.tau += 0.3 * (tau - l.tau)
		}
	}
}
