package alloy

import (
	"cmp"
	_ "embed"
	"slices"
	"sync"
)

//go:embed data/standards.csv
var standardsCSV []byte

// TradeWide is the list of finenesses that are met in the trade, whatever the country.
const TradeWide = "trade-wide"

// Standard is a fineness that a law or a standard names.
type Standard struct {
	List     string
	Metal    string  // "gold", "silver", "platinum", "palladium"
	Printed  string  // parts per thousand as printed: "916"
	Fineness float64 // from 0 to 1
	Carat    string  // empty where none is used
	Minus    float64 // permitted shortfall as a fraction, 0: none stated
	Source   string
}

var loadStandards = sync.OnceValue(func() []Standard {
	var list []Standard
	for _, r := range readTable("standards.csv", standardsCSV) {
		list = append(list, Standard{
			List:     r.text("list"),
			Metal:    r.text("metal"),
			Printed:  r.text("fineness_ppt"),
			Fineness: r.number("fineness_ppt") / 1000,
			Carat:    r.text("carat"),
			Minus:    r.number("minus_ppt") / 1000,
			Source:   r.text("source"),
		})
	}
	return list
})

// StandardLists returns the keys of all lists in the order of the table. The slice is shared and
// must not be changed.
func StandardLists() []string { return loadStandardLists() }

var loadStandardLists = sync.OnceValue(func() []string {
	var keys []string
	for _, s := range loadStandards() {
		if !slices.Contains(keys, s.List) {
			keys = append(keys, s.List)
		}
	}
	return keys
})

// StandardsOf returns the entries of one list for one metal, finenesses ascending.
func StandardsOf(list, metal string) []Standard {
	var found []Standard
	for _, s := range loadStandards() {
		if s.List == list && s.Metal == metal {
			found = append(found, s)
		}
	}
	slices.SortStableFunc(found, func(a, b Standard) int { return cmp.Compare(a.Fineness, b.Fineness) })
	return found
}

// Standards returns the finenesses of one list for one metal, from 0 to 1, ascending. It is empty
// when the list has none for the metal. The slice is shared and must not be changed.
func Standards(list, metal string) []float64 { return loadFinenesses()[listOf{list, metal}] }

type listOf struct{ list, metal string }

var loadFinenesses = sync.OnceValue(func() map[listOf][]float64 {
	finenesses := map[listOf][]float64{}
	for _, s := range loadStandards() {
		key := listOf{s.List, s.Metal}
		finenesses[key] = append(finenesses[key], s.Fineness)
	}
	for key, list := range finenesses {
		slices.Sort(list)
		finenesses[key] = slices.Compact(list)
	}
	return finenesses
})

// NextLower returns the highest of the standards that is lower than the claim. Two prints of one
// standard, such as 916 and 916.7 or 416 and 417, are not lower than each other. False when
// there is none.
func NextLower(standards []float64, claim float64) (float64, bool) {
	best, found := 0.0, false
	for _, s := range standards {
		if s < claim && !SameStandard(s, claim) && s > best {
			best, found = s, true
		}
	}
	return best, found
}

// SameStandard says whether two finenesses are two prints of one standard: they differ by no more
// than 1 ppt, or 0.05 ppt from 980 up, where 999 and 999.9 are two (chosen here).
func SameStandard(a, b float64) bool {
	most := 0.00101
	if a >= 0.980 || b >= 0.980 {
		most = 0.00005
	}
	return a-b <= most && b-a <= most
}
