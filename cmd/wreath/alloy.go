package main

import (
	"fmt"
	"io"
	"slices"

	"wreath/alloy"
	"wreath/uncertainty"
)

type alloyCmd struct {
	Parts      string  `required:"" placeholder:"PARTS" help:"Metals and their parts by mass, of any total: Au=750,Ag=125,Cu=125."`
	State      string  `enum:"quenched,unmixed,ideal" default:"quenched" help:"quenched: one phase. unmixed: silver and copper have parted, as after slow cooling. ideal: volumes of the pure metals add."`
	ZincCm3Mol decimal `name:"zinc-cm3-mol" placeholder:"N" help:"Volume of a mole of dissolved zinc, cm³/mol: 8.45 in copper-rich metal, 8.612 otherwise; by the surrounding unless said."`
	Format     string  `enum:"text,json" default:"text" help:"text for people, json for programs."`
}

func (alloyCmd) Help() string {
	return `Examples:

  wreath alloy --parts Au=750,Ag=125,Cu=125
  wreath alloy --parts silver=925,copper=75 --state unmixed
  wreath alloy --parts Au=585,Ag=100,Cu=255,Zn=60 --zinc-cm3-mol 8.45 --format json`
}

// alloyAnswer is an alloy of known composition.
type alloyAnswer struct {
	Parts         []alloyPart   `json:"parts"`
	State         string        `json:"state"`
	DensityKgM3   float64       `json:"density_kg_m3"`
	UKgM3         float64       `json:"u_kg_m3"`
	IdealKgM3     float64       `json:"ideal_kg_m3"`
	ExcessVolume  float64       `json:"excess_volume_cm3_mol"`
	ExpansionPerK float64       `json:"expansion_per_k"`
	Families      []alloyFamily `json:"families"`
	Sources       []string      `json:"sources"`
	Cautions      []string      `json:"cautions"`
}

type alloyPart struct {
	Metal        string  `json:"metal"`
	MassPpt      float64 `json:"mass_ppt"`
	MoleFraction float64 `json:"mole_fraction"`
	DensityKgM3  float64 `json:"density_kg_m3"`
}

// alloyFamily is a family whose recipes hold the alloy.
type alloyFamily struct {
	Family  string `json:"family"`
	Name    string `json:"name"`
	Recipes string `json:"recipes"` // usual or rare
}

// Run answers with the density of a recipe.
func (c *alloyCmd) Run(s *streams) error {
	parts, err := alloy.ParseParts(c.Parts)
	if err != nil {
		return fromFormula(err)
	}
	states := map[string]alloy.State{"quenched": alloy.Quenched, "unmixed": alloy.Unmixed, "ideal": alloy.Ideal}
	if err := within("zinc-cm3-mol", c.ZincCm3Mol, 8, 9.2, "cm³/mol", "Give 8.45 for copper-rich metal, 8.612 otherwise, or leave it to the surrounding."); err != nil {
		return err
	}
	mixture, err := alloy.Mix(parts, alloy.Options{State: states[c.State], ZincMolarVolume: c.ZincCm3Mol.value})
	if err != nil {
		return fromFormula(err)
	}
	rho := mixture.Density.KgPerM3()
	answer := alloyAnswer{
		State:       c.State,
		DensityKgM3: rounded(rho, 1), UKgM3: significant(mixture.RelU*rho, 2), IdealKgM3: rounded(mixture.Ideal.KgPerM3(), 1),
		ExcessVolume: rounded(mixture.ExcessVolume, 4), ExpansionPerK: significant(float64(mixture.Expansion), 3),
		Families: familiesOf(mixture.Parts),
		Sources:  sourcesOf(mixture.Parts),
		Cautions: []string{"Sound metal at 20 °C. Pores, order and strain shift the density of a real piece by up to 0.5 %."},
	}
	for i, p := range mixture.Parts {
		metal, _ := alloy.MetalBySymbol(p.Symbol)
		answer.Parts = append(answer.Parts, alloyPart{p.Symbol, rounded(1000*p.Fraction, 4), rounded(mixture.MoleFractions[i], 5), rounded(metal.Density.KgPerM3(), 3)})
	}
	if c.Format == "json" {
		return writeJSON(s.Out, answer)
	}
	return answer.text(s.Out)
}

