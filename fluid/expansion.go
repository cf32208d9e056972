package fluid

import (
	_ "embed"

	"wreath/quantity"
)

//go:embed data/expansion.csv
var expansionCSV string

type solid struct {
	material  string
	expansion quantity.Expansivity
	source    string
}

var solids = loadSolids(expansionCSV)

func loadSolids(csv string) []solid {
	var list []solid
	for _, row := range mustRows("data/expansion.csv", csv) {
		list = append(list, solid{
			material:  row.text("material"),
			expansion: quantity.Expansivity(row.number("cubic_1e-6_per_K") * 1e-6),
			source:    row.text("source"),
		})
	}
	return list
}

// Expansion returns the coefficient of cubic expansion near 20 °C of what sinkers, vessels,
// hangers and check pieces are made of, and where the figure is from. It knows "borosilicate
// glass", "soda-lime glass", "austenitic steel", "brass", "silicon", "diamond", "corundum" and
// "quartz"; the precious metals belong to package alloy. The figures are good to about 10 %.
func Expansion(material string) (expansion quantity.Expansivity, source string, ok bool) {
	for _, s := range solids {
		if s.material == material {
			return s.expansion, s.source, true
		}
	}
	return 0, "", false
}
