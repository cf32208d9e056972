package simulation

import (
	"math"
	"math/rand/v2"
	"strconv"

	"wreath/alloy"
	"wreath/internal/determination"
)

// Claim is what the item is said to be.
type Claim struct {
	Family   *alloy.Family
	Fineness float64 // from 0 to 1, as it is marked
}

// Plan says how much of a session is done and written down.
type Plan struct {
	Immersions int
	ClosingAir bool
	CheckPiece bool // weighed in air and in the liquid before the item
	EmptyZero  bool // the empty hanger is read after the last immersion
	LookOver   bool // stones, hollows and cores looked for
	Intake     bool // the mass at intake is on record
	Another    bool // the item is weighed in a second liquid
	Settlers   bool // what settles is done one by one, with a reading after each
}

// MostImmersions is how often a session immerses the item, MostReadings how many immersed readings
// there are when what settles is done one by one; a plan may use fewer.
const (
	MostImmersions = 2
	MostReadings   = 5
)

// CheckPiece is a solid of known volume.
type CheckPiece struct {
	Mass, Volume, VolumeU float64 // g, cm³ at 20 °C
}

// Session is one item's way over the bench. Hooks are where faults take hold; every moment of the
// protocol has one.
type Session struct {
	Bench *Bench
	Claim Claim
	Check CheckPiece
	Truth Truth

	BeforeAir       func()      // the item is about to be weighed in air
	BeforeImmersion func(n int) // it hangs in the liquid, n from 0
	BeforeClosing   func()      // it is dried and back in air
	Exchanged       *Item       // another item is immersed than was weighed in air, and goes back
	Settling        bool        // what settles is done one by one in the first immersion, and all of it before the second
	ForgetTare      bool        // nobody sets the balance to zero with the hanger in the liquid
	TareDry         bool        // it is set to zero while the hanger still hangs in the air
	Write           []func(*Written)

	IntakeMass float64
	SeesStones bool
	SeesHollow bool
	SeesCore   bool
	SeesSlip   bool // display and sheet were read again and differ
	SeesBase   bool // the streak is not that of the metal claimed
	SeesOther  bool // the item was held against its photo and is not it

	checkOff float64 // cm³ by which the check piece differs from what is stated
	written  Written
}

// Written is what stands on the sheet: texts as a person types them, in grams unless they say
// otherwise.
type Written struct {
	Air, Closing       string
	Immersed           [MostReadings]string // gain when the vessel stands on the pan
	Another            string               // immersed in the second liquid
	Zero, ClosingZero  string               // the empty hanger between the immersions, when what settles is done, and after the last
	CheckAir, CheckWet string
	Thermometer        float64 // a second one, °C
	Strength           float64 // of the ethanol by mass, measured
	Decimals           int
}

// Truth is what is really the matter.
type Truth struct {
	Fault string  // key, empty for a clean session
	Size  float64 // in the unit of the fault
	Words string
}

// secondsPerAct is how long it takes to place an item, let it come to rest and read.
const secondsPerAct = 40

// Run does the weighings in order and writes them down.
func (s *Session) Run() {
	b := s.Bench
	item := b.Item
	b.Item = Item{Mass: s.Check.Mass, Solid: s.Check.Volume, Expansion: 48e-6}
	s.written.CheckAir = s.inAir(nil)
	s.hang()
	b.Place = Immersed
	s.written.CheckWet = s.read()
	s.takeOff()

	b.Item, b.Filled, b.soaked = item, 0, 0
	s.written.Air = s.inAir(s.BeforeAir)
	b.Film = 0
	s.hang()
	if s.Exchanged != nil {
		b.Item = *s.Exchanged
	}
	s.immerse(0)
	if s.Settling {
		// It hangs where it is; after every act it is read.
		for n, act := range []func(){func() { b.Bubble = 0 }, func() { b.Carried = 0 }, func() { b.Unwetted = 0 }} {
			act()
			s.written.Immersed[n+1] = s.read()
		}
		b.Place = Away
		s.written.Zero = s.readEmpty()
		b.Zero = 0
		b.Tare()
		s.immerse(MostReadings - 1)
	} else {
		b.Place = Away
		b.Advance(secondsPerAct / 2)
		s.immerse(1)
	}
	b.Place = Away
	s.written.ClosingZero = s.readEmpty()
	s.written.Thermometer = b.LiquidC + 0.1*b.rand.NormFloat64()
	s.written.Strength = math.Max(0, b.Strength+0.003*b.rand.NormFloat64())
	s.takeOff()
	s.written.Closing = s.inAir(s.BeforeClosing)
	for _, write := range s.Write {
		write(&s.written)
	}
	s.another()
}

