package simulation

import (
	"errors"
	"fmt"
	"math"
)

// work lets the hand go on with what it does, or take up what is due.
func (l *Live) work(now float64) {
	if !l.hand.on {
		if l.next == len(l.queue) || l.queue[l.next].At > now+1e-9 {
			return
		}
		move := l.queue[l.next]
		l.next++
		l.begin(move, now)
		return
	}
	if !l.hand.changed && now >= l.hand.changes {
		l.hand.changed = true
		l.change(l.hand.Move, now)
	}
	if now >= l.hand.leaves && l.tareBy == 0 {
		l.leave(now)
	}
}

// hands says how long an act takes in seconds, and how heavily it is felt.
var hands = map[Act]struct {
	seconds float64
	key     bool // only the key is touched
	away    bool // it happens away from the bench
}{
	ActZero: {seconds: 0.6, key: true}, ActPanOn: {seconds: 1.6}, ActCheckOn: {seconds: 1.6}, ActPanOff: {seconds: 1.4},
	ActVesselOn: {seconds: 2.5}, ActHang: {seconds: 3}, ActHangDry: {seconds: 2.5}, ActUnhang: {seconds: 2},
	ActImmerse: {seconds: 3}, ActImmerseCk: {seconds: 3}, ActLift: {seconds: 2.5}, ActSling: {seconds: 3}, ActUnsling: {seconds: 2.5},
	ActBrush: {seconds: 4}, ActCentre: {seconds: 3}, ActTouch: {seconds: 0.8}, ActLean: {seconds: 5},
	ActDry: {away: true}, ActWait: {away: true},
}

// Acts are all acts, in the order in which they are usually met.
func Acts() []Act {
	return []Act{ActZero, ActPanOn, ActCheckOn, ActPanOff, ActVesselOn, ActHang, ActHangDry, ActUnhang, ActImmerse, ActImmerseCk, ActLift,
		ActSling, ActUnsling, ActBrush, ActCentre, ActDry, ActTouch, ActLean, ActWait}
}

// Can says why an act is impossible as the bench stands, or nothing when it is possible.
func (l *Live) Can(act Act) error {
	b := l.Bench
	hangs := b.HangerOn && !b.HangerDry
	for _, row := range []struct {
		acts []Act
		no   bool
		why  string
	}{
		{[]Act{ActPanOn, ActCheckOn, ActImmerse, ActImmerseCk, ActSling}, b.Place != Away, "something is weighed already; take it off first"},
		{[]Act{ActImmerse, ActImmerseCk}, !hangs, "no hanger hangs in the liquid; hang it first"},
		{[]Act{ActSling}, !b.HangerOn || !b.HangerDry || b.Standing, "no hanger hangs in the air from the balance; hang it there first"},
		{[]Act{ActPanOff}, b.Place != InAir || l.slung, "nothing lies on the pan"},
		{[]Act{ActUnsling}, b.Place != InAir || !l.slung, "nothing hangs in the air"},
		{[]Act{ActLift, ActBrush, ActCentre}, b.Place != Immersed, "nothing hangs in the liquid"},
		{[]Act{ActHang}, hangs || l.slung, "the hanger hangs in the liquid already, or holds something"},
		{[]Act{ActHangDry}, b.HangerOn, "the hanger hangs already; take it away first"},
		{[]Act{ActUnhang}, !b.HangerOn || l.slung, "no empty hanger hangs there"},
		{[]Act{ActVesselOn}, !b.Standing || l.extra > 0 || l.VesselG == 0, "the vessel stands where it belongs"},
		{[]Act{ActDry}, b.Place != Away, "the item is on the bench; take it off first"},
	} {
		for _, a := range row.acts {
			if a == act && row.no {
				return errors.New(row.why)
			}
		}
	}
	if _, known := hands[act]; !known {
		return fmt.Errorf("nobody knows how to do %q; acts are %v", act, Acts())
	}
	return nil
}

// Bring lays another item beside the bench. What was read so far is forgotten: the slots begin anew.
// No session is followed any more. The error says why it can't be.
func (l *Live) Bring(item Item) error {
	b := l.Bench
	if b.Place != Away || l.hand.on {
		return errors.New("something is weighed still; take it off first")
	}
	b.Item, l.item, b.Filled, b.soaked, l.filled = item, item, 0, 0, 0
	l.checkOn, l.wet, l.warmed, b.Film = false, 0, false, 0
	l.session, l.weighed, l.immersions = nil, 0, 0
	l.stretches, l.open = []Stretch{{From: l.now(), First: l.settled()}}, true
	l.stretches[0].Slot, l.stretches[0].N = l.suggests()
	return nil
}

