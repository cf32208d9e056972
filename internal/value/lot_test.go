package value

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wreath/alloy"
	"wreath/internal/determination"
	"wreath/quantity"
)

// Items of one group, with one uncertainty of what they share, are the case that alloy.Lot knows.
func TestTotalAgreesWithAlloy(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		between := func(what string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, what) }
		shared, r := between("shared", 0, 0.004), between("r", 0, 1)
		var spreads []spread
		var items []alloy.LotItem
		for range rapid.IntRange(1, 8).Draw(t, "items") {
			s := spread{massG: between("mass", 0.1, 50), middle: between("middle", 0.3, 0.99), slope: between("slope", 0.5, 1.5), modelU: between("model", 0.0005, 0.003), own: between("own", 0, 0.003), group: shared}
			s.sd = between("sd", 0.01, 0.04)
			spreads = append(spreads, s)
			items = append(items, alloy.LotItem{Mass: quantity.Grams(s.massG), Fineness: s.middle, SD: s.sd, Slope: s.slope, ModelU: s.modelU, WeighU: s.own})
		}
		fine, u, err := total(spreads, r)
		if err != nil {
			t.Fatal(err)
		}
		want, err := alloy.Lot(items, alloy.LotOptions{LiquidU: shared, SharedModel: alloy.HalfShared, RecipeR: r})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(fine-want.Fine.Gram()) > 1e-9*fine || math.Abs(u-want.U.Gram()) > 1e-9*u {
			t.Fatalf("fine %v g, u %v g; alloy.Lot says %v and %v", fine, u, want.Fine, want.U)
		}
	})
}

func drawSpread(t *rapid.T) spread {
	between := func(what string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, what) }
	s := spread{
		massG: between("mass", 0.1, 500), middle: between("middle", 0.3, 1), sd: between("sd", 0, 0.05),
		slope: between("slope", 0, 1.5), modelU: between("model", 0, 0.003),
		own: between("own", 0, 0.01), group: between("group", 0, 0.01), all: between("all", 0, 0.001),
		key: rapid.SampledFrom([]string{"", "Monday", "Tuesday"}).Draw(t, "group of"),
	}
	s.bound()
	return s
}

// However the parts are shared: the spread of the total is never more than the sum of those of the
// items, so that the lot's safe figure is never below the sum of theirs; never less than if nothing
// were shared; and it grows with sharing.
func TestSharingWidensTheTotal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var spreads, together []spread
		linear, squares := 0.0, 0.0
		for range rapid.IntRange(1, 10).Draw(t, "items") {
			s := drawSpread(t)
			spreads = append(spreads, s)
			s.key = "one"
			together = append(together, s)
			linear += s.massG * s.sd
			squares += math.Pow(s.massG*s.sd, 2)
		}
		_, u, err := total(spreads, alloy.MixedScrapR)
		if err != nil {
			t.Fatal(err)
		}
		_, uTogether, _ := total(together, alloy.MixedScrapR)
		_, uOneMaker, _ := total(spreads, alloy.OneMelt)
		slack := 1e-9 * (linear + 1e-9)
		if u > linear+slack || u < math.Sqrt(squares)-slack {
			t.Fatalf("u of the total %v g, linear sum %v g, quadratic %v g", u, linear, math.Sqrt(squares))
		}
		if uTogether < u-slack || uOneMaker < u-slack {
			t.Fatalf("u %v g; in one group %v g; of one maker %v g", u, uTogether, uOneMaker)
		}
	})
}

