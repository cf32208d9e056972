package uncertainty

import (
	"math"
	"strings"
	"testing"
)

func propagate(t *testing.T, inputs []Input, f Model, opt Options) Result {
	t.Helper()
	r, err := Propagate(inputs, f, opt)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Row J29. The ends 15566.7076 and 15600.7748 kg/m³ (±0.002) were computed with numpy on many
// more points; 0.024 kg/m³ is the scatter of the ends of a million random trials.
func TestHangingWeighing(t *testing.T) {
	r := propagate(t, hangingInputs, hanging, Options{})
	low, high := r.Low-15566.7076, r.High-15600.7748
	if rms := math.Sqrt((low*low + high*high) / 2); rms > 0.024 {
		t.Errorf("ends %.4f, %.4f kg/m³: rms error %.4f, want at most 0.024", r.Low, r.High, rms)
	}
	near(t, "low", r.Low, 15566.7076, 0.002)
	near(t, "high", r.High, 15600.7748, 0.002)
	if r.Points != 1024 || !strings.Contains(r.Method, "1024 Sobol points") {
		t.Errorf("points %d, method %q, want 1024 Sobol points", r.Points, r.Method)
	}
}

func TestPropagateAllocations(t *testing.T) {
	got := testing.AllocsPerRun(5, func() { _, _ = Propagate(hangingInputs, hanging, Options{}) })
	if got >= 20 {
		t.Errorf("Propagate allocates %g times, want fewer than 20", got)
	}
}

// A single input through a straight line: the interval is the input's own quantiles.
func TestOneInputOfEachShape(t *testing.T) {
	for _, s := range shapes {
		inputs := []Input{{Name: "x", Value: 3, U: 0.2, Dist: s.shape, Dof: s.nu}}
		r := propagate(t, inputs, func(x []float64) float64 { return 7 - 2*x[0] }, Options{P: 0.9})
		half := 0.4 * s.shape.quantile(0.95, s.nu)
		near(t, s.shape.String()+" low", r.Low, 1-half, 1e-6*half)
		near(t, s.shape.String()+" high", r.High, 1+half, 1e-6*half)
		near(t, s.shape.String()+" Y", r.Y, 1, 1e-12)
		if u := 0.4 * math.Sqrt(s.shape.variance(s.nu)); r.U != u {
			near(t, s.shape.String()+" U", r.U, u, 1e-9)
		}
	}
}

// Curved models of one normal input have exact answers: a monotone function carries the
// quantiles over.
func TestCurvedModelsOfOneInput(t *testing.T) {
	z := 1.959963984540054
	for _, c := range []struct {
		name     string
		value, u float64
		f        func(float64) float64
	}{
		{"1/x with 1 %", 1, 0.01, func(x float64) float64 { return 1 / x }},
		{"1/x with 10 %", 1, 0.1, func(x float64) float64 { return 1 / x }},
		{"1/x with 20 %", 1, 0.2, func(x float64) float64 { return 1 / x }},
		{"exp with 50 %", 0, 0.5, math.Exp},
		{"exp with 100 %", 0, 1, math.Exp},
		{"cube from 0.1", 0.1, 1, func(x float64) float64 { return x * x * x }},
		{"atan", 1, 2, math.Atan},
	} {
		a, b := c.f(c.value-z*c.u), c.f(c.value+z*c.u)
		r := propagate(t, []Input{{Name: "x", Value: c.value, U: c.u}}, func(x []float64) float64 { return c.f(x[0]) }, Options{})
		size := math.Abs(b - a)
		near(t, c.name+" low", r.Low, min(a, b), 1e-5*size)
		near(t, c.name+" high", r.High, max(a, b), 1e-5*size)
	}
}

// The moments of the logarithmic normal distribution are known: mean exp(u²/2), variance
// (exp(u²)-1) exp(u²).
func TestMomentsOfACurvedModel(t *testing.T) {
	u := 0.3
	r := propagate(t, []Input{{Name: "x", U: u}}, func(x []float64) float64 { return math.Exp(x[0]) }, Options{})
	near(t, "Y", r.Y, math.Exp(u*u/2), 1e-6)
	near(t, "U", r.U, math.Sqrt(math.Expm1(u*u)*math.Exp(u*u)), 1e-4)
}

// A product of logarithmic normals is one again, so a curved model of many inputs can be
// checked exactly: exp(Σ a x).
func TestCurvedModelOfSeveralInputs(t *testing.T) {
	inputs := []Input{{U: 0.2}, {U: 0.1}, {U: 0.15}, {U: 0.05}}
	r := propagate(t, inputs, func(x []float64) float64 { return math.Exp(x[0] - 2*x[1] + x[2] - x[3]) }, Options{})
	u := math.Sqrt(0.2*0.2 + 0.2*0.2 + 0.15*0.15 + 0.05*0.05)
	near(t, "low", r.Low, math.Exp(-1.959964*u), 1e-5)
	near(t, "high", r.High, math.Exp(1.959964*u), 1e-5)
}

// 10 % on both sides of a ratio and a flat term: no exact answer, so against random trials.
// Four standard errors of the trials' quantile.
func TestCurvedModelAgainstTrials(t *testing.T) {
	inputs := []Input{{Name: "a", Value: 1, U: 0.1}, {Name: "b", Value: 1, U: 0.1}, {Name: "c", U: 0.1, Dist: Rectangular}}
	f := func(x []float64) float64 { return x[0]/x[1] + x[2] }
	r := propagate(t, inputs, f, Options{})
	s, err := Plain(inputs, f, Trials{N: 1_000_000, Seed: 7})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "Y", r.Y, s.Y, 4*s.U/1000)
	near(t, "U", r.U, s.U, 0.005*s.U)
	near(t, "low", r.Low, s.Low, 4*endError(s.U, s.Points))
	near(t, "high", r.High, s.High, 4*endError(s.U, s.Points))
}

