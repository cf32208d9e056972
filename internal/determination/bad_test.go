package determination

import (
	"errors"
	"os"
	"strings"
	"testing"
)

// TestBadInput: each gives one error that names the field, says why, and how to mend it; none
// gives a density.
func TestBadInput(t *testing.T) {
	for _, c := range []struct{ name, in, field, reason, hint string }{
		{"swapped", `{"air_g": [11.6472], "liquid_g": [12.4431], "liquid": {"kind": "water", "temperature_c": 21}}`, "liquid_g", "heavier in the liquid", "swapped"},
		{"equal", `{"air_g": [12.4431], "liquid_g": [12.4431], "liquid": {"kind": "water", "temperature_c": 21}}`, "liquid_g", "loses no weight", "finer"},
		{"zero", `{"air_g": [0], "liquid_g": [11.6], "liquid": {"kind": "water"}}`, "air_g", "is zero", "on the pan"},
		{"negative", `{"air_g": [-12.4431], "liquid_g": [11.6472], "liquid": {"kind": "water"}}`, "air_g", "negative", "zero"},
		{"second of two", `{"air_g": [12.4431, 0], "liquid_g": [11.6472], "liquid": {"kind": "water"}}`, "air_g[1]", "is zero", "pan"},
		{"absurd", `{"air_g": [1e30], "liquid_g": [11.6472], "liquid": {"kind": "water"}}`, "air_g", "no reading", "unit"},
		{"infinite", `{"air_g": [1e400], "liquid_g": [11.6472], "liquid": {"kind": "water"}}`, "air_g[0]", "too large", "exponent"},
		{"NaN", `{"air_g": [NaN], "liquid_g": [11.6472], "liquid": {"kind": "water"}}`, "air_g[0]", "not JSON", "12.4431"},
		{"NaN as text", `{"air_g": ["NaN g"], "liquid_g": [11.6472], "liquid": {"kind": "water"}}`, "air_g[0]", "no number", "12.4431"},
		{"decimal comma", `{"air_g": ["12,4431"], "liquid_g": [11.6472], "liquid": {"kind": "water"}}`, "air_g[0]", "decimal comma", "12.4431"},
		{"decimal comma with unit", `{"air_g": ["12,4431 g"], "liquid_g": [11.6472], "liquid": {"kind": "water"}}`, "air_g[0]", "decimal comma", "12.4431"},
		{"no unit", `{"air_g": ["12.4431"], "liquid_g": [11.6472], "liquid": {"kind": "water"}}`, "air_g[0]", "no unit", "12.4431 g"},
		{"unknown unit", `{"air_g": ["12.4431 lb"], "liquid_g": [11.6472], "liquid": {"kind": "water"}}`, "air_g[0]", `unknown unit "lb"`, "ozt"},
		{"unknown field", `{"air_q": [12.4431]}`, "air_q", "no such field", "air_g"},
		{"commas for points", `{"air_g": [7,4218], "liquid_g": [6,9431], "liquid": {"kind": "water"}}`, "air_g", "can't be of one item", "7.4218"},
		{"carat with a digit lost", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "water"}, "claim": {"metal": "gold", "carat": 1.8}}`, "claim.carat", "cannot be right", "digit"},
		{"no readings", `{"liquid": {"kind": "water"}}`, "air_g", "missing", "reading"},
		{"no immersed reading", `{"air_g": [12.4431], "liquid": {"kind": "water"}}`, "liquid_g", "missing", "reading"},
		{"no liquid", `{"air_g": [12.4431], "liquid_g": [11.6472]}`, "liquid", "missing", "water"},
		{"unknown liquid", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "wather"}}`, "liquid.kind", `no "wather"`, "water"},
		{"too warm", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "water", "temperature_c": 47.3}}`, "liquid.temperature_c", "outside 0 to 40", ""},
		{"too cold ethanol", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "ethanol-water", "ethanol_mass_percent": 90, "temperature_c": -30}}`, "liquid.temperature_c", "outside", ""},
		{"no strength", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "ethanol-water", "temperature_c": 20}}`, "liquid.ethanol_mass_percent", "missing", "strength"},
		{"two strengths", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "ethanol-water", "ethanol_mass_percent": 90, "ethanol_volume_percent_20c": 96}}`, "liquid.ethanol_volume_percent_20c", "together", "one"},
		{"measured without uncertainty", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "measured", "density_kg_m3": 998}}`, "liquid.density_u_kg_m3", "missing", "uncertainty"},
		{"liquid in g/cm³", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "measured", "density_kg_m3": 0.998, "density_u_kg_m3": 0.001}}`, "liquid.density_kg_m3", "cannot be right", "unit"},
		{"beyond osmium", `{"air_g": [12.4431], "liquid_g": [12.1], "liquid": {"kind": "water", "temperature_c": 21}}`, "liquid_g", "", ""},
		{"lighter than anything", `{"air_g": [12.4431], "liquid_g": [0.001], "liquid": {"kind": "water", "temperature_c": 21}, "method": "sinker-aided", "sinker_liquid_g": [500]}`, "", "", ""},
		{"carat as fineness", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "water"}, "claim": {"metal": "gold", "fineness": 18}}`, "claim.fineness", "too low", "carat"},
		{"fraction as fineness", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "water"}, "claim": {"metal": "gold", "fineness": 0.75}}`, "claim.fineness", "not in parts per thousand", "750"},
		{"25 carat", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "water"}, "claim": {"metal": "gold", "carat": 25}}`, "claim.carat", "cannot be right", "24"},
		{"carat of silver", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "water"}, "claim": {"metal": "silver", "carat": 22}}`, "claim.carat", "measure of gold", "fineness"},
		{"unknown metal", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "water"}, "claim": {"metal": "glod", "fineness": 750}}`, "claim.metal", `no "glod"`, "gold"},
		{"unknown family", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "water"}, "claim": {"metal": "gold", "family": "gold-yelow"}}`, "claim.family", `no "gold-yelow"`, "gold-yellow"},
		{"family of another metal", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "water"}, "claim": {"metal": "silver", "family": "gold-yellow"}}`, "claim.family", "is gold", "family"},
		{"unknown house rule", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "water"}, "house_rule": "strikt"}`, "house_rule", `no "strikt"`, "strict"},
		{"unknown stone", `{"air_g": [1.2], "liquid_g": [0.9], "liquid": {"kind": "water"}, "claim": {"stone": "daimond"}}`, "claim.stone", "daimond", "diamond"},
		{"a variety of a stone", `{"air_g": [1.2], "liquid_g": [0.9], "liquid": {"kind": "water"}, "claim": {"stone": "Sapphire"}}`, "claim.stone", "Sapphire", "Did you mean corundum?"},
		{"arrangement", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "water"}, "arrangement": "hung"}`, "arrangement", `no "hung"`, "hanging"},
		{"gain as large as air", `{"air_g": [12.4431], "gain_g": [12.44], "liquid": {"kind": "water"}, "arrangement": "standing"}`, "gain_g", "rests on the bottom", "free"},
		{"reading of another method", `{"air_g": [12.4431], "liquid_g": [11.6472], "gain_g": [0.8], "liquid": {"kind": "water"}, "arrangement": "hanging"}`, "gain_g", "does not belong", "arrangement"},
		{"above capacity", `{"air_g": [250], "liquid_g": [235], "liquid": {"kind": "water"}, "balance": {"capacity_g": 200}}`, "air_g", "capacity", "larger"},
		{"pressure in pascal", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "water"}, "air": {"pressure_hpa": 101325}}`, "air.pressure_hpa", "cannot be right", "unit"},
		{"heavier in a second liquid", `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "water"}, "second_liquid": {"kind": "water", "liquid_g": [13.0]}}`, "second_liquid.liquid_g", "heavier in the liquid", "digits"},
		{"all of it gained in a second liquid", `{"air_g": [12.4431], "gain_g": [0.8], "arrangement": "standing", "liquid": {"kind": "water"}, "second_liquid": {"kind": "water", "gain_g": [12.5]}}`, "second_liquid.gain_g", "rests on the bottom", "free"},
		{"done beyond the readings", ringWith(`"done": [{"act": "brushed", "before": 2}]`), "done[0].before", "readings is 1", "after the last"},
		{"zero of 900 kg", ringWith(`"closing_zero_g": [900000]`), "closing_zero_g", "more than the item weighs", "empty hanger"},
		{"one zero of two", ringWith(`"closing_zero_g": [0, -130]`), "closing_zero_g[1]", "more than the item weighs", "empty hanger"},
		{"zero read of 900 kg", ringWith(`"done": [{"act": "zero-read", "zero_g": 900000}]`), "done[0].zero_g", "more than the item weighs", "empty hanger"},
		{"stones measured without error", ringWith(`"item": {"stones_set": {"species": "diamond", "diameter_mm": 5.1, "size_u_mm": 0}}`), "item.stones_set[0].size_u_mm", "cannot be right", "between"},
		{"stones weighed without error", ringWith(`"item": {"stones_set": {"species": "diamond", "carat_each": 0.5, "carat_u_each": 0}}`), "item.stones_set[0].carat_u_each", "cannot be right", "between"},
		{"layers of one metal", ringWith(`"item": {"layers": {"core": "copper", "plate": "Cu"}}`), "item.layers.plate", "so is the core", "no layers"},
		{"layers of the claim", ringWith(`"claim": {"metal": "gold", "fineness": 750}, "item": {"layers": {"core": "gold 750"}}`), "item.layers.plate", "so is the core", "no layers"},
		{"uncertainty of no surface", ringWith(`"item": {"layers": {"core": "copper", "plate": "gold", "area_u_cm2": 1}}`), "item.layers.area_cm2", "missing", "surface"},
		{"empty", ``, "", "empty", "examples"},
		{"truncated", `{"air_g": [12.4431], "liquid_g": [11.64`, "liquid_g[1]", "ends too early", "cut off"},
		{"Latin-1", "{\"note\": \"\xe9\"}", "", "UTF-8", "UTF-8"},
	} {
		a, err := answer(c.in)
		if err == nil {
			t.Errorf("%s: no error, density %v", c.name, a.Density20C.KgM3)
			continue
		}
		var in *InputError
		if !errors.As(err, &in) {
			t.Errorf("%s: error %v is not an InputError", c.name, err)
			continue
		}
		if c.field != "" && in.Path != c.field || !strings.Contains(in.Reason, c.reason) || !strings.Contains(in.Hint, c.hint) {
			t.Errorf("%s: got %q: %q; hint %q; want %q: …%s…; …%s…", c.name, in.Path, in.Reason, in.Hint, c.field, c.reason, c.hint)
		}
		if in.Reason == "" || in.Hint == "" {
			t.Errorf("%s: reason %q or hint %q is empty", c.name, in.Reason, in.Hint)
		}
	}
}

