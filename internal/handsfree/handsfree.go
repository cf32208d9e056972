package handsfree

import (
	"math"
	"slices"

	"wreath/settle"
)

// Recogniser follows the balance through one determination. It is not safe for use by several
// goroutines at once.
type Recogniser struct {
	know    know
	hold    float64
	stream  stream
	begin   []story // before the first rest
	rests   []rest
	before  []story // before the last rest
	stories []story

	readings []reading
	nextNo   int
	armed    bool // a person asked to take the next rest
	again    bool // and counts it as a further weighing
	stopped  bool
	soundedF bool // that it is still
	question *Question
	phase    Phase
}

// mostRests is how many rests are remembered. Past it the likeliest story is taken as true.
const mostRests = 128

// least and most bound the numbers that are believed: no balance has finer intervals or a larger load.
const least, most = 1e-8, 1e8

// New makes a recogniser. Options that are negative or no number count as not known.
func New(o Options) *Recogniser {
	for _, x := range []*float64{&o.IntervalG, &o.RepeatabilityG, &o.RepeatabilityLiquidG, &o.CapacityG, &o.LiquidGCm3,
		&o.HangerG, &o.ItemG, &o.ItemUG, &o.DensityLow, &o.DensityHigh, &o.HoldSeconds} {
		if !(*x > 0 && *x <= most) {
			*x = 0
		}
	}
	if o.IntervalG < least {
		o.IntervalG = .001
	}
	if o.LiquidGCm3 == 0 {
		o.LiquidGCm3 = 1
	}
	if o.HoldSeconds == 0 {
		o.HoldSeconds = 2
	}
	if o.Check != nil {
		c := *o.Check
		o.Check = &c
	}
	o.Held, o.Wanted = slices.Clone(o.Held), slices.Clone(o.Wanted)
	r := &Recogniser{hold: o.HoldSeconds, nextNo: 1, phase: Phase{Key: PhaseSilent, Words: "no reading yet", Wait: -1}}
	r.know = know{o: o, solid: solid{o.LiquidGCm3, o.DensityLow, o.DensityHigh}, capac: o.CapacityG}
	if r.know.capac == 0 {
		r.know.capac = 2e6 * o.IntervalG
	}
	r.know.capac = max(r.know.capac, 1000*o.IntervalG)
	r.SetWanted(o.Wanted)
	r.begin = []story{r.first()}
	r.stories = r.begin
	return r
}

// first is the story before anything was seen, with what the sheet holds.
func (r *Recogniser) first() story {
	o := r.know.o
	s := story{other: math.NaN()}
	if o.ItemG > 0 {
		u := o.ItemUG
		if u == 0 {
			u = max(1e-4*o.ItemG, 3*o.IntervalG)
		}
		s.item[inAir] = level{v: o.ItemG, u: u, own: u, known: true, intake: o.ItemG, intakeU: u}
	}
	if c := o.Check; c != nil && c.AirG > 0 && c.AirG <= most && c.AirUG <= most && c.VolumeCm3 <= most {
		u := max(c.AirUG, 1e-5*c.AirG, o.IntervalG)
		s.check[inAir] = level{v: c.AirG, u: u, own: u, known: true}
		if c.VolumeCm3 > 0 {
			lost := c.VolumeCm3 * (o.LiquidGCm3 - .0012)
			// The liquid may be warmer or dirtier than said: a per cent of it.
			u = math.Hypot(u, .01*lost)
			if o.Standing {
				s.check[inLiquid] = level{v: lost, u: u, own: u, known: true}
			} else {
				s.check[inLiquid] = level{v: c.AirG - lost, u: u, own: u, known: true}
			}
		}
	}
	for _, h := range o.Held {
		if !finite(h.Value) || math.Abs(h.Value) > most {
			continue
		}
		known := level{v: h.Value, u: 2 * o.IntervalG, own: 2 * o.IntervalG, known: true}
		switch h.Slot {
		case Air:
			s.item[inAir], s.had = known, true
		case ClosingAir:
			s.closes, s.had = true, true
		case Liquid, Gain, OtherLiquid, OtherGain:
			if (h.Slot == OtherLiquid || h.Slot == OtherGain) == o.SecondLiquid {
				s.item[inLiquid] = known
				s.immersed++
			}
			s.closes = true // held readings stand in no order: the next in air closes if there is one
		case CheckAir:
			s.check[inAir] = known
		case CheckLiquid, CheckGain:
			s.check[inLiquid] = known
		}
	}
	return s
}

