package alloy

import (
	"slices"
	"testing"
)

// boundsAt returns the bounds of a box at a fineness: linear between printed finenesses, constant
// outside. It is written apart from recipeBox, which does the same.
func boundsAt(box Box, symbol string, fineness float64) (low, high float64) {
	at := func(b Bounds) (float64, float64) {
		if symbol == "state" {
			return b.Unmixed.Low, b.Unmixed.High
		}
		for _, s := range b.Shares {
			if s.Symbol == symbol {
				return s.Low, s.High
			}
		}
		return 0, 0
	}
	for i, b := range box {
		if b.Fineness >= fineness && i > 0 {
			t := (fineness - box[i-1].Fineness) / (b.Fineness - box[i-1].Fineness)
			low1, high1 := at(box[i-1])
			low2, high2 := at(b)
			return low1 + t*(low2-low1), high1 + t*(high2-high1)
		}
		if b.Fineness >= fineness {
			return at(b)
		}
	}
	return at(box[len(box)-1])
}

// sharesAt returns, for each metal of the rest, which shares occur in a box once all shares add up to 1.
func sharesAt(f *Family, box Box, fineness float64) map[string]Share {
	lows, highs := 0.0, 0.0
	for _, m := range f.metals[1:] {
		low, high := boundsAt(box, m.Symbol, fineness)
		lows, highs = lows+low, highs+high
	}
	shares := map[string]Share{}
	for _, m := range f.metals[1:] {
		low, high := boundsAt(box, m.Symbol, fineness)
		shares[m.Symbol] = Share{m.Symbol, max(low, 1-(highs-high)), min(high, 1-(lows-low))}
	}
	return shares
}

// encloses says whether the outer box holds every recipe of the usual one at a fineness.
func encloses(f *Family, outer, usual Box, fineness float64) bool {
	const rounding = 1e-9
	for symbol, share := range sharesAt(f, usual, fineness) {
		low, high := boundsAt(outer, symbol, fineness)
		if share.Low < low-rounding || share.High > high+rounding {
			return false
		}
	}
	low, high := boundsAt(usual, "state", fineness)
	outerLow, outerHigh := boundsAt(outer, "state", fineness)
	return outerLow <= low && high <= outerHigh
}

// Every usual recipe is an outer recipe too, share by share. Bounds are straight between printed
// finenesses, so the printed ones and the ends of the span are enough.
func TestOuterRecipesEncloseTheUsualOnes(t *testing.T) {
	for _, f := range Families() {
		if f.Outer == nil {
			continue
		}
		finenesses := []float64{f.Low, f.High}
		for _, box := range slices.Concat(f.Usual, f.Outer) {
			for _, b := range box {
				if b.Fineness > f.Low && b.Fineness < f.High {
					finenesses = append(finenesses, b.Fineness)
				}
			}
		}
		for i, usual := range f.Usual {
			for _, fineness := range finenesses {
				if !slices.ContainsFunc(f.Outer, func(outer Box) bool { return encloses(f, outer, usual, fineness) }) {
					t.Errorf("%s: usual box %d leaves the outer recipes at %g", f.Key, i+1, fineness)
				}
			}
		}
	}
}
