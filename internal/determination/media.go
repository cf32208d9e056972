package determination

import (
	"fmt"
	"math"

	"wreath/fluid"
	"wreath/quantity"
	"wreath/uncertainty"
)

// air resolves the density of the air to one input of the model.
func (e *evaluation) air() error {
	a := e.draft.Air
	if a == nil {
		a = &Air{}
	}
	if a.DensityKgM3 != nil {
		if a.TemperatureC != nil || a.PressureHPa != nil || a.HumidityPercent != nil || a.AltitudeM != nil {
			return bad("air.density_kg_m3", "Give the density of the air, or the conditions that it follows from.", "is given together with temperature, pressure, humidity or altitude")
		}
		u := or(a.DensityUKgM3, 0.012)
		if a.DensityUKgM3 == nil {
			e.assume("air.density_u_kg_m3", "1 % of the air's density; chosen here", "air density known to ±0.012 kg/m³")
		}
		e.airRho = e.input("air density", "kg/m³", *a.DensityKgM3, u, uncertainty.Normal, 0)
		return nil
	}
	t, ut := or(a.TemperatureC, 20), 0.5
	if a.TemperatureC == nil {
		ut = 3
		if lt := e.draft.Liquid; lt != nil && lt.TemperatureC != nil {
			t = math.Max(15, math.Min(27, *lt.TemperatureC))
		}
		e.assume("air.temperature_c", "the liquid stands in the room", "air at %.4g °C ± 3 K", t)
	}
	p, up := or(a.PressureHPa, 1013.25), 1.0
	switch {
	case a.PressureHPa == nil && a.AltitudeM != nil:
		atHeight, err := fluid.PressureAtAltitude(*a.AltitudeM)
		if err != nil {
			return at("air.altitude_m", err)
		}
		p, up = atHeight.HPa(), 30/math.Sqrt(3)
		e.assume("air.pressure_hpa", "standard atmosphere at the altitude given, weather ±30 hPa", "%.5g hPa ± 30 hPa", p)
	case a.PressureHPa == nil:
		up = 30 / math.Sqrt(3)
		e.assume("air.pressure_hpa", "sea level; give altitude_m or pressure_hpa where the bench stands higher", "1013.25 hPa ± 30 hPa")
	}
	h, uh := or(a.HumidityPercent, 50)/100, 0.05
	if a.HumidityPercent == nil {
		uh = 0.3 / math.Sqrt(3)
		e.assume("air.humidity_percent", "an ordinary room", "50 %% ± 30 %%")
	}
	rho, relU, _, err := fluid.Air(quantity.Temperature(t), quantity.HPa(p), h)
	if err != nil {
		field := "air.pressure_hpa"
		if a.PressureHPa == nil && a.TemperatureC != nil {
			field = "air.temperature_c"
		}
		return at(field, err)
	}
	// Relative sensitivities of moist air: 1/p, -1/T, and -0.3780 x_v for the humidity
	// (Picard 2008, short form of the equation).
	vapour := 0.378 * 2339 / (p * 100) * math.Exp(0.061*(t-20))
	u := rho.KgPerM3() * math.Sqrt(relU*relU+up*up/(p*p)+ut*ut/(293*293)+vapour*vapour*uh*uh)
	e.airRho = e.input("air density", "kg/m³", rho.KgPerM3(), u, uncertainty.Normal, 0)
	e.pressure = quantity.HPa(p)
	return nil
}

// liquid resolves the density of the liquid near its temperature to a parabola in the
// temperature, with inputs for everything else that is uncertain about it.
func (e *evaluation) liquid() error {
	l := e.draft.Liquid
	if l == nil {
		if e.method == "comparison" {
			l = &Liquid{Kind: "water"}
		} else {
			return bad("liquid", `Say which liquid: {"kind": "water", "temperature_c": 21.4}.`, "is missing")
		}
	}
	t, ut := or(l.TemperatureC, 20), or(l.TemperatureUC, 0.3)
	if l.TemperatureC == nil {
		ut = or(l.TemperatureUC, 2)
		e.assume("liquid.temperature_c", "measure it in the liquid, at the item", "20 °C, standard uncertainty %g K", ut)
	} else if l.TemperatureUC == nil {
		e.assume("liquid.temperature_u_c", "an ordinary thermometer read beside the item; chosen here", "standard uncertainty 0.3 K")
	}
	e.liquidC = t
	e.liquidT = e.input("liquid temperature", "°C", t, ut, uncertainty.Normal, 0)
	kind := l.Kind
	if kind == "" {
		if l.DensityKgM3 != nil {
			kind = "measured"
		} else {
			kind = "water"
			e.assume("liquid.kind", "the usual liquid", "water")
		}
	}
	if err := l.onlyOf(kind); err != nil {
		return err
	}
	switch kind {
	case "water":
		return e.water(l, quantity.Temperature(t))
	case "ethanol-water":
		return e.ethanol(l, quantity.Temperature(t))
	}
	return e.measured(l, quantity.Temperature(t))
}

