package fluid

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"wreath/quantity"
)

const oneAtmosphere = quantity.Pressure(101325)

func TestWaterTable(t *testing.T) {
	for _, r := range printedTable(t, "water.txt") {
		at := r.celsius(t, "t")
		got := kgPerM3(t)(WaterAirFree(at))
		near(t, fmt.Sprintf("WaterAirFree(%s °C)", r["t"]), got, r.number(t, "air_free"), r.half("air_free"))
		if r.printed("air_saturated") {
			got := kgPerM3(t)(Water(at, oneAtmosphere, 1))
			near(t, fmt.Sprintf("Water(%s °C, air-saturated)", r["t"]), got, r.number(t, "air_saturated"), r.half("air_saturated"))
		}
		near(t, fmt.Sprintf("WaterExpandedU(%s °C)", r["t"]), WaterExpandedU(at).KgPerM3(), r.number(t, "U95"), r.half("U95"))
		near(t, fmt.Sprintf("WaterCompressibility(%s °C)", r["t"]), WaterCompressibility(at)*1e11, r.number(t, "kappa"), r.half("kappa"))
		sigma, err := WaterSurfaceTension(at)
		if err != nil {
			t.Error(err)
		}
		near(t, fmt.Sprintf("WaterSurfaceTension(%s °C)", r["t"]), sigma, r.number(t, "sigma"), r.half("sigma"))
	}
}

// kell1975 is the density of air-free water by G. S. Kell, J. Chem. Eng. Data 20 (1975) 97, with
// t on IPTS-68 (read in Jones and Harris 1992).
func kell1975(t90 float64) float64 {
	t := 1.00024 * t90 // IPTS-68 below 100 °C
	return (999.83952 + 16.945176*t - 7.9870401e-3*t*t - 46.170461e-6*t*t*t +
		105.56302e-9*t*t*t*t - 280.54253e-12*t*t*t*t*t) / (1 + 16.879850e-3*t)
}

// kell1975Compressibility is in 1e-11 per Pa (from memory; within 0.01 % of IAPWS-95).
func kell1975Compressibility(t float64) float64 {
	return (50.88496 + 0.6163813*t + 1.459187e-3*t*t + 20.08438e-6*t*t*t -
		58.47727e-9*t*t*t*t + 410.4110e-12*t*t*t*t*t) / (1 + 19.67348e-3*t)
}

func jonesHarris1992(t float64) float64 {
	return 999.85308 + 6.32693e-2*t - 8.523829e-3*t*t + 6.943248e-5*t*t*t - 3.821216e-7*t*t*t*t
}

func TestWaterAgainstOtherFormulas(t *testing.T) {
	for _, r := range printedTable(t, "water-others.txt") {
		at := r.celsius(t, "t")
		ours := kgPerM3(t)(WaterAirFree(at))
		ppm := func(column string, sign float64) float64 {
			d := sign * (ours - r.number(t, column)) / ours * 1e6
			near(t, fmt.Sprintf("difference from %s at %s °C in ppm", column, r["t"]), d, r.number(t, column+"_ppm"), 0.006)
			return d
		}
		// IAPWS-95 and TEOS-10 claim 1 ppm at atmospheric pressure.
		combined := math.Hypot(1, WaterExpandedU(at).KgPerM3()/ours*1e6)
		for _, column := range []string{"iapws95", "teos10"} {
			if d := ppm(column, +1); math.Abs(d) > combined {
				t.Errorf("WaterAirFree(%s °C) - %s = %.3f ppm, more than the combined uncertainty %.3f ppm", r["t"], column, d, combined)
			}
		}
		if d := ppm("kell", -1); math.Abs(d) > 5 {
			t.Errorf("Kell 1975 - WaterAirFree(%s °C) = %.3f ppm, more than 5", r["t"], d)
		}
		if d := ppm("jones", -1); at >= 5 && math.Abs(d) > 5 {
			t.Errorf("Jones and Harris 1992 - WaterAirFree(%s °C) = %.3f ppm, more than 5", r["t"], d)
		}
		ppm("r22", -1)
		near(t, "Kell 1975 as printed", kell1975(at.Celsius()), r.number(t, "kell"), r.half("kell"))
		near(t, "Jones and Harris 1992 as printed", jonesHarris1992(at.Celsius()), r.number(t, "jones"), r.half("jones"))
		near(t, fmt.Sprintf("EthanolWater(0, %s °C)", r["t"]), kgPerM3(t)(EthanolWater(0, at)), r.number(t, "r22"), r.half("r22"))
	}
}

