package fluid

import (
	"math"

	"wreath/quantity"
)

// The names of the formulas that Air chooses from.
const (
	AirFormulaCIPM  = "CIPM-2007"
	AirFormulaOIML  = "OIML R 111-1 (E.3-1)"
	AirFormulaIdeal = "ideal gas"
)

// Relative standard uncertainties of the formulas themselves; those of temperature, pressure
// and humidity come on top.
const (
	// AirCIPM2007U is that of AirCIPM2007 (Picard et al. 2008; the figure from memory).
	AirCIPM2007U = 22e-6
	// AirOIMLU is that of AirOIML (OIML R 111-1 E.3; the figure from memory, and taken as a
	// standard uncertainty).
	AirOIMLU = 2e-4
	// AirIdealGasU is that of AirIdealGas (chosen here, see there).
	AirIdealGasU = 1e-3
)

const (
	// OutdoorCO2 is the mole fraction of carbon dioxide that Air takes: the reference of CIPM-2007.
	OutdoorCO2 = 0.0004

	// The standard uncertainty of taking OutdoorCO2 in a room, where people bring it to 0.001
	// and more (chosen here).
	roomCO2U = 0.0002

	// airHint is what to do where no formula holds.
	airHint = "Enter the density of the air itself, or weigh where the air is nearer to a room's."
)

const (
	molarMassAir   = 28.96546e-3 // kg/mol at x_CO2 = 0.0004, CIPM-2007
	molarMassCO2   = 12.011e-3   // kg/mol gained per unit of x_CO2, CIPM-2007
	molarMassWater = 18.01528e-3 // kg/mol, CIPM-2007
	gasConstant    = 8.314472    // J/(mol K), CIPM-2007
)

// Air returns the density of moist air from its temperature, its pressure at the bench and its
// relative humidity (0 to 1), the relative standard uncertainty of the formula, and the name of
// the formula: CIPM-2007 where it holds, else OIML R 111-1 E.3-1 where it holds, else the ideal
// gas, which covers hot benches and high places. With CIPM-2007 the mole fraction of carbon
// dioxide is taken as OutdoorCO2 and the returned uncertainty includes that of a room.
//
// Where none holds it returns the error of the widest, AirIdealGas.
func Air(t quantity.Temperature, p quantity.Pressure, humidity float64) (rho quantity.Density, relU float64, formula string, err error) {
	if inside(t.Celsius(), 15, 27) && inside(p.HPa(), 600, 1100) && inside(humidity, 0, 1) {
		rho, err = AirCIPM2007(t, p, humidity, OutdoorCO2)
		return rho, math.Hypot(AirCIPM2007U, roomCO2U*molarMassCO2/molarMassAir), AirFormulaCIPM, err
	}
	if inside(t.Celsius(), 10, 30) && inside(p.HPa(), 900, 1100) && inside(humidity, 0, 0.8) {
		rho, err = AirOIML(t, p, humidity)
		return rho, AirOIMLU, AirFormulaOIML, err
	}
	rho, err = AirIdealGas(t, p, humidity)
	if err != nil {
		return 0, 0, "", err
	}
	return rho, AirIdealGasU, AirFormulaIdeal, nil
}

func inside(x, low, high float64) bool { return x >= low && x <= high }

// AirCIPM2007 returns the density of moist air: Picard et al., Metrologia 45 (2008) 149, the
// long form with molar masses and the gas constant. Temperature 15 to 27 °C, pressure 600 to
// 1100 hPa, relative humidity 0 to 1, mole fraction of carbon dioxide 0.0003 to 0.005 (that last
// range is chosen here). The formula's relative standard uncertainty is AirCIPM2007U.
func AirCIPM2007(t quantity.Temperature, p quantity.Pressure, humidity, xCO2 float64) (quantity.Density, error) {
	if err := checkCIPM(t, p, humidity, xCO2); err != nil {
		return 0, err
	}
	xv, z := cipmVapourAndZ(t, p, humidity)
	ma := molarMassAir + molarMassCO2*(xCO2-OutdoorCO2)
	rho := p.Pascal() * ma / (z * gasConstant * t.Kelvin()) * (1 - xv*(1-molarMassWater/ma)) // Picard 2008, eq. (1)
	return quantity.KgPerM3(rho), nil
}

// AirCIPM2007Short is AirCIPM2007 in the short form of the same paper, whose rounded factors
// differ from the long form by about 1 ppm, and by up to 3 ppm in warm and saturated air. Same
// range.
func AirCIPM2007Short(t quantity.Temperature, p quantity.Pressure, humidity, xCO2 float64) (quantity.Density, error) {
	if err := checkCIPM(t, p, humidity, xCO2); err != nil {
		return 0, err
	}
	xv, z := cipmVapourAndZ(t, p, humidity)
	rho := (3.483740 + 1.4446*(xCO2-OutdoorCO2)) * 1e-3 * p.Pascal() / (z * t.Kelvin()) * (1 - 0.3780*xv)
	return quantity.KgPerM3(rho), nil
}

func checkCIPM(t quantity.Temperature, p quantity.Pressure, humidity, xCO2 float64) error {
	const source = "the air formula CIPM-2007"
	if err := checkAir(source, t, 15, 27, p, 600, 1100, humidity, 1); err != nil {
		return err
	}
	return quantity.CheckRange("carbon dioxide in the air", xCO2*1e6, 300, 5000, "µmol/mol", source,
		"Give it as a fraction: 0.0004 outdoors, 0.0006 to 0.001 in a room with people.")
}

