package fluid

import (
	_ "embed"
	"fmt"
	"strings"

	"wreath/quantity"
)

//go:embed data/liquids.csv
var liquidsCSV string

// Liquid is a liquid that items are or were weighed in, as handbooks know it. Its figures help
// to choose a liquid and to recognise one; the density to weigh with comes from Water,
// EthanolWater or a Measured.
type Liquid struct {
	Key            string // "propan-2-ol"
	Name           string
	Density        quantity.Density     // at 20 °C
	Expansion      quantity.Expansivity // cubic, near 20 °C
	SurfaceTension float64              // mN/m near 20 °C, 0 if not known
	Viscosity      float64              // mPa s near 20 °C, 0 if not known
	Use            string
	Hazards        string // in the words of the table
	DoNotUse       bool   // named so that it is recognised and kept off the bench
	Source         string

	cautions   []string // keys of cautionTexts
	flashPoint string   // °C as printed, empty if not known
}

// Liquids is the list of data/liquids.csv. It must not be changed.
var Liquids = loadLiquids(liquidsCSV)

func loadLiquids(csv string) []Liquid {
	var liquids []Liquid
	for _, row := range mustRows("data/liquids.csv", csv) {
		liquids = append(liquids, Liquid{
			Key:            row.text("key"),
			Name:           row.text("name"),
			Density:        quantity.KgPerM3(row.number("density_20C_kg_m3")),
			Expansion:      quantity.Expansivity(row.number("volume_expansion_1e-6_per_K") * 1e-6),
			SurfaceTension: row.numberOrZero("surface_tension_mN_m"),
			Viscosity:      row.numberOrZero("viscosity_mPa_s"),
			Use:            row.text("use"),
			Hazards:        row.text("hazards"),
			DoNotUse:       row.text("do_not_use") == "yes",
			Source:         row.text("source"),
			cautions:       strings.Fields(row.text("cautions")),
			flashPoint:     row.text("flash_point_C"),
		})
	}
	return liquids
}

// LiquidByKey returns the liquid of the list with that key.
func LiquidByKey(key string) (Liquid, bool) {
	for _, l := range Liquids {
		if l.Key == key {
			return l, true
		}
	}
	return Liquid{}, false
}

// Cautions returns the usual cautions for a liquid as sentences that travel with it, none for
// plain water. Besides the keys of Liquids it knows "ethanol-water", of any strength. For a
// liquid that is not in the list it says that its safety data sheet must be read.
func Cautions(key string) []string {
	if key == "ethanol-water" {
		key = "ethanol"
	}
	l, ok := LiquidByKey(key)
	if !ok {
		return []string{"The hazards of this liquid are not known here: read its safety data sheet and follow your local rules before you open it."}
	}
	return l.Cautions()
}

// Cautions returns the usual cautions for the liquid as sentences, the gravest first, none for
// plain water.
func (l Liquid) Cautions() []string {
	if len(l.cautions) == 0 && !l.DoNotUse {
		return nil
	}
	var sentences []string
	if l.DoNotUse {
		sentences = append(sentences, fmt.Sprintf("Do not weigh in %s: %s.", l.Name, strings.TrimSuffix(l.Hazards, ", do not use")))
	}
	for _, c := range l.cautions {
		text := cautionTexts[c]
		if c == "flammable" || c == "combustible" {
			text = strings.Replace(text, ":", l.flashPointWords()+":", 1)
		}
		sentences = append(sentences, text)
	}
	return append(sentences, "Local rules and the supplier's safety data sheet come before these cautions.")
}

func (l Liquid) flashPointWords() string {
	if l.flashPoint == "" {
		return ""
	}
	return ", flash point " + l.flashPoint + " °C"
}

// cautionTexts are usual cautions (common practice), by the words of the column cautions.
var cautionTexts = map[string]string{
	"flammable":   "Flammable: no flame, torch, spark or hot work near it, keep the vessel covered, ventilate, keep only what the day needs; your local fire code decides.",
	"combustible": "Combustible: keep flames and hot work away; your local fire code decides.",
	"evaporates":  "It evaporates and takes up water, so its density drifts: cover it and measure it with a sinker before use.",
	"vapour":      "Its vapour is harmful: use it only under a fume hood.",
	"eyes":        "It irritates the eyes, most of all undiluted: wear safety glasses.",
	"skin":        "Keep it off the skin: wear gloves and safety glasses.",
	"swallowed":   "Harmful if swallowed: keep it away from food and drink.",
	"plastics":    "It dissolves plastic, lacquer and glue: not for coated or cemented items.",
	"fillings":    "It dissolves fillings and glue and softens plastic: not for pearls, turquoise, doublets or cemented items.",
	"corrodes":    "It corrodes silver and copper alloys: rinse the item in clean water at once.",
	"overheating": "It breaks down to toxic products when overheated: keep it away from flames and hot metal.",
	"collect":     "Collect what is left for disposal; do not pour it away.",
	"amalgam":     "Never immerse an item: mercury dissolves gold and silver and ruins it.",
}
