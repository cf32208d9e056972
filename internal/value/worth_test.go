package value

import (
	"encoding/json"
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wreath/internal/determination"
)

// Computed by hand.
func TestWorthByHand(t *testing.T) {
	for _, c := range []struct {
		name   string
		air    []string
		safe   float64
		price  Price
		change func(*Terms, *Item)
		fineG  string
		gross  string
		lines  []string
		payout string
	}{
		{
			// 7.4218 × 740.5 ÷ 1000 = 5.4958429; × 101.40 = 557.27847006; 8 % of it 44.5822776048;
			// 1.5 % of it 8.3591770509; 557.27847006 - 44.5822776048 - 2.50 - 8.3591770509 = 501.8370154043.
			name: "charges and rounding to 0.05 down", air: []string{"7.4218", "7.4219"}, safe: 740.5515, price: priceOf("gold", "101.40", "g"),
			change: func(x *Terms, _ *Item) {
				x.Charges = []Charge{{Name: "testing", PerItem: decimal("2.50")}, {Name: "refining", Percent: decimal("1.5")}}
				x.Rounding.Step = dec("0.05")
			},
			fineG: "5.4958429", gross: "557.27847006",
			lines: []string{"557.27847006", "-44.5822776048", "-2.50", "-8.3591770509", "-0.0370154043"}, payout: "501.80",
		},
		{
			// 31.1034768 × 700 ÷ 1000 = 21.77243376; × 3000 ÷ 31.1034768 = 2100; 92 % is 1932.
			name: "per troy ounce", air: []string{"31.1034768"}, safe: 700, price: priceOf("gold", "3000", "ozt"),
			fineG: "21.77243376", gross: "2100", lines: []string{"2100", "-168", "0.00"}, payout: "1932.00",
		},
		{
			// 10.00 × 0.7 = 7; × 3000 ÷ 31.1034768 = 675.165677940…; 92 % of 675.16567794 is 621.1524237048.
			name: "per troy ounce, cut", air: []string{"10.00"}, safe: 700, price: priceOf("gold", "3000", "ozt"),
			fineG: "7", gross: "675.16567794", lines: []string{"675.16567794", "-54.0132542352", "-0.0024237048"}, payout: "621.15",
		},
		{
			// 20.0 - 2.0 = 18.0; × 0.7 = 12.6; × 100 = 1260; 93 % from 15 g on: 1171.8; to 1: 1172 (nearest).
			name: "non-metal, a band by mass, whole euros", air: []string{"20.0"}, safe: 700, price: priceOf("gold", "100", "g"),
			change: func(x *Terms, item *Item) {
				item.NonMetalG, item.NonMetal = decimal("2.0"), "enamel"
				x.Metals[0].ByMass = []MassBand{{dec("15"), dec("93")}, {dec("18.1"), dec("95")}}
				x.Rounding = Rounding{dec("1"), HalfEven}
			},
			fineG: "12.6", gross: "1260", lines: []string{"1260", "-88.2", "0.2"}, payout: "1172",
		},
		{
			// The safe figure 999.96 lies above the claim of 750, and is held down to it: 10 × 0.75 = 7.5.
			name: "never above the claim", air: []string{"10"}, safe: 999.96, price: priceOf("gold", "100", "g"),
			fineG: "7.5", gross: "750", lines: []string{"750", "-60", "0.00"}, payout: "690.00",
		},
		{
			// Met, and the house pays by the claim: 750 and not 740.5.
			name: "by the claim", air: []string{"10"}, safe: 740.5, price: priceOf("gold", "100", "g"),
			change: func(x *Terms, _ *Item) { x.OnFinding.Met = ClaimedFineness },
			fineG:  "7.5", gross: "750", lines: []string{"750", "-60", "0.00"}, payout: "690.00",
		},
		{
			// 94 % from 740 parts per thousand on; 740.59 cut to whole ones: 10 × 0.74 × 100 = 740; 695.6.
			name: "a band by fineness", air: []string{"10"}, safe: 740.59, price: priceOf("gold", "100", "g"),
			change: func(x *Terms, _ *Item) {
				x.FinenessDecimals = new(int)
				x.Metals[0].ByFineness = []FinenessBand{{dec("740"), dec("94")}, {dec("740.5"), dec("95")}}
			},
			fineG: "7.4", gross: "740", lines: []string{"740", "-44.4", "0.00"}, payout: "695.60",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			terms, item := houseTerms(), judged("R-1", Met, c.safe, c.air...)
			if c.change != nil {
				c.change(terms, &item)
			}
			w := valued(t, item, c.price, terms)
			if w.Payout == nil {
				t.Fatalf("no price: %s", w.NoPrice)
			}
			var lines []string
			for _, l := range w.Money {
				lines = append(lines, l.Result.String())
			}
			if w.FineG.String() != c.fineG || w.Gross.String() != c.gross || !reflect.DeepEqual(lines, c.lines) || w.Payout.String() != c.payout {
				t.Errorf("fine %s, gross %s, lines %q, payout %s\nwant %s, %s, %q, %s", w.FineG, w.Gross, lines, w.Payout, c.fineG, c.gross, c.lines, c.payout)
			}
			if last := w.Grams[len(w.Grams)-1].Result; last.Cmp(w.FineG) != 0 {
				t.Errorf("the last line of grams is %s", last)
			}
			if !strings.Contains(w.Sentence, "met") || !strings.Contains(w.Sentence, c.payout) {
				t.Errorf("sentence %q", w.Sentence)
			}
		})
	}
}

