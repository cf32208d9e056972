package station

import (
	"encoding/json"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestInstrumentsAreChecked(t *testing.T) {
	for _, c := range []struct{ doc, from, to, path, says string }{
		{balanceDoc, `"kind": "balance"`, `"kind": "balanse"`, "kind", "Did you mean balance"},
		{balanceDoc, `"kind": "balance", `, ``, "kind", "missing"},
		{balanceDoc, `"id": "B-1"`, `"id": " B-1"`, "id", "space"},
		{balanceDoc, `"version": 1`, `"version": 0`, "version", "Count versions from 1"},
		{balanceDoc, `"id": "B-1"`, `"format": 2, "id": "B-1"`, "format", "not known"},
		{balanceDoc, `"scale_interval_g": 0.0001, `, ``, "scale_interval_g", "missing"},
		{balanceDoc, `"scale_interval_g": 0.0001`, `"scale_interval_g": 0.01`, "verification_interval_g", "finer"},
		{balanceDoc, `"capacity_g": 210`, `"capacity_g": 2100000`, "capacity_g", "cannot be right"},
		{balanceDoc, `"class": "I"`, `"class": "V"`, "class", "no class"},
		{balanceDoc, `"repeatability_g": 0.0001, "repeatability_liquid_g": 0.0003, `, ``, "repeatability_dof", "there is none"},
		{balanceDoc, `"linearity_g"`, `"linearty_g"`, "linearty_g", "Did you mean linearity_g"},
		{balanceDoc, `"linearity_g": 0.0002`, `"scale_interval_c": 0.1`, "scale_interval_c", "does not belong"},
		{balanceDoc, `"points_g"`, `"points_c"`, "certificates[0].points_c", "does not belong"},
		{balanceDoc, `"next_due": "2027-03-01"`, `"next_due": "2026-03-01"`, "certificates[0].next_due", "swapped"},
		{balanceDoc, `"date": "2026-03-01"`, `"date": "01.03.2026"`, "certificates[0].date", "no date"},
		{balanceDoc, `"date": "2026-03-01"`, `"date": "2026-02-30"`, "certificates[0].date", "no date"},
		{balanceDoc, `"number": "B-77", `, ``, "certificates[0].number", "missing"},
		{balanceDoc, `"issuer": "Invented Calibration", `, ``, "certificates[0].issuer", "missing"},
		{balanceDoc, `"k": 2`, `"k": 0`, "certificates[0].points_g[0].k", "coverage"},
		{balanceDoc, `"expanded_u": 0.0002`, `"expanded_u": 0`, "certificates[0].points_g[0].expanded_u", "uncertainty"},
		{balanceDoc, `"person": "A. Tester", `, ``, "acceptance.person", "missing"},
		{balanceDoc, `"acceptance"`, `"out_of_service": {"since": "2026-01-01"}, "acceptance"`, "out_of_service.reason", "missing"},
		{thermometerDoc, `"shown": 20`, `"shown": 15`, "certificates[1].points_c[1].shown", "does not come after"},
		{thermometerDoc, `"T-11"`, `"T-10"`, "certificates[1].number", "twice"},
		{thermometerDoc, `"valid_from": "2026-06-05"`, `"valid_from": "2026-05-05"`, "certificates[1].valid_from", "before"},
		{thermometerDoc, `"correction": 0.5`, `"correction": 300`, "certificates[0].points_c[1].correction", "too large"},
		{checkPieceDoc, `"density_u_kg_m3": 0.4, `, ``, "solid.density_u_kg_m3", "missing"},
		{checkPieceDoc, `"mass_g": 39.65, `, ``, "solid.mass_g", "missing"},
		{checkPieceDoc, `"density_kg_m3": 7930, "density_u_kg_m3": 0.4, `, ``, "solid.density_kg_m3", "missing"},
		{checkPieceDoc, `"mass_g": 39.65`, `"volume_cm3": 5, "volume_u_cm3": 0.001, "mass_g": 39.65`, "solid.density_kg_m3", "one of the two"},
		{checkPieceDoc, `"density_kg_m3": 7930`, `"density_kg_m3": 7.93`, "solid.density_kg_m3", "unit"},
	} {
		_, err := DecodeInstrument([]byte(changed(t, c.doc, c.from, c.to)))
		if err == nil {
			t.Errorf("%s: no error", c.to)
			continue
		}
		refused(t, err, c.path, c.says)
	}
}

func TestEveryKindCanBeEntered(t *testing.T) {
	extra := map[string]string{
		Balance: `, "scale_interval_g": 0.01`, CheckPiece: `, "solid": {"volume_cm3": 5, "volume_u_cm3": 0.001}`,
		ReferenceSolid: `, "solid": {"density_kg_m3": 2329, "density_u_kg_m3": 0.01}`, MassStandard: `, "class": "F1", "solid": {"mass_g": 100, "mass_u_g": 0.0002}`,
	}
	for _, kind := range Kinds {
		i := instrument(t, `{"id": "X", "version": 1, "kind": "`+kind+`"`+extra[kind]+`}`)
		if got := i.Due(noon); got.State != NotTraceable || !strings.Contains(got.Sentence, kind) {
			t.Errorf("%s: %+v, want no traceability", kind, got)
		}
	}
}

func TestDue(t *testing.T) {
	for _, c := range []struct {
		day, state string
		days       int
		certificate,
		says string
	}{
		{"2025-05-31", NotTraceable, 0, "", "no calibration certificate"},
		{"2025-06-01", InOrder, 0, "T-10", "until 2026-06-01"},
		{"2026-04-01", InOrder, 0, "T-10", "until"}, // 61 days are left
		{"2026-04-02", DueSoon, 60, "T-10", "within 60 days"},
		{"2026-05-31", DueSoon, 1, "T-10", "within 1 day"},
		{"2026-06-01", DueSoon, 0, "T-10", "due today"},
		{"2026-06-02", Overdue, 1, "T-10", "for 1 day"},
		{"2026-06-04", Overdue, 3, "T-10", "traceability not shown"},
		{"2026-06-05", InOrder, 0, "T-11", "until 2027-06-01"}, // the new one counts from its valid_from
		{"2028-01-01", Overdue, 214, "T-11", "for 214 days"},
	} {
		day, err := time.ParseInLocation(time.DateOnly, c.day, time.FixedZone("", 14*3600))
		if err != nil {
			t.Fatal(err)
		}
		got := instrument(t, thermometerDoc).Due(day.Add(time.Minute))
		if got.State != c.state || got.Days != c.days || !strings.HasPrefix(got.Certificate, c.certificate) || !strings.Contains(got.Sentence, c.says) {
			t.Errorf("%s: %+v, want %+v", c.day, got, c)
		}
	}
	broken := instrument(t, changed(t, thermometerDoc, `"serial"`, `"out_of_service": {"since": "2026-11-26", "reason": "dropped"}, "serial"`))
	if got := broken.Due(noon); got.State != OutOfUse || !strings.Contains(got.Sentence, "dropped") {
		t.Errorf("out of service: %+v", got)
	}
	if got := broken.Due(noon.AddDate(0, 0, -1)); got.State != InOrder {
		t.Errorf("the day before: %+v", got)
	}
}

func TestCorrect(t *testing.T) {
	i := instrument(t, thermometerDoc)
	digit := 0.1 / math.Sqrt(12)
	for _, c := range []struct {
		shown, correction, u float64
	}{
		{15, -0.10, 0.03}, {20, -0.20, 0.02}, {25, -0.40, 0.04},
		{17.5, -0.15, 0.03}, {21, -0.24, 0.04}, {22.5, -0.30, 0.04},
	} {
		got, ok, err := i.Correct(c.shown, "2026-11-26")
		if err != nil || !ok || math.Abs(got.Correction-c.correction) > 1e-9 || math.Abs(got.Value-c.shown-c.correction) > 1e-9 ||
			math.Abs(got.U-math.Hypot(c.u, digit)) > 1e-12 || !strings.HasPrefix(got.Certificate, "T-11 (") {
			t.Errorf("Correct(%g) = %+v, %v, %v, want %+v", c.shown, got, ok, err, c)
		}
	}
	if got, _, _ := i.Correct(20, "2026-06-04"); math.Abs(got.Correction-0.25) > 1e-9 {
		t.Errorf("the day before the new certificate counts: %+v, want the old one's 0.25", got)
	}
	for _, shown := range []float64{14.99, 25.01, math.NaN(), math.Inf(1)} {
		if _, _, err := i.Correct(shown, "2026-11-26"); err == nil || !strings.Contains(err.Error(), "covers only 15 to 25") {
			t.Errorf("Correct(%g): %v, want a refusal that names the range", shown, err)
		}
	}
	if _, ok, err := i.Correct(20, "2025-01-01"); ok || err != nil {
		t.Errorf("before any certificate: %v, %v, want nothing", ok, err)
	}
}

// Between neighbours a correction lies between theirs, and it never jumps.
func TestCorrectIsContinuous(t *testing.T) {
	i := instrument(t, thermometerDoc)
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(15, 24.999).Draw(t, "shown")
		a, _, err := i.Correct(x, "2026-11-26")
		if err != nil {
			t.Fatal(err)
		}
		b, _, err := i.Correct(x+0.001, "2026-11-26")
		if err != nil {
			t.Fatal(err)
		}
		if a.Correction < -0.4 || a.Correction > -0.1 || math.Abs(a.Correction-b.Correction) > 0.04*0.0011+1e-6 {
			t.Fatalf("at %g: %g, beside it %g", x, a.Correction, b.Correction)
		}
	})
}

