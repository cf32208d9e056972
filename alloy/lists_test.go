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

// A twin must not hide behind the width of its reach. Spread over everything it could be made to,
// tungsten-copper looks twenty times less likely than the gold it copies, yet density can't speak
// against it: it is found by its reach, at every density there is.
func TestTunableLookalikesReachWhatTheyImitate(t *testing.T) {
	gold := Observation{V: 1 / 15.40, U: 0.001 / 15.40}
	claim, ok := family(t, "gold-yellow").Evidence(gold, 0.7525)
	if !ok {
		t.Fatal("no evidence of yellow gold")
	}
	twin, _ := LookalikeByKey("tungsten-copper-80-20")
	spread, ok := RangeEvidence(gold, 1/twin.ReachHigh.GramPerCm3(), 1/twin.ReachLow.GramPerCm3(), 0.0005)
	if !ok || spread > 0.1*claim {
		t.Errorf("spread over its reach, tungsten-copper has the evidence %.3g beside %.3g of gold: nothing hides", spread, claim)
	}
	for _, c := range []struct {
		key  string
		low  float64 // g/cm³, the densities that are copied
		high float64
	}{
		{"tungsten-copper-80-20", 10.9, 18.1}, // 9 to 22 ct
		{"heavy-alloy-class-2", 15.1, 18.1},   // 18 to 22 ct
		{"lead-antimony", 10.1, 10.504},       // silver from 800 up
		{"lead-tin-80-20", 10.1, 10.504},
		{"plated-core", 9.6, 19.25}, // any gold or silver that is less dense than tungsten
	} {
		m, ok := LookalikeByKey(c.key)
		if !ok || !m.Tunable() {
			t.Fatalf("%s can't be tuned: %+v", c.key, m)
		}
		for density := c.low; density <= c.high; density += 0.01 {
			if !m.Reaches(quantity.GramsPerCm3(density)) {
				t.Errorf("%s does not reach %.2f g/cm³", c.key, density)
				break
			}
		}
	}
	// Beside fine gold stands tungsten itself: a core of half the volume has 19.272 g/cm³, one of 95 %
	// has 19.257 (computed).
	tungsten, _ := LookalikeByKey("tungsten-wrought")
	low, high := tungsten.Band()
	for share, want := range map[float64]float64{0.5: 19.272, 0.95: 19.257} {
		core := share*19.255 + (1-share)*19.290
		near(t, "gold with a tungsten core", core, want, 0.0006)
		if z := RangeDistance(Observation{V: 1 / core, U: 1e-6}, low, high, 0); z != 0 {
			t.Errorf("gold with a tungsten core lies %g from tungsten", z)
		}
	}
}

// Every row of every list says where it is from.
func TestRowsHaveSources(t *testing.T) {
	for _, list := range []struct {
		file string
		data []byte
		in   string
		rows int
	}{
		{"elements.csv", elementsCSV, "source", 31}, {"pairs.csv", pairsCSV, "source", 17}, {"standards.csv", standardsCSV, "source", 226},
		{"lookalikes.csv", lookalikesCSV, "source", 39}, {"recipes.csv", recipesCSV, "composition_source", 86},
	} {
		rows := readTable(list.file, list.data)
		for _, r := range rows {
			if r.text(list.in) == "" {
				t.Errorf("%s line %d has no source", list.file, r.line)
			}
		}
		if len(rows) != list.rows {
			t.Errorf("%s has %d rows, want %d", list.file, len(rows), list.rows)
		}
	}
	for _, p := range Pairs() {
		if p.Source == "" || !(p.U > 0 && p.U < 0.05) {
			t.Errorf("%+v", p)
		}
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
