package materials

import (
	"wreath/evidence"
	"wreath/internal/determination"
	"wreath/mint"
)

type typeRow struct {
	Key           string   `json:"key"`
	Kind          string   `json:"kind"`
	Country       string   `json:"country"`
	Name          string   `json:"name"`
	Metal         string   `json:"metal"`
	Fineness      float64  `json:"fineness_ppt"`
	Alloy         string   `json:"alloy" text:"-"`
	Family        string   `json:"family" text:"-"`
	Mass          float64  `json:"mass_g"`
	Least         float64  `json:"least_unworn_g"`
	Most          float64  `json:"most_g"`
	LeastCurrent  *float64 `json:"least_current_g" text:"-"`
	FinenessMinus *float64 `json:"fineness_minus_ppt" text:"-"`
	Diameter      *float64 `json:"diameter_mm"`
	Thickness     *float64 `json:"thickness_over_rim_mm"`
	MeanThickness *float64 `json:"thickness_of_a_disc_mm"` // computed from mass, diameter and density
	DensityLow    *float64 `json:"density_low_kg_m3"`      // null: the alloy is not named
	DensityHigh   *float64 `json:"density_high_kg_m3"`
	Law           string   `json:"law" text:"-"`
	Tolerance     string   `json:"tolerance_source" text:"-"`
	Source        string   `json:"source"`
}

func typeRows() any {
	var rows []typeRow
	for i := range mint.Types() {
		t := &mint.Types()[i]
		least, most := t.Masses(mint.Unworn)
		tolerance := t.ToleranceSource
		if !t.TolerancesByLaw() {
			tolerance = "no remedy at hand: common practice"
		}
		rows = append(rows, typeRow{
			t.Key, string(t.Kind), t.Country, t.Name, t.Metal, tidy(1000 * t.Fineness), t.Alloy, t.Family,
			t.Mass, significant(least, 6), significant(most, 6), known(t.LeastCurrent), known(1000 * t.FinenessMinus),
			known(t.Diameter), known(t.Thickness), known(significant(t.MeanThickness(), 4)),
			known(t.DensityLow.KgPerM3()), known(t.DensityHigh.KgPerM3()), t.Law, tolerance, t.Source,
		})
	}
	return rows
}

type weightingRow struct {
	Weighting string  `json:"weighting"`
	Version   int     `json:"version"`
	Name      string  `json:"name" text:"-"`
	Level     string  `json:"level"`
	Of        string  `json:"of"`
	Weight    float64 `json:"weight"`
	Source    string  `json:"source"`
}

func weightingRows() any {
	var rows []weightingRow
	for i := range determination.Weightings {
		w := &determination.Weightings[i]
		for _, r := range w.Rows {
			rows = append(rows, weightingRow{w.Key, w.Version, w.Name, r.Level, r.Of, r.Weight, r.Source})
		}
	}
	return rows
}

type testRow struct {
	Kind    string   `json:"kind"`
	Group   string   `json:"group"`
	Error   float64  `json:"error_rate"`
	Finer   *float64 `json:"error_rate_finer"`
	Sees    string   `json:"sees"`
	Nothing string   `json:"says_nothing_of"`
	Source  string   `json:"source"`
}

func testRows() any {
	var rows []testRow
	for _, r := range evidence.Rates() {
		rows = append(rows, testRow{r.Kind, r.Group, r.Error, known(r.Finer), r.Sees, r.Nothing, r.Source})
	}
	return rows
}

type conductivityRow struct {
	Metal  string  `json:"metal"`
	Family string  `json:"family"`
	From   float64 `json:"from_ppt"`
	To     float64 `json:"to_ppt"`
	Low    float64 `json:"low_percent_iacs"`
	High   float64 `json:"high_percent_iacs"`
	Source string  `json:"source"`
}

func conductivityRows() any {
	var rows []conductivityRow
	for _, a := range evidence.AlloyConductivities() {
		rows = append(rows, conductivityRow{
			a.Metal, a.Family, tidy(1000 * a.From), tidy(1000 * a.To),
			significant(a.Range.Low/evidence.PerPercentIACS, 6), significant(a.Range.High/evidence.PerPercentIACS, 6), a.Source,
		})
	}
	return rows
}
