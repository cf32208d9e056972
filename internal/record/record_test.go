package record

import (
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wreath/internal/determination"
	"wreath/internal/station"
)

// TestDocumentByHand compares the document of a sheet with one written by hand, and the answers.
func TestDocumentByHand(t *testing.T) {
	const byHand = `{"item": {"description": "plain band, stamp 750", "colour": "yellow", "stones": false},
 "claim": {"metal": "gold", "fineness": 750, "family": "gold-yellow", "made_by": "stamp"}, "arrangement": "hanging",
 "air_g": [7.4218], "liquid_g": ["6.9431 g", 6.9428], "closing_air_g": [7.4218],
 "liquid": {"kind": "water", "temperature_c": 21.4, "temperature_u_c": 0.057735,
            "proof": {"air_g": [39.6500], "liquid_g": [34.6655], "density_kg_m3": 7930, "density_u_kg_m3": 0.4}},
 "air": {"altitude_m": 40},
 "balance": {"resolution_g": 0.0001, "repeatability_g": 0.0001, "repeatability_liquid_g": 0.0003, "repeatability_dof": 20, "capacity_g": 210},
 "hanger": {"wire_diameter_mm": 0.2, "wires": 1, "vessel_diameter_mm": 70, "surface_u_g": 0}}`
	s, m := ring(t)
	r := must[*Record](t)(Make(s, m))
	want := must[*determination.Draft](t)(determination.Decode([]byte(byHand)))
	if got := string(must[[]byte](t)(station.WriteDraft(want))); string(r.Document) != got {
		t.Errorf("the sheet makes\n%s, by hand it is\n%s", r.Document, got)
	}
	a := must[*determination.Answer](t)(determination.Evaluate(want, m.Options))
	if text := must[[]byte](t)(json.Marshal(a)); string(text) != string(r.Answer) {
		t.Errorf("the answer is\n%s, want\n%s", r.Answer, text)
	}
	if !slices.Equal(r.Marks, []string{"Readings set aside: 1 of 8."}) {
		t.Errorf("marks %q", r.Marks)
	}
	// The thermometer was due on 1 November and was read on the 26th.
	said := ""
	for _, st := range r.Statements {
		said += st.Key + " " + st.Instrument.ID + "; "
	}
	if said != "corrected T-1; traceability-not-shown T-1; " {
		t.Errorf("statements: %s", said)
	}
	if len(r.Used) != 3 || len(r.Instruments) != 3 || !slices.Contains(r.FromStation, "balance.capacity_g") {
		t.Errorf("used %v, kept %d, from the station %v", r.Used, len(r.Instruments), r.FromStation)
	}
	if r.Versions.Formulas == "" || r.Versions.Tables == "" || r.Versions.Go == "" || r.Versions.Arch == "" || r.Versions.Program != "test" {
		t.Errorf("versions %+v", r.Versions)
	}
}

func examples(t failer) map[string][]byte {
	t.Helper()
	all := map[string][]byte{}
	for _, name := range []string{"bar", "coin", "first", "gold-dust", "platinum-band", "porous-casting", "ring-in-ethanol", "ring", "spoon", "standing-vessel", "stone"} {
		all[name] = must[[]byte](t)(os.ReadFile(filepath.Join("..", "..", "examples", name+".json")))
	}
	return all
}

func fromExample(t failer, document []byte) *Record {
	t.Helper()
	return must[*Record](t)(MakeFromDocument(document, Sheet{ID: "D", Opened: at(0)}, Imported,
		Making{ID: "R", Number: "N", Made: at(1), Options: determination.Options{Version: "test"}}))
}

// TestExamplesThroughASheet: taken apart into readings and put together again, every example is
// the same document, with the same answer.
func TestExamplesThroughASheet(t *testing.T) {
	for name, document := range examples(t) {
		r := fromExample(t, document)
		d := must[*determination.Draft](t)(determination.Decode(document))
		if want := must[[]byte](t)(station.WriteDraft(d)); string(r.Document) != string(want) {
			t.Errorf("%s becomes\n%s, want\n%s", name, r.Document, want)
		}
		a := must[*determination.Answer](t)(determination.Evaluate(d, determination.Options{Version: "test"}))
		if want := must[[]byte](t)(json.Marshal(a)); string(r.Answer) != string(want) {
			t.Errorf("%s: another answer", name)
		}
		for _, reading := range r.Sheet.Readings {
			if reading.Source != Imported || reading.Person != "P-1" || !reading.Time.Equal(noon) {
				t.Errorf("%s: %+v", name, reading)
			}
		}
	}
}

