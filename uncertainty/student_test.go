package uncertainty

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// near fails the test unless got is within tolerance of want.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.10g, want %.10g ± %.2g", what, got, want, tolerance)
	}
}

// Reference values: computed with gonum v0.17.0, distuv.StudentsT. Its own logarithm of the
// gamma function loses digits above some thousands of degrees of freedom, so these rows end
// there.
func TestStudentAgainstGonum(t *testing.T) {
	for _, nu := range []float64{0.5, 1, 1.5, 2, 2.5, 3, 3.7, 4, 5, 6.2, 7, 9, 10.5, 12.5, 15, 16.74, 19.3, 25, 30, 31, 40.7, 60, 88.41, 150.2, 1000.5} {
		reference := distuv.StudentsT{Sigma: 1, Nu: nu}
		for x := -60.0; x < 0; x += 0.037 {
			p := reference.CDF(x)
			if p < 1e-15 {
				continue
			}
			near(t, "CDF below", StudentCDF(x, nu), p, 1e-8*p)
			near(t, "CDF above", StudentCDF(-x, nu), 1-p, 1e-8*(1-p))
			near(t, "quantile", StudentQuantile(p, nu), x, 1e-8*-x)
			if t.Failed() {
				t.Fatalf("at nu = %g, t = %g", nu, x)
			}
		}
	}
}

// Above ten thousand degrees of freedom the first term of the expansion in 1/nu is exact
// enough: Abramowitz and Stegun 26.7.5, t ≈ z + (z³+z)/(4 nu).
func TestStudentWithManyDegreesOfFreedom(t *testing.T) {
	for _, nu := range []float64{1e5, 1e7, 1e9, 1e11, math.Inf(1)} {
		for _, p := range []float64{0.001, 0.025, 0.3, 0.6, 0.95} {
			z := NormalQuantile(p)
			want := z + (z*z*z+z)/(4*nu)
			near(t, "quantile", StudentQuantile(p, nu), want, 2e-9*math.Abs(want))
			near(t, "CDF", StudentCDF(want, nu), p, 1e-8*p)
		}
	}
}

// Published: JCGM 100:2008 Table G.2, t for a coverage of 95 % and 95.45 %; 95.45 % computed
// with scipy and equal to the table.
func TestStudentTableG2(t *testing.T) {
	for _, row := range []struct{ p, nu, want float64 }{
		{0.95, 1, 12.71}, {0.95, 2, 4.30}, {0.95, 3, 3.18}, {0.95, 4, 2.78}, {0.95, 5, 2.57},
		{0.95, 10, 2.23}, {0.95, 20, 2.09}, {0.95, 50, 2.01}, {0.95, math.Inf(1), 1.960},
		{0.9545, 4, 2.87}, {0.9545, 10, 2.28}, {0.9545, math.Inf(1), 2.000},
	} {
		near(t, "t", StudentQuantile((1+row.p)/2, row.nu), row.want, 0.005)
	}
}

func TestStudentOutsideItsRange(t *testing.T) {
	for _, got := range []float64{
		StudentQuantile(-0.1, 3), StudentQuantile(1.1, 3), StudentQuantile(0.9, 0), StudentQuantile(0.9, -1),
		StudentQuantile(0.9, math.NaN()), StudentQuantile(math.NaN(), 3),
		StudentCDF(1, 0), StudentCDF(1, -2), StudentCDF(1, math.NaN()), StudentCDF(math.NaN(), 3),
	} {
		if !math.IsNaN(got) {
			t.Errorf("got %v, want NaN", got)
		}
	}
	for _, nu := range []float64{0.7, 1, 2, 3.5, 40, math.Inf(1)} {
		near(t, "median", StudentQuantile(0.5, nu), 0, 0)
		if low, high := StudentQuantile(0, nu), StudentQuantile(1, nu); !math.IsInf(low, -1) || !math.IsInf(high, 1) {
			t.Errorf("nu %g: ends %v, %v, want -Inf, +Inf", nu, low, high)
		}
		if low, high := StudentCDF(math.Inf(-1), nu), StudentCDF(math.Inf(1), nu); low != 0 || high != 1 {
			t.Errorf("nu %g: CDF(∓Inf) = %v, %v, want 0, 1", nu, low, high)
		}
	}
}

// Reference values: computed with gonum v0.17.0, distuv.Normal.
func TestNormalAgainstGonum(t *testing.T) {
	reference := distuv.UnitNormal
	for z := -9.0; z <= 9; z += 0.0137 {
		p, density := normalBoth(z)
		near(t, "CDF", NormalCDF(z), reference.CDF(z), 1e-13*reference.CDF(z))
		near(t, "CDF by the rational form", p, reference.CDF(z), 5e-16)
		near(t, "density", density, reference.Prob(z), 1e-14*reference.Prob(z))
	}
	for _, p := range []float64{1e-300, 1e-20, 1e-9, 1e-4, 0.0099, 0.01, 0.0101, 0.025, 0.3, 0.5, 0.7, 0.975, 0.9999} {
		near(t, "CDF of the quantile", NormalCDF(NormalQuantile(p)), p, 2e-13*p)
	}
	// Published: JCGM 100:2008 Table G.1.
	near(t, "quantile", NormalQuantile(0.975), 1.960, 0.0005)
	near(t, "quantile", NormalQuantile(0.995), 2.576, 0.0005)
	if !math.IsInf(NormalQuantile(0), -1) || !math.IsInf(NormalQuantile(1), 1) || !math.IsNaN(NormalQuantile(-1)) || !math.IsNaN(NormalQuantile(2)) {
		t.Error("ends of the normal quantile are wrong")
	}
}