// Add takes the next event of the balance's stream. Events that were refused, or hold no finite
// number, change nothing.
func (r *Recogniser) Add(e settle.Event) Outcome {
	if e.Refused != "" || !finite(e.Value, e.U, e.Seconds, e.From, e.Began, e.Took) || e.U < 0 || e.U > most || math.Abs(e.Value) > most || math.Abs(e.Seconds) > most {
		return r.outcome(nil, nil)
	}
	r.stopped = false
	hold := r.hold
	if r.armed {
		hold = 0
	}
	seen, cut := r.stream.follow(e, r.know.o.IntervalG, r.step(), r.rough(&rest{interval: r.know.o.IntervalG}), hold, r.armed, r.again)
	var sounds []Sound
	switch cut {
	case becomes:
		captures := r.becomes(seen)
		r.describe()
		return r.outcome(captures, r.sounds(captures))
	case nothing:
		if e.Phase == settle.Settled && !r.stream.taken && !r.soundedF {
			r.soundedF = true
			sounds = append(sounds, SoundStill)
		}
		if e.Phase != settle.Settled {
			r.soundedF = false
		}
		r.describe()
		return r.outcome(nil, sounds)
	}
	r.soundedF = false
	seen.again = r.again
	r.armed, r.again = false, false
	captures := r.take(seen)
	r.describe()
	return r.outcome(captures, r.sounds(captures))
}

// step is what a rest may creep and be the same still, g.
func (r *Recogniser) step() float64 {
	return max(2.5*r.know.o.IntervalG, 3*r.know.o.RepeatabilityG)
}

func finite(xs ...float64) bool {
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

// take lets all stories go on with a rest and decides anew.
func (r *Recogniser) take(seen rest) []Capture {
	if len(r.rests) >= mostRests {
		r.forget()
	}
	seen.wanted = r.know.wanted // never changed in place
	r.rests = append(r.rests, seen)
	r.before = r.stories
	r.stories = r.extend(r.before, len(r.rests)-1)
	return r.decide()
}

// becomes takes the last rest anew: it has crept on.
func (r *Recogniser) becomes(seen rest) []Capture {
	if len(r.rests) == 0 {
		return nil
	}
	last := &r.rests[len(r.rests)-1]
	last.value, last.u, last.seconds, last.trouble, last.drift = seen.value, seen.u, seen.seconds, seen.trouble, seen.drift
	r.stories = r.extend(r.before, len(r.rests)-1)
	return r.decide()
}

func (r *Recogniser) extend(stories []story, n int) []story {
	var out []story
	for i := range stories {
		out = r.know.extend(&stories[i], n, &r.rests[n], out)
	}
	if len(out) == 0 {
		// No story can go on: a person said what no story allows. Begin anew from what was said.
		for i := range stories {
			out = append(out, stories[i])
			out[i].tail = &step{before: stories[i].tail, rest: n, load: Other, net: r.rests[n].value}
		}
	}
	return prune(out, r.know.o.IntervalG)
}

// replay tells all stories again, after a person said something about an earlier rest.
func (r *Recogniser) replay() {
	r.stories = r.begin
	for n := range r.rests {
		r.before = r.stories
		r.stories = r.extend(r.before, n)
	}
}

// forget takes the likeliest story as true and begins anew from where it stands.
func (r *Recogniser) forget() {
	s := r.stories[0]
	s.weight, s.tail, s.pending = 0, nil, nil
	r.begin, r.stories, r.rests = []story{s}, []story{s}, nil
	for i := range r.readings {
		r.readings[i].rest = -1
	}
}

// SetInterval tells that the display now counts in another interval, g: another unit or range.
func (r *Recogniser) SetInterval(g float64) {
	if g >= least && g <= most {
		r.know.o.IntervalG = g
	}
}

// SetWanted tells which slots the sheet wants now, as Options.Wanted. What was captured and not set
// aside is not to be in it any more.
func (r *Recogniser) SetWanted(slots []string) {
	r.know.wanted = slices.Clone(slots)
	immersions := 0
	for _, s := range slots {
		if s == Liquid || s == Gain || s == OtherLiquid || s == OtherGain {
			immersions++
		}
	}
	for _, h := range r.know.o.Held {
		if h.Slot == r.know.slot(ItemLiquid, false) {
			immersions++
		}
	}
	for i := range r.readings {
		if !r.readings[i].gone && r.readings[i].load == ItemLiquid {
			immersions++
		}
	}
	if len(slots) == 0 && immersions == 0 {
		immersions = 2
		r.know.wanted = []string{Air, r.know.slot(ItemLiquid, false), r.know.slot(ItemLiquid, false), ClosingAir}
	}
	r.know.immersions = immersions
}

// Phase is the state now.
func (r *Recogniser) Phase() Phase { return r.phase }
