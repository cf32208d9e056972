package simulation

import (
	"math"
	"math/rand/v2"
)

// Habits are how somebody works at a bench.
type Habits struct {
	Tared       bool // sets the display to zero with the hanger in the liquid
	LiquidFirst bool // weighs in the liquid before in air
	CheckPiece  bool // weighs the check piece first
	Immersions  int
	AirWeighs   int  // how often the item is laid on the pan for its first weighing
	Closing     bool // weighs in air once more at the end
	ClosingZero bool // reads the empty hanger after the last immersion
	UnderHook   bool // weighs in air in the hanger that hangs dry, not on the pan
	VesselLater bool // standing: weighs in air before the vessel comes on the pan
	Zeroes      bool // presses zero before each load in air
	Dries       bool // dries the item before the closing weighing
	Brushes     bool // brushes after immersing

	FalseMoves []string // what goes amiss, in words, in order
}

// falseMoves are drawn into a session: what a hand does that no reading should come of.
var falseMoves = []string{"touch", "lean", "down-and-up", "early", "untared", "double-zero", "pause"}

// DrawHabits draws how somebody works, false moves included.
func DrawHabits(r *rand.Rand, standing, underHook bool) Habits {
	chance := func(p float64) bool { return r.Float64() < p }
	h := Habits{
		Tared: chance(0.8), LiquidFirst: chance(0.15), CheckPiece: chance(0.3), Immersions: 1 + r.IntN(3), AirWeighs: 1 + r.IntN(2),
		Closing: chance(0.6), ClosingZero: chance(0.6), UnderHook: underHook, VesselLater: standing && chance(0.3),
		Zeroes: chance(0.8), Dries: chance(0.9), Brushes: chance(0.2),
	}
	if h.VesselLater {
		h.LiquidFirst, h.Closing = false, false
	}
	for chance(0.35) && len(h.FalseMoves) < 4 {
		h.FalseMoves = append(h.FalseMoves, falseMoves[r.IntN(len(falseMoves))])
	}
	return h
}

// script puts moves into time.
type script struct {
	r       *rand.Rand
	s       *Session
	l       *Live
	h       Habits
	at      float64
	moves   []Move
	amiss   []string // false moves still to come
	chances int      // places left at which one can come
	last    Move     // the last move that a reading follows
}

// Script draws the moves of somebody with these habits who weighs the session's item. The faults
// of the session take hold on the way. It returns the moves and when all is done, in seconds.
func Script(r *rand.Rand, s *Session, l *Live, h Habits) (moves []Move, ends float64) {
	k := &script{r: r, s: s, l: l, h: h, at: flat(r, 3, 8), amiss: h.FalseMoves, chances: 4 + 2*h.Immersions}
	if !h.LiquidFirst {
		k.inAir()
		k.inLiquid()
	} else {
		k.inLiquid()
		k.do(ActDry, "", 0, nil)
		k.inAir()
	}
	if h.Closing && !h.LiquidFirst {
		if h.Dries {
			k.do(ActDry, "", 0, nil)
			k.pause(4, 15)
		}
		k.zero(SlotZeroAir)
		slot := SlotClosingAir
		if !h.Dries {
			slot = "" // it is wet: a careful person sees that and dries it
		}
		k.weigh(ActPanOn, ActPanOff, slot, 0, k.s.BeforeClosing)
		k.zeroAgain()
	}
	return k.moves, k.at + 2
}

// rest is how long a load takes to come to rest here, in seconds.
func (k *script) rest(wet bool) float64 {
	o, b := k.l.o, k.l.Bench
	swing := 0.7
	share := 0.01
	if wet {
		swing = 1.4
	}
	return o.Average + 8*o.TimeConstant + swing*math.Log(max(2, share*k.l.item.Mass/(0.3*b.Interval)))
}

func (k *script) pause(low, high float64) { k.at += flat(k.r, low, high) }

// do adds a move, and the time that somebody leaves it at that.
func (k *script) do(act Act, slot string, n int, hook func()) {
	kind := hands[act]
	m := Move{Act: act, At: k.at, Hand: kind.seconds * flat(k.r, 0.7, 1.5), Slot: slot, N: n, hook: hook}
	k.moves = append(k.moves, m)
	k.at += m.Hand
	if act == ActZero {
		k.at += 3.2
	}
	if slot == "" {
		k.pause(0.8, 4)
		return
	}
	k.last = m
	wet := act == ActImmerse || act == ActImmerseCk || act == ActHang || act == ActLift || act == ActSling || act == ActHangDry
	k.at += k.rest(wet)
	if slot == SlotAir && k.l.o.Warm > 0 {
		if left := k.l.o.Warm / (0.5 * k.l.Bench.Interval); left > 1 {
			k.at += min(90, k.l.o.WarmSeconds*math.Log(left))
		}
	}
	k.pause(3, 10)
	if k.r.IntN(12) == 0 {
		k.pause(5, 25) // somebody asks something
	}
	k.stumble(wet)
}

