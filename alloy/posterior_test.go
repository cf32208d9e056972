package alloy

import (
	"bufio"
	"math"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// checkRows returns the fields of each row of a table in testdata, comments left out.
func checkRows(t *testing.T, file string) [][]string {
	t.Helper()
	data, err := os.ReadFile("testdata/" + file)
	if err != nil {
		t.Fatal(err)
	}
	var rows [][]string
	scanner := bufio.NewScanner(strings.NewReader(string(data)))
	for scanner.Scan() {
		line := strings.TrimSpace(scanner.Text())
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		rows = append(rows, strings.Fields(strings.ReplaceAll(line, "|", " ")))
	}
	if len(rows) == 0 {
		t.Fatalf("testdata/%s has no rows", file)
	}
	return rows
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// near fails unless got lies within the tolerance of want.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.6g, want %.6g ± %g", what, got, want, tolerance)
	}
}

// between fails unless want lies from low to high.
func between(t *testing.T, what string, want, low, high float64) {
	t.Helper()
	if !(low <= want && want <= high) {
		t.Errorf("%s: want %.6g, got %.6g to %.6g", what, want, low, high)
	}
}

// testedFamilies builds the families of testdata/families-posterior.txt with zinc held at
// 8.612 cm³/mol, each also under its key + "/sampled" with the extremes of a finite set of recipes
// in place of the corners of the region.
var testedFamilies = sync.OnceValues(func() (map[string]*Family, error) {
	text, err := os.ReadFile("testdata/families-posterior.txt")
	if err != nil {
		return nil, err
	}
	list, err := parseFamilies(string(text))
	if err != nil {
		return nil, err
	}
	byKey := map[string]*Family{}
	var building sync.WaitGroup
	for _, f := range list {
		sampled := *f
		byKey[f.Key], byKey[f.Key+"/sampled"] = f, &sampled
		building.Go(func() { f.table = f.build(buildOptions{zincMolarVolume: 8.612}) })
		building.Go(func() { sampled.table = sampled.build(buildOptions{zincMolarVolume: 8.612, withoutCorners: true}) })
	}
	building.Wait()
	return byKey, nil
})

func testedFamily(t *testing.T, key string) *Family {
	t.Helper()
	families, err := testedFamilies()
	if err != nil {
		t.Fatal(err)
	}
	f, ok := families[key]
	if !ok {
		t.Fatalf("no family %q", key)
	}
	return f
}

func TestPosteriorAgainstSimulation(t *testing.T) {
	const probability, ppt, pptFewDof = 0.001, 0.2, 0.4
	standards := []float64{.333, .375, .417, .585, .750, .8333, .875, .900, .9167, .958, .990, .999}
	for _, row := range checkRows(t, "posterior.txt") {
		t.Run(row[0], func(t *testing.T) {
			f := testedFamily(t, row[1])
			v := 1000 / number(t, row[2])
			o := Observation{V: v, U: v * number(t, row[3])}
			claim := number(t, row[4]) / 1000
			x := func(i int) float64 { return number(t, row[5+i]) }

			p, ok := f.Posterior(o, nil)
			if !ok {
				t.Fatal("out of reach")
			}
			near(t, "P(f >= claim)", p.AtLeast(claim), x(0), probability)
			for i, q := range []float64{.025, .05, .5, .975} {
				near(t, "quantile "+strconv.FormatFloat(q, 'g', -1, 64), 1000*p.Quantile(q), x(1+i), ppt)
			}
			// The check values are of a finite set of recipes, which only comes near to the corners
			// of the region: they lie between a coarse set (2^14 recipes) and the corners.
			low, high, ok := f.Range(o, 2, false)
			lowSampled, highSampled, okSampled := testedFamily(t, row[1]+"/sampled").Range(o, 2, false)
			if !ok || !okSampled {
				t.Error("no range")
			}
			between(t, "range, low", x(5), 1000*low-ppt, 1000*lowSampled+ppt)
			between(t, "range, high", x(6), 1000*highSampled-ppt, 1000*high+ppt)
			if low > lowSampled+1e-6 || high < highSampled-1e-6 || lowSampled-low > 0.001 || high-highSampled > 0.001 {
				t.Errorf("corners give %.5f to %.5f, the set %.5f to %.5f: want a little wider, by 0.001 at most", low, high, lowSampled, highSampled)
			}

			sceptic, ok := p.Weighted(Sceptic(claim, standards), claim)
			if !ok {
				t.Error("no sceptic probability")
			}
			near(t, "sceptic", sceptic, x(10), probability)
			trade, ok := p.Weighted(Trade(standards), claim)
			if !ok {
				t.Error("no trade probability")
			}
			near(t, "trade", trade, x(11), probability)
			next, ok := NextLower(standards, claim)
			if !ok {
				t.Error("no next lower standard")
			}
			near(t, "P(f >= claim - half gap)", p.AtLeast(claim-(claim-next)/2), x(12), probability)

			o.Dof = 2
			p, ok = f.Posterior(o, nil)
			if !ok {
				t.Fatal("out of reach")
			}
			for i, q := range []float64{.025, .05, .975} {
				near(t, "2 degrees of freedom, quantile "+strconv.FormatFloat(q, 'g', -1, 64), 1000*p.Quantile(q), x(7+i), pptFewDof)
			}
		})
	}
}

