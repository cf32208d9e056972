package alloy

import (
	"fmt"
	"math"

	"wreath/quantity"
)

// LotItem is one judged item of a lot.
type LotItem struct {
	Mass     quantity.Mass
	Fineness float64 // mean of the posterior
	SD       float64 // standard deviation of the posterior, all causes
	Slope    float64 // |df/dln v|, see Family.Slope
	ModelU   float64 // relative, see Family.ModelU
	WeighU   float64 // relative standard uncertainty of v from the weighings of this item alone
}

// LotOptions say what the items of a lot share.
type LotOptions struct {
	LiquidU     float64 // relative standard uncertainty of v from the liquid and its temperature
	SharedModel float64 // part of the variance of the model that all items share, from 0 to 1
	RecipeR     float64 // correlation between the recipes of two items, from 0 to 1
}

// Defaults of LotOptions (chosen from simulated lots).
const (
	HalfShared       = 0.5 // SharedModel
	MixedScrapR      = 0.5 // RecipeR of mixed scrap
	OneMelt          = 1.0 // RecipeR of one maker or one melt
	safeLotDeviation = 1.645
)

// LotResult is the precious metal in a lot.
type LotResult struct {
	Mass quantity.Mass // of the lot
	Fine quantity.Mass // of precious metal in it
	U    quantity.Mass // standard uncertainty of Fine
	Safe quantity.Mass // exceeded with probability 0.95
}

// Lot adds up the precious metal of several items. The variance of the total has four parts: what
// each item has alone (weighings and half of the model), what all share (liquid and the other half
// of the model), and the recipes, alone and in common:
//
//	Σ(mD)²((1-h)uM²+uB²) + (ΣmD)²uL² + (ΣmD uM)²h + (1-r)Σ(m s)² + r(Σ m s)²,
//	s² = sd² - D²(uL²+uM²+uB²)
//
// with D slope, uM model, uB weighing, uL liquid, h SharedModel, r RecipeR.
func Lot(items []LotItem, o LotOptions) (LotResult, error) {
	if len(items) == 0 {
		return LotResult{}, fmt.Errorf("a lot has at least one item")
	}
	err := quantity.CheckRange("shared part of the model", o.SharedModel, 0, 1, "", "a part", "Give a number from 0 to 1.")
	if err == nil {
		err = quantity.CheckRange("correlation of recipes", o.RecipeR, 0, 1, "", "a correlation of recipes", "Give a number from 0 to 1: 0.5 for mixed scrap, 1 for one melt.")
	}
	if err == nil {
		err = quantity.CheckRange("relative uncertainty of the liquid", o.LiquidU, 0, 0.1, "", "a lot", "Give a fraction, such as 0.002 for 0.2 %.")
	}
	if err != nil {
		return LotResult{}, err
	}
	var mass, fine, own, slopes, models, recipes, recipesSquared float64
	for i, item := range items {
		m := item.Mass.Gram()
		if !(m > 0) || !(item.Fineness >= 0 && item.Fineness <= 1) || !(item.SD >= 0) || !(item.Slope >= 0) || !(item.ModelU >= 0) || !(item.WeighU >= 0) {
			return LotResult{}, fmt.Errorf("item %d of the lot: mass must be positive, fineness from 0 to 1, uncertainties not negative", i+1)
		}
		mass += m
		fine += m * item.Fineness
		own += m * m * item.Slope * item.Slope * ((1-o.SharedModel)*item.ModelU*item.ModelU + item.WeighU*item.WeighU)
		slopes += m * item.Slope
		models += m * item.Slope * item.ModelU
		known := item.Slope * item.Slope * (o.LiquidU*o.LiquidU + item.ModelU*item.ModelU + item.WeighU*item.WeighU)
		s := math.Sqrt(max(item.SD*item.SD-known, 0))
		recipes += m * s
		recipesSquared += m * m * s * s
	}
	variance := own + slopes*slopes*o.LiquidU*o.LiquidU + models*models*o.SharedModel +
		(1-o.RecipeR)*recipesSquared + o.RecipeR*recipes*recipes
	u := math.Sqrt(variance)
	return LotResult{
		Mass: quantity.Grams(mass),
		Fine: quantity.Grams(fine),
		U:    quantity.Grams(u),
		Safe: quantity.Grams(max(fine-safeLotDeviation*u, 0)),
	}, nil
}
