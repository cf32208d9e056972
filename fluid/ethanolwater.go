package fluid

import (
	"fmt"
	"math"

	"wreath/quantity"
)

const (
	ethanolSource = "the ethanol-water formula (OIML R 22:1975)"
	ethanolLow    = -20.0 // °C
	ethanolHigh   = 40.0  // °C
)

// EthanolWaterU is the expanded uncertainty (about 95 %) of EthanolWater. It is chosen here,
// from what is known of the formula: its temperatures are IPTS-68 and are taken as ITS-90,
// which moves it by up to 0.0094 kg/m³ (at 40 °C; 0.0042 at 20 °C), as H. Bettin and
// F. Spieweck's restatement on ITS-90 shows (PTB-Mitteilungen 100 (1990) 457); its water lies up
// to 0.0073 kg/m³ below Tanaka 2001; the tables made from it are rounded to 0.01 kg/m³. These
// add to 0.022, rounded up. An error of the strength matters far more: 0.1 % of mass is
// 0.3 kg/m³.
const EthanolWaterU = quantity.Density(0.03e-3)

// EthanolWater returns the density of a mixture of ethanol and water of the given mass fraction
// of ethanol, 0 to 1, at -20 to 40 °C, at atmospheric pressure: OIML R 22:1975, general formula.
// It returns an error below the freezing line of the mixture (see EthanolFreezing).
func EthanolWater(massFraction float64, t quantity.Temperature) (quantity.Density, error) {
	if err := checkEthanol(massFraction, t); err != nil {
		return 0, err
	}
	p, s := massFraction, t.Celsius()-20
	rho := 0.0
	for j := len(ethanolTerms) - 1; j >= 0; j-- {
		rho = rho*p + ethanolTerms[j].at(s)
	}
	return quantity.KgPerM3(rho), nil
}

// EthanolWaterSlopes returns how the density of a mixture changes with its mass fraction, in
// kg/m³ per unit (per 100 % of mass), and with temperature, in kg/m³ per kelvin: the
// derivatives of the formula of EthanolWater, in the same range.
func EthanolWaterSlopes(massFraction float64, t quantity.Temperature) (dRhoDp, dRhoDt float64, err error) {
	if err := checkEthanol(massFraction, t); err != nil {
		return 0, 0, err
	}
	p, s := massFraction, t.Celsius()-20
	for j := len(ethanolTerms) - 1; j >= 1; j-- {
		dRhoDp = dRhoDp*p + float64(j)*ethanolTerms[j].at(s)
	}
	for j := len(ethanolTerms) - 1; j >= 0; j-- {
		dRhoDt = dRhoDt*p + ethanolTerms[j].slope(s)
	}
	return dRhoDp, dRhoDt, nil
}

// EthanolMassFraction returns the mass fraction of a mixture of the given volume fraction at
// 20 °C, 0 to 1; a label that says 96 % vol is 0.96. OIML R 22:1975: q = p ρ(p)/ρ(1) at 20 °C.
func EthanolMassFraction(volumeFraction20 float64) (float64, error) {
	if err := checkStrength("volume fraction of ethanol", volumeFraction20); err != nil {
		return 0, err
	}
	f := ethanolAt(20)
	pure := f.at(1)
	return rising(0, 1, func(p float64) float64 { return p*f.at(p)/pure - volumeFraction20 }), nil
}

// EthanolVolumeFraction20 returns the volume fraction at 20 °C of a mixture of the given mass
// fraction, 0 to 1: OIML R 22:1975, q = p ρ(p)/ρ(1) at 20 °C.
func EthanolVolumeFraction20(massFraction float64) (float64, error) {
	if err := checkStrength("mass fraction of ethanol", massFraction); err != nil {
		return 0, err
	}
	f := ethanolAt(20)
	return massFraction * f.at(massFraction) / f.at(1), nil
}

// EthanolMassFractionFromDensity returns the mass fraction of the mixture that has the given
// density at t: the inverse of EthanolWater, in its range. A density beyond pure water or pure
// ethanol by no more than EthanolWaterU counts as that end.
func EthanolMassFractionFromDensity(rho quantity.Density, t quantity.Temperature) (float64, error) {
	if err := checkEthanolTemperature(t); err != nil {
		return 0, err
	}
	f := ethanolAt(t.Celsius())
	weakest := weakestLiquid(t.Celsius())
	want, margin := rho.KgPerM3(), EthanolWaterU.KgPerM3()
	low, high := f.at(1)-margin, f.at(weakest)+margin
	if !(want >= low && want <= high) {
		return 0, &quantity.RangeError{
			What: "density of the ethanol-water mixture", Got: want,
			Low: twoPlaces(low), High: twoPlaces(high), Unit: "kg/m³",
			Source: fmt.Sprintf("%s at %.4g °C", ethanolSource, t.Celsius()),
			Hint:   "Check the density and its temperature: a liquid outside this range is not ethanol and water.",
		}
	}
	return rising(weakest, 1, func(p float64) float64 { return want - f.at(p) }), nil
}

func checkEthanol(massFraction float64, t quantity.Temperature) error {
	if err := checkStrength("mass fraction of ethanol", massFraction); err != nil {
		return err
	}
	if err := checkEthanolTemperature(t); err != nil {
		return err
	}
	if t >= 0 {
		return nil
	}
	if freezing := EthanolFreezing(massFraction); t < freezing {
		return &quantity.RangeError{
			What: "temperature of the ethanol-water mixture", Got: t.Celsius(),
			Low: twoPlaces(freezing.Celsius()), High: ethanolHigh, Unit: "°C",
			Source: fmt.Sprintf("%s, for a mixture of %.4g %% mass that is not frozen,", ethanolSource, massFraction*100),
			Hint:   "Let the liquid warm up, or use a stronger mixture.",
		}
	}
	return nil
}

func checkEthanolTemperature(t quantity.Temperature) error {
	return quantity.CheckRange("temperature of the ethanol-water mixture", t.Celsius(), ethanolLow, ethanolHigh, "°C",
		ethanolSource, "Bring the liquid to room temperature, or enter its density as measured.")
}

// checkStrength checks a fraction and speaks of it in per cent.
func checkStrength(what string, fraction float64) error {
	return quantity.CheckRange(what, fraction*100, 0, 100, "%", ethanolSource,
		"Give it as a fraction: 0.96 for 96 %.")
}

func twoPlaces(x float64) float64 { return math.Round(x*100) / 100 }

// rising finds the zero of f, which rises from low to high, by halving to the last digit.
func rising(low, high float64, f func(float64) float64) float64 {
	if f(low) >= 0 {
		return low
	}
	if f(high) <= 0 {
		return high
	}
	for {
		middle := low + (high-low)/2
		if middle == low || middle == high {
			return middle
		}
		if f(middle) < 0 {
			low = middle
		} else {
			high = middle
		}
	}
}
