package settle

import (
	"math"
	"strconv"
)

// troubleList holds the troubles that are told. The slice is made anew when they change, so events
// that went out keep theirs.
type troubleList struct {
	list []Trouble
	slow []Trouble // from the last comparison of shapes
}

const (
	// Bubbles that cling to an item in a liquid are between about these diameters, mm (common practice:
	// smaller ones are held down by nothing and dissolve, larger ones rise by themselves).
	smallBubble = 0.3
	largeBubble = 4.0

	stepMemory  = 120.0 // seconds for which a step is told
	fewestSlow  = 12    // blocks before a trend is named
	trendZ      = -4.0  // of von Neumann's ratio
	apartEnough = 9.0   // twice the log-likelihood ratio from which two shapes are told apart
)

// steps remembers the last small jumps of a plateau.
type steps struct {
	kept [4]step
	n    int
}

type step struct{ t, size, far float64 }

func (s *steps) add(t, size, far float64) {
	s.kept[s.n%len(s.kept)] = step{t, size, far}
	s.n++
}

// since returns the steps after t, oldest first, as many as are kept.
func (s *steps) since(t float64, yield func(step)) {
	for i := max(0, s.n-len(s.kept)); i < s.n; i++ {
		if k := s.kept[i%len(s.kept)]; k.t >= t {
			yield(k)
		}
	}
}

// usual is the scatter that is no trouble.
func (e *Estimator) usual() float64 {
	usual := max(e.o.Repeatability, e.o.Interval/2)
	if e.o.Repeatability == 0 {
		usual = max(usual, e.o.Interval)
	}
	return max(usual, e.learned.quietest)
}

// troubles names what the stream shows.
func (e *Estimator) troubles(out *Event) {
	var now [4]Trouble
	n := 0
	put := func(t Trouble) {
		if n < len(now) {
			now[n] = t
			n++
		}
	}
	w := &e.w
	independent := float64(w.n) / e.correlated()
	if out.Phase == Settled || out.Phase == Settling && out.Seconds > e.slowFrom {
		if own, dof := w.scatter(e.correlated(), e.o.Interval); dof >= 6 {
			sigma := math.Sqrt(own)
			sure := sigma * (1 - 1.5/math.Sqrt(2*dof)) // it may be chance that few readings scatter
			if e.usual() > 0 && sure > usualScaled*e.usual() {
				put(Trouble{Key: Draught, Size: sigma})
			}
		}
	}
	if out.Phase == Settled {
		if e.still(independent) {
			put(Trouble{Key: Frozen, Or: Touching, Size: out.Seconds - max(e.changed, w.t0), Unit: "s"})
		}
		if t, ok := e.jumped(out.Seconds); ok {
			put(t)
		}
	}
	e.crept(out)
	for _, t := range e.found.slow {
		put(t)
	}
	if e.found.same(now[:n]) {
		return
	}
	e.found.list = nil
	if n > 0 {
		e.found.list = append([]Trouble(nil), now[:n]...)
		for i := range e.found.list {
			e.found.list[i].Sentence = e.sentence(e.found.list[i])
		}
	}
}

// same says whether the troubles are those already told, with sizes within a fifth.
func (l *troubleList) same(now []Trouble) bool {
	if len(l.list) != len(now) {
		return false
	}
	for i, t := range now {
		old := l.list[i]
		if t.Key != old.Key || t.Or != old.Or || math.Abs(t.Size-old.Size) > 0.2*math.Abs(old.Size) {
			return false
		}
	}
	return true
}

// still says whether digits that ought to flicker have stopped: the scatter known from earlier loads
// would have moved the last digit many times.
func (e *Estimator) still(independent float64) bool {
	d := e.o.Interval
	if e.learned.noiseDof < 10 || min(e.learned.noise2, e.learned.quietest*e.learned.quietest) < d*d/4+d*d/12 || independent < 20 {
		return false
	}
	held := e.newest().t - max(e.changed, e.w.t0)
	return held > 30*max(e.gap, e.correlation()) && e.w.span() > 0
}

// jumped names small sudden steps of a load that stays.
func (e *Estimator) jumped(now float64) (Trouble, bool) {
	unit := max(e.o.Interval, e.noise())
	var up, down int
	var last step
	e.steps.since(now-stepMemory, func(s step) {
		if math.Abs(s.size) > e.bubble(largeBubble) || s.far > 2*math.Abs(s.size)+loadDigits*unit {
			up, down, last = 0, 0, step{} // a change of load
			return
		}
		if s.size > 0 {
			up++
		} else {
			down++
		}
		last = s
	})
	if up+down == 0 || e.o.Place == PlaceAir {
		return Trouble{}, false
	}
	t := e.jump(last.size)
	switch {
	case up > 0 && down > 0:
		t.Key, t.Or = Touching, ""
	case up+down > 2 && t.Key == BubbleRelease:
		t.Or = Touching
	}
	return t, true
}

// jump names one sudden step: a bubble can go only one way and has its size.
func (e *Estimator) jump(step float64) Trouble {
	size := math.Abs(step)
	released := step > 0
	if e.o.Place == PlaceStanding {
		released = !released
	}
	t := Trouble{Key: BubbleRelease, Size: size}
	switch {
	case e.o.Place == PlaceUnknown:
		t.Or = Touching
	case size < e.bubble(smallBubble), size > e.bubble(largeBubble), !released, e.o.Place == PlaceAir:
		t.Key = Touching
	}
	return t
}

