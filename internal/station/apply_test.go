package station

import (
	"encoding/json"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wreath/internal/determination"
)

var read = []Shown{{Field: "liquid.temperature_c", Value: 21.5}}

// TestApplyFills writes out by hand what the draft becomes.
func TestApplyFills(t *testing.T) {
	given := draft(t, ringDoc)
	before := document(t, given)
	a, err := Apply(station(t, stationDoc), kit(t), given, read, noon)
	if err != nil {
		t.Fatal(err)
	}
	want := document(t, draft(t, `{"item": {"description": "plain band", "colour": "yellow", "stones": false},
 "claim": {"metal": "gold", "fineness": 750, "family": "gold-yellow"}, "house_rule": "two-immersions", "arrangement": "hanging",
 "air_g": [7.4218, 7.4219], "liquid_g": [6.9431, 6.9428], "closing_air_g": [7.4218],
 "liquid": {"kind": "water", "temperature_c": 21.24, "temperature_u_c": 0.049329,
            "proof": {"air_g": [39.65], "liquid_g": [34.6655], "density_kg_m3": 7930, "density_u_kg_m3": 0.4, "expansion_per_k": 48e-6}},
 "air": {"altitude_m": 440, "humidity_percent": 45},
 "balance": {"resolution_g": 0.0001, "repeatability_g": 0.0001, "repeatability_liquid_g": 0.0003, "repeatability_dof": 9, "linearity_g": 0.0002, "span_u_ppm": 2, "capacity_g": 210},
 "hanger": {"wire_diameter_mm": 0.2, "wires": 1, "vessel_diameter_mm": 70, "surface_u_g": 0}}`))
	if got := document(t, a.Draft); got != want {
		t.Errorf("the draft becomes\n%s, want\n%s", got, want)
	}
	if document(t, given) != before {
		t.Error("the draft given was changed")
	}
	if !slices.Contains(a.Fields, "liquid.temperature_c") || !slices.Contains(a.Fields, "balance.capacity_g") || slices.Contains(a.Fields, "air_g") {
		t.Errorf("from the station: %v", a.Fields)
	}
	if len(a.Statements) != 1 || a.Statements[0].Key != KeyCorrected || !strings.Contains(a.Statements[0].Text, "T-11") || a.Statements[0].Caution {
		t.Errorf("statements: %+v, want the correction with its certificate", a.Statements)
	}
	if want := []Ref{{"B-1", 1}, {"T-1", 1}, {"K-1", 1}}; !reflect.DeepEqual(a.Instruments, want) {
		t.Errorf("instruments: %v, want %v", a.Instruments, want)
	}
	if _, err := determination.Evaluate(a.Draft, determination.Options{}); err != nil {
		t.Errorf("the draft can't be evaluated: %v", err)
	}
}

// TestApplyYields: where the draft speaks of another thing, the station leaves the rest open.
func TestApplyYields(t *testing.T) {
	const readings = `"air_g": [7.4218], "liquid_g": [6.9431]`
	for _, c := range []struct {
		name, draft string
		open        []string // may not come from the station
	}{
		{"another liquid", `{` + readings + `, "liquid": {"kind": "ethanol-water", "ethanol_mass_percent": 94}}`, []string{"liquid.kind"}},
		{"another liquid, not named", `{` + readings + `, "liquid": {"density_kg_m3": 870, "density_u_kg_m3": 1}}`, []string{"liquid.kind"}},
		{"another balance", `{` + readings + `, "balance": {"repeatability_g": 0.01}}`, []string{"balance.repeatability_liquid_g", "balance.repeatability_dof"}},
		{"another hanger", `{` + readings + `, "hanger": {"wire_diameter_mm": 0.5}}`, []string{"hanger.surface_u_g", "hanger.wires"}},
		{"air by density", `{` + readings + `, "air": {"density_kg_m3": 1.19}}`, []string{"air.altitude_m", "air.humidity_percent"}},
		{"pressure read", `{` + readings + `, "air": {"pressure_hpa": 990}}`, []string{"air.altitude_m"}},
		{"no check piece weighed", `{` + readings + `}`, []string{"liquid.proof.density_kg_m3"}},
		{"another check piece", `{` + readings + `, "liquid": {"proof": {"air_g": 10, "liquid_g": 8, "volume_cm3": 2}}}`, []string{"liquid.proof.density_kg_m3", "liquid.proof.volume_u_cm3"}},
		{"no wire in a pycnometer", `{"method": "pycnometer"}`, []string{"hanger.wires", "arrangement"}},
		{"another house rule", `{` + readings + `, "house_rule": "first-look"}`, []string{"house_rule"}},
	} {
		a, err := Apply(station(t, stationDoc), kit(t), draft(t, c.draft), nil, noon)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		for _, field := range c.open {
			if slices.Contains(a.Fields, field) {
				t.Errorf("%s: %s came from the station", c.name, field)
			}
		}
	}
}

