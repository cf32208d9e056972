package paper

import (
	"encoding/json"
	"strconv"

	"wreath/internal/determination"
	"wreath/internal/station"
)

// Changes lists what differs for a reader between a report and the one that amends it: the texts of
// the paper, what was evaluated, and the results. How the results came about stands in the records,
// which keep both versions in full.
func Changes(before, after *Facts) ([]station.Change, error) {
	x, err := before.compared()
	if err != nil {
		return nil, err
	}
	y, err := after.compared()
	if err != nil {
		return nil, err
	}
	return station.Compare(x, y)
}

// compared is what a report says, without what differs in any case: its number, date and signatures.
func (f *Facts) compared() ([]byte, error) {
	a, err := f.Answer()
	if err != nil {
		return nil, err
	}
	type result struct {
		Method    string                 `json:"method"`
		Density   float64                `json:"density_kg_m3"`
		Expanded  float64                `json:"U_kg_m3"`
		Fineness  *[3]float64            `json:"fineness_low_high_safe,omitempty"`
		Finding   *determination.Finding `json:"finding,omitempty"`
		NotSeen   []string               `json:"never_excluded,omitempty"`
		TrueMassG float64                `json:"true_mass_g"`
	}
	r := result{Method: a.Method, Density: a.Density20C.KgM3, Expanded: a.Density20C.UExpanded, Finding: a.Finding, NotSeen: a.NeverExcluded, TrueMassG: a.TrueMassG}
	if a.Fineness != nil {
		r.Fineness = &[3]float64{a.Fineness.Low, a.Fineness.High, a.Fineness.Safe}
	}
	rounded, err := readable(r)
	if err != nil {
		return nil, err
	}
	deviations, opinion := "", ""
	if f.Report != nil {
		deviations, opinion = f.Report.Deviations, f.Report.Opinion
	}
	return json.Marshal(struct {
		Shop       Shop            `json:"shop"`
		Record     string          `json:"record"`
		Item       *Item           `json:"item,omitempty"`
		Declared   []Declared      `json:"declared,omitempty"`
		Customer   Party           `json:"customer"`
		Deviations string          `json:"deviations,omitempty"`
		Opinion    string          `json:"opinion,omitempty"`
		Document   json.RawMessage `json:"document"`
		Result     any             `json:"result"`
	}{f.Shop, f.Record.Number, f.Item, f.Declared, f.Customer, deviations, opinion, f.Record.Document, rounded})
}

// readable is a document with its numbers at six digits, one or two more than a result has that count.
func readable(document any) (any, error) {
	data, err := json.Marshal(document)
	if err != nil {
		return nil, err
	}
	var v any
	if err := json.Unmarshal(data, &v); err != nil {
		return nil, err
	}
	return shortened(v), nil
}

func shortened(v any) any {
	switch v := v.(type) {
	case float64:
		return json.Number(strconv.FormatFloat(v, 'g', 6, 64))
	case []any:
		for i := range v {
			v[i] = shortened(v[i])
		}
	case map[string]any:
		for key := range v {
			v[key] = shortened(v[key])
		}
	}
	return v
}
