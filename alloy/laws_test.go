package alloy

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wreath/quantity"
)

// drawRecipe returns a usual recipe of a family as shares of the rest, and how far silver and
// copper have parted in it.
func drawRecipe(t *rapid.T, f *Family, fineness float64) (rest Parts, unmixed float64) {
	box := f.Usual[rapid.IntRange(0, len(f.Usual)-1).Draw(t, "box")]
	left := 1.0
	shares := sharesAt(f, box, fineness)
	for _, m := range f.metals[1:] {
		if m.Symbol == box[0].Rest {
			continue
		}
		x := rapid.Float64Range(shares[m.Symbol].Low, shares[m.Symbol].High).Draw(t, m.Symbol)
		left -= x
		rest = append(rest, Part{m.Symbol, x})
	}
	low, high := boundsAt(box, box[0].Rest, fineness)
	if left < low-1e-12 || left > high+1e-12 {
		t.Skip("does not add up")
	}
	rest = append(rest, Part{box[0].Rest, max(left, 0)})
	low, high = boundsAt(box, "state", fineness)
	return rest, rapid.Float64Range(low, high).Draw(t, "unmixed")
}

// specificVolumeOf mixes a metal with a rest.
func specificVolumeOf(t *rapid.T, symbol string, fineness float64, rest Parts, unmixed float64) float64 {
	p := Parts{{symbol, fineness}}
	for _, part := range rest {
		p = append(p, Part{part.Symbol, (1 - fineness) * part.Fraction})
	}
	var v [2]float64
	for i, state := range []State{Quenched, Unmixed} {
		m, err := Mix(p, Options{State: state})
		var rangeError *quantity.RangeError
		if errors.As(err, &rangeError) {
			t.Skip("more zinc than dissolves")
		}
		if err != nil {
			t.Fatal(err)
		}
		v[i] = 1 / m.Density.GramPerCm3()
	}
	return v[0] + unmixed*(v[1]-v[0])
}

func drawFamily(t *rapid.T, families []*Family) *Family {
	var keys []string
	for _, f := range families {
		keys = append(keys, f.Key)
	}
	f, _ := FamilyByKey(rapid.SampledFrom(keys).Draw(t, "family"))
	return f
}

// drawItem returns a family, the fineness of one of its usual recipes, and its specific volume.
func drawItem(t *rapid.T, families []*Family) (f *Family, fineness, v float64) {
	f = drawFamily(t, families)
	fineness = rapid.Float64Range(f.Low, f.High).Draw(t, "fineness")
	rest, unmixed := drawRecipe(t, f, fineness)
	return f, fineness, specificVolumeOf(t, f.Symbol, fineness, rest, unmixed)
}

// The range of a sound item holds its fineness: to 0.1 ppt if nothing but the last digit of the
// tables is uncertain, always if something is. (Where a metal denser than the precious one makes
// bands rise, the former is not asked: rows are looked up by reach there, and nothing real is as
// certain as that.)
func TestRangeHoldsTheFineness(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f, fineness, v := drawItem(t, Families())
		exact := *f
		exact.ModelU = 0
		low, high, ok := exact.Range(Observation{V: v, U: 1e-7 * v}, 1, false)
		if f.table.bands[0].falling && (!ok || low > fineness+1e-4 || high < fineness-1e-4) {
			t.Fatalf("%s of %.6f has the range %.6f to %.6f (%v)", f.Key, fineness, low, high, ok)
		}
		u := rapid.Float64Range(1e-4, 0.02).Draw(t, "u")
		for _, outer := range []bool{false, true} {
			low, high, ok = f.Range(Observation{V: v, U: u * v}, 2, outer)
			if !ok || low > fineness || high < fineness {
				t.Fatalf("%s of %.6f has the range %.6f to %.6f (%v), uncertainty %.4f", f.Key, fineness, low, high, ok, u)
			}
		}
	})
}