// TestApplyByMethod: a reference solid is for comparison only, and a comparison never stands.
func TestApplyByMethod(t *testing.T) {
	const solid = `{"id": "R-1", "version": 1, "kind": "reference solid", "solid": {"density_kg_m3": 2329, "density_u_kg_m3": 0.05}}`
	s := station(t, changed(t, changed(t, stationDoc, `"hanging"`, `"standing"`), `"balance":`, `"reference": {"id": "R-1", "version": 1}, "balance":`))
	k := append(kit(t), *instrument(t, solid))
	for _, c := range []struct {
		draft                  string
		arrangement, reference bool
	}{{`{}`, true, false}, {`{"method": "immersion"}`, true, false}, {`{"method": "comparison"}`, false, true}, {`{"method": "coated"}`, false, false}} {
		a, err := Apply(s, k, draft(t, c.draft), nil, noon)
		if err != nil {
			t.Fatal(err)
		}
		uses := slices.Contains(a.Instruments, Ref{"R-1", 1})
		if slices.Contains(a.Fields, "arrangement") != c.arrangement || slices.Contains(a.Fields, "reference.density_kg_m3") != c.reference || uses != c.reference {
			t.Errorf("%s: %v, %v", c.draft, a.Fields, a.Instruments)
		}
	}
}

func TestApplySpeaksOfPapers(t *testing.T) {
	s := station(t, stationDoc)
	for _, c := range []struct {
		name, from, to string
		keys           []string
		says           string
	}{
		{"no certificate", `"certificates": [{"number": "B-77", "issuer": "Invented Calibration", "date": "2026-03-01", "next_due": "2027-03-01",
                   "points_g": [{"shown": 100, "correction": 0.0001, "expanded_u": 0.0002, "k": 2}]}],`, ``, []string{KeyTraceability}, "no calibration certificate"},
		{"overdue", `"next_due": "2027-03-01"`, `"next_due": "2026-09-01"`, []string{KeyTraceability}, "overdue since 2026-09-01"},
		{"not accepted", `"passed": true`, `"passed": false`, []string{KeyAcceptance}, "acceptance"},
		{"accepted later", `"date": "2026-03-02"`, `"date": "2026-12-02"`, []string{KeyAcceptance}, "acceptance"},
	} {
		k := kit(t)
		k[1] = *instrument(t, changed(t, balanceDoc, c.from, c.to))
		a, err := Apply(s, k, draft(t, ringDoc), nil, noon)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		var keys []string
		said := ""
		for _, st := range a.Statements {
			if st.Caution {
				keys = append(keys, st.Key)
			}
			said += st.Text
		}
		if !slices.Equal(keys, c.keys) || !strings.Contains(said, c.says) {
			t.Errorf("%s: %+v", c.name, a.Statements)
		}
	}
	k := kit(t)
	k[1] = *instrument(t, changed(t, balanceDoc, `"place"`, `"out_of_service": {"since": "2026-11-20", "reason": "overloaded"}, "place"`))
	_, err := Apply(s, k, draft(t, ringDoc), nil, noon)
	refused(t, err, "balance", "overloaded")
	_, err = Apply(s, k[:2], draft(t, ringDoc), nil, noon)
	refused(t, err, "thermometer", "no instrument T-1, version 1")
}

