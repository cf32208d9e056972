package handsfree

import (
	"fmt"
	"math"
	"slices"
)

// meaning is what a story makes of one rest.
type meaning struct {
	load      Load
	after     Load   // the load before
	slot      string // empty: nothing to take
	net, zero float64
	assumed   bool
	late      bool // its zero was seen after it only
	changed   float64
}

// likelyEnough is the certainty of an immersion below which what closes on its zero is in doubt too. Chosen
// here.
const likelyEnough = .8

// reading is what became of a rest so far.
type reading struct {
	no, rest int // rest is -1 when it is no longer remembered
	load     Load
	capture  Capture
	gone     bool // taken back
	away     bool // set aside by a person: it stays so
}

// tell writes down what a story makes of every rest.
func (k *know) tell(s *story, out []meaning) {
	clear(out)
	immersedLater := false
	resolved := map[*step]float64{}
	for t := s.tail; t != nil; t = t.before {
		m := meaning{load: t.load, after: t.of, net: t.net, zero: t.zero, assumed: t.assumed, changed: t.changed}
		if t.resolves != nil {
			resolved[t.resolves] = t.zero
		}
		if zero, ok := resolved[t]; ok {
			m.net, m.zero, m.assumed, m.late = t.shown-zero, zero, false, true
			if !k.o.ZeroRead && math.Abs(zero) <= k.setWithin(&rest{interval: k.o.IntervalG}) {
				m.net, m.zero = t.shown, 0
			}
		}
		switch t.load {
		case Same:
			if t.changed != 0 && isLoad(t.of) {
				m.load, m.slot = t.of, k.slot(t.of, t.of == ItemAir && t.closes)
			}
		case ItemAir:
			m.slot = k.slot(ItemAir, t.closes)
		case EmptyAir, EmptyLiquid:
			m.slot = k.slot(t.load, false)
			if t.closing && t.immersed >= k.immersions && !immersedLater {
				m.slot = ClosingZero
				m.net, m.zero = t.shown-t.used, t.used
			} else if t.load == EmptyLiquid || t.load == EmptyAir {
				m.net, m.zero = t.shown, 0
			}
		case Other:
		default:
			m.slot = k.slot(t.load, false)
		}
		if t.load == ItemLiquid {
			immersedLater = true
		}
		out[t.rest] = m
	}
}

// equal tells whether two meanings lead to the same reading, to within what it scatters.
func (m meaning) equal(other meaning, within float64) bool {
	if other.slot == ClosingZero && isEmpty(m.load) && m.after == ItemLiquid {
		return true // whether the zero was seen before as well
	}
	return m.slot == other.slot && (m.slot == "" || math.Abs(m.net-other.net) < within)
}

