// Package trial lets simulated people weigh in front of the recogniser and counts what it makes of it.
package trial

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"wreath/fluid"
	"wreath/internal/handsfree"
	"wreath/internal/simulation"
	"wreath/quantity"
	"wreath/settle"
)

// Result is what one session came to.
type Result struct {
	Kind, Fault string
	FalseMoves  []string

	Readings int // that a careful person takes
	Right    int // of them, captured: in the right slot, with the right value
	Open     int // of those not captured, ones at which the recogniser asked what it was
	Missed   []string

	Wrong  int // captures that stand at the end and are no reading of their slot, or have another value
	Silent int // of them, without a doubt
	Told   []string

	SilentThen int // captures that were wrong when they were given, without a doubt then
	Doubted    int // right readings that end with a doubt
	DoubtThen  int // right readings that had a doubt when they were given
	Why        []string
	Asked      int // questions
	Ends       float64
}

// Options are how a trial differs from the usual.
type Options struct {
	Sequence simulation.SequenceOptions
	Known    bool // the recogniser is told mass, claim and hanger
	Plain    bool // the plainest rule decides when it rests, not package settle
	Trace    func(string)
}

// Run weighs one session.
func Run(seed uint64, o Options) (Result, error) {
	q, err := simulation.NewSequence(seed, o.Sequence)
	if err != nil {
		return Result{}, err
	}
	b := q.Session.Bench
	res := Result{Kind: q.Kind, Fault: q.Session.Truth.Fault, FalseMoves: q.Habits.FalseMoves, Ends: q.Ends}
	if q.Habits.LiquidFirst {
		res.Kind += ", liquid first"
	}
	hands := handsfree.New(told(q, o.Known, rand.New(rand.NewPCG(seed, 7))))
	var still estimator = settle.New(settle.Options{Interval: b.Interval, Repeatability: max(b.Repeatability, b.RepeatabilityLiquid)})
	if o.Plain {
		still = &plain{span: 6*math.Hypot(max(b.Repeatability, b.RepeatabilityLiquid), b.Draught) + 1.5*b.Interval}
	}
	type given struct {
		handsfree.Capture
		at   float64
		calm bool // given without a doubt
	}
	var all []given
	standing := map[int]handsfree.Capture{}
	question := ""
	var asked []float64
	since, stills := 0.0, [][2]float64(nil)
	gap, before := 0.0, 0.0 // s, between two lines
	stretches := q.Run(func(s simulation.LiveSample) {
		if s.Overload || s.Underload {
			hands.NoNumber(s.Seconds, s.Overload)
			return
		}
		gap, before = s.Seconds-before, s.Seconds
		mark := settle.MarkMoving
		if s.Settled {
			mark = settle.MarkSettled
		}
		e := still.Add(settle.Sample{Seconds: s.Seconds, Value: s.Grams, Mark: mark})
		if e.Phase != settle.Settled {
			since = s.Seconds
		}
		stills = append(stills, [2]float64{s.Seconds, s.Seconds - since})
		out := hands.Add(e)
		for _, c := range out.Captures {
			if o.Trace != nil {
				o.Trace(fmt.Sprintf("%7.1f no %d %-9s %-22s (was %s) value %.5f shown %.5f zero %.5f sure %.3f doubt %q: %s", s.Seconds, c.No, c.Change, c.Slot, c.Was, c.Value, c.Shown, c.Zero, c.Sure, c.Doubt, c.Why))
			}
			all = append(all, given{c, s.Seconds, !c.Doubtful()})
			standing[c.No] = c
			if c.Change == handsfree.Aside {
				delete(standing, c.No)
			}
		}
		if t := out.Question; t != nil && t.Text != question {
			question = t.Text
			res.Asked++
			asked = append(asked, s.Seconds)
			if o.Trace != nil {
				o.Trace(fmt.Sprintf("%7.1f asks %s %v", s.Seconds, t.Text, t.Choices))
			}
		} else if t == nil {
			question = ""
		}
	})
	truth(stretches, b.Standing)
	right := func(c handsfree.Capture) (slot string, n int, ok bool) {
		s, found := at(stretches, c.Seconds, gap)
		if c.Slot == handsfree.ClosingZero && s.Slot == simulation.SlotZeroLiquid && s.After == simulation.ActLift {
			// Not the last in truth, but the one after the last immersion that was captured.
			for _, before := range stretches {
				if before.To < s.From && (before.Slot == simulation.SlotLiquid || before.Slot == simulation.SlotGain) {
					s.Slot, s.N, s.Zero = c.Slot, -1, before.Zero
				}
			}
		}
		return s.Slot, s.N, found && s.Slot == c.Slot && near(b.Station, s, c)
	}
	got := map[string]bool{}
	for no := range len(standing) + len(all) + 1 {
		c, ok := standing[no]
		if !ok || !c.IsReading() {
			continue
		}
		slot, n, fine := right(c)
		if fine {
			key := fmt.Sprintf("%s %d", slot, n)
			if !got[key] {
				got[key] = true
				if c.Doubtful() {
					res.Doubted++
					res.Why = append(res.Why, fmt.Sprintf("%s %.2f %s", c.Slot, c.Sure, c.Doubt))
				}
			}
			continue
		}
		res.Wrong++
		s, _ := at(stretches, c.Seconds, gap)
		what := fmt.Sprintf("%s %.5f at %.1f, was %s %.5f after %s", c.Slot, c.Value, c.Seconds, s.Slot, s.Net(), s.After)
		if !c.Doubtful() {
			res.Silent++
			what = "silent: " + what
		}
		res.Told = append(res.Told, what)
	}
	first := map[int]bool{}
	for _, c := range all {
		if !c.IsReading() {
			continue
		}
		_, _, fine := right(c.Capture)
		if !fine && c.calm && c.Change != handsfree.Aside {
			res.SilentThen++
		}
		if fine && !first[c.No] && !c.calm {
			res.DoubtThen++
		}
		first[c.No] = true
	}
	wanted := map[string]bool{}
	for _, s := range stretches {
		if s.Slot == "" || s.Slot == simulation.SlotZeroAir || s.Slot == simulation.SlotZeroLiquid || s.Over || s.N < 0 {
			continue
		}
		key := fmt.Sprintf("%s %d", s.Slot, s.N)
		if wanted[key] {
			continue
		}
		wanted[key] = true
		res.Readings++
		if got[key] {
			res.Right++
		} else {
			if slices.ContainsFunc(asked, func(t float64) bool { return t > s.From && t < s.To+1 }) {
				res.Open++
			}
			longest := 0.0
			for _, x := range stills {
				if x[0] > s.From && x[0] < s.To {
					longest = max(longest, x[1])
				}
			}
			res.Missed = append(res.Missed, fmt.Sprintf("%s from %.1f to %.1f, %.5f, still for %.1f s", key, s.From, s.To, s.Net(), longest))
		}
	}
	if o.Trace != nil {
		for _, s := range stretches {
			o.Trace(fmt.Sprintf("truth %7.1f to %7.1f after %-10s %-16s %d again %v true %.5f zero %.5f net %.5f", s.From, s.To, s.After, s.Slot, s.N, s.Again, s.True, s.Zero, s.Net()))
		}
	}
	return res, nil
}

