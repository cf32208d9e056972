package determination

import (
	"math"
	"testing"
)

// TestPlannerTable checks the expanded uncertainty of the density of 750 gold (15.45 g/cm³) in
// water at 20 °C against a table computed for the planner (first-order law, k = 2, from the
// formulas alone, printed to two digits). One weighing each in air and immersed, each with its
// own zero reading; repeatability s; surface and hanger term e; liquid temperature u = 0.5 K.
//
// Tolerance: 2 % of the value, and half of the last printed digit.
func TestPlannerTable(t *testing.T) {
	balances := []struct{ d, s, e float64 }{{0.1, 0.05, 0}, {0.01, 0.005, 0.003}, {0.001, 0.001, 0.0015}, {0.0001, 0.0002, 0.0005}}
	for _, row := range []struct {
		mass float64
		want [4]float64 // g/cm³
		half [4]float64 // half of the last printed digit
	}{
		{1, [4]float64{42, 4.5, 1.01, 0.27}, [4]float64{0.5, 0.05, 0.005, 0.005}},
		{2, [4]float64{21, 2.2, 0.50, 0.14}, [4]float64{0.5, 0.05, 0.005, 0.005}},
		{5, [4]float64{8.5, 0.89, 0.20, 0.055}, [4]float64{0.05, 0.005, 0.005, 0.0005}},
		{10, [4]float64{4.2, 0.45, 0.10, 0.028}, [4]float64{0.05, 0.005, 0.005, 0.0005}},
		{31.1, [4]float64{1.4, 0.14, 0.033, 0.009}, [4]float64{0.05, 0.005, 0.0005, 0.0005}},
	} {
		for i, b := range balances {
			// What an ideal balance would show.
			const rho, liquid, air = 15.45, 0.998206, 0.0012
			volume := row.mass / rho
			inAir, immersed := (row.mass-air*volume)/0.99985, (row.mass-liquid*volume)/0.99985
			temperature, uTemperature, zero, rhoA, uA := 20.0, 0.5, 0.0, 1.2, 0.0
			expansion, uExpansion := 45e-6, 0.0
			d := &Draft{
				Arrangement: "hanging", AirG: []Reading{{Gram: inAir}}, LiquidG: []Reading{{Gram: immersed}},
				Liquid:        &Liquid{Kind: "water", TemperatureC: &temperature, TemperatureUC: &uTemperature, AirSaturation: &zero, DensityUKgM3: &zero},
				Air:           &Air{DensityKgM3: &rhoA, DensityUKgM3: &uA},
				Balance:       &Balance{ResolutionG: &b.d, RepeatabilityG: &b.s, Zero: "read"},
				Hanger:        &Hanger{SurfaceUG: &b.e},
				ExpansionPerK: &expansion, ExpansionUPerK: &uExpansion,
			}
			e := &evaluation{draft: d, answer: &Answer{}}
			if err := e.prepare(); err != nil {
				t.Fatal(err)
			}
			if err := e.measure(Options{MonteCarlo: WhereNeeded}); err != nil {
				t.Fatal(err)
			}
			// First order in the density itself, k = 2, as the table was made.
			got := 2 * e.v20.U / (e.v20.Y * e.v20.Y)
			if math.Abs(got-row.want[i]) > 0.02*row.want[i]+row.half[i] {
				t.Errorf("%g g on d = %g g: U = %.4g g/cm³, want %g", row.mass, b.d, got, row.want[i])
			}
		}
	}
}
