package web

import (
	"html"
	"regexp"
	"strings"
	"testing"

	"wreath/internal/desk"
	"wreath/internal/determination"
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
		{"nothing read", open("S-1", claimDoc), []string{`href="/plan?colour=yellow&family=gold-yellow&fineness=750&metal=gold&sheet=`, `&station=S-1"`}, []string{`id="outlook"`}},
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

// TestSheetsFiguresTravelToItsPlan follows the way from a sheet to its plan: what was read on the sheet is
// not assumed there, and what the form says takes its place.
func TestSheetsFiguresTravelToItsPlan(t *testing.T) {
	s := newBench(t)
	by, c := s.who("boss"), s.client()
	sheet, err := s.desk.OpenSheet(t.Context(), by, desk.Begin{Station: "S-1", Document: []byte(claimDoc)})
	if err != nil {
		t.Fatal(err)
	}
	link := regexp.MustCompile(`href="(/plan\?[^"]*)"`)
	page := func() string {
		t.Helper()
		found := link.FindStringSubmatch(c.get("/sheet/" + sheet.Sheet.ID).want(200).body)
		if found == nil {
			t.Fatal("the sheet leads to no plan")
		}
		return html.UnescapeString(found[1])
	}
	const guessed = "20 °C, standard uncertainty 2 K"
	if body := html.UnescapeString(c.get(page() + "&mass=7.42&ask=1").want(200).body); !strings.Contains(body, guessed) {
		t.Error("nothing was read on the sheet, and the plan assumes no temperature")
	}
	for _, r := range readings[:2] {
		if _, err := s.desk.Take(t.Context(), by, sheet.Sheet.ID, record.Reading{Slot: r[0], Text: r[1], Source: record.Typed}); err != nil {
			t.Fatal(err)
		}
	}
	at := page()
	body := html.UnescapeString(c.get(at).want(200).body)
	if strings.Contains(body, guessed) || !strings.Contains(body, `name="sheet" value="`+sheet.Sheet.ID+`"`) || !strings.Contains(body, "on an item of 7.42 g") {
		t.Error("the temperature that was read on the sheet is assumed in its plan")
	}
	if body := html.UnescapeString(c.get(at + "&temperature=47").want(422).body); !strings.Contains(body, "47 °C is outside") {
		t.Error("what the form says does not take the place of what the sheet says")
	}
	for _, away := range []string{strings.Replace(at, sheet.Sheet.ID, "D-404", 1), strings.Replace(at, "station=S-1", "station=&resolution=0.001", 1)} {
		if body := c.get(away).want(200).body; strings.Contains(body, `name="sheet"`) {
			t.Errorf("%s: the plan names a sheet that it does not go by", away)
		}
	}
}

// TestDryDraftKeepsTheProof: a check piece that was weighed in the liquid holds for the plan too; one of
// which only the weighing in air is known proves nothing.
func TestDryDraftKeepsTheProof(t *testing.T) {
	proof := &determination.Proof{AirG: []determination.Reading{{Gram: 39.65}}, LiquidG: []determination.Reading{{Gram: 34.6655}}}
	d := &determination.Draft{Liquid: &determination.Liquid{Kind: "water", Proof: proof}, AirG: proof.AirG}
	if dry := dryDraft(d); dry.Liquid.Proof != proof || dry.AirG != nil {
		t.Errorf("%+v", dry)
	}
	d.Liquid.Proof = &determination.Proof{AirG: proof.AirG}
	if dry := dryDraft(d); dry.Liquid.Proof != nil || d.Liquid.Proof == nil {
		t.Errorf("%+v", dry.Liquid)
	}
}
