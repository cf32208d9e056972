package main

import (
	"fmt"
	"math"
	"strings"

	"wreath/fluid"
	"wreath/hydrostatic"
	"wreath/quantity"
	"wreath/uncertainty"
)

type liquidCmd struct {
	Water        waterCmd        `cmd:"" help:"Water, from its temperature."`
	EthanolWater ethanolWaterCmd `cmd:"" help:"Ethanol with water, from temperature and strength."`
	Measured     measuredCmd     `cmd:"" help:"A liquid with a certificate, brought to another temperature."`
	Sinker       sinkerCmd       `cmd:"" help:"Any liquid, from a sinker of known volume weighed in it."`
	Solid        solidCmd        `cmd:"" help:"Any liquid, from a solid of known density weighed in it."`
}

func (liquidCmd) Help() string {
	return `Examples:

  wreath liquid water --temperature-c 21.4
  wreath liquid ethanol-water --temperature-c 21.4 --volume-percent 96

Each way has more examples: wreath liquid sinker --help.`
}

// bath is what every way of finding a liquid's density asks for.
type bath struct {
	TemperatureC  decimal `required:"" placeholder:"N" help:"Temperature in the liquid, °C."`
	TemperatureUC decimal `name:"temperature-u-c" placeholder:"N" help:"Its standard uncertainty, K; 0.3 unless said."`
	Format        string  `enum:"text,json" default:"text" help:"text for people, json for programs."`
}

func (b *bath) temperature() quantity.Temperature { return quantity.Temperature(b.TemperatureC.value) }

// start checks the temperature and begins the answer.
func (b *bath) start(name string) (*medium, error) {
	if err := firstError(
		positive("temperature-u-c", b.TemperatureUC),
		within("temperature-u-c", b.TemperatureUC, 0, 20, "K", "Check the value and its unit."),
	); err != nil {
		return nil, err
	}
	m := &medium{Name: name, TemperatureC: b.TemperatureC.value}
	if !b.TemperatureUC.given() {
		m.assume("temperature known to 0.3 K, an ordinary thermometer (--temperature-u-c)")
	}
	return m, nil
}

// input is the temperature as an input of the model.
func (b *bath) input() uncertainty.Input {
	return uncertainty.Input{Name: "temperature", Unit: "°C", Value: b.TemperatureC.value, U: b.TemperatureUC.or(0.3)}
}

type waterCmd struct {
	PressureHpa   decimal `placeholder:"N" help:"Pressure at the bench, hPa; 1013.25 ± 30 unless said."`
	AirSaturation decimal `placeholder:"N" help:"Dissolved air, 0 (freshly boiled) to 1 (stood for days); 0.5 ± 0.5 unless said."`
	PurityUKgM3   decimal `name:"purity-u-kg-m3" placeholder:"N" help:"Standard uncertainty for what is dissolved in it, kg/m³; clean to ± 0.02 unless said."`
	bath
}

func (waterCmd) Help() string {
	return `Examples:

  wreath liquid water --temperature-c 21.4
  wreath liquid water --temperature-c 20 --temperature-u-c 0.02 --pressure-hpa 1013.25 --air-saturation 0
  wreath liquid water --temperature-c 21.4 --format json`
}

