package simulation

import (
	"math"
	"math/rand/v2"

	"wreath/fluid"
	"wreath/quantity"
)

// Station is a place of work as it is built: what does not change while an item is weighed.
type Station struct {
	Standing bool // the vessel stands on the pan; otherwise the item hangs from the balance

	Interval            float64 // scale interval, g
	Capacity            float64 // g
	Repeatability       float64 // true standard deviation of a reading in air, g
	RepeatabilityLiquid float64 // the same of an immersed reading, surface force included, g
	Linearity           float64 // largest deviation from linearity, g

	TemperatureC, TemperatureU float64 // of the liquid as read, and how far the truth may be
	Ethanol, EthanolU          float64 // strength by mass as stated, 0 for water
	AirKgM3, AirU              float64 // density of the air as stated

	WireMM   float64 // diameter of the wire where it passes the surface
	VesselMM float64 // inner diameter of the vessel

	HangerMass, HangerVolume float64 // g, cm³ under the surface
}

// Place is where the item is.
type Place uint8

const (
	Away Place = iota
	InAir
	Immersed
)

// Bench is a station with an item at one moment: the state of the world and the balance. All that
// can be moved is exported; Force follows from it.
type Bench struct {
	Station
	Item Item

	Seconds float64 // since the session began
	Place   Place

	LiquidC      float64 // true temperature of the liquid
	Strength     float64 // true strength of the ethanol by mass, 0 for water
	LiquidFactor float64 // what dirt and salts make of the liquid's density
	AirSaturated float64 // air dissolved in the water, 0 to 1
	Air          float64 // true density of the air, g/cm³
	Evaporation  float64 // g/s that the vessel loses, with ethanol

	HangerOn  bool    // the hanger hangs from the balance, or in the vessel on it
	HangerDry bool    // it hangs in the air, above the liquid
	Bubble    float64 // cm³ of air caught under the item or hanger
	Carried   float64 // share of the immersed weight that wall or bottom carries
	Unwetted  float64 // share of the wire's surface force that is missing
	Film      float64 // g of liquid on the item in air
	Filled    float64 // share of the pores that liquid has filled
	soaked    float64 // s under liquid so far

	Zero    float64 // how far the zero has moved, g
	Drift   float64 // of the balance, g/s
	Draught float64 // standard deviation of what moves the pan, g

	statedAir, statedLiquid float64 // repeatability as the station knows it

	rand    *rand.Rand
	tare    float64 // force and zero when the balance was last set to zero, g
	tareOff float64 // what is left of rounding then, g
	curve   float64 // phase of the linearity curve

	liquidOf  liquidState // what the density below was computed for
	liquidRho float64     // g/cm³
}

// liquidState is all that the density of the liquid depends on.
type liquidState struct{ celsius, strength, factor, air float64 }

// NewBench sets up a station for one session: true temperature, air and liquid differ from what is
// stated as the statements allow.
func NewBench(r *rand.Rand, s Station, item Item) *Bench {
	b := &Bench{Station: s, Item: item, rand: r, LiquidFactor: 1, AirSaturated: r.Float64(), curve: 2 * math.Pi * r.Float64()}
	b.statedAir, b.statedLiquid = stated(r, s.Repeatability), stated(r, s.RepeatabilityLiquid)
	b.LiquidC = s.TemperatureC + s.TemperatureU*r.NormFloat64()
	b.Air = (s.AirKgM3 + s.AirU*r.NormFloat64()) / 1000
	if s.Ethanol > 0 {
		b.Strength = s.Ethanol + s.EthanolU*r.NormFloat64()
	}
	return b
}

// Liquid is the true density of the liquid in g/cm³.
func (b *Bench) Liquid() float64 {
	// A stream asks for it thousands of times and it hardly ever changes.
	if now := (liquidState{b.LiquidC, b.Strength, b.LiquidFactor, b.AirSaturated}); now != b.liquidOf {
		b.liquidOf, b.liquidRho = now, b.liquid()
	}
	return b.liquidRho
}

func (b *Bench) liquid() float64 {
	var rho quantity.Density
	var err error
	// Where formulas end the world does not: the nearest end serves.
	if b.Strength > 0 {
		t := quantity.Temperature(min(max(b.LiquidC, -10), 39.9))
		rho, err = fluid.EthanolWater(min(max(b.Strength, 0), 1), t)
	} else {
		rho, err = fluid.Water(quantity.Temperature(min(max(b.LiquidC, 0.1), 39.9)), 101325, b.AirSaturated)
	}
	if err != nil {
		panic(err) // inside the range of the formulas by construction
	}
	return rho.GramPerCm3() * b.LiquidFactor
}