// onlyOf refuses fields that belong to another kind of liquid: they would be passed over silently.
func (l *Liquid) onlyOf(kind string) error {
	for _, f := range []struct {
		name, kind string
		given      bool
	}{
		{"ethanol_mass_percent", "ethanol-water", l.EthanolMassPercent != nil},
		{"ethanol_volume_percent_20c", "ethanol-water", l.EthanolVolumePercent20 != nil},
		{"ethanol_u_percent", "ethanol-water", l.EthanolUPercent != nil},
		{"density_kg_m3", "measured", l.DensityKgM3 != nil},
		{"density_temperature_c", "measured", l.DensityTemperatureC != nil},
		{"expansion_per_k", "measured", l.ExpansionPerK != nil},
		{"expansion_u_per_k", "measured", l.ExpansionUPerK != nil},
		{"air_saturation", "water", l.AirSaturation != nil},
	} {
		if f.given && f.kind != kind {
			return bad("liquid."+f.name, fmt.Sprintf("Leave it out, or give \"kind\": %q.", f.kind), "belongs to a liquid of the kind %s, not %s", f.kind, kind)
		}
	}
	return nil
}

func (e *evaluation) water(l *Liquid, t quantity.Temperature) error {
	saturation := or(l.AirSaturation, 0.5)
	rho := func(t quantity.Temperature) (quantity.Density, error) { return fluid.Water(t, e.pressure, saturation) }
	if err := e.parabola("liquid.temperature_c", t, 0, 40, rho); err != nil {
		return err
	}
	if e.method == "comparison" {
		return nil
	}
	half := 2 * fluid.WaterSaturationHalfWidth(t).KgPerM3()
	if l.AirSaturation == nil {
		half /= 2
		e.assume("liquid.air_saturation", "a beaker lies somewhere between boiled and saturated", "half saturated with air ± half (%.1f ppm)", half*1000/0.998)
	} else {
		half /= 10
	}
	e.input("liquid: dissolved air", "kg/m³", 0, half/math.Sqrt(3), uncertainty.Rectangular, 0)
	e.addToLiquid()
	e.input("liquid: water formula", "kg/m³", 0, fluid.WaterExpandedU(t).KgPerM3()/2, uncertainty.Normal, 0)
	e.addToLiquid()
	purity := or(l.DensityUKgM3, 0.02/math.Sqrt(3))
	if l.DensityUKgM3 == nil {
		e.assume("liquid.density_u_kg_m3", "common practice for distilled or demineralised water; salts of tap water can add 0.3 kg/m³", "water clean to ±0.02 kg/m³")
	}
	e.input("liquid: purity", "kg/m³", 0, purity, uncertainty.Rectangular, 0)
	e.addToLiquid()
	return nil
}

func (e *evaluation) ethanol(l *Liquid, t quantity.Temperature) error {
	field, p := "liquid.ethanol_mass_percent", 0.0
	u := or(l.EthanolUPercent, 0.5) / 100
	switch {
	case l.EthanolMassPercent != nil && l.EthanolVolumePercent20 != nil:
		return bad("liquid.ethanol_volume_percent_20c", "Give one of the two strengths.", "is given together with ethanol_mass_percent")
	case l.EthanolMassPercent != nil:
		p = *l.EthanolMassPercent / 100
	case l.EthanolVolumePercent20 != nil:
		field = "liquid.ethanol_volume_percent_20c"
		q := *l.EthanolVolumePercent20 / 100
		var err error
		if p, err = fluid.EthanolMassFraction(q); err != nil {
			return at(field, err)
		}
		near := math.Max(0, q-0.005)
		below, err := fluid.EthanolMassFraction(near)
		if err != nil {
			return at(field, err)
		}
		if q > near {
			u *= (p - below) / (q - near)
		}
	default:
		return bad("liquid.ethanol_mass_percent", "Give the strength as ethanol_mass_percent or ethanol_volume_percent_20c (labels are by volume).", "is missing")
	}
	if l.EthanolUPercent == nil {
		e.assume("liquid.ethanol_u_percent", "label strengths drift as ethanol takes up water; a check piece weighed in it is better", "strength known to 0.5 %% (standard uncertainty)")
	}
	rho := func(t quantity.Temperature) (quantity.Density, error) { return fluid.EthanolWater(p, t) }
	if err := e.parabola("liquid.temperature_c", t, -20, 40, rho); err != nil {
		return err
	}
	if e.method == "comparison" {
		return nil
	}
	slope, _, err := fluid.EthanolWaterSlopes(p, t)
	if err != nil {
		return at(field, err)
	}
	e.input("liquid: ethanol strength", "kg/m³", 0, math.Abs(slope)*u, uncertainty.Normal, 0)
	e.addToLiquid()
	if l.DensityUKgM3 != nil {
		e.input("liquid: what else it holds", "kg/m³", 0, *l.DensityUKgM3, uncertainty.Normal, 0)
		e.addToLiquid()
	}
	e.input("liquid: ethanol-water formula", "kg/m³", 0, fluid.EthanolWaterU.KgPerM3()/2, uncertainty.Normal, 0)
	e.addToLiquid()
	e.answer.Cautions = append(e.answer.Cautions, fluid.Cautions("ethanol")...)
	return nil
}

