package mint

import (
	"math"
	"strings"
	"testing"
)

func TestTypesAreWhole(t *testing.T) {
	seen := map[string]bool{}
	for i := range Types() {
		x := &Types()[i]
		if seen[x.Key] {
			t.Errorf("%s stands twice", x.Key)
		}
		seen[x.Key] = true
		if found, ok := ByKey(x.Key); !ok || found != x {
			t.Errorf("%s is not found", x.Key)
		}
		if x.Name == "" || x.Source == "" || x.Law == "" || x.Family == "" || x.Kind != Coin && x.Kind != Bar {
			t.Errorf("%s lacks a name, law, source, family or kind: %+v", x.Key, x)
		}
		if !(x.Mass > 0 && x.Mass < 6000 && x.Fineness > 0.3 && x.Fineness <= 1) || x.DensityLow > x.DensityHigh {
			t.Errorf("%s: mass %g, fineness %g, density %v to %v", x.Key, x.Mass, x.Fineness, x.DensityLow, x.DensityHigh)
		}
		if x.Kind == Coin && x.Diameter == 0 {
			t.Errorf("%s has no diameter", x.Key)
		}
		if x.TolerancesByLaw() != (x.ToleranceSource != "" && !strings.Contains(x.ToleranceSource, "common practice")) {
			t.Errorf("%s: tolerance %g and its source %q do not go together", x.Key, x.MassMinus, x.ToleranceSource)
		}
		if x.Thickness > 0 && x.MeanThickness() >= x.Thickness*1.02 {
			t.Errorf("%s: a disc of its volume is %.3f mm thick, the rim %.3f mm only", x.Key, x.MeanThickness(), x.Thickness)
		}
	}
}

// The mean thickness that the table of coins prints, computed there from mass, diameter and density.
func TestMeanThickness(t *testing.T) {
	for key, want := range map[string]float64{"us-50-gold-bullion-coin": 2.283, "uk-sovereign": 1.196, "lmu-20-francs": 1.084, "de-20-mark-1871-1915": 1.166, "lmu-5-francs-silver": 2.252} {
		x, ok := ByKey(key)
		if !ok {
			t.Fatal(key)
		}
		if got := x.MeanThickness(); math.Abs(got-want) > 0.005 {
			t.Errorf("%s: %.4f mm, computed elsewhere %.3f", key, got, want)
		}
	}
}

// Sovereign, Coinage Act 1870 Schedule 1 (in Encyclopaedia Britannica 9th ed. vol. 16 p. 483):
// 7.98805 g, remedy 0.01296 g and 2 ppt, least current weight 7.93787 g.
func TestRemedyOfTheSovereign(t *testing.T) {
	x, _ := ByKey("uk-sovereign")
	least, most := x.Masses(Unworn)
	if math.Abs(least-(7.98805-0.01296)) > 1e-9 || math.Abs(most-(7.98805+0.01296)) > 1e-9 {
		t.Errorf("remedy: %.5f to %.5f g", least, most)
	}
	least, _ = x.Masses(WearUnknown)
	if least > 7.93787 {
		t.Errorf("least current weight 7.93787 g is refused: %.5f", least)
	}
	if f, _ := x.Finenesses(); math.Abs(f-(0.91667-0.002)) > 1e-9 {
		t.Errorf("fineness from %.5f", f)
	}
}

// Wear takes metal and adds none.
func TestWearWidensTheLightSideOnly(t *testing.T) {
	for i := range Types() {
		x := &Types()[i]
		least, most := x.Masses(Unworn)
		for _, wear := range []Wear{WearUnknown, Worn} {
			l, m := x.Masses(wear)
			if m != most || l > least || x.Kind == Bar && l != least {
				t.Errorf("%s: %g to %g g unworn, %g to %g g with wear %d", x.Key, least, most, l, m, wear)
			}
			least = l
		}
		if d1, m1, ok := x.Diameters(Unworn); ok {
			if d2, m2, _ := x.Diameters(Worn); d2 > d1 || m2 != m1 {
				t.Errorf("%s: diameters %g-%g, worn %g-%g", x.Key, d1, m1, d2, m2)
			}
		}
		if d1, m1, ok := x.Thicknesses(Unworn); ok {
			if d2, m2, _ := x.Thicknesses(Worn); d2 > d1 || m2 != m1 || d1 <= 0 {
				t.Errorf("%s: thicknesses %g-%g, worn %g-%g", x.Key, d1, m1, d2, m2)
			}
		}
	}
}

func TestDensities(t *testing.T) {
	x, _ := ByKey("uk-sovereign")
	low, high, ok := x.Densities()
	if !ok || low.KgPerM3() > 17496*0.997 || high.KgPerM3() < 17496*1.003 || high.KgPerM3()/low.KgPerM3() > 1.02 {
		t.Errorf("%v to %v", low, high)
	}
	x, _ = ByKey("uk-one-pound-gold-collector-coin")
	if _, _, ok := x.Densities(); ok || x.Volume() != 0 || x.MeanThickness() != 0 {
		t.Error("a coin of unspecified alloy has one density")
	}
}