// decide compares what the stories say now with what was said before, and returns the differences.
func (r *Recogniser) decide() []Capture {
	n := len(r.rests)
	best := make([]meaning, n)
	r.know.tell(&r.stories[0], best)
	agree := make([]float64, n) // with the best story
	stays := make([]float64, n) // with what was said before
	slots := make([]float64, n) // with the best story's slot, whatever the zero
	items := make([]float64, n) // that the item rested
	said := make([]*reading, n)
	for i := range r.readings {
		if k := r.readings[i].rest; k >= 0 {
			said[k] = &r.readings[i]
		}
	}
	loads := map[Load]float64{}
	one := make([]meaning, n)
	for i := range r.stories {
		s := &r.stories[i]
		p := math.Exp(s.weight)
		r.know.tell(s, one)
		for k := range one {
			within := r.within(k)
			if one[k].equal(best[k], within) {
				agree[k] += p
			}
			if isItem(one[k].load) {
				items[k] += p
			}
			if one[k].slot == best[k].slot || one[k].equal(best[k], within) {
				slots[k] += p
			}
			if q := said[k]; q != nil && !q.gone && one[k].equal(meaning{slot: q.capture.Slot, net: q.capture.Value}, within) {
				stays[k] += p
			}
		}
		if n > 0 {
			loads[one[n-1].load] += p
		}
	}
	doubts := r.doubts(best, agree, items)

	var captures []Capture
	for k := range best {
		m, q := best[k], said[k]
		if q != nil && q.away {
			continue
		}
		switch {
		case q == nil || q.gone:
			late := k < n-1
			if m.slot == "" || slots[k] < .5 || late && slots[k] < .8 || r.hidden(m, k) {
				continue
			}
			c := r.capture(k, best, agree[k], doubts[k])
			if q == nil {
				c.No = r.nextNo
				r.nextNo++
				r.readings = append(r.readings, reading{no: c.No, rest: k})
				q = &r.readings[len(r.readings)-1]
				for i := range r.readings { // the list may have moved
					if j := r.readings[i].rest; j >= 0 {
						said[j] = &r.readings[i]
					}
				}
			} else {
				c.No = q.no
			}
			q.load, q.capture, q.gone = m.load, c, false
			captures = append(captures, c)
			r.want(c)
		case m.equal(meaning{slot: q.capture.Slot, net: q.capture.Value}, min(r.within(k), r.step())) &&
			!(q.capture.Slot == ClosingZero && immersedAfter(best, k)):
			was := q.capture.Doubtful()
			// The number stands as it was given; how sure it is may change.
			c := q.capture
			c.Was, c.Load, c.Change = "", m.load, Confirmed
			c.Sure, c.Doubt, c.Why = min(1, agree[k]), doubts[k], r.why(k, best)
			if c.Doubtful() {
				c.Change = Doubted
			}
			changed := c.IsReading() && (c.Doubtful() != was || c.Doubt != q.capture.Doubt)
			q.load, q.capture = m.load, c
			if changed {
				captures = append(captures, c)
			}
		case slots[k] >= .6:
			c := r.capture(k, best, agree[k], doubts[k])
			c.No, c.Was, c.Change = q.no, q.capture.Slot, Moved
			if m.slot == "" || r.hidden(m, k) {
				c.Change, c.Slot = Aside, ""
				q.gone = true
			}
			if c.Slot == c.Was {
				c.Why = fmt.Sprintf("Reading %d has come to %s. %s", q.no, r.grams(c.Value, r.rests[k].interval), c.Why)
			} else {
				c.Why = fmt.Sprintf("Reading %d was not %s but %s. %s", q.no, inWords(q.load, q.capture.Slot), inWords(m.load, c.Slot), c.Why)
			}
			q.load, q.capture = m.load, c
			captures = append(captures, c)
		case stays[k] < SureEnough && !q.capture.Doubtful() && q.capture.IsReading():
			q.capture.Sure, q.capture.Change = stays[k], Doubted
			q.capture.Why = "Later weighings leave open what it was."
			captures = append(captures, q.capture)
		default:
			q.capture.Sure = stays[k]
		}
	}
	r.ask(best, slots, loads)
	return captures
}

// asAtIntake tells whether the item weighs in air what it weighed at intake, which so stands for a zero
// that was not seen.
func (r *Recogniser) asAtIntake(m meaning) bool {
	return m.load == ItemAir && r.know.o.ItemG > 0 && math.Abs(m.net-r.know.o.ItemG) <= 5*r.first().item[inAir].u
}

// immersedAfter tells whether the item was in the liquid after a rest.
func immersedAfter(best []meaning, k int) bool {
	return slices.ContainsFunc(best[k+1:], func(m meaning) bool { return m.load == ItemLiquid && m.slot != "" })
}

// rough is the uncertainty beyond which a reading is not what this balance can do, g.
func (r *Recogniser) rough(seen *rest) float64 {
	return 2.5 * r.know.scatter(&rest{interval: seen.interval}, inLiquid)
}

// within is what two values of a rest may differ by and mean the same.
func (r *Recogniser) within(k int) float64 {
	return max(r.rests[k].interval/2, r.know.spread(&r.rests[k]))
}

// hidden is true of readings that wait for a person, who takes every reading.
func (r *Recogniser) hidden(m meaning, k int) bool {
	return r.know.o.OnTake && (Capture{Slot: m.slot}).IsReading() && !r.rests[k].take && !r.rests[k].again && r.rests[k].forced == Unknown
}