// Gold and silver beside the metals they are melted with: the finer, the denser.
func TestFinerIsDenser(t *testing.T) {
	families := slices.Concat(FamiliesOf("gold"), FamiliesOf("silver"))
	rapid.Check(t, func(t *rapid.T) {
		f := drawFamily(t, families)
		fineness := rapid.Float64Range(f.Low, f.High-0.001).Draw(t, "fineness")
		finer := rapid.Float64Range(fineness+0.001, f.High).Draw(t, "finer")
		rest, unmixed := drawRecipe(t, f, fineness)
		v := specificVolumeOf(t, f.Symbol, fineness, rest, unmixed)
		if w := specificVolumeOf(t, f.Symbol, finer, rest, unmixed); w >= v {
			t.Fatalf("%v: %.6f g/cm³ at %.4f, %.6f g/cm³ at %.4f", rest, 1/v, fineness, 1/w, finer)
		}
	})
}

// Neither the total nor the order of the amounts matters.
func TestScaleAndOrderOfParts(t *testing.T) {
	var symbols []string
	for _, m := range Metals() {
		symbols = append(symbols, m.Symbol)
	}
	rapid.Check(t, func(t *rapid.T) {
		var p, q Parts
		scale := rapid.Float64Range(1e-3, 1e6).Draw(t, "scale")
		some := rapid.Permutation(symbols).Draw(t, "metals")[:rapid.IntRange(1, 8).Draw(t, "how many")]
		for _, symbol := range some {
			p = append(p, Part{symbol, rapid.Float64Range(0.01, 1).Draw(t, symbol)})
		}
		for _, part := range rapid.Permutation([]Part(p)).Draw(t, "order") {
			q = append(q, Part{part.Symbol, scale * part.Fraction})
		}
		state := rapid.SampledFrom([]State{Quenched, Unmixed, Ideal}).Draw(t, "state")
		a, errA := Mix(p, Options{State: state})
		b, errB := Mix(q, Options{State: state})
		if errA != nil || errB != nil {
			if errA == nil || errB == nil {
				t.Fatalf("one is an error: %v, %v", errA, errB)
			}
			return
		}
		same := func(what string, x, y float64) {
			if !(math.Abs(x-y) <= 1e-12*(1+math.Abs(x))) {
				t.Fatalf("%s of %v is %.15g, of %v %.15g", what, p, x, q, y)
			}
		}
		same("density", float64(a.Density), float64(b.Density))
		same("ideal density", float64(a.Ideal), float64(b.Ideal))
		same("uncertainty", a.RelU, b.RelU)
		same("excess volume", a.ExcessVolume, b.ExcessVolume)
		same("expansion", float64(a.Expansion), float64(b.Expansion))
		for i, part := range a.Parts {
			j := slices.IndexFunc(b.Parts, func(other Part) bool { return other.Symbol == part.Symbol })
			same("mole fraction", a.MoleFractions[i], b.MoleFractions[j])
		}
	})
}

