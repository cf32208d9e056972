package alloy

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// familyOf returns a family of one region without a table.
func familyOf(metal string, recipes ...string) (*Family, error) {
	text := "family x\nname x\nmetal " + metal + "\ncolour any\nrole candidate\nspan 0.3 1\nu 0.002\n"
	for _, r := range recipes {
		text += "usual " + r + " | as tested\n"
	}
	list, err := parseFamilies(text)
	if err != nil {
		return nil, err
	}
	return list[0], nil
}

func boxOf(metal string, zinc float64, recipes ...string) (*recipeBox, error) {
	f, err := familyOf(metal, recipes...)
	if err != nil {
		return nil, err
	}
	return newRecipeBox(f.Usual[0], newSolution(f.metals, zinc)), nil
}

func testedBox(t *testing.T, metal string, zinc float64, recipes ...string) *recipeBox {
	t.Helper()
	b, err := boxOf(metal, zinc, recipes...)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// finenessesOf returns the lowest and the highest fineness for which some recipe of the box has the
// density.
func finenessesOf(b *recipeBox, density, from, to float64) (low, high float64) {
	v := 1 / density
	// The lightest recipe has it at the highest fineness, the densest at the lowest.
	bisect := func(volume func(float64) float64) float64 {
		a, z := from, to
		for range 40 {
			middle := (a + z) / 2
			if volume(middle) > v {
				a = middle
			} else {
				z = middle
			}
		}
		return (a + z) / 2
	}
	low = bisect(func(f float64) float64 { return b.extreme(f, 1) })
	high = bisect(func(f float64) float64 { return -b.extreme(f, -1) })
	return low, high
}

func TestIntervalsOfFineness(t *testing.T) {
	for _, row := range fields(t, "intervals.txt", 6) {
		b := testedBox(t, "gold Au", 8.612, row[1])
		low, high := finenessesOf(b, number(t, row[2]), 0.05, 0.999)
		word, _, _ := strings.Cut(row[5], ";")
		tolerance := number(t, word)
		name := fmt.Sprintf("%s (%s) at %s g/cm3", row[0], row[1], row[2])
		near(t, name+", low", 1000*low, number(t, row[3]), tolerance)
		near(t, name+", high", 1000*high, number(t, row[4]), tolerance)
	}
}

// Alloys of different fineness and recipe that have one density.
func TestAliases(t *testing.T) {
	for _, row := range fields(t, "aliases.txt", 6) {
		first := parts(t, row[0])
		o := Options{State: stateNamed(t, row[1])}
		m, err := Mix(first, o)
		if err != nil {
			t.Fatal(err)
		}
		metal := map[string]string{"Ag": "silver Ag", "Pt": "platinum Pt", "Pd": "palladium Pd"}[first[0].Symbol]
		low, high := finenessesOf(testedBox(t, metal, 8.612, row[2]), m.Density.GramPerCm3(), 0.62, 0.9999)
		near(t, row[0]+" as "+row[2], 1000*low, number(t, row[3]), number(t, row[4]))
		near(t, row[0]+" as "+row[2]+", highest", 1000*high, number(t, row[3]), number(t, row[4]))
	}
}

// A corner that does not fit is no recipe: silver 0.8 with zinc 0.6 leaves nothing for copper.
func TestCornerThatDoesNotFitIsDropped(t *testing.T) {
	b := testedBox(t, "gold Au", 0, "all Ag 0.4-0.8, Zn 0-0.3, Cu rest")
	low, high := b.extreme(0.75, 1), -b.extreme(0.75, -1)
	share := []float64{0, 0.8, 0.3, 0}
	b.at(0.75)
	if _, ok := b.specificVolume(0.75, share, 0); ok {
		t.Error("silver 0.8 with zinc 0.3 is taken for a recipe")
	}
	// Brute force over the same region.
	bruteLow, bruteHigh := math.Inf(1), math.Inf(-1)
	inside, all := 0, 0
	for i := range 401 {
		for j := range 401 {
			silver, zinc := 0.4+0.4*float64(i)/400, 0.3*float64(j)/400
			all++
			if silver+zinc > 1+1e-12 {
				continue
			}
			inside++
			m, err := Mix(Parts{{"Au", 0.75}, {"Ag", 0.25 * silver}, {"Zn", 0.25 * zinc}, {"Cu", 0.25 * max(1-silver-zinc, 0)}}, Options{})
			if err != nil {
				t.Fatal(err)
			}
			v := 1 / m.Density.GramPerCm3()
			bruteLow, bruteHigh = min(bruteLow, v), max(bruteHigh, v)
		}
	}
	near(t, "least specific volume", low, bruteLow, 1e-7)
	near(t, "largest specific volume", high, bruteHigh, 1e-7)
	got := len(b.appendSamples(nil, 0.75, 1))
	near(t, "part of the samples that fit", float64(got)/fewRecipes, float64(inside)/float64(all), 0.005)
}

// A recipe whose rest has bounds of its own.
func TestRestWithinBounds(t *testing.T) {
	b := testedBox(t, "gold Au", 0, "all Ni 0.35-0.72, Zn 0.08-0.25, Cu rest 0.08-0.5")
	for range 3 {
		b.at(0.75)
		if _, ok := b.specificVolume(0.75, []float64{0, 0.72, 0.25, 0}, 0); ok {
			t.Error("nickel 0.72 with zinc 0.25 leaves copper 0.03, below its bound")
		}
		if _, ok := b.specificVolume(0.75, []float64{0, 0.35, 0.08, 0}, 0); ok {
			t.Error("nickel 0.35 with zinc 0.08 leaves copper 0.57, above its bound")
		}
		if _, ok := b.specificVolume(0.75, []float64{0, 0.5, 0.2, 0}, 0); !ok {
			t.Error("nickel 0.5 with zinc 0.2 is refused")
		}
	}
}

// Widening a recipe never narrows the band, so it never narrows the range.
func TestWideningNeverNarrows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fineness := rapid.Float64Range(0.31, 0.99).Draw(t, "fineness")
		var inner, outer []string
		for _, symbol := range []string{"Ag", "Zn", "Pd", "Ni"} {
			low := rapid.Float64Range(0, 0.3).Draw(t, symbol+" low")
			high := low + rapid.Float64Range(0, 0.2).Draw(t, symbol+" width")
			inner = append(inner, fmt.Sprintf("%s %.4f-%.4f", symbol, low, high))
			down := rapid.Float64Range(0, 0.1).Draw(t, symbol+" down")
			up := rapid.Float64Range(0, 0.3).Draw(t, symbol+" up")
			outer = append(outer, fmt.Sprintf("%s %.4f-%.4f", symbol, max(low-down-1e-4, 0), min(high+up+1e-4, 1)))
		}
		narrow, err := boxOf("gold Au", 0, "all "+strings.Join(inner, ", ")+", Cu rest")
		if err != nil {
			t.Fatal(err)
		}
		wide, err := boxOf("gold Au", 0, "all "+strings.Join(outer, ", ")+", Cu rest")
		if err != nil {
			t.Fatal(err)
		}
		narrowLow, narrowHigh := narrow.extreme(fineness, 1), -narrow.extreme(fineness, -1)
		if math.IsInf(narrowLow, 0) {
			t.Skip("no recipe fits")
		}
		wideLow, wideHigh := wide.extreme(fineness, 1), -wide.extreme(fineness, -1)
		if wideLow > narrowLow+1e-9 || wideHigh < narrowHigh-1e-9 {
			t.Fatalf("widened from %.9f..%.9f to %.9f..%.9f", narrowLow, narrowHigh, wideLow, wideHigh)
		}
	})
}

