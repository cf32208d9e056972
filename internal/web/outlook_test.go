package web

import (
	"html"
	"strings"
	"testing"

	"wreath/internal/desk"
	"wreath/internal/record"
)

// TestSheetSaysBeforeWettingWhetherItCanTell opens sheets on a fine and on a coarse balance.
func TestSheetSaysBeforeWettingWhetherItCanTell(t *testing.T) {
	s := newBench(t)
	by, c := s.who("boss"), s.client()
	open := func(station, document string, readings ...[2]string) string {
		t.Helper()
		sheet, err := s.desk.OpenSheet(t.Context(), by, desk.Begin{Station: station, Document: []byte(document)})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range readings {
			if _, err := s.desk.Take(t.Context(), by, sheet.Sheet.ID, record.Reading{Slot: r[0], Text: r[1], Source: record.Typed}); err != nil {
				t.Fatal(err)
			}
		}
		return html.UnescapeString(c.get("/sheet/" + sheet.Sheet.ID).want(200).body)
	}
	const coarse = `{"balance": {"resolution_g": 0.01}, "arrangement": "hanging", "liquid": {"kind": "water"}, "claim": {"metal": "gold", "fineness": 750, "family": "gold-yellow"}}`
	intake := strings.Replace(claimDoc, `"stones": false`, `"stones": false, "intake_mass_g": 7.42`, 1)
	for _, row := range []struct {
		name, page string
		says, not  []string
	}{
		{"nothing read", open("S-1", claimDoc), []string{`href="/plan?colour=yellow&family=gold-yellow&fineness=750&metal=gold&station=S-1"`}, []string{`id="outlook"`}},
		{"weighed in air", open("S-1", claimDoc, readings[1]), []string{"<b>2 immersions will do.</b>", "on an item of 7.42 g", "&mass=7.4218&", "&unit=g"}, nil},
		{"as taken in", open("S-1", intake), []string{"<b>2 immersions will do.</b>", "&mass=7.42&"}, nil},
		{"wet", open("S-1", claimDoc, readings[1], readings[2]), []string{"&mass=7.4218&"}, []string{`id="outlook"`}},
		{"coarse", open("", coarse, [2]string{"air_g", "2.00"}), []string{"<b>This balance can't answer that.</b>", "and a balance that reads 0.001 g can", "resolution=0.01+g"}, nil},
		{"no claim", open("S-1", `{}`, readings[1]), nil, []string{`id="outlook"`, "/plan?"}},
		{"a stone", open("S-1", `{"claim": {"stone": "diamond"}}`, readings[1]), nil, []string{`id="outlook"`, "/plan?"}},
		{"a metal alone", open("S-1", `{"claim": {"metal": "gold"}}`, readings[1]), nil, []string{`id="outlook"`, "/plan?"}},
	} {
		for _, w := range row.says {
			if !strings.Contains(row.page, w) {
				t.Errorf("%s: the sheet does not say %q", row.name, w)
			}
		}
		for _, w := range row.not {
			if strings.Contains(row.page, w) {
				t.Errorf("%s: the sheet says %q", row.name, w)
			}
		}
	}
}
