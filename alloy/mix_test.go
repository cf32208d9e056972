package alloy

import (
	"errors"
	"math"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wreath/quantity"
)

// fields returns the fields of each row of a table in testdata that are parted by "|".
func fields(t *testing.T, file string, n int) [][]string {
	t.Helper()
	data, err := os.ReadFile("testdata/" + file)
	if err != nil {
		t.Fatal(err)
	}
	var rows [][]string
	for _, line := range strings.Split(string(data), "\n") {
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		row := strings.Split(line, "|")
		if len(row) != n {
			t.Fatalf("%s: %q has %d fields, want %d", file, line, len(row), n)
		}
		for i := range row {
			row[i] = strings.TrimSpace(row[i])
		}
		rows = append(rows, row)
	}
	if len(rows) == 0 {
		t.Fatalf("%s has no rows", file)
	}
	return rows
}

func stateNamed(t *testing.T, name string) State {
	t.Helper()
	for _, s := range []State{Quenched, Unmixed, Ideal} {
		if s.String() == name {
			return s
		}
	}
	t.Fatalf("no state %q", name)
	return 0
}

func parts(t *testing.T, text string) Parts {
	t.Helper()
	p, err := ParseParts(text)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func mix(t *testing.T, text string, o Options) Mixture {
	t.Helper()
	m, err := Mix(parts(t, text), o)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestMix(t *testing.T) {
	for _, row := range fields(t, "mix.txt", 7) {
		o := Options{State: stateNamed(t, row[2]), ZincMolarVolume: number(t, row[3])}
		got := mix(t, row[1], o).Density.GramPerCm3()
		near(t, row[0]+" "+row[1]+" ("+row[6]+")", got, number(t, row[4]), number(t, row[5]))
	}
}

func TestFinenessOf(t *testing.T) {
	for _, row := range fields(t, "inverse.txt", 8) {
		got, err := FinenessOf(row[1], parts(t, row[2]), quantity.GramsPerCm3(number(t, row[4])), Options{State: stateNamed(t, row[3])})
		if err != nil {
			t.Errorf("%s: %v", row[0], err)
		}
		near(t, row[0], got*1000, number(t, row[5]), number(t, row[6]))
	}
}

// S19, computed with numpy.
func TestMoleFractions(t *testing.T) {
	for text, want := range map[string][]float64{
		"Au=750,Ag=125,Cu=125": {.5492, .1671, .2837},
		"Au=585,Ag=260,Cu=155": {.3798, .3082, .3119},
	} {
		for i, x := range mix(t, text, Options{}).MoleFractions {
			near(t, text+" mole fraction", x, want[i], 0.0001)
		}
	}
}

// S23 (first half): a ring of 5.000 g, metal 15.40, weighed with a diamond of 0.500 ct, computed.
// S24: 1 % sealed voids at equal silver and copper, computed with numpy.
func TestVoidsAndStones(t *testing.T) {
	near(t, "ring with diamond", 5/(4.9/15.40+0.1/3.52), 14.426, 0.002)
	for fineness, want := range map[float64]float64{.375: -16.6, .585: -14.3, .750: -12.5, .9167: -10.7} {
		m, err := Mix(Parts{{"Au", fineness}, {"Ag", (1 - fineness) / 2}, {"Cu", (1 - fineness) / 2}}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		got, err := FinenessOf("Au", Parts{{"Ag", 1}, {"Cu", 1}}, m.Density*0.99, Options{})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "loss by 1 % voids", 1000*(got-fineness), want, 0.2)
	}
}

// The volume of dissolved zinc changes without a step from silver-rich to copper-rich.
func TestZincHasNoStep(t *testing.T) {
	for _, c := range []struct{ copper, silver, want float64 }{
		{1, 1, 8.45}, {3, 1, 8.45}, {1, 3, 8.612}, {0, 1, 8.612}, {0, 0, 8.612}, {0.375, 0.625, 8.531},
	} {
		got, _ := zincVolume(c.copper, c.silver)
		near(t, "zinc volume", got, c.want, 1e-12)
	}
	before := 0.0
	for i := range 1001 {
		copper := float64(i) / 1000
		m, err := Mix(Parts{{"Au", 0.585}, {"Cu", 0.355 * copper}, {"Ag", 0.355 * (1 - copper)}, {"Zn", 0.06}}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if rho := m.Density.GramPerCm3(); i > 0 && math.Abs(rho-before) > 0.003 {
			t.Fatalf("density steps from %.4f to %.4f at copper %.3f", before, rho, copper)
		}
		before = m.Density.GramPerCm3()
	}
}

func TestRelU(t *testing.T) {
	for _, c := range []struct {
		composition string
		low, high   float64 // what the table of model uncertainties allows, as a fraction
	}{
		{"Au=1", 0.0004, 0.0006},               // 10 in 19290 kg/m³
		{"Au=75,Ag=25", 0.0012, 0.0017},        // 0.15 %
		{"Au=75,Cu=25", 0.0018, 0.0022},        // 0.20 %
		{"Cu=70,Ni=30", 0.0008, 0.0012},        // 0.10 %
		{"Cu=70,Zn=30", 0.0025, 0.0045},        // 0.10 cm³/mol of zinc
		{"Au=75,Ni=20,Cu=5", 0.008, 0.02},      // bound -0.5 to +3 %
		{"Pt=95,Co=5", 0.002, 0.005},           // bound 1 % at x = 0.5
		{"Pb=88.5,Sb=11.5", 0.001, 0.006},      // a pair that is not listed
		{"Au=75,Cu=12.5,Ag=12.5", .001, .0021}, // 0.20 %
	} {
		if u := mix(t, c.composition, Options{}).RelU; u < c.low || u > c.high {
			t.Errorf("%s: relative uncertainty %.5f, want %g to %g", c.composition, u, c.low, c.high)
		}
	}
	if u := mix(t, "Au=75,Cu=25", Options{State: Ideal}).RelU; u < 0.009 {
		t.Errorf("ideal mixing of gold and copper claims %.4f, but its error is 0.93 %%", u)
	}
}

// Expansion of 750 gold: -4.5e-5 per kelvin (computed with numpy).
func TestExpansion(t *testing.T) {
	near(t, "expansion of 750 gold", float64(mix(t, "Au=750,Ag=125,Cu=125", Options{}).Expansion), 4.5e-5, 0.25e-5)
}

func TestMixRefuses(t *testing.T) {
	var rangeError *quantity.RangeError
	var partsError *PartsError
	if _, err := Mix(Parts{{"Cu", 0.5}, {"Zn", 0.5}}, Options{}); !errors.As(err, &rangeError) {
		t.Errorf("half zinc: got %v, want a range error", err)
	}
	if _, err := Mix(Parts{{"Cu", 0.5}, {"Zn", 0.5}}, Options{State: Ideal}); err != nil {
		t.Errorf("half zinc, ideal: %v", err)
	}
	if _, err := Mix(Parts{{"Cu", 1}}, Options{ZincMolarVolume: 7}); !errors.As(err, &rangeError) {
		t.Errorf("zinc volume 7: got %v, want a range error", err)
	}
	for _, p := range []Parts{nil, {{"Au", 0}}, {{"Au", -1}, {"Ag", 3}}, {{"Au", math.NaN()}}, {{"Au", math.Inf(1)}}, {{"Xx", 1}}, {{"gold", 1}}} {
		if _, err := Mix(p, Options{}); !errors.As(err, &partsError) {
			t.Errorf("%v: got %v, want an error about the composition", p, err)
		}
	}
	if _, err := FinenessOf("Au", Parts{{"Cu", 1}}, 8, Options{}); !errors.As(err, &rangeError) {
		t.Errorf("lighter than copper: got %v, want a range error", err)
	}
	if _, err := FinenessOf("Cu", Parts{{"Ni", 1}}, 8.93, Options{}); err == nil {
		t.Error("copper with nickel has two contents of one density, but no error came")
	}
	if _, err := FinenessOf("Au", Parts{{"Au", 1}, {"Cu", 1}}, 15, Options{}); !errors.As(err, &partsError) {
		t.Errorf("gold in the rest: got %v, want an error about the composition", err)
	}
}

// Mixing and inverting returns the fineness.
func TestMixThenInvert(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fineness := rapid.Float64Range(0.2, 0.999).Draw(t, "fineness")
		rest := Parts{
			{"Ag", rapid.Float64Range(0, 1).Draw(t, "silver")},
			{"Cu", rapid.Float64Range(0.4, 1).Draw(t, "copper")},
			{"Zn", rapid.Float64Range(0, 0.3).Draw(t, "zinc")},
		}
		rest, err := rest.normalised()
		if err != nil {
			t.Fatal(err)
		}
		state := rapid.SampledFrom([]State{Quenched, Unmixed, Ideal}).Draw(t, "state")
		p := Parts{{"Au", fineness}}
		for _, part := range rest {
			p = append(p, Part{part.Symbol, (1 - fineness) * part.Fraction})
		}
		m, err := Mix(p, Options{State: state})
		if err != nil {
			t.Fatal(err)
		}
		got, err := FinenessOf("Au", rest, m.Density, Options{State: state})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(got-fineness) > 1e-9 {
			t.Fatalf("mixed %.9f, got back %.9f", fineness, got)
		}
	})
}
