package alloy

import (
	_ "embed"
	"sync"

	"wreath/quantity"
)

//go:embed data/elements.csv
var elementsCSV []byte

// Metal is a pure element (a few semi-metals that occur as additions are among them).
type Metal struct {
	Symbol       string
	Name         string
	Density      quantity.Density     // at 20 °C
	U            quantity.Density     // standard uncertainty of Density
	XRayDensity  quantity.Density     // from the lattice constant
	AtomicMass   float64              // g/mol
	Expansion    quantity.Expansivity // of the volume, about 20 °C
	Sound        float64              // longitudinal velocity in m/s, 0 where none was found
	Conductivity float64              // % IACS, 0 where none was found
	Magnetism    string               // "-" repelled, "+" attracted, "ferro"
	Note         string
	Source       string
}

// SpecificVolume returns the volume of one gram in cm³/g at 20 °C.
func (m Metal) SpecificVolume() float64 { return 1 / m.Density.GramPerCm3() }

// MolarVolume returns the volume of one mole in cm³/mol at 20 °C.
func (m Metal) MolarVolume() float64 { return m.AtomicMass / m.Density.GramPerCm3() }

type metalTable struct {
	list     []Metal
	bySymbol map[string]Metal
}

var loadMetals = sync.OnceValue(func() metalTable {
	table := metalTable{bySymbol: map[string]Metal{}}
	for _, r := range readTable("elements.csv", elementsCSV) {
		m := Metal{
			Symbol:       r.text("symbol"),
			Name:         r.text("name"),
			Density:      quantity.KgPerM3(r.number("density_20C_kg_m3")),
			U:            quantity.KgPerM3(r.number("density_u_kg_m3")),
			XRayDensity:  quantity.KgPerM3(r.number("xray_density_kg_m3")),
			AtomicMass:   r.number("atomic_mass_u"),
			Expansion:    quantity.Expansivity(r.number("volume_expansion_1e-6_per_K") * 1e-6),
			Sound:        r.number("sound_longitudinal_m_s"),
			Conductivity: r.number("conductivity_pct_IACS"),
			Magnetism:    r.text("magnetic_susceptibility_sign"),
			Note:         r.text("note"),
			Source:       r.text("source"),
		}
		table.list = append(table.list, m)
		table.bySymbol[m.Symbol] = m
	}
	return table
})

// Metals returns all metals of the table, precious ones first.
func Metals() []Metal { return append([]Metal(nil), loadMetals().list...) }

// MetalBySymbol returns the metal with a chemical symbol such as "Au".
func MetalBySymbol(symbol string) (Metal, bool) {
	m, ok := loadMetals().bySymbol[symbol]
	return m, ok
}
