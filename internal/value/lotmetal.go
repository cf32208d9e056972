package value

import (
	"fmt"
	"slices"
)

// sum is one metal of a lot.
type sum struct {
	metal    string
	metalG   Decimal
	singles  Decimal
	spreads  []spread
	fineness []Decimal // to pay by, of each item
	fine     []Decimal // g, by the safe figure, of each item
}

func (s *sum) add(w *weighed, spread spread) {
	s.metalG, s.singles = s.metalG.plus(w.metalG), s.singles.plus(w.fineG)
	s.spreads = append(s.spreads, spread)
	s.fineness, s.fine = append(s.fineness, w.ppt), append(s.fine, w.fineG)
}

func (s *sum) total(r float64) (LotMetal, error) {
	fine, u, err := total(s.spreads, r)
	if err != nil {
		return LotMetal{}, err
	}
	// Cutting may bring the lot's figure below the sum of the single ones, which is safe as well.
	safe := fromFloat(max(fine-safeDeviation*u, 0)).cut(lotDecimals)
	if safe.Cmp(s.singles) < 0 {
		safe = s.singles
	}
	return LotMetal{
		Metal: s.metal, Items: len(s.spreads), MetalG: s.metalG, FineG: fine, FineUG: u, K: 2, FineUExpanded: 2 * u,
		SafeG: safe, SinglesG: s.singles,
	}, nil
}

// portions part the lot's safe fine mass by the percentage paid. What the lot has above the sum of
// the single safe figures belongs to no one item; it is paid at the lowest percentage among them.
func (s *sum) portions(t *Terms, total LotMetal) []portion {
	metal, ok := t.metal(s.metal)
	if !ok {
		return nil // priceOf has refused it
	}
	var all []portion
	for i, fine := range s.fine {
		rate := metal.rate(s.fineness[i], s.metalG)
		at := slices.IndexFunc(all, func(p portion) bool { return p.percent.Cmp(rate) == 0 })
		if at < 0 {
			all = append(all, portion{percent: rate})
			at = len(all) - 1
		}
		all[at].fineG = all[at].fineG.plus(fine)
	}
	slices.SortFunc(all, func(a, b portion) int { return a.percent.Cmp(b.percent) })
	more := total.SafeG.minus(total.SinglesG)
	if len(all) == 1 {
		all[0].fineG, all[0].why = total.SafeG.plain(), ", safe figure of the lot"
		return all
	}
	for i := range all {
		all[i].fineG, all[i].why = all[i].fineG.plain(), fmt.Sprintf(", safe figures of the items at %s %%", all[i].percent)
	}
	return append(all, portion{fineG: more.plain(), percent: all[0].percent, why: ", what the lot has above them"})
}
