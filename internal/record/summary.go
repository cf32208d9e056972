package record

import (
	"math"
	"slices"

	"wreath/internal/determination"
)

// Summary is what a list shows of a record, and what it is found by.
type Summary struct {
	Number      string   `json:"number" doc:"of the record"`
	Item        string   `json:"item,omitempty" doc:"id of the item"`
	Barcode     string   `json:"barcode,omitempty" doc:"of its tray or bag"`
	Description string   `json:"description,omitempty" doc:"of the item, in words"`
	Method      string   `json:"method" doc:"method and arrangement"`
	Claim       string   `json:"claim,omitempty" doc:"in words"`
	Metal       string   `json:"metal,omitempty" doc:"claimed; found where none is claimed and the density leaves one only"`
	FinenessPpt *float64 `json:"fineness_ppt,omitempty" doc:"claimed"`
	Finding     string   `json:"finding" doc:"met, not met, undecided or none"`
	DensityKgM3 float64  `json:"density_kg_m3" doc:"at 20 °C"`
	UKgM3       float64  `json:"U_kg_m3" doc:"its expanded uncertainty, 95 %"`
	LowPpt      *float64 `json:"low_ppt,omitempty" doc:"lower end of the fineness, 95 %"`
	HighPpt     *float64 `json:"high_ppt,omitempty" doc:"upper end"`
	SafePpt     *float64 `json:"safe_ppt,omitempty" doc:"the figure to pay by, rounded down; left out while weighing or metal is in doubt"`
	TrueMassG   float64  `json:"true_mass_g" doc:"mass free of the buoyancy of the air"`
	Doubts      int      `json:"doubts" doc:"signs that the weighing is at fault"`
	Suspended   bool     `json:"suspended,omitempty" doc:"true when a doubt holds the finding back"`
	Cautions    int      `json:"cautions" doc:"statements on instruments and marks on the readings that weaken the result"`
	Supersedes  string   `json:"supersedes,omitempty" doc:"number of the record that it corrects"`
}

// Summary reads the facets out of the stored document and answer.
func (r *Record) Summary() (*Summary, error) {
	a, err := r.answer()
	if err != nil {
		return nil, err
	}
	d, err := determination.Decode(r.Document)
	if err != nil {
		return nil, err
	}
	s := &Summary{
		Number: r.Number, Item: r.Sheet.Item, Barcode: r.Sheet.Barcode, Description: a.Item, Method: a.Method, Finding: "none",
		DensityKgM3: a.Density20C.KgM3, UKgM3: a.Density20C.UExpanded, TrueMassG: a.TrueMassG,
		Doubts: len(a.Doubts), Cautions: len(r.Marks),
	}
	for _, st := range r.Statements {
		if st.Caution {
			s.Cautions++
		}
	}
	if c := d.Claim; c != nil {
		s.Metal, s.FinenessPpt = c.Metal, c.Fineness
		if l := a.LegalLimit; c.Fineness == nil && c.Carat != nil && l != nil {
			// The fineness that the trade means by the carat, as the answer took it.
			ppt := l.LimitPpt
			if c.TolerancePpt != nil {
				ppt += *c.TolerancePpt
			}
			ppt = math.Round(ppt*1e6) / 1e6
			s.FinenessPpt = &ppt
		}
	}
	if a.Finding != nil {
		s.Finding, s.Claim = a.Finding.Result, a.Finding.Claim
	}
	s.Suspended = slices.ContainsFunc(a.Doubts, func(d determination.Doubt) bool { return d.Suspends })
	if f := a.Fineness; f != nil {
		s.LowPpt, s.HighPpt = &f.Low, &f.High
		if s.Metal == "" && len(a.OtherMetals) == 0 {
			s.Metal = f.Metal
		}
		if !s.Suspended && len(a.OtherMetals) == 0 && a.Density20C.HighKgM3 != nil {
			safe := math.Floor(f.Safe*10) / 10
			s.SafePpt = &safe
		}
	}
	if r.Supersedes != nil {
		s.Supersedes = r.Supersedes.Number
	}
	return s, nil
}
