package evidence

import "math"

// Range holds the values of a property, lowest and highest; the zero Range is not known.
type Range struct{ Low, High float64 }

// Known says whether there is a range.
func (r Range) Known() bool { return r.High > 0 }

// Around is a range about a value, by a share of it on each side; not known for 0.
func Around(value, share float64) Range {
	if value <= 0 {
		return Range{}
	}
	return Range{value * (1 - share), value * (1 + share)}
}

// beyond is by how much x lies outside the range, 0 inside.
func (r Range) beyond(x float64) float64 { return math.Max(0, math.Max(r.Low-x, x-r.High)) }

// Pull is what a magnet may do to a material: a set, since one name may cover grades that differ.
type Pull uint8

// What a hand magnet does. The zero Pull is not known.
const (
	NoPull Pull = 1 << iota
	WeakPull
	StrongPull
)

// Material is what is known of a candidate. A zero field is not known, and says nothing.
type Material struct {
	SpecificVolume Range // cm³/g at 20 °C
	Magnet         Pull
	Conductivity   Range // MS/m
	Sound          Range // longitudinal, m/s
	Index          Range // refractive index at 589 nm
	Birefringence  Range // High 0 with Index known: singly refracting, unless Aggregate
	Aggregate      bool  // many crystals: birefringence is not read

	// An alloy by its precious metal; Metal is empty for everything else, of which the surface says
	// nothing.
	Metal    string  // "gold"
	Fineness float64 // from 0 to 1
	Rest     []Part  // the most of each other metal that its recipes hold, as a fraction of the rest
}

// Part is a metal and its mass fraction from 0 to 1.
type Part struct {
	Metal    string // "copper"
	Fraction float64
}

// Piece is one finding of one test.
type Piece interface {
	// Kind is the key of the kind of test: "magnet".
	Kind() string
	// Likelihood of the finding were the item of this material, from the error rate to 1; false when
	// the test says nothing of the material.
	Likelihood(m *Material) (likelihood float64, says bool)
}

// fit is the likelihood for a distance in standard uncertainties.
func fit(z, errorRate float64) float64 { return errorRate + (1-errorRate)*math.Exp(-z*z/2) }

// Magnet is what a hand magnet does to the item.
type Magnet struct{ Result Pull }

// Kind is "magnet".
func (Magnet) Kind() string { return "magnet" }

// Likelihood compares with what the material may do.
func (t Magnet) Likelihood(m *Material) (float64, bool) {
	if m.Magnet == 0 {
		return 1, false
	}
	best, most := 0.0, 0.0
	for _, truth := range [...]Pull{NoPull, WeakPull, StrongPull} {
		p := reads(truth, t.Result)
		most = math.Max(most, p)
		if m.Magnet&truth != 0 {
			best = math.Max(best, p)
		}
	}
	return math.Max(best/most, rates()["magnet"].Error), true
}

// reads is how often a hand magnet reads each way; one step off is likelier than two (chosen
// here). Weak attraction is missed often: it takes a strong magnet and a light hand.
func reads(truth, result Pull) float64 {
	e := rates()["magnet"].Error
	switch truth {
	case NoPull:
		return pick(result, 1-2*e, e*1.5, e*0.5)
	case WeakPull:
		return pick(result, 0.4, 0.6-e, e)
	}
	return pick(result, e*0.5, e*1.5, 1-2*e)
}

func pick(result Pull, none, weak, strong float64) float64 {
	switch result {
	case NoPull:
		return none
	case WeakPull:
		return weak
	}
	return strong
}

// Conductivity is a reading of the electrical conductivity.
type Conductivity struct {
	Value float64 // MS/m
	U     float64 // standard uncertainty, MS/m
}

// PerPercentIACS is the conductivity of one percent of the annealed copper standard, in MS/m (IEC
// 60028: 58 MS/m is 100 %).
const PerPercentIACS = 0.58

// Kind is "conductivity".
func (Conductivity) Kind() string { return "conductivity" }

// Likelihood compares with the range of the material.
func (t Conductivity) Likelihood(m *Material) (float64, bool) {
	return within(t.Value, t.U, m.Conductivity, "conductivity")
}

// Sound is the speed of longitudinal sound through the item.
type Sound struct {
	Velocity float64 // m/s
	U        float64 // standard uncertainty, m/s
}

// Echo is the speed of sound from the time between two echoes of the back wall and the thickness.
// Thickness in mm, time in µs, with their standard uncertainties.
func Echo(thickness, uThickness, time, uTime float64) Sound {
	v := 2 * thickness / time * 1000
	return Sound{v, v * math.Hypot(uThickness/thickness, uTime/time)}
}

// Kind is "sound".
func (Sound) Kind() string { return "sound" }

// Likelihood compares with the range of the material.
func (t Sound) Likelihood(m *Material) (float64, bool) {
	return within(t.Velocity, t.U, m.Sound, "sound")
}

func within(value, u float64, r Range, kind string) (float64, bool) {
	if !r.Known() {
		return 1, false
	}
	return fit(r.beyond(value)/u, rates()[kind].Error), true
}

// Size is the outline of the item and its mass. Relief, rounded corners and a rim leave part of
// the outline empty.
type Size struct {
	Volume float64 // of the outline, cm³
	U      float64 // standard uncertainty, cm³
	Least  float64 // least share of the outline that a solid piece of this shape fills
	Mass   float64 // g
}