// doubts says for every rest why a person should look, or nothing. sure is how likely each meaning is,
// items how likely it is that the item rested there.
func (r *Recogniser) doubts(best []meaning, sure, items []float64) []string {
	out := make([]string, len(best))
	for k, m := range best {
		if m.slot == "" {
			continue
		}
		seen := r.rests[k]
		c := Capture{Slot: m.slot}
		switch {
		case !c.IsReading():
		case m.slot == ClosingZero && m.changed != 0:
			out[k] = fmt.Sprintf("The empty hanger stands %s from where it stood: the zero moved, or the hanger is not as it was.", r.grams(m.changed, seen.interval))
		case m.assumed && r.asAtIntake(m):
		case m.assumed && m.load == ItemLiquid:
			out[k] = "The balance was not seen at zero before it: read the empty hanger after it."
		case m.assumed:
			out[k] = "The balance was not seen at zero before it: read the empty balance after it."
		case k+1 < len(best) && isLoad(m.load) && isEmpty(best[k+1].load) && r.rests[k+1].way == leapt:
			out[k] = "The balance was set to zero while it rested: was it the hanger?"
		case r.zeroMoved(best, k) != 0:
			out[k] = fmt.Sprintf("The empty hanger stands %s from where it stood before it.", r.grams(r.zeroMoved(best, k), seen.interval))
		case m.late && m.zero != 0 && !r.know.o.ZeroRead:
			out[k] = fmt.Sprintf("The balance was not seen at zero before it; the %s that stood there after it is subtracted.", r.grams(m.zero, seen.interval))
			for j := range k {
				if best[j].load == m.load && best[j].slot != "" && out[j] == "" {
					out[j] = "A later weighing goes with it only by a zero that was seen after it."
				}
			}
		case m.slot == Air && r.hungSince(best, k):
			out[k] = "The hanger hung in the liquid before it: if the item was in the liquid since, this is the closing weighing."
		case m.load == CheckInAir && r.hungBefore(best, k):
			out[k] = "The hanger hung in the liquid before it: was it the item in the liquid?"
		case isItem(m.load) && r.likeCheck(best, k):
			out[k] = "The check piece reads nearly the same, and is still to be weighed: which of the two was it?"
		case m.load == ItemAir && k > 0 && k+1 < len(best) && best[k-1].load == ItemLiquid && best[k+1].load == ItemLiquid:
			out[k] = "The item was in the liquid before and after it, and nothing was taken off: did something bear it?"
		case m.load == ItemLiquid && r.likeHanger(best, k):
			out[k] = "The hanger was not seen to come, and may lift as much: was it the hanger?"
		case m.load == ItemAir && r.know.o.ItemG > 0 && !r.asAtIntake(m):
			out[k] = fmt.Sprintf("It differs by %s from the mass at intake.", r.grams(m.net-r.know.o.ItemG, seen.interval))
		case m.load == ItemLiquid && r.impossible(best, k):
			out[k] = "No solid lifts so much, or so little: something bears it, or it is another item."
		case m.changed != 0:
			out[k] = fmt.Sprintf("It differs by %s from the weighing before it.", r.grams(m.changed, seen.interval))
			for j := k - 1; j >= 0; j-- {
				if best[j].load == m.load && best[j].slot != "" {
					if out[j] == "" {
						out[j] = fmt.Sprintf("A later weighing of the same differs by %s.", r.grams(m.changed, seen.interval))
					}
					break
				}
			}
		case seen.trouble != "":
			out[k] = seen.trouble
		case seen.u > r.rough(&seen):
			out[k] = fmt.Sprintf("It scatters more than usual here: its standard uncertainty is %.2g g.", seen.u)
		}
	}
	r.doubtAll(best, items, out)
	// What closes stands on the immersions before it.
	sound, immersed, last := false, false, false
	zeroMoved := false
	for k, m := range best {
		if m.slot == ClosingZero {
			zeroMoved = m.changed != 0
		}
		switch {
		case m.slot == ClosingAir && zeroMoved && out[k] == "":
			out[k] = "The zero moved before it."
		case m.load == ItemLiquid && m.slot != "":
			sound = sound || out[k] == ""
			immersed, last = true, out[k] == "" && sure[k] >= likelyEnough
		case m.slot == ClosingZero && !last && out[k] == "":
			out[k] = "The reading in the liquid before it is in doubt."
		case (m.slot == ClosingAir || m.slot == ClosingZero) && immersed && !sound && out[k] == "":
			out[k] = "The reading in the liquid before it is in doubt."
		}
	}
	return out
}

