package gem_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wreath/gem"
	"wreath/quantity"
)

func keys(species []gem.Species) []string {
	var list []string
	for _, s := range species {
		list = append(list, s.Key)
	}
	return list
}

// Every row stands on its own feet: typical density within its range, indices that agree with
// the birefringence, a source.
func TestTableIsSound(t *testing.T) {
	all := gem.All()
	if len(all) != 62 {
		t.Errorf("%d species, want the 62 of the table", len(all))
	}
	for _, s := range all {
		if !(0.5 < s.Low && s.Low <= s.Typical && s.Typical <= s.High && s.High < 8) || s.Low == s.High {
			t.Errorf("%s: typical %v outside %v to %v", s.Key, s.Typical, s.Low, s.High)
		}
		if s.Name == "" || s.Source == "" || s.Optic == "" {
			t.Errorf("%s: name %q, optic character %q, source %q", s.Key, s.Name, s.Optic, s.Source)
		}
		if !slices.Contains([]gem.Origin{gem.Natural, gem.Grown, gem.Imitation}, s.Origin) {
			t.Errorf("%s: origin %q", s.Key, s.Origin)
		}
		if !slices.Contains([]gem.Bears{gem.AnyLiquid, gem.WaterOnly, gem.NoLiquid}, s.Bears) {
			t.Errorf("%s: bears %q", s.Key, s.Bears)
		}
		if (s.Caution == "") != (s.Bears == gem.AnyLiquid) || s.Caution != "" && !strings.HasSuffix(s.Caution, ".") {
			t.Errorf("%s: bears %q with caution %q", s.Key, s.Bears, s.Caution)
		}
		if s.RefractiveLow == 0 {
			if s.RefractiveHigh != 0 || s.Optic != "opaque" {
				t.Errorf("%s: no refractive index, but not opaque", s.Key)
			}
			continue
		}
		if !(1.3 < s.RefractiveLow && s.RefractiveLow <= s.RefractiveHigh && s.RefractiveHigh < 3.3) {
			t.Errorf("%s: refractive index %v to %v", s.Key, s.RefractiveLow, s.RefractiveHigh)
		}
		if s.Optic == "isotropic" && s.Birefringence != 0 {
			t.Errorf("%s: isotropic with birefringence %v", s.Key, s.Birefringence)
		}
		if s.Birefringence > s.RefractiveHigh-s.RefractiveLow+0.0021 {
			t.Errorf("%s: birefringence %v between indices %v and %v", s.Key, s.Birefringence, s.RefractiveLow, s.RefractiveHigh)
		}
		if found, ok := gem.ByKey(s.Key); !ok || found != s {
			t.Errorf("ByKey(%q) = %v, %v", s.Key, found, ok)
		}
	}
	if _, ok := gem.ByKey("no such stone"); ok {
		t.Error("ByKey finds a stone that is not there")
	}
}

// Densities from the structure of the pure crystal and of the CRC tables, published, lie in the
// printed ranges. Diamond 3.516 (COD 9008564), YAG 4.556 (COD 2003066), strontium titanate
// 5.117, rutile 4.249 (COD 9004141), corundum 3.991 (COD 9007498), spinel 3.582 (COD 9005767),
// quartz 2.649 (COD 9013321), fluorite 3.181 (COD 9007060), sphalerite 4.078 (COD 1100043).
func TestCrystalDensitiesLieInTheRanges(t *testing.T) {
	for key, rho := range map[string]quantity.Density{"diamond": 3.516, "yag": 4.556, "strontium-titanate": 5.117, "rutile": 4.249,
		"corundum": 3.991, "spinel": 3.582, "quartz": 2.649, "fluorite": 3.181, "sphalerite": 4.078} {
		s, ok := gem.ByKey(key)
		if !ok || rho < s.Low || rho > s.High {
			t.Errorf("%s: %v is not within %v to %v", key, rho, s.Low, s.High)
		}
		if !slices.Contains(keys(gem.Fits(rho, rho)), key) {
			t.Errorf("Fits(%v) leaves out %s", rho, key)
		}
	}
}