// endError is the standard error of a 2.5 % quantile of n trials of a normal output.
func endError(u float64, n int) float64 {
	density := normalPDF(1.96) / u
	return math.Sqrt(0.025*0.975/float64(n)) / density
}

// The sum of four flat inputs of standard deviation 1: the 2.5 % quantile of Irwin and Hall's
// distribution in closed form, since below 1 its distribution function is s⁴/24. Propagate has
// no smooth input here.
func TestSumOfFlatInputs(t *testing.T) {
	inputs := []Input{{U: 1, Dist: Rectangular}, {U: 1, Dist: Rectangular}, {U: 1, Dist: Rectangular}, {U: 1, Dist: Rectangular}}
	r := propagate(t, inputs, sum, Options{})
	half := (2 - math.Pow(24*0.025, 0.25)) * 2 * math.Sqrt(3)
	near(t, "low", r.Low, -half, 0.005)
	near(t, "high", r.High, half, 0.005)
	near(t, "U", r.U, 2, 1e-9)
}

// The sum of two t with one degree of freedom each (Cauchy) is Cauchy of twice the scale.
func TestHeavyTails(t *testing.T) {
	inputs := []Input{{U: 1, Dist: StudentT, Dof: 1}, {U: 1, Dist: StudentT, Dof: 1}}
	r := propagate(t, inputs, sum, Options{Points: 4096})
	half := 2 * 12.7062 // t for 95 % and 1 degree of freedom, JCGM 100 Table G.2: 12.71
	near(t, "low", r.Low, -half, 0.01*half)
	near(t, "high", r.High, half, 0.01*half)
	if !math.IsInf(r.U, 1) {
		t.Errorf("U = %v, want +Inf: the variance does not exist", r.U)
	}
}

// A t with no limit of degrees of freedom is normal.
func TestStudentInputKnownExactly(t *testing.T) {
	r := propagate(t, []Input{{U: 1, Dist: StudentT, Dof: math.Inf(1)}}, sum, Options{})
	near(t, "high", r.High, 1.959964, 1e-5)
}