// TestWithdrawnReadingsDoNotCount puts readings that are set aside between those of an example, in
// any place and of any kind.
func TestWithdrawnReadingsDoNotCount(t *testing.T) {
	all := examples(t)
	rapid.Check(t, func(t *rapid.T) {
		document := all[rapid.SampledFrom([]string{"ring", "stone", "gold-dust", "standing-vessel"}).Draw(t, "example")]
		whole := must[Sheet](t)(FromDocument(document, Sheet{ID: "D", Opened: at(0)}, Typed))
		want := must[*Complete](t)(Document(&whole, nil, nil))
		s := whole
		s.Readings = nil
		stray := func() {
			for rapid.IntRange(0, 3).Draw(t, "stray") == 0 {
				s = taken(t, s, reading(rapid.SampledFrom(slices.Concat(Slots, station.ShownFields)).Draw(t, "slot"), "9.9", 5))
				s = must[Sheet](t)(s.Withdraw(len(s.Readings), at(6), "drawn"))
			}
		}
		for _, r := range whole.Readings {
			stray()
			s = taken(t, s, r)
		}
		stray()
		if got := must[*Complete](t)(Document(&s, nil, nil)); string(got.Document) != string(want.Document) {
			t.Fatalf("makes\n%s, want\n%s", got.Document, want.Document)
		}
	})
}

// TestRestored (ISO/IEC 17025:2017, 7.5.1): what was derived is deleted, and comes back bit for
// bit from what was observed.
func TestRestored(t *testing.T) {
	s, m := ring(t)
	records := []*Record{must[*Record](t)(Make(s, m))}
	for _, document := range examples(t) {
		records = append(records, fromExample(t, document))
	}
	for _, r := range records {
		bare := &Record{
			Format: r.Format, ID: r.ID, Number: r.Number, Made: r.Made, Sheet: r.Sheet, Station: r.Station, Instruments: r.Instruments,
			Supersedes: r.Supersedes, Versions: Versions{Program: r.Versions.Program, MonteCarlo: r.Versions.MonteCarlo},
		}
		again := must[*Record](t)(bare.Restored())
		if x, y := must[[]byte](t)(r.Encode()), must[[]byte](t)(again.Encode()); string(x) != string(y) {
			t.Errorf("%s: the record comes back as\n%s, want\n%s", r.ID, y, x)
		}
	}
}

func TestRecordsRoundTrip(t *testing.T) {
	s, m := ring(t)
	r := must[*Record](t)(Make(s, m))
	text := must[[]byte](t)(r.Encode())
	again := must[*Record](t)(Decode(text))
	if x := must[[]byte](t)(again.Encode()); string(x) != string(text) {
		t.Errorf("comes back as\n%s, want\n%s", x, text)
	}
	if !reflect.DeepEqual(r.Station, again.Station) || !reflect.DeepEqual(r.Instruments, again.Instruments) || string(r.Answer) != string(again.Answer) {
		t.Error("station, instruments or answer come back changed")
	}
	// A store that lays the text out anew does no harm.
	var tree json.RawMessage = text
	indented := must[[]byte](t)(json.MarshalIndent(tree, "", "  "))
	if x := must[*Record](t)(Decode(indented)); string(must[[]byte](t)(x.Encode())) != string(text) {
		t.Error("laid out anew, the record comes back changed")
	}
	for _, c := range []struct{ from, to, path string }{
		{`"number":"2026-0001"`, `"number":""`, "number"},
		{`"monte_carlo":"always"`, `"monte_carlo":"never"`, "versions.monte_carlo"},
		{`"station":{"id":"S-1"`, `"station":{"id":"S-9"`, "station"},
		{`{"format":1`, `{"format":2`, "format"},
		{`,"solid":{"density_kg_m3":7930,"density_u_kg_m3":0.4}`, ``, "instruments[2].solid"},
		{`"id":"R-1"`, `"id":"R-1","id":"R-1"`, ""},
	} {
		if !strings.Contains(string(text), c.from) {
			t.Fatalf("%s does not hold %s", text, c.from)
		}
		_, err := Decode([]byte(strings.Replace(string(text), c.from, c.to, 1)))
		if err == nil {
			t.Errorf("%s: no error", c.to)
			continue
		}
		refused(t, err, c.path, "")
	}
}