// The posterior of a family against brute force: trapezoids in fineness and in the share of
// silver, with the density of Student's t of an independent library.
func TestPosteriorAgainstBruteForce(t *testing.T) {
	f := testedFamily(t, "2n3n")
	for _, c := range []struct{ density, u, dof float64 }{
		{15.44, 0.002, 0}, {15.44, 0.003, 1}, {15.44, 0.004, 2}, {13.2, 0.003, 3}, {15.44, 0.001, 5}, {17.9, 0.01, 4},
	} {
		o := Observation{V: 1 / c.density, U: c.u / c.density, Dof: c.dof}
		p, ok := f.Posterior(o, nil)
		if !ok {
			t.Fatal("out of reach")
		}
		const steps, shares = 1400, 40 // 0.5 ppt
		cumulative := make([]float64, steps+1)
		before, mean, square := 0.0, 0.0, 0.0
		for i := 0; i <= steps; i++ {
			fineness := 0.3 + 0.7*float64(i)/steps
			sum := 0.0
			for k := range shares {
				silver := 0.48 + 0.16*(float64(k)+0.5)/shares
				m, err := Mix(Parts{{"Au", fineness}, {"Ag", (1 - fineness) * silver}, {"Cu", (1 - fineness) * (1 - silver)}}, Options{})
				if err != nil {
					t.Fatal(err)
				}
				v := 1 / m.Density.GramPerCm3()
				s := math.Hypot(o.U, f.ModelU*v)
				nu := 1e6
				if c.dof > 0 {
					nu = min(c.dof*math.Pow(s/o.U, 4), 1e6)
				}
				sum += distuv.StudentsT{Mu: v, Sigma: s, Nu: nu}.Prob(o.V)
			}
			if i > 0 {
				area := (before + sum) / 2
				middle := fineness - 0.35/steps
				mean += area * middle
				square += area * middle * middle
				cumulative[i] = cumulative[i-1] + area
			}
			before = sum
		}
		total := cumulative[steps]
		near(t, "evidence", p.Evidence(), o.V*total/steps/shares, 0.001*p.Evidence())
		for _, x := range []float64{0.45, 0.55, 0.7, 0.74, 0.75, 0.76, 0.8, 0.9} {
			i := int(math.Round((x - 0.3) / 0.7 * steps))
			near(t, "P(f >= x)", p.AtLeast(0.3+0.7*float64(i)/steps), 1-cumulative[i]/total, 0.001)
		}
		mean /= total
		near(t, "mean in ppt", 1000*p.Mean(), 1000*mean, 0.2)
		near(t, "standard deviation in ppt", 1000*p.SD(), 1000*math.Sqrt(square/total-mean*mean), 0.4)
	}
}