func checkAir(source string, t quantity.Temperature, tLow, tHigh float64,
	p quantity.Pressure, pLow, pHigh float64, humidity, humidityHigh float64,
) error {
	if err := quantity.CheckRange("air temperature", t.Celsius(), tLow, tHigh, "°C", source, airHint); err != nil {
		return err
	}
	if err := quantity.CheckRange("air pressure", p.HPa(), pLow, pHigh, "hPa", source,
		"Give the pressure at the bench, not reduced to sea level. "+airHint); err != nil {
		return err
	}
	return quantity.CheckRange("relative humidity of the air", humidity*100, 0, humidityHigh*100, "%", source,
		"Give it as a fraction: 0.5 for 50 %. "+airHint)
}

// cipmVapourAndZ returns the mole fraction of water vapour and the compressibility factor of
// CIPM-2007 (Picard 2008, appendix).
func cipmVapourAndZ(temperature quantity.Temperature, pressure quantity.Pressure, h float64) (xv, z float64) {
	t, T, p := temperature.Celsius(), temperature.Kelvin(), pressure.Pascal()
	const (
		A = 1.2378847e-5 // K⁻²
		B = -1.9121316e-2
		C = 33.93711047
		D = -6.3431645e3 // K
	)
	psv := math.Exp(A*T*T + B*T + C + D/T) // Pa
	f := 1.00062 + 3.14e-8*p + 5.6e-7*t*t
	xv = h * f * psv / p
	const (
		a0 = 1.58123e-6 // K/Pa
		a1 = -2.9331e-8
		a2 = 1.1043e-10
		b0 = 5.707e-6
		b1 = -2.051e-8
		c0 = 1.9898e-4
		c1 = -2.376e-6
		d  = 1.83e-11 // K²/Pa²
		e  = -0.765e-8
	)
	q := p / T
	z = 1 - q*(a0+a1*t+a2*t*t+(b0+b1*t)*xv+(c0+c1*t)*xv*xv) + q*q*(d+e*xv*xv)
	return xv, z
}

// AirOIML returns the density of moist air by the approximation of OIML R 111-1:2004, E.3-1:
// 10 to 30 °C, 900 to 1100 hPa, relative humidity 0 to 0.8, relative uncertainty AirOIMLU.
func AirOIML(t quantity.Temperature, p quantity.Pressure, humidity float64) (quantity.Density, error) {
	if err := checkAir("the air formula of OIML R 111-1", t, 10, 30, p, 900, 1100, humidity, 0.8); err != nil {
		return 0, err
	}
	rho := (0.34848*p.HPa() - 0.009*humidity*100*math.Exp(0.061*t.Celsius())) / t.Kelvin() // E.3-1
	return quantity.KgPerM3(rho), nil
}

// AirIdealGas returns the density of moist air as an ideal gas of dry air and water vapour, for
// the benches the other formulas leave out: 5 to 50 °C, 500 to 1100 hPa, relative humidity 0 to
// 1. Molar masses and gas constant are those of CIPM-2007, the vapour pressure is that of
// IAPWS SR1-86(1992) (Wagner and Pruß, J. Phys. Chem. Ref. Data 22 (1993) 783, eq. (1); from
// memory).
//
// Its relative standard uncertainty AirIdealGasU is chosen here. In that range the
// compressibility factor that is left out lies between 0.999 and 1, and the enhancement of the
// vapour pressure, 0.5 %, is worth 0.0002: half-width 0.0015, divided by √3, rounded up. For
// gold in water it is an error of the density of 1 ppm.
func AirIdealGas(t quantity.Temperature, p quantity.Pressure, humidity float64) (quantity.Density, error) {
	if err := checkAir("the ideal-gas formula for air", t, 5, 50, p, 500, 1100, humidity, 1); err != nil {
		return 0, err
	}
	xv := humidity * saturatedVapour(t.Kelvin()) / p.Pascal()
	rho := p.Pascal() / (gasConstant * t.Kelvin()) * (molarMassAir - xv*(molarMassAir-molarMassWater))
	return quantity.KgPerM3(rho), nil
}

// saturatedVapour returns the vapour pressure of water in Pa at T kelvins, from the triple point
// to the critical point: IAPWS SR1-86(1992), eq. (1).
func saturatedVapour(T float64) float64 {
	const (
		Tc = 647.096  // K
		pc = 22.064e6 // Pa
		a1 = -7.85951783
		a2 = 1.84408259
		a3 = -11.7866497
		a4 = 22.6807411
		a5 = -15.9618719
		a6 = 1.80122502
	)
	x := 1 - T/Tc
	root := math.Sqrt(x)
	x3 := x * x * x
	return pc * math.Exp(Tc/T*(a1*x+a2*x*root+a3*x3+a4*x3*root+a5*x3*x+a6*x3*x3*x*root))
}

// WeatherPressureSpread is how far the weather moves the pressure at one place: a rectangular
// half-width of 30 hPa, 3 % of the density of the air (common practice).
const WeatherPressureSpread = quantity.Pressure(3000)

// PressureAtAltitude returns the mean pressure at a height above the sea in metres, for a bench
// without a barometer; the weather adds ± WeatherPressureSpread. International standard
// atmosphere (ISO 2533; the constants from memory), here from -430 m, the shore of the Dead Sea,
// to 6000 m.
func PressureAtAltitude(h float64) (quantity.Pressure, error) {
	if err := quantity.CheckRange("height above the sea", h, -430, 6000, "m", "the standard atmosphere (ISO 2533)",
		"Give the height in metres, or read a barometer."); err != nil {
		return 0, err
	}
	return quantity.Pressure(normalPressure * math.Pow(1-2.25577e-5*h, 5.2559)), nil
}