func TestDocumentsRoundTrip(t *testing.T) {
	for _, doc := range []string{balanceDoc, thermometerDoc, checkPieceDoc} {
		i := instrument(t, doc)
		text, err := i.Encode()
		if err != nil {
			t.Fatal(err)
		}
		if again := instrument(t, string(text)); !reflect.DeepEqual(i, again) {
			t.Errorf("%s\ncomes back as\n%+v", text, again)
		}
		var plain Instrument
		if err := json.Unmarshal(text, &plain); err != nil || !reflect.DeepEqual(*i, plain) {
			t.Errorf("encoding/json: %v, %+v", err, plain)
		}
	}
	s := station(t, stationDoc)
	text, err := s.Encode()
	if err != nil {
		t.Fatal(err)
	}
	if again := station(t, string(text)); !reflect.DeepEqual(s, again) {
		t.Errorf("%s\ncomes back as\n%+v", text, again)
	}
	var plain Station
	if err := json.Unmarshal(text, &plain); err != nil || !reflect.DeepEqual(*s, plain) {
		t.Errorf("encoding/json: %v, %+v", err, plain)
	}
}

func TestMissing(t *testing.T) {
	if got := instrument(t, balanceDoc).Missing(); len(got) != 0 {
		t.Errorf("the balance misses %v", got)
	}
	if got := instrument(t, thermometerDoc).Missing(); !slices.Equal(got, []string{"maker", "type", "place"}) {
		t.Errorf("the thermometer misses %v", got)
	}
}

func FuzzDecodeInstrument(f *testing.F) {
	for _, doc := range []string{balanceDoc, thermometerDoc, checkPieceDoc, `{}`, `{"certificates": {}}`, `[]`} {
		f.Add([]byte(doc))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		i, err := DecodeInstrument(data)
		if err != nil {
			return
		}
		text, err := i.Encode()
		if err != nil {
			t.Fatal(err)
		}
		again, err := DecodeInstrument(text)
		if err != nil {
			t.Fatalf("%v: %s", err, text)
		}
		if changes, err := ChangesOf(i, again); err != nil || len(changes) > 0 {
			t.Fatalf("%v, %v", changes, err)
		}
		if s := again.Due(noon); s.State == "" || s.Sentence == "" {
			t.Fatalf("no status: %+v", s)
		}
		if _, _, err := again.Correct(21, "2026-11-26"); err != nil && err.Error() == "" {
			t.Fatal("an error without words")
		}
	})
}