func TestApplyRefuses(t *testing.T) {
	s, k := station(t, stationDoc), kit(t)
	try := func(doc string, shown ...Shown) error {
		_, err := Apply(s, k, draft(t, doc), shown, noon)
		return err
	}
	refused(t, try(ringDoc, Shown{Field: "liquid.temperature_c", Value: 31}), "liquid.temperature_c", "covers only 15 to 25 °C")
	refused(t, try(`{"liquid": {"temperature_c": 20}}`, read[0]), "liquid.temperature_c", "one of the two")
	refused(t, try(ringDoc, Shown{Field: "liquid.temperature_c", Value: 20, Instrument: &Ref{"B-1", 1}}), "liquid.temperature_c", "is a balance")
	refused(t, try(ringDoc, Shown{Field: "liquid.temperature_c", Value: 20, Instrument: &Ref{"T-9", 1}}), "liquid.temperature_c", "not known")
	refused(t, try(ringDoc, read[0], Shown{Field: "liquid.temperature_c", Value: 20, Instrument: &Ref{"T-1", 1}}), "liquid.temperature_c", "two instruments")
	refused(t, try(ringDoc, Shown{Field: "balance.resolution_g", Value: 1}), "balance.resolution_g", "not read")
}

// TestApplyChecksTheKit: a file that was never checked is not taken at its word.
func TestApplyChecksTheKit(t *testing.T) {
	k := kit(t)
	k[0].Solid = nil
	if _, err := Apply(station(t, stationDoc), k, draft(t, ringDoc), nil, noon); err == nil || !strings.Contains(err.Error(), "check_piece: the file of K-1, version 1: solid") {
		t.Errorf("a check piece without a volume: %v", err)
	}
	k = kit(t)
	k[2].ID, k[2].Certificates[1].PointsC[0].K = "T-2", 0
	shown := []Shown{{Field: "air.temperature_c", Value: 20, Instrument: &Ref{"T-2", 1}}}
	if _, err := Apply(nil, k, draft(t, ringDoc), shown, noon); err == nil || !strings.Contains(err.Error(), "points_c[0].k") {
		t.Errorf("a certificate without k: %v", err)
	}
}

// TestRoom reads all that the room has: the mean of two readings is corrected once, and the
// barometer takes the place of the altitude.
func TestRoom(t *testing.T) {
	const barometer = `{"id": "P-1", "version": 1, "kind": "barometer", "certificates": [{"number": "P-5", "issuer": "Invented Calibration", "date": "2026-01-01", "next_due": "2027-06-01",
 "points_hpa": [{"shown": 900, "correction": -1, "expanded_u": 0.4, "k": 2}, {"shown": 1000, "correction": -2, "expanded_u": 0.4, "k": 2}]}]}`
	const hygrometer = `{"id": "H-1", "version": 1, "kind": "hygrometer"}`
	s := station(t, changed(t, stationDoc, `"balance":`, `"barometer": {"id": "P-1", "version": 1}, "hygrometer": {"id": "H-1", "version": 1}, "air_thermometer": {"id": "T-1", "version": 1}, "balance":`))
	k := append(kit(t), *instrument(t, barometer), *instrument(t, hygrometer))
	a, err := Apply(s, k, draft(t, ringDoc), []Shown{
		{Field: "air.pressure_hpa", Value: 959.9}, {Field: "air.pressure_hpa", Value: 960.1},
		{Field: "air.humidity_percent", Value: 38}, {Field: "air.temperature_c", Value: 20},
	}, noon)
	if err != nil {
		t.Fatal(err)
	}
	if got := document(t, &determination.Draft{Air: a.Draft.Air}); got != `{"air":{"temperature_c":19.8,"pressure_hpa":958.4,"humidity_percent":38}}` {
		t.Errorf("the air is %s", got)
	}
	keys := ""
	for _, st := range a.Statements {
		keys += st.Key + " " + st.Instrument.ID + "; "
	}
	if keys != "corrected T-1; corrected P-1; not-corrected H-1; not-accepted P-1; traceability-not-shown H-1; not-accepted H-1; " {
		t.Errorf("statements: %s", keys)
	}
	if len(a.Instruments) != 5 {
		t.Errorf("instruments: %v", a.Instruments)
	}
}

