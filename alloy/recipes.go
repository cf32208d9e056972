package alloy

import (
	_ "embed"
	"fmt"
	"strconv"
	"strings"
	"sync"

	"wreath/quantity"
)

//go:embed data/recipes.csv
var recipesCSV []byte

// Recipe is a published composition of an alloy.
type Recipe struct {
	Name            string
	Colour          string
	Parts           Parts
	Published       string // density in kg/m³ as printed, a value or a range; empty: none found
	PublishedSource string
	Ideal           quantity.Density // computed: volumes of the pure metals added
	Quenched        quantity.Density // computed with 8.612 cm³/mol for zinc
	Unmixed         quantity.Density // the same, silver and copper parted
	Source          string           // of the composition
	Note            string
}

// columns of recipes.csv that hold mass fractions
var recipeMetals = []string{"Au", "Ag", "Cu", "Zn", "Ni", "Pd", "Pt", "Ru", "Ir", "Co", "Rh"}

var loadRecipes = sync.OnceValue(func() []Recipe {
	var list []Recipe
	for _, r := range readTable("recipes.csv", recipesCSV) {
		var parts Parts
		for _, symbol := range recipeMetals {
			if w := r.number("w_" + symbol); w > 0 {
				parts = append(parts, Part{symbol, w})
			}
		}
		if symbol, amount, ok := strings.Cut(r.text("w_other"), "="); ok {
			w, err := strconv.ParseFloat(amount, 64)
			if err != nil {
				panic(fmt.Sprintf("alloy: embedded recipes.csv line %d: %v", r.line, err))
			}
			parts = append(parts, Part{symbol, w})
		}
		parts, err := parts.normalised()
		if err != nil {
			panic(fmt.Sprintf("alloy: embedded recipes.csv line %d: %v", r.line, err))
		}
		list = append(list, Recipe{
			Name:            r.text("name"),
			Colour:          r.text("colour"),
			Parts:           parts,
			Published:       r.text("published_density_kg_m3"),
			PublishedSource: r.text("published_density_source"),
			Ideal:           quantity.KgPerM3(r.number("ideal_density_computed_kg_m3")),
			Quenched:        quantity.KgPerM3(r.number("model_density_quenched_kg_m3")),
			Unmixed:         quantity.KgPerM3(r.number("model_density_AgCu_unmixed_kg_m3")),
			Source:          r.text("composition_source"),
			Note:            r.text("note"),
		})
	}
	return list
})

// Recipes returns all published compositions in the order of the table.
func Recipes() []Recipe { return append([]Recipe(nil), loadRecipes()...) }