// Run answers with the density of water.
func (c *waterCmd) Run(s *streams) error {
	m, err := c.start("Water")
	if err != nil {
		return err
	}
	if err := firstError(
		within("air-saturation", c.AirSaturation, 0, 1, "", "Give it as a share: 0 for freshly boiled water, 1 for water that stood for days."),
		positive("purity-u-kg-m3", c.PurityUKgM3),
		within("purity-u-kg-m3", c.PurityUKgM3, 0, 50, "kg/m³", "Measure the water with a sinker instead: wreath liquid sinker."),
	); err != nil {
		return err
	}
	pressure, uPressure := c.PressureHpa.or(1013.25), 1.0
	if !c.PressureHpa.given() {
		uPressure = fluid.WeatherPressureSpread.HPa() / math.Sqrt(3)
		m.assume("1013.25 hPa ± 30 hPa, sea level (--pressure-hpa)")
	}
	saturation := c.AirSaturation.or(0.5)
	t := c.temperature()
	if _, err := fluid.Water(t, quantity.HPa(pressure), saturation); err != nil {
		return fromFormula(err)
	}
	// A share that was given is taken to be right within a tenth of the whole (chosen here).
	dissolved := 0.1 * math.Abs(fluid.WaterDissolvedAir(t).KgPerM3())
	if !c.AirSaturation.given() {
		dissolved = fluid.WaterSaturationHalfWidth(t).KgPerM3()
		m.assume("half saturated with air, ± half (--air-saturation)")
	}
	purity := c.PurityUKgM3.or(0.02 / math.Sqrt(3))
	if !c.PurityUKgM3.given() {
		m.assume("distilled or demineralised, clean to ± 0.02 kg/m³; tap water can be 0.3 kg/m³ denser (--purity-u-kg-m3)")
	}
	m.Formula, m.Source = fluid.WaterFormula, "M. Tanaka, G. Girard, R. Davis, A. Peuto, N. Bignell, Metrologia 38 (2001) 301, eq. (1)"
	m.Valid, m.ValidFromC, m.ValidToC = "0 to 40 °C, 500 to 1200 hPa", 0, 40
	m.Cautions = fluid.Cautions("water")
	if err := m.find([]uncertainty.Input{
		c.input(),
		{Name: "pressure", Unit: "hPa", Value: pressure, U: uPressure},
		{Name: "dissolved air", Unit: "kg/m³", U: dissolved / math.Sqrt(3), Dist: uncertainty.Rectangular},
		{Name: "purity", Unit: "kg/m³", U: purity, Dist: uncertainty.Rectangular},
		{Name: "the formula", Unit: "kg/m³", U: fluid.WaterExpandedU(t).KgPerM3() / 2},
	}, func(x []float64) float64 {
		return kgPerM3(fluid.Water(quantity.Temperature(x[0]), quantity.HPa(x[1]), saturation)) + x[2] + x[3] + x[4]
	}); err != nil {
		return err
	}
	return m.write(s, c.Format)
}

type ethanolWaterCmd struct {
	MassPercent      decimal `placeholder:"N" help:"Ethanol by mass, %."`
	VolumePercent    decimal `placeholder:"N" help:"Instead: ethanol by volume at 20 °C, %, as labels print it."`
	StrengthUPercent decimal `name:"strength-u-percent" placeholder:"N" help:"Standard uncertainty of the strength, in the per cent it is given in; 0.5 unless said."`
	bath
}

func (ethanolWaterCmd) Help() string {
	return `Examples:

  wreath liquid ethanol-water --temperature-c 21.4 --volume-percent 96
  wreath liquid ethanol-water --temperature-c 20 --mass-percent 40 --strength-u-percent 0.05 --format json

A bottle of spirit takes up water; weigh a sinker in it (wreath liquid sinker) before you trust its label.`
}

// Run answers with the density of a mixture of ethanol and water.
func (c *ethanolWaterCmd) Run(s *streams) error {
	m, err := c.start("Ethanol with water")
	if err != nil {
		return err
	}
	strength, percent, err := c.strength()
	if err != nil {
		return err
	}
	if _, err := fluid.EthanolWater(strength(percent), c.temperature()); err != nil {
		return fromFormula(err)
	}
	if !c.StrengthUPercent.given() {
		m.assume("strength known to 0.5 %% (--strength-u-percent)")
	}
	mass := strength(percent)
	volume, err := fluid.EthanolVolumeFraction20(mass)
	if err != nil {
		return fromFormula(err)
	}
	m.Name = fmt.Sprintf("Ethanol with water, %.2f %% by mass, %.2f %% by volume", 100*mass, 100*volume)
	m.Formula, m.Source = fluid.EthanolWaterFormula, "OIML R 22:1975, International alcoholometric tables"
	m.Valid, m.ValidFromC, m.ValidToC = "-20 to 40 °C, not frozen", -20, 40
	m.Cautions = fluid.Cautions("ethanol-water")
	if err := m.find([]uncertainty.Input{
		c.input(),
		{Name: "strength", Unit: "%", Value: percent, U: c.StrengthUPercent.or(0.5)},
		{Name: "the formula", Unit: "kg/m³", U: fluid.EthanolWaterU.KgPerM3() / 2},
	}, func(x []float64) float64 {
		return kgPerM3(fluid.EthanolWater(strength(x[1]), quantity.Temperature(x[0]))) + x[2]
	}); err != nil {
		return err
	}
	return m.write(s, c.Format)
}