// ringWith is a sound draft with more in it.
func ringWith(more string) string {
	return `{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "water", "temperature_c": 21}, ` + more + `}`
}

func answer(in string) (*Answer, error) {
	d, err := Decode([]byte(in))
	if err != nil {
		return nil, err
	}
	return Evaluate(d, Options{})
}

// FuzzDecode: whatever is accepted is evaluated without a crash, and every refusal says why and
// how to mend it. No accepted draft gives a density outside what exists.
func FuzzDecode(f *testing.F) {
	f.Add([]byte(`{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "water", "temperature_c": 21.4}}`))
	f.Add([]byte(`{"claim": {"metal": "gold", "carat": 18}, "air_g": ["62.2155 ct"], "liquid_g": 11.6472, "liquid": {"kind": "water"}}`))
	f.Add([]byte(`{"air_g": [12.4431], "gain_g": [0.8], "liquid": {"kind": "ethanol-water", "ethanol_volume_percent_20c": 96}, "arrangement": "standing"}`))
	f.Add([]byte(`{"method": "pycnometer", "empty_g": 18, "with_sample_g": 26, "with_sample_and_liquid_g": 35, "liquid_only_g": 28, "liquid": {}}`))
	f.Add([]byte(`{"air_g": [5e-324], "liquid_g": [4e-324], "liquid": {"kind": "measured", "density_kg_m3": 800, "density_u_kg_m3": 1}}`))
	for _, name := range []string{"sovereign", "ring-with-diamond", "ring-tested", "stone-refraction", "gold-in-quartz", "doubtful-bar"} {
		example, err := os.ReadFile("../../examples/" + name + ".json")
		if err != nil {
			f.Fatal(err)
		}
		f.Add(example)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := Decode(data)
		if err == nil {
			var a *Answer
			if a, err = Evaluate(d, Options{MonteCarlo: WhereNeeded}); err == nil {
				if rho := a.Density20C.KgM3; !(rho > 10 && rho < 23000) {
					t.Errorf("density %v from %q", rho, data)
				}
				return
			}
		}
		var in *InputError
		if !errors.As(err, &in) || in.Reason == "" || in.Hint == "" {
			t.Errorf("%q: error %v without reason or hint", data, err)
		}
	})
}

