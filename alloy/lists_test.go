package alloy

import (
	"slices"
	"testing"

	"wreath/quantity"
)

// The lists as printed: the Vienna Convention (SI 2011/3039) and the United Kingdom were read.
func TestStandards(t *testing.T) {
	for _, c := range []struct {
		list, metal string
		want        []float64
	}{
		{"vienna-convention", "gold", []float64{.375, .585, .750, .916, .999}},
		{"vienna-convention", "silver", []float64{.800, .830, .925, .999}},
		{"vienna-convention", "platinum", []float64{.850, .900, .950, .999}},
		{"vienna-convention", "palladium", []float64{.500, .950, .999}},
		{"uk", "gold", []float64{.375, .585, .750, .916, .990, .999}},
		{"uk", "silver", []float64{.800, .925, .958, .999}},
		{"india", "silver", []float64{.800, .835, .900, .925, .970, .990}},
		{"us", "silver", []float64{.900, .925}},
		{"trade-wide", "gold", []float64{.333, .375, .417, .585, .750, .8333, .875, .900, .9167, .958, .990, .999}},
		{"us", "platinum", nil},
		{"nowhere", "gold", nil},
	} {
		got := Standards(c.list, c.metal)
		if len(got) != len(c.want) {
			t.Errorf("%s %s: %v, want %v", c.list, c.metal, got, c.want)
			continue
		}
		for i := range got {
			near(t, c.list+" "+c.metal, got[i], c.want[i], 1e-12)
		}
	}
	for _, list := range StandardLists() {
		for _, metal := range []string{"gold", "silver", "platinum", "palladium"} {
			for _, s := range StandardsOf(list, metal) {
				if s.Source == "" || !(s.Fineness >= 0.3 && s.Fineness < 1) || s.Minus < 0 || s.Minus > 0.02 {
					t.Errorf("%+v", s)
				}
			}
		}
	}
}

func TestNextLower(t *testing.T) {
	wide := Standards(TradeWide, "gold")
	for claim, want := range map[float64]float64{.9167: .900, .750: .585, .375: .333, .417: .375, .8333: .750, .999: .990, .916: .900, .9999: .999, .760: .750} {
		got, ok := NextLower(wide, claim)
		if !ok || got != want {
			t.Errorf("next lower than %g is %g, want %g", claim, got, want)
		}
	}
	if got, ok := NextLower(Standards("vienna-convention", "gold"), .9167); !ok || got != .750 {
		t.Errorf("916 counts as lower than 916.7: got %g", got)
	}
	if got, ok := NextLower(wide, .333); ok {
		t.Errorf("lower than the lowest is %g", got)
	}
}

func TestLookalikes(t *testing.T) {
	var keys []string
	for _, m := range Lookalikes() {
		if slices.Contains(keys, m.Key) {
			t.Errorf("%s stands twice", m.Key)
		}
		keys = append(keys, m.Key)
		if !(m.Low > 0 && m.Low < m.High) || m.Source == "" || m.Imitates == "" && m.Key != "copper" {
			t.Errorf("%+v", m)
		}
		if m.Typical != 0 && (m.Typical < m.Low || m.Typical > m.High) {
			t.Errorf("%s: typical %g outside %g to %g", m.Key, m.Typical, m.Low, m.High)
		}
		if m.Tunable() && (m.ReachLow > m.Low || m.ReachHigh < m.High) {
			t.Errorf("%s: reach %g to %g does not hold %g to %g", m.Key, m.ReachLow, m.ReachHigh, m.Low, m.High)
		}
		if low, high := m.Band(); !(low > 0 && low < high) {
			t.Errorf("%s: band %g to %g", m.Key, low, high)
		}
	}
	for _, key := range []string{"tungsten-copper-80-20", "heavy-alloy-class-2", "lead-antimony", "plated-core"} {
		m, ok := LookalikeByKey(key)
		if !ok || !m.Tunable() || !m.Reaches((m.Low+m.High)/2) || m.Reaches(21) {
			t.Errorf("%s: %+v", key, m)
		}
	}
	if m, ok := LookalikeByKey("lead"); !ok || m.Tunable() || m.Reaches(11.34) {
		t.Errorf("lead: %+v", m)
	}
	if _, ok := LookalikeByKey("nothing"); ok {
		t.Error("nothing is a look-alike")
	}
}

// S16: heavy alloys mixed ideally lie in the classes of ASTM B777-15 table 1 (published).
func TestHeavyAlloysLieInTheirClasses(t *testing.T) {
	for text, class := range map[string]struct {
		key       string
		low, high float64
	}{
		"W=90,Ni=7,Fe=3":     {"heavy-alloy-class-1", 16.85, 17.30},
		"W=97,Ni=2.1,Fe=0.9": {"heavy-alloy-class-4", 18.25, 18.85},
	} {
		m, ok := LookalikeByKey(class.key)
		if !ok || m.Low != quantity.GramsPerCm3(class.low) || m.High != quantity.GramsPerCm3(class.high) {
			t.Errorf("%s: %+v", class.key, m)
		}
		if d := mix(t, text, Options{State: Ideal}).Density; d < m.Low || d > m.High {
			t.Errorf("%s: %g outside %g to %g", text, d, m.Low, m.High)
		}
	}
}