// strength returns the strength given, in per cent, and how to make a mass fraction of it.
func (c *ethanolWaterCmd) strength() (massFraction func(percent float64) float64, percent float64, err error) {
	const hint = "Give the strength in per cent: 96 for 96 %."
	if err := firstError(
		within("mass-percent", c.MassPercent, 0, 100, "%", hint), within("volume-percent", c.VolumePercent, 0, 100, "%", hint),
		positive("strength-u-percent", c.StrengthUPercent), within("strength-u-percent", c.StrengthUPercent, 0, 20, "%", "Measure the liquid with a sinker instead: wreath liquid sinker."),
	); err != nil {
		return nil, 0, err
	}
	switch {
	case c.MassPercent.given() && c.VolumePercent.given():
		return nil, 0, wrong("Give one of the two; labels are by volume.", "--volume-percent is given together with --mass-percent")
	case c.MassPercent.given():
		return func(percent float64) float64 { return percent / 100 }, c.MassPercent.value, nil
	case c.VolumePercent.given():
		return func(percent float64) float64 {
			p, err := fluid.EthanolMassFraction(percent / 100)
			if err != nil {
				return math.NaN()
			}
			return p
		}, c.VolumePercent.value, nil
	}
	return nil, 0, wrong("Give --volume-percent, as labels do, or --mass-percent.", "the strength is missing")
}

type measuredCmd struct {
	DensityKgM3    decimal   `name:"density-kg-m3" required:"" placeholder:"N" help:"Density as measured, kg/m³."`
	UKgM3          decimal   `name:"u-kg-m3" required:"" placeholder:"N" help:"Its standard uncertainty, kg/m³."`
	AtC            decimal   `required:"" placeholder:"N" help:"Temperature it was measured at, °C."`
	ExpansionPerK  decimal   `placeholder:"N" help:"Cubic expansion of the liquid per kelvin; without it the value holds within 1 K."`
	ExpansionUPerK decimal   `name:"expansion-u-per-k" placeholder:"N" help:"Standard uncertainty of the expansion; 5 % of it unless said."`
	Name           liquidKey `placeholder:"KEY" help:"Which liquid it is, for the cautions, as wreath materials liquids lists them."`
	bath
}

// liquidKey is the key of a liquid in the table.
type liquidKey string

// Choices lists the keys, for completion.
func (liquidKey) Choices() []string {
	var keys []string
	for _, l := range fluid.Liquids {
		keys = append(keys, l.Key)
	}
	return keys
}

// caution adds the cautions for the liquid, and its name where it is known.
func (k liquidKey) caution(m *medium) error {
	m.Cautions = fluid.Cautions(string(k))
	if k == "" {
		return nil
	}
	if err := oneOf("--name", string(k), k.Choices()); err != nil {
		return err
	}
	liquid, _ := fluid.LiquidByKey(string(k))
	m.Name += " (" + liquid.Name + ")"
	return nil
}

func (measuredCmd) Help() string {
	return `Examples:

  wreath liquid measured --density-kg-m3 789.3 --u-kg-m3 0.1 --at-c 20 --temperature-c 22.5 --expansion-per-k 0.00109 --name ethanol
  wreath liquid measured --density-kg-m3 998.2 --u-kg-m3 0.02 --at-c 21 --temperature-c 21.5`
}

