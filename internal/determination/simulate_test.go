package determination

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"wreath/fluid"
	"wreath/quantity"
)

// bench is a simulated place of work: what is true there, and what its keeper states of it.
// Readings are made by summing the forces on the pan and rounding to the scale interval; nothing
// here uses the formulas under test.
type bench struct {
	*rand.Rand
	d           float64 // scale interval, g
	sAir, sLiq  float64 // true standard deviations of one reading, g
	t, uT       float64 // the thermometer's value and standard uncertainty, °C
	rhoA, uRhoA float64 // the air as stated, kg/m³
	trueT       float64 // of this determination
	liquid, air float64 // true densities of this determination, g/cm³
	liquidU     float64 // purity, half-width, kg/m³
	rise        float64 // of the liquid along the wires, as a share of the item's volume
	ethanol     float64 // strength by mass; 0: water
	ethanolU    float64
}

// fill draws the truth of one determination.
func (b *bench) fill() {
	b.trueT = b.t + b.uT*b.NormFloat64()
	b.rise = 7e-5 * b.Float64()
	b.air = (b.rhoA + b.uRhoA*b.NormFloat64()) / 1000
	var rho quantity.Density
	var err error
	if b.ethanol > 0 {
		rho, err = fluid.EthanolWater(b.ethanol+b.ethanolU*b.NormFloat64(), quantity.Temperature(b.trueT))
	} else {
		rho, err = fluid.Water(quantity.Temperature(b.trueT), 101325, b.Float64())
	}
	if err != nil {
		panic(err)
	}
	b.liquid = rho.GramPerCm3() + (2*b.Float64()-1)*b.liquidU/1000
}

// shows is what a balance adjusted at 1.2 kg/m³ with weights of 8000 kg/m³ shows for a force
// given in grams, tared within a quarter of its interval.
func (b *bench) shows(force, s float64) float64 {
	reading := force/(1-1.2/8000) + s*b.NormFloat64() + (b.Float64()-0.5)*b.d/2
	return math.Round(reading/b.d) * b.d
}

func (b *bench) repeat(n int, force, s float64) []Reading {
	readings := make([]Reading, n)
	for i := range readings {
		readings[i] = Reading{Gram: b.shows(force, s)}
	}
	return readings
}

func (b *bench) inAir(m, v float64, n int) []Reading { return b.repeat(n, m-b.air*v, b.sAir) }
func (b *bench) immersed(m, v float64, n int) []Reading {
	return b.repeat(n, m-b.liquid*v-b.rise*(b.liquid-b.air)*v, b.sLiq)
}

// gain is the rise of a vessel's reading: the liquid carries the volume, the raised liquid
// displaces as much air.
func (b *bench) gain(v float64, n int) []Reading {
	return b.repeat(n, (1+b.rise)*(b.liquid-b.air)*v, b.sLiq)
}

const gamma = 45e-6 // expansion of the simulated items, as stated to the program

// volume at the true temperature of m grams of a metal with a density at 20 °C.
func (b *bench) volume(m, rho20 float64) float64 { return m / rho20 * (1 + gamma*(b.trueT-20)) }

// draft is what the keeper writes down.
func (b *bench) draft() *Draft {
	t, ut, rhoA, uRhoA, d, zero := b.t, b.uT, b.rhoA, b.uRhoA, b.d, 0.0
	purity, expansion, uExpansion, sAir, sLiq := b.liquidU/math.Sqrt(3), gamma, 0.0, b.sAir, b.sLiq
	draft := &Draft{
		Liquid:  &Liquid{Kind: "water", TemperatureC: &t, TemperatureUC: &ut, DensityUKgM3: &purity},
		Air:     &Air{DensityKgM3: &rhoA, DensityUKgM3: &uRhoA},
		Balance: &Balance{ResolutionG: &d, RepeatabilityG: &sAir, RepeatabilityLiquidG: &sLiq},
		Hanger:  &Hanger{SurfaceUG: &zero}, ExpansionPerK: &expansion, ExpansionUPerK: &uExpansion,
	}
	if b.ethanol > 0 {
		p, u := 100*b.ethanol, 100*b.ethanolU
		draft.Liquid = &Liquid{Kind: "ethanol-water", EthanolMassPercent: &p, EthanolUPercent: &u, TemperatureC: &t, TemperatureUC: &ut}
	}
	return draft
}

// scenario is one row of the table in doc/coverage.md.
type scenario struct {
	name string
	// weigh fills the draft's readings for an item of the mass and density of the scenario.
	weigh      func(b *bench, d *Draft, mass, rho20 float64, n int)
	mass, rho  float64
	d          float64
	sAir, sLiq float64 // in units of d
	n          int
	unknown    bool // the keeper states no repeatability
	ethanol    float64
}

func hanging(b *bench, d *Draft, mass, rho20 float64, n int) {
	v := b.volume(mass, rho20)
	d.Arrangement, d.AirG, d.LiquidG = "hanging", b.inAir(mass, v, n), b.immersed(mass, v, n)
}

func standing(b *bench, d *Draft, mass, rho20 float64, n int) {
	v := b.volume(mass, rho20)
	d.Arrangement, d.AirG, d.GainG = "standing", b.inAir(mass, v, n), b.gain(v, n)
}

