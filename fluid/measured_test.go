package fluid

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"wreath/quantity"
)

// ethanolBySinker is an invented measurement of ethanol of about 96 % vol.
var ethanolBySinker = Measured{
	Density: quantity.KgPerM3(807.4), U: quantity.KgPerM3(0.1), At: 21,
	Expansion: 1.08e-3, ExpansionU: 0.05e-3,
}

func TestMeasuredDensityAt(t *testing.T) {
	rho, u, err := ethanolBySinker.DensityAt(21)
	if err != nil || rho != ethanolBySinker.Density || u != ethanolBySinker.U {
		t.Errorf("at its own temperature: %g, %g, %v", rho, u, err)
	}
	// By hand: 807.4/(1 + 1.08e-3·4) = 803.927; u² = (0.1/1.00432)² + (803.927·4·0.05e-3/1.00432)².
	rho, u, err = ethanolBySinker.DensityAt(25)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "density at 25 °C", rho.KgPerM3(), 803.927, 0.0005)
	near(t, "its uncertainty", u.KgPerM3(), math.Hypot(0.0995699, 0.160094), 1e-5)
}

// The law agrees with the ethanol-water formula over the default span.
func TestMeasuredAgainstEthanolWater(t *testing.T) {
	const p = 0.9384
	rho20 := kgPerM3(t)(EthanolWater(p, 20))
	_, slope, err := EthanolWaterSlopes(p, 20)
	if err != nil {
		t.Fatal(err)
	}
	m := Measured{
		Density: quantity.KgPerM3(rho20), U: EthanolWaterU / 2, At: 20,
		Expansion: quantity.Expansivity(-slope / rho20), ExpansionU: 0.02e-3,
	}
	for celsius := 10.0; celsius <= 30; celsius++ {
		at := quantity.Temperature(celsius)
		rho, u, err := m.DensityAt(at)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "measured law", rho.KgPerM3(), kgPerM3(t)(EthanolWater(p, at)), 2*u.KgPerM3())
	}
}

func TestMeasuredWithoutExpansion(t *testing.T) {
	m := Measured{Density: quantity.KgPerM3(807.4), U: quantity.KgPerM3(0.1), At: 21}
	rho, u, err := m.DensityAt(21.5)
	if err != nil || rho != m.Density {
		t.Fatalf("density %g, %v, want it unchanged", rho, err)
	}
	// The expansion that is left out, ethanol's, is covered.
	if left := 807.4 * 1.09e-3 * 0.5; u.KgPerM3()*2 < left {
		t.Errorf("expanded uncertainty %g kg/m³ does not cover the expansion left out, %g kg/m³", 2*u.KgPerM3(), left)
	}
	_, _, err = m.DensityAt(22.1)
	refuses(t, err, "temperature of the measured liquid")
}

func TestMeasuredLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := ethanolBySinker
		m.At = quantity.Temperature(rapid.Float64Range(-10, 50).Draw(t, "at"))
		m.ExpansionU = quantity.Expansivity(rapid.Float64Range(1e-4, 1e-3).Draw(t, "uBeta"))
		dt := quantity.Temperature(rapid.Float64Range(0.01, 9).Draw(t, "dt"))
		warm, uWarm, err1 := m.DensityAt(m.At + dt)
		warmer, uWarmer, err2 := m.DensityAt(m.At + dt + 0.9)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		if warmer >= warm || warm >= m.Density {
			t.Errorf("a warmer liquid is not lighter: %g, %g, %g", m.Density, warm, warmer)
		}
		if uWarmer <= uWarm {
			t.Errorf("the uncertainty does not grow away from the measurement: %g, %g", uWarm, uWarmer)
		}
	})
}

func TestMeasuredSpan(t *testing.T) {
	for _, at := range []quantity.Temperature{10.9, 31.1} {
		_, _, err := ethanolBySinker.DensityAt(at)
		refuses(t, err, "temperature of the measured liquid")
	}
	stated := ethanolBySinker
	stated.Low, stated.High = 20, 22
	for _, at := range []quantity.Temperature{19.9, 22.1} {
		_, _, err := stated.DensityAt(at)
		refuses(t, err, "temperature of the measured liquid")
	}
	if _, _, err := stated.DensityAt(20); err != nil {
		t.Error(err)
	}
	for _, x := range notNumbers {
		_, _, err := ethanolBySinker.DensityAt(quantity.Temperature(x))
		refuses(t, err, "temperature of the measured liquid")
	}
}

func TestMeasuredCheck(t *testing.T) {
	if err := ethanolBySinker.Check(); err != nil {
		t.Error(err)
	}
	change := func(f func(m *Measured)) error {
		m := ethanolBySinker
		f(&m)
		_, _, err := m.DensityAt(m.At)
		if (err == nil) != (m.Check() == nil) {
			t.Errorf("DensityAt says %v, Check %v", err, m.Check())
		}
		return err
	}
	for _, x := range append(notNumbers, 0, 0.807, 13546) {
		refuses(t, change(func(m *Measured) { m.Density = quantity.KgPerM3(x) }), "measured density of the liquid")
	}
	for _, x := range []float64{math.Inf(1), 41} {
		refuses(t, change(func(m *Measured) { m.U = quantity.KgPerM3(x) }), "standard uncertainty of the liquid's density")
	}
	for _, x := range []float64{math.NaN(), math.Inf(-1), 0, -0.1} {
		if err := change(func(m *Measured) { m.U = quantity.KgPerM3(x) }); err == nil {
			t.Errorf("a density with the uncertainty %g kg/m³ is taken", x)
		}
	}
	for _, x := range append(notNumbers, -21, 294) {
		refuses(t, change(func(m *Measured) { m.At = quantity.Temperature(x) }), "temperature at which the liquid was measured")
	}
	for _, x := range append(notNumbers, 1.08, -0.001) {
		refuses(t, change(func(m *Measured) { m.Expansion = quantity.Expansivity(x) }), "cubic expansion of the liquid")
	}
	for _, x := range append(notNumbers, 0.05, -0.00001) {
		refuses(t, change(func(m *Measured) { m.ExpansionU = quantity.Expansivity(x) }), "standard uncertainty of the liquid's expansion")
	}
	for _, limits := range [][2]float64{{22, 30}, {10, 20}, {30, 10}, {math.NaN(), 30}, {10, math.Inf(1)}} {
		err := change(func(m *Measured) {
			m.Low, m.High = quantity.Temperature(limits[0]), quantity.Temperature(limits[1])
		})
		if err == nil {
			t.Errorf("limits %v around a measurement at 21 °C are taken", limits)
		}
	}
}