// The independent check of every tenth of a degree: Kell 1975 within 5 ppm.
func TestWaterAgainstKellEverywhere(t *testing.T) {
	for i := 0; i <= 400; i++ {
		celsius := float64(i) / 10
		ours := kgPerM3(t)(WaterAirFree(quantity.Temperature(celsius)))
		if d := (kell1975(celsius) - ours) / ours * 1e6; math.Abs(d) > 5 {
			t.Errorf("Kell 1975 - WaterAirFree(%g °C) = %.2f ppm, want within 5", celsius, d)
		}
	}
}

func TestWaterMaximum(t *testing.T) {
	// Tanaka 2001: a5, at -a1.
	near(t, "WaterAirFree(3.983035 °C)", kgPerM3(t)(WaterAirFree(3.983035)), 999.974950, 1e-9)
}

func TestWaterCompressibility(t *testing.T) {
	// IAPWS-95, computed with python3-iapws 1.5.
	near(t, "compressibility at 20 °C", WaterCompressibility(20)*1e11, 45.888, 0.01)
	for i := 0; i <= 40; i++ {
		at := quantity.Temperature(i)
		near(t, fmt.Sprintf("compressibility at %d °C against Kell", i), WaterCompressibility(at)*1e11, kell1975Compressibility(float64(i)), 0.15)
	}
}

// The effects of pressure, computed with Tanaka's compressibility.
func TestWaterPressure(t *testing.T) {
	free := kgPerM3(t)(WaterAirFree(22))
	near(t, "22 °C at 85 000 Pa, ppm", (kgPerM3(t)(Water(22, 85000, 0))/free-1)*1e6, -7.4, 0.05)
	free = kgPerM3(t)(WaterAirFree(20))
	near(t, "20 °C under 10 cm of water, ppm", (kgPerM3(t)(Water(20, 101325+979, 0))/free-1)*1e6, 0.45, 0.005)
}

// A worked example of a whole weighing: the water of it, computed with numpy 1.24.
func TestWaterWorkedExample(t *testing.T) {
	near(t, "Water(21.84 °C, 100 820 Pa, air-saturated)", kgPerM3(t)(Water(21.84, 100820, 1)), 997.806661, 5e-7)
	near(t, "air of the same example", kgPerM3(t)(AirCIPM2007(22.3, 100820, 0.46, 0.0004)), 1.1836821, 5e-8)
}

func TestWaterSlope(t *testing.T) {
	slope := (kgPerM3(t)(WaterAirFree(20.01)) - kgPerM3(t)(WaterAirFree(19.99))) / 0.02
	near(t, "slope of WaterAirFree at 20 °C", slope, -0.2065, 0.00005) // kg/m³ per K, computed with Python floats
}

// ISO 8655-6: water and air together, as printed for pipette calibration.
func TestWaterAndAirInCalibrationFactor(t *testing.T) {
	for _, r := range printedTable(t, "calibration-factor.txt") {
		at, p := r.celsius(t, "t"), quantity.HPa(r.number(t, "p"))
		air, _, _, err := Air(at, p, 0.5)
		if err != nil {
			t.Fatal(err)
		}
		water := kgPerM3(t)(Water(at, p, 0))
		z := 1000 * (1 - air.KgPerM3()/8000) / (water - air.KgPerM3())
		near(t, fmt.Sprintf("Z at %s °C and %s hPa", r["t"], r["p"]), z, r.number(t, "Z"), r.half("Z"))
	}
}

