package main

import (
	"fmt"
	"math"

	"wreath/fluid"
	"wreath/quantity"
	"wreath/uncertainty"
)

type airCmd struct {
	TemperatureC     decimal `required:"" placeholder:"N" help:"Temperature of the air, °C."`
	PressureHpa      decimal `placeholder:"N" help:"Pressure at the bench, not reduced to sea level, hPa."`
	AltitudeM        decimal `placeholder:"N" help:"Instead of the pressure: height above the sea, m."`
	HumidityPercent  decimal `placeholder:"N" help:"Relative humidity, 0 to 100; 50 ± 30 unless said."`
	TemperatureUC    decimal `name:"temperature-u-c" placeholder:"N" help:"Standard uncertainty of the temperature, K; 0.5 unless said."`
	PressureUHpa     decimal `name:"pressure-u-hpa" placeholder:"N" help:"Standard uncertainty of the pressure, hPa; 1 unless said."`
	HumidityUPercent decimal `name:"humidity-u-percent" placeholder:"N" help:"Standard uncertainty of the humidity, in per cent of humidity; 5 unless said."`
	Format           string  `enum:"text,json" default:"text" help:"text for people, json for programs."`
}

func (airCmd) Help() string {
	return `Examples:

  wreath air --temperature-c 21.4 --pressure-hpa 1002.5 --humidity-percent 45
  wreath air --temperature-c 24 --altitude-m 1650
  wreath air --temperature-c 20 --pressure-hpa 1013.25 --humidity-percent 50 --format json

CIPM-2007 where it holds, else OIML R 111-1, else the ideal gas; the answer names it.`
}

// Run answers with the density of moist air.
func (c *airCmd) Run(s *streams) error {
	m, err := c.density()
	if err != nil {
		return err
	}
	return m.write(s, c.Format)
}

// airFormulas are the formulas that fluid.Air chooses from.
var airFormulas = []struct {
	name, source, valid string
	fromC, toC          float64
	density             func(quantity.Temperature, quantity.Pressure, float64) (quantity.Density, error)
}{
	{
		fluid.AirFormulaCIPM, "A. Picard, R. S. Davis, M. Gläser, K. Fujii, Metrologia 45 (2008) 149", "15 to 27 °C, 600 to 1100 hPa", 15, 27,
		func(t quantity.Temperature, p quantity.Pressure, h float64) (quantity.Density, error) {
			return fluid.AirCIPM2007(t, p, h, fluid.OutdoorCO2)
		},
	},
	{fluid.AirFormulaOIML, "OIML R 111-1:2004, E.3", "10 to 30 °C, 900 to 1100 hPa, humidity to 80 %", 10, 30, fluid.AirOIML},
	{fluid.AirFormulaIdeal, "ideal gas of dry air and vapour, vapour pressure by IAPWS SR1-86(1992)", "5 to 50 °C, 500 to 1100 hPa", 5, 50, fluid.AirIdealGas},
}

func (c *airCmd) density() (*medium, error) {
	m := &medium{Name: "Moist air", TemperatureC: c.TemperatureC.value}
	t := quantity.Temperature(c.TemperatureC.value)
	p, uP, err := c.pressure(m)
	if err != nil {
		return nil, err
	}
	if err := firstError(
		within("humidity-percent", c.HumidityPercent, 0, 100, "%", "Give the relative humidity in per cent: 45 for 45 %."),
		positive("temperature-u-c", c.TemperatureUC), positive("pressure-u-hpa", c.PressureUHpa), positive("humidity-u-percent", c.HumidityUPercent),
		within("temperature-u-c", c.TemperatureUC, 0, 20, "K", "Check the value and its unit."),
		within("pressure-u-hpa", c.PressureUHpa, 0, 100, "hPa", "Check the value and its unit."),
		within("humidity-u-percent", c.HumidityUPercent, 0, 50, "%", "Check the value and its unit."),
	); err != nil {
		return nil, err
	}
	humidity, uHumidity, shape := c.HumidityPercent.or(50)/100, c.HumidityUPercent.or(5)/100, uncertainty.Normal
	if !c.HumidityPercent.given() {
		uHumidity, shape = 0.3/math.Sqrt(3), uncertainty.Rectangular
		m.assume("relative humidity 50 %% ± 30 %%, an ordinary room (--humidity-percent)")
	} else if !c.HumidityUPercent.given() {
		m.assume("humidity known to 5 %% (--humidity-u-percent)")
	}
	if !c.TemperatureUC.given() {
		m.assume("temperature known to 0.5 K (--temperature-u-c)")
	}
	_, relU, name, err := fluid.Air(t, p, humidity)
	if err != nil {
		return nil, fromFormula(err)
	}
	for _, f := range airFormulas {
		if f.name != name {
			continue
		}
		m.Formula, m.Source, m.Valid, m.ValidFromC, m.ValidToC = f.name, f.source, f.valid, f.fromC, f.toC
		return m, m.find([]uncertainty.Input{
			{Name: "temperature", Unit: "°C", Value: c.TemperatureC.value, U: c.TemperatureUC.or(0.5)},
			{Name: "pressure", Unit: "hPa", Value: p.HPa(), U: uP},
			{Name: "humidity", Value: humidity, U: uHumidity, Dist: shape},
			{Name: "the formula", Value: 1, U: relU},
		}, func(x []float64) float64 {
			return x[3] * kgPerM3(f.density(quantity.Temperature(x[0]), quantity.HPa(x[1]), x[2]))
		})
	}
	return nil, fmt.Errorf("no formula is called %q", name)
}

// pressure returns the pressure given, or that of the altitude, with its standard uncertainty.
func (c *airCmd) pressure(m *medium) (p quantity.Pressure, u float64, err error) {
	switch {
	case c.PressureHpa.given() && c.AltitudeM.given():
		return 0, 0, wrong("Give the one that was measured; a barometer is better than the height.", "--altitude-m is given together with --pressure-hpa")
	case c.PressureHpa.given():
		if !c.PressureUHpa.given() {
			m.assume("pressure known to 1 hPa (--pressure-u-hpa)")
		}
		return quantity.HPa(c.PressureHpa.value), c.PressureUHpa.or(1), nil
	case !c.AltitudeM.given():
		return 0, 0, wrong("Give --pressure-hpa from a barometer at the bench, or --altitude-m.", "the pressure is missing")
	}
	if p, err = fluid.PressureAtAltitude(c.AltitudeM.value); err != nil {
		return 0, 0, fromFormula(err)
	}
	m.assume("%.1f hPa ± %.0f hPa: standard atmosphere at that height, weather (--pressure-hpa)", p.HPa(), fluid.WeatherPressureSpread.HPa())
	return p, fluid.WeatherPressureSpread.HPa() / math.Sqrt(3), nil
}