// doubtAll doubts the weighings of the item where something about all of them is open.
func (r *Recogniser) doubtAll(best []meaning, items []float64, out []string) {
	why := ""
	if r.liftedSince(best) {
		why = "What hung there was taken away after it: was it the item in the liquid?"
	}
	if r.turned(best) {
		why = "Nothing but the two weights shows which was in the liquid: if it was the heavier one, that is another item."
	}
	for k, m := range best {
		alone := m.load == Other && (k == 0 || isEmpty(best[k-1].load) ||
			isLoad(best[k-1].load) && r.rests[k].value < r.rests[k-1].value-.6*math.Abs(best[k-1].net)) // it was taken off
		if alone && r.rests[k].forced == Unknown && r.rests[k].value > 20*r.rests[k].interval {
			why = fmt.Sprintf("What rested at %s is none of these weighings.", r.grams(r.rests[k].value, r.rests[k].interval))
		}
		if isEmpty(m.load) && items[k] > 1-SureEnough && r.rests[k].forced == Unknown && r.rests[k].value > 20*r.rests[k].interval {
			why = fmt.Sprintf("What rested at %s is taken for the hanger and may be the item.", r.grams(r.rests[k].value, r.rests[k].interval))
		}
	}
	drift := 0.0
	for _, seen := range r.rests {
		drift = max(drift, math.Abs(seen.drift))
	}
	zero := -1
	for k, m := range best {
		if isEmpty(m.load) {
			zero = k
		}
		if !isItem(m.load) || m.slot == "" || out[k] != "" || r.rests[k].forced != Unknown {
			continue
		}
		out[k] = why
		if zero >= 0 && out[k] == "" {
			if moved := drift * (r.rests[k].seconds - r.rests[zero].seconds); moved > 5*r.know.spread(&r.rests[k]) {
				out[k] = fmt.Sprintf("The balance drifts: by about %s since its zero was seen.", r.grams(moved, r.rests[k].interval))
			}
		}
	}
}

// turned is true where the item is taken for weighed in the liquid first, and nothing but that the two
// weights go together says so: one item in air and a heavier one in the liquid look the same. The mass at
// intake says so, and a hanger that was seen before.
func (r *Recogniser) turned(best []meaning) bool {
	if r.know.o.ItemG > 0 || len(r.know.o.Held) > 0 || r.know.o.Standing {
		return false
	}
	for k, m := range best {
		switch m.load {
		case ItemAir:
			return false
		case ItemLiquid:
			return slices.ContainsFunc(best[k+1:], func(m meaning) bool { return m.load == ItemAir })
		case EmptyLiquid, EmptyAir:
			if math.Abs(r.rests[k].value) > 20*r.rests[k].interval && k+1 < len(best) && isEmpty(best[k+1].load) {
				return false // the hanger came, and the balance was set to zero
			}
		}
	}
	return false
}

// liftedSince is true where the item is taken for weighed in air only and nothing else says so, but what
// the balance was set to zero with was taken off after it: the hanger, which may have hung there.
func (r *Recogniser) liftedSince(best []meaning) bool {
	weighed := false
	for k, m := range best {
		switch {
		case m.load == ItemLiquid || r.know.o.ItemG > 0 || r.know.o.Standing:
			return false
		case m.load == ItemAir:
			weighed = true
		case isEmpty(m.load) && weighed && r.rests[k].value < -20*r.rests[k].interval:
			return true
		}
	}
	return false
}

// nearest is the weighing of a load that lies nearest to a rest, before or after.
func nearest(best []meaning, k int, load Load) (float64, bool) {
	for i := 1; i < len(best); i++ {
		for _, j := range []int{k - i, k + i} {
			if j >= 0 && j < len(best) && best[j].load == load && best[j].slot != "" {
				return best[j].net, true
			}
		}
	}
	return 0, false
}

