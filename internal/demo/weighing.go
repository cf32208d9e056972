package demo

import (
	"math"
	"math/rand/v2"
	"strconv"

	"wreath/fluid"
	"wreath/quantity"
)

// place is what is true of a station, beside what its papers say.
type place struct {
	station   string
	d         float64 // scale interval of the balance, g
	sAir      float64 // true standard deviation of a reading in air, before rounding, g
	sLiquid   float64 // the same immersed
	wireMM    float64
	vesselMM  float64
	ethanol   float64 // true strength by volume; 0: water
	piece     body    // the check piece; no mass: none
	thermoOff float64 // what must be added to what the thermometer shows, K
	airC      float64
	hPa       float64
}

// The check pieces as they are. Their files state the density a little otherwise, within what the
// files allow.
var (
	smallPiece = body{39.6621, 39.6621 / 7.93012, 48e-6}
	largePiece = body{10000.31, 10000.31 / 7.98505, 48e-6}
)

// Places of the shop; their papers are in equipment.go.
var (
	bench     = place{station: "bench", d: 0.0001, sAir: 0.00008, sLiquid: 0.00022, wireMM: 0.2, vesselMM: 70, piece: smallPiece, thermoOff: -0.2, airC: 21.9, hPa: 994}
	spirit    = place{station: "spirit", d: 0.0001, sAir: 0.00008, sLiquid: 0.00018, wireMM: 0.2, vesselMM: 70, ethanol: 0.9588, piece: smallPiece, thermoOff: -0.2, airC: 21.9, hPa: 994}
	counter   = place{station: "counter", d: 0.01, sAir: 0.004, sLiquid: 0.006, wireMM: 0.5, vesselMM: 90, thermoOff: 0.4, airC: 22.6, hPa: 994}
	receiving = place{station: "receiving", d: 0.1, sAir: 0.05, sLiquid: 0.09, wireMM: 1, vesselMM: 300, piece: largePiece, thermoOff: 0.05, airC: 19.1, hPa: 994}
)

// weighing is one session at a place: the liquid and the air as they are at that time.
type weighing struct {
	*rand.Rand
	place
	tempC       float64 // of the liquid
	liquid, air float64 // g/cm³
}

// newWeighing begins a session. Swapped says that what stands in the vessel is not what the station's
// label says: spirit in the place of water.
func newWeighing(p place, seed uint64, swapped bool) *weighing {
	w := &weighing{Rand: rand.New(rand.NewPCG(seed, 20261126)), place: p}
	w.tempC = p.airC - 0.6 + 0.5*(w.Float64()-0.5)
	strength := p.ethanol
	if swapped {
		strength = spirit.ethanol
	}
	w.liquid = liquidDensity(strength, w.tempC)
	rho, _, _, err := fluid.Air(quantity.Temperature(p.airC), quantity.Pressure(100*p.hPa), 0.45)
	if err != nil {
		panic(err)
	}
	w.air = rho.GramPerCm3()
	return w
}

func liquidDensity(strength, t float64) float64 {
	if strength == 0 {
		rho, err := fluid.Water(quantity.Temperature(t), 101325, 0.6)
		if err != nil {
			panic(err)
		}
		return rho.GramPerCm3()
	}
	mass, err := fluid.EthanolMassFraction(strength)
	if err != nil {
		panic(err)
	}
	rho, err := fluid.EthanolWater(mass, quantity.Temperature(t))
	if err != nil {
		panic(err)
	}
	return rho.GramPerCm3()
}

// shows is what a balance shows that was adjusted in air of 1.2 kg/m³ with weights of 8000 kg/m³
// (OIML D 28), and tared just before.
func (w *weighing) shows(force, s float64) string {
	reading := force/(1-1.2/8000) + s*w.NormFloat64()
	decimals := int(math.Round(-math.Log10(w.d)))
	return strconv.FormatFloat(math.Round(reading/w.d)*w.d, 'f', max(decimals, 0), 64)
}

func (w *weighing) volume(b body) float64 { return b.volume * (1 + b.expansion*(w.tempC-20)) }

func (w *weighing) inAir(b body) string { return w.shows(b.mass-w.air*w.volume(b), w.sAir) }

// immersed hangs the item in the liquid. The item raises the level and so wets more of the wire; a
// bubble, by its diameter in mm, lifts as well.
func (w *weighing) immersed(b body, bubbleMM float64) string {
	v := w.volume(b)
	wire, vessel := w.wireMM*w.wireMM, w.vesselMM*w.vesselMM
	v += v * wire / (vessel - wire)
	if bubbleMM > 0 {
		v += math.Pi * math.Pow(bubbleMM/10, 3) / 6
	}
	return w.shows(b.mass-w.liquid*v, w.sLiquid)
}

// empty is what the balance shows with the empty hanger in the liquid: the zero stayed.
func (w *weighing) empty() string { return w.shows(0, 0) }

// thermometer is what the thermometer of the station shows.
func (w *weighing) thermometer() string {
	return strconv.FormatFloat(w.tempC-w.thermoOff+0.02*w.NormFloat64(), 'f', 1, 64)
}
