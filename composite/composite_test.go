package composite

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// tester is a *testing.T or a *rapid.T.
type tester interface {
	Helper()
	Errorf(format string, args ...any)
}

func near(t tester, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.6g, want %.6g ± %.2g", what, got, want, tolerance)
	}
}

// TestSizes holds what a void and stones would have to be against figures of a prototype in another
// language (numpy): liquid 998.2067 and air 1.2 kg/m³; readings in air and immersed in g, claim in
// g/cm³. Half of the last printed digit for voids. Stones to 0.7 %: the prototype took the reading in
// air for the mass, which leaves out the buoyancy of the air and makes small stones so much larger.
func TestSizes(t *testing.T) {
	for _, row := range []struct {
		name              string
		inAir, immersed   float64
		claim, rho        float64
		void              float64 // % of the outline
		diamond, zirconia float64 // ct
	}{
		{"ring", 7.4216, 6.9330, 15.3703, 15.1453, 1.4643, 0.1647, 0.3360},
		{"ounce", 31.103, 29.470, 19.29, 18.9907, 1.5515, 0.5493, 1.0580},
	} {
		rho := 0.0012 + (0.9982067-0.0012)*row.inAir/(row.inAir-row.immersed)
		near(t, row.name+": density", rho, row.rho, 0.00005)
		w := Whole{row.inAir * (1 + 0.0012/rho), Estimate{1 / rho, 0}}
		void := Void(w, Estimate{1 / row.claim, 0}, 0.0012)
		near(t, row.name+": void", 100*void.Value/w.Volume(), row.void, 0.0001)
		for _, s := range []struct{ density, carat float64 }{{3.52, row.diamond}, {5.8, row.zirconia}} {
			share, err := Share(w, Estimate{1 / s.density, 0}, Estimate{1 / row.claim, 0}, 2)
			if err != nil {
				t.Fatal(err)
			}
			near(t, row.name+": stones", share.Value*w.Mass/0.2, s.carat, 0.007*s.carat)
		}
	}
	// Denser than the claim: neither a void nor stones.
	w := Whole{7.4216, Estimate{1 / 15.4488, 1e-6}}
	if v := Void(w, Estimate{1 / 15.0, 0}, 0); v.Value >= 0 {
		t.Errorf("a void of %g cm³ in an item that is denser than its claim", v.Value)
	}
	var outside *PartsError
	if _, err := Share(w, Estimate{1 / 3.52, 0}, Estimate{1 / 15.0, 0}, 2.58); !errors.As(err, &outside) {
		t.Errorf("stones in an item that is denser than its claim: %v", err)
	}
}

// TestStonesLower checks what stones do to 5 g of 750 gold of 15.45 g/cm³ by ideal sums, printed to four
// digits: 0.5 ct of diamond within 5 g read 14.47 g/cm³, 1 ct 13.61; computed for planning.
func TestStonesLower(t *testing.T) {
	for _, row := range []struct{ carat, want float64 }{{0.5, 14.47}, {1, 13.61}} {
		stones := 0.2 * row.carat
		near(t, "density", Mean([]float64{5 - stones, stones}, []float64{15.45, 3.52}), row.want, 0.02)
	}
	// Half 917 and half 375 gold, 17.82 and 11.89 g/cm³ by ideal mixing, looks like 585.
	near(t, "heap", Mean([]float64{1, 1}, []float64{17.82, 11.89}), 14.26, 0.005)
}

