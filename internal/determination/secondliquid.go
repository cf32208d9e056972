package determination

import (
	"math"

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
	DensityKgM3        *float64  `json:"density_kg_m3" doc:"measured: density"`
	DensityUKgM3       *float64  `json:"density_u_kg_m3" doc:"standard uncertainty of its density; 0.05 % unless said"`
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

// density is that of the second liquid in g/cm³; false where no formula reaches.
func (l *SecondLiquid) density() (rho, u float64, ok bool) {
	celsius := quantity.Temperature(or(l.TemperatureC, 20))
	var d quantity.Density
	var err error
	switch l.Kind {
	case "measured":
		d = quantity.KgPerM3(*l.DensityKgM3)
	case "ethanol-water":
		d, err = fluid.EthanolWater(*l.EthanolMassPercent/100, celsius)
	default:
		d, err = fluid.Water(celsius, 101325, 0.5)
	}
	rho = d.GramPerCm3()
	return rho, or(l.DensityUKgM3, 0.5*rho) / 1000, err == nil && rho > 0
}

// How often a weighing in a second liquid is itself wrong, and over how wide a share of the specific
// volume it then lies; chosen here, the first from the weights of the faults that hit an immersion.
const (
	wrongSecond = 0.05
	wrongReach  = 0.2
)

// inFirstLiquid are the faults that a weighing in a second liquid is free of.
var inFirstLiquid = [...]fault.Kind{fault.Bubble, fault.Zero, fault.Touching, fault.Wire, fault.Temperature, fault.Liquid, fault.Ethanol, fault.Drift}

// weighSecondLiquid holds the weighing in the second liquid against the faults. When something was
// wrong in the first, the second shows the claim; when it lies in the item, both agree.
func (e *evaluation) weighSecondLiquid() {
	l := e.draft.SecondLiquid
	w := &e.weighed
	if l == nil || len(w.Air) == 0 || len(w.Immersed) == 0 {
		return
	}
	rho, u, ok := l.density()
	if !ok {
		return
	}
	air, _ := mean(e.draft.AirG)
	lost, n := 0.0, float64(len(l.GainG))
	if n > 0 {
		lost, _ = mean(l.GainG)
	} else {
		reading, _ := mean(l.LiquidG)
		lost, n = air-reading, float64(len(l.LiquidG))
	}
	first := 0.0
	for _, r := range w.Immersed {
		b := r.Gram
		if !e.standing {
			b = air - r.Gram
		}
		first += b / float64(len(w.Immersed))
	}
	// Both as specific volumes of the item, by one and the same expression.
	volume := func(lost, rho float64) float64 { return lost / (rho - w.AirRho) / air }
	v1, v2 := volume(first, w.LiquidRho), volume(lost, rho)
	if v2 <= 0 || v1 <= 0 {
		return
	}
	s2 := v2 * math.Hypot(u/rho, math.Hypot(w.ImmersedS/math.Sqrt(n), w.AirS)/lost)
	s1 := v1 * math.Hypot(w.LiquidU, w.ImmersedS/math.Sqrt(float64(len(w.Immersed)))/first)
	bell := func(d, s float64) float64 { return math.Exp(-d*d/(2*s*s)) / s }
	agrees, claimed := bell(v2-v1, math.Hypot(s1, s2)), 0.0
	for _, node := range e.faultCase.Claimed {
		// The buoyancy of the air on the item, as in volume.
		claimed += node.Weight * bell(v2-node.V/(1-w.AirRho*node.V), math.Hypot(node.SD, s2))
	}
	// The second weighing can be wrong as the first can, and then shows anything near: one that agrees
	// with neither says nothing of the first.
	astray := wrongSecond * math.Sqrt(2*math.Pi) / (wrongReach * v2)
	if agrees < astray && claimed < astray {
		e.doubt("the second liquid agrees with neither the first nor the claim", "Weigh it in the second liquid again.",
			"the weighing in the second liquid gives %.4g g/cm³", (1+v2*w.AirRho)/v2)
		return
	}
	const most = 1e4 // no single weighing says more; chosen here
	factor := math.Min(math.Max(claimed/math.Max(agrees, 1e-12), 1/most), most)
	if math.IsNaN(factor) {
		return
	}
	w.Factor = func(k fault.Kind) float64 {
		for _, free := range inFirstLiquid {
			if k == free {
				return factor
			}
		}
		return 1
	}
}