// TestReadingsOfOneCondition takes readings together that may both be right, with what lies between them as
// uncertainty, and refuses those of which one must be a slip.
func TestReadingsOfOneCondition(t *testing.T) {
	water := func(values ...float64) (out []Shown) {
		for _, v := range values {
			out = append(out, Shown{Field: "liquid.temperature_c", Value: v})
		}
		return out
	}
	a, err := Apply(nil, nil, draft(t, ringDoc), water(21, 22.2), noon)
	if err != nil {
		t.Fatal(err)
	}
	// Uniform over 1.2 K beside 0.3 K: sqrt(0.09 + 1.44/12), JCGM 100 4.3.7.
	if l := a.Draft.Liquid; *l.TemperatureC != 21.6 || math.Abs(*l.TemperatureUC-0.458258) > 1e-6 {
		t.Errorf("the water is at %g with %g K", *l.TemperatureC, *l.TemperatureUC)
	}
	if _, err := Apply(nil, nil, draft(t, ringDoc), water(215, 21.4), noon); err == nil || !strings.Contains(err.Error(), "21.4 and 215 lie too far apart") {
		t.Errorf("21.4 and 215 °C: %v", err)
	}
}

func TestApplyWithoutStation(t *testing.T) {
	a, err := Apply(nil, nil, draft(t, ringDoc), read, noon)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(a.Fields, []string{"liquid.temperature_c"}) || *a.Draft.Liquid.TemperatureC != 21.5 || len(a.Statements) != 0 {
		t.Errorf("%v, %s, %v", a.Fields, document(t, a.Draft), a.Statements)
	}
}

// TestApplyNeverOverwrites draws drafts that give any part of the fields, and asks that every one
// comes back as it was given.
func TestApplyNeverOverwrites(t *testing.T) {
	s, k := station(t, stationDoc), kit(t)
	parts := []string{
		`"house_rule": "first-look"`, `"arrangement": "standing"`, `"method": "comparison"`, `"air": {"temperature_c": 19}`, `"air": {}`,
		`"liquid": {"kind": "measured", "density_kg_m3": 900}`, `"liquid": {"temperature_u_c": 1}`, `"liquid": {"proof": {"air_g": ["50.1 ct", 10.10]}}`,
		`"balance": {"zero": "read", "capacity_g": 5}`, `"hanger": {"wires": 3}`, `"reference": {"density_kg_m3": 2329}`, `"expansion_per_k": 1e-5`,
	}
	rapid.Check(t, func(t *rapid.T) {
		fields := map[string]bool{}
		var chosen []string
		for _, p := range parts {
			name, _, _ := strings.Cut(p, ":")
			if !fields[name] && rapid.Bool().Draw(t, p) {
				fields[name] = true
				chosen = append(chosen, p)
			}
		}
		given := draft(t, "{"+strings.Join(chosen, ", ")+"}")
		a, err := Apply(s, k, given, nil, noon)
		if err != nil {
			t.Fatal(err)
		}
		before, after := leaves(reflect.ValueOf(*given)), leaves(reflect.ValueOf(*a.Draft))
		for path, v := range before {
			if !reflect.DeepEqual(v.Interface(), after[path].Interface()) {
				t.Fatalf("%s was %v and is %v", path, v, after[path])
			}
		}
		if len(after) != len(before)+len(a.Fields) {
			t.Fatalf("%d fields given, %d now, %d said to come from the station: %v", len(before), len(after), len(a.Fields), a.Fields)
		}
		for _, path := range a.Fields {
			if _, was := before[path]; was {
				t.Fatalf("%s was given and is said to come from the station", path)
			}
		}
		again, err := Apply(s, k, a.Draft, nil, noon)
		if err != nil || document(t, again.Draft) != document(t, a.Draft) {
			t.Fatalf("applied twice: %v, %v", err, again)
		}
	})
}

// TestDraftsRoundTrip writes every example anew and reads it back.
func TestDraftsRoundTrip(t *testing.T) {
	for _, doc := range []string{ringDoc, `{}`, `{"liquid": {}, "item": {"stones": false}}`, `{"air_g": ["7.102 ct", 5.10, 1e0], "claim": {"standards_ppt": [750, 916.7], "made_by": "<a&b>"}}`} {
		d := draft(t, doc)
		text := document(t, d)
		if !json.Valid([]byte(text)) || !reflect.DeepEqual(d, draft(t, text)) {
			t.Errorf("%s comes back as %s", doc, text)
		}
	}
	if got := document(t, draft(t, `{"air_g": [5.10, "7.102 ct"], "liquid": {}}`)); got != `{"air_g":[5.10,"7.102 ct"],"liquid":{}}` {
		t.Errorf("written as %s: a reading keeps its last nought", got)
	}
}

