package alloy

import (
	"errors"
	"strings"
	"testing"

	"wreath/quantity"
)

func TestLot(t *testing.T) {
	rows := fields(t, "lot.txt", 8)
	var items []LotItem
	mass, fine := 0.0, 0.0
	for _, row := range rows {
		if row[0] != "item" {
			continue
		}
		x := func(i int) float64 { return number(t, row[i]) }
		items = append(items, LotItem{
			Mass: quantity.Grams(x(1)), Fineness: x(2) / 1000, SD: x(3) / 1000, Slope: x(4), ModelU: x(5), WeighU: x(6),
		})
		mass += x(1)
		fine += x(1) * x(2) / 1000
	}
	for _, row := range rows {
		if row[0] == "item" {
			continue
		}
		x := func(i int) float64 { return number(t, row[i]) }
		got, err := Lot(items, LotOptions{LiquidU: x(1), SharedModel: x(2), RecipeR: x(3)})
		if err != nil {
			t.Fatal(err)
		}
		near(t, row[0]+", u of the fine mass", got.U.Gram(), x(4), x(5))
		near(t, row[0]+", mass", got.Mass.Gram(), mass, 1e-12)
		near(t, row[0]+", fine mass", got.Fine.Gram(), fine, 1e-12)
		near(t, row[0]+", safe", got.Safe.Gram(), got.Fine.Gram()-1.645*got.U.Gram(), 1e-12)
	}
}

// Sums of a few coins, whose law was read.
func TestFineContent(t *testing.T) {
	for _, row := range fields(t, "fine-content.txt", 6) {
		fineness := number(t, row[2])
		if row[3] != "" {
			fineness /= number(t, row[3])
		}
		got, err := Lot([]LotItem{{Mass: quantity.Grams(number(t, row[1])), Fineness: fineness}}, LotOptions{})
		if err != nil {
			t.Fatal(err)
		}
		want, tolerance, _ := strings.Cut(row[4], " ")
		near(t, row[0]+" ("+row[5]+")", got.Fine.Gram(), number(t, want), number(t, tolerance))
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
