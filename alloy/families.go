package alloy

import (
	"cmp"
	_ "embed"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
)

//go:embed data/families.txt
var familiesText string

// Role says how a family takes part when several are held against one density.
type Role string

// The roles of families.
const (
	Candidate Role = "candidate" // competes with the other candidates
	Narrow    Role = "narrow"    // part of a candidate, for somebody who knows the recipe
	Sum       Role = "sum"       // all candidates of the metal together, not one more of them
)

// Family is a set of alloys of one precious metal that share their constituents. Families are
// shared and must not be changed.
type Family struct {
	Key        string
	Name       string
	Metal      string  // "gold", "silver", "platinum", "palladium"
	Symbol     string  // of Metal
	Colour     string  // "yellow", "pink", "red", "green", "white", "any"
	Role       Role    // how it competes with others
	Low, High  float64 // span of fineness with flat weighting, from 0 to 1
	ModelU     float64 // relative standard uncertainty of the model's specific volume
	ModelUFrom string  // source of ModelU
	Neighbours []string
	Usual      Region // recipes commonly melted
	Outer      Region // legal but rare recipes that enclose the usual ones; nil: none

	metals []Metal // the precious one first
	table  *table
}

// Region is a set of recipes: the union of its boxes, of equal weight.
type Region []Box

// Box holds bounds on the shares of the rest at printed finenesses, in ascending order. Between
// them each bound is interpolated linearly, outside it is held constant.
type Box []Bounds

// Bounds limit the shares of the rest at one fineness.
type Bounds struct {
	Fineness float64 // 0: all
	Shares   []Share
	Rest     string // the metal that takes what is left; it is among Shares
	Unmixed  Share  // how far silver and copper have parted, 0 quenched to 1
	Source   string
}

// Share is the interval of one metal's share of the rest, from 0 to 1.
type Share struct {
	Symbol    string
	Low, High float64
}

// Metals returns the metals of the family's recipes, the precious one first. The slice is shared
// and must not be changed.
func (f *Family) Metals() []Metal { return f.metals }

// Families returns all families in the order of the data file.
func Families() []*Family { return slices.Clone(loadFamilies().list) }

// FamilyByKey returns the family with a key such as "gold-yellow".
func FamilyByKey(key string) (*Family, bool) {
	f, ok := loadFamilies().byKey[key]
	return f, ok
}

// FamiliesOf returns the families of a metal such as "gold".
func FamiliesOf(metal string) []*Family {
	var list []*Family
	for _, f := range loadFamilies().list {
		if f.Metal == metal {
			list = append(list, f)
		}
	}
	return list
}

type familyTable struct {
	list  []*Family
	byKey map[string]*Family
}

var loadFamilies = sync.OnceValue(func() familyTable {
	list, err := parseFamilies(familiesText)
	if err == nil {
		err = readTables(list, tablesBinary)
	}
	if err != nil {
		panic(fmt.Sprintf("alloy: embedded families: %v", err))
	}
	families := familyTable{list: list, byKey: map[string]*Family{}}
	for _, f := range list {
		families.byKey[f.Key] = f
	}
	return families
})

// parseFamilies reads the stanzas; the head of data/families.txt describes them.
func parseFamilies(text string) ([]*Family, error) {
	var list []*Family
	var f *Family
	for i, line := range strings.Split(text, "\n") {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		word, value, _ := strings.Cut(line, " ")
		if word == "family" {
			f = &Family{Key: value}
			list = append(list, f)
			continue
		}
		if f == nil {
			return nil, fmt.Errorf("line %d: %q stands before the first family", i+1, word)
		}
		if err := f.set(word, value); err != nil {
			return nil, fmt.Errorf("line %d, family %s: %w", i+1, f.Key, err)
		}
	}
	for _, f := range list {
		if err := f.finish(); err != nil {
			return nil, fmt.Errorf("family %s: %w", f.Key, err)
		}
	}
	return list, nil
}

// set takes one line of a stanza.
func (f *Family) set(word, value string) error {
	value, source, _ := strings.Cut(value, "|")
	value, source = strings.TrimSpace(value), strings.TrimSpace(source)
	var err error
	switch word {
	case "name":
		f.Name = value
	case "metal":
		f.Metal, f.Symbol, _ = strings.Cut(value, " ")
	case "colour":
		f.Colour = value
	case "role":
		f.Role = Role(value)
	case "span":
		_, err = fmt.Sscan(value, &f.Low, &f.High)
	case "u":
		f.ModelUFrom = source
		_, err = fmt.Sscan(value, &f.ModelU)
	case "neighbours":
		f.Neighbours = strings.Fields(value)
	case "usual", "outer", "or", "and":
		var bounds Bounds
		bounds, err = parseBounds(value, source)
		if err == nil {
			err = f.add(word, bounds)
		}
	default:
		err = fmt.Errorf("no line is called %q", word)
	}
	return err
}

