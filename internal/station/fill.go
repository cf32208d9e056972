package station

import (
	"reflect"
	"slices"

	"wreath/internal/determination"
	"wreath/internal/strictjson"
)

// together are fields that belong to one thing: where a draft gives one of them, it speaks of
// another thing than the station, and the station leaves the rest open.
var together = [][]string{
	{"balance.repeatability_g", "balance.repeatability_liquid_g", "balance.repeatability_dof"},
	{"hanger.wire_diameter_mm", "hanger.wires", "hanger.vessel_diameter_mm", "hanger.surface_u_g"},
	{"liquid.ethanol_mass_percent", "liquid.ethanol_volume_percent_20c", "liquid.ethanol_u_percent"},
	{"liquid.density_kg_m3", "liquid.density_u_kg_m3", "liquid.density_temperature_c", "liquid.expansion_per_k", "liquid.expansion_u_per_k", "liquid.name"},
	{"liquid.proof.volume_cm3", "liquid.proof.volume_u_cm3", "liquid.proof.density_kg_m3", "liquid.proof.density_u_kg_m3", "liquid.proof.expansion_per_k"},
	{"reference.density_kg_m3", "reference.density_u_kg_m3", "reference.expansion_per_k"},
	{"coating.density_kg_m3", "coating.density_u_kg_m3"},
	{"expansion_per_k", "expansion_u_per_k"},
	{"stop_rule.expanded_kg_m3", "stop_rule.least", "stop_rule.most"},
}

// fill copies what the offer gives and the draft leaves out, and lists the paths, in the order of
// the draft's fields. What the draft gives is not touched. skip, where not nil, holds paths back.
func fill(d, offer *determination.Draft, skip func(path string) bool) []string {
	given := leaves(reflect.ValueOf(*d))
	another := func(path string) bool {
		if skip != nil && skip(path) {
			return true
		}
		for _, group := range together {
			if slices.Contains(group, path) && slices.ContainsFunc(group, func(other string) bool { _, ok := given[other]; return ok }) {
				return true
			}
		}
		return false
	}
	var filled []string
	fillGroup(reflect.ValueOf(d).Elem(), reflect.ValueOf(offer).Elem(), "", another, &filled)
	return filled
}

func fillGroup(dst, src reflect.Value, path string, skip func(string) bool, filled *[]string) {
	for _, f := range strictjson.Fields(src.Type()) {
		to, from, at := dst.Field(f.Index), src.Field(f.Index), strictjson.Join(path, f.Name)
		switch {
		case left(from):
		case from.Kind() == reflect.Pointer && from.Elem().Kind() == reflect.Struct:
			group, before := to, len(*filled)
			if to.IsNil() {
				group = reflect.New(from.Type().Elem())
			}
			fillGroup(group.Elem(), from.Elem(), at, skip, filled)
			if len(*filled) > before {
				to.Set(group)
			}
		case left(to) && !skip(at):
			if from.Kind() == reflect.Pointer {
				value := reflect.New(from.Type().Elem())
				value.Elem().Set(from.Elem())
				from = value
			}
			to.Set(from)
			*filled = append(*filled, at)
		}
	}
}

// kindOf is the kind of liquid that a draft speaks of, "" where it does not say.
func kindOf(l *determination.Liquid) string {
	switch {
	case l == nil:
		return ""
	case l.Kind != "":
		return l.Kind
	case l.DensityKgM3 != nil:
		return "measured"
	case l.EthanolMassPercent != nil || l.EthanolVolumePercent20 != nil:
		return "ethanol-water"
	}
	return ""
}

// clashes says which fields of an offer would contradict what the draft already says.
func clashes(d, offer *determination.Draft) func(path string) bool {
	otherLiquid := false
	if given, offered := kindOf(d.Liquid), kindOf(offer.Liquid); given != "" && offered != "" {
		otherLiquid = given != offered
	}
	given := leaves(reflect.ValueOf(*d))
	has := func(path string) bool { _, ok := given[path]; return ok }
	airKnown := has("air.density_kg_m3")
	airDescribed := has("air.temperature_c") || has("air.pressure_hpa") || has("air.humidity_percent") || has("air.altitude_m")
	return func(path string) bool {
		switch path {
		case "liquid.temperature_c", "liquid.temperature_u_c":
			return false
		case "air.density_kg_m3", "air.density_u_kg_m3":
			return airKnown || airDescribed
		case "air.temperature_c", "air.humidity_percent", "air.pressure_hpa":
			return airKnown
		case "air.altitude_m":
			return airKnown || has("air.pressure_hpa")
		case "arrangement":
			// Only plain immersion and comparison are weighed in an arrangement.
			return d.Method != "" && d.Method != "immersion" && d.Method != "comparison" ||
				d.Method == "comparison" && offer.Arrangement == "standing"
		case "liquid.kind", "liquid.ethanol_mass_percent", "liquid.ethanol_volume_percent_20c", "liquid.ethanol_u_percent",
			"liquid.density_kg_m3", "liquid.density_u_kg_m3", "liquid.density_temperature_c", "liquid.expansion_per_k",
			"liquid.expansion_u_per_k", "liquid.air_saturation", "liquid.name":
			return otherLiquid
		case "hanger.wire_diameter_mm", "hanger.wires", "hanger.vessel_diameter_mm", "hanger.surface_u_g":
			return d.Method == "pycnometer"
		case "reference.density_kg_m3", "reference.density_u_kg_m3", "reference.expansion_per_k":
			return d.Method != "comparison"
		case "coating.density_kg_m3", "coating.density_u_kg_m3":
			return d.Method != "coated" && d.Method != "impregnated"
		}
		return false
	}
}
