package uncertainty

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

var shapes = []struct {
	shape Distribution
	nu    float64
}{{Normal, 0}, {StudentT, 1}, {StudentT, 4}, {StudentT, 7.3}, {Rectangular, 0}, {Triangular, 0}, {Arcsine, 0}}

// The quantile is the inverse of the distribution function, whose slope is the density.
func TestShapesAgreeWithThemselves(t *testing.T) {
	for _, s := range shapes {
		for p := 0.001; p < 1; p += 0.0037 {
			x := s.shape.quantile(p, s.nu)
			got, density := s.shape.cdf(x, s.nu)
			near(t, s.shape.String()+" CDF", got, p, 1e-9)
			const h = 1e-7
			above, _ := s.shape.cdf(x+h, s.nu)
			below, _ := s.shape.cdf(x-h, s.nu)
			near(t, s.shape.String()+" density", density, (above-below)/(2*h), 1e-3*density+1e-3)
		}
	}
}

// Against the distributions of gonum v0.17.0 with the half-widths of Input's documentation.
func TestShapesAgainstGonum(t *testing.T) {
	rectangular := distuv.Uniform{Min: -math.Sqrt(3), Max: math.Sqrt(3)}
	triangular := distuv.NewTriangle(-math.Sqrt(6), math.Sqrt(6), 0, nil)
	for x := -3.0; x <= 3; x += 0.01 {
		got, _ := Rectangular.cdf(x, 0)
		near(t, "rectangular CDF", got, rectangular.CDF(x), 1e-14)
		got, _ = Triangular.cdf(x, 0)
		near(t, "triangular CDF", got, triangular.CDF(x), 1e-14)
	}
}

// Each shape with U = 1 has the variance that variance says, and its Gauss rule the moments
// of the shape, found by summing over its quantiles.
func TestShapeMoments(t *testing.T) {
	const steps = 400000
	for _, s := range shapes {
		if s.shape == StudentT {
			continue // its high moments do not exist
		}
		var m [9]float64
		for k := range steps {
			x := s.shape.quantile((float64(k)+0.5)/steps, 0)
			for power := range m {
				m[power] += math.Pow(x, float64(power)) / steps
			}
		}
		near(t, "variance", s.shape.variance(0), m[2], 1e-4)
		r := s.shape.gauss()
		for power := 0; power <= 8; power += 2 {
			got := 2*r.innerWeight*math.Pow(r.inner, float64(power)) + 2*r.outerWeight*math.Pow(r.outer, float64(power))
			if power == 0 {
				got += r.middleWeight
			}
			// The sum over quantiles cuts the normal's tails.
			near(t, s.shape.String()+" moment", got, m[power], 0.005*m[power])
		}
	}
	// JCGM 101:2008 6.4.9.4: nu/(nu-2).
	near(t, "variance of t", StudentT.variance(4), 2, 0)
	if v := StudentT.variance(2); !math.IsInf(v, 1) {
		t.Errorf("variance of t with 2 degrees of freedom = %v, want +Inf", v)
	}
}
