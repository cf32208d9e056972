package determination

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// weighed is a draft of an invented item of a density (g/cm³ at 20 °C), weighed without error in
// water at 21 °C, with everything that the default house rule asks for.
func weighed(mass, rho20 float64) *Draft {
	const t, water, air = 21.0, 0.9979908, 0.0012 // water: Tanaka 2001, half saturated with air
	shows := func(force float64) Reading { return Reading{Gram: math.Round(force/0.99985*1e4) / 1e4} }
	v := mass / rho20 * (1 + 45e-6*(t-20))
	const solid, solidMass = 7.93, 40.0
	solidV := solidMass / solid * (1 + 48e-6*(t-20))
	temperature, u, rhoA, uA, d, s, sLiquid, surface, density, uDensity := t, 0.1, 1.2, 0.005, 1e-4, 1e-4, 2e-4, 0.0, 7930.0, 0.4
	return &Draft{
		Arrangement: "hanging",
		AirG:        []Reading{shows(mass - air*v)}, ClosingAirG: []Reading{shows(mass - air*v)},
		LiquidG: []Reading{shows(mass - water*v), shows(mass - water*v)},
		Liquid: &Liquid{Kind: "water", TemperatureC: &temperature, TemperatureUC: &u, Proof: &Proof{
			AirG: []Reading{shows(solidMass - air*solidV)}, LiquidG: []Reading{shows(solidMass - water*solidV)},
			DensityKgM3: &density, DensityUKgM3: &uDensity,
		}},
		Air:     &Air{DensityKgM3: &rhoA, DensityUKgM3: &uA},
		Balance: &Balance{ResolutionG: &d, RepeatabilityG: &s, RepeatabilityLiquidG: &sLiquid},
		Hanger:  &Hanger{SurfaceUG: &surface},
	}
}

func gold(fineness float64, family string) *Claim {
	return &Claim{Metal: "gold", Fineness: &fineness, Family: family}
}

