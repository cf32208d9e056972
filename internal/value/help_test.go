package value

import (
	"errors"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"wreath/internal/determination"
	"wreath/internal/strictjson"
)

var noon = time.Date(2026, 11, 26, 12, 0, 0, 0, time.UTC)

func dec(text string) Decimal {
	d, err := ParseDecimal(text)
	if err != nil {
		panic(err)
	}
	return d
}

func decimal(text string) *Decimal {
	d := dec(text)
	return &d
}

// houseTerms are invented.
func houseTerms() *Terms {
	return &Terms{
		Format: TermsFormat, Key: "counter", Version: 3, Name: "counter", Currency: "EUR", MaxPriceAgeMin: 60,
		Metals:   []MetalTerms{{Metal: "gold", Percent: dec("92")}, {Metal: "silver", Percent: dec("75")}},
		Rounding: Rounding{Step: dec("0.01"), Direction: Down},
	}
}

// priceOf is an invented price that held ten minutes before noon.
func priceOf(metal, amount, per string) Price {
	return Price{Metal: metal, Amount: dec(amount), Per: per, Currency: "EUR", HeldAt: Moment{noon.Add(-10 * time.Minute)}, Source: "invented"}
}

// judged is an item with an invented answer: readings in air in grams, safe figure in parts per
// thousand.
func judged(id, result string, safe float64, air ...string) Item {
	d := &determination.Draft{ID: id}
	sum := 0.0
	for _, text := range air {
		var r determination.Reading
		if err := r.FromNumber(text); err != nil {
			panic(err)
		}
		d.AirG = append(d.AirG, r)
		sum += r.Gram
	}
	a := &determination.Answer{ID: id, Item: "invented item", TrueMassG: sum / float64(len(air)) * 0.9999}
	a.Fineness = &determination.Fineness{Family: "gold-yellow", Metal: "gold", Median: safe + 16, Low: safe - 4, High: safe + 36, Safe: safe}
	a.Density20C.KgM3 = 15400
	a.Budget = []determination.BudgetRow{
		{Input: "immersed reading: repeatability", U: 0.0003, Sensitivity: 0.0088},
		{Input: "liquid temperature", U: 0.1, Sensitivity: 1.4e-5},
		{Input: "liquid: water formula", U: 0.0004, Sensitivity: 6.5e-5},
	}
	if result != NoClaim {
		a.Finding = &determination.Finding{Result: result, Claim: "gold 750", Sentence: "as found"}
		a.LegalLimit = &determination.LegalLimit{LimitPpt: 1000 * 0.75}
	}
	return Item{Draft: d, Answer: a}
}

// evaluated is an item of the folder of examples, as the program judges it.
func evaluated(t testing.TB, name string) Item {
	t.Helper()
	d, err := determination.Decode(example(t, name))
	if err != nil {
		t.Fatal(err)
	}
	a, err := determination.Evaluate(d, determination.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return Item{Draft: d, Answer: a}
}

func example(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile("../../examples/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func valued(t testing.TB, item Item, price Price, terms *Terms) *Worth {
	t.Helper()
	w, err := Of(item, price, terms, noon)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return w
}

// wantFault checks that an error names a field, gives a reason and says how to mend it.
func wantFault(t *testing.T, err error, path, reason string) {
	t.Helper()
	var all Faults
	if !errors.As(err, &all) {
		var one *strictjson.FieldError
		if !errors.As(err, &one) {
			t.Errorf("got %v, want a fault of %s", err, path)
			return
		}
		all = Faults{one}
	}
	for _, f := range all {
		if f.Path == path && strings.Contains(f.Reason, reason) && f.Hint != "" {
			return
		}
	}
	t.Errorf("got %v, want %s: …%s…, with a hint", err, path, reason)
}

// addUp is the sum of lines.
func addUp(lines []Line) Decimal {
	var sum Decimal
	for _, l := range lines {
		sum = sum.plus(l.Result)
	}
	return sum
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.10g, want %.10g ± %.2g", what, got, want, tolerance)
	}
}