// Shares of the outline that are filled at least: a disc over its rim, and a block over its faces
// (chosen here; of the coin types with a printed thickness over the rim all but the smallest fill
// 0.67 to 0.86).
const (
	LeastOfDisc  = 0.60
	LeastOfBlock = 0.85
)

// Disc is the outline of a coin or medal: diameter and thickness in mm, and their standard
// uncertainty in mm.
func Disc(diameter, thickness, u, mass float64) Size {
	v := math.Pi / 4 * diameter * diameter * thickness / 1000
	return Size{v, v * math.Hypot(2*u/diameter, u/thickness), LeastOfDisc, mass}
}

// Block is the outline of a bar: three sides in mm, and their standard uncertainty in mm.
func Block(a, b, c, u, mass float64) Size {
	v := a * b * c / 1000
	return Size{v, v * math.Sqrt(square(u/a)+square(u/b)+square(u/c)), LeastOfBlock, mass}
}

func square(x float64) float64 { return x * x }

// Kind is "size".
func (Size) Kind() string { return "size" }

// Allowed is the specific volume that the outline allows a solid piece to have, in cm³/g.
func (t Size) Allowed() Range { return Range{t.Least * t.Volume / t.Mass, t.Volume / t.Mass} }

// Likelihood compares the specific volume of the material with what the outline allows.
func (t Size) Likelihood(m *Material) (float64, bool) {
	if !m.SpecificVolume.Known() {
		return 1, false
	}
	return fit(t.Outside(m.SpecificVolume), rates()["size"].Error), true
}

// Outside is how many standard uncertainties a range of specific volume lies outside what the
// outline allows; 0 where they meet.
func (t Size) Outside(r Range) float64 {
	allowed := t.Allowed()
	return math.Max(0, math.Max(r.Low-allowed.High, allowed.Low-r.High)) / (t.U / t.Mass)
}

// Surface is an analysis of the surface, by X-ray fluorescence or the like.
type Surface struct {
	Parts []Part  // what was read
	U     float64 // standard uncertainty of each mass fraction
}

// Kind is "surface".
func (Surface) Kind() string { return "surface" }

// Likelihood compares what was read with what the recipes of an alloy allow. An excess of the
// precious metal speaks less strongly: skins are enriched, and items are plated.
func (t Surface) Likelihood(m *Material) (float64, bool) {
	if m.Metal == "" {
		return 1, false
	}
	u := math.Hypot(t.U, surfaceModelU)
	z2, finer := 0.0, false
	for _, p := range t.Parts {
		z := 0.0
		if p.Metal == m.Metal {
			z = (p.Fraction - m.Fineness) / u
			finer = z > 0
		} else {
			z = math.Max(0, p.Fraction-m.most(p.Metal)) / u
		}
		z2 += z * z
	}
	return fit(math.Sqrt(z2), skin("surface", finer)), true
}

// surfaceModelU is how far an honest surface differs from the bulk (chosen here).
const surfaceModelU = 0.004

// most is the largest fraction of another metal that the recipes hold.
func (m *Material) most(metal string) float64 {
	for _, p := range m.Rest {
		if p.Metal == metal {
			return p.Fraction * (1 - m.Fineness)
		}
	}
	return 0
}

// skin is the error rate of a test of the skin: larger when it reads finer than the material is.
func skin(kind string, finer bool) float64 {
	r := rates()[kind]
	if finer {
		return r.Finer
	}
	return r.Error
}

// Touchstone is a fineness read from a streak against needles.
type Touchstone struct {
	Metal    string  // "gold"
	Fineness float64 // from 0 to 1
	U        float64 // standard uncertainty
}

// Kind is "touchstone".
func (Touchstone) Kind() string { return "touchstone" }

// Likelihood compares with the fineness of an alloy.
func (t Touchstone) Likelihood(m *Material) (float64, bool) {
	switch {
	case m.Metal == "":
		return 1, false
	case m.Metal != t.Metal:
		return rates()["touchstone"].Error, true
	}
	return fit((t.Fineness-m.Fineness)/t.U, skin("touchstone", t.Fineness > m.Fineness)), true
}

// Refraction is what a refractometer shows of a stone.
type Refraction struct {
	Low, High      float64 // lowest and highest index read
	U              float64 // standard uncertainty of one reading
	Above          float64 // instead: the index is above this, the end of the scale
	Birefringence  float64 // the largest difference seen while turning the stone; negative: not read
	UBirefringence float64
}

// Kind is "refraction".
func (Refraction) Kind() string { return "refraction" }

// Likelihood compares with the indices of a species. Birefringence is compared to 15 % of itself,
// as far as species of one name differ (chosen here).
func (t Refraction) Likelihood(m *Material) (float64, bool) {
	if !m.Index.Known() {
		return 1, false
	}
	z2 := 0.0
	if t.Above > 0 {
		z2 = square(math.Max(0, t.Above-m.Index.High) / t.U)
	} else {
		z2 = square(math.Max(m.Index.beyond(t.Low), m.Index.beyond(t.High)) / t.U)
	}
	if t.Birefringence >= 0 && !m.Aggregate {
		u := math.Hypot(t.UBirefringence, 0.15*m.Birefringence.High)
		z2 += square(m.Birefringence.beyond(t.Birefringence) / u)
	}
	return fit(math.Sqrt(z2), rates()["refraction"].Error), true
}