// add puts bounds into the region that is being read.
func (f *Family) add(word string, bounds Bounds) error {
	region := &f.Usual
	goesOn := word == "or" || word == "and"
	if word == "outer" || (goesOn && f.Outer != nil) {
		region = &f.Outer
	}
	if goesOn && len(*region) == 0 {
		return fmt.Errorf("%q follows no recipes", word)
	}
	if word == "or" || len(*region) == 0 {
		*region = append(*region, Box{})
	}
	box := &(*region)[len(*region)-1]
	*box = append(*box, bounds)
	return nil
}

// parseBounds reads "750 Ag 0.40-0.70, Zn 0-0.08, Cu rest".
func parseBounds(text, source string) (Bounds, error) {
	bounds := Bounds{Source: source}
	fineness, shares, _ := strings.Cut(text, " ")
	if fineness != "all" {
		ppt, err := strconv.ParseFloat(fineness, 64)
		if err != nil {
			return bounds, fmt.Errorf("fineness %q: %w", fineness, err)
		}
		bounds.Fineness = ppt / 1000
	}
	for _, item := range strings.Split(shares, ",") {
		words := strings.Fields(item)
		if len(words) < 2 {
			return bounds, fmt.Errorf("%q has no bounds", item)
		}
		share := Share{Symbol: words[0], High: 1}
		if words[1] == "rest" {
			bounds.Rest = share.Symbol
			words = words[1:]
		}
		if len(words) > 1 {
			low, high, isInterval := strings.Cut(words[1], "-")
			if !isInterval {
				high = low
			}
			var err error
			if share.Low, err = strconv.ParseFloat(low, 64); err != nil {
				return bounds, fmt.Errorf("%q: %w", item, err)
			}
			if share.High, err = strconv.ParseFloat(high, 64); err != nil {
				return bounds, fmt.Errorf("%q: %w", item, err)
			}
		}
		if !(share.Low >= 0 && share.Low <= share.High && share.High <= 1) {
			return bounds, fmt.Errorf("%q: bounds are from 0 to 1, the lower first", item)
		}
		if share.Symbol == "state" {
			bounds.Unmixed = share
			continue
		}
		bounds.Shares = append(bounds.Shares, share)
	}
	if bounds.Rest == "" {
		return bounds, fmt.Errorf("no metal takes the rest")
	}
	return bounds, nil
}

// finish checks the stanza and lists the metals.
func (f *Family) finish() error {
	if f.Name == "" || f.Metal == "" || f.Colour == "" || len(f.Usual) == 0 {
		return fmt.Errorf("name, metal, colour and usual recipes are needed")
	}
	if f.Role != Candidate && f.Role != Narrow && f.Role != Sum {
		return fmt.Errorf("role %q is not known", f.Role)
	}
	if !(f.Low >= 0 && f.Low < f.High && f.High <= 1) || !(f.ModelU > 0 && f.ModelU < 0.1) {
		return fmt.Errorf("span %g to %g or u %g is not possible", f.Low, f.High, f.ModelU)
	}
	symbols := []string{f.Symbol}
	for _, region := range []Region{f.Usual, f.Outer} {
		for _, box := range region {
			if !slices.IsSortedFunc(box, func(a, b Bounds) int { return cmp.Compare(a.Fineness, b.Fineness) }) {
				return fmt.Errorf("printed finenesses must ascend")
			}
			for _, bounds := range box {
				if bounds.Rest != box[0].Rest {
					return fmt.Errorf("the rest changes from %s to %s within one box", box[0].Rest, bounds.Rest)
				}
				for _, share := range bounds.Shares {
					if !slices.Contains(symbols, share.Symbol) {
						symbols = append(symbols, share.Symbol)
					}
				}
			}
		}
	}
	for _, symbol := range symbols {
		metal, ok := MetalBySymbol(symbol)
		if !ok {
			return fmt.Errorf("no metal has the symbol %q", symbol)
		}
		f.metals = append(f.metals, metal)
	}
	return nil
}
