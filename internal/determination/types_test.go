package determination

import (
	"math"
	"strings"
	"testing"

	"wreath/alloy"
	"wreath/mint"
)

// pieceOf is a coin or bar of a mass (g) and density (g/cm³) weighed in water on a balance of 0.1 mg.
func pieceOf(key string, mass, density float64, evidence ...Evidence) *Draft {
	const water, air = 0.998207, 0.0012
	volume := mass / density
	inAir := (mass - air*volume) / (1 - air/8)
	inWater := (mass - water*volume) / (1 - air/8)
	resolution, repeatability, t20, rhoA := 0.0001, 0.0001, 20.0, 1.2
	return &Draft{
		Item: &Item{Type: key}, Arrangement: "hanging", AirG: []Reading{{Gram: inAir}}, LiquidG: []Reading{{Gram: inWater}},
		Liquid: &Liquid{Kind: "water", TemperatureC: &t20}, Air: &Air{DensityKgM3: &rhoA},
		Balance: &Balance{ResolutionG: &resolution, RepeatabilityG: &repeatability}, Evidence: evidence,
	}
}

func measured(diameter, thickness float64) Evidence {
	e := Evidence{Kind: "size"}
	if diameter > 0 {
		e.DiameterMM = &diameter
	}
	if thickness > 0 {
		e.ThicknessMM = &thickness
	}
	return e
}

// Sovereign: 7.98805 g, 22.05 mm, 1.52 mm, 916.67 with copper; model density 17.496 g/cm³.
func TestTypeNamesWhatDisagrees(t *testing.T) {
	worn := true
	wornDraft := pieceOf("uk-sovereign", 7.90, 17.50, measured(22.0, 1.5))
	wornDraft.Item.Worn = &worn
	for _, row := range []struct {
		name     string
		draft    *Draft
		disagree string
		result   string
	}{
		{"true", pieceOf("uk-sovereign", 7.985, 17.50, measured(22.05, 1.53)), "", "agrees"},
		{"not measured", pieceOf("uk-sovereign", 7.985, 17.50), "", "incomplete"},
		{"only the diameter", pieceOf("uk-sovereign", 7.985, 17.50, measured(22.05, 0)), "", "incomplete"},
		{"a little worn", pieceOf("uk-sovereign", 7.945, 17.50, measured(22.05, 1.53)), "", "agrees"},
		{"worn and said so", wornDraft, "", "agrees"},
		{"worn and not said", pieceOf("uk-sovereign", 7.90, 17.50, measured(22.0, 1.5)), "mass", "disagrees"},
		{"too heavy", pieceOf("uk-sovereign", 8.03, 17.50, measured(22.05, 1.53)), "mass", "disagrees"},
		{"wrong metal of the right mass, thicker", pieceOf("uk-sovereign", 7.985, 11.34, measured(22.05, 2.1)), "thickness density volume", "disagrees"},
		{"wrong metal of the right mass and size", pieceOf("uk-sovereign", 7.985, 15.4, measured(22.05, 1.55)), "density volume", "disagrees"},
		{"too wide", pieceOf("uk-sovereign", 7.985, 17.50, measured(22.9, 1.53)), "diameter", "disagrees"},
		{"bar", pieceOf("bar-gold-50-g", 50.01, 19.29), "", "agrees"},
		{"bar too light", pieceOf("bar-gold-50-g", 49.5, 19.29), "mass volume", "disagrees"},
	} {
		a := evaluated(t, row.draft)
		if a.Type == nil {
			t.Fatalf("%s: no type", row.name)
		}
		if got := strings.Join(a.Type.Disagree, " "); got != row.disagree || a.Type.Result != row.result {
			t.Errorf("%s: %s, disagree %q, want %s, %q: %s", row.name, a.Type.Result, got, row.result, row.disagree, a.Type.Sentence)
		}
		for _, property := range strings.Fields(row.disagree) {
			if !strings.Contains(a.Type.Sentence, property) {
				t.Errorf("%s: %q does not name %s", row.name, a.Type.Sentence, property)
			}
		}
		if strings.Contains(row.disagree, "mass") && a.Finding.Result != "undecided" {
			t.Errorf("%s: the mass is not that of the type and the finding is %s", row.name, a.Finding.Result)
		}
		for _, d := range a.Doubts {
			if strings.HasSuffix(d.Sign, ".") || strings.Contains(d.Sign, strings.ToLower(strings.TrimSuffix(d.Settles, "."))) {
				t.Errorf("%s: the doubt says the same twice: %q, %q", row.name, d.Sign, d.Settles)
			}
		}
	}
}

// The claim is taken from the type, and must agree with it where it is made.
func TestClaimOfType(t *testing.T) {
	a := evaluated(t, pieceOf("uk-sovereign", 7.985, 17.50))
	if a.Finding == nil || !strings.Contains(a.Finding.Claim, "gold 916.7") {
		t.Errorf("%+v", a.Finding)
	}
	silver, ppt, wrong := "silver", 916.7, 750.0
	for _, row := range []struct {
		claim *Claim
		path  string
	}{
		{&Claim{Metal: "gold", Fineness: &ppt}, ""},
		{&Claim{Metal: "gold"}, ""},
		{&Claim{Metal: silver}, "claim.metal"},
		{&Claim{Metal: "gold", Fineness: &wrong}, "claim.fineness"},
		{&Claim{Stone: "diamond"}, "claim.stone"},
	} {
		d := pieceOf("uk-sovereign", 7.985, 17.50)
		d.Claim = row.claim
		_, err := Evaluate(d, Options{MonteCarlo: WhereNeeded})
		path := ""
		if bad, ok := err.(*InputError); ok {
			path = bad.Path
		}
		if path != row.path {
			t.Errorf("%+v: %v", row.claim, err)
		}
	}
	d := pieceOf("uk-sovreign", 7.985, 17.5)
	_, err := Evaluate(d, Options{MonteCarlo: WhereNeeded})
	if bad, ok := err.(*InputError); !ok || bad.Path != "item.type" || !strings.Contains(bad.Hint, "uk-sovereign") {
		t.Errorf("%v", err)
	}
}

// Every type names a family of its metal that is made at its fineness, and the density of the alloy
// named, computed elsewhere, lies in that family's band within the model's uncertainty.
func TestTypesGoWithTheFamilies(t *testing.T) {
	for i := range mint.Types() {
		x := &mint.Types()[i]
		f, ok := alloy.FamilyByKey(x.Family)
		if !ok || f.Metal != x.Metal {
			t.Errorf("%s: family %s", x.Key, x.Family)
			continue
		}
		low, high, ok := f.Band(x.Fineness, true)
		if !ok {
			t.Errorf("%s: %s is not made at %g", x.Key, x.Family, x.Fineness)
			continue
		}
		if x.DensityLow == 0 {
			continue
		}
		for _, rho := range []float64{x.DensityLow.GramPerCm3(), x.DensityHigh.GramPerCm3()} {
			v := 1 / rho
			if beyond := math.Max(low-v, v-high) / v; beyond > 2*f.ModelU {
				t.Errorf("%s: %.4g g/cm³ lies %.4f outside the band of %s", x.Key, rho, beyond, f.Name)
			}
		}
	}
}