// begin lets the hand arrive: what was a stretch ends.
func (l *Live) begin(move Move, now float64) {
	kind, known := hands[move.Act]
	if !known || kind.away {
		if move.Act == ActDry {
			l.wet = 0
			if l.Bench.Place != InAir {
				l.Bench.Film = 0
			}
		}
		return
	}
	if move.Hand == 0 {
		move.Hand = kind.seconds * flat(l.rand, 0.7, 1.5)
	}
	if l.open {
		l.close(&l.stretches[len(l.stretches)-1])
		l.open = false
	}
	d := l.Bench.Interval
	force := logFlat(l.rand, 20*d, 0.2*l.item.Mass+100*d)
	if kind.key {
		force = flat(l.rand, 0, 3) * d
	}
	l.hand = hand{Move: move, on: true, force: force, changes: now + move.Hand*flat(l.rand, 0.4, 0.7), leaves: now + move.Hand}
	if move.Act == ActLean {
		l.hand.lean, l.hand.force = eitherSign(l.rand, force), min(force/10, 2*d)
	}
	l.grip = l.hand.force * l.rand.NormFloat64()
}

// leave takes the hand away: a stretch begins.
func (l *Live) leave(now float64) {
	move := l.hand.Move
	if move.natural {
		move.Slot, move.N = l.suggests()
	}
	l.hand, l.grip = hand{}, 0
	s := Stretch{After: move.Act, From: now, Slot: move.Slot, N: move.N, First: l.settled()}
	for _, before := range l.stretches {
		s.Again = s.Again || s.Slot != "" && before.Slot == s.Slot && before.N == s.N
	}
	l.stretches, l.open = append(l.stretches, s), true
}

// close writes down how a stretch ends that ends now.
func (l *Live) close(s *Stretch) {
	s.To, s.True, s.Lift = l.now(), l.settled(), l.lift(l.now())
	s.Over = l.still() > l.Bench.Capacity+9*l.Bench.Interval
	switch s.Slot {
	case SlotZeroAir:
		l.zeroAir = s.True
	case SlotZeroLiquid:
		l.zeroLiquid = s.True
	case SlotAir, SlotClosingAir, SlotProofAir:
		s.Zero = l.zeroAir
	case SlotLiquid, SlotGain, SlotProofLiquid, SlotProofGain:
		s.Zero = l.zeroLiquid
	}
}

// suggests is the slot that a careful person fills as the bench is now, when nobody says.
func (l *Live) suggests() (slot string, n int) {
	b := l.Bench
	had := func(slot string) (n int) {
		for _, s := range l.stretches {
			if s.Slot == slot {
				n = max(n, s.N+1)
			}
		}
		return n
	}
	standing := func(gain, hanging string) string {
		if b.Standing {
			return gain
		}
		return hanging
	}
	wetHanger := b.HangerOn && !b.HangerDry
	switch {
	case b.Place == Immersed && l.checkOn:
		slot = standing(SlotProofGain, SlotProofLiquid)
	case b.Place == Immersed:
		slot = standing(SlotGain, SlotLiquid)
	case b.Place == InAir && wetHanger, b.Place == InAir && !l.checkOn && l.wet > 0:
		return "", 0
	case b.Place == InAir && l.checkOn:
		slot = SlotProofAir
	case b.Place == InAir && had(SlotLiquid)+had(SlotGain) > 0 && had(SlotAir) > 0:
		slot = SlotClosingAir
	case b.Place == InAir:
		slot = SlotAir
	case wetHanger && had(SlotZeroLiquid) > 0 && l.hand.Act != ActZero && had(SlotLiquid)+had(SlotGain) > 0:
		slot = SlotClosingZero
	case wetHanger:
		slot = SlotZeroLiquid
	default:
		slot = SlotZeroAir
	}
	n = had(slot)
	if touched := l.hand.Act; n > 0 && (touched == ActTouch || touched == ActLean || touched == ActBrush || touched == ActCentre) {
		n-- // the same load as before
	}
	return slot, n
}