// FuzzClaimOf: words of a claim, and of what it is held against, are understood or refused with the reason
// and how to mend it.
func FuzzClaimOf(f *testing.F) {
	for _, words := range []string{"gold 750", "gold 18 ct yellow", "gold-yellow 750", "silver 925", "585", "tungsten", "platinum 950 ", "gold 1e3", "gold -1 ct"} {
		f.Add(words)
	}
	f.Fuzz(func(t *testing.T, words string) {
		var in *InputError
		claimed, colour, err := ClaimOf(words)
		if err == nil {
			var a Asked
			if a, err = Ask(&Draft{Claim: claimed, Item: &Item{Colour: colour}}); err == nil && a.Metal == "" {
				t.Errorf("%q claims nothing", words)
			}
		}
		if err != nil && (!errors.As(err, &in) || in.Reason == "" || in.Hint == "") {
			t.Errorf("%q: error %v without reason or hint", words, err)
		}
		a, err := Ask(&Draft{Claim: gold(750, "gold-yellow")})
		if err != nil {
			t.Fatal(err)
		}
		m, err := a.Named(words)
		if err != nil {
			if !errors.As(err, &in) || in.Reason == "" || in.Hint == "" {
				t.Errorf("against %q: error %v without reason or hint", words, err)
			}
			return
		}
		if low, high := m.Band(); !(low > 0.04 && high < 1 && low <= high) {
			t.Errorf("%q has specific volumes from %g to %g", words, low, high)
		}
	})
}
