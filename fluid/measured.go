package fluid

import (
	"fmt"
	"math"

	"wreath/quantity"
)

const (
	// MeasuredSpan is how far from the temperature of the measurement a Measured holds when no
	// limits are stated (chosen here: the expansion of the usual liquids changes by about 1 % of
	// itself in 10 K).
	MeasuredSpan = quantity.TemperatureDiff(10)

	// MeasuredSpanNoExpansion takes its place when the expansion of the liquid is not known
	// (chosen here).
	MeasuredSpanNoExpansion = quantity.TemperatureDiff(1)

	// An expansion that is not known is taken as 0 with this standard uncertainty: a rectangular
	// distribution of half-width 1.5e-3 per kelvin, more than any liquid of the list has.
	unknownExpansionU = 1.5e-3 / 1.7320508075688772
)

// Measured is a liquid whose density was measured, with a sinker or by a certificate.
type Measured struct {
	Density   quantity.Density
	U         quantity.Density     // standard uncertainty of Density
	At        quantity.Temperature // of the liquid when it was measured
	Expansion quantity.Expansivity // cubic, per kelvin
	// ExpansionU is the standard uncertainty of Expansion. If both are 0 the expansion counts as
	// not known.
	ExpansionU quantity.Expansivity
	// Low and High limit the temperatures at which the value may be used. If both are 0 they are
	// At ± MeasuredSpan, or At ± MeasuredSpanNoExpansion if the expansion is not known.
	Low, High quantity.Temperature
}

// Check says what is wrong with the stated values, if anything.
func (m Measured) Check() error {
	const source = "a measured immersion liquid"
	if err := quantity.CheckRange("measured density of the liquid", m.Density.KgPerM3(), 500, 5000, "kg/m³",
		source, "Check the unit: water is near 998 kg/m³, ethanol near 790 kg/m³."); err != nil {
		return err
	}
	if !(m.U > 0) {
		return fmt.Errorf("the measured density of the liquid has no uncertainty (%g kg/m³); "+
			"give its standard uncertainty, for a certificate half of the expanded one", m.U.KgPerM3())
	}
	if err := quantity.CheckRange("standard uncertainty of the liquid's density", m.U.KgPerM3(), 0, 0.05*m.Density.KgPerM3(), "kg/m³",
		source, "Check the unit; a liquid known to 5 % only is no use for weighing in."); err != nil {
		return err
	}
	if err := quantity.CheckRange("temperature at which the liquid was measured", m.At.Celsius(), -20, 60, "°C",
		source, "Measure the liquid near the temperature it is used at."); err != nil {
		return err
	}
	if err := quantity.CheckRange("cubic expansion of the liquid", float64(m.Expansion)*1e6, -100, 3000, "1e-6 per K",
		source, "Give it per kelvin: ethanol 0.00109, water 0.00021."); err != nil {
		return err
	}
	if err := quantity.CheckRange("standard uncertainty of the liquid's expansion", float64(m.ExpansionU)*1e6, 0, 3000, "1e-6 per K",
		source, "Give it per kelvin; 5 % of the expansion is usual for a value from a table."); err != nil {
		return err
	}
	low, high := m.span()
	if !(low <= m.At && m.At <= high) || math.IsInf(float64(low), 0) || math.IsInf(float64(high), 0) {
		return fmt.Errorf("the limits %g to %g °C of the measured liquid do not hold the %g °C at which it was measured; "+
			"mend the limits, or leave both out", m.Low.Celsius(), m.High.Celsius(), m.At.Celsius())
	}
	return nil
}

// DensityAt returns the density of the liquid at t and its standard uncertainty:
// ρ(t) = ρ0/(1 + β (t - t0)). It returns an error where Check does, and outside the limits.
func (m Measured) DensityAt(t quantity.Temperature) (rho, u quantity.Density, err error) {
	if err := m.Check(); err != nil {
		return 0, 0, err
	}
	low, high := m.span()
	if err := quantity.CheckRange("temperature of the measured liquid", t.Celsius(), low.Celsius(), high.Celsius(), "°C",
		"the measured density", "Bring the liquid to the temperature it was measured at, or measure it again."); err != nil {
		return 0, 0, err
	}
	beta, uBeta := float64(m.Expansion), float64(m.ExpansionU)
	if m.noExpansion() {
		uBeta = unknownExpansionU
	}
	dt := float64(t.Sub(m.At))
	factor := 1 / (1 + beta*dt)
	rho = m.Density * quantity.Density(factor)
	fromValue := float64(m.U) * factor
	fromExpansion := float64(rho) * factor * dt * uBeta
	return rho, quantity.Density(math.Hypot(fromValue, fromExpansion)), nil
}

func (m Measured) noExpansion() bool { return m.Expansion == 0 && m.ExpansionU == 0 }

func (m Measured) span() (low, high quantity.Temperature) {
	if m.Low != 0 || m.High != 0 {
		return m.Low, m.High
	}
	span := quantity.Temperature(MeasuredSpan)
	if m.noExpansion() {
		span = quantity.Temperature(MeasuredSpanNoExpansion)
	}
	return m.At - span, m.At + span
}
