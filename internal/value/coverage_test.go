package value

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"wreath/alloy"
	"wreath/fluid"
	"wreath/internal/determination"
	"wreath/quantity"
)

// scrap simulates lots of yellow gold whose true fineness is known. Readings are made by summing
// the forces on the pan and rounding; recipes, model and liquid err together as the lot's items do.
type scrap struct {
	*rand.Rand
	family  *alloy.Family
	recipes float64 // correlation of the recipes of two items
	known   bool    // the family is known for sure; otherwise its neighbours lower the safe figure
}

// together draws a standard normal deviate that has a correlation r with a common one.
func (s *scrap) together(common, r float64) float64 {
	return math.Sqrt(r)*common + math.Sqrt(1-r)*s.NormFloat64()
}

// bounds returns the bounds of the usual shares of the rest at a fineness, interpolated between the
// printed ones.
func (s *scrap) bounds(symbol string, fineness float64) (low, high float64) {
	at := func(b alloy.Bounds) (float64, float64) {
		for _, share := range b.Shares {
			if share.Symbol == symbol {
				return share.Low, share.High
			}
		}
		return 0, 0
	}
	box := s.family.Usual[0]
	for i, b := range box {
		l1, h1 := at(b)
		if fineness <= b.Fineness || i == len(box)-1 {
			if i == 0 || fineness >= b.Fineness {
				return l1, h1
			}
			l0, h0 := at(box[i-1])
			t := (fineness - box[i-1].Fineness) / (b.Fineness - box[i-1].Fineness)
			return l0 + t*(l1-l0), h0 + t*(h1-h0)
		}
	}
	panic("a box without bounds")
}

// position turns a normal deviate into a place between two bounds.
func position(z, low, high float64) float64 { return low + (high-low)*math.Erfc(-z/math.Sqrt2)/2 }

// lot draws n items and the fine gold that is truly in them.
func (s *scrap) lot(t *testing.T, n int) (items []Item, fineG float64) {
	silver, zinc, model := s.NormFloat64(), s.NormFloat64(), s.NormFloat64()
	const stated, uT, rhoA = 21.0, 0.1, 0.00119
	trueT := stated + uT*s.NormFloat64()
	water, err := fluid.Water(quantity.Temperature(trueT), 101325, s.Float64())
	if err != nil {
		t.Fatal(err)
	}
	for i := range n {
		fineness := 0.35 + 0.6*s.Float64()
		lowAg, highAg := s.bounds("Ag", fineness)
		lowZn, highZn := s.bounds("Zn", fineness)
		ag, zn := position(s.together(silver, s.recipes), lowAg, highAg), position(s.together(zinc, s.recipes), lowZn, highZn)
		rest := 1 - fineness
		mixed, err := alloy.Mix(alloy.Parts{{Symbol: "Au", Fraction: fineness}, {Symbol: "Ag", Fraction: rest * ag}, {Symbol: "Zn", Fraction: rest * zn}, {Symbol: "Cu", Fraction: rest * (1 - ag - zn)}}, alloy.Options{})
		if err != nil {
			t.Fatal(err)
		}
		mass := 2 + 8*s.Float64()
		volume := mass / mixed.Density.GramPerCm3() * (1 + s.family.ModelU*s.together(model, alloy.HalfShared))
		volume *= 1 + 45e-6*(trueT-20)
		shows := func(force, sd float64) determination.Reading {
			reading := math.Round((force/(1-1.2/8000)+sd*s.NormFloat64())/0.0001) * 0.0001
			var r determination.Reading
			if err := r.FromNumber(fmt.Sprintf("%.4f", reading)); err != nil {
				t.Fatal(err)
			}
			return r
		}
		d := &determination.Draft{
			ID:   fmt.Sprint(i),
			Item: &determination.Item{Colour: "yellow"}, Claim: &determination.Claim{Metal: "gold"},
			Arrangement: "hanging",
			AirG:        []determination.Reading{shows(mass-rhoA*volume, 0.0001)},
			LiquidG:     []determination.Reading{shows(mass-water.GramPerCm3()*volume, 0.0003)},
			Liquid:      &determination.Liquid{Kind: "water", TemperatureC: new(stated), TemperatureUC: new(uT), DensityUKgM3: new(0.001)},
			Air:         &determination.Air{DensityKgM3: new(1000 * rhoA), DensityUKgM3: new(0.005)},
			Balance:     &determination.Balance{ResolutionG: new(0.0001), RepeatabilityG: new(0.0001), RepeatabilityLiquidG: new(0.0003)},
			Hanger:      &determination.Hanger{SurfaceUG: new(0.0)},
		}
		a, err := determination.Evaluate(d, determination.Options{MonteCarlo: determination.WhereNeeded})
		if err != nil {
			t.Fatal(err)
		}
		if s.known {
			i := slices.IndexFunc(a.Families, func(f determination.Fineness) bool { return f.Family == s.family.Key })
			if i < 0 {
				t.Fatalf("%v is not within reach", s.family.Key)
			}
			a.Fineness = &a.Families[i]
		}
		items = append(items, Item{Draft: d, Answer: a})
		fineG += mass * fineness
	}
	return items, fineG
}

