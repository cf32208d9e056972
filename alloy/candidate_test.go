package alloy

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// The evidence of candidates for one measurement, on the families of families-posterior.txt.
func TestEvidenceOfCandidates(t *testing.T) {
	for _, row := range fields(t, "candidates.txt", 8) {
		o := Observation{V: 1 / number(t, row[1]), U: number(t, row[2]) / number(t, row[1])}
		evidence := func(candidate string) float64 {
			t.Helper()
			words := strings.Fields(candidate)
			var e float64
			var ok bool
			if words[0] == "range" {
				e, ok = RangeEvidence(o, 1/number(t, words[2]), 1/number(t, words[1]), number(t, words[3]))
			} else {
				e, ok = testedFamily(t, words[0]).Evidence(o, number(t, words[1])/1000)
			}
			if !ok {
				t.Fatalf("%s: %s has no evidence", row[0], candidate)
			}
			return e
		}
		got := evidence(row[3])
		if row[4] != "" {
			got /= evidence(row[4])
		}
		near(t, row[0]+" "+row[3], got, number(t, row[5]), number(t, row[6]))
	}
}

// A range so narrow that it is a point, and one so wide that it is flat.
func TestRangeEvidenceLimits(t *testing.T) {
	o := Observation{V: 0.05, U: 0.0001}
	point, _ := RangeEvidence(o, 0.0501, 0.0501, 0)
	near(t, "point", point, 0.05*distuv.Normal{Mu: 0.0501, Sigma: 0.0001}.Prob(0.05), 1e-5)
	narrow, _ := RangeEvidence(o, 0.0501-1e-6, 0.0501+1e-6, 0)
	near(t, "nearly a point", narrow/point, 1, 1e-4)
	wide, _ := RangeEvidence(o, 0.04, 0.06, 0)
	near(t, "wide", wide, 0.05/0.02, 1e-9)
	edge, _ := RangeEvidence(o, 0.05, 0.06, 0)
	near(t, "edge", edge, 0.05/0.01/2, 1e-9)

	o.Dof = 2
	edge, _ = RangeEvidence(o, 0.05+0.0003, 0.06, 0)
	student := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: 2}
	near(t, "t with 2 degrees of freedom, 3 beyond the edge", edge, 0.05/0.0097*(student.CDF(-3)-student.CDF(-100)), 1e-6)
	for _, c := range [][3]float64{{0.06, 0.05, 0}, {-1, 0.05, 0}, {0.05, 0.06, -1}, {math.NaN(), 0.06, 0}} {
		if _, ok := RangeEvidence(o, c[0], c[1], c[2]); ok {
			t.Errorf("%v is taken for a range", c)
		}
	}
}

// Nodes farther apart than the uncertainty must not alias: a dense core of 14 to 17 g/cm³ by 24
// nodes, observed exactly between and exactly at nodes. The closed form is the truth; without the
// cells the likelihood at a node comes out several times too high.
func TestWideBandDoesNotAlias(t *testing.T) {
	q, weights := gaussLegendre(24)
	low, high := 1/17., 1/14.
	nodes := make([]float32, len(q))
	for i := range q {
		nodes[i] = float32(low + q[i]*(high-low))
	}
	worst := 0.0
	for k := 4; k < 20; k++ {
		for _, v := range []float64{float64(nodes[k]), float64(nodes[k]+nodes[k+1]) / 2} {
			o := Observation{V: v, U: 0.0003 * v}
			l := newLikelihood(o, 0)
			truth, ok := RangeEvidence(o, low, high, 0)
			if !ok {
				t.Fatal("no evidence")
			}
			near(t, "24 nodes over the closed form", v*l.overNodes(nodes, weights)/truth, 1, 0.03)
			plain := 0.0
			for i, node := range nodes {
				plain += weights[i] * l.at(float64(node), l.variance(float64(node)))
			}
			worst = max(worst, v*plain/truth)
		}
	}
	if worst < 4 {
		t.Errorf("without the rule the likelihood is at most %.1f times too high: the trap is not sprung", worst)
	}
}

// The evidence of a family at a fineness between two rows is the integral over its recipes.
func TestEvidenceIsTheIntegralOverRecipes(t *testing.T) {
	f := family(t, "gold-yellow")
	const usual, rare = 0.01, 0.1 // the rare recipes have a third of the nodes and a twentieth of the weight
	for _, c := range []struct{ fineness, density, u, tolerance float64 }{
		{0.5851, 13.2, 0.003, usual}, {0.7513, 15.37, 0.001, usual}, {0.7513, 15.9, 0.002, rare}, {0.7513, 15.0, 0.0005, rare},
		{0.4031, 11.6, 0.002, usual}, {0.9189, 17.8, 0.001, usual}, {0.3331, 10.9, 0.01, usual},
	} {
		o := Observation{V: 1 / c.density, U: c.u / c.density}
		got, ok := f.Evidence(o, c.fineness)
		if !ok {
			t.Fatal("no evidence")
		}
		want := UsualWeight*integralOverRecipes(t, f.Usual, f.ModelU, o, c.fineness) +
			OuterWeight*integralOverRecipes(t, f.Outer, f.ModelU, o, c.fineness)
		near(t, "evidence over the integral over recipes", got/(o.V*want), 1, c.tolerance)
	}
}

// integralOverRecipes averages the likelihood over a regular grid of silver and zinc.
func integralOverRecipes(t *testing.T, region Region, modelU float64, o Observation, fineness float64) float64 {
	t.Helper()
	const n = 150
	box := newRecipeBox(region[0], newSolution(family(t, "gold-yellow").metals, 0))
	box.at(fineness)
	sum, count := 0.0, 0
	for i := range n {
		for j := range n {
			silver := box.low[1] + (box.high[1]-box.low[1])*(float64(i)+0.5)/n
			zinc := box.low[2] + (box.high[2]-box.low[2])*(float64(j)+0.5)/n
			if silver+zinc > 1 {
				continue
			}
			rest := 1 - fineness
			m, err := Mix(Parts{{"Au", fineness}, {"Ag", rest * silver}, {"Zn", rest * zinc}, {"Cu", rest * (1 - silver - zinc)}}, Options{})
			if err != nil {
				t.Fatal(err)
			}
			v := 1 / m.Density.GramPerCm3()
			sum += distuv.Normal{Mu: v, Sigma: math.Hypot(o.U, modelU*v)}.Prob(o.V)
			count++
		}
	}
	return sum / float64(count)
}

func TestDistance(t *testing.T) {
	f := family(t, "gold-2n-3n")
	low, high, ok := f.Band(0.750, false)
	if !ok {
		t.Fatal("no band")
	}
	s := math.Hypot(0.002, 0.001)
	for _, c := range []struct{ v, want float64 }{
		{(low + high) / 2, 0}, {high * (1 + 3*s), 3}, {low * (1 - 4*s), -4},
	} {
		z, ok := f.Distance(Observation{V: c.v, U: 0.001 * c.v}, 0.750, false)
		if !ok {
			t.Fatal("no distance")
		}
		near(t, "distance", z, c.want, 0.03) // the measurement's part grows with v
		near(t, "distance of a plain range", RangeDistance(Observation{V: c.v, U: 0.001 * c.v}, low, high, 0.002), z, 1e-9)
	}
	if _, ok := f.Distance(Observation{V: 0.06, U: 1e-4}, 0.2, false); ok {
		t.Error("a fineness outside the span has a distance")
	}
	if _, ok := f.Distance(Observation{V: -1}, 0.75, false); ok {
		t.Error("a negative volume has a distance")
	}
}