// Fineness is cut at 1: fine gold that reads denser than gold is not finer than gold.
func TestFinenessIsCutAtOne(t *testing.T) {
	f := family(t, "gold-fine")
	o := Observation{V: 1 / 19.32, U: 0.0005 / 19.32}
	p, ok := f.Posterior(o, nil)
	if !ok {
		t.Fatal("out of reach")
	}
	if q := p.Quantile(1); q > 1 {
		t.Errorf("highest fineness %g", q)
	}
	if q := p.Quantile(0.5); q < 0.997 || q >= 1 {
		t.Errorf("median %g", q)
	}
	near(t, "P(f >= 1)", p.AtLeast(1), 0, 1e-9)
	low, high, ok := f.Range(o, 2, false)
	if !ok || high != 1 || low < 0.99 {
		t.Errorf("range %g to %g, %v", low, high, ok)
	}
	if _, ok := p.Weighted(Sceptic(0.9999, Standards(TradeWide, "gold")), 0.9999); !ok {
		t.Error("no probability for 999.9")
	}
}

// Tungsten, 19.25 g/cm³, fits fine gold even with the small uncertainty of fine gold's model.
func TestTungstenFitsFineGold(t *testing.T) {
	f := family(t, "gold-fine")
	o := Observation{V: 1 / 19.25, U: 0.001 / 19.25}
	if z, ok := f.Distance(o, 0.999, false); !ok || math.Abs(z) > 2.58 {
		t.Errorf("tungsten lies %g from 999 gold", z)
	}
}

// Gold rich in zinc, judged as 2N to 3N, misses its fineness; judged as yellow it does not.
func TestZincRichGoldNeedsItsFamily(t *testing.T) {
	m := mix(t, "Au=585,Ag=95,Cu=270,Zn=50", Options{})
	o := Observation{V: 1 / m.Density.GramPerCm3(), U: 0.001 / m.Density.GramPerCm3()}
	for key, within := range map[string]bool{"gold-yellow": true, "gold-2n-3n": false} {
		p, ok := family(t, key).Posterior(o, nil)
		if !ok {
			t.Fatalf("%s out of reach", key)
		}
		if got := p.Quantile(0.025) <= 0.585 && 0.585 <= p.Quantile(0.975); got != within {
			t.Errorf("%s: 585 within %.4f to %.4f is %v, want %v", key, p.Quantile(0.025), p.Quantile(0.975), got, within)
		}
	}
}

// 375 is never told from 333 by its density: half the gap lies well inside the interval.
func TestNineCaratIsNotDecided(t *testing.T) {
	p, ok := family(t, "gold-yellow").Posterior(Observation{V: 1 / 11.25, U: 0.0001 / 11.25}, nil)
	if !ok {
		t.Fatal("out of reach")
	}
	if x := p.AtLeast(0.354); x > 0.95 || x < 0.05 {
		t.Errorf("P(f >= 354) = %g decides", x)
	}
}

