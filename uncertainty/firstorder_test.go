package uncertainty

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// Sensitivities of functions whose derivatives are known, over many sizes of U.
func TestSensitivities(t *testing.T) {
	for _, c := range []struct {
		name  string
		f     func(x float64) float64
		value float64
		want  float64
	}{
		{"1/x", func(x float64) float64 { return 1 / x }, 0.795, -1 / (0.795 * 0.795)},
		{"exp", math.Exp, 2, math.Exp(2)},
		{"sin at 0", math.Sin, 0, 1},
		{"large offset", func(x float64) float64 { return 1e4 + x }, 0, 1},
		{"cube", func(x float64) float64 { return x * x * x }, 1000, 3e6},
	} {
		for _, u := range []float64{0, 1e-9, 1e-6, 1e-3, 0.02} {
			b, err := FirstOrder([]Input{{Value: c.value, U: u}}, func(x []float64) float64 { return c.f(x[0]) }, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			// What matters is the contribution: a millionth of it, or the rounding of y.
			got, want := b.Rows[0].Sensitivity, c.want
			near(t, c.name+" contribution", got*u, want*u, 1e-6*math.Abs(want)*u+1e-12*math.Abs(b.Y))
			rounding := 0.0
			if u > 0 {
				rounding = 2e-16 * math.Abs(b.Y) / (u / 100)
			}
			near(t, c.name+" sensitivity", got, want, 1e-6*math.Abs(want)+rounding)
		}
	}
}

func TestSensitivityAtTheEdgeOfTheModel(t *testing.T) {
	inputs := []Input{{Name: "x", Value: 0, U: 0}, {Name: "y", Value: 1, U: 0.1}}
	b, err := FirstOrder(inputs, func(x []float64) float64 { return math.Sqrt(1-x[1]) + 1/(1+x[0]) }, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "y", b.Y, 1, 0)
	if !finite(b.U) || b.U == 0 {
		t.Errorf("u = %v, want a finite number from one side", b.U)
	}
}

// One linearisation for two outputs (JCGM 102:2011 6.2): volume and density share the loss.
// Expected values by hand: u(V) = u(L)/ρ, u(ρ)² = (ρ/m)² u(m)² + (ρ/L)² u(L)², and
// covariance -(1/ρ_l)(ρ/L) u(L)².
func TestSeveralOutputs(t *testing.T) {
	var l Linear
	if err := l.Linearise(pairInputs, pair, 2); err != nil {
		t.Fatal(err)
	}
	rho := 10 * 0.998 / 0.8
	uV := 0.001 / 0.998
	uRho := math.Hypot(rho/10*0.002, rho/0.8*0.001)
	covariance := -(1 / 0.998) * (rho / 0.8) * 1e-6
	near(t, "volume", l.Y(0), 0.8/0.998, 1e-15)
	near(t, "density", l.Y(1), rho, 1e-14)
	near(t, "u(V)", l.U(0), uV, 1e-6*uV)
	near(t, "u(rho)", l.U(1), uRho, 1e-6*uRho)
	near(t, "covariance", l.Covariance(0, 1), covariance, -1e-6*covariance)
	near(t, "covariance turned", l.Covariance(1, 0), covariance, -1e-6*covariance)
	near(t, "correlation", l.Correlation(0, 1), covariance/(uV*uRho), 1e-6)
	near(t, "sensitivity", l.Sensitivity(1, 0), 0.998/0.8, 1e-8)

	// The mass of the item is volume times density, so its variance follows from both and
	// their covariance, and must come back as that of the input.
	v, r := l.Y(0), l.Y(1)
	back := r*r*l.Covariance(0, 0) + v*v*l.Covariance(1, 1) + 2*r*v*l.Covariance(0, 1)
	near(t, "variance of the mass", back, 0.002*0.002, 1e-10)

	// The memory is used again for another model.
	if err := l.Linearise(pairInputs[:1], func(x, out []float64) { out[0] = 3 * x[0] }, 1); err != nil {
		t.Fatal(err)
	}
	near(t, "u of the next model", l.U(0), 0.006, 1e-10)
}

func TestBudgetWithoutUncertainty(t *testing.T) {
	b, err := FirstOrder([]Input{{Name: "a", Value: 2}, {Name: "b", Value: 3, Dof: 4}}, sum, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if b.Y != 5 || b.U != 0 || b.Expanded != 0 || !math.IsInf(b.Dof, 1) || b.Rows[0].Share != 0 {
		t.Errorf("budget of exact inputs = %+v", b)
	}
}

func TestSharesAddUp(t *testing.T) {
	b, err := FirstOrder(ringInputs(), ringModel, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	total := 0.0
	for _, r := range b.Rows {
		total += r.Share
	}
	near(t, "sum of shares", total, 1, 1e-12)
	near(t, "low and high", b.High()-b.Low(), 2*b.Expanded, 1e-9)
}

func TestUnusableInputsAreNamed(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		in   Input
		says string
	}{
		{Input{Value: nan}, "not a finite number"},
		{Input{Value: inf}, "not a finite number"},
		{Input{U: nan}, "standard uncertainty NaN"},
		{Input{U: inf}, "standard uncertainty +Inf"},
		{Input{U: -0.1, Unit: "°C"}, "-0.1 °C is negative"},
		{Input{U: 1, Dof: -2}, "-2 degrees of freedom"},
		{Input{U: 1, Dof: nan}, "NaN degrees of freedom"},
		{Input{U: 1, Dist: StudentT}, "needs its degrees of freedom"},
		{Input{U: 1, Dist: 99}, "distribution number 99"},
	} {
		c.in.Name = "water temperature"
		inputs := []Input{{Name: "first", Value: 1}, c.in}
		_, first := FirstOrder(inputs, sum, 0.95)
		_, propagated := Propagate(inputs, sum, Options{})
		_, plain := Plain(inputs, sum, Trials{N: 1000})
		_, adaptive := Adaptive(inputs, sum, 1, Trials{})
		for _, err := range []error{first, propagated, plain, adaptive} {
			var bad *InputError
			if !errors.As(err, &bad) {
				t.Errorf("%+v: error %v, want an *InputError", c.in, err)
				continue
			}
			if bad.Input != "water temperature" || !strings.Contains(bad.Error(), c.says) || bad.Hint == "" {
				t.Errorf("%+v: error %q with hint %q, want the input's name, %q and a hint", c.in, bad, bad.Hint, c.says)
			}
		}
	}
	inputs := []Input{{Value: 1}, {Value: 1, U: -1}}
	if _, err := FirstOrder(inputs, sum, 0.95); err == nil || !strings.Contains(err.Error(), "number 2") {
		t.Errorf("error of an input without a name = %v, want its place", err)
	}
}

func TestUnusableProbabilityAndModel(t *testing.T) {
	inputs := []Input{{Name: "x", Value: 1, U: 0.1}}
	for _, p := range []float64{-1, 1, 1.5, math.NaN()} {
		_, first := FirstOrder(inputs, sum, p)
		_, propagated := Propagate(inputs, sum, Options{P: p})
		_, plain := Plain(inputs, sum, Trials{N: 1000, P: p})
		for _, err := range []error{first, propagated, plain} {
			if err == nil || !strings.Contains(err.Error(), "coverage probability") {
				t.Errorf("p = %v: error %v, want one about the coverage probability", p, err)
			}
		}
	}
	none := func([]float64) float64 { return math.NaN() }
	_, first := FirstOrder(inputs, none, 0.95)
	_, propagated := Propagate(inputs, none, Options{})
	_, plain := Plain(inputs, none, Trials{N: 1000})
	for _, err := range []error{first, propagated, plain} {
		if err == nil || !strings.Contains(err.Error(), "no finite value") {
			t.Errorf("error of a model without values = %v", err)
		}
	}
	// Finite at the value, not beside it.
	spike := func(x []float64) float64 {
		if x[0] == 1 {
			return 1
		}
		return math.NaN()
	}
	var bad *InputError
	if _, err := FirstOrder(inputs, spike, 0.95); !errors.As(err, &bad) || bad.Input != "x" {
		t.Errorf("error of a model without neighbours = %v, want one that names x", err)
	}
}

// One allocation for the memory, one for the rows; none when the memory is used again.
func TestFirstOrderAllocations(t *testing.T) {
	inputs := ringInputs()
	if got := testing.AllocsPerRun(20, func() { _, _ = FirstOrder(inputs, ringModel, 0.95) }); got > 4 {
		t.Errorf("FirstOrder allocates %g times, want at most 4", got)
	}
	var l Linear
	model := func(x, out []float64) { out[0] = ringModel(x) }
	if got := testing.AllocsPerRun(20, func() { _ = l.Linearise(inputs, model, 1) }); got != 0 {
		t.Errorf("Linearise allocates %g times when it is used again, want 0", got)
	}
}