// change does to the bench what the act is for.
func (l *Live) change(move Move, now float64) {
	b := l.Bench
	before := l.still()
	if l.Can(move.Act) != nil {
		return
	}
	switch move.Act {
	case ActZero:
		l.tareBy = now + 3
		l.mark.since, l.hand.force = now, 0 // the key is let go
		return
	case ActTouch, ActLean:
		l.shake(now, 0.05*math.Abs(l.hand.force))
		return
	case ActVesselOn:
		l.extra = l.VesselG
	case ActPanOn, ActCheckOn:
		l.fetch(move.Act == ActCheckOn)
		b.Place = InAir
		if !l.checkOn {
			b.Film = max(b.Film, l.wet)
			l.warm(now)
		}
	case ActSling:
		l.fetch(false)
		b.Place, l.slung = InAir, true
		l.warm(now)
	case ActPanOff, ActUnsling:
		b.Place, b.Film, l.slung = Away, 0, false
	case ActHang:
		b.HangerOn, b.HangerDry = true, false
	case ActHangDry:
		b.HangerOn, b.HangerDry = true, true
	case ActUnhang:
		b.HangerOn, b.HangerDry, b.Unwetted = false, false, 0
		if b.Place == Immersed {
			l.takeOut()
		}
	case ActImmerse, ActImmerseCk:
		l.fetch(move.Act == ActImmerseCk)
		b.Place = Immersed
	case ActLift:
		l.takeOut()
	case ActBrush:
		b.Bubble, l.bubbleGoes = 0, 0
	case ActCentre:
		b.Carried = 0
	}
	if move.hook != nil {
		move.hook()
	} else if move.natural && l.session != nil && !l.checkOn {
		l.seeded(move.Act)
	}
	if b.Bubble > 0 && l.bubbleGoes == 0 && l.o.BubbleLeaves > 0 && b.Place == Immersed {
		l.bubbleGoes = now + l.o.BubbleLeaves*l.rand.ExpFloat64()
	}
	l.place()
	step := l.still() - before
	l.gap, l.gapFrom, l.gapLong = step, now, flat(l.rand, 0.1, 0.5)
	l.blow = math.Abs(step) * flat(l.rand, 0, 0.4)
	swings := 0.01 * math.Abs(step)
	if b.Place == Immersed || b.HangerOn {
		swings = max(swings, l.item.Mass*logFlat(l.rand, 1e-3, 1e-2))
	}
	l.shake(now, swings)
}

// seeded lets the faults of the session take hold.
func (l *Live) seeded(act Act) {
	s := l.session
	switch {
	case (act == ActPanOn || act == ActSling) && l.weighed == 0 && s.BeforeAir != nil:
		s.BeforeAir()
	case act == ActPanOn && l.immersions > 0 && s.BeforeClosing != nil:
		s.BeforeClosing()
	case act == ActImmerse:
		s.immersed(l, l.immersions)
	}
	switch act {
	case ActPanOn, ActSling:
		l.weighed++
	case ActImmerse:
		l.immersions++
	}
}

// shake sets swinging what hangs. What touches the wall or the bottom does not swing.
func (l *Live) shake(now, amplitude float64) {
	if l.Bench.Carried > 0 {
		amplitude = 0
	}
	l.swing, l.swingFrom = amplitude, now
	l.swingHz, l.swingLong = flat(l.rand, 0.8, 2.5), flat(l.rand, 0.2, 0.7)
	if l.Bench.HangerOn {
		l.swingLong *= 2
	}
}

// fetch takes item or check piece to hand.
func (l *Live) fetch(check bool) {
	b := l.Bench
	if check == l.checkOn {
		return
	}
	if check {
		l.item, l.filled, b.Item, b.Filled = b.Item, b.Filled, l.Check, 0
	} else {
		b.Item, b.Filled = l.item, l.filled
	}
	l.checkOn = check
}

// warm lets air rise along an item that comes from the hand for the first time.
func (l *Live) warm(now float64) {
	if !l.warmed {
		l.warmed, l.warmFrom = true, now
	}
}

// takeOut takes what hangs in the liquid out of it. It comes out wet.
func (l *Live) takeOut() {
	b := l.Bench
	b.Place, b.Bubble, b.Carried, l.bubbleGoes = Away, 0, 0, 0
	if !l.checkOn {
		l.warmed, l.warmFrom = true, math.Inf(-1) // the liquid took its warmth
		// A film of 30 µm on a body of some plumpness, chosen here.
		l.wet = 0.003 * 8 * math.Pow(b.Item.Solid+b.Item.Void, 2./3) * l.Bench.Liquid()
	}
}
