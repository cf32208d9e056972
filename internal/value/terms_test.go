package value

import (
	"encoding/json"
	"errors"
	"reflect"
	"strings"
	"testing"

	"wreath/internal/strictjson"
)

func TestDecodeTerms(t *testing.T) {
	terms, err := DecodeTerms(example(t, "house/terms.json"))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(terms.Note, "Invented") {
		t.Error("the example does not say that it is invented")
	}
	written, err := json.Marshal(terms)
	if err != nil {
		t.Fatal(err)
	}
	again, err := DecodeTerms(written)
	if err != nil || !reflect.DeepEqual(again, terms) {
		t.Errorf("comes back as %+v, %v", again, err)
	}
	var forgiving Terms
	if err := json.Unmarshal(written, &forgiving); err != nil || !reflect.DeepEqual(&forgiving, terms) {
		t.Errorf("encoding/json reads %+v, %v", forgiving, err)
	}
}

func TestTermsCheck(t *testing.T) {
	if err := houseTerms().Check(); err != nil {
		t.Fatal(err)
	}
	many, few := 4, -1
	for _, c := range []struct {
		change       func(*Terms)
		path, reason string
	}{
		{func(x *Terms) { x.Format = 2 }, "format", "2"},
		{func(x *Terms) { x.Key = "Counter Gold" }, "key", "can't"},
		{func(x *Terms) { x.Version = 0 }, "version", "0"},
		{func(x *Terms) { x.Name = "" }, "name", "missing"},
		{func(x *Terms) { x.Currency = "EURO" }, "currency", "ISO"},
		{func(x *Terms) { x.MaxPriceAgeMin = 0 }, "max_price_age_min", "0"},
		{func(x *Terms) { x.FinenessDecimals = &many }, "fineness_decimals", "4"},
		{func(x *Terms) { x.FinenessDecimals = &few }, "fineness_decimals", "-1"},
		{func(x *Terms) { x.Metals = nil }, "metals", "empty"},
		{func(x *Terms) { x.Metals[1].Metal = "gold" }, "metals[1].metal", "twice"},
		{func(x *Terms) { x.Metals[0].Metal = "copper" }, "metals[0].metal", "not a metal"},
		{func(x *Terms) { x.Metals[0].Percent = dec("0") }, "metals[0].percent", "is 0"},
		{func(x *Terms) { x.Metals[0].Percent = dec("100.01") }, "metals[0].percent", "100.01"},
		{func(x *Terms) { x.Metals[0].ByMass = []MassBand{{dec("0"), dec("93")}} }, "metals[0].by_mass[0].from_g", "above"},
		{func(x *Terms) { x.Metals[0].ByMass = []MassBand{{dec("50"), dec("93")}, {dec("50"), dec("94")}} }, "metals[0].by_mass[1].from_g", "above"},
		{func(x *Terms) { x.Metals[0].ByMass = []MassBand{{dec("50"), dec("91")}} }, "metals[0].by_mass[0].percent", "less"},
		{func(x *Terms) { x.Metals[0].ByFineness = []FinenessBand{{dec("1001"), dec("93")}} }, "metals[0].by_fineness[0].from_ppt", "1000"},
		{func(x *Terms) {
			x.Metals[0].ByFineness, x.Metals[0].ByMass = []FinenessBand{{dec("900"), dec("93")}}, []MassBand{{dec("50"), dec("93")}}
		}, "metals[0].by_mass", "together"},
		{func(x *Terms) { x.Metals = make([]MetalTerms, 5) }, "metals", "more than"},
		{func(x *Terms) { x.Metals[0].ByMass = make([]MassBand, maxBands+1) }, "metals[0]", "too long"},
		{func(x *Terms) { x.Charges = make([]Charge, maxCharges+1) }, "charges", "are 21"},
		{func(x *Terms) { x.Charges = []Charge{{Name: "assay"}} }, "charges[0]", "neither"},
		{func(x *Terms) { x.Charges = []Charge{{Name: "assay", PerItem: decimal("1"), Percent: decimal("1")}} }, "charges[0]", "both"},
		{func(x *Terms) { x.Charges = []Charge{{PerItem: decimal("1")}} }, "charges[0].name", "missing"},
		{func(x *Terms) { x.Charges = []Charge{{Name: "assay", PerItem: decimal("-1")}} }, "charges[0].per_item", "-1"},
		{func(x *Terms) { x.Charges = []Charge{{Name: "refining", Percent: decimal("101")}} }, "charges[0].percent", "101"},
		{func(x *Terms) { x.Charges = []Charge{{Name: "refining", Percent: decimal("75")}} }, "metals[1].percent", "nothing"},
		{func(x *Terms) { x.Rounding.Direction = "nearest" }, "rounding.direction", "nearest"},
		{func(x *Terms) { x.Rounding.Step = dec("0") }, "rounding.step", "is 0"},
		{func(x *Terms) { x.Rounding.Step = dec("0.005") }, "rounding.step", "can be paid"},
		{func(x *Terms) { x.Currency, x.Rounding.Step = "JPY", dec("0.5") }, "rounding.step", "can be paid"},
		{func(x *Terms) { x.Rounding.Step = dec("1000001") }, "rounding.step", "too large"},
		{func(x *Terms) { x.MinimumPayout = decimal("-1") }, "minimum_payout", "-1"},
		{func(x *Terms) { x.OnFinding.Undecided = ClaimedFineness }, "on_finding.undecided", "claimed"},
		{func(x *Terms) { x.OnFinding.NotMet = "half" }, "on_finding.not_met", "half"},
		{func(x *Terms) { x.OnFinding.NoClaim = "yes" }, "on_finding.no_claim", "yes"},
		{func(x *Terms) { x.OnFinding.Met = "full" }, "on_finding.met", "full"},
	} {
		x := houseTerms()
		c.change(x)
		wantFault(t, x.Check(), c.path, c.reason)
	}
}