// A doubt never turns into a price by default, and a suspended finding never at all.
func TestStates(t *testing.T) {
	willing := OnFinding{Undecided: SafeFigure, NotMet: SafeFigure, NoClaim: SafeFigure}
	for _, c := range []struct {
		state     string
		on        OnFinding
		suspended bool
		priced    bool
	}{
		{Met, OnFinding{}, false, true},
		{Met, OnFinding{Met: NoPrice}, false, false},
		{Undecided, OnFinding{}, false, false},
		{NotMet, OnFinding{}, false, false},
		{NoClaim, OnFinding{}, false, false},
		{Undecided, willing, false, true},
		{NotMet, willing, false, true},
		{NoClaim, willing, false, true},
		{Undecided, OnFinding{NotMet: SafeFigure, NoClaim: SafeFigure, Met: ClaimedFineness}, false, false},
		{Met, willing, true, false},
		{NoClaim, willing, true, false},
	} {
		item := judged("R-1", c.state, 700, "10")
		if c.suspended {
			item.Answer.Doubts = []determination.Doubt{{Cause: "a bubble", Suspends: true}}
		}
		terms := houseTerms()
		terms.OnFinding = c.on
		w := valued(t, item, priceOf("gold", "100", "g"), terms)
		state := c.state
		if c.suspended {
			state = Suspended
		}
		if w.State != state || (w.Payout != nil) != c.priced {
			t.Errorf("%s under %+v: state %s, payout %v (%s)", state, c.on, w.State, w.Payout, w.NoPrice)
		}
		if !c.priced {
			if w.NoPrice == "" || w.Money != nil || w.Gross != nil || w.Price != nil || strings.Contains(w.Sentence, "EUR") {
				t.Errorf("%s without a price: %+v", state, w)
			}
			continue
		}
		if warned := strings.Contains(strings.Join(w.Warnings, "\n"), "rests on the safe figure alone"); warned != (state != Met) {
			t.Errorf("%s: warnings %q", state, w.Warnings)
		}
		if w.FinenessBy != SafeFigure {
			t.Errorf("%s is paid by %s", state, w.FinenessBy)
		}
	}
}

func TestStaleSaysSo(t *testing.T) {
	p := priceOf("gold", "100", "g")
	p.HeldAt = Moment{noon.Add(-61 * time.Minute)}
	w := valued(t, judged("R-1", Met, 700, "10"), p, houseTerms())
	if !w.Stale || !strings.Contains(strings.Join(w.Warnings, "\n"), "stale") || !strings.Contains(w.Sentence, "stale: 61 min old") {
		t.Errorf("stale %v, warnings %q, sentence %q", w.Stale, w.Warnings, w.Sentence)
	}
	if w := valued(t, judged("R-1", Met, 700, "10"), priceOf("gold", "100", "g"), houseTerms()); w.Stale || strings.Contains(w.Sentence, "stale") {
		t.Errorf("a fresh price is stale: %q", w.Sentence)
	}
}

