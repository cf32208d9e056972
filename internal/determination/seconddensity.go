package determination

import (
	"fmt"
	"math"

	"wreath/uncertainty"
)

// SecondDensity is what the weighing in the second liquid finds by itself.
type SecondDensity struct {
	Kind         string  `json:"kind" doc:"the second liquid: water, ethanol-water or measured"`
	LiquidKgM3   float64 `json:"liquid_kg_m3" doc:"its density at its temperature"`
	LiquidUKgM3  float64 `json:"liquid_u_kg_m3" doc:"standard uncertainty of that"`
	KgM3         float64 `json:"kg_m3" doc:"density of the item at 20 °C by the second liquid"`
	UKgM3        float64 `json:"u_kg_m3" doc:"its standard uncertainty"`
	UExpanded    float64 `json:"U_kg_m3" doc:"expanded uncertainty, 95 % of a normal distribution"`
	ApartU       float64 `json:"apart_u" doc:"how many standard uncertainties of their difference lie between the densities by the two liquids"`
	Agrees       bool    `json:"agrees" doc:"true up to 2.58 of them"`
	TemperatureC float64 `json:"temperature_c" doc:"temperature in the second liquid"`
	Sentence     string  `json:"sentence" doc:"in words"`
}

// secondDensity writes down what the weighing in the second liquid finds, once the engine has it.
func (e *evaluation) secondDensity() {
	o := e.weighed.Another
	if o == nil {
		return
	}
	_, v, apart, ok := e.faults.BothLiquids()
	if !ok || math.IsInf(1/v, 0) {
		return
	}
	air, _ := mean(e.draft.AirG)
	lost := o.Gram
	if !o.Gain {
		lost = air - o.Gram
	}
	d := &SecondDensity{Kind: e.draft.SecondLiquid.Kind, LiquidKgM3: 1000 * e.secondRho, LiquidUKgM3: 1000 * e.secondU, KgM3: 1000 / v,
		UKgM3: 1000 / v * math.Hypot(o.RhoU, o.GramU/lost), ApartU: apart, Agrees: apart <= fitsWithin, TemperatureC: or(e.draft.SecondLiquid.TemperatureC, 20)}
	k := uncertainty.NormalQuantile((1 + coverage) / 2)
	d.UExpanded = k * d.UKgM3
	rho, u := uncertainty.Round(d.KgM3/1000, d.UExpanded/1000)
	liquid, liquidU := uncertainty.Round(d.LiquidKgM3, k*d.LiquidUKgM3)
	format := "In the second liquid (%s, %s ± %s kg/m³) it has %s ± %s g/cm³ at 20 °C (95 %%): both liquids agree."
	if !d.Agrees {
		format = "In the second liquid (%s, %s ± %s kg/m³) it has %s ± %s g/cm³ at 20 °C (95 %%): the two liquids do not agree."
	}
	d.Sentence = fmt.Sprintf(format, d.Kind, liquid, liquidU, rho, u)
	e.answer.SecondLiquid = d
}