func TestStationsAreChecked(t *testing.T) {
	for _, c := range []struct{ from, to, path, says string }{
		{`"id": "S-1"`, `"id": ""`, "id", "missing"},
		{`"version": 2`, `"version": -1`, "version", "Count"},
		{`"version": 2`, `"format": 9, "version": 2`, "format", "not known"},
		{`"altitude_m": 440`, `"altitude_m": 44000`, "altitude_m", "cannot be right"},
		{`{"id": "B-1", "version": 1}`, `{"id": "B-1"}`, "balance.version", "Count"},
		{`"arrangement": "hanging"`, `"arrangement": "hangin"`, "arrangement", "Did you mean hanging"},
		{`"house_rule": "two-immersions"`, `"house_rule": "none-such"`, "house_rule", "none-such"},
		{`"wire_diameter_mm": 0.2`, `"wire_diameter_mm": 200`, "hanger.wire_diameter_mm", "cannot be right"},
		{`{"kind": "water"}`, `{"kind": "water", "ethanol_mass_percent": 90}`, "liquid.ethanol_mass_percent", "belongs to"},
		{`{"kind": "water"}`, `{"kind": "water", "proof": {}}`, "liquid.proof", "does not belong"},
		{`"humidity_percent": 45`, `"humidity_percent": 145`, "defaults.air.humidity_percent", "cannot be right"},
		{`"defaults": {`, `"defaults": {"claim": {"metal": "gold"}, `, "defaults.claim", "one item"},
		{`"defaults": {`, `"defaults": {"air_g": 3, `, "defaults.air_g", "Readings"},
		{`"defaults": {`, `"defaults": {"house_rule": "two-immersions", `, "defaults.house_rule", "own house_rule"},
		{`"defaults": {`, `"defaults": {"humour": 3, `, "defaults.humour", "no such field"},
	} {
		_, err := DecodeStation([]byte(changed(t, stationDoc, c.from, c.to)))
		if err == nil {
			t.Errorf("%s: no error", c.to)
			continue
		}
		refused(t, err, c.path, c.says)
	}
}

func TestChanges(t *testing.T) {
	before := station(t, stationDoc)
	after := station(t, changed(t, changed(t, stationDoc, `"version": 2`, `"version": 3`), `"wires": 1, `, ``))
	got, err := ChangesOf(before, after)
	if want := []Change{{"hanger.wires", "1", ""}, {"version", "2", "3"}}; err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%v, %v, want %v", got, err, want)
	}
	for _, c := range []struct {
		before, after string
		want          []Change
	}{
		{`{"a": [1, 2]}`, `{"a": [1]}`, []Change{{"a[1]", "2", ""}}},
		{`{"a": 5.1}`, `{"a": 5.10}`, []Change{{"a", "5.1", "5.10"}}},
		{`{"a": null}`, `{}`, []Change{{"a", "null", ""}}},
		{`{"a": {"b": 1}}`, `{"a": [1]}`, []Change{{"a", `{"b":1}`, "[1]"}}},
		{``, `{"a": 1}`, []Change{{"", "", `{"a":1}`}}},
		{`{"b": 1, "a": "<"}`, `{"a":"<","b":1}`, nil},
	} {
		got, err := Compare([]byte(c.before), []byte(c.after))
		if err != nil || !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s to %s: %v, %v, want %v", c.before, c.after, got, err, c.want)
		}
	}
	if _, err := Compare([]byte(`{`), []byte(`{}`)); err == nil {
		t.Error("half a document is compared")
	}
}

func FuzzDecodeStation(f *testing.F) {
	for _, doc := range []string{stationDoc, `{}`, `{"defaults": {"air": {"density_kg_m3": 1.2}}, "id": "a", "version": 1}`, `{"id":"a","version":1,"arrangement":"standing"}`} {
		f.Add([]byte(doc))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := DecodeStation(data)
		if err != nil {
			return
		}
		text, err := s.Encode()
		if err != nil {
			t.Fatal(err)
		}
		again, err := DecodeStation(text)
		if err != nil {
			t.Fatalf("%v: %s", err, text)
		}
		if changes, err := ChangesOf(s, again); err != nil || len(changes) > 0 {
			t.Fatalf("%v, %v", changes, err)
		}
	})
}
