package alloy

import (
	"fmt"
	"math"
	"testing"
)

// byHand returns the specific volume in cm³/g of gold with silver, copper and zinc by mass, from the
// figures of data/elements.csv and data/pairs.csv written out. Nothing of the package is used.
func byHand(gold, silver, copper, zinc float64) float64 {
	au, ag, cu, zn := gold/196.96657, silver/107.8682, copper/63.546, zinc/65.38
	moles := au + ag + cu + zn
	zincRich := min(max((copper/max(copper+silver, 1e-12)-0.25)/0.25, 0), 1) // 0 beside silver, 1 beside copper
	v := gold/19.290 + silver/10.504 + copper/8.936 + zn*(8.612+zincRich*(8.45-8.612))
	v += ag * au / moles * -0.1241
	v += au * cu / moles * (0.321 - 0.031*(au-cu)/moles)
	v += ag * cu / moles * (0.121 + 0.186*(ag-cu)/moles)
	return v
}

// halton returns the i-th point of the van der Corput sequence in a base.
func halton(i, base int) float64 {
	x, digit := 0.0, 1/float64(base)
	for ; i > 0; i /= base {
		x += digit * float64(i%base)
		digit /= float64(base)
	}
	return x
}

// bruteCase is one likelihood: normal, or with a part of few degrees of freedom.
type bruteCase struct{ u, modelU, dof float64 }

// at returns the density of the observed v0 for a true v, straight from the textbook.
func (c bruteCase) at(v0, v float64) float64 {
	u := c.u * v0
	s := math.Hypot(u, c.modelU*v)
	z := (v0 - v) / s
	if c.dof == 0 {
		return math.Exp(-z*z/2) / (s * math.Sqrt(2*math.Pi))
	}
	nu := c.dof * math.Pow(s/u, 4)
	a, _ := math.Lgamma((nu + 1) / 2)
	b, _ := math.Lgamma(nu / 2)
	return math.Exp(a-b-(nu+1)/2*math.Log1p(z*z/nu)) / (s * math.Sqrt(nu*math.Pi))
}

// Posteriors against a brute-force integral over the recipes: every 0.5 ppt, some thousand recipes
// of a Halton sequence, no quantiles of v, no spline. One family has kinks where bounds are printed.
func TestPosteriorIsTheIntegralOverRecipes(t *testing.T) {
	const steps, recipes = 1400, 3000
	var at [recipes][2]float64 // places in the box, from 0 to 1
	for r := range at {
		at[r] = [2]float64{halton(r+1, 2), halton(r+1, 3)}
	}
	for _, c := range []struct {
		key     string
		density float64
		cases   []bruteCase
	}{
		{"gold-yellow", 15.40, []bruteCase{{0.0002, 0.0025, 0}, {0.003, 0.0025, 0}, {0.01, 0.0025, 0}, {0.003, 0.0025, 2}}},
		{"gold-yellow", 12.60, []bruteCase{{0.001, 0.0025, 0}, {0.01, 0.0025, 3}}},
		{"gold-yellow", 12.282, []bruteCase{{0.01, 0.0025, 0}}},
		{"gold-green", 15.85, []bruteCase{{0.0002, 0.0015, 0}, {0.003, 0.0015, 0}, {0.01, 0.0015, 0}, {0.004, 0.0015, 2}}},
		{"gold-pink", 15.05, []bruteCase{{0.0002, 0.0020, 0}, {0.003, 0.0020, 0}, {0.01, 0.0020, 0}, {0.004, 0.0020, 2}}},
	} {
		f := family(t, c.key)
		box := f.Usual[0]
		v0 := 1 / c.density
		p := make([][]float64, len(c.cases)) // p(v0|f), one row of finenesses per case
		for k := range c.cases {
			p[k] = make([]float64, steps+1)
		}
		for i := 0; i <= steps; i++ {
			fineness := 0.3 + 0.7*float64(i)/steps
			agLow, agHigh := boundsAt(box, "Ag", fineness)
			znLow, znHigh := boundsAt(box, "Zn", fineness)
			for _, place := range at {
				ag := agLow + place[0]*(agHigh-agLow)
				zn := znLow + place[1]*(znHigh-znLow)
				v := byHand(fineness, (1-fineness)*ag, (1-fineness)*(1-ag-zn), (1-fineness)*zn)
				for k, q := range c.cases {
					if q.dof > 0 || math.Abs(v-v0) < 8*v0*math.Hypot(q.u, q.modelU) {
						p[k][i] += q.at(v0, v) / recipes
					}
				}
			}
		}
		for k, q := range c.cases {
			name := fmt.Sprintf("%s at %g g/cm³, u %g, model %g, degrees of freedom %g: ", c.key, c.density, q.u, q.modelU, q.dof)
			judged := *f
			judged.ModelU = q.modelU
			got, ok := judged.Posterior(Observation{V: v0, U: q.u * v0, Dof: q.dof}, nil)
			if !ok {
				t.Fatal(name + "out of reach")
			}
			below := make([]float64, steps+1)
			for i := 1; i <= steps; i++ {
				below[i] = below[i-1] + (p[k][i-1]+p[k][i])/2
			}
			total := below[steps]
			ppt := 0.2
			if q.dof > 0 {
				ppt = 0.4
			}
			i := 1
			for _, level := range []float64{0.025, 0.05, 0.25, 0.5, 0.75, 0.95, 0.975} {
				for below[i] < level*total {
					i++
				}
				part := (level*total - below[i-1]) / (below[i] - below[i-1])
				fineness := 0.3 + 0.7*(float64(i-1)+part)/steps
				near(t, fmt.Sprintf("%squantile %g in ppt", name, level), 1000*got.Quantile(level), 1000*fineness, ppt)
				near(t, fmt.Sprintf("%sP(f >= quantile %g)", name, level), got.AtLeast(fineness), 1-level, 0.001)
			}
			near(t, name+"evidence against the integral", got.Evidence()/(v0*total/steps), 1, 0.001)
		}
	}
}
