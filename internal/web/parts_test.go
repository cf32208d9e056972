package web

import (
	"html"
	"strings"
	"testing"

	"wreath/internal/desk"
	"wreath/internal/record"
)

// TestSheetOfPartsSaysWhatIsNotJudged opens sheets of an item of parts: that faults which show in the density
// alone are not judged stands beside the trust in it, and no sheet says "no doubts" without that. A second
// liquid's density stands beside the first.
func TestSheetOfPartsSaysWhatIsNotJudged(t *testing.T) {
	s := newBench(t)
	by, c := s.who("boss"), s.client()
	page := func(document string, more ...[2]string) string {
		t.Helper()
		sheet, err := s.desk.OpenSheet(t.Context(), by, desk.Begin{Station: "S-1", Document: []byte(document)})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range append(more, readings...) {
			if _, err := s.desk.Take(t.Context(), by, sheet.Sheet.ID, record.Reading{Slot: r[0], Text: r[1], Source: record.Typed}); err != nil {
				t.Fatal(err)
			}
		}
		return html.UnescapeString(c.get("/sheet/" + sheet.Sheet.ID).want(200).body)
	}
	const note = "faults that show in the density alone can't be judged for an item of parts"
	set := page(`{"claim": {"metal": "gold", "fineness": 750, "family": "gold-yellow"}, "item": {"stones_set": {"species": "diamond", "carat_each": 0.05}}}`)
	if !strings.Contains(set, note) || !strings.Contains(set, "no doubts in the readings") {
		t.Error("the sheet of a set ring does not say what is not judged")
	}
	if plain := page(claimDoc); strings.Contains(plain, note) || !strings.Contains(plain, ">no doubts<") || strings.Contains(plain, "In the second liquid") {
		t.Error("a plain ring is said to be of parts, or doubted, or weighed in two liquids")
	}
	two := page(strings.Replace(claimDoc, `{`, `{"second_liquid": {"kind": "ethanol-water", "ethanol_mass_percent": 93, "temperature_c": 20}, `, 1), [2]string{"second_liquid.liquid_g", "7.0339"})
	if !strings.Contains(two, "In the second liquid (ethanol-water, 809.") {
		t.Error("the density by the second liquid is not shown")
	}
}
