package simulation

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// Kinds are the sorts of work that a drawn session may be.
var Kinds = []string{"hanging", "standing", "ring", "coin", "bar"}

// keyboardFaults happen when a number is written down; no stream shows them.
var keyboardFaults = []string{"swapped", "displaced", "unit", "digit"}

// LiveFaults are the keys of the faults that a stream can have.
func LiveFaults() (keys []string) {
	for _, f := range Faults {
		if !slices.Contains(keyboardFaults, f.Key) {
			keys = append(keys, f.Key)
		}
	}
	return keys
}

// SequenceOptions narrow what NewSequence draws.
type SequenceOptions struct {
	Kind   string       // one of Kinds; any unless said
	Fault  string       // key of LiveFaults, "none" for a clean session; half of all are clean unless said
	Live   *LiveOptions // the balance's answer; drawn unless given
	Habits *Habits      // drawn unless given
}

// Sequence is a whole session as a stream: an item, a station, and somebody who weighs.
type Sequence struct {
	Seed    uint64
	Kind    string
	Habits  Habits
	Session *Session // its bench, claim and truth; what is written down stays empty
	Live    *Live
	Ends    float64 // s
}

// NewSequence draws a session from a seed. The same seed and options give the same stream.
func NewSequence(seed uint64, o SequenceOptions) (*Sequence, error) {
	r := rand.New(rand.NewPCG(seed, 0x73657175))
	q := &Sequence{Seed: seed, Kind: o.Kind}
	if q.Kind == "" {
		q.Kind = Kinds[r.IntN(len(Kinds))]
	}
	if !slices.Contains(Kinds, q.Kind) {
		return nil, fmt.Errorf("no kind of session is called %q; there are %v", q.Kind, Kinds)
	}
	faults := LiveFaults()
	c := Case{Law: Law(r.IntN(2)), Standing: q.Kind == "standing"}
	drawn := ""
	if r.IntN(2) == 0 {
		drawn = faults[r.IntN(len(faults))]
	}
	switch {
	case o.Fault == "":
		c.Fault = drawn
	case slices.Contains(faults, o.Fault):
		c.Fault = o.Fault
	case o.Fault != "none":
		return nil, fmt.Errorf("no stream has a fault called %q; there are none and %v", o.Fault, faults)
	}
	claims := Claims()
	c.Claim = claims[r.IntN(len(claims))]
	switch q.Kind {
	case "ring":
		c.Mass = flat(r, 1.2, 1.8)
	case "coin":
		c.Mass = 31.1035 * flat(r, 0.999, 1.001)
	case "bar":
		c.Mass = flat(r, 11800, 12600)
	default:
		c.Mass = logFlat(r, 1.5, 1500)
	}
	s, err := Prepare(r, c)
	if err != nil {
		return nil, err
	}
	q.Session = s
	b := s.Bench
	if b.Drift == 0 {
		b.Drift = 0.3 * b.Repeatability * r.NormFloat64() / 60
	}
	if b.Standing && b.Evaporation == 0 {
		b.Evaporation = logFlat(r, 2e-7, 5e-6) // chosen here
	}
	live := DrawLiveOptions(r, b.Station)
	if o.Live != nil {
		live = *o.Live
	}
	q.Live = NewLive(b, r.Uint64(), live)
	q.Live.Check = Item{Made: "check piece", Mass: s.Check.Mass, Solid: s.Check.Volume + s.checkOff, Expansion: 48e-6}
	q.Live.VesselG = min(0.4*b.Capacity, flat(r, 150, 1200))
	q.Habits = DrawHabits(r, b.Standing, q.Kind == "bar")
	if o.Habits != nil {
		q.Habits = *o.Habits
	}
	if !q.Habits.Zeroes || r.IntN(3) == 0 {
		q.Live.off(b.Interval * math.Round(eitherSign(r, flat(r, 0, 30)))) // nobody set it to zero lately
	}
	moves, ends := Script(r, s, q.Live, q.Habits)
	q.Live.Queue(moves...)
	q.Ends = ends
	return q, nil
}

// Attend puts a session that was prepared into time, for somebody who works by hand. Its faults take
// hold as its item is weighed.
func Attend(s *Session, seed uint64, o LiveOptions) *Live {
	l := NewLive(s.Bench, seed, o)
	l.Check = Item{Made: "check piece", Mass: s.Check.Mass, Solid: s.Check.Volume + s.checkOff, Expansion: 48e-6}
	l.VesselG = 0 // it stands on the pan from the start
	l.Follow(s)
	return l
}

// DrawLiveOptions draws how the balance of a station answers.
func DrawLiveOptions(r *rand.Rand, s Station) LiveOptions {
	rates := []float64{1, 2, 5, 5, 10, 10, 10, 10, 20, 50}
	o := LiveOptions{
		RateHz: rates[r.IntN(len(rates))], TimeConstant: logFlat(r, 0.05, 0.4), Average: max(0, flat(r, -0.5, 1.5)),
		Slow: flat(r, 0, 0.6), Placing: flat(r, 0, 0.5), MarkBand: flat(r, 1, 2.5), MarkSeconds: logFlat(r, 0.3, 3),
		DraughtSeconds: logFlat(r, 0.2, 3), DryingGPerS: logFlat(r, 1e-5, 2e-4), LiquidWarms: flat(r, -1, 1) * 3e-4,
		ThermometerInterval: 0.1,
	}
	if r.IntN(2) == 0 {
		o.Damping = flat(r, 0.5, 0.9)
	}
	if r.IntN(2) == 0 {
		o.ZeroTracking = flat(r, 0.5, 3)
	}
	if r.IntN(8) == 0 {
		o.MarkSeconds = -1
	}
	if r.IntN(3) == 0 {
		o.BubbleLeaves = flat(r, 10, 60)
	}
	if r.IntN(5) == 0 {
		o.Warm, o.WarmSeconds = s.Interval*logFlat(r, 2, 100), flat(r, 20, 60)
	}
	return o
}

// Run lets the whole session pass, yields every change of the display, and returns the truth.
func (q *Sequence) Run(yield func(LiveSample)) []Stretch {
	q.Live.Run(q.Ends, yield)
	return q.Live.Stretches()
}
