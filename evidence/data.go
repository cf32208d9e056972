package evidence

import (
	"bytes"
	_ "embed"
	"encoding/csv"
	"fmt"
	"strconv"
	"sync"
)

//go:embed data/rates.csv
var ratesCSV []byte

//go:embed data/conductivity.csv
var conductivityCSV []byte

// Rate is how often a test misleads, and what it can see.
type Rate struct {
	Kind    string
	Group   string  // tests of one group mislead together: the lowest of their likelihoods counts, not the product
	Error   float64 // share of findings that mislead
	Finer   float64 // the same where the skin reads finer than the piece is; 0 where that is no matter
	Sees    string
	Nothing string // what it says nothing of
	Source  string
}

// Rates lists the kinds of test in the order of the table. The slice is shared and must not be
// changed.
func Rates() []Rate { return loadRates() }

// RateOf returns the rate of a kind.
func RateOf(kind string) (Rate, bool) {
	r, ok := rates()[kind]
	return r, ok
}

var rates = sync.OnceValue(func() map[string]Rate {
	all := map[string]Rate{}
	for _, r := range loadRates() {
		all[r.Kind] = r
	}
	return all
})

var loadRates = sync.OnceValue(func() []Rate {
	var list []Rate
	for _, row := range rows("rates.csv", ratesCSV, 7) {
		list = append(list, Rate{row[0], row[1], number(row[2]), number(row[3]), row[4], row[5], row[6]})
	}
	return list
})

// AlloyConductivity is the conductivity of the alloys of one family from one fineness to another.
type AlloyConductivity struct {
	Metal, Family string
	From, To      float64 // fineness, from 0 to 1
	Range         Range   // MS/m
	Source        string
}

// AlloyConductivities lists the alloys whose conductivity is known. Between fine metal and these
// the conductivity falls so steeply that nothing is interpolated. The slice is shared and must not
// be changed.
func AlloyConductivities() []AlloyConductivity { return loadConductivities() }

var loadConductivities = sync.OnceValue(func() []AlloyConductivity {
	var list []AlloyConductivity
	for _, row := range rows("conductivity.csv", conductivityCSV, 7) {
		list = append(list, AlloyConductivity{
			Metal: row[0], Family: row[1], From: number(row[2]) / 1000, To: number(row[3]) / 1000,
			Range: Range{number(row[4]) * PerPercentIACS, number(row[5]) * PerPercentIACS}, Source: row[6],
		})
	}
	return list
})

// ConductivityOf returns the conductivity of a family at a fineness (from 0 to 1), not known where
// nobody has said.
func ConductivityOf(family string, fineness float64) Range {
	for _, a := range loadConductivities() {
		if a.Family == family && fineness >= a.From && fineness <= a.To {
			return a.Range
		}
	}
	return Range{}
}

// rows reads an embedded table without its header. The files are part of the program, so a damaged
// one is a fault of the program and stops it; tests read them all.
func rows(file string, data []byte, columns int) [][]string {
	r := csv.NewReader(bytes.NewReader(data))
	r.FieldsPerRecord = columns
	all, err := r.ReadAll()
	if err != nil || len(all) < 2 {
		panic(fmt.Sprintf("evidence: embedded %s: %v", file, err))
	}
	return all[1:]
}

func number(text string) float64 {
	if text == "" {
		return 0
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		panic(fmt.Sprintf("evidence: embedded table: %v", err))
	}
	return x
}