// impossible is true of an immersed reading that no solid has.
func (r *Recogniser) impossible(best []meaning, k int) bool {
	air, ok := nearest(best, k, ItemAir)
	if !ok {
		air = r.first().item[inAir].v
	}
	if air <= 0 {
		return false
	}
	lost := best[k].net
	if !r.know.o.Standing {
		lost = air - lost
	}
	slack := 3 * r.within(k)
	return lost-slack > air*r.know.solid.liquid/lightest || lost+slack < air*r.know.solid.liquid/densest
}

// zeroMoved is by how much the zero before a load differs from the one after it, where it is much, g.
func (r *Recogniser) zeroMoved(best []meaning, k int) float64 {
	if !isLoad(best[k].load) {
		return 0
	}
	before, after := -1, -1
	for j := k - 1; j >= 0 && before < 0; j-- {
		if isEmpty(best[j].load) {
			before = j
		}
	}
	for j := k + 1; j < len(best) && after < 0; j++ {
		if isEmpty(best[j].load) {
			after = j
		}
	}
	if before < 0 || after < 0 {
		return 0
	}
	// Standing, one zero serves both states, so that a hanger that came unseen shows after the immersion.
	oneZero := r.know.o.Standing && state(best[k].load) == inLiquid
	if best[before].load != best[after].load && !oneZero {
		return 0
	}
	moved := r.rests[after].value - r.rests[before].value
	if math.Abs(moved) < 10*r.know.spread(&r.rests[after]) {
		return 0
	}
	return moved
}

// hungSince tells whether the empty hanger was seen in the liquid between a weighing in air and the one
// before it.
func (r *Recogniser) hungSince(best []meaning, k int) bool {
	if r.know.o.Standing || r.know.o.UnderFloor {
		return false
	}
	hung := false
	for j := k - 1; j >= 0; j-- {
		switch best[j].load {
		case EmptyLiquid:
			hung = true
		case ItemAir:
			return hung
		case ItemLiquid:
			return false
		}
	}
	return false
}

// hungBefore tells whether what stood last before a load was the empty hanger in the liquid.
func (r *Recogniser) hungBefore(best []meaning, k int) bool {
	for j := k - 1; j >= 0 && !r.know.o.Standing; j-- {
		if isLoad(best[j].load) || isEmpty(best[j].load) {
			return best[j].load == EmptyLiquid
		}
	}
	return false
}

// likeCheck tells whether a reading of the item may be one of the check piece that the sheet waits for.
func (r *Recogniser) likeCheck(best []meaning, k int) bool {
	air, liquid := r.first().check[inAir], r.first().check[inLiquid]
	for at, load := range []Load{CheckInAir, CheckImmerse} {
		if !slices.Contains(r.know.wanted, r.know.slot(load, false)) {
			continue
		}
		expected := r.first().check[at]
		near := 5 * math.Hypot(expected.u, r.know.spread(&r.rests[k]))
		if at == inLiquid {
			lost := air.v - liquid.v
			if r.know.o.Standing {
				lost = liquid.v
			}
			near = max(near, .4*lost) // it is weighed to find out what the liquid is
		}
		if expected.known && math.Abs(best[k].net-expected.v) < near {
			return true
		}
	}
	return false
}

// likeHanger tells whether a reading of the item in the vessel on the pan may be the hanger that was hung:
// the first immersion, as large as what a hanger displaces, with one zero since the load before it.
func (r *Recogniser) likeHanger(best []meaning, k int) bool {
	h := r.know.o.HangerG
	if !r.know.o.Standing || h <= 0 || best[k].net < h/12 || best[k].net > h/2 {
		return false
	}
	zeros := 0
	for j := k - 1; j >= 0 && !isLoad(best[j].load); j-- {
		if isEmpty(best[j].load) {
			zeros++
		}
	}
	return zeros < 2 && !slices.ContainsFunc(best[:k], func(m meaning) bool { return isItem(m.load) && state(m.load) == inLiquid })
}

