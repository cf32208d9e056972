package alloy

import (
	"fmt"
	"math"

	"wreath/quantity"
)

// FinenessOf returns the mass fraction of a metal in an alloy of known density whose rest has a
// known recipe: the inverse of Mix. The density must lie between that of the metal and that of
// the rest, and must rise or fall steadily between them; otherwise the error is a
// *quantity.RangeError or says that two finenesses have that density.
func FinenessOf(symbol string, rest Parts, density quantity.Density, options Options) (float64, error) {
	rest, err := rest.normalised()
	if err != nil {
		return 0, err
	}
	if rest.Fraction(symbol) > 0 {
		return 0, &PartsError{fmt.Sprintf("%s stands in the rest too.", symbol), "Give the rest without the metal whose fineness is asked."}
	}
	parts := append(Parts{{Symbol: symbol}}, rest...)
	densityAt := func(fineness float64) (float64, error) {
		parts[0].Fraction = fineness
		for i, part := range rest {
			parts[i+1].Fraction = (1 - fineness) * part.Fraction
		}
		mixture, err := Mix(parts, options)
		return mixture.Density.GramPerCm3(), err
	}
	lowest := 0.0
	if zinc := rest.Fraction("Zn"); zinc > MostZinc && options.State != Ideal {
		lowest = 1 - MostZinc/zinc + 1e-12
	}
	atLow, err := densityAt(lowest)
	if err != nil {
		return 0, err
	}
	atHigh, err := densityAt(1)
	if err != nil {
		return 0, err
	}
	if err := steady(densityAt, lowest, atHigh > atLow); err != nil {
		return 0, err
	}
	err = quantity.CheckRange("density", density.GramPerCm3(), min(atLow, atHigh), max(atLow, atHigh), "g/cm³",
		fmt.Sprintf("%s with this rest", symbol), "Check the recipe of the rest, or judge by a family, which leaves the recipe open.")
	if err != nil {
		return 0, err
	}
	low, high := lowest, 1.0
	for range 60 {
		middle := (low + high) / 2
		rho, err := densityAt(middle)
		if err != nil {
			return 0, err
		}
		if (rho < density.GramPerCm3()) == (atHigh > atLow) {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2, nil
}

// steady returns an error unless the density rises (or falls) all the way.
func steady(densityAt func(float64) (float64, error), lowest float64, rises bool) error {
	before := math.Inf(-1)
	for i := range 65 {
		rho, err := densityAt(lowest + (1-lowest)*float64(i)/64)
		if err != nil {
			return err
		}
		if !rises {
			rho = -rho
		}
		if rho <= before {
			return fmt.Errorf("with this rest the density does not follow the fineness steadily: two finenesses have the same density")
		}
		before = rho
	}
	return nil
}
