package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"wreath/quantity"
	"wreath/uncertainty"
)

// medium is the density of what an item is weighed in, with where its uncertainty comes from.
type medium struct {
	Name         string   `json:"name"`
	TemperatureC float64  `json:"temperature_c"`
	DensityKgM3  float64  `json:"density_kg_m3"`
	UKgM3        float64  `json:"u_kg_m3"`
	Formula      string   `json:"formula"`
	Source       string   `json:"source"`
	Valid        string   `json:"valid"`
	ValidFromC   float64  `json:"valid_from_c"`
	ValidToC     float64  `json:"valid_to_c"`
	Budget       []cause  `json:"budget"`
	Assumed      []string `json:"assumed"`
	Cautions     []string `json:"cautions"`
}

// cause is what one input adds to the standard uncertainty.
type cause struct {
	Input string  `json:"input"`
	UKgM3 float64 `json:"u_kg_m3"`
}

// assume notes what was taken for granted.
func (m *medium) assume(format string, args ...any) {
	m.Assumed = append(m.Assumed, fmt.Sprintf(format, args...))
}

// find computes the density in kg/m³ from the inputs, by first order (JCGM 100:2008 5.1).
func (m *medium) find(inputs []uncertainty.Input, density uncertainty.Model) error {
	b, err := uncertainty.FirstOrder(inputs, density, 0.95)
	if err != nil {
		return fromFormula(err)
	}
	m.DensityKgM3, m.UKgM3 = rounded(b.Y, 6), significant(b.U, 3)
	for _, r := range b.Rows {
		if r.U > 0 {
			m.Budget = append(m.Budget, cause{r.Name, significant(r.Contribution, 2)})
		}
	}
	slices.SortStableFunc(m.Budget, func(a, b cause) int { return cmp.Compare(b.UKgM3, a.UKgM3) })
	return nil
}

// kgPerM3 is a formula's density as a number for a model; NaN outside the formula's range.
func kgPerM3(rho quantity.Density, err error) float64 {
	if err != nil {
		return math.NaN()
	}
	return rho.KgPerM3()
}

func (m *medium) write(s *streams, format string) error {
	if format == "json" {
		m.Assumed, m.Cautions = orEmpty(m.Assumed), orEmpty(m.Cautions)
		return writeJSON(s.Out, m)
	}
	page := sheet{label: 13}
	value, u := uncertainty.Round(m.DensityKgM3, m.UKgM3)
	page.line("%s: %s kg/m³, standard uncertainty %s kg/m³", m.Name, value, u)
	page.say("formula", "%s", m.Formula)
	page.say("source", "%s", m.Source)
	page.say("valid", "%s", m.Valid)
	label := "uncertainty"
	for _, c := range m.Budget {
		_, u := uncertainty.Round(c.UKgM3, c.UKgM3)
		page.say(label, "%s kg/m³ from %s", u, c.Input)
		label = ""
	}
	page.list("assumed", m.Assumed)
	page.list("caution", m.Cautions)
	return page.print(s.Out)
}

// orEmpty makes an absent list an empty one, [] in JSON.
func orEmpty[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}