// Each row of the budgets of the examples is parted as a person would.
func TestRowsAreShared(t *testing.T) {
	want := map[sharing][]string{
		itemAlone: {
			"air reading: repeatability", "air reading: resolution", "immersed reading: repeatability", "immersed reading: resolution",
			"gain reading: repeatability", "gain reading: resolution",
		},
		everyItem: {"liquid: water formula", "liquid: ethanol-water formula"},
		oneGroup: {
			"liquid temperature", "air density", "liquid: purity", "liquid: dissolved air", "liquid: ethanol strength",
			"rise of the liquid along the wires", "expansion of the item", "immersed reading: surface force on the wire",
		},
	}
	expected := map[string]sharing{}
	for by, rows := range want {
		for _, row := range rows {
			expected[row] = by
		}
	}
	met := map[string]bool{}
	for _, name := range []string{"ring", "coin", "bar", "first", "ring-in-ethanol", "standing-vessel", "spoon", "platinum-band"} {
		for _, row := range evaluated(t, name+".json").Answer.Budget {
			met[row.Input] = true
			if by, known := expected[row.Input]; !known || sharedBy(row.Input) != by {
				t.Errorf("%s: %q counts as %d, want %d (known: %v)", name, row.Input, sharedBy(row.Input), by, known)
			}
		}
	}
	for row := range expected {
		if !met[row] {
			t.Errorf("no example has the row %q: was it renamed?", row)
		}
	}
}

// The parts of one item together give its safe figure back.
func TestSpreadKeepsTheSafeFigure(t *testing.T) {
	for _, name := range []string{"ring", "coin", "bar", "first", "porous-casting", "ring-in-ethanol", "standing-vessel", "spoon", "platinum-band", "gold-dust"} {
		item := evaluated(t, name+".json")
		w, err := houseTerms().weigh(&item, SafeFigure)
		if err != nil {
			t.Fatal(err)
		}
		s, err := spreadOf(w, &item)
		if err != nil {
			t.Fatal(err)
		}
		fine, u, err := total([]spread{s}, alloy.MixedScrapR)
		if err != nil {
			t.Fatal(err)
		}
		safe := item.Answer.Fineness.Safe / 1000
		if w.claimPpt.Sign() > 0 {
			safe = math.Min(safe, w.claimPpt.Float()/1000)
		}
		near(t, name+", safe figure", (fine-safeDeviation*u)/s.massG, safe, 1e-9)
		if s.middle > item.Answer.Fineness.Median/1000 {
			t.Errorf("%s: the middle %v lies above the median", name, s.middle)
		}
	}
}