// A colourless stone of 3.52 g/cm3 may be diamond, topaz, sphene or lead glass.
func TestDiamondTopazAndSphene(t *testing.T) {
	for _, interval := range [][2]quantity.Density{{3.52, 3.52}, {3.50, 3.53}, {3.4, 3.6}, {3.529, 3.531}} {
		got := keys(gem.Fits(interval[0], interval[1]))
		for _, want := range []string{"diamond", "topaz", "sphene", "glass-lead", "garnet-topped-doublet"} {
			if !slices.Contains(got, want) {
				t.Errorf("Fits(%v) = %v, leaves out %s", interval, got, want)
			}
		}
	}
	if got := keys(gem.Fits(3.516, 3.524)); got[0] != "diamond" && got[0] != "sphene" {
		t.Errorf("Fits about 3.52 begins with %s, want the nearest typical density", got[0])
	}
	if got := keys(gem.Fits(5.7, 5.9)); !slices.Equal(got, []string{"cubic-zirconia"}) {
		t.Errorf("Fits(5.7 to 5.9) = %v, want cubic zirconia alone", got)
	}
	if got := gem.Fits(8, 20); len(got) != 0 {
		t.Errorf("Fits(8 to 20) = %v, want nothing", keys(got))
	}
}

// A species is in the answer exactly when the two intervals share a point.
func TestFitsListsEveryOverlap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := quantity.Density(rapid.Float64Range(0.9, 8).Draw(t, "low"))
		high := low + quantity.Density(rapid.Float64Range(0, 2).Draw(t, "width"))
		fit := gem.Fits(low, high)
		in := keys(fit)
		for _, s := range gem.All() {
			apart := s.High < low || s.Low > high
			if slices.Contains(in, s.Key) == apart {
				t.Fatalf("Fits(%v, %v): %s with %v to %v: listed %v", low, high, s.Key, s.Low, s.High, !apart)
			}
		}
		if back := keys(gem.Fits(high, low)); !slices.Equal(in, back) {
			t.Fatalf("Fits(%v, %v) differs from the same interval turned round", low, high)
		}
		far := func(s gem.Species) float64 { return math.Abs(float64(s.Typical) - float64(low+high)/2) }
		for i := 1; i < len(fit); i++ {
			if far(fit[i]) < far(fit[i-1])-1e-9 {
				t.Fatalf("Fits(%v, %v): %s before %s", low, high, fit[i-1].Key, fit[i].Key)
			}
		}
	})
	nan := quantity.Density(math.NaN())
	if got := gem.Fits(nan, nan); len(got) != 0 {
		t.Errorf("Fits(NaN) = %v, want nothing", keys(got))
	}
}

func TestCautions(t *testing.T) {
	for key, words := range map[string]string{"opal": "Do not immerse", "fire-opal": "Do not immerse", "turquoise": "Do not immerse",
		"lapis-lazuli": "Do not immerse", "ivory": "Do not immerse", "pearl": "solvent", "coral": "solvent", "amber": "solvent",
		"emerald": "solvent", "garnet-topped-doublet": "solvent", "plastic": "solvent"} {
		s, ok := gem.ByKey(key)
		if !ok || !strings.Contains(s.Caution, words) {
			t.Errorf("%s: caution %q says nothing of %q", key, s.Caution, words)
		}
	}
	// What the table calls porous must not go into the liquid.
	for _, s := range gem.All() {
		if strings.HasPrefix(s.Note, "porous") && s.Bears != gem.NoLiquid {
			t.Errorf("%s is porous but bears %q", s.Key, s.Bears)
		}
	}
	for _, key := range []string{"diamond", "corundum", "topaz", "cubic-zirconia"} {
		if s, _ := gem.ByKey(key); s.Bears != gem.AnyLiquid {
			t.Errorf("%s bears %q, want any liquid", key, s.Bears)
		}
	}
}

// All hands out a copy: changing it changes nothing.
func TestAllIsACopy(t *testing.T) {
	gem.All()[0].Key = "changed"
	if gem.All()[0].Key != "diamond" {
		t.Error("a caller can change the table")
	}
}

func TestFullName(t *testing.T) {
	for key, want := range map[string]string{"emerald": "beryl (emerald)", "topaz": "topaz"} {
		if s, _ := gem.ByKey(key); s.FullName() != want {
			t.Errorf("%s: full name %q, want %q", key, s.FullName(), want)
		}
	}
}
