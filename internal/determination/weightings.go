package determination

import (
	"bytes"
	_ "embed"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wreath/alloy"
	"wreath/gem"
)

//go:embed data/weightings.csv
var weightingsFile []byte

// Weighting says how likely each candidate is before the density is known: a tree of class,
// claim, metal, colour and standard. Weightings are data, named with their version in every answer.
type Weighting struct {
	Key     string
	Version int
	Name    string
	Rows    []WeightRow
}

// WeightRow is one weight of a weighting.
type WeightRow struct {
	Level  string // class, claim, metal, colour, look-alike or origin
	Of     string
	Weight float64
	Source string
}

// Weightings lists the weightings; the first is the default for metals, "stones" for stones.
var Weightings = readWeightings()

func readWeightings() []Weighting {
	r := csv.NewReader(bytes.NewReader(weightingsFile))
	r.FieldsPerRecord = 7
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		panic(fmt.Sprintf("data/weightings.csv: %v", err))
	}
	var all []Weighting
	for _, row := range rows[1:] {
		version, err := strconv.Atoi(row[1])
		weight, err2 := strconv.ParseFloat(row[5], 64)
		if err != nil || err2 != nil {
			panic(fmt.Sprintf("data/weightings.csv: %v %v", err, err2))
		}
		if len(all) == 0 || all[len(all)-1].Key != row[0] {
			all = append(all, Weighting{Key: row[0], Version: version, Name: row[2]})
		}
		w := &all[len(all)-1]
		w.Rows = append(w.Rows, WeightRow{row[3], row[4], weight, row[6]})
	}
	return all
}

// Title names the weighting as it is printed.
func (w *Weighting) Title() string {
	return fmt.Sprintf("weighting %q, version %d: %s", w.Key, w.Version, w.Name)
}

// weights is a weighting made ready: the weights of each level add up to 1.
type weights struct {
	precious, lookAlike, stone float64 // classes
	asClaimed, colour          float64
	metal                      map[string]float64
	ofSort                     map[string]float64 // of one look-alike of a sort
	ofOrigin                   map[gem.Origin]float64
	title                      string
}

// tables are the weightings made ready, by key.
var tables = func() map[string]*weights {
	all := map[string]*weights{}
	for i := range Weightings {
		all[Weightings[i].Key] = Weightings[i].ready()
	}
	return all
}()

func (w *Weighting) ready() *weights {
	level := func(name string) map[string]float64 {
		found, sum := map[string]float64{}, 0.0
		for _, row := range w.Rows {
			if row.Level == name {
				found[row.Of] = row.Weight
				sum += row.Weight
			}
		}
		if name != "claim" && name != "colour" {
			for of := range found {
				found[of] /= sum
			}
		}
		return found
	}
	classes := level("class")
	out := &weights{
		precious: classes["precious"], lookAlike: classes["look-alike"], stone: classes["stone"],
		asClaimed: level("claim")["as claimed"], colour: level("colour")["right"], metal: level("metal"),
		ofSort: level("look-alike"), ofOrigin: map[gem.Origin]float64{}, title: w.Title(),
	}
	// A weight of a sort is shared out among its members, so that a table with many grades of one
	// metal does not make it likelier.
	sorts := map[string]float64{}
	for _, l := range alloy.Lookalikes() {
		sorts[l.Sort]++
	}
	for sort, n := range sorts {
		out.ofSort[sort] /= n
	}
	origins := map[gem.Origin]float64{}
	for _, s := range gem.All() {
		origins[s.Origin]++
	}
	for of, weight := range level("origin") {
		out.ofOrigin[gem.Origin(of)] = weight / origins[gem.Origin(of)]
	}
	return out
}

func weightingKeys() (keys []string) {
	for i := range Weightings {
		keys = append(keys, Weightings[i].Key)
	}
	return keys
}

// resolveWeights takes the weighting that the draft names, and what it changes of it.
func (e *evaluation) resolveWeights(stone bool) (*weights, error) {
	key := Weightings[0].Key
	if stone {
		key = "stones"
	}
	d := e.draft.Weights
	if d == nil {
		return tables[key], nil
	}
	if d.Use != "" {
		if err := oneOf("weights.use", d.Use, weightingKeys()...); err != nil {
			return nil, err
		}
		key = d.Use
	}
	w := *tables[key]
	var changed []string
	for _, c := range []struct {
		field string
		given *float64
		taken *float64
		words string
	}{
		{"weights.precious", d.Precious, &w.precious, "precious"},
		{"weights.look_alike", d.LookAlike, &w.lookAlike, "look-alike"},
		{"weights.stone", d.Stone, &w.stone, "stone"},
		{"weights.as_claimed", d.AsClaimed, &w.asClaimed, "as claimed"},
		{"weights.colour", d.Colour, &w.colour, "colour"},
	} {
		if err := within(c.field, c.given, 0, 1, "(a weight)"); err != nil {
			return nil, err
		}
		if c.given != nil {
			*c.taken = *c.given
			changed = append(changed, fmt.Sprintf("%s %g", c.words, *c.given))
		}
	}
	sum := w.precious + w.lookAlike + w.stone
	if !(sum > 0) {
		return nil, bad("weights", "Give at least one class a weight above 0.", "leaves no class possible")
	}
	w.precious, w.lookAlike, w.stone = w.precious/sum, w.lookAlike/sum, w.stone/sum
	if len(changed) > 0 {
		w.title += "; changed here: " + strings.Join(changed, ", ")
	}
	return &w, nil
}

// colourOf is how likely the colour seen is for a family.
func (w *weights) colourOf(f *alloy.Family, seen string) float64 {
	const strange = 0.01 // a colour that is neither the family's nor a neighbour's; chosen here
	switch {
	case seen == "" || f.Colour == seen || f.Colour == "any":
		return w.colour
	case slices.ContainsFunc(f.Neighbours, func(key string) bool {
		n, ok := alloy.FamilyByKey(key)
		return ok && n.Colour == seen
	}):
		return 1 - w.colour
	}
	return strange * (1 - w.colour)
}
