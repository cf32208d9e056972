package handsfree

import (
	"fmt"
	"math"
	"strconv"

	"wreath/settle"
)

const settled = settle.Settled

// grams writes a mass with the digits of the display.
func (r *Recogniser) grams(x, interval float64) string {
	digits := 0
	if interval > 0 && interval < 1 {
		digits = min(9, int(math.Ceil(-math.Log10(interval)-1e-9)))
	}
	return strconv.FormatFloat(x, 'f', digits, 64) + " g"
}

// inWords names a load, in its slot.
func inWords(l Load, slot string) string {
	switch slot {
	case ClosingAir:
		return "the item in air at the end"
	case ClosingZero:
		return "the empty hanger at the end"
	}
	switch l {
	case EmptyAir:
		return "the empty balance"
	case EmptyLiquid:
		return "the empty hanger"
	case ItemAir:
		return "the item in air"
	case ItemLiquid:
		return "the item in the liquid"
	case CheckInAir:
		return "the check piece in air"
	case CheckImmerse:
		return "the check piece in the liquid"
	case Same:
		return "the same load after a touch"
	}
	return "something else"
}

// why says in a sentence why a rest was taken for what it is.
func (r *Recogniser) why(k int, best []meaning) string {
	m, d := best[k], r.rests[k].interval
	if r.rests[k].forced != Unknown {
		return "A person said so."
	}
	zero := ""
	if m.zero != 0 {
		zero = fmt.Sprintf(" The %s that stood there before is subtracted.", r.grams(m.zero, d))
	}
	near := func(load Load) (float64, bool) { return nearest(best, k, load) }
	switch m.load {
	case ItemAir:
		if before, ok := near(ItemAir); ok {
			return fmt.Sprintf("It weighs what the item weighed, to %s.", r.grams(math.Abs(m.net-before), d)) + zero
		}
		if under, ok := near(ItemLiquid); ok {
			return r.lostWords(m.net, under, d) + zero
		}
		if r.know.o.ItemG > 0 {
			return "It weighs what the item weighed at intake." + zero
		}
		return "It is the first load on an empty balance." + zero
	case ItemLiquid:
		if before, ok := near(ItemLiquid); ok {
			return fmt.Sprintf("It reads what the item read in the liquid, to %s.", r.grams(math.Abs(m.net-before), d)) + zero
		}
		if above, ok := near(ItemAir); ok {
			return r.lostWords(above, m.net, d) + zero
		}
		return "A load hangs where the hanger hung before." + zero
	case CheckInAir, CheckImmerse:
		return "It reads what the check piece reads there." + zero
	case EmptyLiquid:
		if m.slot == ClosingZero {
			return "The item was taken out, and the balance was not set to zero since." + zero
		}
		return "The load was taken off, or the balance set to zero with the hanger in the liquid."
	case EmptyAir:
		return "Nothing is on the balance."
	case Same:
		return "It was touched and nothing was taken off."
	}
	return "No weighing of the item explains it."
}

// lostWords gives the density that two readings of an item come to, roughly.
func (r *Recogniser) lostWords(air, under, d float64) string {
	lost := under
	if !r.know.o.Standing {
		lost = air - under
	}
	if lost <= 0 {
		return "It goes with the other weighings."
	}
	return fmt.Sprintf("The liquid lifts %s of %s: about %.2g g/cm³, as solids have.", r.grams(lost, d), r.grams(air, d), air*r.know.o.LiquidGCm3/lost)
}