func TestMakeRefuses(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Sheet, *Making)
		path   string
	}{
		{"no number", func(_ *Sheet, m *Making) { m.Number = "" }, "number"},
		{"nobody", func(_ *Sheet, m *Making) { m.Made.Person = "" }, "made.person"},
		{"no station", func(_ *Sheet, m *Making) { m.Station = nil }, "station"},
		{"another version of the station", func(_ *Sheet, m *Making) { s := *m.Station; s.Version = 9; m.Station = &s }, "station"},
		{"a station for none", func(s *Sheet, _ *Making) { s.Station = nil }, "station"},
		{"no instruments", func(_ *Sheet, m *Making) { m.Instruments = nil }, "balance"},
		{"a correction of itself", func(_ *Sheet, m *Making) { m.Supersedes = &Supersedes{"R-1", "0", "why"} }, "supersedes.id"},
		{"a correction without a reason", func(_ *Sheet, m *Making) { m.Supersedes = &Supersedes{"R-0", "0", ""} }, "supersedes.reason"},
		{"no reading in the liquid", func(s *Sheet, _ *Making) {
			*s, _ = s.Withdraw(6, at(11), "wrong")
			*s, _ = s.Withdraw(7, at(11), "wrong")
		}, "liquid_g"},
		{"an unknown thermometer", func(s *Sheet, _ *Making) {
			*s, _ = s.Withdraw(1, at(11), "wrong")
			r := reading("liquid.temperature_c", "21.5", 12)
			r.Instrument = &station.Ref{ID: "T-9", Version: 1}
			*s, _ = s.Take(r)
		}, "readings"},
		{"two balances", func(s *Sheet, m *Making) {
			other := m.Instruments[0]
			other.ID = "B-2"
			m.Instruments = append(m.Instruments, other)
			r := reading("liquid_g", "6.9429", 12)
			r.Instrument = &station.Ref{ID: "B-2", Version: 1}
			*s, _ = s.Take(r)
		}, "readings"},
		{"outside the certificate", func(s *Sheet, _ *Making) {
			*s, _ = s.Withdraw(1, at(11), "wrong")
			*s, _ = s.Take(reading("liquid.temperature_c", "25.5", 12))
		}, "liquid.temperature_c"},
	} {
		s, m := ring(t)
		c.change(&s, &m)
		r, err := Make(s, m)
		if err == nil {
			t.Errorf("%s: no error, %s", c.name, r.Document)
			continue
		}
		refused(t, err, c.path, "")
	}
}

// TestReadingsOnNamedInstruments: a reading may name the station's balance in any version, and
// another thermometer than the station's; that one's certificate then counts, and it is kept.
func TestReadingsOnNamedInstruments(t *testing.T) {
	s, m := ring(t)
	s = must[Sheet](t)(s.Withdraw(1, at(11), "wrong thermometer"))
	r := reading("liquid.temperature_c", "21.5 °C", 12)
	r.Instrument = &station.Ref{ID: "T-2", Version: 1}
	air := reading("liquid_g", "6.9430", 13)
	air.Instrument = m.Station.Balance
	s = taken(t, s, r, air)
	other := m.Instruments[1]
	other.ID, other.Version = "T-2", 1
	other.Certificates = []station.Certificate{{
		Number: "T-99", Issuer: "Invented Calibration", Date: "2026-11-01", NextDue: "2027-11-01",
		PointsC: []station.Point{{Shown: 20, Correction: 0.3, ExpandedU: 0.1, K: 2}, {Shown: 25, Correction: 0.3, ExpandedU: 0.1, K: 2}},
	}}
	m.Instruments = append(m.Instruments, other)
	rec := must[*Record](t)(Make(s, m))
	d := must[*determination.Draft](t)(determination.Decode(rec.Document))
	if *d.Liquid.TemperatureC != 21.8 || len(d.LiquidG) != 3 || len(rec.Instruments) != 4 || rec.Instruments[3].ID != "T-2" {
		t.Errorf("%s, %d instruments", rec.Document, len(rec.Instruments))
	}
	if !slices.Contains(rec.Used, station.Ref{ID: "T-2", Version: 1}) || !strings.Contains(rec.Statements[0].Text, "T-99") {
		t.Errorf("used %v, %+v", rec.Used, rec.Statements)
	}
	if again := must[*Repeat](t)(Again(must[*Record](t)(Decode(must[[]byte](t)(rec.Encode()))), m.Options)); !again.Same {
		t.Errorf("%+v", again)
	}
}