// TestLotSafeFigureHolds counts how often the fine gold of simulated lots reaches the lot's safe
// figure: about 95 % or more. Where recipes correlate as mixed scrap, taking the items as unrelated
// must fail, or the test could not tell.
func TestLotSafeFigureHolds(t *testing.T) {
	family, ok := alloy.FamilyByKey("gold-yellow")
	if !ok {
		t.Fatal("no yellow gold")
	}
	terms := houseTerms()
	terms.OnFinding = OnFinding{Undecided: SafeFigure, NotMet: SafeFigure, NoClaim: SafeFigure}
	gold := priceOf("gold", "100", "g")
	for _, c := range []struct {
		name         string
		correlation  float64
		recipes      string
		known        bool
		atLeast      float64
		items, count int
	}{
		{"unrelated", 0, MixedScrap, true, 0.95, 20, 500},
		{"mixed scrap", 0.5, MixedScrap, true, 0.93, 20, 500},
		{"one maker", 1, OneMaker, true, 0.93, 20, 500},
		{"mixed scrap, family not known", 0.5, MixedScrap, false, 0.95, 20, 100},
	} {
		s := &scrap{rand.New(rand.NewPCG(20261126, 12)), family, c.correlation, c.known}
		held, singlesHeld, independentHeld := 0, 0, 0
		given, singlesGiven := 0.0, 0.0 // share of the fine gold that is not paid for
		for range c.count {
			items, truth := s.lot(t, c.items)
			l := lotOf(t, Lot{Items: items, Recipes: c.recipes}, terms, gold)
			m := l.Metals[0]
			if l.Payout == nil || len(l.Metals) != 1 {
				t.Fatalf("%s: %s", c.name, l.Sentence)
			}
			if truth >= m.SafeG.Float() {
				held++
			}
			if truth >= m.SinglesG.Float() {
				singlesHeld++
			}
			squares := 0.0
			for _, item := range items {
				w, _ := terms.weigh(&item, SafeFigure)
				one, _ := spreadOf(w, &item)
				squares += math.Pow(one.massG*one.sd, 2)
			}
			if truth >= m.FineG-safeDeviation*math.Sqrt(squares) {
				independentHeld++
			}
			given += (1 - m.SafeG.Float()/truth) / float64(c.count)
			singlesGiven += (1 - m.SinglesG.Float()/truth) / float64(c.count)
		}
		share := func(n int) float64 { return float64(n) / float64(c.count) }
		t.Logf("%s: held %.3f, gives away %.2f %%; sum of singles held %.3f, gives away %.2f %%; taken as unrelated %.3f",
			c.name, share(held), 100*given, share(singlesHeld), 100*singlesGiven, share(independentHeld))
		if share(held) < c.atLeast {
			t.Errorf("%s: the lot's safe figure holds in %.3f of %d lots, want %.2f at least", c.name, share(held), c.count, c.atLeast)
		}
		if given >= singlesGiven && c.recipes == MixedScrap {
			t.Errorf("%s: the lot gives away %.2f %%, its items %.2f %%", c.name, 100*given, 100*singlesGiven)
		}
		if c.correlation > 0 && c.known && share(independentHeld) > 0.93 {
			t.Errorf("%s: taken as unrelated the figure holds in %.3f; this simulation tells nothing", c.name, share(independentHeld))
		}
	}
}