func TestWaterDissolvedAir(t *testing.T) {
	// Two publications meet at 25 °C, and nothing jumps there.
	below, above := WaterDissolvedAir(25).KgPerM3(), WaterDissolvedAir(25.000001).KgPerM3()
	near(t, "dissolved air just above 25 °C", above, below, 2e-5)
	// Jones and Harris 1992 at 30 °C, computed.
	near(t, "dissolved air at 30 °C", WaterDissolvedAir(30).KgPerM3(), -0.0014, 0.00005)
	near(t, "dissolved air at 20 °C", WaterDissolvedAir(20).KgPerM3(), -0.00249, 0.000005) // Tanaka 2001
	// Half saturated, give or take the half-width, spans air-free and air-saturated.
	for i := 0; i <= 40; i++ {
		at := quantity.Temperature(i)
		d, half := WaterDissolvedAir(at).KgPerM3(), WaterSaturationHalfWidth(at).KgPerM3()
		if d >= 0 || half < -d/2*(1-1e-12) {
			t.Errorf("at %d °C: dissolved air %g and half-width %g kg/m³", i, d, half)
		}
	}
}

func TestWaterLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// Low pressure and dissolved air move the maximum of the density up, to 4.02 °C at most here.
		low := rapid.Float64Range(4.1, 39.99).Draw(t, "t")
		step := rapid.Float64Range(0.001, 40-low).Draw(t, "step")
		p := rapid.Float64Range(50000, 119000).Draw(t, "p")
		saturation := rapid.Float64Range(0, 1).Draw(t, "saturation")
		cool, err1 := Water(quantity.Temperature(low), quantity.Pressure(p), saturation)
		warm, err2 := Water(quantity.Temperature(low+step), quantity.Pressure(p), saturation)
		pressed, err3 := Water(quantity.Temperature(low), quantity.Pressure(p+100), saturation)
		free, err4 := Water(quantity.Temperature(low), quantity.Pressure(p), 0)
		if err1 != nil || err2 != nil || err3 != nil || err4 != nil {
			t.Fatal(err1, err2, err3, err4)
		}
		if warm >= cool {
			t.Errorf("warmer water is not lighter: %.9f at %g °C, %.9f at %g °C", cool, low, warm, low+step)
		}
		if pressed <= cool {
			t.Errorf("pressed water is not denser: %.9f, %.9f", cool, pressed)
		}
		if cool > free {
			t.Errorf("dissolved air does not make water lighter: %.9f air-free, %.9f with air", free, cool)
		}
	})
}

func TestWaterRefuses(t *testing.T) {
	const temperature = "water temperature"
	for _, x := range append(notNumbers, -0.001, 40.001) {
		at := quantity.Temperature(x)
		_, err := WaterAirFree(at)
		refuses(t, err, temperature)
		_, err = Water(at, oneAtmosphere, 0)
		refuses(t, err, temperature)
	}
	for _, x := range append(notNumbers, -0.001, 100.001) {
		_, err := WaterSurfaceTension(quantity.Temperature(x))
		refuses(t, err, temperature)
	}
	for _, x := range append(notNumbers, 1013.25, 49999, 120001) { // 1013.25: hectopascals given as pascals
		_, err := Water(20, quantity.Pressure(x), 0)
		refuses(t, err, "pressure on the water")
	}
	for _, x := range append(notNumbers, -0.001, 1.001) {
		_, err := Water(20, oneAtmosphere, x)
		refuses(t, err, "air saturation of the water")
	}
}

// The parts without an error give the value at the nearer end, always a number.
func TestWaterPartsAtTheEnds(t *testing.T) {
	for _, x := range append(notNumbers, -300, 1e9) {
		at, end := quantity.Temperature(x), quantity.Temperature(0)
		if x > 40 {
			end = 40
		}
		if WaterExpandedU(at) != WaterExpandedU(end) || WaterDissolvedAir(at) != WaterDissolvedAir(end) ||
			WaterCompressibility(at) != WaterCompressibility(end) {
			t.Errorf("at %g °C the parts differ from those at %g °C", x, end)
		}
	}
}

func BenchmarkWater(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Water(21.84, 100820, 0.5); err != nil {
			b.Fatal(err)
		}
	}
}