// Whatever the observation: quantiles ascend, agree with AtLeast, and stay in the span; the range
// holds the median of the usual recipes; nothing is NaN.
func TestPosteriorHoldsTogether(t *testing.T) {
	ws := &Workspace{}
	rapid.Check(t, func(t *rapid.T) {
		f := rapid.SampledFrom(Families()).Draw(t, "family")
		density := rapid.Float64Range(8, 22).Draw(t, "density")
		o := Observation{
			V:   1 / density,
			U:   rapid.SampledFrom([]float64{0, 1e-5, 1e-4, 1e-3, 0.01, 0.1}).Draw(t, "u") / density,
			Dof: rapid.SampledFrom([]float64{0, 0.5, 1, 2, 9, 1e5, math.Inf(1)}).Draw(t, "dof"),
		}
		p, ok := f.Posterior(o, ws)
		if !ok {
			return
		}
		before := f.Low
		for _, q := range []float64{0, 0.001, 0.025, 0.05, 0.3, 0.5, 0.9, 0.975, 1} {
			x := p.Quantile(q)
			if !(x >= before-1e-9 && x <= f.High+1e-12) {
				t.Fatalf("quantile %g = %g after %g", q, x, before)
			}
			before = x
			if q > 0 && q < 1 && math.Abs(p.AtLeast(x)-(1-q)) > 1e-4 {
				t.Fatalf("P(f >= quantile %g) = %g", q, p.AtLeast(x))
			}
		}
		if mean, sd := p.Mean(), p.SD(); !(mean > f.Low-1e-6 && mean < f.High+1e-6) || !(sd >= 0 && sd < 0.5) {
			t.Fatalf("mean %g, standard deviation %g", mean, sd)
		}
		if e := p.Evidence(); !(e >= 0) || math.IsInf(e, 0) {
			t.Fatalf("evidence %g", e)
		}
		standards := Standards(TradeWide, f.Metal)
		for _, w := range []Weighting{Neutral(), Trade(standards), Sceptic(standards[0], standards)} {
			if x, ok := p.Weighted(w, standards[len(standards)-1]); ok && !(x >= 0 && x <= 1) {
				t.Fatalf("%s gives %g", w.Name, x)
			}
		}
		near := 6.5
		if o.Dof > 0 && o.Dof < 1e4 {
			near = 1e6
		}
		low, high, ok := f.Range(o, near, true)
		if !ok || p.Quantile(0.5) < low-0.003 || p.Quantile(0.5) > high+0.003 {
			t.Fatalf("median %g, but the range is %g to %g (%v)", p.Quantile(0.5), low, high, ok)
		}
	})
}

func TestPosteriorRefuses(t *testing.T) {
	f := family(t, "gold-yellow")
	for _, o := range []Observation{
		{}, {V: -0.06}, {V: math.NaN()}, {V: math.Inf(1)}, {V: 0.06, U: -1}, {V: 0.06, U: math.NaN()}, {V: 0.06, U: 0.001, Dof: -1},
		{V: 0.06, U: 0.001, Dof: math.NaN()}, {V: 1 / 2.7, U: 1e-4}, {V: 1 / 22.5, U: 1e-5},
	} {
		if _, ok := f.Posterior(o, nil); ok {
			t.Errorf("%+v has a posterior", o)
		}
		if low, high, ok := f.Range(o, 2, true); ok || low != 0 || high != 0 {
			t.Errorf("%+v has the range %g to %g", o, low, high)
		}
	}
}

func TestPosteriorDoesNotAllocate(t *testing.T) {
	f := family(t, "gold-yellow")
	ws := &Workspace{}
	o := Observation{V: 1 / 15.4, U: 0.001 / 15.4}
	standards := Standards(TradeWide, "gold")
	sceptic := Sceptic(0.75, standards)
	if n := testing.AllocsPerRun(100, func() {
		p, ok := f.Posterior(o, ws)
		if !ok {
			t.Fatal("out of reach")
		}
		p.Quantile(0.05)
		p.Weighted(sceptic, 0.75)
		p.SD()
		f.Range(o, 2, true)
		f.Distance(o, 0.75, true)
		f.Evidence(o, 0.75)
	}); n != 0 {
		t.Errorf("%g allocations", n)
	}
}

// |df/dln v|: 0.1 % of density is 1.0 to 1.8 ppt of gold, 5.8 ppt of silver with copper alone
// (computed with numpy); zinc in the middle recipe of silver makes it less.
func TestSlope(t *testing.T) {
	for key, c := range map[string]struct{ fineness, low, high float64 }{
		"gold-yellow": {0.75, 1.0, 1.8}, "gold-green": {0.585, 1.0, 1.8}, "silver-copper": {0.925, 4.2, 5.8},
	} {
		s, ok := family(t, key).Slope(c.fineness)
		if !ok || s < c.low || s > c.high {
			t.Errorf("%s: slope %g, want %g to %g", key, s, c.low, c.high)
		}
	}
}

func TestTPeak(t *testing.T) {
	for _, nu := range []float64{0.5, 1, 2, 3, 5, 10, 100, 1e4} {
		near(t, "t at 0", tPeak(nu), distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Prob(0), 1e-5)
	}
}