func lotOf(t testing.TB, lot Lot, terms *Terms, prices ...Price) *LotWorth {
	t.Helper()
	l, err := OfLot(lot, prices, terms, noon)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// Items whose safe figure lies above the claim have no spread left, so that the sums can be done by
// hand: (10 + 20) × 0.75 = 22.5 g; × 100 = 2250; 92 % of it 2070; less 2 × 2.50.
func TestLotByHand(t *testing.T) {
	terms := houseTerms()
	terms.Charges = []Charge{{Name: "testing", PerItem: decimal("2.50")}}
	items := []Item{judged("a", Met, 760, "10"), judged("b", Met, 760, "20")}
	l := lotOf(t, Lot{Items: items}, terms, priceOf("gold", "100", "g"))
	m := l.Metals[0]
	if m.SafeG.String() != "22.5" || m.SinglesG.String() != "22.5" || m.MetalG.String() != "30" || m.Gross.String() != "2250" || l.Payout.String() != "2065.00" {
		t.Errorf("%+v, payout %s", m, l.Payout)
	}
	// From 15 g on 93 %: the lot has 30 g of gold. 2250 × 0.93 - 5 = 2087.5.
	terms.Metals[0].ByMass = []MassBand{{dec("15"), dec("93")}}
	if l := lotOf(t, Lot{Items: items}, terms, priceOf("gold", "100", "g")); l.Payout.String() != "2087.50" {
		t.Errorf("by mass: %s", l.Payout)
	}
	// From 750 on 94 %; the second item claims 585: 7.5 × 94 + 20 × 0.585 × 92 - 5 = 705 + 1076.4 - 5.
	terms.Metals[0].ByMass, terms.Metals[0].ByFineness = nil, []FinenessBand{{dec("750"), dec("94")}}
	items[1].Answer.LegalLimit.LimitPpt = 585
	l = lotOf(t, Lot{Items: items}, terms, priceOf("gold", "100", "g"))
	if l.Payout.String() != "1776.40" || addUp(l.Money).Cmp(*l.Payout) != 0 {
		t.Errorf("by fineness: %s, lines %+v", l.Payout, l.Money)
	}
}

func TestLotOfSeveralMetals(t *testing.T) {
	terms := houseTerms()
	terms.OnFinding.Undecided = SafeFigure
	terms.Metals = append(terms.Metals, MetalTerms{Metal: "platinum", Percent: dec("80")})
	items := []Item{evaluated(t, "ring.json"), evaluated(t, "spoon.json"), evaluated(t, "coin.json"), evaluated(t, "platinum-band.json")}
	stale := priceOf("silver", "1180", "kg")
	stale.HeldAt = Moment{noon.Add(-3 * time.Hour)}
	l := lotOf(t, Lot{Items: items}, terms, priceOf("platinum", "1402.50", "ozt"), priceOf("gold", "101.40", "g"), stale)
	if len(l.Metals) != 3 || l.Metals[0].Metal != "gold" || l.Metals[0].Items != 2 || l.Metals[1].Metal != "silver" || len(l.Items) != 4 {
		t.Fatalf("%+v", l.Metals)
	}
	if addUp(l.Money).Cmp(*l.Payout) != 0 {
		t.Errorf("the lines add up to %s, the payout is %s", addUp(l.Money), l.Payout)
	}
	if !l.Metals[1].Stale || l.Metals[0].Stale || !strings.Contains(l.Sentence, "price of silver is stale: 3 h 0 min old") {
		t.Errorf("the price of silver is stale; %q", l.Sentence)
	}
	if !strings.Contains(strings.Join(l.Warnings, "\n"), "3 items: the finding is undecided") || !strings.Contains(l.Sentence, "3 items is: undecided") {
		t.Errorf("the undecided items are not named: %q, %q", l.Warnings, l.Sentence)
	}
	written, err := json.Marshal(l)
	if err != nil {
		t.Fatal(err)
	}
	var again LotWorth
	if err := json.Unmarshal(written, &again); err != nil {
		t.Fatal(err)
	}
	if rewritten, _ := json.Marshal(again); string(rewritten) != string(written) {
		t.Errorf("%s comes back as %s", written, rewritten)
	}
}

func TestLotsWithoutPrice(t *testing.T) {
	l := lotOf(t, Lot{Items: []Item{judged("a", Met, 740, "10"), judged("b", Undecided, 740, "10")}}, houseTerms(), priceOf("gold", "100", "g"))
	if l.Payout != nil || l.Money != nil || l.Metals[0].Price != nil || l.Metals[0].Gross != nil || !strings.Contains(l.NoPrice, "items[1] (b)") || strings.Contains(l.Sentence, "EUR") {
		t.Errorf("a lot with an undecided item: %+v", l)
	}
	if l.Metals[0].SafeG.Sign() <= 0 || l.Metals[0].FineUG <= 0 {
		t.Errorf("its fine mass is known all the same: %+v", l.Metals[0])
	}
}

// Where the tables know no slope, all of the spread is shared: two like items are as uncertain
// together as twice the one.
func TestWithoutSlopeAllIsShared(t *testing.T) {
	s := spread{massG: 10, middle: 0.95, sd: 0.02, modelU: 0.002, own: 0.001, key: "a"}
	s.bound()
	other := s
	other.key = "b"
	_, u, err := total([]spread{s, other}, 0)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "u of both", u, 2*10*0.02, 1e-12)
}