func TestAgain(t *testing.T) {
	s, m := ring(t)
	m.Options.MonteCarlo = determination.WhereNeeded
	r := must[*Record](t)(Make(s, m))
	p := must[*Repeat](t)(Again(r, m.Options))
	if !p.Same || len(p.Figures)+len(p.Document)+len(p.Versions) > 0 || !strings.Contains(p.Sentence, "bit for bit") {
		t.Errorf("the same program: %+v", p)
	}
	p = must[*Repeat](t)(Again(r, determination.Options{Version: "later"}))
	if want := []station.Change{{Path: "program", Old: `"test"`, New: `"later"`}}; !p.Same || !reflect.DeepEqual(p.Versions, want) {
		t.Errorf("a later program: %+v", p)
	}

	// A record of another program: one figure another in its last bit, one visibly.
	old := *r
	var a determination.Answer
	if err := json.Unmarshal(r.Answer, &a); err != nil {
		t.Fatal(err)
	}
	last, visible := a.AirDensityKgM3, a.VolumeCm3
	a.AirDensityKgM3 *= 1 + 3e-16
	old.Answer = must[[]byte](t)(json.Marshal(a))
	old.Versions.Formulas = "2020-01"
	p = must[*Repeat](t)(Again(&old, m.Options))
	if p.Same || len(p.Figures) != 1 || p.Figures[0].Path != "air_density_kg_m3" || p.Figures[0].Shows || !strings.Contains(p.Sentence, "last bits") || a.AirDensityKgM3 == last {
		t.Errorf("a last bit: %+v", p)
	}
	a.VolumeCm3 *= 1.00001
	a.Cautions = append(a.Cautions, "an old one")
	old.Answer = must[[]byte](t)(json.Marshal(a))
	p = must[*Repeat](t)(Again(&old, m.Options))
	if p.Same || len(p.Figures) != 3 || !p.Figures[1].Shows || !p.Figures[2].Shows || !strings.Contains(p.Sentence, "2 of them visibly") || !strings.Contains(p.Sentence, "formulas") || visible == a.VolumeCm3 {
		t.Errorf("visibly: %+v", p)
	}

	// A document that the readings do not make.
	forged := *r
	forged.Document = []byte(strings.Replace(string(r.Document), "7.4218", "7.4219", 1))
	p = must[*Repeat](t)(Again(&forged, m.Options))
	if p.Same || len(p.Document) != 1 || p.Document[0].Path != "air_g[0]" || p.Document[0].New != "7.4218" {
		t.Errorf("a forged document: %+v", p)
	}
	forged.Document = []byte(strings.Replace(string(r.Document), `{"item"`, `{"note":"added later","item"`, 1))
	p = must[*Repeat](t)(Again(&forged, m.Options))
	if p.Same || len(p.Document) != 1 || len(p.Figures) != 0 || !strings.Contains(p.Sentence, "another document") {
		t.Errorf("a forged note: %+v", p)
	}
}

