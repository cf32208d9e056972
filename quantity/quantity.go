package quantity

// Mass is a true mass in grams.
type Mass float64

// Reading is a net indication of a balance in grams (conventional mass in air, force when
// the item hangs in a liquid).
type Reading float64

// Volume is a volume in cubic centimetres.
type Volume float64

// Density is a mass density in grams per cubic centimetre.
type Density float64

// SpecificVolume is the reciprocal of a density, in cubic centimetres per gram.
type SpecificVolume float64

// Temperature is a temperature in degrees Celsius on ITS-90.
type Temperature float64

// TemperatureDiff is a difference of temperatures in kelvins.
type TemperatureDiff float64

// Pressure is an absolute pressure in pascals.
type Pressure float64

// Length is a length in millimetres.
type Length float64

// Expansivity is a coefficient of cubic expansion per kelvin.
type Expansivity float64

// Grams returns a mass given in grams.
func Grams(g float64) Mass { return Mass(g) }

// Gram returns the mass in grams.
func (m Mass) Gram() float64 { return float64(m) }

// Gram returns the reading in grams.
func (r Reading) Gram() float64 { return float64(r) }

// Cm3 returns the volume in cubic centimetres.
func (v Volume) Cm3() float64 { return float64(v) }

// KgPerM3 returns a density given in kilograms per cubic metre.
func KgPerM3(x float64) Density { return Density(x / 1000) }

// GramsPerCm3 returns a density given in grams per cubic centimetre.
func GramsPerCm3(x float64) Density { return Density(x) }

// KgPerM3 returns the density in kilograms per cubic metre.
func (d Density) KgPerM3() float64 { return float64(d) * 1000 }

// GramPerCm3 returns the density in grams per cubic centimetre.
func (d Density) GramPerCm3() float64 { return float64(d) }

// SpecificVolume returns the reciprocal of the density.
func (d Density) SpecificVolume() SpecificVolume { return SpecificVolume(1 / float64(d)) }

// Cm3PerGram returns the specific volume in cubic centimetres per gram.
func (v SpecificVolume) Cm3PerGram() float64 { return float64(v) }

// Density returns the reciprocal of the specific volume.
func (v SpecificVolume) Density() Density { return Density(1 / float64(v)) }

// Celsius returns the temperature in degrees Celsius.
func (t Temperature) Celsius() float64 { return float64(t) }

// Kelvin returns the thermodynamic temperature in kelvins.
func (t Temperature) Kelvin() float64 { return float64(t) + 273.15 }

// Sub returns the difference t - u.
func (t Temperature) Sub(u Temperature) TemperatureDiff { return TemperatureDiff(t - u) }

// HPa returns a pressure given in hectopascals.
func HPa(x float64) Pressure { return Pressure(x * 100) }

// Pascal returns the pressure in pascals.
func (p Pressure) Pascal() float64 { return float64(p) }

// HPa returns the pressure in hectopascals.
func (p Pressure) HPa() float64 { return float64(p) / 100 }

// Mm returns the length in millimetres.
func (l Length) Mm() float64 { return float64(l) }
