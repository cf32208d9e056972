package value

import (
	"fmt"
	"math"
	"strings"

	"wreath/alloy"
	"wreath/quantity"
)

// safeDeviation is the one-sided 95 % point of the normal distribution, as alloy.Lot uses it.
const safeDeviation = 1.645

// spread is what the fine mass of one item adds to that of a lot: its middle, and its standard
// deviation parted by cause. All but mass are of the fineness, as fraction.
type spread struct {
	massG  float64
	middle float64
	sd     float64

	slope, modelU float64 // see alloy.LotItem

	// Relative standard uncertainties of the specific volume, by who shares them.
	own, group, all float64
	key             string // of the group
}

// spreadOf finds the parts of an item's spread from its answer.
//
// The answer gives quantiles of the fineness, not the mean and the standard deviation that a sum
// needs. Both are derived so that the lot never promises more than its items:
//
//   - The middle is the lower of the median and the centre of the 95 % interval. A lopsided
//     distribution has its mean between the two.
//   - The standard deviation is that which puts the item's safe figure 1.645 below the middle. A safe
//     figure that was lowered (several families, a family only claimed) so lowers the lot as well.
//
// A fineness claimed caps both. Slope and model come from the tables of alloy families, which the
// answer names; of several the steepest and the least certain is taken, because what items share
// does not average out. Where the tables give no slope (palladium), all of the spread is shared.
//
// The uncertainty of the specific volume is parted by the rows of the budget: repeatability and
// resolution belong to the item alone; the formula of a liquid's density to every item; the rest
// (temperature, air, liquid as poured, check piece, wire, linearity) to those of one group.
func spreadOf(w *weighed, item *Item) (spread, error) {
	a := item.Answer
	f := a.Fineness
	s := spread{massG: w.metalG.Float(), key: item.SharedWith}
	safe := f.Safe / 1000
	s.middle = min(f.Median, (f.Low+f.High)/2) / 1000
	if w.claimPpt.Sign() > 0 {
		claim := w.claimPpt.Float() / 1000
		s.middle, safe = min(s.middle, claim), min(safe, claim)
	}
	s.middle = max(s.middle, safe)
	s.sd = (s.middle - safe) / safeDeviation
	if math.IsNaN(s.sd) || s.middle > 1 {
		return s, fault("fineness", "Evaluate the draft again.", "the figures of the answer are not those of a fineness")
	}

	v := 1000 / a.Density20C.KgM3 // cm³/g
	for _, row := range a.Budget {
		u2 := math.Pow(row.Sensitivity*row.U/v, 2)
		switch sharedBy(row.Input) {
		case itemAlone:
			s.own += u2
		case everyItem:
			s.all += u2
		default:
			s.group += u2
		}
	}
	for _, key := range strings.Split(f.Family, " + ") {
		family, ok := alloy.FamilyByKey(key)
		if !ok {
			return s, fault("fineness.family", "Evaluate the draft again with this program.", "the tables of this program have no alloy family %q", key)
		}
		if slope, ok := family.Slope(s.middle); ok && slope > s.slope {
			s.slope = slope
		}
		s.modelU = max(s.modelU, family.ModelU)
	}
	s.own, s.group, s.all = math.Sqrt(s.own), math.Sqrt(s.group), math.Sqrt(s.all)
	s.bound()
	return s, nil
}

// bound keeps the known causes from exceeding the spread itself, as they would where the fineness
// is cut off at its highest. Without a slope, the spread is put down as shared by every item.
func (s *spread) bound() {
	if s.slope == 0 {
		*s = spread{massG: s.massG, middle: s.middle, sd: s.sd, slope: s.sd, all: 1, key: s.key}
		return
	}
	known := s.slope * math.Sqrt(s.modelU*s.modelU+s.own*s.own+s.group*s.group+s.all*s.all)
	if known > s.sd {
		s.slope *= s.sd / known
	}
}

type sharing int

const (
	itemAlone sharing = iota
	oneGroup
	everyItem
)

// sharedBy says who shares an input of the budget, by its name.
func sharedBy(input string) sharing {
	switch {
	case strings.HasSuffix(input, ": repeatability"), strings.HasSuffix(input, ": resolution"):
		return itemAlone
	case strings.HasPrefix(input, "liquid: ") && strings.HasSuffix(input, " formula"):
		return everyItem
	}
	return oneGroup
}

// total adds up a lot with alloy.Lot, which carries what recipes and the model share, and adds the
// covariance of what items share by group and all together. Recipes correlate by r.
func total(items []spread, r float64) (fine, u float64, err error) {
	lot := make([]alloy.LotItem, len(items))
	groups := map[string][2]float64{} // sum, sum of squares
	var all, allSquared float64
	for i, s := range items {
		lot[i] = alloy.LotItem{
			Mass: quantity.Grams(s.massG), Fineness: s.middle, SD: s.sd, Slope: s.slope, ModelU: s.modelU,
			WeighU: math.Sqrt(s.own*s.own + s.group*s.group + s.all*s.all),
		}
		part := s.massG * s.slope * s.group
		g := groups[s.key]
		groups[s.key] = [2]float64{g[0] + part, g[1] + part*part}
		part = s.massG * s.slope * s.all
		all, allSquared = all+part, allSquared+part*part
	}
	result, err := alloy.Lot(lot, alloy.LotOptions{SharedModel: alloy.HalfShared, RecipeR: r})
	if err != nil {
		return 0, 0, fmt.Errorf("add up the lot: %w", err)
	}
	variance := math.Pow(result.U.Gram(), 2) + all*all - allSquared
	for _, g := range groups {
		variance += g[0]*g[0] - g[1]
	}
	return result.Fine.Gram(), math.Sqrt(variance), nil
}