// Between printed finenesses the bounds are interpolated, outside they are held.
func TestBoundsBetweenPrintedFinenesses(t *testing.T) {
	b := testedBox(t, "gold Au", 0, "585 Ag 0.10-0.65, Zn 0-0.16, Cu rest", "750 Ag 0.40-0.70, Zn 0-0.08, Cu rest")
	for _, c := range []struct{ fineness, low, high, zinc float64 }{
		{.400, .10, .65, .16}, {.585, .10, .65, .16}, {.6675, .25, .675, .12}, {.750, .40, .70, .08}, {.990, .40, .70, .08},
	} {
		b.at(c.fineness)
		near(t, "silver, low", b.low[1], c.low, 1e-12)
		near(t, "silver, high", b.high[1], c.high, 1e-12)
		near(t, "zinc, high", b.high[2], c.zinc, 1e-12)
	}
	b = testedBox(t, "silver Ag", 0, "all Zn 0-1, Cu rest")
	b.at(0.5)
	near(t, "zinc at 500 is held to what dissolves", b.high[1], 0.8, 1e-12)
}

func TestGaussLegendre(t *testing.T) {
	for _, n := range []int{1, 3, 8, 24} {
		x, w := gaussLegendre(n)
		for power := range 2 * n {
			sum := 0.0
			for i := range x {
				sum += w[i] * math.Pow(x[i], float64(power))
			}
			near(t, fmt.Sprintf("%d points, power %d", n, power), sum, 1/float64(power+1), 1e-13)
		}
	}
}
