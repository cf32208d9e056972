package hydrostatic_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"wreath/hydrostatic"
	"wreath/quantity"
)

func TestImpossibleWeighings(t *testing.T) {
	nan, inf := quantity.Reading(math.NaN()), quantity.Reading(math.Inf(1))
	hanging := func(air, liquid quantity.Reading) func() error {
		return func() error { _, err := hydrostatic.Hanging(air, liquid, water20, 0); return err }
	}
	standing := func(air, gain quantity.Reading) func() error {
		return func() error { _, err := hydrostatic.Standing(air, gain, water20, 0); return err }
	}
	sinker := func(item, alone, both quantity.Reading) func() error {
		return func() error { _, err := hydrostatic.WithSinker(item, alone, both, water20, 0); return err }
	}
	coated := func(bare, air, liquid quantity.Reading) func() error {
		return func() error {
			_, err := hydrostatic.Coated(bare, air, liquid, 0.9, water20, hydrostatic.StandardAdjustment, 0)
			return err
		}
	}
	impregnated := func(dry, air, liquid quantity.Reading) func() error {
		return func() error { _, _, _, err := hydrostatic.Impregnated(dry, air, liquid, 0.88, water20); return err }
	}
	pycnometer := func(m0, m1, m2, m3 quantity.Reading) func() error {
		return func() error { _, err := hydrostatic.Pycnometer(m0, m1, m2, m3, water20); return err }
	}
	comparison := func(a, b, c, d quantity.Reading) func() error {
		return func() error { _, err := hydrostatic.Comparison(a, b, c, d, 8, 0.0012); return err }
	}
	weights := func(mA quantity.Mass, dA quantity.Reading, mL quantity.Mass, dL quantity.Reading) func() error {
		return func() error {
			_, err := hydrostatic.AgainstWeights(hydrostatic.Balanced{Weights: mA, Difference: dA, Air: 0.0012},
				hydrostatic.Balanced{Weights: mL, Difference: dL, Air: 0.0012}, 8, water20.Liquid, hydrostatic.StandardAdjustment)
			return err
		}
	}
	judge := func(rho quantity.Density) func() error {
		return func() error { return hydrostatic.CheckDensity(rho) }
	}
	for _, c := range []struct {
		name        string
		weigh       func() error
		field, says string // says: in the reason or the hint
	}{
		{"air zero", hanging(0, 1), "air_g", "more than zero"},
		{"air negative", hanging(-3, 1), "air_g", "more than zero"},
		{"air NaN", hanging(nan, 1), "air_g", "not a number"},
		{"air infinite", hanging(inf, 1), "air_g", "not a number"},
		{"air in a wrong unit", hanging(2e9, 1), "air_g", "thousand tonnes"},
		{"air below a nanogram", hanging(1e-12, 1e-13), "air_g", "nanogram"},
		{"liquid NaN", hanging(10, nan), "liquid_g", "not a number"},
		{"liquid infinite", hanging(10, inf), "liquid_g", "not a number"},
		{"liquid zero", hanging(10, 0), "liquid_g", "sinker"},
		{"liquid negative", hanging(10, -1), "liquid_g", "sinker"},
		{"swapped", hanging(9.4842, 10.0009), "liquid_g", "swapped"},
		{"nothing lost", hanging(10, 10), "liquid_g", "lost no weight"},

		{"gain zero", standing(10, 0), "gain_g", "more than zero"},
		{"gain negative", standing(10, -0.5), "gain_g", "more than zero"},
		{"gain NaN", standing(10, nan), "gain_g", "not a number"},
		{"standing air zero", standing(0, 0.5), "air_g", "more than zero"},
		{"rests on the bottom", standing(10, 9.99), "gain_g", "bottom"},
		{"rests, rounded up", standing(10, 10.01), "gain_g", "bottom"},
		{"gain and air swapped", standing(0.5167, 10.0009), "gain_g", "swapped"},

		{"sinker alone missing", sinker(3, 0, 18), "sinker_liquid_g", "more than zero"},
		{"both float", sinker(3, 18, -1), "both_liquid_g", "heavier sinker"},
		{"both NaN", sinker(3, 18, nan), "both_liquid_g", "not a number"},
		{"item gains in liquid", sinker(3, 18, 22), "both_liquid_g", "alone"},
		{"item missing", sinker(0, 18, 19), "air_g", "more than zero"},

		{"coat takes weight", coated(12.5, 12.4, 11.6), "coated_air_g", "swapped"},
		{"bare missing", coated(0, 12.5, 11.6), "bare_air_g", "more than zero"},
		{"coated swapped", coated(12.5, 12.6, 13), "coated_liquid_g", "swapped"},
		{"coat fills all", coated(10, 12, 11), "coated_liquid_g", "coating"},

		{"oil takes weight", impregnated(25, 24, 21), "impregnated_air_g", "swapped"},
		{"oil fills all", impregnated(20, 24, 21), "impregnated_air_g", "oil"},
		{"impregnated swapped", impregnated(20, 21, 24), "impregnated_liquid_g", "swapped"},
		{"dry missing", impregnated(0, 24, 21), "dry_air_g", "more than zero"},

		{"no sample", pycnometer(18, 18, 34, 28), "with_sample_g", "swapped"},
		{"no liquid", pycnometer(18, 24, 34, 18), "liquid_only_g", "swapped"},
		{"no liquid on the sample", pycnometer(18, 24, 24, 28), "with_sample_and_liquid_g", "swapped"},
		{"overfull", pycnometer(18, 24, 35, 28), "with_sample_and_liquid_g", "mark"},
		{"empty missing", pycnometer(0, 24, 35, 28), "empty_g", "more than zero"},

		{"item swapped", comparison(9, 10, 20, 18), "item_liquid_g", "swapped"},
		{"reference swapped", comparison(10, 9, 18, 20), "reference_liquid_g", "swapped"},
		{"reference missing", comparison(10, 9, 0, 18), "reference_air_g", "more than zero"},

		{"weights missing", weights(0, 0, 87, 0), "weights_air_g", "more than zero"},
		{"weights swapped", weights(87, 0, 100, 0), "weights_liquid_g", "swapped"},
		{"difference of the wrong sign", weights(100, -101, 87, 0), "difference_air_g", "sign"},
		{"difference NaN", weights(100, 0, 87, nan), "difference_liquid_g", "not a number"},

		{"beyond osmium", judge(22.7), "density_g_cm3", "osmium"},
		{"lighter than anything", judge(0.3), "density_g_cm3", "lighter"},
		{"negative density", judge(-19), "density_g_cm3", "lighter"},
		{"density NaN", judge(quantity.Density(math.NaN())), "density_g_cm3", "not a number"},
		{"density infinite", judge(quantity.Density(math.Inf(1))), "density_g_cm3", "not a number"},
	} {
		err := c.weigh()
		var weighing *hydrostatic.WeighingError
		if !errors.As(err, &weighing) {
			t.Errorf("%s: error %v, want a *WeighingError", c.name, err)
			continue
		}
		if weighing.Field != c.field {
			t.Errorf("%s: field %q, want %q", c.name, weighing.Field, c.field)
		}
		if !strings.Contains(weighing.Reason+" "+weighing.Hint, c.says) {
			t.Errorf("%s: %q with hint %q says nothing of %q", c.name, weighing.Reason, weighing.Hint, c.says)
		}
		if !strings.HasSuffix(weighing.Hint, ".") || !strings.Contains(err.Error(), c.field) {
			t.Errorf("%s: %q, hint %q: want the field in the text and a whole sentence as hint", c.name, err, weighing.Hint)
		}
	}
}