func TestNothingLeft(t *testing.T) {
	terms := houseTerms()
	terms.Charges = []Charge{{Name: "testing", PerItem: decimal("10")}}
	terms.MinimumPayout = decimal("5")
	for air, reason := range map[string]string{"0.1": "nothing is left", "0.2": "below the smallest"} { // 6.44 - 10 and 12.88 - 10
		w := valued(t, judged("R-1", Met, 700, air), priceOf("gold", "100", "g"), terms)
		if w.Payout != nil || !strings.Contains(w.NoPrice, reason) || w.Money != nil || w.Price != nil {
			t.Errorf("%s g: %+v, want no price: %s", air, w, reason)
		}
	}
}

func TestItemsRefused(t *testing.T) {
	for _, c := range []struct {
		change       func(*Item, *Price, *Terms)
		path, reason string
	}{
		{func(i *Item, p *Price, x *Terms) { p.Currency = "USD" }, "price.currency", "in USD, the terms are in EUR"},
		{func(i *Item, p *Price, x *Terms) { p.HeldAt = Moment{noon.Add(time.Hour)} }, "price.held_at", "future"},
		{func(i *Item, p *Price, x *Terms) { p.Metal = "silver" }, "price.metal", "of silver, the item is of gold"},
		{func(i *Item, p *Price, x *Terms) { x.Metals = x.Metals[1:] }, "metals", "do not buy gold"},
		{func(i *Item, p *Price, x *Terms) { x.Version = 0 }, "version", "0"},
		{func(i *Item, p *Price, x *Terms) { i.Answer = nil }, "", "missing"},
		{func(i *Item, p *Price, x *Terms) { i.Draft = nil }, "", "missing"},
		{func(i *Item, p *Price, x *Terms) { i.Draft.ID = "R-2" }, "id", "R-2"},
		{func(i *Item, p *Price, x *Terms) { i.Draft.AirG[0].Gram *= 2 }, "air_g[0]", "its number"},
		{func(i *Item, p *Price, x *Terms) { i.Draft.AirG = nil }, "air_g", "missing"},
		{func(i *Item, p *Price, x *Terms) { i.Answer.TrueMassG = 12 }, "air_g", "not that of the answer"},
		{func(i *Item, p *Price, x *Terms) { i.Answer.Fineness = nil }, "fineness", "no fineness"},
		{func(i *Item, p *Price, x *Terms) { i.NonMetalG = decimal("10") }, "non_metal_g", "nothing"},
		{func(i *Item, p *Price, x *Terms) { i.NonMetalG = decimal("-1") }, "non_metal_g", "-1"},
		{func(i *Item, p *Price, x *Terms) { i.NonMetalG = decimal("1") }, "non_metal", "missing"},
		{func(i *Item, p *Price, x *Terms) { i.Pieces = -1 }, "pieces", "-1"},
		{func(i *Item, p *Price, x *Terms) { i.Pieces = 2 }, "pieces", "2 pieces"},
	} {
		item, p, terms := judged("R-1", Met, 700, "10"), priceOf("gold", "100", "g"), houseTerms()
		c.change(&item, &p, terms)
		_, err := Of(item, p, terms, noon)
		wantFault(t, err, c.path, c.reason)
	}
	heap := judged("R-1", Met, 700, "10")
	heap.Pieces = 12
	if _, err := Of(heap, priceOf("gold", "100", "g"), houseTerms(), noon); !errors.Is(err, ErrMixedHeap) || !strings.Contains(err.Error(), "mixed heap: no single fineness") {
		t.Errorf("a heap: %v", err)
	}
	heap.OneMelt = true
	if w := valued(t, heap, priceOf("gold", "100", "g"), houseTerms()); w.Payout == nil {
		t.Errorf("pieces of one melt have no price: %s", w.NoPrice)
	}
	other := judged("R-1", NoClaim, 700, "10")
	other.Answer.OtherMetals = []string{"silver"}
	terms := houseTerms()
	terms.OnFinding.NoClaim = SafeFigure
	if w := valued(t, other, priceOf("gold", "100", "g"), terms); w.Payout != nil || !strings.Contains(w.NoPrice, "gold or silver") {
		t.Errorf("a density of two metals has the price %v (%s)", w.Payout, w.NoPrice)
	}
}