// stumble puts in a false move while a load rests, where one is due.
func (k *script) stumble(wet bool) {
	k.chances--
	if len(k.amiss) == 0 || k.r.IntN(max(1, k.chances)) >= len(k.amiss) {
		return
	}
	switch k.amiss[0] {
	case "touch", "lean":
		act := ActTouch
		if k.amiss[0] == "lean" {
			act = ActLean
		}
		hand := hands[act].seconds * flat(k.r, 0.7, 2)
		k.moves = append(k.moves, Move{Act: act, At: k.at, Hand: hand, Slot: k.last.Slot, N: k.last.N})
		k.at += hand + k.rest(wet)
		k.pause(3, 8)
	case "double-zero":
		if k.last.Slot != SlotZeroAir && k.last.Slot != SlotZeroLiquid {
			return
		}
		k.moves = append(k.moves, Move{Act: ActZero, At: k.at, Hand: 0.6, Slot: k.last.Slot, N: k.last.N})
		k.at += 4 + k.rest(false)
		k.pause(2, 4)
	case "pause":
		k.pause(20, 60)
	default:
		return // it comes where it can
	}
	k.amiss = k.amiss[1:]
}

// due takes a false move off the list if it is the next.
func (k *script) due(move string) bool {
	if len(k.amiss) == 0 || k.amiss[0] != move {
		return false
	}
	k.amiss = k.amiss[1:]
	return true
}

func (k *script) zero(slot string) {
	if k.h.Zeroes {
		k.do(ActZero, slot, k.count(slot), nil)
	}
}

// zeroAgain lets the empty pan be read after a load came off.
func (k *script) zeroAgain() {
	last := &k.moves[len(k.moves)-1]
	last.Slot, last.N = SlotZeroAir, k.count(SlotZeroAir)
	k.at += k.rest(false)
	k.pause(1, 4)
}

// count is how many readings a slot has so far; the empty bench at the start is the first zero.
func (k *script) count(slot string) (n int) {
	if slot == SlotZeroAir {
		n = 1
	}
	for _, m := range k.moves {
		if m.Slot == slot {
			n = max(n, m.N+1)
		}
	}
	return n
}

// weigh lays on, lets rest and takes off again.
func (k *script) weigh(on, off Act, slot string, n int, hook func()) {
	if k.due("down-and-up") {
		k.do(on, "", 0, nil)
		k.do(off, "", 0, nil)
	}
	if k.due("early") { // so short that it hardly rests
		k.do(on, "", 0, nil)
		k.pause(0, k.l.o.TimeConstant+k.l.o.Average)
		k.do(off, "", 0, nil)
		k.pause(1, 3)
	}
	k.do(on, slot, n, hook)
	k.do(off, "", 0, nil)
}

func (k *script) inAir() {
	if k.h.UnderHook {
		k.do(ActHangDry, "", 0, nil)
		k.do(ActZero, SlotZeroAir, k.count(SlotZeroAir), nil)
		for n := range k.h.AirWeighs {
			k.weigh(ActSling, ActUnsling, SlotAir, n, k.before(n))
			k.zeroAgain()
		}
		return
	}
	k.zero(SlotZeroAir)
	if k.h.CheckPiece && !k.h.LiquidFirst {
		k.weigh(ActCheckOn, ActPanOff, SlotProofAir, 0, nil)
		k.zeroAgain()
	}
	for n := range k.h.AirWeighs {
		k.weigh(ActPanOn, ActPanOff, SlotAir, n, k.before(n))
		k.zeroAgain()
	}
}

// before is what takes hold as the item is first weighed in air.
func (k *script) before(n int) func() {
	if n > 0 {
		return nil
	}
	return k.s.BeforeAir
}

func (k *script) inLiquid() {
	slot, proof := SlotLiquid, SlotProofLiquid
	if k.s.Bench.Standing {
		slot, proof = SlotGain, SlotProofGain
	}
	if k.h.VesselLater {
		k.do(ActVesselOn, "", 0, nil)
		k.do(ActZero, "", 0, nil)
	}
	if k.h.Tared && k.due("untared") {
		k.do(ActHang, "", 0, nil)
		k.do(ActImmerse, "", 0, nil)
		k.pause(0, 3)
		k.do(ActLift, "", 0, nil)
	}
	switch {
	case k.s.TareDry:
		k.do(ActHangDry, "", 0, nil)
		k.do(ActZero, "", 0, nil)
		k.do(ActHang, SlotZeroLiquid, 0, nil)
	case k.s.ForgetTare || !k.h.Tared:
		k.do(ActHang, SlotZeroLiquid, 0, nil)
	default:
		k.do(ActHang, "", 0, nil)
		k.pause(1, 4)
		k.do(ActZero, SlotZeroLiquid, 0, nil)
	}
	lift := func(slot string) {
		n := k.count(slot)
		k.do(ActLift, slot, n, nil)
	}
	if k.h.CheckPiece && !k.h.LiquidFirst {
		k.do(ActImmerseCk, proof, 0, nil)
		lift(SlotZeroLiquid)
	}
	for n := range k.h.Immersions {
		k.do(ActImmerse, slot, n, func() { k.s.immersed(k.l, n) })
		if k.h.Brushes {
			k.do(ActBrush, slot, n, nil)
		}
		if n == k.h.Immersions-1 && k.h.ClosingZero {
			lift(SlotClosingZero)
		} else {
			lift(SlotZeroLiquid)
		}
	}
	k.do(ActUnhang, "", 0, nil)
	k.zeroAgain()
}

// immersed lets the seeded fault take hold of an immersion.
func (s *Session) immersed(l *Live, n int) {
	if other := s.Exchanged; other != nil {
		l.Bench.Item, l.item = *other, *other
	}
	if s.BeforeImmersion != nil {
		s.BeforeImmersion(min(n, MostImmersions-1))
	}
}
