package settle

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Without scatter rounding leaves d/√12; with half a digit of it next to nothing. Between, the mean of many
// rounded readings is compared over all places between two digits.
func TestRounding(t *testing.T) {
	for _, sigma := range []float64{0, 0.1, 0.2, 0.3, 0.5} {
		sum := 0.0
		const places = 200
		for i := range places {
			truth := (float64(i) + 0.5) / places
			// The mean of the rounded reading, by the normal distribution.
			mean := 0.0
			for k := -6; k <= 7; k++ {
				p := normal((float64(k)+0.5-truth)/max(sigma, 1e-9)) - normal((float64(k)-0.5-truth)/max(sigma, 1e-9))
				mean += float64(k) * p
			}
			sum += (mean - truth) * (mean - truth)
		}
		want := math.Sqrt(sum / places)
		if got := rounding(1, sigma); math.Abs(got-want) > 0.002 {
			t.Errorf("sigma %g: %g, want %g", sigma, got, want)
		}
	}
}

func normal(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) }

// Student's t at 95 %, JCGM 100:2008 table G.2.
func TestWiden(t *testing.T) {
	for nu, want := range map[float64]float64{3: 3.18, 4: 2.78, 5: 2.57, 10: 2.23, 20: 2.09, 50: 2.01} {
		if got := widen(nu) * 1.96; math.Abs(got-want) > 0.01*want+0.005 {
			t.Errorf("nu %g: %.3f, want %.2f", nu, got, want)
		}
	}
}

// White scatter has von Neumann's mean and variance; a trend is far below.
func TestRatio(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 5))
	for _, n := range []int{10, 30, 100} {
		for _, slope := range []float64{0, 0.5} {
			var sum, squares float64
			const trials = 4000
			for range trials {
				var mean, steps, dev, last float64
				y := make([]float64, n)
				for i := range y {
					y[i] = rng.NormFloat64() + slope*float64(i)
					mean += y[i] / float64(n)
					if i > 0 {
						steps += (y[i] - last) * (y[i] - last)
					}
					last = y[i]
				}
				for _, v := range y {
					dev += (v - mean) * (v - mean)
				}
				_, z := ratio(steps, dev, n)
				sum += z
				squares += z * z
			}
			mean := sum / trials
			sd := math.Sqrt(squares/trials - mean*mean)
			if slope == 0 && (math.Abs(mean) > 0.08 || math.Abs(sd-1) > 0.05) {
				t.Errorf("n %d: z has mean %.3f and standard deviation %.3f", n, mean, sd)
			}
			if slope > 0 && mean > -2 {
				t.Errorf("n %d: a trend has z %.2f", n, mean)
			}
		}
	}
}

// The running sums give what a fit over the readings gives.
func TestWindowFit(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 9))
	var w window
	w.start(100, 5, 2)
	w.ridge = 0
	const n = 400
	for i := range n {
		at := 100 + float64(i)*0.05
		w.add(at, 7-0.05*math.Exp(-(at-100)/2)+0.01*rng.NormFloat64())
	}
	value, creep, gain := w.fit()
	if math.Abs(value-7) > 0.003 || math.Abs(creep+0.05) > 0.01 {
		t.Errorf("value %g, creep %g, want 7 and -0.05", value, creep)
	}
	if gain < 1.0/n || gain > 3.0/n {
		t.Errorf("gain %g of %d readings", gain, n)
	}
	if v, dof := w.scatter(1, 0); math.Abs(math.Sqrt(v)-0.01) > 0.001 || dof != n-2 {
		t.Errorf("scatter %g with %g degrees of freedom", math.Sqrt(v), dof)
	}
}

// Blocks are joined and never run out.
func TestSlowNeverEnds(t *testing.T) {
	var s slow
	for i := range 200000 {
		s.add(float64(i)/10, float64(i)/1000, 0.5)
	}
	if s.n < fewestSlow || s.n > slowSize {
		t.Fatalf("%d blocks", s.n)
	}
	c := s.compare(0, 0.001)
	if c.best != straight || math.Abs(c.line/c.span-0.01) > 1e-4 {
		t.Errorf("shape %d, slope %g, want a straight line of 0.01", c.best, c.line/c.span)
	}
}
