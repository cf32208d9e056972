package determination

import (
	"math"

	"wreath/evidence"
	"wreath/fault"
	"wreath/fluid"
	"wreath/quantity"
)

// SecondLiquid is the same item weighed in another liquid. What is wrong with the first liquid, or
// hit an immersion in it, does not come back in the second; what lies in the item does.
type SecondLiquid struct {
	Kind               string    `json:"kind" doc:"water, ethanol-water or measured"`
	TemperatureC       *float64  `json:"temperature_c" doc:"temperature in it, °C; 20 unless said"`
	EthanolMassPercent *float64  `json:"ethanol_mass_percent" doc:"ethanol-water: strength by mass"`
	DensityKgM3        *float64  `json:"density_kg_m3" doc:"measured: density at that temperature"`
	DensityUKgM3       *float64  `json:"density_u_kg_m3" doc:"standard uncertainty of its density at that temperature; 0.05 % unless said, and of ethanol what 0.5 % of its strength make"`
	LiquidG            []Reading `json:"liquid_g" doc:"hanging: net readings of the item in it"`
	GainG              []Reading `json:"gain_g" doc:"standing: gain when the item hangs in it"`
}

func (d *Draft) checkSecondLiquid() error {
	l := d.SecondLiquid
	if l == nil {
		return nil
	}
	if err := firstError(oneOf("second_liquid.kind", l.Kind, "water", "ethanol-water", "measured"),
		within("second_liquid.temperature_c", l.TemperatureC, 0, 40, "°C"), within("second_liquid.ethanol_mass_percent", l.EthanolMassPercent, 0, 100, "%"),
		within("second_liquid.density_kg_m3", l.DensityKgM3, 500, 5000, "kg/m³"), within("second_liquid.density_u_kg_m3", l.DensityUKgM3, 0, 200, "kg/m³")); err != nil {
		return err
	}
	if (len(l.LiquidG) == 0) == (len(l.GainG) == 0) {
		return bad("second_liquid.liquid_g", "Give liquid_g where the item hangs from the balance, gain_g where the vessel stands on it.", "is missing, or given together with gain_g")
	}
	if l.Kind == "measured" && l.DensityKgM3 == nil {
		return bad("second_liquid.density_kg_m3", "Give the density of the second liquid.", "is missing")
	}
	if l.Kind == "ethanol-water" && l.EthanolMassPercent == nil {
		return bad("second_liquid.ethanol_mass_percent", "Give the strength of the ethanol.", "is missing")
	}
	for _, r := range append(append([]Reading{}, l.LiquidG...), l.GainG...) {
		if !(r.Gram > 0 && r.Gram < MaxReadingG) {
			return bad("second_liquid.liquid_g", "Check the digits and the unit; readings are in grams.", "%g g is no reading of an item in a liquid", r.Gram)
		}
	}
	if len(d.AirG) == 0 {
		return nil // refused elsewhere
	}
	air, _ := mean(d.AirG)
	if len(l.GainG) > 0 {
		if gain, _ := mean(l.GainG); gain >= air {
			return bad("second_liquid.gain_g", "Hang the item free of the bottom and the wall; gain_g is the rise of the vessel's reading, not the item's weight.",
				"the gain (%.10g g) is as large as the weight in air (%.10g g): the item rests on the bottom, or floats", gain, air)
		}
		return nil
	}
	if reading, _ := mean(l.LiquidG); reading >= air {
		return bad("second_liquid.liquid_g", "Check the digits and the unit; readings are in grams.",
			"the item is heavier in the liquid (%.10g g) than in air (%.10g g)", reading, air)
	}
	return nil
}

// density is that of the second liquid in g/cm³, with its standard uncertainty: what is stated of it,
// the thermometer (u in K), and of ethanol the strength. False where no formula reaches.
func (l *SecondLiquid) density(uCelsius float64) (rho, u float64, ok bool) {
	celsius := quantity.Temperature(or(l.TemperatureC, 20))
	at := func(celsius quantity.Temperature) (quantity.Density, error) {
		switch l.Kind {
		case "measured":
			const expansion = 0.0006 // per K, between water and the organic liquids
			return quantity.KgPerM3(*l.DensityKgM3 * (1 - expansion*float64(celsius-quantity.Temperature(or(l.TemperatureC, 20))))), nil
		case "ethanol-water":
			return fluid.EthanolWater(*l.EthanolMassPercent/100, celsius)
		}
		return fluid.Water(celsius, 101325, 0.5)
	}
	d, err := at(celsius)
	if err != nil {
		return 0, 0, false
	}
	rho = d.GramPerCm3()
	u = or(l.DensityUKgM3, 0.5*rho) / 1000
	step := quantity.Temperature(1)
	if celsius > 20 {
		step = -1 // the formulas end at 40 °C
	}
	if next, err := at(celsius + step); err == nil {
		u = math.Hypot(u, (next.GramPerCm3()-rho)*uCelsius)
	}
	if l.Kind == "ethanol-water" && l.DensityUKgM3 == nil {
		const strength = 0.005 // of a label, as for the first liquid
		if slope, _, err := fluid.EthanolWaterSlopes(*l.EthanolMassPercent/100, celsius); err == nil {
			u = math.Hypot(u, slope/1000*strength)
		}
	}
	return rho, u, rho > 0
}