// Run answers with the density of a measured liquid at another temperature.
func (c *measuredCmd) Run(s *streams) error {
	m, err := c.start("Measured liquid")
	if err != nil {
		return err
	}
	if err := firstError(
		positive("u-kg-m3", c.UKgM3), positive("expansion-u-per-k", c.ExpansionUPerK),
	); err != nil {
		return err
	}
	if c.ExpansionUPerK.given() && !c.ExpansionPerK.given() {
		return wrong("Give --expansion-per-k too.", "--expansion-u-per-k is given without the expansion")
	}
	l := fluid.Measured{
		Density: quantity.KgPerM3(c.DensityKgM3.value), U: quantity.KgPerM3(c.UKgM3.value), At: quantity.Temperature(c.AtC.value),
		Expansion: quantity.Expansivity(c.ExpansionPerK.value), ExpansionU: quantity.Expansivity(c.ExpansionUPerK.or(math.Abs(0.05 * c.ExpansionPerK.value))),
	}
	if !c.ExpansionPerK.given() {
		m.assume("expansion anywhere to ± 0.0015 per K (--expansion-per-k)")
	} else if !c.ExpansionUPerK.given() {
		m.assume("expansion known to 5 %% of itself (--expansion-u-per-k)")
	}
	_, u, err := l.DensityAt(c.temperature())
	if err != nil {
		return fromFormula(err)
	}
	if err := c.Name.caution(m); err != nil {
		return err
	}
	span := fluid.MeasuredSpan
	if l.Expansion == 0 && l.ExpansionU == 0 {
		span = fluid.MeasuredSpanNoExpansion
	}
	m.Formula, m.Source = "ρ₀/(1 + β (t - t₀))", "the measurement, and the expansion given"
	m.ValidFromC, m.ValidToC = c.AtC.value-float64(span), c.AtC.value+float64(span)
	m.Valid = fmt.Sprintf("%g to %g °C", m.ValidFromC, m.ValidToC)
	if err := m.find([]uncertainty.Input{
		c.input(),
		{Name: "measured density and expansion", Unit: "kg/m³", U: u.KgPerM3()},
	}, func(x []float64) float64 {
		rho, _, err := l.DensityAt(quantity.Temperature(x[0]))
		return kgPerM3(rho, err) + x[1]
	}); err != nil {
		return err
	}
	return m.write(s, c.Format)
}

// weighed is a body weighed in air and hanging in the liquid.
type weighed struct {
	AirG            decimal   `required:"" placeholder:"N" help:"Reading of the body in air, g."`
	LiquidG         decimal   `required:"" placeholder:"N" help:"Reading of the body hanging in the liquid, hanger tared, g."`
	ReadingUG       decimal   `name:"reading-u-g" required:"" placeholder:"N" help:"Standard uncertainty of one net reading, g: the repeatability of the balance with the hanger in the liquid."`
	ExpansionPerK   decimal   `placeholder:"N" help:"Cubic expansion of the body per kelvin; austenitic steel, 48e-6, unless said. Borosilicate glass 9.9e-6, silicon 7.7e-6."`
	AirDensityKgM3  decimal   `name:"air-density-kg-m3" placeholder:"N" help:"Density of the air, kg/m³ (wreath air); 1.20 ± 0.05 unless said."`
	AirDensityUKgM3 decimal   `name:"air-density-u-kg-m3" placeholder:"N" help:"Its standard uncertainty, kg/m³; 1 % of it unless said."`
	Name            liquidKey `placeholder:"KEY" help:"Which liquid it is, for the cautions, as wreath materials liquids lists them."`
	bath
}

