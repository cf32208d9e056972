package determination

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wreath/internal/nearest"
)

// oneOf checks a word against the words known; "" passes.
func oneOf(field, got string, known ...string) error {
	if got == "" || slices.Contains(known, got) {
		return nil
	}
	hint := "Known: " + strings.Join(known, ", ") + "."
	if n := nearest.Word(got, known); n != "" {
		hint = "Did you mean " + n + "? " + hint
	}
	return bad(field, hint, "there is no %q", got)
}

func firstError(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// checkReadings refuses readings that no balance shows for a real item.
func checkReadings(field string, readings []Reading, capacity *float64, mayBeNegative bool) error {
	if len(readings) == 0 {
		return bad(field, "Give at least one reading in grams.", "is missing")
	}
	if len(readings) > 1000 {
		return bad(field, "Give at most 1000 readings of one kind.", "holds %d readings", len(readings))
	}
	for i, r := range readings {
		reason, hint := "", ""
		switch g := r.Gram; {
		case g != g || g > MaxReadingG || g < -MaxReadingG:
			reason, hint = "is no reading of a balance", "Check the digits and the unit; readings are in grams."
		case g == 0 && !mayBeNegative:
			reason, hint = "is zero", "Weigh again; was the item on the pan?"
		case g < 0 && !mayBeNegative:
			reason, hint = "is negative", "Set the balance to zero with the empty hanger and weigh again."
		case capacity != nil && g > *capacity:
			reason, hint = fmt.Sprintf("is more than the balance's capacity of %g g", *capacity), "Use a larger balance."
		default:
			continue
		}
		if len(readings) > 1 {
			field = fmt.Sprintf("%s[%d]", field, i)
		}
		return bad(field, hint, "%s g %s", written(r.Gram), reason)
	}
	first, last := math.Inf(1), 0.0
	for _, r := range readings {
		first, last = math.Min(first, math.Abs(r.Gram)), math.Max(last, math.Abs(r.Gram))
	}
	if last > 2*first && last-first > 10*readings[0].Interval && !mayBeNegative {
		return bad(field, "Readings of one item are nearly alike. A decimal comma makes two readings of one: write 7.4218 with a point.",
			"the readings %g g and %g g can't be of one item", first, last)
	}
	return nil
}

// checkConditions refuses conditions that no bench has. Ranges are chosen here: wide enough for
// any room, narrow enough to catch a wrong unit.
func (d *Draft) checkConditions() error {
	l, a, b, h := d.Liquid, d.Air, d.Balance, d.Hanger
	if l == nil {
		l = &Liquid{}
	}
	if a == nil {
		a = &Air{}
	}
	if b == nil {
		b = &Balance{}
	}
	if h == nil {
		h = &Hanger{}
	}
	if h.Wires != nil && (*h.Wires < 1 || *h.Wires > 100) {
		return bad("hanger.wires", "Count the wires that pass through the surface.", "%d wires cannot be right", *h.Wires)
	}
	if r := d.Reference; r != nil {
		if err := within("reference.expansion_per_k", r.ExpansionK, 0, 0.001, "per K"); err != nil {
			return err
		}
	}
	return firstError(
		oneOf("arrangement", d.Arrangement, "hanging", "standing"),
		oneOf("method", d.Method, Methods...),
		oneOf("liquid.kind", l.Kind, "water", "ethanol-water", "measured"),
		oneOf("balance.zero", b.Zero, "tared", "read"),
		within("liquid.temperature_c", l.TemperatureC, -50, 150, "°C"),
		within("liquid.temperature_u_c", l.TemperatureUC, 0, 20, "K"),
		within("liquid.ethanol_mass_percent", l.EthanolMassPercent, 0, 100, "%"),
		within("liquid.ethanol_volume_percent_20c", l.EthanolVolumePercent20, 0, 100, "%"),
		within("liquid.ethanol_u_percent", l.EthanolUPercent, 0, 20, "%"),
		within("liquid.density_kg_m3", l.DensityKgM3, 500, 5000, "kg/m³"),
		within("liquid.density_u_kg_m3", l.DensityUKgM3, 0, 200, "kg/m³"),
		within("liquid.density_temperature_c", l.DensityTemperatureC, -50, 150, "°C"),
		within("liquid.expansion_per_k", l.ExpansionPerK, 0, 0.003, "per K"),
		within("liquid.expansion_u_per_k", l.ExpansionUPerK, 0, 0.003, "per K"),
		within("liquid.air_saturation", l.AirSaturation, 0, 1, ""),
		within("air.temperature_c", a.TemperatureC, -50, 60, "°C"),
		within("air.pressure_hpa", a.PressureHPa, 300, 1200, "hPa"),
		within("air.humidity_percent", a.HumidityPercent, 0, 100, "%"),
		within("air.altitude_m", a.AltitudeM, -500, 9000, "m"),
		within("air.density_kg_m3", a.DensityKgM3, 0, 1.6, "kg/m³"),
		within("air.density_u_kg_m3", a.DensityUKgM3, 0, 0.5, "kg/m³"),
		within("balance.resolution_g", b.ResolutionG, 1e-7, 1000, "g"),
		within("balance.repeatability_g", b.RepeatabilityG, 1e-9, 10000, "g"),
		within("balance.repeatability_liquid_g", b.RepeatabilityLiquidG, 1e-9, 10000, "g"),
		within("balance.repeatability_dof", b.RepeatabilityDof, 1, 1e6, ""),
		within("balance.linearity_g", b.LinearityG, 0, 10000, "g"),
		within("balance.span_u_ppm", b.SpanUPpm, 0, 1e5, "ppm"),
		within("balance.capacity_g", b.CapacityG, 1e-3, MaxReadingG, "g"),
		within("balance.adjustment_air_kg_m3", b.AdjustmentAirKgM3, 0, 1.6, "kg/m³"),
		within("hanger.wire_diameter_mm", h.WireDiameterMM, 0, 20, "mm"),
		within("hanger.vessel_diameter_mm", h.VesselDiameterMM, 5, 5000, "mm"),
		within("hanger.surface_u_g", h.SurfaceUG, 0, 100, "g"),
		within("expansion_per_k", d.ExpansionPerK, 0, 0.001, "per K"),
		within("expansion_u_per_k", d.ExpansionUPerK, 0, 0.001, "per K"),
	)
}

// lightestG is the lightest item that a mass at the intake can be of, in grams; chosen here: a grain of dust.
const lightestG = 1e-6

// checkItem refuses a mass at the intake that no item has.
func (d *Draft) checkItem() error {
	if d.Item == nil {
		return nil
	}
	return within("item.intake_mass_g", d.Item.IntakeMassG, lightestG, MaxReadingG, "g")
}

// Methods are the ways of weighing that are known.
var Methods = []string{"immersion", "sinker-aided", "coated", "impregnated", "pycnometer", "comparison"}
