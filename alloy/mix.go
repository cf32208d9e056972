package alloy

import (
	"fmt"
	"math"

	"wreath/quantity"
)

// State says how the metals of a mixture are arranged.
type State uint8

const (
	// Quenched is one disordered phase: excess volumes of all pairs, zinc dissolved.
	Quenched State = iota
	// Unmixed is Quenched except that silver and copper have parted, as after slow cooling.
	Unmixed
	// Ideal adds the volumes of the pure metals. It is a reference, not a good model.
	Ideal
)

// String names the state as it is printed.
func (s State) String() string {
	switch s {
	case Quenched:
		return "quenched"
	case Unmixed:
		return "unmixed"
	case Ideal:
		return "ideal"
	}
	return "unknown"
}

// Options choose how Mix computes.
type Options struct {
	State State

	// ZincMolarVolume is the volume of a mole of dissolved zinc in cm³/mol, 0: by its
	// surrounding (between ZincInCopper and ZincInSilver). From 8.0 to 9.2.
	ZincMolarVolume float64
}

// Mixture is an alloy of known composition.
type Mixture struct {
	Parts         Parts
	Density       quantity.Density     // at 20 °C, of sound metal
	Ideal         quantity.Density     // if the volumes of the pure metals added
	RelU          float64              // relative standard uncertainty of Density
	ExcessVolume  float64              // of the whole over Ideal, in cm³/mol
	MoleFractions []float64            // in the order of Parts
	Expansion     quantity.Expansivity // of the volume, mean of the parts weighted by volume
}

// Mix returns the density of an alloy from its composition by mass. The amounts may have any
// total. Specific volumes add by mass fraction, plus an excess volume for each pair of metals.
// Pairs without data have no excess; their bound is part of RelU.
//
// Errors: *PartsError for a composition that is none, *quantity.RangeError for more zinc than
// dissolves or an absurd ZincMolarVolume.
func Mix(parts Parts, options Options) (Mixture, error) {
	parts, err := parts.normalised()
	if err != nil {
		return Mixture{}, err
	}
	if len(parts) > maxConstituents {
		return Mixture{}, &PartsError{
			fmt.Sprintf("The composition names %d metals, at most %d can be mixed.", len(parts), maxConstituents),
			"Leave out traces.",
		}
	}
	if options.ZincMolarVolume != 0 {
		err := quantity.CheckRange("molar volume of dissolved zinc", options.ZincMolarVolume, 8, 9.2, "cm³/mol",
			"the model of dissolved zinc", "Give 8.45 for copper-rich metal, 8.612 otherwise, or leave it to the surrounding.")
		if err != nil {
			return Mixture{}, err
		}
	}
	metals := make([]Metal, len(parts))
	w := make([]float64, len(parts))
	for i, part := range parts {
		metal, ok := MetalBySymbol(part.Symbol)
		if !ok {
			_, err := findMetal(part.Symbol)
			if err == nil {
				err = &PartsError{fmt.Sprintf("%q is not a chemical symbol.", part.Symbol), partsExample}
			}
			return Mixture{}, err
		}
		metals[i], w[i] = metal, part.Fraction
	}
	s := newSolution(metals, options.ZincMolarVolume)
	if s.zinc >= 0 && options.State != Ideal {
		err := quantity.CheckRange("mass fraction of zinc", w[s.zinc], 0, MostZinc, "",
			"the model of dissolved zinc", "Take the ideal state for alloys that are mostly zinc.")
		if err != nil {
			return Mixture{}, err
		}
	}

	ideal := s.ideal(w)
	v := ideal
	switch options.State {
	case Quenched:
		v = s.specificVolume(w, 0)
	case Unmixed:
		v = s.specificVolume(w, 1)
	}
	u := s.relU(w, v)
	if options.State == Ideal && (s.zinc < 0 || w[s.zinc] <= MostZinc) {
		u = math.Hypot(u, s.specificVolume(w, 0)/ideal-1) // the neglected excess
	}

	moles, expansion := 0.0, 0.0
	x := make([]float64, len(parts))
	for i := range parts {
		x[i] = w[i] * s.amount[i]
		moles += x[i]
		expansion += w[i] * s.volume[i] / ideal * float64(metals[i].Expansion)
	}
	for i := range x {
		x[i] /= moles
	}
	return Mixture{
		Parts:         parts,
		Density:       quantity.GramsPerCm3(1 / v),
		Ideal:         quantity.GramsPerCm3(1 / ideal),
		RelU:          u,
		ExcessVolume:  (v - ideal) / moles,
		MoleFractions: x,
		Expansion:     quantity.Expansivity(expansion),
	}, nil
}
