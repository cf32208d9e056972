package fluid

import (
	"math"

	"wreath/quantity"
)

const (
	waterSource    = "the water formula (Tanaka 2001)"
	waterLow       = 0.0  // °C
	waterHigh      = 40.0 // °C
	normalPressure = 101325.0
)

// WaterIsotopeHalfWidth is the half-width of a rectangular distribution for water whose
// isotopes differ from ocean water's: tap and distilled water is commonly 0 to 4 ppm lighter
// (from memory; the value is chosen here).
const WaterIsotopeHalfWidth = quantity.Density(0.003e-3)

// WaterAirFree returns the density of air-free water of the isotopes of ocean water (SMOW) at
// 101 325 Pa, 0 to 40 °C: Tanaka et al., Metrologia 38 (2001) 301, eq. (1). The uncertainty of
// the formula is WaterExpandedU.
func WaterAirFree(t quantity.Temperature) (quantity.Density, error) {
	if err := checkWater(t); err != nil {
		return 0, err
	}
	return quantity.KgPerM3(tanaka(t.Celsius())), nil
}

func checkWater(t quantity.Temperature) error {
	return quantity.CheckRange("water temperature", t.Celsius(), waterLow, waterHigh, "°C", waterSource,
		"Bring the water to room temperature, or enter the density of the liquid as measured.")
}

// tanaka gives kg/m³ at t °C.
func tanaka(t float64) float64 {
	const ( // Tanaka 2001, eq. (1)
		a1 = -3.983035 // °C
		a2 = 301.797   // °C
		a3 = 522528.9  // °C²
		a4 = 69.34881  // °C
		a5 = 999.974950
	)
	return a5 * (1 - (t+a1)*(t+a1)*(t+a2)/(a3*(t+a4)))
}

// WaterExpandedU returns the expanded uncertainty (about 95 %) of WaterAirFree, about 0.84 ppm:
// Tanaka 2001; that it is expanded, not standard, is from memory. Outside 0 to 40 °C, where
// WaterAirFree returns an error, it gives the value at the nearer end.
func WaterExpandedU(t quantity.Temperature) quantity.Density {
	x := within(t.Celsius(), waterLow, waterHigh)
	return quantity.KgPerM3(8.394e-4 + x*(-1.28e-6+x*(1.10e-7+x*(-6.09e-9+x*1.16e-10))))
}

// WaterDissolvedAir returns the density of air-saturated minus that of air-free water, a
// negative difference of some 2.5 ppm. Up to 25 °C it is the linear term of Tanaka 2001. From
// 25 to 40 °C, where that paper gives none, it is the difference of the air-saturated and the
// air-free polynomials of F. E. Jones and G. L. Harris, J. Res. NIST 97 (1992) 335, which hold
// from 5 to 40 °C; it is not confirmed by a second source and WaterSaturationHalfWidth counts
// it as uncertainty. Outside 0 to 40 °C it gives the value at the nearer end.
func WaterDissolvedAir(t quantity.Temperature) quantity.Density {
	x := within(t.Celsius(), waterLow, waterHigh)
	if x > 25 {
		return quantity.KgPerM3((999.84847 - 999.85308) + (6.337563e-2-6.32693e-2)*x) // Jones and Harris 1992
	}
	return quantity.KgPerM3(-4.612e-3 + 0.106e-3*x) // Tanaka 2001
}

// WaterSaturationHalfWidth returns the half-width of a rectangular distribution for water of
// unknown air saturation that is taken as half saturated: half of WaterDissolvedAir up to
// 25 °C, and its value at 25 °C above.
func WaterSaturationHalfWidth(t quantity.Temperature) quantity.Density {
	return -WaterDissolvedAir(min(t, 25)) / 2
}

// WaterCompressibility returns the isothermal compressibility of water per pascal: Tanaka 2001.
// Outside 0 to 40 °C it gives the value at the nearer end.
func WaterCompressibility(t quantity.Temperature) float64 {
	x := within(t.Celsius(), waterLow, waterHigh)
	return (50.74 + x*(-0.326+x*0.00416)) * 1e-11
}

// Water returns the density of water at the pressure p around it and with the given share of
// its dissolved air, 0 (freshly boiled or pumped) to 1 (stood in air for days):
// Tanaka 2001, eq. (1) with its terms for dissolved air and pressure.
//
// It holds from 0 to 40 °C and from 500 to 1200 hPa. The pressure range is chosen here: it
// covers benches from below sea level to above 5000 m, and the linear term stays within
// 0.1 ppm in it. Water taken as half saturated is right within WaterSaturationHalfWidth.
func Water(t quantity.Temperature, p quantity.Pressure, airSaturation float64) (quantity.Density, error) {
	if err := checkWater(t); err != nil {
		return 0, err
	}
	if err := quantity.CheckRange("pressure on the water", p.HPa(), 500, 1200, "hPa",
		"the pressure term of "+waterSource,
		"Give the pressure at the bench, not reduced to sea level; 1013.25 hPa is usual near the sea."); err != nil {
		return 0, err
	}
	if err := quantity.CheckRange("air saturation of the water", airSaturation*100, 0, 100, "%",
		"the term for dissolved air", "Give it as a share: 0 for freshly boiled water, 1 for water that stood for days, 0.5 if unknown."); err != nil {
		return 0, err
	}
	rho := tanaka(t.Celsius())
	air := airSaturation * WaterDissolvedAir(t).KgPerM3()
	pressure := rho * WaterCompressibility(t) * (p.Pascal() - normalPressure)
	return quantity.KgPerM3(rho + air + pressure), nil
}

// WaterSurfaceTension returns the surface tension of clean water in mN/m, 0 to 100 °C:
// IAPWS R1-76(2014), whose range begins at the triple point, 0.01 °C, and ends at the critical
// point; the rest is not needed here. A trace of detergent brings it down to 25 to 35 mN/m.
func WaterSurfaceTension(t quantity.Temperature) (float64, error) {
	if err := quantity.CheckRange("water temperature", t.Celsius(), 0, 100, "°C",
		"the surface tension of water (IAPWS R1-76)", "Bring the water to room temperature."); err != nil {
		return 0, err
	}
	tau := 1 - t.Kelvin()/647.096
	return 235.8 * math.Pow(tau, 1.256) * (1 - 0.625*tau), nil // IAPWS R1-76(2014), eq. (1)
}

// within returns x, or the nearer end where it lies outside low to high (low if it is no number).
func within(x, low, high float64) float64 {
	if x > high {
		return high
	}
	if x >= low {
		return x
	}
	return low
}
