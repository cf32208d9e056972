package uncertainty

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// linearModel draws the coefficients of Σ a x + b.
func linearModel(t *rapid.T, n int) Model {
	a := rapid.SliceOfN(rapid.Float64Range(-3, 3), n, n).Draw(t, "coefficients")
	b := rapid.Float64Range(-100, 100).Draw(t, "offset")
	return func(x []float64) float64 {
		y := b
		for i := range a {
			y += a[i] * x[i]
		}
		return y
	}
}

func drawInputs(t *rapid.T, n int, shapes ...Distribution) []Input {
	inputs := make([]Input, n)
	for i := range inputs {
		inputs[i] = Input{
			Value: rapid.Float64Range(-10, 10).Draw(t, "value"),
			U:     rapid.Float64Range(0.01, 1).Draw(t, "u"),
			Dist:  rapid.SampledFrom(shapes).Draw(t, "shape"),
		}
		if inputs[i].Dist == StudentT {
			inputs[i].Dof = rapid.Float64Range(3, 30).Draw(t, "dof")
		}
	}
	return inputs
}

// A linear model of normal inputs has a normal output: Propagate is exact.
func TestPropagateLinearModelIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 8).Draw(t, "n")
		inputs := drawInputs(t, n, Normal)
		f := linearModel(t, n)
		b, err := FirstOrder(inputs, f, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if b.U < 1e-6 {
			return
		}
		r, err := Propagate(inputs, f, Options{Points: 64})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range [][2]float64{{r.Y, b.Y}, {r.U, b.U}, {r.Low, b.Low()}, {r.High, b.High()}} {
			if math.Abs(c[0]-c[1]) > 1e-6*b.U+1e-12 {
				t.Errorf("propagated %+v, exact %v, %v, %v to %v", r, b.Y, b.U, b.Low(), b.High())
			}
		}
	})
}

// Other units for inputs and output change the figures by the factor only.
func TestUnitsDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		inputs := drawInputs(t, 4, Normal, StudentT, Rectangular, Triangular, Arcsine)
		for i := range inputs {
			inputs[i].Value += 20 // a model of ratios needs to keep its distance from zero
		}
		f := func(x []float64) float64 { return x[0]*x[1]/x[2] + x[3] }
		factor := math.Pow(10, rapid.Float64Range(-6, 6).Draw(t, "log factor"))
		scaled := make([]Input, len(inputs))
		for i, in := range inputs {
			scaled[i] = in
			scaled[i].Value *= factor
			scaled[i].U *= factor
		}
		a, err := Propagate(inputs, f, Options{Points: 256})
		if err != nil {
			t.Fatal(err)
		}
		b, err := Propagate(scaled, f, Options{Points: 256})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range [][2]float64{{a.Y, b.Y}, {a.U, b.U}, {a.Low, b.Low}, {a.High, b.High}} {
			if math.Abs(c[0]*factor-c[1]) > 1e-5*b.U {
				t.Errorf("scaled by %g: %+v, want %g times %+v", factor, b, factor, a)
			}
		}
		first, err := FirstOrder(inputs, f, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		firstScaled, err := FirstOrder(scaled, f, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(first.U*factor-firstScaled.U) > 1e-7*firstScaled.U || math.Abs(first.K-firstScaled.K) > 1e-6 {
			t.Errorf("first order scaled by %g: u %g, k %g, want %g, %g", factor, firstScaled.U, firstScaled.K, first.U*factor, first.K)
		}
	})
}

// The order of the inputs changes the answer by the error of the points at most.
func TestOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		inputs := drawInputs(t, 5, Normal, StudentT, Rectangular, Triangular)
		order := rapid.Permutation([]int{0, 1, 2, 3, 4}).Draw(t, "order")
		turned := make([]Input, len(inputs))
		for to, from := range order {
			turned[to] = inputs[from]
		}
		a, err := Propagate(inputs, sum, Options{})
		if err != nil {
			t.Fatal(err)
		}
		b, err := Propagate(turned, sum, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(a.Low-b.Low) > 1e-5*a.U || math.Abs(a.High-b.High) > 1e-5*a.U || math.Abs(a.U-b.U) > 1e-6*a.U {
			t.Errorf("order %v: %+v, want %+v", order, b, a)
		}
	})
}

// For a nearly linear model with normal inputs first order and propagation agree: the
// curvature of a ratio with relative uncertainties r moves its ends by about r of U.
func TestFirstOrderAgreesNearlyLinear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		inAir := rapid.Float64Range(1, 100).Draw(t, "air")
		loss := inAir * rapid.Float64Range(0.05, 0.3).Draw(t, "loss")
		inputs := []Input{
			{Name: "air", Value: inAir, U: 2e-5 * inAir},
			{Name: "liquid", Value: inAir - loss, U: 1e-4 * loss},
			{Name: "liquid density", Value: 998, U: 0.02},
		}
		f := func(x []float64) float64 { return x[0] / (x[0] - x[1]) * x[2] }
		b, err := FirstOrder(inputs, f, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		r, err := Propagate(inputs, f, Options{})
		if err != nil {
			t.Fatal(err)
		}
		tolerance := 5 * b.U * b.U / b.Y
		if math.Abs(r.Low-b.Low()) > tolerance || math.Abs(r.High-b.High()) > tolerance {
			t.Errorf("first order %v to %v, propagated %v to %v", b.Low(), b.High(), r.Low, r.High)
		}
	})
}

func TestPlainIsTheSameForAnyWorkers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		inputs := drawInputs(t, 3, Normal, StudentT, Rectangular, Triangular, Arcsine)
		n := rapid.IntRange(400, 50000).Draw(t, "trials")
		seed := rapid.Uint64().Draw(t, "seed")
		one, err := Plain(inputs, sum, Trials{N: n, Seed: seed, Workers: 1})
		if err != nil {
			t.Fatal(err)
		}
		for _, workers := range []int{2, 7} {
			many, err := Plain(inputs, sum, Trials{N: n, Seed: seed, Workers: workers})
			if err != nil {
				t.Fatal(err)
			}
			if !equalSamples(one, many) {
				t.Errorf("%d workers give %+v, one gives %+v", workers, many, one)
			}
		}
	})
}