// Models that no direction makes monotone are answered from sorted points. x² of a standard
// normal input is chi-squared with one degree of freedom: its quantiles are squares of normal
// ones.
func TestModelThatTurns(t *testing.T) {
	r := propagate(t, []Input{{Name: "x", U: 1}}, func(x []float64) float64 { return x[0] * x[0] }, Options{Limits: []float64{1}})
	low, high := NormalQuantile(0.5125), NormalQuantile(0.9875)
	near(t, "low", r.Low, low*low, 1e-4)
	near(t, "high", r.High, high*high, 0.01)
	near(t, "Y", r.Y, 1, 0.001)
	near(t, "U", r.U, math.Sqrt2, 0.005)
	near(t, "below 1", r.Below[0], 0.682689, 0.0005)
	if !strings.Contains(r.Method, "sorted") || r.Points != sortedPoints {
		t.Errorf("method %q with %d points, want sorted", r.Method, r.Points)
	}
	// |x| around 0.5 turns along x, but the other input will do.
	kink := propagate(t, []Input{{Name: "x", Value: 0.5, U: 1}, {Name: "flat", Value: 1, U: 1, Dist: Rectangular}},
		func(x []float64) float64 { return math.Abs(x[0]) + x[1] }, Options{})
	if !strings.Contains(kink.Method, "flat integrated") {
		t.Errorf("method %q, want the flat input integrated", kink.Method)
	}
}

// Probabilities of limits: for a normal output they are those of JCGM 106:2012 7.3.
func TestLimits(t *testing.T) {
	inputs := []Input{{Value: 10, U: 3}, {Value: 5, U: 4}}
	r := propagate(t, inputs, sum, Options{Limits: []float64{15, 20, 7}})
	near(t, "below 15", r.Below[0], 0.5, 1e-9)
	near(t, "below 20", r.Below[1], 0.8413447, 1e-7)
	near(t, "below 7", r.Below[2], 0.0547993, 1e-7)
}

func TestPropagateWithoutUncertainty(t *testing.T) {
	r := propagate(t, []Input{{Value: 2}, {Value: 3}}, sum, Options{Limits: []float64{4, 5}})
	if r.Y != 5 || r.U != 0 || r.Low != 5 || r.High != 5 {
		t.Errorf("result of exact inputs = %+v, want 5 without uncertainty", r)
	}
	if r.Below[0] != 0 || r.Below[1] != 1 {
		t.Errorf("below 4 and 5: %v, want 0 and 1", r.Below)
	}
}

func TestPropagateManyInputs(t *testing.T) {
	inputs := make([]Input, 26)
	for i := range inputs {
		inputs[i] = Input{U: 1, Dist: Rectangular}
	}
	r := propagate(t, inputs[:25], sum, Options{})
	near(t, "U", r.U, 5, 1e-9)
	// Nearly normal: 25 flat inputs have kurtosis 3 - 1.2/25.
	near(t, "high", r.High, 9.80, 0.1)
	if _, err := Propagate(inputs, sum, Options{}); err == nil || !strings.Contains(err.Error(), "takes 24") {
		t.Errorf("error for 26 inputs = %v, want one that says how many it takes", err)
	}
}

func TestPropagateModelWithHoles(t *testing.T) {
	inputs := []Input{{Name: "t", Value: 39.9, U: 0.1}, {Name: "flat", U: 0.2, Dist: Rectangular}}
	holes := func(x []float64) float64 {
		if x[0]+x[1] > 40 {
			return math.NaN()
		}
		return x[0] + x[1]
	}
	if _, err := Propagate(inputs, holes, Options{}); err == nil || !strings.Contains(err.Error(), "finite") {
		t.Errorf("error = %v, want one about the model's range", err)
	}
	if _, err := Plain(inputs, holes, Trials{N: 10000}); err == nil || !strings.Contains(err.Error(), "finite") {
		t.Errorf("error = %v, want one about the model's range", err)
	}
	if _, err := Adaptive(inputs, holes, 1, Trials{}); err == nil || !strings.Contains(err.Error(), "finite") {
		t.Errorf("error = %v, want one about the model's range", err)
	}
}