func TestSlipsOfUnitAreRangeErrors(t *testing.T) {
	const air, liquid quantity.Reading = 10, 9.5
	for _, c := range []struct {
		what  string
		weigh func() error
	}{
		{"liquid density", func() error {
			_, err := hydrostatic.Hanging(air, liquid, hydrostatic.Media{Liquid: 998.2, Air: 0.0012}, 0)
			return err
		}},
		{"air density", func() error {
			_, err := hydrostatic.Hanging(air, liquid, hydrostatic.Media{Liquid: 0.9982, Air: 1.2}, 0)
			return err
		}},
		{"liquid density", func() error {
			_, err := hydrostatic.Standing(air, 0.5, hydrostatic.Media{Liquid: quantity.Density(math.NaN()), Air: 0.0012}, 0)
			return err
		}},
		{"wire factor a/A", func() error { _, err := hydrostatic.Hanging(air, liquid, water20, 0.5); return err }},
		{"wire factor a/A", func() error { _, err := hydrostatic.WireRise(10, 3, 30); return err }},
		{"wire diameter", func() error { _, err := hydrostatic.WireRise(-1, 1, 30); return err }},
		{"number of wires", func() error { _, err := hydrostatic.WireRise(1, -1, 30); return err }},
		{"vessel diameter", func() error { _, err := hydrostatic.WireRise(1, 1, 0); return err }},
		{"surface tension", func() error { _, err := hydrostatic.MeniscusPull(0.1, -1, 0); return err }},
		{"contact angle", func() error { _, err := hydrostatic.MeniscusPull(0.1, 72, 200); return err }},
		{"temperature", func() error { _, err := hydrostatic.At20(19.3, 42.6e-6, 300); return err }},
		{"cubic expansion", func() error { _, err := hydrostatic.At20(19.3, 42.6, 21); return err }},
		{"density", func() error { _, err := hydrostatic.At20(19300, 42.6e-6, 21); return err }},
		{"sinker volume", func() error {
			_, err := hydrostatic.LiquidBySinker(24, 16, 0, 9.9e-6, 20, 0.0012, hydrostatic.StandardAdjustment)
			return err
		}},
		{"density found for the liquid", func() error {
			_, err := hydrostatic.LiquidBySinker(24, 16, 100, 9.9e-6, 20, 0.0012, hydrostatic.StandardAdjustment)
			return err
		}},
		{"coating density", func() error {
			_, err := hydrostatic.Coated(10, 10.1, 9, 900, water20, hydrostatic.StandardAdjustment, 0)
			return err
		}},
		{"open porosity", func() error {
			_, err := hydrostatic.Coated(10, 10.1, 9, 0.9, water20, hydrostatic.StandardAdjustment, 11)
			return err
		}},
		{"oil density", func() error { _, _, _, err := hydrostatic.Impregnated(10, 10.1, 9, 880, water20); return err }},
		{"reference density", func() error { _, err := hydrostatic.Comparison(10, 9, 20, 18, 8000, 0.0012); return err }},
		{"density of the item", func() error { _, err := hydrostatic.TrueMass(10, 19300, 0.0012, 0.0012, 8); return err }},
		{"density of the weights", func() error { _, err := hydrostatic.TrueMass(10, 19.3, 0.0012, 0.0012, 8000); return err }},
		{"bubble diameter", func() error { _, err := hydrostatic.BubbleLift(-1, water20); return err }},
		{"cavity volume", func() error { _, err := hydrostatic.WithCavity(10, 19.3, -1); return err }},
		{"coverage factor", func() error { _, err := hydrostatic.SmallestItem(19.3, water20, 0.001, 0, 0.005); return err }},
		{"relative uncertainty", func() error { _, err := hydrostatic.SmallestItem(19.3, water20, 0.001, 2, 5); return err }},
		{"uncertainty of the lost weight", func() error { _, err := hydrostatic.SmallestItem(19.3, water20, 0, 2, 0.005); return err }},
	} {
		var outside *quantity.RangeError
		if err := c.weigh(); !errors.As(err, &outside) {
			t.Errorf("%s: error %v, want a *quantity.RangeError", c.what, err)
		} else if outside.What != c.what || outside.Hint == "" {
			t.Errorf("%s: error names %q with hint %q", c.what, outside.What, outside.Hint)
		}
	}
}

// The densest and the lightest item in view pass: iridium, and amber.
func TestCheckDensityLetsItemsPass(t *testing.T) {
	for _, rho := range []quantity.Density{22.56, 21.45, 19.3, 10.49, 2.65, 1.05} {
		if err := hydrostatic.CheckDensity(rho); err != nil {
			t.Errorf("CheckDensity(%g): %v", float64(rho), err)
		}
	}
}
