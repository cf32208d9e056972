package fluid

import (
	"strings"
	"testing"

	"wreath/quantity"
)

func TestLiquids(t *testing.T) {
	if len(Liquids) != 23 {
		t.Errorf("%d liquids, want 23", len(Liquids))
	}
	seen := map[string]bool{}
	for _, l := range Liquids {
		if l.Key == "" || l.Name == "" || l.Use == "" || l.Hazards == "" || l.Source == "" {
			t.Errorf("%q lacks a word: %+v", l.Key, l)
		}
		if seen[l.Key] {
			t.Errorf("%q stands twice", l.Key)
		}
		seen[l.Key] = true
		if got, ok := LiquidByKey(l.Key); !ok || got.Name != l.Name {
			t.Errorf("LiquidByKey(%q) = %q, %v", l.Key, got.Name, ok)
		}
		if d := l.Density.KgPerM3(); d < 500 || d > 14000 {
			t.Errorf("%s: density %g kg/m³", l.Key, d)
		}
		if e := float64(l.Expansion); e < 100e-6 || e > 2000e-6 {
			t.Errorf("%s: expansion %g per K", l.Key, e)
		}
	}
	if _, ok := LiquidByKey("nectar"); ok {
		t.Error("LiquidByKey knows nectar")
	}
}

// The list against the formulas: water, ethanol and a mixture, each within what its row says of
// its own digits.
func TestLiquidsAgainstFormulas(t *testing.T) {
	water, _ := LiquidByKey("water")
	near(t, "water of the list", water.Density.KgPerM3(), kgPerM3(t)(WaterAirFree(20)), 0.05)
	expansion := (kgPerM3(t)(WaterAirFree(19.9)) - kgPerM3(t)(WaterAirFree(20.1))) / 0.2 / kgPerM3(t)(WaterAirFree(20))
	near(t, "expansion of water of the list, 1e-6", float64(water.Expansion)*1e6, expansion*1e6, 0.5)
	sigma, err := WaterSurfaceTension(20)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "surface tension of water of the list", water.SurfaceTension, sigma, 0.1)

	for key, volume := range map[string]float64{"ethanol": 0.9999, "ethanol-70-vol": 0.70} {
		l, _ := LiquidByKey(key)
		p, err := EthanolMassFraction(volume)
		if err != nil {
			t.Fatal(err)
		}
		rho := kgPerM3(t)(EthanolWater(p, 20))
		_, slope, err := EthanolWaterSlopes(p, 20)
		if err != nil {
			t.Fatal(err)
		}
		near(t, key+" of the list", l.Density.KgPerM3(), rho, 1)
		near(t, key+" of the list, expansion in 1e-6", float64(l.Expansion)*1e6, -slope/rho*1e6, 130)
	}
}

func TestCautions(t *testing.T) {
	for _, key := range []string{"water", "glycerol-50"} {
		if c := Cautions(key); len(c) != 0 {
			t.Errorf("%s comes with cautions: %q", key, c)
		}
	}
	for _, l := range Liquids {
		for _, word := range l.cautions {
			if cautionTexts[word] == "" {
				t.Errorf("%s: no caution is written for %q", l.Key, word)
			}
		}
		text := strings.Join(l.Cautions(), " ")
		if l.Hazards != "none" && l.Hazards != "low hazard" && text == "" {
			t.Errorf("%s (%s) comes without cautions", l.Key, l.Hazards)
		}
		if text != "" && !(strings.Contains(text, "Local rules") && strings.Contains(text, "safety data sheet")) {
			t.Errorf("%s: the cautions do not defer to local rules and the safety data sheet: %s", l.Key, text)
		}
		if l.DoNotUse != strings.Contains(text, "Do not weigh in") {
			t.Errorf("%s: do not use is %v, the cautions say: %s", l.Key, l.DoNotUse, text)
		}
		if strings.Contains(l.Hazards, "flammable") && !(strings.Contains(text, "no flame") && strings.Contains(text, "ventilate") && strings.Contains(text, "fire code")) {
			t.Errorf("%s is flammable, the cautions say: %s", l.Key, text)
		}
		if strings.Contains(l.Hazards, "flash point") && !strings.Contains(text, "flash point "+l.flashPoint+" °C") {
			t.Errorf("%s: the flash point is missing: %s", l.Key, text)
		}
		if strings.Contains(l.Hazards, "toxic,") && !l.DoNotUse && !strings.Contains(text, "fume hood") {
			t.Errorf("%s (%s): the cautions say: %s", l.Key, l.Hazards, text)
		}
	}
	for key, word := range map[string]string{
		"mercury": "Never immerse", "ethanol": "flash point 12 °C", "ethanol-water": "flash point 12 °C",
		"clerici": "Do not weigh in", "brine": "silver", "toluene": "pearls", "nectar": "not known here",
	} {
		if text := strings.Join(Cautions(key), " "); !strings.Contains(text, word) {
			t.Errorf("Cautions(%q) do not say %q: %s", key, word, text)
		}
	}
}

func TestExpansion(t *testing.T) {
	// Borosilicate glass 3.3: ISO 3585.
	got, source, ok := Expansion("borosilicate glass")
	if !ok || source == "" {
		t.Fatalf("Expansion(borosilicate glass): %v, %q", ok, source)
	}
	near(t, "borosilicate glass", float64(got)*1e6, 9.9, 0.05)
	for _, r := range mustRows("data/expansion.csv", expansionCSV) {
		got, source, ok := Expansion(r.text("material"))
		if !ok || source != r.text("source") || source == "" {
			t.Errorf("Expansion(%q): %v, %q", r.text("material"), ok, source)
		}
		// Cubic is three times linear, within the printed digits.
		near(t, r.text("material"), float64(got)*1e6, 3*r.number("linear_1e-6_per_K"), 0.25)
	}
	if got, _, ok := Expansion("butter"); ok || got != quantity.Expansivity(0) {
		t.Error("Expansion knows butter")
	}
}