func TestTermsAreStrict(t *testing.T) {
	text := string(example(t, "house/terms.json"))
	_, err := DecodeTerms([]byte(strings.Replace(text, `"version"`, `"versoin"`, 1)))
	wantFault(t, err, "versoin", "no such field")
	_, err = DecodeTerms([]byte(strings.Replace(text, `"92"`, `"92 %"`, 1)))
	wantFault(t, err, "metals[0].percent", "plain decimal")
	_, err = DecodeTerms([]byte(strings.Repeat(" ", MaxTerms+1)))
	wantFault(t, err, "", "larger")
}

func FuzzDecodeTerms(f *testing.F) {
	f.Add(example(f, "house/terms.json"))
	f.Add([]byte(`{"format":1,"metals":[{"by_mass":[{}]}],"on_finding":{}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		terms, err := DecodeTerms(data)
		if err != nil {
			var field *strictjson.FieldError
			if !errors.As(err, &field) || field.Reason == "" || field.Hint == "" {
				t.Errorf("%q: error %v without reason or hint", data, err)
			}
			return
		}
		written, err := json.Marshal(terms)
		if err != nil {
			t.Fatal(err)
		}
		again, err := DecodeTerms(written)
		if err != nil || !reflect.DeepEqual(again, terms) {
			t.Errorf("%s comes back as %+v, %v", written, again, err)
		}
		// Whatever terms are taken can be used.
		item := judged("x", Met, 740.5, "7.4218")
		p := priceOf("gold", "101.40", "g")
		p.Currency = terms.Currency
		if w, err := Of(item, p, terms, noon); err == nil && w.Payout != nil && addUp(w.Money).Cmp(*w.Payout) != 0 {
			t.Errorf("%s: lines add up to %s, the payout is %s", written, addUp(w.Money), w.Payout)
		}
	})
}
