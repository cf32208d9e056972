package fluid

import (
	_ "embed"
	"fmt"

	"wreath/quantity"
)

//go:embed data/ethanol-water.csv
var ethanolCSV string

//go:embed data/ethanol-freezing.csv
var freezingCSV string

// term is a polynomial in s = t - 20 °C: the factor of one power of p in the formula of
// OIML R 22. Its coefficients are A (power 0 of s) with B (power 0 of p) or C.
type term struct {
	c      [7]float64
	degree int
}

func (f *term) at(s float64) float64 {
	y := f.c[f.degree]
	for i := f.degree - 1; i >= 0; i-- {
		y = y*s + f.c[i]
	}
	return y
}

func (f *term) slope(s float64) float64 {
	y := 0.0
	for i := f.degree; i >= 1; i-- {
		y = y*s + float64(i)*f.c[i]
	}
	return y
}

// ethanolTerms[j] is the factor of p^j.
var ethanolTerms = loadEthanolTerms(ethanolCSV)

func loadEthanolTerms(csv string) [12]term {
	var terms [12]term
	for _, row := range mustRows("data/ethanol-water.csv", csv) {
		k := row.integer("k")
		switch row.text("set") {
		case "A": // A_k p^(k-1)
			terms[k-1].set(0, row.number("value"))
		case "B": // B_k s^k
			terms[0].set(k, row.number("value"))
		case "C": // C_ik p^k s^i
			terms[k].set(row.integer("i_power_of_t_minus_20"), row.number("value"))
		default:
			panic(fmt.Sprintf("data/ethanol-water.csv: no set %q", row.text("set")))
		}
	}
	return terms
}

func (f *term) set(power int, value float64) {
	f.c[power] = value
	f.degree = max(f.degree, power)
}

// isotherm is the formula at one temperature: the factors of the powers of p.
type isotherm [12]float64

func ethanolAt(celsius float64) isotherm {
	var f isotherm
	for j := range ethanolTerms {
		f[j] = ethanolTerms[j].at(celsius - 20)
	}
	return f
}

func (f *isotherm) at(p float64) float64 {
	y := 0.0
	for j := len(f) - 1; j >= 0; j-- {
		y = y*p + f[j]
	}
	return y
}

// FreezingPoint is where ice begins to form in a mixture of ethanol and water.
type FreezingPoint struct {
	MassFraction float64 // of ethanol
	Celsius      float64
	Source       string
}

// FreezingLine is the list of data/ethanol-freezing.csv, by growing strength. It must not be changed.
var FreezingLine = loadFreezingLine(freezingCSV)

func loadFreezingLine(csv string) []FreezingPoint {
	var line []FreezingPoint
	for _, row := range mustRows("data/ethanol-freezing.csv", csv) {
		line = append(line, FreezingPoint{row.number("mass_percent") / 100, row.number("freezing_C"), row.text("source")})
	}
	return line
}

// EthanolFreezing returns the temperature at which ice begins to form in a mixture of the given
// mass fraction, by straight lines between published points (data/ethanol-freezing.csv: Lange's
// Handbook of Chemistry below 10 %, Å. Melinder's tables above). Handbooks differ by up to 1.5 K
// near 30 %. Beyond the last point, where the mixture is liquid at -20 °C and colder, it
// returns that point's temperature.
func EthanolFreezing(massFraction float64) quantity.Temperature {
	p := within(massFraction, 0, 1)
	before := FreezingLine[0]
	for _, point := range FreezingLine[1:] {
		if p <= point.MassFraction {
			share := (p - before.MassFraction) / (point.MassFraction - before.MassFraction)
			return quantity.Temperature(before.Celsius + share*(point.Celsius-before.Celsius))
		}
		before = point
	}
	return quantity.Temperature(before.Celsius)
}

// weakestLiquid returns the smallest mass fraction that is liquid at the temperature.
func weakestLiquid(celsius float64) float64 {
	before := FreezingLine[0]
	if celsius >= before.Celsius {
		return 0
	}
	for _, point := range FreezingLine[1:] {
		if celsius >= point.Celsius {
			share := (celsius - before.Celsius) / (point.Celsius - before.Celsius)
			return before.MassFraction + share*(point.MassFraction-before.MassFraction)
		}
		before = point
	}
	return before.MassFraction
}