// prepare checks the weighings and returns the inputs they have in common: readings in air and
// in the liquid, temperature, expansion, density of the air.
func (c *weighed) prepare(m *medium) ([]uncertainty.Input, error) {
	if err := firstError(
		positive("reading-u-g", c.ReadingUG), positive("air-density-u-kg-m3", c.AirDensityUKgM3),
		within("air-density-u-kg-m3", c.AirDensityUKgM3, 0, 0.5, "kg/m³", "Air has about 1.2 kg/m³; wreath air gives it."),
	); err != nil {
		return nil, err
	}
	if err := c.Name.caution(m); err != nil {
		return nil, err
	}
	expansion := c.ExpansionPerK.or(48e-6)
	if !c.ExpansionPerK.given() {
		m.assume("the body is austenitic steel, cubic expansion 48e-6 per K (--expansion-per-k)")
	}
	air, uAir := c.AirDensityKgM3.or(1.2), c.AirDensityUKgM3.or(0.01*c.AirDensityKgM3.value)
	if !c.AirDensityKgM3.given() {
		uAir = 0.05 / math.Sqrt(3)
		m.assume("air 1.20 kg/m³ ± 0.05 kg/m³, a room near sea level (--air-density-kg-m3)")
	} else if !c.AirDensityUKgM3.given() {
		m.assume("density of the air known to 1 %% of itself (--air-density-u-kg-m3)")
	}
	m.assume("balance adjusted in air of 1.2 kg/m³ with weights of conventional mass; expansion known to 10 %% of itself")
	m.Valid, m.ValidFromC, m.ValidToC = "-20 to 60 °C, liquids from 500 to 14000 kg/m³", -20, 60
	return []uncertainty.Input{
		{Name: "reading in air", Unit: "g", Value: c.AirG.value, U: c.ReadingUG.value},
		{Name: "reading in the liquid", Unit: "g", Value: c.LiquidG.value, U: c.ReadingUG.value},
		c.input(),
		{Name: "expansion of the body", Unit: "1/K", Value: expansion, U: math.Abs(0.1 * expansion)},
		{Name: "density of the air", Unit: "kg/m³", Value: air, U: uAir},
	}, nil
}

type sinkerCmd struct {
	VolumeCm3  decimal `name:"volume-cm3" required:"" placeholder:"N" help:"Volume of the sinker at 20 °C, cm³."`
	VolumeUCm3 decimal `name:"volume-u-cm3" placeholder:"N" help:"Its standard uncertainty, cm³; 0.02 % of it unless said."`
	weighed
}

func (sinkerCmd) Help() string {
	return `Examples:

  wreath liquid sinker --air-g 19.9920 --liquid-g 17.4997 --volume-cm3 2.5 --reading-u-g 0.0002 --temperature-c 21.4
  wreath liquid sinker --air-g 24.4917 --liquid-g 16.6101 --volume-cm3 10 --volume-u-cm3 0.001 --reading-u-g 0.0002 --temperature-c 20 --expansion-per-k 9.9e-6 --air-density-kg-m3 1.1993 --name ethanol --format json`
}

// Run answers with the density of the liquid that the sinker hangs in.
func (c *sinkerCmd) Run(s *streams) error {
	m, err := c.start("Liquid, by a sinker of known volume")
	if err != nil {
		return err
	}
	if err := firstError(positive("volume-u-cm3", c.VolumeUCm3), c.isSmallPart("volume-u-cm3", c.VolumeUCm3, c.VolumeCm3)); err != nil {
		return err
	}
	uVolume := c.VolumeUCm3.or(2e-4 * c.VolumeCm3.value)
	if !c.VolumeUCm3.given() {
		m.assume("volume of the sinker known to 0.02 %% (--volume-u-cm3)")
	}
	inputs, err := c.prepare(m)
	if err != nil {
		return err
	}
	inputs = append(inputs, uncertainty.Input{Name: "volume of the sinker", Unit: "cm³", Value: c.VolumeCm3.value, U: uVolume})
	density := func(x []float64) (quantity.Density, error) {
		return hydrostatic.LiquidBySinker(quantity.Reading(x[0]), quantity.Reading(x[1]), quantity.Volume(x[5]), quantity.Expansivity(x[3]),
			quantity.Temperature(x[2]), quantity.KgPerM3(x[4]), hydrostatic.StandardAdjustment)
	}
	m.Formula, m.Source = "ρ = ρₐ + W (air - liquid)/V", "hydrostatic weighing, OIML D 28:2004 for W; derived from the balance of forces"
	return c.answer(s, m, inputs, density)
}