func TestAirWeight(t *testing.T) {
	readings := func(texts ...string) (all []determination.Reading) {
		for _, text := range texts {
			var r determination.Reading
			read := r.FromNumber
			if strings.Contains(text, " ") {
				read = r.FromText
			}
			if err := read(text); err != nil {
				t.Fatal(err)
			}
			all = append(all, r)
		}
		return all
	}
	for _, c := range []struct {
		draft determination.Draft
		want  string
	}{
		{determination.Draft{AirG: readings("7.4218")}, "7.4218"},
		{determination.Draft{AirG: readings("7.40")}, "7.40"},
		{determination.Draft{AirG: readings("7.4218", "7.4219")}, "7.4218"}, // cut, not rounded
		{determination.Draft{AirG: readings("7.1", "7.25", "7.25")}, "7.20"},
		{determination.Draft{AirG: readings("62.2155 ct")}, "12.44310"}, // a carat is 0.2 g
		{determination.Draft{AirG: readings("1 ozt")}, "31.1034768"},
		{determination.Draft{AirG: readings("1.5e1")}, "15"},
		{determination.Draft{AirG: []determination.Reading{{Gram: 0.30000000000000004}}}, "0.30000000000000004"}, // made by a program
		{determination.Draft{Method: "pycnometer", EmptyG: readings("18.4928"), WithSampleG: readings("26.7075")}, "8.2147"},
		{determination.Draft{AirG: readings("7.4"), ClosingAirG: readings("9")}, "7.4"}, // the closing weighing may be wet
	} {
		got, lines, err := AirWeight(&c.draft)
		if err != nil || got.String() != c.want || lines[len(lines)-1].Result.Cmp(got) != 0 {
			t.Errorf("%v: %s, %v, want %s g", c.draft.AirG, got, err, c.want)
		}
	}
	for field, d := range map[string]determination.Draft{
		"air_g":         {AirG: readings("0")},
		"air_g[1]":      {AirG: readings("1", "-1")},
		"with_sample_g": {Method: "pycnometer", EmptyG: readings("5"), WithSampleG: readings("4")},
		"empty_g":       {Method: "pycnometer"},
	} {
		_, _, err := AirWeight(&d)
		wantFault(t, err, field, "")
	}
}

// The examples as the program judges them: each can be valued, but for the stone.
func TestExamplesCanBeValued(t *testing.T) {
	terms := houseTerms()
	terms.OnFinding = OnFinding{Undecided: SafeFigure, NotMet: SafeFigure, NoClaim: SafeFigure}
	for _, name := range []string{"ring", "coin", "bar", "first", "porous-casting", "ring-in-ethanol", "standing-vessel"} {
		item := evaluated(t, name+".json")
		w := valued(t, item, priceOf("gold", "101.40", "g"), terms)
		if w.Payout == nil || addUp(w.Money).Cmp(*w.Payout) != 0 {
			t.Errorf("%s: %+v", name, w)
		}
		if safe := fromFloat(item.Answer.Fineness.Safe); w.Fineness.Cmp(safe) > 0 {
			t.Errorf("%s: paid by %s, above the safe figure %s", name, w.Fineness, safe)
		}
		written, err := json.Marshal(w)
		if err != nil {
			t.Fatal(err)
		}
		var again Worth
		if err := json.Unmarshal(written, &again); err != nil {
			t.Fatal(err)
		}
		if rewritten, _ := json.Marshal(again); string(rewritten) != string(written) {
			t.Errorf("%s comes back as %s", written, rewritten)
		}
	}
	_, err := Of(evaluated(t, "stone.json"), priceOf("gold", "101.40", "g"), terms, noon)
	wantFault(t, err, "fineness", "no fineness")
	if w := valued(t, evaluated(t, "ring.json"), priceOf("gold", "101.40", "g"), houseTerms()); w.State != Met || w.Payout == nil {
		t.Errorf("the ring of the examples: %s", w.Sentence)
	}
	coin := evaluated(t, "coin.json")
	if got := claimed(&coin); got.String() != "916.7" {
		t.Errorf("the claim of the coin is %s", got)
	}
}

