package gem

import (
	"bytes"
	_ "embed"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"sync"

	"wreath/quantity"
)

// Origin says where a material comes from.
type Origin string

// The origins.
const (
	Natural   Origin = "natural"   // occurs in nature; grown stones may share its constants
	Grown     Origin = "grown"     // crystallised by people and sold for itself or as a look-alike
	Imitation Origin = "imitation" // glass, plastic, composites
)

// Bears says which liquids a species bears.
type Bears string

// What a species bears of immersion.
const (
	AnyLiquid Bears = "any"   // water, ethanol, a wetting agent
	WaterOnly Bears = "water" // plain water, no solvent
	NoLiquid  Bears = "none"  // porous: not to be immersed
)

// Species is one row of the table. The package owns its values.
type Species struct {
	Key     string // stable, for records
	Name    string
	Variety string // empty where there is one only
	Origin  Origin

	Typical, Low, High quantity.Density // usual density and its range

	// Refractive index at 589 nm, lowest and highest; 0 where none is printed.
	RefractiveLow, RefractiveHigh float64
	Birefringence                 float64 // 0 for an isotropic species, and where no index is printed
	Optic                         string  // optic character as printed: "uniaxial -"
	Hardness                      string  // Mohs, as printed: "7.5-8"

	Note    string // look-alikes, as printed
	Bears   Bears
	Caution string // what to mind at immersion, empty where the species bears any liquid
	Source  string

	CautionSource string // of Bears and Caution
}

// FullName returns the name with its variety: "beryl (emerald)".
func (s Species) FullName() string {
	if s.Variety == "" {
		return s.Name
	}
	return s.Name + " (" + s.Variety + ")"
}

//go:embed data/gems.csv
var gemsCSV []byte

//go:embed data/cautions.csv
var cautionsCSV []byte

// table is the parsed data. The files are embedded and tested, so a fault in them is a bug.
var table = sync.OnceValue(func() []Species {
	species, err := parse(gemsCSV, cautionsCSV)
	if err != nil {
		panic(err)
	}
	return species
})

// All returns every species, in the order of the table.
func All() []Species { return slices.Clone(table()) }

// ByKey returns the species with that key.
func ByKey(key string) (Species, bool) {
	for _, s := range table() {
		if s.Key == key {
			return s, true
		}
	}
	return Species{}, false
}

// Fits returns every species whose range of density overlaps low to high, the one with the
// nearest typical density first. None is left out: what is unlikely still fits. Low and high
// may come in either order; an interval that is not a number fits nothing.
func Fits(low, high quantity.Density) []Species {
	if high < low {
		low, high = high, low
	}
	var fit []Species
	for _, s := range table() {
		if s.Low <= high && s.High >= low {
			fit = append(fit, s)
		}
	}
	middle := low + (high-low)/2
	distance := func(s Species) quantity.Density { return max(s.Typical-middle, middle-s.Typical) }
	slices.SortStableFunc(fit, func(a, b Species) int {
		switch da, db := distance(a), distance(b); {
		case da < db:
			return -1
		case da > db:
			return 1
		}
		return 0
	})
	return fit
}

func parse(gems, cautions []byte) ([]Species, error) {
	rows, err := read(gems, 14)
	if err != nil {
		return nil, fmt.Errorf("gems.csv: %w", err)
	}
	var all []Species
	index := map[string]int{}
	for i, row := range rows {
		s := Species{Key: row[0], Origin: Origin(row[1]), Name: row[2], Variety: row[3], Optic: row[10], Hardness: row[11], Note: row[12], Bears: AnyLiquid, Source: row[13]}
		var numbers [6]float64
		for j, text := range row[4:10] {
			if text == "" && j >= 3 {
				continue
			}
			if numbers[j], err = strconv.ParseFloat(text, 64); err != nil {
				return nil, fmt.Errorf("gems.csv: %s, column %d: %w", s.Key, j+5, err)
			}
		}
		s.Typical, s.Low, s.High = quantity.Density(numbers[0]), quantity.Density(numbers[1]), quantity.Density(numbers[2])
		s.RefractiveLow, s.RefractiveHigh, s.Birefringence = numbers[3], numbers[4], numbers[5]
		if _, twice := index[s.Key]; twice {
			return nil, fmt.Errorf("gems.csv: key %s twice", s.Key)
		}
		index[s.Key] = i
		all = append(all, s)
	}
	if rows, err = read(cautions, 4); err != nil {
		return nil, fmt.Errorf("cautions.csv: %w", err)
	}
	for _, row := range rows {
		i, ok := index[row[0]]
		if !ok {
			return nil, fmt.Errorf("cautions.csv: no species %s", row[0])
		}
		all[i].Bears, all[i].Caution, all[i].CautionSource = Bears(row[1]), row[2], row[3]
	}
	return all, nil
}

// read returns the rows of a table without its header.
func read(data []byte, columns int) ([][]string, error) {
	r := csv.NewReader(bytes.NewReader(data))
	r.Comment = '#'
	r.FieldsPerRecord = columns
	rows, err := r.ReadAll()
	if err != nil {
		return nil, err
	}
	if len(rows) < 2 {
		return nil, fmt.Errorf("no rows")
	}
	return rows[1:], nil
}