// told is what the sheet tells the recogniser.
func told(q *simulation.Sequence, known bool, r *rand.Rand) handsfree.Options {
	s, b, h := q.Session, q.Session.Bench, q.Habits
	const lift = 1 - 1.2/8000
	o := handsfree.Options{Standing: b.Standing, ZeroRead: !h.Tared, UnderFloor: h.UnderHook,
		IntervalG: b.Interval, RepeatabilityG: b.Repeatability, RepeatabilityLiquidG: b.RepeatabilityLiquid, CapacityG: b.Capacity,
		LiquidGCm3: .998}
	if b.Ethanol > 0 {
		if rho, err := fluid.EthanolWater(b.Ethanol, quantity.Temperature(b.TemperatureC)); err == nil {
			o.LiquidGCm3 = rho.GramPerCm3()
		}
	}
	shows := func(mass, volume float64) float64 { return (mass - b.AirKgM3/1000*volume) / lift }
	if known {
		o.ItemG = shows(b.Item.Mass, b.Item.Mass/12) * (1 + 2e-5*r.NormFloat64())
		o.HangerG = b.HangerMass
		if low, high, ok := s.Claim.Family.Band(s.Claim.Fineness, false); ok {
			o.DensityLow, o.DensityHigh = 1/high, 1/low
		}
	}
	if h.CheckPiece && !h.LiquidFirst {
		o.Check = &handsfree.Check{AirG: shows(s.Check.Mass, s.Check.Volume), VolumeCm3: s.Check.Volume}
	}
	immersed, check := handsfree.Liquid, handsfree.CheckLiquid
	if b.Standing {
		immersed, check = handsfree.Gain, handsfree.CheckGain
	}
	if o.Check != nil {
		o.Wanted = append(o.Wanted, handsfree.CheckAir, check)
	}
	for range h.AirWeighs {
		o.Wanted = append(o.Wanted, handsfree.Air)
	}
	for range h.Immersions {
		o.Wanted = append(o.Wanted, immersed)
	}
	if h.ClosingZero {
		o.Wanted = append(o.Wanted, handsfree.ClosingZero)
	}
	if h.Closing {
		o.Wanted = append(o.Wanted, handsfree.ClosingAir)
	}
	return o
}