func drawTerms(t *rapid.T) *Terms {
	x := houseTerms()
	p := func(what string, low, high int) Decimal {
		return fromInt(rapid.IntRange(low*10, high*10).Draw(t, what)).times(lastDigit(1))
	}
	base := p("percent", 50, 90)
	x.Metals[0].Percent = base
	switch rapid.IntRange(0, 2).Draw(t, "table") {
	case 1:
		x.Metals[0].ByFineness = []FinenessBand{{dec("500"), base.plus(dec("2"))}, {dec("740.1"), base.plus(dec("5.25"))}}
	case 2:
		x.Metals[0].ByMass = []MassBand{{dec("5"), base.plus(dec("2"))}, {dec("50.5"), base.plus(dec("5.25"))}}
	}
	if rapid.Bool().Draw(t, "charged") {
		fixed, share := p("per item", 0, 20), p("charge", 0, 10)
		x.Charges = []Charge{{Name: "testing", PerItem: &fixed}, {Name: "refining", Percent: &share}}
	}
	x.Rounding = Rounding{dec(rapid.SampledFrom([]string{"0.01", "0.05", "1", "5"}).Draw(t, "step")), rapid.SampledFrom([]string{Down, HalfEven, HalfUp, Up}).Draw(t, "direction")}
	x.FinenessDecimals = new(rapid.IntRange(0, 3).Draw(t, "fineness decimals"))
	if rapid.Bool().Draw(t, "minimum") {
		x.MinimumPayout = decimal("25")
	}
	return x
}

func payout(t *rapid.T, item Item, p Price, x *Terms) Decimal {
	w, err := Of(item, p, x, noon)
	if err != nil {
		t.Fatal(err)
	}
	if w.Payout == nil {
		return Decimal{}
	}
	if sum := addUp(w.Money); sum.Cmp(*w.Payout) != 0 {
		t.Fatalf("the lines add up to %s, the payout is %s", sum, w.Payout)
	}
	if moved := w.Money[len(w.Money)-1].Result; moved.Cmp(x.Rounding.Step) >= 0 || fromInt(0).minus(moved).Cmp(x.Rounding.Step) >= 0 {
		t.Fatalf("rounding to %s moves by %s", x.Rounding.Step, moved)
	}
	if w.Payout.Cmp(w.Gross.plus(x.Rounding.Step)) > 0 {
		t.Fatalf("the payout of %s is above the value of the metal, %s", w.Payout, w.Gross)
	}
	return *w.Payout
}

// More mass, a higher safe figure, a higher price or a higher percentage never lower the payout, and
// the lines always add up to it.
func TestPayoutIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := drawTerms(t)
		mass, amount := drawn(t, "mass", 100).plus(dec("0.01")), drawn(t, "price", 200).plus(dec("1"))
		safe := rapid.Float64Range(300, 760).Draw(t, "safe")
		price := priceOf("gold", amount.String(), rapid.SampledFrom([]string{"g", "ozt", "kg"}).Draw(t, "per"))
		before := payout(t, judged("x", Met, safe, mass.String()), price, x)
		more := map[string]Decimal{
			"mass":     payout(t, judged("x", Met, safe, mass.plus(drawn(t, "more mass", 10)).String()), price, x),
			"fineness": payout(t, judged("x", Met, safe+rapid.Float64Range(0, 100).Draw(t, "more fineness"), mass.String()), price, x),
		}
		dearer := price
		dearer.Amount = amount.plus(drawn(t, "more price", 50))
		more["price"] = payout(t, judged("x", Met, safe, mass.String()), dearer, x)
		generous := *x
		generous.Metals = append([]MetalTerms{}, x.Metals...)
		generous.Metals[0] = MetalTerms{Metal: "gold", Percent: x.Metals[0].Percent.plus(dec("6"))}
		more["percent"] = payout(t, judged("x", Met, safe, mass.String()), price, &generous)
		for what, after := range more {
			if after.Cmp(before) < 0 {
				t.Fatalf("more %s lowers the payout from %s to %s", what, before, after)
			}
		}
	})
}