func evaluated(t testing.TB, d *Draft) *Answer {
	t.Helper()
	a, err := Evaluate(d, Options{MonteCarlo: WhereNeeded})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// Densities are those of the mixing model for nominal recipes (rows S17 and S18 of the alloy
// tests, and the middle of the family's recipes), so what is tested is the judging, not the model.
func TestFinding(t *testing.T) {
	for _, c := range []struct {
		name          string
		rho           float64
		claim         *Claim
		change        func(*Draft)
		result, would string
		says          string // found in reasons, missing or doubts
	}{
		{"honest 750", 15.44, gold(750, "gold-yellow"), nil, "met", "", ""},
		{"honest 585", 13.26, gold(585, "gold-yellow"), nil, "met", "", ""},
		{"585 sold as 750", 13.26, gold(750, "gold-yellow"), nil, "not met", "", "lighter than any recipe"},
		{"brass sold as 585", 8.5, gold(585, ""), nil, "not met", "", "lighter"},
		{"750 sold as 585", 15.44, gold(585, "gold-yellow"), nil, "undecided", "", "denser than"},
		{"platinum sold as gold", 21.4, gold(750, ""), nil, "not met", "", "denser than any gold"},
		{"375 and 333 can't be told apart", 11.25, gold(375, "gold-yellow"), nil, "undecided", "", "375"},
		{"one immersion", 15.44, gold(750, "gold-yellow"), func(d *Draft) { d.LiquidG = d.LiquidG[:1] }, "undecided", "met", "one more weighing immersed"},
		{"no closing weighing", 15.44, gold(750, "gold-yellow"), func(d *Draft) { d.ClosingAirG = nil }, "undecided", "met", "closing_air_g"},
		{"no proof of the liquid", 15.44, gold(750, "gold-yellow"), func(d *Draft) { d.Liquid.Proof = nil }, "undecided", "met", "liquid.proof"},
		{"not met is held back too", 13.26, gold(750, "gold-yellow"), func(d *Draft) { d.LiquidG = d.LiquidG[:1] }, "undecided", "not met", "one more"},
		{"another house rule asks for less", 15.44, gold(750, "gold-yellow"), func(d *Draft) {
			d.HouseRule, d.LiquidG, d.ClosingAirG, d.Liquid.Proof = "first-look", d.LiquidG[:1], nil, nil
		}, "met", "", ""},
		{"taken up water", 15.44, gold(750, "gold-yellow"), func(d *Draft) { d.ClosingAirG[0].Gram += 0.004 }, "undecided", "met", "took up liquid"},
		{"zero moved", 15.44, gold(750, "gold-yellow"), func(d *Draft) { d.ClosingAirG[0].Gram -= 0.004 }, "undecided", "met", "zero moved"},
		{"ethanol in the vessel", 15.44 * 0.998 / 0.7893, gold(750, "gold-yellow"), func(d *Draft) {
			// The item and the check piece both lie in ethanol, the draft says water.
			for _, r := range []*Reading{&d.LiquidG[0], &d.LiquidG[1]} {
				r.Gram = d.AirG[0].Gram * (1 - 0.7893/15.44)
			}
			d.Liquid.Proof.LiquidG[0].Gram = d.Liquid.Proof.AirG[0].Gram * (1 - 0.7893/7.93)
		}, "undecided", "", "not what it is said to be"},
		{"too small for the balance", 15.44, gold(750, "gold-yellow"), func(d *Draft) {
			s := 0.03
			d.Balance.RepeatabilityG, d.Balance.RepeatabilityLiquidG = &s, &s
		}, "undecided", "", "this weighing can't decide it"},
		{"silver 925 or 900", 10.34, &Claim{Metal: "silver", Fineness: new(925.0), Standards: "india"}, nil, "undecided", "", "nearer 925 than 900"},
		{"lead sold as silver", 11.34, &Claim{Metal: "silver", Fineness: new(925.0)}, nil, "not met", "", "denser"},
		{"silver 500 sold as 800", 9.66, &Claim{Metal: "silver", Fineness: new(800.0)}, nil, "not met", "", ""},
		{"yellow sold as silver", 10.36, &Claim{Metal: "silver", Fineness: new(925.0)}, func(d *Draft) { d.Item = &Item{Colour: "yellow"} }, "undecided", "", "colour seen"},
		{"lead sold as palladium 500", 11.34, &Claim{Metal: "palladium", Fineness: new(500.0)}, nil, "undecided", "", ""},
		{"a check piece that proves nothing", 15.44, gold(750, "gold-yellow"), func(d *Draft) { d.Liquid.Proof.DensityUKgM3 = new(500.0) }, "undecided", "met", "proves nothing"},
		{"platinum finer than claimed", 20.8, &Claim{Metal: "platinum", Fineness: new(900.0)}, nil, "undecided", "", ""},
		{"platinum with iridium is denser than platinum", 21.7, &Claim{Metal: "platinum", Fineness: new(950.0)}, nil, "undecided", "", ""},
		{"seen yellow, claimed white", 15.4, gold(750, "gold-white-nickel"), func(d *Draft) { d.Item = &Item{Colour: "yellow"} }, "undecided", "", "not the colour claimed"},
		{"fine silver sold as gold 333", 10.5, gold(333, ""), nil, "undecided", "", "below the claim"},
		{"stones in the metal", 14.43, gold(750, "gold-yellow"), func(d *Draft) { d.Item = &Item{Stones: new(true)} }, "undecided", "", "stones are weighed"},
		{"hollow and light", 13.26, gold(750, "gold-yellow"), func(d *Draft) { d.Item = &Item{Hollow: new(true)} }, "undecided", "", "may be hollow"},
		{"gold without a fineness", 15.44, &Claim{Metal: "gold"}, nil, "undecided", "", "other materials"},
		{"brass sold as gold without a fineness", 8.5, &Claim{Metal: "gold"}, nil, "not met", "", "no alloy of gold"},
		{"glass sold as diamond", 2.5, &Claim{Stone: "diamond"}, nil, "not met", "", "outside the range"},
		{"topaz sold as diamond", 3.53, &Claim{Stone: "diamond"}, nil, "undecided", "", "fit too"},
	} {
		d := weighed(8, c.rho)
		d.Claim = c.claim
		if c.change != nil {
			c.change(d)
		}
		a := evaluated(t, d)
		f := a.Finding
		if f == nil {
			t.Errorf("%s: no finding", c.name)
			continue
		}
		if f.Result != c.result || c.would != "" && f.WouldBe != c.would {
			t.Errorf("%s (%.4f g/cm³): %s, would be %q, want %s, %q; %v %v", c.name, a.Density20C.KgM3/1000, f.Result, f.WouldBe, c.result, c.would, f.Reasons, f.Missing)
		}
		if said := fmt.Sprint(f.Reasons, f.Missing, a.Doubts); !strings.Contains(said, c.says) {
			t.Errorf("%s: said %s, want …%s…", c.name, said, c.says)
		}
		if f.Rule == "" || f.Sentence == "" {
			t.Errorf("%s: rule %q, sentence %q", c.name, f.Rule, f.Sentence)
		}
	}
}

// TestNeverHidden: what density can't exclude is listed whatever the claim.
func TestNeverHidden(t *testing.T) {
	for _, c := range []struct {
		name  string
		rho   float64
		claim *Claim
		want  []string
		first bool
	}{
		{"fine gold", 19.285, gold(999, "gold-fine"), []string{"tungsten, wrought"}, true},
		{"22 carat", 17.77, gold(916, "gold-yellow"), []string{"heavy alloy class 2", "tungsten, sintered"}, false},
		{"18 carat", 15.40, gold(750, "gold-yellow"), []string{"tungsten-copper 80/20", "palladium white gold 585"}, false},
		{"9 carat", 11.33, gold(375, "gold-yellow"), []string{"lead"}, false},
		{"fine silver", 10.50, &Claim{Metal: "silver", Fineness: new(999.0)}, []string{"lead-antimony"}, false},
		{"sterling", 10.25, &Claim{Metal: "silver", Fineness: new(925.0)}, []string{"molybdenum"}, false},
		{"diamond", 3.52, &Claim{Stone: "diamond"}, []string{"topaz", "sphene"}, false},
	} {
		d := weighed(8, c.rho)
		d.Claim = c.claim
		a := evaluated(t, d)
		var names []string
		for _, k := range a.Candidates {
			names = append(names, k.Name)
		}
		for _, want := range c.want {
			i := slices.IndexFunc(names, func(n string) bool { return strings.Contains(n, want) })
			if i < 0 || c.first && i != 0 {
				t.Errorf("%s: %q is not listed or not first: %q", c.name, want, names)
			}
		}
		if c.claim.Metal == "gold" && !slices.ContainsFunc(a.Cautions, func(s string) bool { return strings.Contains(s, "tungsten") }) {
			t.Errorf("%s: no caution names tungsten", c.name)
		}
	}
}

// TestClaimMovesNoFigure: density, range, interval and safe figure are the same whatever
// fineness is claimed.
func TestClaimMovesNoFigure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rho := rapid.Float64Range(10.6, 19.2).Draw(t, "rho")
		mass := rapid.Float64Range(2, 50).Draw(t, "mass")
		standards := []float64{333, 375, 417, 585, 750, 800, 916, 990, 999}
		one := rapid.SampledFrom(standards).Draw(t, "one")
		other := rapid.SampledFrom(standards).Draw(t, "other")
		figures := func(claimed float64) []Fineness {
			d := weighed(mass, rho)
			d.Claim = gold(claimed, "gold-yellow")
			a, err := Evaluate(d, Options{MonteCarlo: WhereNeeded})
			if err != nil {
				t.Fatal(err)
			}
			var out []Fineness
			for _, f := range append(a.Families, orNothing(a.Fineness)) {
				f.Fits, f.Reach = nil, nil
				out = append(out, f)
			}
			return out
		}
		a, b := figures(one), figures(other)
		if fmt.Sprint(a) != fmt.Sprint(b) {
			t.Fatalf("claimed %g: %v\nclaimed %g: %v", one, a, other, b)
		}
	})
}