func (e *evaluation) measured(l *Liquid, t quantity.Temperature) error {
	if l.DensityKgM3 == nil {
		return bad("liquid.density_kg_m3", "Give the density that a sinker or a certificate says, in kg/m³.", "is missing")
	}
	if l.DensityUKgM3 == nil {
		return bad("liquid.density_u_kg_m3", "Give the standard uncertainty of the liquid's density; a measured value without it proves nothing.", "is missing")
	}
	m := fluid.Measured{
		Density: quantity.KgPerM3(*l.DensityKgM3), U: quantity.KgPerM3(*l.DensityUKgM3),
		At:        quantity.Temperature(or(l.DensityTemperatureC, float64(t))),
		Expansion: quantity.Expansivity(or(l.ExpansionPerK, 0.0006)), ExpansionU: quantity.Expansivity(or(l.ExpansionUPerK, 0)),
	}
	if l.DensityTemperatureC == nil {
		e.assume("liquid.density_temperature_c", "the liquid was measured where it is used", "density holds at the liquid's temperature")
	}
	if l.ExpansionPerK == nil {
		m.ExpansionU = 0.0004
		e.assume("liquid.expansion_per_k", "between water and the organic liquids", "0.0006 ± 0.0004 per K")
	}
	if err := m.Check(); err != nil {
		return at("liquid.density_kg_m3", err)
	}
	_, u, err := m.DensityAt(t)
	if err != nil {
		return at("liquid.temperature_c", err)
	}
	rho := func(t quantity.Temperature) (quantity.Density, error) { r, _, err := m.DensityAt(t); return r, err }
	if err := e.parabola("liquid.temperature_c", t, float64(m.At)-10, float64(m.At)+10, rho); err != nil {
		return err
	}
	e.input("liquid: measured density", "kg/m³", 0, u.KgPerM3(), uncertainty.Normal, 0)
	e.addToLiquid()
	if l.Name != "" {
		liquid, ok := fluid.LiquidByKey(l.Name)
		if !ok {
			return oneOf("liquid.name", l.Name, liquidKeys()...)
		}
		e.answer.Cautions = append(e.answer.Cautions, fluid.Cautions(liquid.Key)...)
	}
	return nil
}

func liquidKeys() []string {
	var keys []string
	for _, l := range fluid.Liquids {
		keys = append(keys, l.Key)
	}
	return keys
}

// parabola sets the liquid's density near t from three values of its formula, all inside the
// formula's range: within a few kelvins a parabola follows each of the formulas to 1e-5 kg/m³.
func (e *evaluation) parabola(field string, t quantity.Temperature, low, high float64, rho func(quantity.Temperature) (quantity.Density, error)) error {
	const h = 0.5
	centre := quantity.Temperature(math.Max(low+h, math.Min(high-h, float64(t))))
	if _, err := rho(t); err != nil {
		return at(field, err)
	}
	var y [3]float64
	for i := range y {
		r, err := rho(centre + quantity.Temperature(h*float64(i-1)))
		if err != nil {
			return at(field, err)
		}
		y[i] = r.KgPerM3()
	}
	c2 := (y[2] - 2*y[1] + y[0]) / (2 * h * h)
	c1 := (y[2]-y[0])/(2*h) + 2*c2*float64(t-centre)
	d := float64(t - centre)
	e.rho0 = y[1] + (y[2]-y[0])/(2*h)*d + c2*d*d
	e.rho1, e.rho2 = c1, c2
	return nil
}
