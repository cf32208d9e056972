package alloy

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"
)

func family(t testing.TB, key string) *Family {
	t.Helper()
	f, ok := FamilyByKey(key)
	if !ok {
		t.Fatalf("no family %q", key)
	}
	return f
}

// Keys are stored in records and must stay.
func TestFamilyKeys(t *testing.T) {
	want := []string{
		"gold-fine", "gold-any", "gold-yellow", "gold-0n", "gold-1n", "gold-2n", "gold-3n", "gold-4n", "gold-5n", "gold-2n-3n",
		"gold-pink", "gold-red", "gold-green", "gold-white-palladium", "gold-white-nickel", "gold-white-silver",
		"silver-copper", "silver-fine", "platinum-ruthenium", "platinum-iridium", "platinum-palladium", "platinum-cobalt",
		"platinum-copper", "platinum-rhodium", "platinum-any", "platinum-fine", "palladium-any", "palladium-fine",
	}
	var got []string
	for _, f := range Families() {
		got = append(got, f.Key)
		for _, key := range f.Neighbours {
			if n := family(t, key); n.Metal != f.Metal || n == f {
				t.Errorf("%s names %s as its neighbour", f.Key, key)
			}
		}
		for _, region := range []Region{f.Usual, f.Outer} {
			for _, box := range region {
				for _, bounds := range box {
					if bounds.Source == "" {
						t.Errorf("%s: bounds at %g have no source", f.Key, bounds.Fineness)
					}
				}
			}
		}
		if f.ModelUFrom == "" {
			t.Errorf("%s: the model's uncertainty has no source", f.Key)
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("families are %v, want %v", got, want)
	}
}

// Model uncertainties: computed from measured alloys or chosen, see the data file.
func TestModelUncertainties(t *testing.T) {
	for key, want := range map[string]float64{
		"gold-fine": .0006, "gold-any": .0020, "gold-2n-3n": .0020, "gold-green": .0015, "gold-yellow": .0025, "gold-red": .0025,
		"gold-white-palladium": .0030, "gold-white-nickel": .0030, "silver-copper": .0015, "platinum-iridium": .0030, "palladium-any": .0030,
	} {
		near(t, key, family(t, key).ModelU, want, 1e-12)
	}
}

func TestTablesAreCurrent(t *testing.T) {
	hash := tablesHash()
	if !bytes.HasPrefix(tablesBinary, append([]byte(tablesMagic), hash[:]...)) {
		t.Fatal("data/tables.bin is older than the data files: run go generate ./alloy")
	}
	list, err := parseFamilies(familiesText)
	if err != nil {
		t.Fatal(err)
	}
	spoilt := append([]byte(nil), tablesBinary...)
	spoilt[len(tablesMagic)] ^= 1
	for name, data := range map[string][]byte{"wrong hash": spoilt, "cut": tablesBinary[:len(tablesBinary)-4], "empty": nil, "too long": append(slices.Clone(tablesBinary), 0)} {
		if err := readTables(list, data); err == nil || !strings.Contains(err.Error(), "go generate") {
			t.Errorf("%s: got %v, want an error that tells to generate", name, err)
		}
	}
	if len(tablesBinary) > 1500000 {
		t.Errorf("data/tables.bin has %d bytes", len(tablesBinary))
	}
}

// The embedded tables are what the code builds now: a few rows of every family, built again.
func TestTablesAreReproduced(t *testing.T) {
	for _, f := range Families() {
		rows := []int{len(f.table.grid) / 5, len(f.table.grid) * 4 / 5}
		grid := []float64{f.table.grid[rows[0]], f.table.grid[rows[1]]}
		built := f.build(buildOptions{grid: grid})
		for i, row := range rows {
			for k, v := range built.row(i) {
				if d := math.Abs(float64(v/f.table.row(row)[k] - 1)); d > 1e-6 {
					t.Fatalf("%s at %g, column %d: embedded %.8g, built %.8g: run go generate ./alloy", f.Key, grid[i], k, f.table.row(row)[k], v)
				}
			}
		}
	}
}

// A small family built again from end to end: go generate would change nothing of it.
func TestSmallTablesAreReproduced(t *testing.T) {
	for _, key := range []string{"gold-fine", "platinum-ruthenium", "platinum-iridium"} {
		f := family(t, key)
		built := f.build(buildOptions{})
		if len(built.data) != len(f.table.data) {
			t.Fatalf("%s: embedded %d numbers, built %d: run go generate ./alloy", key, len(f.table.data), len(built.data))
		}
		for i, v := range built.data {
			if d := math.Abs(float64(v/f.table.data[i] - 1)); d > 2e-7 { // one bit of single precision
				t.Fatalf("%s, number %d: embedded %.9g, built %.9g: run go generate ./alloy", key, i, f.table.data[i], v)
			}
		}
	}
}

// Half-way between two rows the tables say what a computation there says: bands and the nodes
// of the usual recipes to 1e-5 of the specific volume, which is 0.01 ppt of gold.
func TestTablesBetweenRows(t *testing.T) {
	for _, f := range Families() {
		for _, i := range []int{len(f.table.grid) / 2, len(f.table.grid) * 6 / 7} {
			fineness := (f.table.grid[i-1] + f.table.grid[i]) / 2
			direct := f.build(buildOptions{grid: []float64{fineness}})
			for k, outer := range []bool{false, true} {
				low, high, ok := f.Band(fineness, outer)
				if !ok {
					t.Fatalf("%s has no band at %g", f.Key, fineness)
				}
				near(t, f.Key+" between rows, least", low/direct.bands[k].low[0], 1, 1e-5)
				near(t, f.Key+" between rows, largest", high/direct.bands[k].high[0], 1, 1e-5)
			}
			a, b := f.table.row(i-1), f.table.row(i)
			for k, v := range direct.row(0)[:direct.usual] {
				near(t, f.Key+" between rows, node", float64(a[k]+b[k])/2/float64(v), 1, 1e-5)
			}
		}
	}
}

// In every row: nodes ascend and lie within the band, and the outer band encloses the usual one.
func TestTablesAreInOrder(t *testing.T) {
	const rounding = 1e-7 // of single precision
	for _, f := range Families() {
		for i, fineness := range f.table.grid {
			row := f.table.row(i)
			low, high := f.table.band(i, false)
			outerLow, outerHigh := f.table.band(i, true)
			usual, outer := row[:f.table.usual], row[f.table.usual:f.table.usual+f.table.outer]
			if !slices.IsSorted(usual) || !slices.IsSorted(outer) {
				t.Fatalf("%s at %g: nodes do not ascend", f.Key, fineness)
			}
			if float64(usual[0]) < low*(1-rounding) || float64(usual[len(usual)-1]) > high*(1+rounding) {
				t.Fatalf("%s at %g: nodes leave the band %g to %g", f.Key, fineness, low, high)
			}
			if outerLow > low*(1+rounding) || outerHigh < high*(1-rounding) {
				t.Fatalf("%s at %g: the usual band %g to %g leaves the outer band %g to %g", f.Key, fineness, low, high, outerLow, outerHigh)
			}
			if !(outerLow > 1/23. && outerHigh < 1/5.) {
				t.Fatalf("%s at %g: band %g to %g", f.Key, fineness, outerLow, outerHigh)
			}
		}
	}
}

// Finer gold is denser, whatever the recipe; finer silver too, except beside metals as dense.
func TestDensityRisesWithFineness(t *testing.T) {
	for _, f := range FamiliesOf("gold") {
		for i := 1; i < len(f.table.grid); i++ {
			low, high := f.table.band(i, true)
			lowBefore, highBefore := f.table.band(i-1, true)
			if low >= lowBefore || high >= highBefore {
				t.Fatalf("%s: band %g to %g at %g, %g to %g at %g", f.Key, lowBefore, highBefore, f.table.grid[i-1], low, high, f.table.grid[i])
			}
		}
	}
	iridium := family(t, "platinum-iridium")
	if low, _ := iridium.table.band(0, true); low >= 1/21.45 {
		t.Errorf("platinum with much iridium is less dense than platinum: %g", 1/low)
	}
}

// Iridium is denser than platinum, so v does not fall with the fineness. 950 and 900 platinum with
// iridium (21.50 and 21.56 g/cm³, computed) can't be told from each other nor from pure platinum:
// where iridium is allowed, anything from 850 to 1000 fits.
func TestPlatinumWithIridium(t *testing.T) {
	f := family(t, "platinum-iridium")
	if f.table.bands[0].falling || f.table.bands[1].falling {
		t.Error("v of platinum with iridium falls with the fineness")
	}
	for _, density := range []float64{21.45, 21.50, 21.56} {
		o := Observation{V: 1 / density, U: 0.002 / density}
		low, high, ok := f.Range(o, 2, false)
		if !ok || high != 1 || low > 0.855 {
			t.Errorf("%g g/cm³ has the range %g to %g (%v), want 850 to 1000", density, low, high, ok)
		}
		for _, fineness := range []float64{0.900, 0.950, 1} {
			if z, ok := f.Distance(o, fineness, false); !ok || math.Abs(z) > 2 {
				t.Errorf("%g g/cm³ lies %g from platinum %g with iridium", density, z, fineness)
			}
		}
		p, ok := f.Posterior(o, nil)
		if !ok {
			t.Fatal("out of reach")
		}
		if a, b := p.Quantile(0.025), p.Quantile(0.975); !(a < 0.95 && b > 0.95 && b <= 1) {
			t.Errorf("%g g/cm³ has the interval %g to %g", density, a, b)
		}
	}
	// With other metals as well, both a light and a dense rest have the density of platinum.
	low, high, ok := family(t, "platinum-any").Range(Observation{V: 1 / 21.45, U: 1e-4}, 2, false)
	if !ok || high != 1 || low > 0.850 {
		t.Errorf("any platinum of 21.45 g/cm³ has the range %g to %g (%v)", low, high, ok)
	}
}

// Legal recipes that are rare: 585 palladium white reaches the density of yellow 750 (15.19 with
// palladium 0.8, 15.41 with palladium alone, computed with numpy), the usual recipes do not (14.87).
func TestOuterRecipesReach(t *testing.T) {
	f := family(t, "gold-white-palladium")
	low, _, ok := f.Band(0.585, false)
	if !ok {
		t.Fatal("no band at 585")
	}
	near(t, "densest usual recipe of 585", 1/low, 14.87, 0.01)
	low, _, _ = f.Band(0.585, true)
	near(t, "densest recipe of 585", 1/low, 15.41, 0.01)
	yellow := Observation{V: 1 / 15.37, U: 0.001 / 15.37}
	if z, ok := f.Distance(yellow, 0.585, true); !ok || z != 0 {
		t.Errorf("yellow 750 lies %g from 585 palladium white with rare recipes, want 0", z)
	}
	if z, ok := f.Distance(yellow, 0.585, false); !ok || z > -5 {
		t.Errorf("yellow 750 lies %g from usual 585 palladium white, want far on the dense side", z)
	}
}

// The published recipes lie in the bands of their families.
func TestPublishedRecipesLieInTheirFamilies(t *testing.T) {
	for name, key := range map[string]string{
		"18 ct yellow 3N": "gold-2n-3n", "18 ct yellow 2N": "gold-2n-3n", "18 ct pink 4N": "gold-pink", "18 ct red 5N": "gold-pink",
		"14 ct 1N": "gold-1n", "14 ct 0N": "gold-0n", "18 ct green 25 Ag": "gold-green", "18 ct red, copper only": "gold-red",
		"9 ct yellow, zinc": "gold-yellow", "14 ct yellow 585": "gold-yellow", "14 ct yellow, zinc": "gold-yellow", "10 ct yellow": "gold-yellow",
		"10 ct yellow, low silver": "gold-yellow", "8 ct yellow 333": "gold-yellow", "22 ct yellow": "gold-yellow", "18 ct yellow 16/9": "gold-yellow",
		"18 ct white Pd 20": "gold-white-palladium", "18 ct white Pd 10": "gold-white-palladium", "18 ct white Pd 6.4": "gold-white-palladium",
		"14 ct white Pd 20": "gold-white-palladium", "18 ct white Ni": "gold-white-nickel", "14 ct white Ni": "gold-white-nickel",
		"9 ct white silver": "gold-white-silver", "10 ct white Pd": "gold-white-silver", "sterling 925": "silver-copper",
		"500 silver UK 1920-22": "silver-copper", "Pt 950/Ru": "platinum-ruthenium", "Pt 950/W": "platinum-any", "Pd 950/Ga": "palladium-any",
		"990 gold-titanium": "gold-fine",
	} {
		i := slices.IndexFunc(Recipes(), func(r Recipe) bool { return r.Name == name })
		if i < 0 {
			t.Fatalf("no recipe %q", name)
		}
		f := family(t, key)
		r := Recipes()[i]
		m, err := Mix(r.Parts, Options{})
		if err != nil {
			t.Fatal(err)
		}
		z, ok := f.Distance(Observation{V: 1 / m.Density.GramPerCm3()}, r.Parts.Fraction(f.Symbol), true)
		if !ok || math.Abs(z) > 0.5 {
			t.Errorf("%s (%.3f g/cm³) lies %.2f from %s", name, m.Density.GramPerCm3(), z, key)
		}
	}
}

func TestFamilyStanzaErrors(t *testing.T) {
	good := "family x\nname x\nmetal gold Au\ncolour any\nrole candidate\nspan 0.3 1\nu 0.002\nusual all Ag 0-1, Cu rest\n"
	if _, err := parseFamilies(good); err != nil {
		t.Fatal(err)
	}
	for spoil, word := range map[[2]string]string{
		{"family x\n", ""}:                                    "first family",
		{"usual all", "usual soft"}:                           "soft",
		{"Ag 0-1", "Ag 0.9-0.1"}:                              "lower first",
		{"Ag 0-1", "Ag x"}:                                    "Ag x",
		{"Ag 0-1", "Ag"}:                                      "no bounds",
		{"Ag 0-1", "Qq 0-1"}:                                  "Qq",
		{", Cu rest", ""}:                                     "rest",
		{"role candidate", "role none"}:                       "none",
		{"u 0.002", "u 2"}:                                    "not possible",
		{"span 0.3 1", "span 1 0.3"}:                          "not possible",
		{"name x\n", ""}:                                      "needed",
		{"name x\n", "nome x\n"}:                              "nome",
		{"usual all Ag 0-1", "or all Ag 0-1"}:                 "follows no recipes",
		{"Cu rest\n", "Cu rest\nusual 500 Ag rest, Cu 0-1\n"}: "rest changes",
	} {
		_, err := parseFamilies(strings.Replace(good, spoil[0], spoil[1], 1))
		if err == nil || !strings.Contains(err.Error(), word) {
			t.Errorf("%q for %q: got %v, want %q in it", spoil[1], spoil[0], err, word)
		}
	}
}