// immerse hangs the item into the liquid and reads. The last reading of what settles comes after
// everything was done once more.
func (s *Session) immerse(n int) {
	b := s.Bench
	b.Place = Immersed
	if s.BeforeImmersion != nil {
		s.BeforeImmersion(min(n, MostImmersions-1))
	}
	if s.Settling && n > 0 {
		b.Bubble, b.Carried, b.Unwetted, b.Zero = 0, 0, 0, 0
	}
	s.written.Immersed[n] = s.read()
}

// another weighs the item in a second liquid of its own vessel: ethanol after water, water after
// ethanol.
func (s *Session) another() {
	first := s.Bench
	second := *first
	second.LiquidFactor, second.Strength, second.Evaporation = 1, anotherStrength, 0
	if first.Ethanol > 0 {
		second.Strength = 0
	}
	second.LiquidC = first.TemperatureC + 0.2*first.rand.NormFloat64()
	second.Bubble, second.Carried, second.Unwetted, second.Zero, second.Filled = 0, 0, 0, 0, 0
	s.Bench = &second
	s.hang()
	second.Place = Immersed
	s.written.Another = s.read()
	s.Bench = first
}

// anotherStrength is the strength by mass of the ethanol that serves as second liquid.
const anotherStrength = 0.93

// readEmpty reads the hanger alone in the liquid. What the surface and the bench do to it scatters
// as with an item.
func (s *Session) readEmpty() string {
	b := s.Bench
	b.Advance(secondsPerAct / 2)
	b.Bubble, b.Carried = 0, 0
	return s.format(b.showImmersed())
}

func (s *Session) inAir(before func()) string {
	s.Bench.Tare()
	s.Bench.Place = InAir
	if before != nil {
		before()
	}
	text := s.read()
	s.Bench.Place = Away
	return text
}

// hang puts the hanger on and sets the balance to zero.
func (s *Session) hang() {
	b := s.Bench
	b.Advance(secondsPerAct)
	if s.ForgetTare {
		b.Tare()
		b.HangerOn = true
		return
	}
	b.HangerOn, b.HangerDry = true, s.TareDry
	b.Tare()
	b.HangerDry = false
}

func (s *Session) takeOff() {
	s.Bench.Place, s.Bench.HangerOn = Away, false
	s.Bench.Bubble, s.Bench.Carried, s.Bench.Unwetted = 0, 0, 0
	s.Bench.Advance(secondsPerAct)
}

func (s *Session) read() string {
	s.Bench.Advance(secondsPerAct)
	return s.format(s.Bench.Show())
}

func (s *Session) format(g float64) string {
	s.written.Decimals = max(0, int(math.Round(-math.Log10(s.Bench.Interval))))
	return strconv.FormatFloat(g, 'f', s.written.Decimals, 64)
}