func TestLotsRefused(t *testing.T) {
	suspended := judged("b", Met, 740, "10")
	suspended.Answer.Doubts = []determination.Doubt{{Cause: "a bubble", Suspends: true}}
	heap := judged("b", Met, 740, "10")
	heap.Pieces = 40
	unknown := judged("b", Met, 740, "10")
	unknown.Answer.Fineness.Family = "gold-blue"
	absurd := judged("b", Met, 740, "10")
	absurd.Answer.Fineness.Median = math.NaN()
	gold := priceOf("gold", "100", "g")
	dollars := gold
	dollars.Currency = "USD"
	a := judged("a", Met, 740, "10")
	for _, c := range []struct {
		lot          Lot
		prices       []Price
		path, reason string
	}{
		{Lot{}, []Price{gold}, "items", "empty"},
		{Lot{Items: []Item{a, a}}, []Price{gold}, "items[1]", "already"},
		{Lot{Items: []Item{a}, Recipes: "scrap"}, []Price{gold}, "recipes", "scrap"},
		{Lot{Items: []Item{a, suspended}}, []Price{gold}, "items[1]", "a bubble"},
		{Lot{Items: []Item{a, heap}}, []Price{gold}, "items[1].pieces", "40 pieces"},
		{Lot{Items: []Item{a, unknown}}, []Price{gold}, "items[1].fineness.family", "gold-blue"},
		{Lot{Items: []Item{a, absurd}}, []Price{gold}, "items[1].fineness", "not those of a fineness"},
		{Lot{Items: []Item{a, {}}}, []Price{gold}, "items[1]", "missing"},
		{Lot{Items: []Item{a}}, nil, "prices", "none of gold"},
		{Lot{Items: []Item{a}}, []Price{gold, gold}, "prices", "two of gold"},
		{Lot{Items: []Item{a}}, []Price{dollars}, "price.currency", "USD"},
		{Lot{Items: make([]Item, MaxItems+1)}, []Price{gold}, "items", "more than"},
	} {
		_, err := OfLot(c.lot, c.prices, houseTerms(), noon)
		wantFault(t, err, c.path, c.reason)
	}
	if _, err := OfLot(Lot{Items: []Item{a, heap}}, []Price{gold}, houseTerms(), noon); !errors.Is(err, ErrMixedHeap) {
		t.Errorf("a heap in a lot: %v", err)
	}
	terms := houseTerms()
	terms.Metals = terms.Metals[1:]
	_, err := OfLot(Lot{Items: []Item{a}}, []Price{gold}, terms, noon)
	wantFault(t, err, "metals", "do not buy gold")
}

// The lot's safe figure is never below the sum of those of its items, the payout is the sum of its
// lines, and a lot of one item is worth what the item is worth.
func TestLotAgainstItsItems(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		terms := drawTerms(t)
		var items []Item
		for i := range rapid.IntRange(1, 6).Draw(t, "items") {
			item := judged(fmt.Sprint(i), Met, rapid.Float64Range(350, 740).Draw(t, "safe"), drawn(t, "mass", 100).plus(dec("0.5")).String())
			item.SharedWith = rapid.SampledFrom([]string{"", "Monday"}).Draw(t, "shared with")
			items = append(items, item)
		}
		gold := priceOf("gold", "100", "g")
		l, err := OfLot(Lot{Items: items}, []Price{gold}, terms, noon)
		if err != nil {
			t.Fatal(err)
		}
		m := l.Metals[0]
		if m.SafeG.Cmp(m.SinglesG) < 0 {
			t.Fatalf("safe %s g, sum of the single ones %s g", m.SafeG, m.SinglesG)
		}
		if raw := m.FineG - safeDeviation*m.FineUG; raw < m.SinglesG.Float()-1e-9*m.FineG {
			t.Fatalf("before the cut: safe %v g, sum of the single ones %s g", raw, m.SinglesG)
		}
		if l.Payout != nil && addUp(l.Money).Cmp(*l.Payout) != 0 {
			t.Fatalf("the lines add up to %s, the payout is %s", addUp(l.Money), l.Payout)
		}
		one, err := OfLot(Lot{Items: items[:1]}, []Price{gold}, terms, noon)
		if err != nil {
			t.Fatal(err)
		}
		w, err := Of(items[0], gold, terms, noon)
		if err != nil {
			t.Fatal(err)
		}
		// The lot's figure is not cut to the digits of the item's: it may be a little more.
		if more := one.Metals[0].SafeG.minus(w.FineG).Float(); more < 0 || more > 0.001*w.MetalG.Float() {
			t.Fatalf("one item: lot %s g, item %s g", one.Metals[0].SafeG, w.FineG)
		}
	})
}
