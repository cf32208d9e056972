package uncertainty

import "math"

// tanaka is air-free water in kg/m³, as in the package fluid, which these tests do not import.
// Tanaka et al., Metrologia 38 (2001) 301, eq. (1).
func tanaka(t float64) float64 {
	d := t - 3.983035
	return 999.974950 * (1 - d*d*(t+301.797)/(522528.9*(t+69.34881)))
}

// The seven-input hanging weighing of row J29: readings in g with their repeatability and a
// flat 0.05 mg each for resolution, water by Tanaka, air, and what the water has beside the
// formula, in kg/m³.
var hangingInputs = []Input{
	{Name: "reading in air", Unit: "g", Value: 12.4431, U: 0.0002},
	{Name: "reading in liquid", Unit: "g", Value: 11.6472, U: 0.0004},
	{Name: "resolution in air", Unit: "g", U: 0.00005 / math.Sqrt(3), Dist: Rectangular},
	{Name: "resolution in liquid", Unit: "g", U: 0.00005 / math.Sqrt(3), Dist: Rectangular},
	{Name: "water temperature", Unit: "°C", Value: 21.4, U: 0.1},
	{Name: "air density", Unit: "kg/m³", Value: 1.2, U: 0.01},
	{Name: "water purity", Unit: "kg/m³", U: 0.01},
}

func hanging(x []float64) float64 {
	inAir, inLiquid := x[0]+x[2], x[1]+x[3]
	air := x[5]
	return inAir/(inAir-inLiquid)*(tanaka(x[4])+x[6]-air) + air
}

// Worked example A: an 18 carat ring weighed five times in air and in water, all data
// invented. Budget and results computed with numpy and scipy, u_c also with the Python
// package uncertainties 3.1.6.
var ringPairs = [5][2]float64{
	{7.4216, 6.9426}, {7.4217, 6.9431}, {7.4216, 6.9424}, {7.4218, 6.9429}, {7.4216, 6.9427},
}

const (
	ringPressure  = 100820.0     // Pa
	ringAir       = 1.1836821    // kg/m³, CIPM-2007 at 22.3 °C, 100 820 Pa, 46 %
	ringWire      = 3.673469e-05 // wire area over vessel area
	ringWater     = 21.84        // °C
	ringExpansion = 46e-6        // per K
	ringD         = 0.0001       // g, the balance's step
)

// ringWaterDensity is air-saturated water at the ring's pressure; the dissolved air and the
// compressibility stay those of 21.84 °C, as in the computation the example is compared with.
func ringWaterDensity(t float64) float64 {
	const dissolved = -4.612e-3 + 0.106e-3*ringWater
	const kappa = (50.74 - 0.326*ringWater + 0.00416*ringWater*ringWater) * 1e-11
	return tanaka(t)*(1+kappa*(ringPressure-101325)) + dissolved
}

// ring is the density at 20 °C in kg/m³ for readings and the other inputs.
func ring(inAir, inLiquid, t, water, air, wire, expansion float64) float64 {
	liquid := ringWaterDensity(t) + water
	rho := inAir*(liquid-air)/((inAir-inLiquid)*(1-wire)) + air
	return rho * (1 + expansion*(t-20))
}

// ringInputs are the rows of the budget of example A, in its order.
func ringInputs() []Input {
	var rho [5]float64
	var inAir, inLiquid float64
	for i, r := range ringPairs {
		rho[i] = ring(r[0], r[1], ringWater, 0, ringAir, ringWire, ringExpansion)
		inAir += r[0] / 5
		inLiquid += r[1] / 5
	}
	mean, s := meanAndSD(rho[:])
	repeat := mean - ring(inAir, inLiquid, ringWater, 0, ringAir, ringWire, ringExpansion)
	step := ringD / math.Sqrt(6)
	linear := 0.0002 / math.Sqrt(3)
	return []Input{
		{Name: "repeatability", Unit: "kg/m³", Value: repeat, U: s / math.Sqrt(5), Dist: StudentT, Dof: 4},
		{Name: "resolution in air", Unit: "g", U: step, Dist: Triangular},
		{Name: "resolution in water", Unit: "g", U: step, Dist: Triangular},
		{Name: "non-linearity in air", Unit: "g", U: linear, Dist: Rectangular},
		{Name: "non-linearity in water", Unit: "g", U: linear, Dist: Rectangular},
		{Name: "surface tension on the wire", Unit: "g", U: 0.00015 / math.Sqrt(3), Dist: Rectangular},
		{Name: "thermometer certificate", Unit: "°C", U: 0.025, Dof: 60},
		{Name: "liquid temperature gradient", Unit: "°C", U: 0.1 / math.Sqrt(3), Dist: Rectangular},
		{Name: "water purity", Unit: "kg/m³", U: 0.005 / math.Sqrt(3), Dist: Rectangular},
		{Name: "air density", Unit: "kg/m³", Value: ringAir, U: 0.004},
		{Name: "wire", Unit: "1", Value: ringWire, U: 4.92599e-06},
		{Name: "expansion", Unit: "1/K", Value: ringExpansion, U: 5e-6},
	}
}

// ringModel takes the readings as constants and the corrections to them as inputs.
func ringModel(x []float64) float64 {
	inAir := (7.4216+7.4217+7.4216+7.4218+7.4216)/5 + x[1] + x[3]
	inLiquid := (6.9426+6.9431+6.9424+6.9429+6.9427)/5 + x[2] + x[4] + x[5]
	return x[0] + ring(inAir, inLiquid, ringWater+x[6]+x[7], x[8], x[9], x[10], x[11])
}

func meanAndSD(x []float64) (mean, sd float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sd += (v - mean) * (v - mean) / float64(len(x)-1)
	}
	return mean, math.Sqrt(sd)
}

// Two outputs of one weighing, for the tests of several outputs: volume in cm³ and density in
// g/cm³ from mass in g and loss in g in a liquid of known density.
var pairInputs = []Input{
	{Name: "mass", Unit: "g", Value: 10, U: 0.002},
	{Name: "loss", Unit: "g", Value: 0.8, U: 0.001},
}

func pair(x, out []float64) {
	out[0] = x[1] / 0.998
	out[1] = x[0] * 0.998 / x[1]
}

func sum(x []float64) float64 {
	total := 0.0
	for _, v := range x {
		total += v
	}
	return total
}