// at is the stretch that a time lies in. The stream is behind the hands by the filter and by the time
// between two lines; a load that is only touched is there still while the hand comes.
func at(stretches []simulation.Stretch, t, gap float64) (simulation.Stretch, bool) {
	for i := len(stretches) - 1; i >= 0; i-- {
		if s := stretches[i]; t >= s.From {
			stays := i+1 < len(stretches) && stretches[i+1].Again
			return s, stays || t <= s.To+2+gap
		}
	}
	return simulation.Stretch{}, false
}

// near tells whether a value is the reading of a stretch: between what it was at first and at last, by
// six standard deviations, what may be left on a zero that counts as set, and the uncertainty that the
// capture states itself.
func near(b simulation.Station, s simulation.Stretch, c handsfree.Capture) bool {
	sd := math.Sqrt(b.Repeatability*b.Repeatability + b.RepeatabilityLiquid*b.RepeatabilityLiquid + b.Interval*b.Interval/6)
	slack := 6*sd + 3*b.Interval + b.Linearity + 3*c.U
	low, high := min(s.First, s.True)-s.Zero, max(s.First, s.True)-s.Zero
	if c.Zero == 0 && s.Slot != simulation.SlotClosingZero && c.Value >= low+s.Zero-slack && c.Value <= high+s.Zero+slack && math.Abs(s.Zero) < 60*sd {
		return true // as the display shows it, which counts from the zero that was set
	}
	return c.Value >= low-slack && c.Value <= high+slack
}

// truth completes what the stretches say. The empty hanger after the last immersion is a closing zero
// whether or not this person would have read it, counted from the zero that the immersion had. What
// lay there by a false move was weighed all the same; nobody needs it (N is -1).
func truth(stretches []simulation.Stretch, standing bool) {
	last, hung := -1, math.NaN()
	wet, had := false, false
	for i := range stretches {
		s := &stretches[i]
		switch {
		case s.Slot == simulation.SlotAir:
			had = true
		case s.Slot == simulation.SlotLiquid || s.Slot == simulation.SlotGain:
			last, wet = i, wet || had
		case s.Slot != "":
		case s.After == simulation.ActHang || s.After == simulation.ActHangDry:
			hung = s.True
		case s.After == simulation.ActPanOn || s.After == simulation.ActSling || s.After == simulation.ActCheckOn:
			s.Slot, s.N = simulation.SlotAir, -1
			switch {
			case s.After == simulation.ActCheckOn:
				s.Slot = simulation.SlotProofAir
			case wet:
				s.Slot = simulation.SlotClosingAir
			}
			for j := range i {
				if stretches[j].Slot == simulation.SlotZeroAir {
					s.Zero = stretches[j].True
				}
			}
		case s.After == simulation.ActImmerse && !math.IsNaN(hung):
			s.Slot, s.N, s.Zero = simulation.SlotLiquid, -1, hung
			if standing {
				s.Slot = simulation.SlotGain
			}
		}
	}
	for i := last + 1; last >= 0 && i < len(stretches); i++ {
		s := &stretches[i]
		if s.Slot == simulation.SlotClosingZero || s.Slot == simulation.SlotZeroLiquid && s.After != simulation.ActZero {
			s.Slot, s.N, s.Zero = simulation.SlotClosingZero, 0, stretches[last].Zero
		}
	}
}