func (a *alloyAnswer) text(w io.Writer) error {
	page := sheet{label: 15}
	value, u := uncertainty.Round(a.DensityKgM3, a.UKgM3)
	page.line("%s kg/m³ at 20 °C, standard uncertainty %s kg/m³ (%s)", value, u, a.State)
	page.say("ideal", "%.0f kg/m³ if the volumes of the pure metals added", a.IdealKgM3)
	page.say("excess volume", "%.3f cm³/mol", a.ExcessVolume)
	page.say("expansion", "%.1fe-6 per K, of the volume", 1e6*a.ExpansionPerK)
	label := "parts"
	for _, p := range a.Parts {
		page.say(label, "%s %.6g ppt by mass, mole fraction %.4f", p.Metal, p.MassPpt, p.MoleFraction)
		label = ""
	}
	label = "family"
	for _, f := range a.Families {
		page.say(label, "%s, %s (%s recipe)", f.Family, f.Name, f.Recipes)
		label = ""
	}
	if len(a.Families) == 0 {
		page.say(label, "no family of the tables has this recipe")
	}
	page.list("sources", a.Sources)
	page.list("caution", a.Cautions)
	return page.print(w)
}

// sourcesOf lists where the densities of the metals and the excess volumes of their pairs are from.
func sourcesOf(parts alloy.Parts) []string {
	var sources []string
	for _, p := range parts {
		metal, _ := alloy.MetalBySymbol(p.Symbol)
		sources = append(sources, fmt.Sprintf("%s %.0f kg/m³: %s", p.Symbol, metal.Density.KgPerM3(), metal.Source))
	}
	for _, pair := range alloy.Pairs() {
		if parts.Fraction(pair.A) > 0 && parts.Fraction(pair.B) > 0 {
			sources = append(sources, fmt.Sprintf("%s with %s: %s", pair.A, pair.B, pair.Source))
		}
	}
	return sources
}

// familiesOf lists the families whose recipes hold the composition, those with a usual recipe first.
func familiesOf(parts alloy.Parts) []alloyFamily {
	usual, rare := []alloyFamily{}, []alloyFamily{}
	for _, f := range alloy.Families() {
		fineness := parts.Fraction(f.Symbol)
		if f.Role == alloy.Sum || fineness < f.Low || fineness > f.High {
			continue
		}
		switch {
		case holds(f.Usual, parts, f.Symbol):
			usual = append(usual, alloyFamily{f.Key, f.Name, "usual"})
		case holds(f.Outer, parts, f.Symbol):
			rare = append(rare, alloyFamily{f.Key, f.Name, "rare"})
		}
	}
	return append(usual, rare...)
}

// holds says whether one of the boxes of a region holds the composition.
func holds(region alloy.Region, parts alloy.Parts, precious string) bool {
	return slices.ContainsFunc(region, func(box alloy.Box) bool { return boxHolds(box, parts, precious) })
}

func boxHolds(box alloy.Box, parts alloy.Parts, precious string) bool {
	const slack = 1e-9 // for rounding where a share meets its bound
	fineness := parts.Fraction(precious)
	i := len(box) - 1
	for i > 0 && box[i].Fineness > fineness {
		i--
	}
	j, t := i, 0.0
	if i < len(box)-1 && fineness > box[i].Fineness {
		j = i + 1
		t = (fineness - box[i].Fineness) / (box[j].Fineness - box[i].Fineness)
	}
	for _, p := range parts {
		if p.Symbol == precious || p.Fraction == 0 {
			continue
		}
		share := p.Fraction / (1 - fineness)
		_, high := bounds(box[i], box[j], t, p.Symbol)
		if share > high+slack {
			return false
		}
	}
	for _, s := range slices.Concat(box[i].Shares, box[j].Shares) {
		low, _ := bounds(box[i], box[j], t, s.Symbol)
		if fineness < 1 && parts.Fraction(s.Symbol)/(1-fineness) < low-slack {
			return false
		}
	}
	return true
}

// bounds are the bounds of a metal's share on the way t from one printed fineness to the next;
// 0 to 0 for a metal that does not belong.
func bounds(from, to alloy.Bounds, t float64, symbol string) (low, high float64) {
	share := func(b alloy.Bounds) alloy.Share {
		for _, s := range b.Shares {
			if s.Symbol == symbol {
				return s
			}
		}
		return alloy.Share{}
	}
	a, b := share(from), share(to)
	return a.Low + t*(b.Low-a.Low), a.High + t*(b.High-a.High)
}
