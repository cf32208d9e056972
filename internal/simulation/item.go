package simulation

import (
	"fmt"
	"math"
	"math/rand/v2"

	"wreath/alloy"
)

// Item is a body as it is, whatever is claimed of it.
type Item struct {
	Made      string  // what it is made of, in words
	Family    string  // alloy family, empty for what is no alloy of the tables
	Fineness  float64 // from 0 to 1
	Mass      float64 // g, dry, free of the buoyancy of the air
	Solid     float64 // cm³ at 20 °C of all that is solid
	Void      float64 // cm³ sealed inside
	Pores     float64 // cm³ open to the outside
	FillTime  float64 // s under liquid until the pores are filled to 63 %
	Expansion float64 // of the volume, 1/K
	Stones    bool    // set with stones
}

// Density of the whole body at 20 °C in g/cm³, voids and pores included.
func (i Item) Density() float64 { return i.Mass / (i.Solid + i.Void + i.Pores) }

// RecipeLaw says how recipes crowd within what a family allows.
type RecipeLaw uint8

const (
	Even   RecipeLaw = iota // all recipes alike
	Middle                  // Beta(3,3) in each share: makers keep to the middle
)

// Alloy casts an item of an alloy: a recipe drawn from the usual ones of the family, its density
// by mixing, with the error that the mixing model is said to have. The mass is in grams.
func Alloy(r *rand.Rand, f *alloy.Family, fineness, mass float64, law RecipeLaw) (Item, error) {
	for range 1000 {
		parts, unmixed, ok := recipe(r, f, fineness, law)
		if !ok {
			continue
		}
		quenched, err := alloy.Mix(parts, alloy.Options{})
		if err != nil {
			continue // more zinc than dissolves
		}
		v := 1 / quenched.Density.GramPerCm3()
		if unmixed > 0 {
			parted, err := alloy.Mix(parts, alloy.Options{State: alloy.Unmixed})
			if err != nil {
				continue
			}
			v += unmixed * (1/parted.Density.GramPerCm3() - v)
		}
		v *= 1 + f.ModelU*r.NormFloat64()
		return Item{
			Made: fmt.Sprintf("%s %.1f", f.Name, 1000*fineness), Family: f.Key, Fineness: fineness,
			Mass: mass, Solid: mass * v, Expansion: float64(quenched.Expansion),
		}, nil
	}
	return Item{}, fmt.Errorf("no recipe of %s has a fineness of %.1f ppt", f.Name, 1000*fineness)
}

// recipe draws the parts of an alloy and how far silver and copper have parted.
func recipe(r *rand.Rand, f *alloy.Family, fineness float64, law RecipeLaw) (parts alloy.Parts, unmixed float64, ok bool) {
	box := f.Usual[r.IntN(len(f.Usual))]
	below, above, t := around(box, fineness)
	between := func(a, b alloy.Share) float64 {
		low, high := a.Low+t*(b.Low-a.Low), a.High+t*(b.High-a.High)
		return low + (high-low)*law.draw(r)
	}
	parts = alloy.Parts{{Symbol: f.Symbol, Fraction: fineness}}
	left := 1.0
	for _, share := range below.Shares {
		if share.Symbol == below.Rest {
			continue
		}
		x := between(share, shareOf(above, share.Symbol))
		left -= x
		if x > 0 {
			parts = append(parts, alloy.Part{Symbol: share.Symbol, Fraction: x * (1 - fineness)})
		}
	}
	rest, other := shareOf(below, below.Rest), shareOf(above, below.Rest)
	if low, high := rest.Low+t*(other.Low-rest.Low), rest.High+t*(other.High-rest.High); left < low-1e-12 || left > high+1e-12 || left < -1e-12 {
		return nil, 0, false
	}
	if left > 0 && fineness < 1 {
		parts = append(parts, alloy.Part{Symbol: below.Rest, Fraction: left * (1 - fineness)})
	}
	return parts, between(below.Unmixed, above.Unmixed), true
}

// around returns the printed bounds below and above a fineness and how far it lies between them.
func around(box alloy.Box, fineness float64) (below, above alloy.Bounds, t float64) {
	below, above = box[0], box[len(box)-1]
	for _, b := range box {
		if b.Fineness <= fineness {
			below = b
		}
	}
	for i := len(box) - 1; i >= 0; i-- {
		if box[i].Fineness >= fineness {
			above = box[i]
		}
	}
	if below.Fineness > fineness { // lower than all printed
		return below, below, 0
	}
	if above.Fineness > below.Fineness {
		t = (fineness - below.Fineness) / (above.Fineness - below.Fineness)
	} else {
		above = below
	}
	return below, above, t
}

func shareOf(b alloy.Bounds, symbol string) alloy.Share {
	for _, s := range b.Shares {
		if s.Symbol == symbol {
			return s
		}
	}
	return alloy.Share{Symbol: symbol}
}

func (l RecipeLaw) draw(r *rand.Rand) float64 {
	if l == Even {
		return r.Float64()
	}
	// The third largest of five even draws follows Beta(3,3).
	var x [5]float64
	for i := range x {
		x[i] = r.Float64()
		for j := i; j > 0 && x[j] < x[j-1]; j-- {
			x[j], x[j-1] = x[j-1], x[j]
		}
	}
	return x[2]
}

// Plain casts an item of a material of known density in g/cm³.
func Plain(made string, mass, density float64) Item {
	return Item{Made: made, Mass: mass, Solid: mass / density, Expansion: 45e-6}
}

// Hollowed returns the item with a sealed hollow that takes up a share of its outline.
func (i Item) Hollowed(share float64) Item {
	i.Void = i.Solid * share / (1 - share)
	i.Made += ", hollow"
	return i
}

// SetWith returns an item of the same mass with stones that make up a share of the mass.
func (i Item) SetWith(share, density float64) Item {
	i.Solid = i.Solid*(1-share) + share*i.Mass/density
	i.Stones = true
	i.Made += ", set with stones"
	return i
}

// Cored returns an item of the same outline whose inner share by volume is another material.
func (i Item) Cored(share, density float64) Item {
	i.Mass = i.Mass*(1-share) + share*i.Solid*density
	i.Made += ", with a core"
	return i
}

// Porous returns an item whose open pores take up a share of its outline.
func (i Item) Porous(share, fillTime float64) Item {
	i.Pores = i.Solid * share / (1 - share)
	i.FillTime = fillTime
	i.Made += ", porous"
	return i
}

func logFlat(r *rand.Rand, low, high float64) float64 {
	return low * math.Pow(high/low, r.Float64())
}

func flat(r *rand.Rand, low, high float64) float64 { return low + (high-low)*r.Float64() }

func eitherSign(r *rand.Rand, x float64) float64 {
	if r.IntN(2) == 0 {
		return -x
	}
	return x
}