// What a posterior must be, whatever the item. The interval lies inside the range: the range is of
// all recipes, so its ends lie beyond 1.96 standard uncertainties from the outermost ones. The
// part of the model grows with v, hence a little more than 2.
func TestPosteriorLaws(t *testing.T) {
	ws := &Workspace{}
	rapid.Check(t, func(t *rapid.T) {
		f, _, v := drawItem(t, Families())
		u := rapid.Float64Range(3e-4, 0.01).Draw(t, "u")
		k := rapid.Float64Range(2.05, 3).Draw(t, "k")
		o := Observation{V: v, U: u * v}
		p, ok := f.Posterior(o, ws)
		if !ok {
			t.Fatal("out of reach")
		}
		quantile := func(q float64) float64 { return p.Quantile(q) }
		q := rapid.SliceOfN(rapid.Float64Range(0, 1), 2, 8).Draw(t, "q")
		slices.Sort(q)
		for i := 1; i < len(q); i++ {
			if quantile(q[i]) < quantile(q[i-1])-1e-7 {
				t.Fatalf("quantile %g is %.9f, quantile %g is %.9f", q[i-1], quantile(q[i-1]), q[i], quantile(q[i]))
			}
		}
		x := rapid.SliceOfN(rapid.Float64Range(0.2, 1.1), 2, 8).Draw(t, "fineness asked")
		slices.Sort(x)
		for i := 1; i < len(x); i++ {
			if p.AtLeast(x[i]) > p.AtLeast(x[i-1])+1e-12 {
				t.Fatalf("P(f >= %g) = %.12f, P(f >= %g) = %.12f", x[i-1], p.AtLeast(x[i-1]), x[i], p.AtLeast(x[i]))
			}
		}
		low, high, ok := f.Range(o, k, false)
		cut := low <= f.Low || high >= f.High
		if !ok || !cut && (quantile(0.025) < low-1e-6 || quantile(0.975) > high+1e-6) {
			t.Fatalf("%s: interval %.6f to %.6f, range %.6f to %.6f (%v)", f.Key, quantile(0.025), quantile(0.975), low, high, ok)
		}
		// Claims are asked of it and leave it as it is.
		before := []float64{quantile(0.05), quantile(0.5), p.AtLeast(0.75), p.Evidence(), p.Mean(), p.SD()}
		standards := Standards(TradeWide, f.Metal)
		for _, claim := range standards {
			p.Weighted(Sceptic(claim, standards), claim)
			p.Weighted(Trade(standards), claim)
		}
		after := []float64{quantile(0.05), quantile(0.5), p.AtLeast(0.75), p.Evidence(), p.Mean(), p.SD()}
		if !slices.Equal(before, after) {
			t.Fatalf("claims moved the posterior from %v to %v", before, after)
		}
	})
}

// Widening a recipe never narrows the range.
func TestWideningNeverNarrowsTheRange(t *testing.T) {
	var grid []float64
	for i := range 15 {
		grid = append(grid, 0.3+0.05*float64(i))
	}
	rapid.Check(t, func(t *rapid.T) {
		var inner, outer []string
		for _, symbol := range []string{"Ag", "Zn"} {
			low := rapid.Float64Range(0, 0.4).Draw(t, symbol+" low")
			high := low + rapid.Float64Range(0, 0.3).Draw(t, symbol+" width")
			down := rapid.Float64Range(0, 0.2).Draw(t, symbol+" down")
			up := rapid.Float64Range(0, 0.3).Draw(t, symbol+" up")
			inner = append(inner, fmt.Sprintf("%s %.9f-%.9f", symbol, low, high))
			outer = append(outer, fmt.Sprintf("%s %.9f-%.9f", symbol, max(low-down, 0), min(high+up, 1)))
		}
		var ranges [2][2]float64
		v := 1 / rapid.Float64Range(10.5, 19).Draw(t, "density")
		o := Observation{V: v, U: v * rapid.Float64Range(0, 0.01).Draw(t, "u")}
		k := rapid.Float64Range(0, 3).Draw(t, "k")
		for i, shares := range [][]string{inner, outer} {
			f, err := familyOf("gold Au", "all "+strings.Join(shares, ", ")+", Cu rest")
			if err != nil {
				t.Fatal(err)
			}
			f.table = f.build(buildOptions{grid: grid, recipes: 64})
			low, high, ok := f.Range(o, k, false)
			if !ok && i == 0 {
				t.Skip("no recipe fits")
			}
			if !ok {
				t.Fatal("the wider recipes do not fit, the narrower do")
			}
			ranges[i] = [2]float64{low, high}
		}
		if ranges[1][0] > ranges[0][0]+1e-6 || ranges[1][1] < ranges[0][1]-1e-6 {
			t.Fatalf("%v has %v, %v has %v", inner, ranges[0], outer, ranges[1])
		}
	})
}