// Advance lets time pass: pores fill, the balance drifts, ethanol evaporates.
func (b *Bench) Advance(seconds float64) {
	b.Seconds += seconds
	if b.Place == Immersed && b.Item.Pores > 0 {
		b.soaked += seconds
		b.Filled = max(b.Filled, 1-math.Exp(-math.Sqrt(b.soaked/b.Item.FillTime)))
	}
}

const gravity = 9.81 // m/s²; the surface force is small, local gravity does not matter

// surfaceForce is the pull of the surface on the wetted wire, in grams.
func (b *Bench) surfaceForce() float64 {
	tension := 0.0725 // N/m, water at room temperature
	if b.Strength > 0.3 {
		tension = 0.024
	}
	return 1000 * math.Pi * b.WireMM / 1000 * tension / gravity
}

// expanded is a volume at 20 °C at the temperature of the liquid.
func (b *Bench) expanded(v float64) float64 { return v * (1 + b.Item.Expansion*(b.LiquidC-20)) }

// Force is what presses on the pan, in grams, counted from an empty bench.
func (b *Bench) Force() float64 {
	item, liquid := b.Item, b.Liquid()
	outline := b.expanded(item.Solid + item.Void + item.Pores)
	uptake := b.Filled * b.expanded(item.Pores) * liquid // mass of liquid in the pores

	// The item by itself: in air, and hanging in the liquid.
	inAir := item.Mass + uptake + b.Film - b.Air*outline
	inLiquid := item.Mass + uptake - liquid*outline - (liquid-b.Air)*b.Bubble
	// The level rises and covers more of the wire.
	wire, vessel := math.Pi*b.WireMM*b.WireMM/400, math.Pi*b.VesselMM*b.VesselMM/400 // cm²
	rise := wire * outline / (vessel - wire)

	surface := b.surfaceForce() * (1 - b.Unwetted)
	force := 0.0
	if !b.Standing {
		if b.HangerOn && b.HangerDry {
			force += b.HangerMass - b.Air*b.HangerVolume
		} else if b.HangerOn {
			force += b.HangerMass - liquid*b.HangerVolume + surface
		}
		switch b.Place {
		case InAir: // on the pan
			force += inAir
		case Immersed:
			force += inLiquid*(1-b.Carried) - (liquid-b.Air)*rise
		}
		return force
	}
	// Standing: the pan carries the liquid. The liquid bears what it lifts; the surface hangs on
	// the wire. Liquid that went into the pores is borne by the stand.
	if b.HangerOn && !b.HangerDry {
		force += (liquid-b.Air)*b.HangerVolume - surface
	}
	force -= b.Evaporation * b.Seconds
	switch b.Place {
	case InAir: // beside the vessel, on the pan
		force += inAir
	case Immersed:
		force += liquid*(outline+b.Bubble) - uptake - b.Air*(outline+b.Bubble) + (liquid-b.Air)*rise
		force += b.Carried * max(inLiquid, 0)
	}
	return force
}

// level is what the balance's inside makes of the force: its zero moves and drifts.
func (b *Bench) level() float64 { return b.Force() + b.Zero + b.Drift*b.Seconds }

// Tare sets the balance to zero as the bench is now; a quarter of the scale interval remains.
func (b *Bench) Tare() {
	b.tare = b.level()
	b.tareOff = (b.rand.Float64() - 0.5) * b.Interval / 2
}

// Show returns what the balance shows, in grams: it is adjusted in air of 1.2 kg/m³ with weights
// of 8000 kg/m³, scatters, deviates from linearity, and rounds.
func (b *Bench) Show() float64 {
	if b.Place == Immersed {
		return b.show(b.RepeatabilityLiquid)
	}
	return b.show(b.Repeatability)
}

// showImmersed is Show with the scatter of a reading in the liquid, of the empty hanger too.
func (b *Bench) showImmersed() float64 { return b.show(b.RepeatabilityLiquid) }

func (b *Bench) show(s float64) float64 {
	g := (b.level() - b.tare) / (1 - 1.2/8000)
	g += s*b.rand.NormFloat64() + b.tareOff
	if b.Draught > 0 {
		g += b.Draught * b.rand.NormFloat64()
	}
	return b.round(b.curved(g))
}

// curved is what the deviation from linearity makes of a load in grams.
func (b *Bench) curved(g float64) float64 {
	if b.Linearity > 0 {
		g += b.Linearity * (math.Sin(2*math.Pi*g/b.Capacity+b.curve) - math.Sin(b.curve)) / 2
	}
	return g
}

func (b *Bench) round(g float64) float64 { return math.Round(g/b.Interval)*b.Interval + 0 } // no -0
