package alloy

import (
	_ "embed"
	"strings"
	"sync"

	"wreath/quantity"
)

//go:embed data/lookalikes.csv
var lookalikesCSV []byte

// Lookalike is a material that is met in place of a precious metal or inside it.
type Lookalike struct {
	Key          string
	Name         string
	Typical      quantity.Density // 0 where there is none
	Low, High    quantity.Density
	Imitates     string
	Sound        float64 // longitudinal velocity in m/s, 0 unknown
	Conductivity float64 // % IACS, 0 unknown or none
	Magnetism    string
	Magnet       []string // what a hand magnet may do: "none", "weak", "strong"; nil unknown
	Sort         string   // kind of twin: "tungsten", "lead", "base metal", "rare metal", "core", "filling", "stone"

	// A tunable material can be made to any density of its reach, so within it the density
	// cannot speak against the material: judge it by the likelihood of the claim itself. Both
	// are 0 for a material that cannot be tuned.
	ReachLow, ReachHigh quantity.Density

	Source string
}

// Tunable says whether the material can be made to match a density.
func (m Lookalike) Tunable() bool { return m.ReachHigh > 0 }

// Reaches says whether a tunable material can be made to this density.
func (m Lookalike) Reaches(d quantity.Density) bool {
	return m.Tunable() && d >= m.ReachLow && d <= m.ReachHigh
}

// Band returns the least and the largest specific volume in cm³/g.
func (m Lookalike) Band() (low, high float64) {
	return 1 / m.High.GramPerCm3(), 1 / m.Low.GramPerCm3()
}

var loadLookalikes = sync.OnceValue(func() []Lookalike {
	var list []Lookalike
	for _, r := range readTable("lookalikes.csv", lookalikesCSV) {
		list = append(list, Lookalike{
			Key:          r.text("key"),
			Name:         r.text("material"),
			Typical:      quantity.KgPerM3(r.number("typical_kg_m3")),
			Low:          quantity.KgPerM3(r.number("min_kg_m3")),
			High:         quantity.KgPerM3(r.number("max_kg_m3")),
			Imitates:     r.text("imitates"),
			Sound:        r.number("sound_longitudinal_m_s"),
			Conductivity: r.number("conductivity_pct_IACS"),
			Magnetism:    r.text("magnetism"),
			Magnet:       strings.Fields(r.text("magnet")),
			Sort:         r.text("kind_of_twin"),
			ReachLow:     quantity.KgPerM3(r.number("reach_low_kg_m3")),
			ReachHigh:    quantity.KgPerM3(r.number("reach_high_kg_m3")),
			Source:       r.text("source"),
		})
	}
	return list
})

// Lookalikes returns all materials in the order of the table. The slice is shared and must not be
// changed.
func Lookalikes() []Lookalike { return loadLookalikes() }

// LookalikeByKey returns the material with a key such as "tungsten-wrought".
func LookalikeByKey(key string) (Lookalike, bool) {
	for _, m := range loadLookalikes() {
		if m.Key == key {
			return m, true
		}
	}
	return Lookalike{}, false
}