// TestRoundTrips makes an exact mixture and takes it apart.
func TestRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		metal := rapid.Float64Range(9, 21).Draw(t, "metal")
		mass := rapid.Float64Range(0.5, 500).Draw(t, "mass")
		var stones []Stones
		m, v := mass, mass/metal
		for range rapid.IntRange(1, 3).Draw(t, "kinds") {
			d := rapid.Float64Range(2, 6).Draw(t, "stone")
			s := OfMass(mass*rapid.Float64Range(0.001, 0.3).Draw(t, "share"), 0.05, Estimate{d, 0.02})
			if rapid.Bool().Draw(t, "sized") {
				s = OfVolume(s.Volume, 0.05, s.Density)
			}
			stones, m, v = append(stones, s), m+s.Mass, v+s.Volume
		}
		w := Whole{m, Estimate{v / m, 1e-5}}
		gotMass, gotV, err := Metal(w, stones...)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "mass", gotMass.Value, mass, 1e-9*m)
		near(t, "density", 1/gotV.Value, metal, 1e-7*metal)
		// Parts never make the metal better known than the whole.
		if gotV.U < w.SpecificVolume.U {
			t.Errorf("u of the metal %g, of the whole %g", gotV.U, w.SpecificVolume.U)
		}
		all := gotMass.Value
		volume := gotMass.Value * gotV.Value
		for _, s := range stones {
			all, volume = all+s.Mass, volume+s.Volume
		}
		near(t, "all masses", all, w.Mass, 1e-9*m)
		near(t, "all volumes", volume, w.Volume(), 1e-9*v)

		one := stones[0]
		w = Whole{mass + one.Mass, Estimate{(mass/metal + one.Volume) / (mass + one.Mass), 1e-6}}
		share, err := Share(w, Estimate{1 / one.Density.Value, 0}, Estimate{1 / metal, 0}, 2)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "share", share.Value*w.Mass, one.Mass, 1e-6*m)
	})
}

// TestUncertainties draws everything at random and compares with the first-order figures, to 3 %.
func TestUncertainties(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	const trials = 40_000
	w := Whole{5, Estimate{0.0692, 0.0001}}
	stones := []Stones{OfVolume(0.02, 0.06, Estimate{3.52, 0.01}), OfMass(0.05, 0.04, Estimate{4.0, 0.03})}
	_, v, err := Metal(w, stones...)
	if err != nil {
		t.Fatal(err)
	}
	gold, quartz := Estimate{1 / 17.5, 0.002}, Estimate{1 / 2.65, 0.003}
	rock := Whole{80, Estimate{0.21, 0.0003}}
	share, err := Share(rock, gold, quartz, 2)
	if err != nil {
		t.Fatal(err)
	}
	var metals, shares []float64
	draw := func(e Estimate) Estimate { return Estimate{e.Value + e.U*r.NormFloat64(), 0} }
	for range trials {
		_, x, err := Metal(Whole{5, draw(w.SpecificVolume)},
			OfVolume(0.02*(1+0.06*r.NormFloat64()), 0, draw(stones[0].Density)), OfMass(0.05*(1+0.04*r.NormFloat64()), 0, draw(stones[1].Density)))
		if err != nil {
			t.Fatal(err)
		}
		y, err := Share(Whole{80, draw(rock.SpecificVolume)}, draw(gold), draw(quartz), 1e9)
		if err != nil {
			t.Fatal(err)
		}
		metals, shares = append(metals, x.Value), append(shares, y.Value)
	}
	near(t, "u of the metal's specific volume", deviation(metals), v.U, 0.03*v.U)
	near(t, "u of the share of gold", deviation(shares), share.U, 0.03*share.U)
}

func deviation(x []float64) float64 {
	mean, sum := 0.0, 0.0
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sum += (v - mean) * (v - mean)
	}
	return math.Sqrt(sum / float64(len(x)-1))
}

// TestBrilliant: a round diamond of one carat is about 6.5 mm wide (common practice).
func TestBrilliant(t *testing.T) {
	v, _ := Brilliant(6.5, 6.5*BrilliantDepth)
	near(t, "carats", v*3.52/0.2, 1, 0.05)
}

func TestNoParts(t *testing.T) {
	w := Whole{5, Estimate{0.065, 0.0001}}
	if _, _, err := Metal(w, OfMass(5, 0.05, Estimate{3.52, 0.01})); !errors.Is(err, ErrNothingLeft) {
		t.Errorf("stones as heavy as the whole: %v", err)
	}
	if _, _, err := Metal(w, OfMass(1.2, 0.05, Estimate{3.52, 0.01})); !errors.Is(err, ErrNothingLeft) {
		t.Errorf("stones larger than the whole: %v", err)
	}
	if _, err := Share(w, Estimate{0.0518, 0.0001}, Estimate{0.0519, 0.0001}, 2); !errors.Is(err, ErrAlike) {
		t.Errorf("tungsten and gold: %v", err)
	}
}
