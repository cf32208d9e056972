package alloy

import (
	"math"
	"strings"
	"testing"

	"wreath/quantity"
)

const avogadro = 6.02214076e23 // 1/mol, CODATA 2018

// cubicCell returns the lattice constant in angstrom of a cell of four atoms.
func cubicCell(molarMass float64, density quantity.Density) float64 {
	return 1e8 * math.Cbrt(4*molarMass/(avogadro*density.GramPerCm3()))
}

func TestExcessVolume(t *testing.T) {
	for _, row := range fields(t, "excess.txt", 8) {
		first, second, _ := strings.Cut(row[0], "-")
		a, _ := MetalBySymbol(first)
		b, _ := MetalBySymbol(second)
		x := number(t, row[1])
		m, err := Mix(Parts{{first, (1 - x) * a.AtomicMass}, {second, x * b.AtomicMass}}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		molarMass := (1-x)*a.AtomicMass + x*b.AtomicMass
		name := row[0] + " at " + row[1]
		near(t, name+", mass fraction", m.Parts[1].Fraction, number(t, row[2]), 0.000051)
		near(t, name+", excess in percent", 100*float64(m.Ideal/m.Density-1), number(t, row[3]), 0.0051)
		near(t, name+", density", m.Density.GramPerCm3(), number(t, row[4]), 0.00051)
		near(t, name+", lattice constant", cubicCell(molarMass, m.Density), number(t, row[5]), 0.000051)
		near(t, name+", lattice constants added", (1-x)*cubicCell(a.AtomicMass, a.Density)+x*cubicCell(b.AtomicMass, b.Density), number(t, row[6]), 0.000051)
		near(t, name+", excess per mole", m.ExcessVolume, molarMass*(1/m.Density.GramPerCm3()-1/m.Ideal.GramPerCm3()), 1e-9)
	}
}

// The fineness that ideal mixing finds is a line in specific volume, so it is solved here by hand.
func TestErrorOfIdealMixing(t *testing.T) {
	ideal := func(v, silver, gold, ag, cu float64) float64 {
		rest := silver/ag + (1-silver)/cu
		return 1000 * (rest - v) / (rest - 1/gold)
	}
	for _, row := range fields(t, "ideal-error.txt", 7) {
		fineness, silver := number(t, row[0]), number(t, row[1])
		p := Parts{{"Au", fineness}, {"Ag", silver * (1000 - fineness)}, {"Cu", (1 - silver) * (1000 - fineness)}}
		m, err := Mix(p, Options{State: stateNamed(t, row[2])})
		if err != nil {
			t.Fatal(err)
		}
		name := row[0] + " with " + row[1] + " silver, " + row[2]
		v := 1 / m.Density.GramPerCm3()
		near(t, name+", error", ideal(v, silver, 19.290, 10.504, 8.936)-fineness, number(t, row[4]), 0.06)
		if row[3] != "-" {
			near(t, name+", density", m.Density.GramPerCm3(), number(t, row[3]), 0.0006)
		}
		if row[5] != "-" {
			near(t, name+", error with handbook densities", ideal(v, silver, 19.32, 10.49, 8.96)-fineness, number(t, row[5]), 0.06)
		}
	}
}

// Lattice constants that were read, and the densities of the cells.
func TestLatticeDensities(t *testing.T) {
	for _, row := range fields(t, "lattice.txt", 6) {
		mass := 0.0 // of four atoms
		for _, part := range strings.Split(row[1], ",") {
			symbol, n, _ := strings.Cut(part, "=")
			metal, ok := MetalBySymbol(symbol)
			if !ok {
				t.Fatalf("no %s", symbol)
			}
			mass += number(t, n) * metal.AtomicMass
		}
		a := 1e-8 * number(t, row[2])
		near(t, row[0]+" "+row[1]+" ("+row[5]+")", mass/(avogadro*a*a*a), number(t, row[3]), number(t, row[4]))
	}
}
