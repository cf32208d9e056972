package uncertainty

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func plain(t *testing.T, inputs []Input, f Model, trials Trials) Sample {
	t.Helper()
	s, err := Plain(inputs, f, trials)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func draws(in Input, n int) []float64 {
	d := newDraw(&in)
	g := rand.NewPCG(11, 3)
	x := make([]float64, n)
	words := make([]uint32, batch)
	for k := 0; k < n; k += batch {
		d.column(x[k:min(k+batch, n)], 1, words, g)
	}
	return x
}

// Draws of each shape follow its distribution function: Kolmogorov's distance of n draws is
// above 1.95/√n with probability 0.001.
func TestDrawsFollowTheirShapes(t *testing.T) {
	const n = 200000
	for _, s := range shapes {
		x := draws(Input{U: 1, Dist: s.shape, Dof: s.nu}, n)
		slices.Sort(x)
		worst := 0.0
		for k, v := range x {
			p, _ := s.shape.cdf(v, s.nu)
			worst = max(worst, math.Abs(p-(float64(k)+0.5)/n))
		}
		if worst > 1.95/math.Sqrt(n) {
			t.Errorf("%v: distance from its distribution function %.5f, want below %.5f", s.shape, worst, 1.95/math.Sqrt(n))
		}
	}
}

// Far out, where Kolmogorov's distance does not see: numbers of draws beyond z within four
// standard deviations of the binomial.
func TestNormalDrawsFarOut(t *testing.T) {
	const n = 4_000_000
	x := draws(Input{U: 1}, n)
	for _, z := range []float64{2, 3, 3.6, 3.7, 4, 4.5} {
		beyond := 0
		for _, v := range x {
			if math.Abs(v) > z {
				beyond++
			}
		}
		want := 2 * NormalCDF(-z) * n
		near(t, "draws beyond", float64(beyond), want, 4*math.Sqrt(want)+1)
	}
}

func TestPlainDoesNotDependOnWorkers(t *testing.T) {
	for _, n := range []int{400, 10000, 123456} {
		one := plain(t, ringInputs(), ringModel, Trials{N: n, Seed: 3, Workers: 1})
		for _, workers := range []int{2, 7} {
			many := plain(t, ringInputs(), ringModel, Trials{N: n, Seed: 3, Workers: workers})
			if !equalSamples(one, many) {
				t.Errorf("%d trials: %d workers give %+v, one gives %+v", n, workers, many, one)
			}
		}
		other := plain(t, ringInputs(), ringModel, Trials{N: n, Seed: 4, Workers: 1})
		if other.Y == one.Y {
			t.Errorf("%d trials: another seed gives the same mean %v", n, other.Y)
		}
	}
}

func equalSamples(a, b Sample) bool {
	return a.Y == b.Y && a.U == b.U && a.Low == b.Low && a.High == b.High &&
		a.ShortestLow == b.ShortestLow && a.ShortestHigh == b.ShortestHigh && a.Points == b.Points
}

// The intervals against a full sort with the definitions of JCGM 101:2008 7.7.
func TestIntervalsAgainstFullSort(t *testing.T) {
	skewed := func(x []float64) float64 { return math.Exp(x[0]) }
	for _, n := range []int{400, 401, 9999, 70000} {
		for _, p := range []float64{0.5, 0.9, 0.95} {
			inputs := []Input{{U: 1}}
			trials := Trials{N: n, P: p, Seed: 9}
			s := plain(t, inputs, skewed, trials)
			w, err := newTrials(inputs, skewed, &trials, blockSize)
			if err != nil {
				t.Fatal(err)
			}
			y, _ := w.values(n, 0)
			slices.Sort(y)
			q := int(p*float64(n) + 0.5)
			r := (n - q + 1) / 2
			near(t, "low", s.Low, y[r-1], 0)
			near(t, "high", s.High, y[r-1+q], 0)
			best := 0
			for i := range n - q {
				if y[i+q]-y[i] < y[best+q]-y[best] {
					best = i
				}
			}
			near(t, "shortest low", s.ShortestLow, y[best], 0)
			near(t, "shortest high", s.ShortestHigh, y[best+q], 0)
		}
	}
}

// Values that stand apart in a heap, all equal, or with outliers.
func TestBucketSortOfAwkwardValues(t *testing.T) {
	for name, value := range map[string]func(i int) float64{
		"equal":    func(int) float64 { return 5 },
		"outliers": func(i int) float64 { return math.Pow(10, float64(i%600)-300) },
		"infinite": func(i int) float64 { return math.Inf(i%3 - 1) },
		"two":      func(i int) float64 { return float64(i % 2) },
		"falling":  func(i int) float64 { return float64(-i) },
	} {
		y := make([]float64, 20000)
		for i := range y {
			y[i] = value(i)
		}
		got := bucketSort(slices.Clone(y))
		slices.Sort(y)
		if !slices.Equal(got, y) {
			t.Errorf("%s values are not in order", name)
		}
	}
}

// Models with equal values, where the first block cannot tell where the tails begin.
func TestPlainOfModelsWithSteps(t *testing.T) {
	inputs := []Input{{U: 1}}
	constant := plain(t, inputs, func([]float64) float64 { return 3 }, Trials{N: 50000})
	if constant.Y != 3 || constant.U != 0 || constant.Low != 3 || constant.High != 3 || constant.Points != 50000 {
		t.Errorf("a constant model gives %+v", constant)
	}
	steps := plain(t, inputs, func(x []float64) float64 { return math.Round(x[0]) }, Trials{N: 50000})
	if steps.Low != -2 || steps.High != 2 {
		t.Errorf("whole numbers: %v to %v, want -2 to 2", steps.Low, steps.High)
	}
}

// A sum of normal inputs: standard errors 1/√M for the mean, 1/√(2M) for the standard
// deviation, four of them.
func TestPlainOfASum(t *testing.T) {
	s := plain(t, []Input{{Value: 1, U: 0.6}, {Value: 2, U: 0.8}}, sum, Trials{N: 400000, Seed: 2})
	near(t, "Y", s.Y, 3, 4/math.Sqrt(400000))
	near(t, "U", s.U, 1, 4/math.Sqrt(800000))
	near(t, "low", s.Low, 3-1.959964, 4*endError(1, 400000))
	near(t, "high", s.High, 3+1.959964, 4*endError(1, 400000))
}

func TestTooFewTrials(t *testing.T) {
	if _, err := Plain([]Input{{U: 1}}, sum, Trials{N: 399}); err == nil {
		t.Error("399 trials for a 95 % interval: no error")
	}
}

// JCGM 101:2008 7.9.4: it stops only when all four have settled, and the answer is then
// right to the tolerance.
func TestAdaptive(t *testing.T) {
	inputs := []Input{{Value: 50, U: 0.6}, {Value: 50, U: 0.8}}
	for _, workers := range []int{1, 3} {
		s, err := Adaptive(inputs, sum, 2, Trials{Seed: 1, Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		// u = 1.0, so the tolerance is 0.05; 2 s of the mean is within it, so 0.1 is 4 s.
		near(t, "Y", s.Y, 100, 0.1)
		near(t, "U", s.U, 1, 0.1)
		near(t, "low", s.Low, 98.04, 0.1)
		near(t, "high", s.High, 101.96, 0.1)
		if s.Points < 2*blockSize || s.Points%blockSize != 0 {
			t.Errorf("%d trials, want whole blocks, two at least", s.Points)
		}
		one, err := Adaptive(inputs, sum, 2, Trials{Seed: 1, Workers: 1})
		if err != nil {
			t.Fatal(err)
		}
		if !equalSamples(s, one) {
			t.Errorf("%d workers give %+v, one gives %+v", workers, s, one)
		}
	}
}

func TestAdaptiveThatDoesNotSettle(t *testing.T) {
	s, err := Adaptive(ringInputs(), ringModel, 2, Trials{N: 20000, Seed: 1})
	if !errors.Is(err, ErrUnstable) {
		t.Errorf("error = %v, want ErrUnstable", err)
	}
	if s.Points < 20000 || !finite(s.Y) || !finite(s.Low) {
		t.Errorf("result %+v, want what 20000 trials gave", s)
	}
}
