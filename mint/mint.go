package mint

import (
	"bytes"
	_ "embed"
	"encoding/csv"
	"fmt"
	"math"
	"strconv"
	"sync"

	"wreath/quantity"
)

//go:embed data/types.csv
var typesCSV []byte

// Kind is what a type is.
type Kind string

// The kinds of types.
const (
	Coin Kind = "coin"
	Bar  Kind = "bar"
)

// Type is one type of coin or bar. A number that is not known is 0.
type Type struct {
	Key      string // stable: "uk-sovereign"
	Kind     Kind
	Country  string // "-" for a bar
	Name     string
	Metal    string  // "gold"
	Fineness float64 // from 0 to 1
	Alloy    string  // as printed
	Family   string  // key of the alloy family whose recipes enclose it

	Mass                float64 // g
	MassMinus, MassPlus float64 // remedy in g
	LeastCurrent        float64 // least mass in g at which the law still let it pass
	FinenessMinus       float64 // remedy, as a fraction
	Diameter, Thickness float64 // mm; the thickness is over the rim

	DensityLow, DensityHigh quantity.Density // of the alloy named; 0 where the alloy is not named

	Law, Source, ToleranceSource string
}

// What is usual where no law is at hand (common practice; chosen here).
const (
	usualGoldRemedy   = 0.005 // of the mass
	usualSilverRemedy = 0.010
	usualBarRemedy    = 0.001
	usualFineness     = 0.002
	lightWear         = 0.005 // of the mass, when nothing is said of wear
	heavyWear         = 0.025 // of the mass, when the piece is said to be worn
)

// TolerancesByLaw says whether the tolerance of the mass is that of a law.
func (t *Type) TolerancesByLaw() bool { return t.MassMinus > 0 }

// Wear is what is known of the wear of a piece.
type Wear uint8

// The kinds of wear.
const (
	WearUnknown Wear = iota
	Unworn
	Worn
)

// Masses returns the least and the largest mass in g that a true piece may have. Wear only
// lowers the least.
func (t *Type) Masses(wear Wear) (least, most float64) {
	minus, plus := t.MassMinus, t.MassPlus
	if minus == 0 {
		switch {
		case t.Kind == Bar:
			minus = usualBarRemedy * t.Mass
		case t.Metal == "silver":
			minus = usualSilverRemedy * t.Mass
		default:
			minus = usualGoldRemedy * t.Mass
		}
		plus = minus
	}
	least, most = t.Mass-minus, t.Mass+plus
	if t.Kind == Bar {
		return least, most // a bar that has lost metal is not what its mark says
	}
	switch wear {
	case WearUnknown:
		least -= lightWear * t.Mass
		if t.LeastCurrent > 0 {
			least = math.Min(least, t.LeastCurrent)
		}
	case Worn:
		least -= heavyWear * t.Mass
	}
	return least, most
}

// Finenesses returns the least fineness that the law lets pass, and the largest that is usual.
func (t *Type) Finenesses() (least, most float64) {
	minus := t.FinenessMinus
	if minus == 0 {
		minus = usualFineness
	}
	if t.Fineness >= 0.98 {
		minus = math.Min(minus, 0.0005)
	}
	return t.Fineness - minus, math.Min(t.Fineness+minus, 1)
}

// Densities returns the densities of the alloy within the tolerance of its fineness and the
// model's relative uncertainty at k = 2; ok is false where the type does not name its alloy.
func (t *Type) Densities() (low, high quantity.Density, ok bool) {
	if t.DensityLow == 0 {
		return 0, 0, false
	}
	least, most := t.Finenesses()
	u := densityU
	if t.Fineness >= 0.98 {
		u = densityUFine
	}
	low = quantity.Density(float64(t.DensityLow) * (1 - 2*u - slopeOf(t.Metal)*(t.Fineness-least)))
	high = quantity.Density(float64(t.DensityHigh) * (1 + 2*u + slopeOf(t.Metal)*(most-t.Fineness)))
	return low, high, true
}

// Relative standard uncertainty of the density of an alloy of known recipe, and of fine metal with
// its voids (chosen here, as for the alloy families), and the relative change of density with
// fineness near the standards of coins.
const (
	densityU     = 0.0020
	densityUFine = 0.0006
)

