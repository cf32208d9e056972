package alloy

import (
	"math"
	"testing"
)

// Law: the nodes of a fineness lie in its band and their weights add up to 1.
func TestNodesLieInTheBand(t *testing.T) {
	for _, f := range Families() {
		for _, fineness := range []float64{f.Low, (f.Low + f.High) / 2, f.High} {
			nodes, ok := f.Nodes(nil, fineness)
			if !ok {
				t.Fatalf("%s %g: no nodes", f.Key, fineness)
			}
			low, high, _ := f.Band(fineness, true)
			sum := 0.0
			for _, n := range nodes {
				sum += n.Weight
				if n.V < low-1e-6 || n.V > high+1e-6 {
					t.Errorf("%s %g: node %g outside %g to %g", f.Key, fineness, n.V, low, high)
				}
			}
			if math.Abs(sum-1) > 1e-9 {
				t.Errorf("%s %g: weights add up to %g", f.Key, fineness, sum)
			}
		}
		if _, ok := f.Nodes(nil, f.Low/2); ok && f.Low > 0 {
			t.Errorf("%s: nodes below its span", f.Key)
		}
	}
}
