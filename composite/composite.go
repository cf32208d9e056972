package composite

import (
	"errors"
	"fmt"
	"math"
)

// Estimate is a value with its standard uncertainty.
type Estimate struct{ Value, U float64 }

// Whole is what was weighed.
type Whole struct {
	Mass           float64  // g
	SpecificVolume Estimate // cm³/g
}

// Volume returns the volume of the whole in cm³.
func (w Whole) Volume() float64 { return w.Mass * w.SpecificVolume.Value }

// Errors of parts that can't be.
var (
	ErrNothingLeft = errors.New("the parts that are known weigh as much as the whole, or fill it")
	ErrAlike       = errors.New("the two parts have the same density: density can't part them")
)

// PartsError says that a whole can't be a mixture of two materials: its density lies outside.
type PartsError struct {
	Share Estimate // of the mass that the first part would have
}

func (e *PartsError) Error() string {
	return fmt.Sprintf("the density lies outside of the two: the first part would be %.3g of the mass", e.Share.Value)
}

// Stones are stones of one kind that are known.
type Stones struct {
	Mass    float64  // of all together, g
	Volume  float64  // of all together, cm³
	Size    float64  // relative standard uncertainty of what was measured: the volume, or the mass
	Density Estimate // g/cm³
	Sized   bool     // the volume was measured and the mass follows from it; else the other way
}

// OfVolume are stones whose volume is known, in cm³ with a relative standard uncertainty.
func OfVolume(volume, relU float64, density Estimate) Stones {
	return Stones{Mass: volume * density.Value, Volume: volume, Size: relU, Density: density, Sized: true}
}

// OfMass are stones whose mass is known, in grams with a relative standard uncertainty.
func OfMass(mass, relU float64, density Estimate) Stones {
	return Stones{Mass: mass, Volume: mass / density.Value, Size: relU, Density: density}
}

// MassU and VolumeU are the standard uncertainties of mass and volume.
func (s Stones) MassU() float64 {
	if s.Sized {
		return s.Mass * math.Hypot(s.Size, s.Density.U/s.Density.Value)
	}
	return s.Mass * s.Size
}

func (s Stones) VolumeU() float64 {
	if s.Sized {
		return s.Volume * s.Size
	}
	return s.Volume * math.Hypot(s.Size, s.Density.U/s.Density.Value)
}

// Metal returns the mass of what is left of a whole without its stones, and its specific volume. The
// uncertainties of several kinds of stones add up as independent ones; within a kind every stone is
// wrong in the same way.
func Metal(w Whole, stones ...Stones) (mass, specificVolume Estimate, err error) {
	m, v := w.Mass, w.Volume()
	for _, s := range stones {
		m, v = m-s.Mass, v-s.Volume
	}
	if !(m > 0 && v > 0) {
		return mass, specificVolume, ErrNothingLeft
	}
	sv := v / m
	variance, massVariance := square(w.Mass*w.SpecificVolume.U/m), 0.0
	for _, s := range stones {
		// What is wrong with the size moves mass and volume together; the density moves one of them.
		variance += square((sv*s.Mass - s.Volume) * s.Size / m)
		rel := s.Density.U / s.Density.Value
		if s.Sized {
			variance += square(sv * s.Mass * rel / m)
		} else {
			variance += square(s.Volume * rel / m)
		}
		massVariance += square(s.MassU())
	}
	return Estimate{m, math.Sqrt(massVariance)}, Estimate{sv, math.Sqrt(variance)}, nil
}

// Share returns the share of the mass, 0 to 1, that the first of two materials has in a whole. A
// *PartsError tells where it lies outside 0 to 1 by more than k standard uncertainties; within them it
// is cut to 0 or 1.
func Share(w Whole, first, second Estimate, k float64) (Estimate, error) {
	gap := first.Value - second.Value
	if math.Abs(gap) <= 2*math.Hypot(first.U, second.U) {
		return Estimate{}, ErrAlike
	}
	share := (w.SpecificVolume.Value - second.Value) / gap
	u := math.Sqrt(square(w.SpecificVolume.U)+square(share*first.U)+square((1-share)*second.U)) / math.Abs(gap)
	e := Estimate{share, u}
	if share < -k*u || share > 1+k*u {
		return e, &PartsError{e}
	}
	e.Value = math.Min(1, math.Max(0, share))
	return e, nil
}

// Void returns the volume in cm³ that is filled with something light, such as air at a density in
// g/cm³, in a whole whose metal has a specific volume. Negative: the whole is denser than the metal.
func Void(w Whole, metal Estimate, filling float64) Estimate {
	full := 1 - filling*metal.Value
	return Estimate{w.Mass * (w.SpecificVolume.Value - metal.Value) / full, w.Mass * math.Hypot(w.SpecificVolume.U, metal.U) / full}
}

// Brilliant returns the volume in cm³ of a round brilliant from its diameter and depth in mm, with the
// relative standard uncertainty that the shape leaves.
//
// Common practice in the trade: diameter² · depth · 0.0061 is the mass of a diamond of 3.52 g/cm³ in
// carats of 0.2 g, to a twentieth (the girdle may be thick or thin; chosen here).
func Brilliant(diameter, depth float64) (volume, relU float64) {
	return diameter * diameter * depth * 0.0061 * 0.2 / 3.52, 0.05
}

// BrilliantDepth is the usual depth of a round brilliant as a share of its diameter; common practice.
const BrilliantDepth = 0.61

// Mean returns the density of several items weighed together, from their masses and densities. No
// fineness follows from it: half 917 and half 375 gold has the density of 585.
func Mean(masses, densities []float64) float64 {
	m, v := 0.0, 0.0
	for i := range masses {
		m, v = m+masses[i], v+masses[i]/densities[i]
	}
	return m / v
}

func square(x float64) float64 { return x * x }