func slopeOf(metal string) float64 {
	if metal == "gold" {
		return 1.05 // copper and gold at 900: (1/8.936 - 1/19.29) × 17.2
	}
	return 0.2 // copper and silver at 900: (1/8.936 - 1/10.504) × 10.3
}

// Volume is the nominal volume in cm³ that a solid piece of the right alloy must have; 0 where the
// alloy is not named.
func (t *Type) Volume() float64 {
	if t.DensityLow == 0 {
		return 0
	}
	return t.Mass / ((t.DensityLow.GramPerCm3() + t.DensityHigh.GramPerCm3()) / 2)
}

// MeanThickness is the thickness in mm of a plain disc of the nominal volume and diameter. A struck
// coin is thicker than this over its rim: one that measures less over the rim is not solid metal of
// this density. 0 where it can't be said.
func (t *Type) MeanThickness() float64 {
	if t.Diameter == 0 || t.DensityLow == 0 {
		return 0
	}
	return 4000 * t.Volume() / (math.Pi * t.Diameter * t.Diameter)
}

// What sizes may differ by (chosen here: collars keep diameters within a tenth of a millimetre;
// printed thicknesses are rounded and differ between years).
const (
	DiameterTolerance  = 0.15 // mm
	DiameterWear       = 0.25 // mm less, of a worn piece
	ThicknessTolerance = 0.07 // of the printed thickness
	ThicknessWear      = 0.08 // of the thickness less, of a worn piece
	RimOverMean        = 1.85 // a rim stands at most this much above the mean thickness
)

// Diameters returns the least and the largest diameter in mm; ok is false where none is known.
func (t *Type) Diameters(wear Wear) (least, most float64, ok bool) {
	if t.Diameter == 0 {
		return 0, 0, false
	}
	least = t.Diameter - DiameterTolerance
	if wear == Worn {
		least -= DiameterWear
	}
	return least, t.Diameter + DiameterTolerance, true
}

// Thicknesses returns the least and the largest thickness over the rim in mm; ok is false where
// nothing follows. Where none is printed the mean thickness of a solid piece sets the least.
func (t *Type) Thicknesses(wear Wear) (least, most float64, ok bool) {
	mean := t.MeanThickness()
	switch {
	case t.Thickness > 0:
		least, most = t.Thickness*(1-ThicknessTolerance), t.Thickness*(1+ThicknessTolerance)
	case mean > 0:
		least, most = mean, mean*RimOverMean
	default:
		return 0, 0, false
	}
	if wear == Worn {
		least *= 1 - ThicknessWear
	}
	return least, most, true
}

var table = sync.OnceValue(func() []Type {
	r := csv.NewReader(bytes.NewReader(typesCSV))
	r.FieldsPerRecord = 20
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		panic(fmt.Sprintf("mint: embedded types.csv: %v", err))
	}
	var all []Type
	for _, row := range rows[1:] {
		number := func(i int) float64 {
			if row[i] == "" {
				return 0
			}
			x, err := strconv.ParseFloat(row[i], 64)
			if err != nil {
				panic(fmt.Sprintf("mint: embedded types.csv: %s: %v", row[0], err))
			}
			return x
		}
		all = append(all, Type{
			Key: row[0], Kind: Kind(row[1]), Country: row[2], Name: row[3], Metal: row[4], Fineness: number(5) / 1000, Alloy: row[6], Family: row[7],
			Mass: number(8), MassMinus: number(9), MassPlus: number(10), LeastCurrent: number(11), FinenessMinus: number(12) / 1000,
			Diameter: number(13), Thickness: number(14),
			DensityLow: quantity.KgPerM3(number(15)), DensityHigh: quantity.KgPerM3(number(16)),
			Law: row[17], Source: row[18], ToleranceSource: row[19],
		})
	}
	return all
})

var byKey = sync.OnceValue(func() map[string]*Type {
	index := map[string]*Type{}
	all := table()
	for i := range all {
		index[all[i].Key] = &all[i]
	}
	return index
})

// Types lists all types in the order of the table. The slice is shared and must not be changed.
func Types() []Type { return table() }

// ByKey returns the type with that key. The type is shared and must not be changed.
func ByKey(key string) (*Type, bool) {
	t, ok := byKey()[key]
	return t, ok
}
