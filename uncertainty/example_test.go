package uncertainty_test

import (
	"fmt"
	"math"

	"wreath/uncertainty"
)

// The example of JCGM 100:2008 G.4.1: a product of three quantities with relative standard
// uncertainties of 0.25 %, 0.57 % and 0.82 % from 10, 5 and 15 readings.
func ExampleFirstOrder_jcgm100G4() {
	inputs := []uncertainty.Input{
		{Name: "x1", Value: 1, U: 0.0025, Dof: 9},
		{Name: "x2", Value: 1, U: 0.0057, Dof: 4},
		{Name: "x3", Value: 1, U: 0.0082, Dof: 14},
	}
	b, err := uncertainty.FirstOrder(inputs, func(x []float64) float64 { return x[0] * x[1] * x[2] }, 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("u_c = %.2f %%, nu_eff = %.1f, k = %.2f\n", 100*b.U, b.Dof, b.K)
	for _, row := range b.Rows {
		fmt.Printf("%s %4.1f %%\n", row.Name, 100*row.Share)
	}
	// Output:
	// u_c = 1.03 %, nu_eff = 19.0, k = 2.09
	// x1  5.9 %
	// x2 30.7 %
	// x3 63.4 %
}

// The example of JCGM 101:2008 9.2.3: four rectangular quantities added. First order takes
// the sum for normal; the propagated interval is a little narrower.
func ExamplePropagate_jcgm101Clause923() {
	flat := uncertainty.Input{U: 1, Dist: uncertainty.Rectangular}
	inputs := []uncertainty.Input{flat, flat, flat, flat}
	model := func(x []float64) float64 { return x[0] + x[1] + x[2] + x[3] }

	b, err := uncertainty.FirstOrder(inputs, model, 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := uncertainty.Propagate(inputs, model, uncertainty.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("first order %.2f to %.2f\n", b.Low(), b.High())
	fmt.Printf("propagated  %.2f to %.2f\n", r.Low, r.High)
	fmt.Println("validated to two digits:", uncertainty.Validate(b, r, 2).OK)
	// Output:
	// first order -3.92 to 3.92
	// propagated  -3.88 to 3.88
	// validated to two digits: true
}

// The example of JCGM 101:2008 9.3: the calibration of a weight, where first order fails
// because the densities act only together with the air.
func ExamplePlain_jcgm101Clause93() {
	inputs := []uncertainty.Input{
		{Name: "reference mass", Unit: "mg", Value: 100000, U: 0.050},
		{Name: "balancing mass", Unit: "mg", Value: 1.234, U: 0.020},
		{Name: "air density", Unit: "kg/m³", Value: 1.2, U: 0.1 / math.Sqrt(3), Dist: uncertainty.Rectangular},
		{Name: "weight's density", Unit: "kg/m³", Value: 8000, U: 1000 / math.Sqrt(3), Dist: uncertainty.Rectangular},
		{Name: "reference's density", Unit: "kg/m³", Value: 8000, U: 50 / math.Sqrt(3), Dist: uncertainty.Rectangular},
	}
	model := func(x []float64) float64 {
		return (x[0]+x[1])*(1+(x[2]-1.2)*(1/x[3]-1/x[4])) - 100000
	}
	b, err := uncertainty.FirstOrder(inputs, model, 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	s, err := uncertainty.Plain(inputs, model, uncertainty.Trials{Seed: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("first order u = %.3f mg, trials u = %.3f mg\n", b.U, s.U)
	// Output:
	// first order u = 0.054 mg, trials u = 0.075 mg
}

// Volume and density of one item share the loss of weight in the liquid, so they are
// correlated; one linearisation gives both budgets and the covariance.
func ExampleLinear() {
	inputs := []uncertainty.Input{
		{Name: "mass", Unit: "g", Value: 10, U: 0.002},
		{Name: "loss", Unit: "g", Value: 0.8, U: 0.001},
	}
	var l uncertainty.Linear
	err := l.Linearise(inputs, func(x, out []float64) {
		out[0] = x[1] / 0.998        // cm³
		out[1] = x[0] / x[1] * 0.998 // g/cm³
	}, 2)
	if err != nil {
		fmt.Println(err)
		return
	}
	volume, uVolume := uncertainty.Round(l.Y(0), l.U(0))
	density, uDensity := uncertainty.Round(l.Y(1), l.U(1))
	fmt.Printf("V = %s ± %s cm³, density %s ± %s g/cm³, correlation %.3f\n",
		volume, uVolume, density, uDensity, l.Correlation(0, 1))
	// Output:
	// V = 0.8016 ± 0.0010 cm³, density 12.475 ± 0.016 g/cm³, correlation -0.987
}

func ExampleRound() {
	value, u := uncertainty.Round(15447.3876, 13.645)
	fmt.Println(value, "±", u)
	// Output: 15447 ± 14
}

func ExampleTolerance() {
	// JCGM 101:2008 7.9.2, examples 1 and 2: u = 0.00035 g to two digits and to one.
	fmt.Printf("%g %g\n", uncertainty.Tolerance(0.00035, 2), uncertainty.Tolerance(0.00035, 1))
	// Output: 5e-06 5e-05
}