func withSinker(b *bench, d *Draft, mass, rho20 float64, n int) {
	v := b.volume(mass, rho20)
	const sinkerMass, sinkerVolume = 20.0, 2.5
	d.Method, d.AirG = "sinker-aided", b.inAir(mass, v, n)
	d.SinkerLiquidG = b.repeat(n, sinkerMass-b.liquid*sinkerVolume, b.sLiq)
	both := sinkerMass + mass - b.liquid*(sinkerVolume+v) - b.rise*(b.liquid-b.air)*v // the tare holds the sinker
	d.LiquidG = b.repeat(n, both, b.sLiq)
}

func coated(b *bench, d *Draft, mass, rho20 float64, n int) {
	v := b.volume(mass, rho20)
	const wax, waxU = 900.0, 4.0
	stated, u := wax, waxU
	d.Method, d.Coating = "coated", &Filler{DensityKgM3: &stated, DensityUKgM3: &u}
	waxMass := 0.012 * mass
	waxVolume := waxMass / ((wax + waxU*b.NormFloat64()) / 1000)
	d.AirG = b.inAir(mass, v, n)
	d.CoatedAirG = b.inAir(mass+waxMass, v+waxVolume, n)
	d.LiquidG = b.immersed(mass+waxMass, v+waxVolume, n)
}

// impregnated: rho20 is that of the body with empty pores.
func impregnated(b *bench, d *Draft, mass, rho20 float64, n int) {
	v := b.volume(mass, rho20)
	const oil, oilU, pores = 880.0, 5.0, 0.08
	stated, u := oil, oilU
	d.Method, d.Coating = "impregnated", &Filler{DensityKgM3: &stated, DensityUKgM3: &u}
	full := mass + pores*v*(oil+oilU*b.NormFloat64())/1000
	d.AirG = b.inAir(mass, v*(1-pores), n) // air fills the empty pores
	d.ImpregnatedAirG = b.inAir(full, v, n)
	d.LiquidG = b.immersed(full, v, n)
}

func pycnometer(b *bench, d *Draft, mass, rho20 float64, n int) {
	v := b.volume(mass, rho20)
	const glass, glassVolume, inside = 18.0, 8.0, 10.0
	d.Method = "pycnometer"
	d.EmptyG = b.inAir(glass, glassVolume, n)
	d.WithSampleG = b.inAir(glass+mass, glassVolume+v, n)
	d.LiquidOnlyG = b.repeat(n, glass-b.air*glassVolume+inside*(b.liquid-b.air), b.sLiq)
	d.WithSampleAndLiquidG = b.repeat(n, glass+mass-b.air*(glassVolume+v)+(inside-v)*(b.liquid-b.air), b.sLiq)
}

func comparison(b *bench, d *Draft, mass, rho20 float64, n int) {
	v := b.volume(mass, rho20)
	const solid, solidU, solidMass = 7930.0, 0.8, 40.0
	stated, u, expansion := solid, solidU, 48e-6
	solidVolume := solidMass / ((solid + solidU*b.NormFloat64()) / 1000) * (1 + expansion*(b.trueT-20))
	d.Method, d.Arrangement = "comparison", "hanging"
	d.AirG, d.LiquidG = b.inAir(mass, v, n), b.immersed(mass, v, n)
	d.Reference = &Reference{DensityKgM3: &stated, DensityUKgM3: &u, ExpansionK: &expansion,
		AirG: b.inAir(solidMass, solidVolume, n), LiquidG: b.immersed(solidMass, solidVolume, n)}
}

// coverageOf returns the share of trials whose 95 % interval holds the truth, and the median
// half-width over the density.
func coverageOf(t testing.TB, s scenario, trials int) (share, halfWidth float64) {
	t.Helper()
	var halfWidths []float64
	held := 0
	b := &bench{Rand: rand.New(rand.NewPCG(20261125, uint64(1000*s.mass)+uint64(s.n))), d: s.d, sAir: s.sAir * s.d, sLiq: s.sLiq * s.d,
		t: 21.5, uT: 0.2, rhoA: 1.19, uRhoA: 0.012, liquidU: 0.02, ethanol: s.ethanol, ethanolU: 0.002}
	done := 0
	for done < trials {
		b.fill()
		d := b.draft()
		mass := s.mass * (0.7 + 0.6*b.Float64()) // so that the phase of the rounding is even
		s.weigh(b, d, mass, s.rho, s.n)
		if s.unknown {
			d.Balance = &Balance{ResolutionG: d.Balance.ResolutionG}
		}
		e := &evaluation{draft: d, answer: &Answer{}}
		if err := e.prepare(); err != nil {
			t.Fatalf("%s: %v", s.name, err)
		}
		if err := e.plausible(); err != nil {
			continue // the program refuses; nothing to cover
		}
		if err := e.measure(Options{MonteCarlo: WhereNeeded}); err != nil {
			t.Fatalf("%s: %v", s.name, err)
		}
		done++
		a := e.answer.Density20C
		truth := 1000 * s.rho
		if a.LowKgM3 <= truth && (a.HighKgM3 == nil || truth <= *a.HighKgM3) {
			held++
		}
		if a.HighKgM3 != nil {
			halfWidths = append(halfWidths, (*a.HighKgM3-a.LowKgM3)/2/truth)
		}
	}
	slices.Sort(halfWidths)
	return float64(held) / float64(trials), halfWidths[len(halfWidths)/2]
}

func (s scenario) String() string {
	known := "stated"
	if s.unknown {
		known = "guessed"
	}
	return fmt.Sprintf("%s, %g g, d %g g, s %g d / %g d %s, n %d", s.name, s.mass, s.d, s.sAir, s.sLiq, known, s.n)
}
