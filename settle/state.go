package settle

import "math"

// state works out what the plateau says after a sample.
func (e *Estimator) state(s Sample) Event {
	w := &e.w
	sigma := e.noise()
	out := Event{
		Seconds: s.Seconds, Began: e.began, From: w.t0, N: w.n, Wait: -1, Noise: sigma,
		Same: s.Seconds - e.changed, Marked: s.Mark == MarkSettled, Took: e.last.Took,
	}
	if e.restless || e.learned.tau > 0 {
		out.TimeConstant = w.tau
	}
	if e.strays > 0 {
		out.Phase, out.Value, out.U, out.N = Moving, s.Value, math.Abs(s.Value-e.value), 1
		out.Load, out.Troubles = e.loads, e.found.list
		return out
	}
	value, u, residue := e.estimate(sigma)
	out.Value, out.U = value, u
	was := e.settled
	e.value = value
	e.settled = e.atRest(u, residue, sigma, s.Mark)
	switch {
	case e.settled:
		out.Phase, out.Wait = Settled, 0
		e.calmed, e.calm = true, value
		if !was {
			e.arrive(value, sigma)
		}
		if e.took == 0 {
			e.took = s.Seconds - e.began
		}
	case w.n < leastCount:
		out.Phase, out.Value = Moving, s.Value
		if e.count > 1 {
			step := math.Abs(s.Value - e.back(1).y)
			out.U = max(u, step)
			// A creep of time constant tau that goes a step a sample has so much to go.
			out.Wait = e.wait(step*max(1, w.tau/max(e.gap, 1e-9)), sigma)
		}
	default:
		out.Phase, out.Wait = Settling, e.wait(residue, sigma)
		if e.swings {
			// No exponential foretells a swing; the last reading is as good as any.
			out.Value, out.U = s.Value, math.Hypot(u, s.Value-value)
		}
	}
	out.Took, out.Load = e.took, e.loads
	e.troubles(&out)
	out.Troubles = e.found.list
	return out
}

// estimate returns the value at rest, its standard uncertainty, and how much creep may be left.
func (e *Estimator) estimate(sigma float64) (value, u, residue float64) {
	w, d := &e.w, e.o.Interval
	correlated := e.correlated()
	value, creep, gain := w.fit()
	_, dof := w.scatter(correlated, d)
	_, priorDof := e.prior()

	// Rounding scatters too, but it is not carried from one reading to the next by the balance's filter.
	below := max(0, sigma*sigma-d*d/12)
	t := widen(max(dof+priorDof, 2.5))
	// Scatter that is carried along can't lift one end of the window and lower the other as much as
	// scatter that is not, so it disturbs the creep's share of the fit less.
	mean := 1 / float64(max(w.n, 1))
	carried := min(mean*correlated, 1) + 0.4*(gain-mean)*correlated
	white := t * t * (below*carried + (sigma*sigma-below)*gain)
	round := rounding(d, math.Sqrt(below))
	if w.twoDigits(d) && sigma < d/2 {
		white = min(white, d*d/9) // between two digits nothing is further off
	}

	// A creep below a digit does not show. It was at most a digit when the value last changed.
	left := math.Exp(-w.span() / max(w.tau, 1e-9))
	still := math.Exp(-(e.newest().t - max(e.changed, w.t0)) / max(w.tau, 1e-9))
	hidden := math.Sqrt(12) * 0.3 * round * still
	switch {
	case e.swings:
		hidden *= 3 // at the end of a swing readings are equal far from rest
	case e.restless && w.high == w.low:
		// Half a digit of it, on average, was left at that time.
		value += math.Copysign(0.5*d*still, value-e.start)
	}
	// The shape of the creep is not quite an exponential: a third of what the fit takes off, less where
	// scatter is counted that is most of it.
	part := 0.3
	switch {
	case e.swings:
		part = 0.4
	case sigma > d/2:
		part = 0.15
	}
	shape := part * creep * w.e / float64(max(w.n, 1))
	if e.swings {
		// The fit sees of a swing what is like a creep. What stands out of the scatter is the rest of it.
		far := max(w.high+w.y0-value, value-w.low-w.y0) - 2.5*sigma
		shape = max(math.Abs(shape), part*far*w.e/float64(max(w.n, 1)))
	}
	if !e.restless {
		hidden = 0 // there is nothing to creep from
	}
	residue = math.Abs(creep)*left + hidden

	drift := 0.0
	if move, um := w.trend(correlated, sigma); math.Abs(move) > 2*um {
		drift = (move*move - 4*um*um) / 12
	}
	u = math.Sqrt(white + round*round + hidden*hidden + shape*shape + drift)
	return value, u, residue
}

// target is the standard uncertainty at which waiting ends.
func (e *Estimator) target(sigma float64) float64 {
	if e.o.Target > 0 {
		return max(e.o.Target, 1.05*rounding(e.o.Interval, math.Sqrt(max(0, sigma*sigma-e.o.Interval*e.o.Interval/12))))
	}
	return max(0.35*e.o.Interval, 0.8*sigma, 0.5*e.o.Repeatability)
}

// atRest decides whether the plateau counts as settled.
func (e *Estimator) atRest(u, residue, sigma float64, mark Mark) bool {
	w := &e.w
	if w.n < leastCount {
		return false
	}
	target := e.target(sigma)
	if e.settled {
		target *= 1.5 // so that it does not flutter
	}
	// Time must pass as well as readings: at 50 readings a second five equal ones say nothing of a
	// balance that takes seconds.
	need := 1.8 * max(w.tau, e.response()/2)
	if e.swings {
		need = max(need, min(3*e.lobe, 3*need)) // a swing rests at its end, which is no rest
	}
	switch mark {
	case MarkMoving:
		need *= 1.3 // no more: where the mark's band is narrower than the scatter it never says settled
	case MarkSettled:
		need *= 0.7
	}
	if e.newest().t-w.t0 < need && !e.settled {
		return false
	}
	return u <= target
}

// wait is the expected time until settled, from how much creep is left and how fast it goes.
func (e *Estimator) wait(residue, sigma float64) float64 {
	tau := e.w.tau
	if !e.restless || tau <= 0 {
		return -1
	}
	unit := 0.3 * max(e.o.Interval, sigma)
	if unit <= 0 {
		return -1
	}
	t := 1.8*tau - (e.newest().t - e.w.t0) // see atRest
	if residue > unit {
		t = max(t, tau*(1.8+math.Log(residue/unit)))
	}
	return max(t, e.gap)
}

// arrive is called when the plateau comes to rest.
func (e *Estimator) arrive(value, sigma float64) {
	if !e.restless {
		return
	}
	e.learned.respond(e, value)
	e.learned.take(&e.rest.w, e.correlated(), e.o.Interval)
	e.restless, e.swings = false, false
	unit := max(e.o.Interval, sigma, e.rest.noise)
	step := value - e.rest.value
	early := e.began-e.rest.began < 20*e.w.tau // it was called settled too soon
	if (math.Abs(step) <= 3*unit || early) && e.far < loadDigits*unit {
		// It came back to where it was: a disturbance, not a change of load.
		e.loads = e.rest.load
		return
	}
	e.steps.add(e.newest().t, step, e.far)
}
