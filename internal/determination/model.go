package determination

import (
	"math"

	"wreath/uncertainty"
)

// The outputs of the model, in this order.
const (
	outV        = iota // specific volume at the liquid's temperature, cm³/g
	outV20             // the same at 20 °C
	outVolume          // volume at the liquid's temperature, cm³
	outMass            // true mass, g
	outLiquid          // density of the liquid, kg/m³
	outPorosity        // share of open pores
	outputs
)

// slot is a range of inputs that add up to one quantity: the mean of a reading and its errors.
type slot struct{ from, to int }

func (s slot) sum(x []float64) (sum float64) {
	for _, xi := range x[s.from:s.to] {
		sum += xi
	}
	return sum
}

// input appends an input of the model and returns its place.
func (e *evaluation) input(name, unit string, value, u float64, dist uncertainty.Distribution, dof float64) int {
	e.inputs = append(e.inputs, uncertainty.Input{Name: name, Unit: unit, Value: value, U: u, Dist: dist, Dof: dof})
	return len(e.inputs) - 1
}

// addToLiquid says that the input made last is an additive error of the liquid's density.
func (e *evaluation) addToLiquid() {
	e.liquidErrors[e.nLiquidErrors] = len(e.inputs) - 1
	e.nLiquidErrors++
}

// model is the measurement model: x in the order of e.inputs, densities of the media in kg/m³,
// readings in grams. It works in grams and cubic centimetres.
func (e *evaluation) model(x, out []float64) {
	dt := x[e.liquidT] - e.liquidC
	rhoL := e.rho0 + e.rho1*dt + e.rho2*dt*dt
	for _, i := range e.liquidErrors[:e.nLiquidErrors] {
		rhoL += x[i]
	}
	rhoL /= 1000
	rhoA := x[e.airRho] / 1000
	above20 := x[e.liquidT] - 20
	w := 1 - e.adjustmentAir/8000
	span := 1.0
	if e.span >= 0 {
		span = x[e.span]
	}

	a := e.slots[0].sum(x) // what stands for the air reading
	var lost float64       // what stands for the buoyancy: the difference of readings
	rho, porosity := 0.0, 0.0
	switch e.method {
	case "immersion":
		lost = e.lost(a, x)
	case "sinker-aided":
		lost = a - (e.slots[1].sum(x) - e.slots[2].sum(x))
	case "pycnometer":
		empty := e.slots[0].sum(x)
		a = e.slots[1].sum(x) - empty
		lost = (e.slots[3].sum(x) - empty) - (e.slots[2].sum(x) - e.slots[1].sum(x))
	case "comparison":
		lost = e.lost(a, x)
		reference := x[e.filler] / 1000 / (1 + e.referenceExpansion*above20)
		refAir, refLiquid := e.slots[2].sum(x), e.slots[3].sum(x)
		// Both solids displace the same liquid: (ρ-ρa)/(ρr-ρa) = (A/B)/(Ar/Br).
		rhoL = rhoA + (reference-rhoA)*(refAir-refLiquid)/refAir
	case "coated":
		coated, immersed := e.slots[1].sum(x), e.slots[2].sum(x)
		volume := w*(coated-immersed)/(rhoL-rhoA) - w*(coated-a)/(x[e.filler]/1000-rhoA)
		rho = w*a/volume + rhoA
		lost = (rhoL - rhoA) * volume / w
	case "impregnated":
		full, immersed := e.slots[1].sum(x), e.slots[2].sum(x)
		porosity = (full - a) * (rhoL - rhoA) / ((x[e.filler]/1000 - rhoA) * (full - immersed))
		lost = full - immersed
		rho = a*(rhoL-rhoA)/lost + rhoA*(1-porosity)
	}
	if e.rise >= 0 {
		lost *= 1 - x[e.rise]
	}
	if rho == 0 {
		rho = a*(rhoL-rhoA)/lost + rhoA
	}
	volume := span * w * lost / (rhoL - rhoA)
	out[outV] = 1 / rho
	out[outV20] = 1 / (rho * (1 + x[e.expansion]*above20))
	out[outVolume] = volume
	out[outMass] = span*w*a + rhoA*volume*(1-porosity)
	out[outLiquid] = rhoL * 1000
	out[outPorosity] = porosity
}

// lost is the loss of weight in the liquid: air less immersed, or the gain of the vessel.
func (e *evaluation) lost(a float64, x []float64) float64 {
	if e.standing {
		return e.slots[1].sum(x)
	}
	return a - e.slots[1].sum(x)
}

// readings makes one slot of a set of repeated readings: their mean, and the inputs for
// repeatability, resolution and linearity.
func (e *evaluation) readings(name string, readings []Reading, immersed bool) slot {
	value, s := mean(readings)
	n := len(readings)
	u, dof, dist := e.repeatability(name, n, s, immersed)
	s0 := slot{from: len(e.inputs)}
	e.input(name+": repeatability", "g", value, u, dist, dof)
	d := e.resolution
	if e.zeroRead {
		// Load and zero are each rounded to d: triangular, half-width d.
		e.input(name+": resolution", "g", 0, d/math.Sqrt(6), uncertainty.Triangular, 0)
	} else {
		// The load is rounded to d, the tare is set to zero within d/4.
		e.input(name+": resolution", "g", 0, d*math.Sqrt(roundingVariance), uncertainty.Rectangular, 0)
	}
	if e.linearity > 0 {
		e.input(name+": non-linearity", "g", 0, e.linearity/math.Sqrt(3), uncertainty.Rectangular, 0)
	}
	surface := e.surfaceU
	if surface == 0 && n >= enoughRepeats && e.assumedRepeatability(true) && e.method != "pycnometer" && (e.draft.Hanger == nil || e.draft.Hanger.SurfaceUG == nil) {
		// The guess held the surface force; the readings' own scatter, which takes its place, does not.
		surface = 0.00025 / math.Sqrt(3)
	}
	if immersed && surface > 0 {
		e.input(name+": surface force on the wire", "g", 0, surface, uncertainty.Rectangular, 0)
	}
	s0.to = len(e.inputs)
	return s0
}