// bubble is the weight of liquid that a bubble of so many millimetres displaces.
func (e *Estimator) bubble(mm float64) float64 { return e.o.Density * math.Pi / 6 * mm * mm * mm }

// crept compares the shapes of a slow movement whenever an eighth more of it was seen.
func (e *Estimator) crept(out *Event) {
	s := &e.slow
	if e.strays > 0 {
		e.found.slow = nil
		return
	}
	if s.n == 0 {
		e.found.slow = nil
	}
	if s.n < fewestSlow || s.n < s.next {
		return
	}
	s.next = s.n + s.n/8 + 1
	e.found.slow = e.found.slow[:0:0]
	c := s.compare(e.began, e.o.Interval)
	unit := max(1.2*e.o.Interval, 0.5*e.o.Repeatability)
	correlated := math.Sqrt(max(1, e.correlation()/s.length))
	if math.Abs(c.move) < max(unit, 5*c.u*correlated) || c.z*1 > trendZ/1 {
		return
	}
	e.found.slow = append(e.found.slow, e.name(c))
}

// name finds what a slow movement may be from its shape, its direction and the place of the load.
func (e *Estimator) name(c course) Trouble {
	apart := func(k shape) bool { return c.apart[k] >= apartEnough }
	rises := c.line > 0
	drift := Trouble{Key: Drift, Size: c.line / c.span, Unit: "/s"}
	uptake := Trouble{Key: Uptake, Size: math.Abs(c.move)}
	warm := Trouble{Key: Warm, Size: math.Abs(c.ahead)}
	with := func(t Trouble, or string) Trouble { t.Or = or; return t }
	wets := e.o.Place == PlaceHanging && rises || e.o.Place == PlaceStanding && !rises
	switch {
	case c.best == jump:
		if t := e.jump(c.move); apart(straight) && apart(root) && apart(exponential) {
			return t
		}
		return with(drift, Touching)
	case wets && c.best == root:
		if apart(straight) && apart(exponential) {
			return uptake
		}
		return with(uptake, Drift)
	case wets:
		if apart(root) {
			return drift
		}
		return with(drift, Uptake)
	case e.o.Place == PlaceHanging || e.o.Place == PlaceStanding:
		return drift
	case e.o.Place == PlaceAir && c.best == straight:
		if apart(exponential) {
			return drift
		}
		return with(drift, Warm)
	case e.o.Place == PlaceAir:
		if apart(straight) {
			return warm
		}
		return with(warm, Drift)
	case c.best == straight:
		switch {
		case !apart(exponential):
			return with(drift, Warm)
		case !apart(root):
			return with(drift, Uptake)
		}
		return drift
	case c.best == root:
		if !apart(straight) {
			return with(uptake, Drift)
		}
		return with(uptake, Warm)
	}
	if !apart(straight) {
		return with(warm, Drift)
	}
	return with(warm, Uptake)
}

// sentence says a trouble in English.
func (e *Estimator) sentence(t Trouble) string {
	size := strconv.FormatFloat(math.Abs(t.Size), 'g', 2, 64)
	if e.o.UnitName != "" && t.Unit != "s" {
		size += " " + e.o.UnitName
	}
	way := "up"
	if t.Size < 0 {
		way = "down"
	}
	switch t.Key {
	case Draught:
		return "The reading scatters by " + size + ": a draught or a vibration."
	case Drift:
		say := "The reading drifts " + way + " by " + size + " a second"
		switch t.Or {
		case Warm:
			return say + ": the balance drifts, or the item is not at the temperature of the air."
		case Uptake:
			return say + ": the balance or the liquid drifts, or liquid enters the item."
		case Touching:
			return say + ": it drifts, or the item or its hanger touches something."
		}
		return say + "."
	case Uptake:
		say := "The reading has crept by " + size
		switch t.Or {
		case Drift:
			return say + ": liquid enters the item, or the balance drifts."
		case Warm:
			return say + ": liquid enters the item, or it is not at the temperature around it."
		}
		return say + ": liquid enters the item."
	case Warm:
		say := "The reading creeps and has " + size + " to go"
		switch t.Or {
		case Drift:
			return say + ": the item is not at the temperature of the air, or the balance drifts."
		case Uptake:
			return say + ": the item is not at the temperature around it, or liquid enters it."
		}
		return say + ": the item is not at the temperature of the air."
	case BubbleRelease:
		say := "The reading jumps by " + size
		if t.Or == Touching {
			return say + ": a bubble leaves the item, or something touches it."
		}
		return say + ": a bubble leaves the item, " + e.diameter(t.Size) + " mm wide."
	case Touching:
		return "The reading sticks and jumps by " + size + ": the item or its hanger touches something."
	case Frozen:
		return "The last digit has not moved for " + strconv.FormatFloat(t.Size, 'f', 0, 64) + " s, though it used to flicker: the line repeats an old value, or something touches the item."
	}
	return ""
}

// diameter is the width in millimetres of a bubble that displaces so much liquid.
func (e *Estimator) diameter(size float64) string {
	return strconv.FormatFloat(math.Cbrt(6*math.Abs(size)/(math.Pi*e.o.Density)), 'f', 1, 64)
}
