package determination

import "testing"

// Small items on coarse balances are among them on purpose.
var coverageScenarios = []scenario{
	{name: "hanging", weigh: hanging, mass: 3, rho: 15.44, d: 0.001, sAir: 1, sLiq: 2, n: 1},
	{name: "hanging", weigh: hanging, mass: 2, rho: 15.44, d: 0.01, sAir: 0.5, sLiq: 1, n: 1},
	{name: "hanging", weigh: hanging, mass: 7, rho: 15.44, d: 0.0001, sAir: 1, sLiq: 3, n: 1},
	{name: "hanging in ethanol", weigh: hanging, mass: 3, rho: 13.3, d: 0.0001, sAir: 1, sLiq: 3, n: 1, ethanol: 0.93},
	{name: "hanging, bar", weigh: hanging, mass: 12400, rho: 19.24, d: 0.1, sAir: 1, sLiq: 1, n: 1},
	{name: "standing", weigh: standing, mass: 3, rho: 15.44, d: 0.001, sAir: 1, sLiq: 2, n: 1},
	{name: "standing", weigh: standing, mass: 20, rho: 10.35, d: 0.01, sAir: 0.5, sLiq: 1, n: 1},
	{name: "sinker-aided", weigh: withSinker, mass: 3, rho: 1.065, d: 0.0001, sAir: 1, sLiq: 3, n: 1},
	{name: "coated", weigh: coated, mass: 12.5, rho: 14.7, d: 0.0001, sAir: 1, sLiq: 3, n: 1},
	{name: "impregnated", weigh: impregnated, mass: 24.4, rho: 7.03, d: 0.001, sAir: 1, sLiq: 2, n: 1},
	{name: "pycnometer", weigh: pycnometer, mass: 8, rho: 16.5, d: 0.0001, sAir: 1, sLiq: 5, n: 1},
	{name: "comparison", weigh: comparison, mass: 7, rho: 15.44, d: 0.0001, sAir: 1, sLiq: 3, n: 1},
}

// TestCoverageOfOnePair holds the 95 % interval of one weighing each with a known repeatability
// to 95 ± 1 %. The scatter is at least half a scale interval, so that rounding hides nothing.
func TestCoverageOfOnePair(t *testing.T) {
	for _, s := range coverageScenarios {
		share, _ := coverageOf(t, s, 10_000)
		t.Logf("%s: %.2f %%", s, 100*share)
		if share < 0.94 || share > 0.96 {
			t.Errorf("%s: the interval holds the truth in %.2f %% of 10000, want 95 ± 1 %%", s, 100*share)
		}
	}
}

// TestCoverageNeverFallsShort holds it to at least 94 % with repeats, with a scatter that rounding
// hides, and with a repeatability that is guessed from the scale interval.
func TestCoverageNeverFallsShort(t *testing.T) {
	for _, s := range coverageScenarios {
		for _, n := range []int{2, 3, 5} {
			s.n = n
			s.unknown = false
			check(t, s)
			s.unknown = true
			check(t, s)
		}
	}
	for _, quiet := range []float64{0.05, 0.2} {
		s := coverageScenarios[0]
		s.sAir, s.sLiq = quiet, quiet
		for _, n := range []int{1, 2, 5} {
			s.n = n
			check(t, s)
		}
	}
	for _, s := range coverageScenarios {
		s.unknown = true
		check(t, s)
	}
}

func check(t *testing.T, s scenario) {
	t.Helper()
	share, _ := coverageOf(t, s, 10_000)
	t.Logf("%s: %.2f %%", s, 100*share)
	if share < 0.94 {
		t.Errorf("%s: the interval holds the truth in %.2f %% of 10000, want at least 94 %%", s, 100*share)
	}
}