// TestAnswersAreRepeatable: one draft evaluated many times, at once and in turn, gives one text.
func TestAnswersAreRepeatable(t *testing.T) {
	for name, document := range examples(t) {
		want := string(must[json.RawMessage](t)(evaluate(document, determination.Options{})))
		got := make(chan string)
		for range 8 {
			go func() {
				text, err := evaluate(document, determination.Options{})
				if err != nil {
					got <- err.Error()
					return
				}
				got <- string(text)
			}()
		}
		for range 8 {
			if text := <-got; text != want {
				t.Errorf("%s gives\n%s and\n%s", name, text, want)
			}
		}
	}
}

func TestDifferences(t *testing.T) {
	s, m := ring(t)
	before := must[*Record](t)(Make(s, m))
	s = must[Sheet](t)(s.Withdraw(4, at(20), "misread"))
	s = taken(t, s, reading("air_g", "7.4219", 21))
	m.ID, m.Number, m.Supersedes = "R-2", "2026-0002", &Supersedes{"R-1", "2026-0001", "the first reading was misread"}
	after := must[*Record](t)(Make(s, m))
	d := must[*Difference](t)(Differences(before, after))
	if want := []station.Change{{Path: "air_g[0]", Old: "7.4218", New: "7.4219"}}; !reflect.DeepEqual(d.Document, want) {
		t.Errorf("document: %v, want %v", d.Document, want)
	}
	if len(d.Sheet) != 2 || d.Sheet[0].Path != "readings[3].withdrawn" || d.Sheet[1].Path != "readings[8]" || d.Sheet[1].Old != "" {
		t.Errorf("sheet: %v", d.Sheet)
	}
	if len(d.Answer) == 0 || len(d.Station) != 0 {
		t.Errorf("answer %v, station %v", d.Answer, d.Station)
	}
	if sum := must[*Summary](t)(after.Summary()); sum.Supersedes != "2026-0001" {
		t.Errorf("%+v", sum)
	}
}

func TestState(t *testing.T) {
	for _, c := range []struct {
		facts    Facts
		word     string
		complete bool
		text     string
	}{
		{Facts{}, StateDraft, false, "draft"},
		{Facts{Evaluated: true}, StateEvaluated, false, "not recorded"},
		{Facts{Evaluated: true, Recorded: true, Asked: 2}, StateRecorded, false, "not signed"},
		{Facts{Recorded: true, Signed: 1, Asked: 2}, StateSigned, false, "1 of 2"},
		{Facts{Recorded: true, Signed: 2, Asked: 2}, StateSigned, true, "2 of 2"},
		{Facts{Recorded: true, Signed: 1}, StateSigned, true, "1 of 1"},
		{Facts{Recorded: true, Signed: 2, Asked: 2, SupersededBy: "2026-0002"}, StateSuperseded, false, "by 2026-0002"},
		{Facts{Signed: 1}, StateDraft, false, "draft"}, // nothing is kept that could be signed
	} {
		if got := c.facts.State(); got.Word != c.word || got.Complete != c.complete || !strings.Contains(got.Text, c.text) {
			t.Errorf("%+v: %+v", c.facts, got)
		}
	}
}

