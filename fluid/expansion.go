package fluid

import (
	_ "embed"

	"wreath/quantity"
)

//go:embed data/expansion.csv
var expansionCSV string

// Solid is what sinkers, vessels, hangers and check pieces are made of.
type Solid struct {
	Material  string
	Expansion quantity.Expansivity // cubic, near 20 °C; good to about 10 %
	Source    string
}

// Solids is the list of data/expansion.csv. It must not be changed.
var Solids = loadSolids(expansionCSV)

func loadSolids(csv string) []Solid {
	var list []Solid
	for _, row := range mustRows("data/expansion.csv", csv) {
		list = append(list, Solid{
			Material:  row.text("material"),
			Expansion: quantity.Expansivity(row.number("cubic_1e-6_per_K") * 1e-6),
			Source:    row.text("source"),
		})
	}
	return list
}

// Expansion returns the coefficient of cubic expansion near 20 °C of what sinkers, vessels,
// hangers and check pieces are made of, and where the figure is from. It knows "borosilicate
// glass", "soda-lime glass", "austenitic steel", "brass", "silicon", "diamond", "corundum" and
// "quartz"; the precious metals belong to package alloy. The figures are good to about 10 %.
func Expansion(material string) (expansion quantity.Expansivity, source string, ok bool) {
	for _, s := range Solids {
		if s.Material == material {
			return s.Expansion, s.Source, true
		}
	}
	return 0, "", false
}