// Draft is what a careful person hands in after so much of the session. The station's figures are
// known as one knows them: repeatability from twenty weighings, the rest with an uncertainty.
func (s *Session) Draft(p Plan) *determination.Draft {
	b, w := s.Bench, s.written
	d := &determination.Draft{
		Claim:   &determination.Claim{Metal: s.Claim.Family.Metal, Family: s.Claim.Family.Key, Fineness: pointer(1000 * s.Claim.Fineness)},
		Item:    &determination.Item{Colour: colourSeen(s.Claim.Family)},
		AirG:    readings(w.Air),
		Liquid:  &determination.Liquid{Kind: "water", TemperatureC: &b.TemperatureC, TemperatureUC: &b.TemperatureU},
		Air:     &determination.Air{DensityKgM3: &b.AirKgM3, DensityUKgM3: &b.AirU},
		Balance: &determination.Balance{ResolutionG: &b.Interval, RepeatabilityG: &b.statedAir, RepeatabilityLiquidG: &b.statedLiquid, RepeatabilityDof: pointer(19.)},
		Hanger:  &determination.Hanger{WireDiameterMM: &b.WireMM, VesselDiameterMM: &b.VesselMM, SurfaceUG: pointer(0.)},
	}
	if b.Linearity > 0 {
		d.Balance.LinearityG = &b.Linearity
	}
	if b.Ethanol > 0 {
		d.Liquid.Kind = "ethanol-water"
		d.Liquid.EthanolMassPercent, d.Liquid.EthanolUPercent = pointer(100*b.Ethanol), pointer(100*b.EthanolU)
	}
	var immersed []determination.Reading
	for _, text := range w.Immersed[:p.Immersions] {
		immersed = append(immersed, readings(text)...)
	}
	d.Arrangement, d.LiquidG = "hanging", immersed
	if b.Standing {
		d.Arrangement, d.LiquidG, d.GainG = "standing", nil, immersed
	}
	if p.ClosingAir {
		d.ClosingAirG = readings(w.Closing)
	}
	if p.CheckPiece {
		proof := &determination.Proof{AirG: readings(w.CheckAir), LiquidG: readings(w.CheckWet), VolumeCm3: &s.Check.Volume, VolumeUCm3: &s.Check.VolumeU}
		if b.Standing {
			proof.LiquidG, proof.GainG = nil, proof.LiquidG
		}
		d.Liquid.Proof = proof
	}
	if p.EmptyZero {
		d.ClosingZeroG = readings(w.ClosingZero)
	}
	if p.LookOver {
		d.Item.Stones, d.Item.Hollow, d.Item.Core = &s.SeesStones, &s.SeesHollow, &s.SeesCore
	}
	if p.Another {
		second := &determination.SecondLiquid{Kind: "ethanol-water", TemperatureC: &b.TemperatureC, EthanolMassPercent: pointer(100 * anotherStrength)}
		if b.Ethanol > 0 {
			second = &determination.SecondLiquid{Kind: "water", TemperatureC: &b.TemperatureC}
		}
		if b.Standing {
			second.GainG = readings(w.Another)
		} else {
			second.LiquidG = readings(w.Another)
		}
		d.SecondLiquid = second
	}
	if p.Settlers {
		before := func(n int) *int { return &n }
		zero := number(w.Zero)
		d.Done = []determination.Done{
			{Act: "brushed", Before: before(2)}, {Act: "centred", Before: before(3)}, {Act: "wire-dipped", Before: before(4)},
			{Act: "zero-read", Before: before(5), ZeroG: &zero}, {Act: "zero-set", Before: before(5)},
			{Act: "brushed", Before: before(5)}, {Act: "centred", Before: before(5)}, {Act: "wire-dipped", Before: before(5)},
			{Act: "read-again", Found: &s.SeesSlip}, {Act: "bag-and-photo", Found: &s.SeesOther}, {Act: "streaked", Found: &s.SeesBase},
			{Act: "thermometer", TemperatureC: &w.Thermometer, U: pointer(0.1)},
		}
		if b.Ethanol > 0 {
			d.Done = append(d.Done, determination.Done{Act: "strength", EthanolMassPercent: pointer(100 * w.Strength), U: pointer(0.3)})
		}
	}
	if p.Intake {
		d.Item.IntakeMassG = &s.IntakeMass
	}
	return d
}

func colourSeen(f *alloy.Family) string {
	if f.Metal == "gold" && f.Colour != "any" {
		return f.Colour
	}
	return ""
}

func pointer(x float64) *float64 { return &x }

func readings(text string) []determination.Reading {
	var r determination.Reading
	if err := r.FromNumber(text); err != nil {
		// A text with its unit, or one that no number is made of: then it is handed in as nothing.
		if r.FromText(text) != nil {
			return nil
		}
	}
	return []determination.Reading{r}
}

// stated is a standard deviation as twenty weighings show it.
func stated(r *rand.Rand, s float64) float64 {
	const dof = 19
	sum := 0.0
	for range dof {
		x := r.NormFloat64()
		sum += x * x
	}
	return s * math.Sqrt(sum/dof)
}