type solidCmd struct {
	SolidKgM3  decimal `name:"solid-kg-m3" required:"" placeholder:"N" help:"Density of the solid at 20 °C, kg/m³."`
	SolidUKgM3 decimal `name:"solid-u-kg-m3" placeholder:"N" help:"Its standard uncertainty, kg/m³; 0.02 % of it unless said."`
	weighed
}

func (solidCmd) Help() string {
	return `Examples:

  wreath liquid solid --air-g 10.0000 --liquid-g 8.7538 --solid-kg-m3 8000 --reading-u-g 0.0002 --temperature-c 21.4
  wreath liquid solid --air-g 23.2900 --liquid-g 13.3151 --solid-kg-m3 2329.08 --solid-u-kg-m3 0.05 --reading-u-g 0.0005 --temperature-c 20 --expansion-per-k 7.7e-6 --format json`
}

// Run answers with the density of the liquid that the solid hangs in.
func (c *solidCmd) Run(s *streams) error {
	m, err := c.start("Liquid, by a solid of known density")
	if err != nil {
		return err
	}
	if err := firstError(positive("solid-u-kg-m3", c.SolidUKgM3), c.isSmallPart("solid-u-kg-m3", c.SolidUKgM3, c.SolidKgM3)); err != nil {
		return err
	}
	uSolid := c.SolidUKgM3.or(2e-4 * c.SolidKgM3.value)
	if !c.SolidUKgM3.given() {
		m.assume("density of the solid known to 0.02 %% (--solid-u-kg-m3)")
	}
	inputs, err := c.prepare(m)
	if err != nil {
		return err
	}
	inputs = append(inputs, uncertainty.Input{Name: "density of the solid", Unit: "kg/m³", Value: c.SolidKgM3.value, U: uSolid})
	density := func(x []float64) (quantity.Density, error) {
		solid, err := hydrostatic.AtTemperature(quantity.KgPerM3(x[5]), quantity.Expansivity(x[3]), quantity.Temperature(x[2]))
		if err != nil {
			return 0, err
		}
		return hydrostatic.LiquidBySolid(quantity.Reading(x[0]), quantity.Reading(x[1]), solid, quantity.KgPerM3(x[4]))
	}
	m.Formula, m.Source = "ρ = ρₐ + (ρₛ - ρₐ)(air - liquid)/air", "hydrostatic weighing; derived from the balance of forces"
	return c.answer(s, m, inputs, density)
}

// isSmallPart refuses a standard uncertainty of more than a twentieth of its value.
func (c *weighed) isSmallPart(flag string, u, value decimal) error {
	if !u.given() || u.value <= 0.05*value.value {
		return nil
	}
	return wrong("Check the value and its unit; a body known to 5 % only is no use for this.", "--%s %s is more than 5 %% of %s", flag, u.text, value.text)
}

// answer computes the density once with its errors, then with its uncertainty.
func (c *weighed) answer(s *streams, m *medium, inputs []uncertainty.Input, density func(x []float64) (quantity.Density, error)) error {
	values := make([]float64, len(inputs))
	for i, in := range inputs {
		values[i] = in.Value
	}
	if _, err := density(values); err != nil {
		return fromFormula(err)
	}
	if lost := c.AirG.value - c.LiquidG.value; c.ReadingUG.value > 0.05*lost {
		return wrong("Take a larger body, or check the unit of --reading-u-g.", "--reading-u-g %s is more than 5 %% of the lost weight, %s g", c.ReadingUG.text, strings.TrimSpace(fmt.Sprintf("%.4g", lost)))
	}
	if err := m.find(inputs, func(x []float64) float64 { return kgPerM3(density(x)) }); err != nil {
		return err
	}
	return m.write(s, c.Format)
}