func TestSummary(t *testing.T) {
	s, m := ring(t)
	got := must[*Summary](t)(must[*Record](t)(Make(s, m)).Summary())
	if got.Number != "2026-0001" || got.Item != "I-1" || got.Barcode != "2000001" || got.Metal != "gold" || *got.FinenessPpt != 750 ||
		got.Finding != "met" || got.Claim == "" || got.Description != "plain band, stamp 750" || got.Cautions != 2 || got.Suspended {
		t.Errorf("%+v", got)
	}
	if !(got.DensityKgM3 > 15400 && got.DensityKgM3 < 15500 && got.UKgM3 > 0 && *got.LowPpt < *got.HighPpt && *got.SafePpt > *got.LowPpt && got.TrueMassG > 7.42 && got.TrueMassG < 7.43) {
		t.Errorf("%+v", got)
	}
	for name, want := range map[string]struct {
		Finding, Metal string
		ppt            float64
	}{
		"stone":           {"undecided", "", 0},
		"standing-vessel": {"undecided", "gold", 750}, // 18 carat
		"ring-in-ethanol": {"undecided", "gold", 585}, // 14 carat
	} {
		got := must[*Summary](t)(fromExample(t, examples(t)[name]).Summary())
		if got.Finding != want.Finding || got.Metal != want.Metal || (got.FinenessPpt == nil) != (want.ppt == 0) || want.ppt > 0 && *got.FinenessPpt != want.ppt {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

// TestNoFigureToPayByInDoubt: the safe fineness stays out of the list while a doubt holds the
// finding back.
func TestNoFigureToPayByInDoubt(t *testing.T) {
	r := must[*Record](t)(Decode(must[[]byte](t)(os.ReadFile(filepath.Join(kept, "suspended-took-up-liquid.json")))))
	if s := must[*Summary](t)(r.Summary()); !s.Suspended || s.SafePpt != nil || s.LowPpt == nil || s.Doubts == 0 {
		t.Errorf("%+v", s)
	}
}

// TestNoMetalBetweenTwo: where the density allows two metals and none is claimed, the list names
// neither, and no figure to pay by.
func TestNoMetalBetweenTwo(t *testing.T) {
	r := fromExample(t, []byte(`{"air_g": 8.0003, "liquid_g": [7.3350, 7.3351], "liquid": {"temperature_c": 21}}`)) // 12.0 g/cm³
	if a := must[*determination.Answer](t)(r.answer()); len(a.OtherMetals) == 0 || len(a.Doubts) > 0 {
		t.Fatalf("other metals %v, doubts %v: the example shows nothing", a.OtherMetals, a.Doubts)
	}
	if s := must[*Summary](t)(r.Summary()); s.Metal != "" || s.SafePpt != nil || s.Finding != "none" {
		t.Errorf("%+v", s)
	}
}

// TestDayOfTheReadings: the certificate that counts is that of the day of the first reading which
// was kept, not of one set aside.
func TestDayOfTheReadings(t *testing.T) {
	s, m := ring(t)
	early := reading("air_g", "7.4", 0)
	early.Time = noon.AddDate(-1, 0, 0) // before any certificate of the thermometer
	old := must[Sheet](t)(opened(t, claimDoc, m.Station).Take(early))
	old = must[Sheet](t)(old.Withdraw(1, at(1), "of another day"))
	for _, r := range s.Readings {
		if r.Withdrawn == nil {
			old = taken(t, old, r)
		}
	}
	if r := must[*Record](t)(Make(old, m)); r.Statements[0].Key != station.KeyCorrected {
		t.Errorf("%+v, want the correction of today's certificate", r.Statements)
	}
}

func FuzzDecode(f *testing.F) {
	s, m := ring(f)
	r, err := Make(s, m)
	if err != nil {
		f.Fatal(err)
	}
	text, err := r.Encode()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	small := fromExample(f, []byte(`{"air_g": 7.4, "liquid_g": "6.9 g", "liquid": {}}`))
	small.Answer = []byte(`{}`)
	f.Add(must[[]byte](f)(small.Encode()))
	f.Add([]byte(`{"format":1}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := Decode(data)
		if err != nil {
			return
		}
		text, err := r.Encode()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Decode(text); err != nil {
			t.Fatalf("%v: %s", err, text)
		}
		if _, err := r.Summary(); err != nil {
			t.Fatal(err)
		}
		if _, err := Again(r, determination.Options{MonteCarlo: determination.WhereNeeded}); err != nil && err.Error() == "" {
			t.Fatal("an error without words")
		}
	})
}

func BenchmarkMake(b *testing.B) {
	s, m := ring(b)
	for b.Loop() {
		if _, err := Make(s, m); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkMakeWhereNeeded(b *testing.B) {
	s, m := ring(b)
	m.Options.MonteCarlo = determination.WhereNeeded
	for b.Loop() {
		if _, err := Make(s, m); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkAgain(b *testing.B) {
	s, m := ring(b)
	r := must[*Record](b)(Make(s, m))
	for b.Loop() {
		if p, err := Again(r, m.Options); err != nil || !p.Same {
			b.Fatal(err, p)
		}
	}
}

func BenchmarkDecode(b *testing.B) {
	s, m := ring(b)
	text := must[[]byte](b)(must[*Record](b)(Make(s, m)).Encode())
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		if _, err := Decode(text); err != nil {
			b.Fatal(err)
		}
	}
}
