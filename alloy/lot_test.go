package alloy

import (
	"errors"
	"testing"

	"wreath/quantity"
)

// J27, J28: standard uncertainty of the fine gold in a lot of five, recipes independent and the
// same. Computed with numpy.
func TestLot(t *testing.T) {
	var items []LotItem
	for i, m := range []float64{4, 3, 6, 2.5, 5} {
		items = append(items, LotItem{
			Mass:     quantity.Grams(m),
			Fineness: []float64{.750, .585, .750, .375, .585}[i],
			SD:       []float64{.015, .028, .016, .030, .024}[i],
			Slope:    []float64{.72, .86, .72, .86, .80}[i],
			ModelU:   .0025,
			WeighU:   []float64{.0012, .0015, .0008, .0018, .001}[i],
		})
	}
	for r, want := range map[float64]float64{0: 0.20327, 1: 0.43382} {
		got, err := Lot(items, LotOptions{LiquidU: .002, SharedModel: .5, RecipeR: r})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "u of the fine mass", got.U.Gram(), want, 0.00001)
		near(t, "mass", got.Mass.Gram(), 20.5, 1e-12)
		near(t, "fine mass", got.Fine.Gram(), 4*.75+3*.585+6*.75+2.5*.375+5*.585, 1e-12)
		near(t, "safe", got.Safe.Gram(), got.Fine.Gram()-1.645*got.U.Gram(), 1e-12)
	}
}

// S25: 33.931 g at 11/12 hold one troy ounce (31 USC 5112, published). S26: 20 francs of 6.45161 g
// at 900 hold 5.80645 g (Latin Monetary Union Convention 1865, published).
func TestFineContent(t *testing.T) {
	for _, c := range []struct{ mass, fineness, want, tolerance float64 }{
		{33.931, 11. / 12, 31.1034, 0.0002}, {6.45161, .900, 5.80645, 0.00001},
	} {
		got, err := Lot([]LotItem{{Mass: quantity.Grams(c.mass), Fineness: c.fineness}}, LotOptions{})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "fine content", got.Fine.Gram(), c.want, c.tolerance)
	}
}

func TestLotRefuses(t *testing.T) {
	good := LotItem{Mass: 1, Fineness: .5, SD: .01, Slope: .8, ModelU: .002, WeighU: .001}
	if _, err := Lot(nil, LotOptions{}); err == nil {
		t.Error("an empty lot is taken")
	}
	bad := good
	bad.Mass = 0
	if _, err := Lot([]LotItem{good, bad}, LotOptions{}); err == nil {
		t.Error("an item without mass is taken")
	}
	var rangeError *quantity.RangeError
	for _, o := range []LotOptions{{RecipeR: 1.1}, {SharedModel: -1}, {LiquidU: 1}} {
		if _, err := Lot([]LotItem{good}, o); !errors.As(err, &rangeError) {
			t.Errorf("%+v: got %v, want a range error", o, err)
		}
	}
}
