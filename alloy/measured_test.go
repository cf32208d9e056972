package alloy

import (
	"encoding/csv"
	"math"
	"os"
	"testing"
)

// Measured densities of alloys of known composition. Per use of the row: how far, in percent, a
// measurement may lie from the model; the scatter of the published rows is its reason.
func TestMeasuredDensities(t *testing.T) {
	allowed := map[string]float64{
		"Au-Ag":           0.50, // castings, standard deviation 0.25
		"Au-Cu":           0.20, // mean -0.13, standard deviation 0.01
		"Au-Cu X-ray":     0.40, // fitted
		"Cu-Zn":           0.40, // standard deviation 0.13
		"Cu-Zn two-phase": 0.60, // second phase
		"Cu-Ni":           0.35, // standard deviation 0.11
		"pure X-ray":      0.10,
		"pure":            0.60,               // voids
		"Cu-Zn cast":      4, "Cu-Sn cast": 4, // castings whose copper is 3 % light
	}
	file, err := os.Open("testdata/measured.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	tested := 0
	for _, row := range rows[1:] {
		text := func(name string) string { return row[column[name]] }
		value := func(name string) float64 { return number(t, text(name)) }
		id, use := text("id"), text("use")
		if use == "arithmetic" { // crude platina is no metal of the table
			continue
		}
		atT := func(m Mixture) float64 {
			return m.Density.KgPerM3() / (1 + float64(m.Expansion)*(value("temperature_C")-20))
		}
		if use == "interval" { // standard gold, alloy unknown
			copper, silver := atT(mix(t, "Au=11,Cu=1", Options{})), atT(mix(t, "Au=11,Ag=1", Options{}))
			if d := value("density_kg_m3"); d < copper || d > silver {
				t.Errorf("%s: %g lies outside %.0f to %.0f", id, d, copper, silver)
			}
			tested++
			continue
		}
		var p Parts
		for _, symbol := range []string{"Au", "Ag", "Cu", "Zn", "Ni", "Pt", "Pd", "Sn", "Fe"} {
			if w := text("w_" + symbol); w != "" {
				p = append(p, Part{symbol, number(t, w)})
			}
		}
		m, err := Mix(p, Options{ZincMolarVolume: 8.612})
		if err != nil {
			t.Fatal(err)
		}
		near(t, id+" model, zinc 8.612", atT(m), value("model_kg_m3_at_T"), 0.6)
		ideal, err := Mix(p, Options{State: Ideal})
		if err != nil {
			t.Fatal(err)
		}
		near(t, id+" ideal", atT(ideal), value("ideal_kg_m3_at_T"), 0.6)
		if text("model_Zn845_kg_m3_at_T") != "" {
			m, err = Mix(p, Options{})
			if err != nil {
				t.Fatal(err)
			}
			near(t, id+" model, zinc by surrounding", atT(m), value("model_Zn845_kg_m3_at_T"), 0.6)
		}
		off := 100 * (value("density_kg_m3")/atT(m) - 1)
		limit, known := allowed[text("family")]
		if !known {
			t.Fatalf("%s: no limit for %s", id, text("family"))
		}
		if use == "outlier" {
			if math.Abs(off) <= limit {
				t.Errorf("%s: the outlier lies only %.2f %% off", id, off)
			}
			continue
		}
		near(t, id+" measured against model in percent", off, 0, limit)
		tested++
	}
	if tested != 31 {
		t.Errorf("%d rows tested, want 31", tested)
	}
}

// Ideal mixing is rejected by the gold-copper coinage metal (Rose): it misses by 0.6 to 0.8 %
// where the model holds to 0.2 %.
func TestIdealMixingIsRejected(t *testing.T) {
	for text, measured := range map[string]float64{"Au=916.7,Cu=83.3": 17.48, "Au=900,Cu=100": 17.16} {
		m := mix(t, text, Options{})
		if off := m.Ideal.GramPerCm3()/measured - 1; off < 0.006 {
			t.Errorf("%s: ideal mixing is off by %.2f %% only", text, 100*off)
		}
		near(t, text, m.Density.GramPerCm3()/measured, 1, 0.002)
	}
}