// wrongSecond is how often a weighing in a second liquid is itself wrong; chosen here, from the weights
// of the faults that hit an immersion.
const wrongSecond = 0.05

// describeSecondLiquid tells the engine of the weighing in the second liquid.
func (e *evaluation) describeSecondLiquid() {
	l := e.draft.SecondLiquid
	w := &e.weighed
	if l == nil || len(w.Air) == 0 || len(w.Immersed) == 0 {
		return
	}
	// It is the same thermometer; without a temperature the room is guessed, as for the first liquid.
	uCelsius := 2.0
	if l.TemperatureC != nil {
		uCelsius = 0.3
		if first := e.draft.Liquid; first != nil {
			uCelsius = or(first.TemperatureUC, uCelsius)
		}
	}
	rho, u, ok := l.density(uCelsius)
	if !ok {
		return
	}
	e.secondRho, e.secondU = rho, u
	a := &e.second
	*a = fault.Another{Gain: len(l.GainG) > 0, Wrong: wrongSecond}
	readings := l.LiquidG
	if a.Gain {
		readings = l.GainG
	}
	a.Gram, _ = mean(readings)
	scale := 1.0
	if e.expansion >= 0 {
		scale *= 1 + e.inputs[e.expansion].Value*(or(l.TemperatureC, 20)-20)
	}
	if e.rise >= 0 {
		scale /= 1 - e.inputs[e.rise].Value
	}
	a.Rho, a.RhoU = (rho-w.AirRho)*scale, u/(rho-w.AirRho)
	// Repeats average the scatter, not the surface on a wire that was wetted otherwise at the tare.
	scatter2 := math.Max(0, w.ImmersedS*w.ImmersedS-e.surfaceU*e.surfaceU) / float64(len(readings))
	a.GramU = math.Sqrt(scatter2 + e.surfaceU*e.surfaceU + w.AirS*w.AirS)
	w.Another = a
}

// doubtSecondLiquid says where the weighings in the two liquids do not agree. Where one of them shows the
// claim and the other does not, a finding would rest on whichever came first: it is held back.
func (e *evaluation) doubtSecondLiquid() {
	if e.weighed.Another == nil {
		return
	}
	first, second, apart, ok := e.faults.BothLiquids()
	if ok && apart <= fitsWithin {
		return
	}
	claimed := reachOf(e.faultCase.Claimed)
	shows := func(v, relative float64) bool {
		slack := fitsWithin * v * relative
		return v > claimed.low-slack && v < claimed.high+slack
	}
	firstShows, secondShows := shows(first, e.faults.FirstU()), ok && shows(second, e.weighed.Another.RhoU)
	cause, settles := "the two liquids do not agree", "Weigh it in the second liquid again, then in the first."
	if !secondShows {
		cause, settles = "the second liquid agrees with neither the first nor the claim", "Weigh it in the second liquid again."
	}
	e.doubt(cause, settles, "the weighing in the second liquid gives %.4g g/cm³, that in the first %.4g", 1/second, 1/first)
	e.answer.Doubts[len(e.answer.Doubts)-1].Suspends = firstShows != secondShows
}

// describeVolume tells the engine what a caliper found: the volume of the outline, of which relief and
// rounded corners leave a part empty. It bears on everything that is wrong in the liquid alone.
func (e *evaluation) describeVolume() {
	var sizes []evidence.Size
	for i := range e.pieces {
		if size, ok := e.pieces[i].test.(evidence.Size); ok && !e.pieces[i].off {
			sizes = append(sizes, size)
		}
	}
	if len(sizes) == 0 {
		return
	}
	e.weighed.Volume = func(v, air float64) float64 {
		likelihood := 1.0
		material := evidence.Material{SpecificVolume: evidence.Range{Low: v, High: v}}
		for _, size := range sizes {
			size.Mass = air
			fits, _ := size.Likelihood(&material)
			likelihood *= fits
		}
		return likelihood
	}
}
