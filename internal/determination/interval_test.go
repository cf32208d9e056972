package determination

import (
	"math"
	"testing"
)

// TestIntervalInSpecificVolume checks two 95 % intervals that are symmetric in specific volume
// (k = 1.96) against values computed with numpy: rows J23 and J24, water 998.2067 kg/m³, air
// 1.2 kg/m³, only the two readings uncertain. Tolerance: half of the last printed digit.
func TestIntervalInSpecificVolume(t *testing.T) {
	for _, c := range []struct {
		id                   string
		air, liquid, uA, uL  float64
		rho, low, high, half float64 // g/cm³
	}{
		{"J23", 2.000, 1.871, 0.0005, 0.0021, 15.4587, 14.9694, 15.9810, 0.00006},
		{"J24", 10.0009, 9.4842, 0.0002, 0.0004, 19.2986, 19.2662, 19.3311, 0.00006},
	} {
		celsius, none, rhoL, tiny, rhoA, d, vessel := 20.0, 0.0, 998.2067, 1e-6, 1.2, 1e-7, 60.0
		draft := &Draft{
			Arrangement: "hanging", AirG: []Reading{{Gram: c.air}}, LiquidG: []Reading{{Gram: c.liquid}},
			Liquid:        &Liquid{Kind: "measured", TemperatureC: &celsius, TemperatureUC: &none, DensityKgM3: &rhoL, DensityUKgM3: &tiny, ExpansionPerK: &none, ExpansionUPerK: &none},
			Air:           &Air{DensityKgM3: &rhoA, DensityUKgM3: &none},
			Balance:       &Balance{ResolutionG: &d, RepeatabilityG: &c.uA, RepeatabilityLiquidG: &c.uL},
			Hanger:        &Hanger{WireDiameterMM: &none, VesselDiameterMM: &vessel, SurfaceUG: &none},
			ExpansionPerK: new(45e-6), ExpansionUPerK: &none,
		}
		a, err := Evaluate(draft, Options{MonteCarlo: WhereNeeded})
		if err != nil {
			t.Errorf("%s: %v", c.id, err)
			continue
		}
		got := a.Density20C
		for _, x := range []struct {
			what      string
			got, want float64
		}{{"density", got.KgM3 / 1000, c.rho}, {"low", got.LowKgM3 / 1000, c.low}, {"high", *got.HighKgM3 / 1000, c.high}} {
			if math.Abs(x.got-x.want) > c.half {
				t.Errorf("%s: %s %.5f g/cm³, want %.4f", c.id, x.what, x.got, x.want)
			}
		}
	}
}