// whatIs asks for a rest that nothing explains.
func (r *Recogniser) whatIs(v float64) string {
	d := r.know.o.IntervalG
	item := r.stories[0].item[inAir]
	if item.known && v > 0 && item.v > 0 {
		// A display that was switched shows the same load in other digits.
		for _, unit := range []struct {
			name string
			g    float64
		}{{"milligrams", .001}, {"carats", .2}, {"pennyweights", 1.55517384}, {"ounces", 28.349523125}, {"troy ounces", 31.1034768}, {"kilograms", 1000}} {
			if math.Abs(v*unit.g/item.v-1) < 2e-4 {
				return fmt.Sprintf("%s would be the item in air if the display showed %s. Look at its unit.", r.grams(v, d), unit.name)
			}
		}
		return fmt.Sprintf("What rests at %s? The item weighed %s.", r.grams(v, d), r.grams(item.v, d))
	}
	return fmt.Sprintf("What rests at %s?", r.grams(v, d))
}

// describe sets the phase.
func (r *Recogniser) describe() {
	if r.stopped {
		return
	}
	s := &r.stream
	p := Phase{Wait: -1, Next: r.next()}
	if n := len(r.rests); n > 0 && s.taken {
		p.Load = r.stories[0].tail.load
		if p.Load == Same {
			p.Load = r.stories[0].load
		}
	}
	hold := r.hold
	if r.armed {
		hold = 0
	}
	switch wait := s.wait(hold); {
	case !s.begun:
		p.Key, p.Words = PhaseSilent, "no reading yet"
	case s.last.Phase == settle.Silent:
		p.Key, p.Words = PhaseSilent, fmt.Sprintf("no signal, %.0f s", s.last.Age)
	case s.last.Phase == settle.Moving:
		p.Key, p.Words = PhaseMoving, "moving"
		if r.armed {
			p.Words = "moving, will be taken when it is still"
		}
	case s.last.Phase == settle.Settling:
		p.Key, p.Words = PhaseSettling, "coming to rest"
		if s.last.Wait > 0 {
			p.Words, p.Wait = fmt.Sprintf("coming to rest, about %.0f s", math.Ceil(s.last.Wait)), s.last.Wait+hold
		}
	case !s.taken && r.know.o.OnTake && !r.armed:
		p.Key, p.Words, p.Wait = PhaseStill, "still", wait
	case !s.taken:
		p.Key, p.Words, p.Wait = PhaseStill, fmt.Sprintf("still, will be taken in %.0f s", math.Ceil(wait)), wait
	case r.question != nil:
		p.Key, p.Words = PhaseAsk, r.question.Text
	default:
		p.Key, p.Words = PhaseWaiting, r.instruct(p.Load, p.Next)
		if q := r.readingOf(len(r.rests) - 1); q != nil && !q.gone && q.capture.IsReading() {
			p.Key, p.Words = PhaseTaken, "taken. "+p.Words
		}
	}
	r.phase = p
}

// instruct says what the hands do next.
func (r *Recogniser) instruct(now Load, next string) string {
	standing := r.know.o.Standing
	switch next {
	case "":
		return "nothing is missing"
	case Air, ClosingAir:
		if isEmpty(now) || now == Unknown {
			if next == ClosingAir {
				return "dry the item and weigh it in air"
			}
			return "put the item on"
		}
		if now == ItemLiquid {
			return "take it out and dry it"
		}
		return "take it off"
	case Liquid, Gain, OtherLiquid, OtherGain:
		switch {
		case now == ItemLiquid:
			return "take it out and hang it in again"
		case now == ItemAir && !r.know.o.UnderFloor, isCheck(now):
			return "take it off"
		case now == ItemAir:
			return "raise the vessel to it"
		case now == EmptyAir && !standing && !r.know.o.ZeroRead:
			return "hang the hanger in the liquid and set the balance to zero"
		case now == EmptyAir && !standing:
			return "hang the hanger in the liquid"
		}
		return "hang the item in the liquid"
	case ClosingZero:
		return "take the item out and leave the hanger"
	case CheckAir:
		if isEmpty(now) {
			return "put the check piece on"
		}
		return "take it off"
	case CheckLiquid, CheckGain:
		if isEmpty(now) {
			return "hang the check piece in the liquid"
		}
		return "take it off"
	}
	return "weigh what the sheet asks for"
}