// want takes a captured slot off the list of what is wanted.
func (r *Recogniser) want(c Capture) {
	if i := slices.Index(r.know.wanted, c.Slot); i >= 0 {
		r.know.wanted = slices.Delete(slices.Clone(r.know.wanted), i, i+1)
	}
}

// capture writes out what a rest is in the best story.
func (r *Recogniser) capture(k int, best []meaning, sure float64, doubt string) Capture {
	m, seen := best[k], r.rests[k]
	u := seen.u
	if m.zero != 0 {
		for j := range best {
			if isEmpty(best[j].load) && r.rests[j].value == m.zero {
				u = math.Hypot(seen.u, r.rests[j].u)
			}
		}
	}
	if m.assumed && r.asAtIntake(m) {
		u = math.Hypot(u, r.first().item[inAir].u)
	}
	return Capture{Slot: m.slot, Load: m.load, Value: m.net, U: u, Shown: seen.value, Zero: m.zero,
		Seconds: seen.seconds, Took: seen.took, From: seen.from, To: seen.seconds,
		Sure: min(1, sure), Doubt: doubt, Why: r.why(k, best)}
}

// ask sets the question: about the latest capture that the stories disagree about, or about the last
// rest when it was none.
func (r *Recogniser) ask(best []meaning, slots []float64, loads map[Load]float64) {
	r.question = nil
	n := len(best)
	if n == 0 {
		return
	}
	choices := make([]Load, 0, len(loads))
	for l, p := range loads {
		if p > .01 && l != Other && l != Same {
			choices = append(choices, l)
		}
	}
	slices.SortFunc(choices, func(a, b Load) int {
		if loads[a] != loads[b] {
			if loads[a] > loads[b] {
				return -1
			}
			return 1
		}
		if a < b {
			return -1
		}
		return 1
	})
	last := r.rests[n-1]
	// A first rest far from zero may be anything that was there before.
	begins := n == 1 && math.Abs(last.value) > 100*last.interval && slots[0] < SureEnough && last.forced == Unknown
	if m := best[n-1]; m.load == Other && last.forced == Unknown || (Capture{Slot: m.slot}).IsReading() && slots[n-1] < .5 || begins && isEmpty(m.load) {
		r.question = &Question{Text: r.whatIs(last.value), Choices: r.offer(choices)}
		return
	}
	for i := len(r.readings) - 1; i >= 0; i-- {
		q := &r.readings[i]
		if q.gone || q.away || q.rest < 0 || !q.capture.IsReading() || q.capture.Sure >= SureEnough {
			continue
		}
		c := choices
		if q.rest != n-1 {
			c = nil
		}
		r.question = &Question{No: q.no, Choices: r.offer(append([]Load{q.load}, c...)),
			Text: fmt.Sprintf("Is %s %s?", r.grams(q.capture.Shown, r.rests[q.rest].interval), inWords(q.load, q.capture.Slot))}
		return
	}
}

// offer completes the choices of a question.
func (r *Recogniser) offer(first []Load) []Load {
	all := append(slices.Clone(first), ItemAir, ItemLiquid)
	if r.know.o.Check != nil {
		all = append(all, CheckInAir, CheckImmerse)
	}
	all = append(all, EmptyLiquid, EmptyAir, Other)
	var out []Load
	for _, l := range all {
		if !slices.Contains(out, l) {
			out = append(out, l)
		}
	}
	return out
}

// sounds of what was captured.
func (r *Recogniser) sounds(captures []Capture) []Sound {
	var taken, doubt bool
	for _, c := range captures {
		switch {
		case !c.IsReading() && c.Was == "":
		case c.Change == Taken && !c.Doubtful(), c.Change == Confirmed:
			taken = taken || c.Change == Taken
		default:
			doubt = true
		}
	}
	switch {
	case doubt || r.question != nil && r.question.No == 0:
		return []Sound{SoundDoubt}
	case taken:
		return []Sound{SoundTaken}
	}
	return nil
}

func (r *Recogniser) outcome(captures []Capture, sounds []Sound) Outcome {
	o := Outcome{Captures: captures, Sounds: sounds, Phase: r.phase}
	if r.question != nil {
		q := *r.question
		q.Choices = slices.Clone(q.Choices)
		o.Question = &q
	}
	return o
}