func orNothing(f *Fineness) Fineness {
	if f == nil {
		return Fineness{}
	}
	return *f
}

// TestFamilyRaisesNoPrice: a family that is only claimed never raises the safe figure.
func TestFamilyRaisesNoPrice(t *testing.T) {
	for _, rho := range []float64{11.3, 13.3, 15.0, 15.45, 17.7} {
		safe := func(family string) float64 {
			d := weighed(8, rho)
			d.Claim = gold(750, family)
			return orNothing(evaluated(t, d).Fineness).Safe
		}
		open := safe("")
		for _, family := range []string{"gold-yellow", "gold-3n", "gold-red", "gold-white-nickel", "gold-green"} {
			if got := safe(family); got > open+1e-6 {
				t.Errorf("%g g/cm³: safe %.1f with %s claimed, %.1f without", rho, got, family, open)
			}
		}
	}
}

// TestUnitOfReadings: the same readings in carat and in grams give the same density.
func TestUnitOfReadings(t *testing.T) {
	grams := `{"air_g": [7.42], "liquid_g": [6.94], "liquid": {"kind": "water", "temperature_c": 21}, "balance": {"resolution_g": 0.001}}`
	carats := `{"air_g": ["37.1 ct"], "liquid_g": ["34.7 ct"], "liquid": {"kind": "water", "temperature_c": 21}, "balance": {"resolution_g": 0.001}}`
	a, err := answer(grams)
	if err != nil {
		t.Fatal(err)
	}
	b, err := answer(carats)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(a.Density20C.KgM3-b.Density20C.KgM3) > 1e-6 || math.Abs(a.Density20C.UKgM3-b.Density20C.UKgM3) > 1e-6 {
		t.Errorf("in grams %v, in carat %v", a.Density20C, b.Density20C)
	}
}

// TestSameAnswerTwice: the same draft gives the same answer, and evaluating changes nothing of it.
func TestSameAnswerTwice(t *testing.T) {
	d := ring(t)
	before := fmt.Sprintf("%+v", *d)
	one, two := evaluated(t, d), evaluated(t, d)
	if got := fmt.Sprintf("%+v", *d); got != before {
		t.Errorf("the draft was changed: %s, was %s", got, before)
	}
	if a, b := fmt.Sprintf("%+v %+v", one.Density20C.KgM3, one.Families), fmt.Sprintf("%+v %+v", two.Density20C.KgM3, two.Families); a != b {
		t.Errorf("answers differ: %s, %s", a, b)
	}
}

// TestOneClaimLeavesNoTrace: a claim whose print differs from the list's (916.7 for 916) changes
// nothing for the determinations after it.
func TestOneClaimLeavesNoTrace(t *testing.T) {
	plain := func() string {
		a := evaluated(t, weighed(8, 17.7))
		return fmt.Sprintf("%+v %+v", a.Families, a.Candidates)
	}
	before := plain()
	d := weighed(8, 17.7)
	d.Claim = gold(916.7, "gold-yellow")
	evaluated(t, d)
	if after := plain(); after != before {
		t.Errorf("after a claim of 916.7:\n%s\nbefore:\n%s", after, before)
	}
}
