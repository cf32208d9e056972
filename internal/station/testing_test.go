package station

import (
	"errors"
	"strings"
	"testing"
	"time"

	"wreath/internal/determination"
)

// Everything here is invented: names, numbers and certificates.
const (
	balanceDoc = `{"id": "B-1", "version": 1, "kind": "balance", "maker": "Invented Scales", "type": "I-200", "serial": "0001", "place": "bench",
 "capacity_g": 210, "scale_interval_g": 0.0001, "verification_interval_g": 0.001, "class": "I",
 "repeatability_g": 0.0001, "repeatability_liquid_g": 0.0003, "repeatability_dof": 9, "linearity_g": 0.0002, "span_u_ppm": 2,
 "certificates": [{"number": "B-77", "issuer": "Invented Calibration", "date": "2026-03-01", "next_due": "2027-03-01",
                   "points_g": [{"shown": 100, "correction": 0.0001, "expanded_u": 0.0002, "k": 2}]}],
 "acceptance": {"date": "2026-03-02", "person": "A. Tester", "passed": true}}`
	thermometerDoc = `{"id": "T-1", "version": 1, "kind": "thermometer", "serial": "17", "scale_interval_c": 0.1,
 "certificates": [{"number": "T-10", "issuer": "Invented Calibration", "date": "2025-06-01", "next_due": "2026-06-01",
                   "points_c": [{"shown": 10, "correction": 0, "expanded_u": 0.1, "k": 2}, {"shown": 30, "correction": 0.5, "expanded_u": 0.1, "k": 2}]},
                  {"number": "T-11", "issuer": "Invented Calibration", "date": "2026-06-01", "valid_from": "2026-06-05", "next_due": "2027-06-01",
                   "points_c": [{"shown": 15, "correction": -0.10, "expanded_u": 0.06, "k": 2},
                                {"shown": 20, "correction": -0.20, "expanded_u": 0.04, "k": 2},
                                {"shown": 25, "correction": -0.40, "expanded_u": 0.08, "k": 2}]}],
 "acceptance": {"date": "2025-06-02", "person": "A. Tester", "passed": true}}`
	checkPieceDoc = `{"id": "K-1", "version": 1, "kind": "check piece",
 "solid": {"mass_g": 39.65, "mass_u_g": 0.0001, "density_kg_m3": 7930, "density_u_kg_m3": 0.4, "expansion_per_k": 48e-6},
 "certificates": [{"number": "K-3", "issuer": "Invented Calibration", "date": "2026-01-10", "next_due": "2031-01-10"}],
 "acceptance": {"date": "2026-01-12", "person": "A. Tester", "passed": true}}`
	stationDoc = `{"id": "S-1", "version": 2, "name": "front bench", "place": "invented shop", "altitude_m": 440, "arrangement": "hanging",
 "balance": {"id": "B-1", "version": 1}, "thermometer": {"id": "T-1", "version": 1}, "check_piece": {"id": "K-1", "version": 1},
 "hanger": {"wire_diameter_mm": 0.2, "wires": 1, "vessel_diameter_mm": 70, "surface_u_g": 0},
 "liquid": {"kind": "water"}, "house_rule": "two-immersions",
 "defaults": {"liquid": {"temperature_u_c": 0.3}, "air": {"humidity_percent": 45}}}`
	ringDoc = `{"item": {"description": "plain band", "colour": "yellow", "stones": false},
 "claim": {"metal": "gold", "fineness": 750, "family": "gold-yellow"},
 "air_g": [7.4218, 7.4219], "liquid_g": [6.9431, 6.9428], "closing_air_g": [7.4218],
 "liquid": {"proof": {"air_g": [39.65], "liquid_g": [34.6655]}}}`
)

var noon = time.Date(2026, 11, 26, 12, 0, 0, 0, time.FixedZone("", 3600))

// failer is a test, a benchmark or a property.
type failer interface {
	Helper()
	Fatal(args ...any)
	Fatalf(format string, args ...any)
}

func instrument(t testing.TB, doc string) *Instrument {
	t.Helper()
	i, err := DecodeInstrument([]byte(doc))
	if err != nil {
		t.Fatalf("%v: %s", err, doc)
	}
	return i
}

func station(t testing.TB, doc string) *Station {
	t.Helper()
	s, err := DecodeStation([]byte(doc))
	if err != nil {
		t.Fatalf("%v: %s", err, doc)
	}
	return s
}

func kit(t testing.TB) []Instrument {
	t.Helper()
	return []Instrument{*instrument(t, checkPieceDoc), *instrument(t, balanceDoc), *instrument(t, thermometerDoc)}
}

func draft(t failer, doc string) *determination.Draft {
	t.Helper()
	d, err := determination.Decode([]byte(doc))
	if err != nil {
		t.Fatalf("%v: %s", err, doc)
	}
	return d
}

func document(t failer, d *determination.Draft) string {
	t.Helper()
	text, err := WriteDraft(d)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// refused asks that an error names a field and says something.
func refused(t testing.TB, err error, path, says string) {
	t.Helper()
	var f *FieldError
	if !errors.As(err, &f) {
		t.Fatalf("%v, want an error at %s", err, path)
	}
	if f.Path != path || !strings.Contains(f.Reason+" "+f.Hint, says) || f.Hint == "" {
		t.Errorf("%q: %s (%s), want an error at %q that says %q and a hint", f.Path, f.Reason, f.Hint, path, says)
	}
}

// changed replaces one text of a document.
func changed(t testing.TB, doc, from, to string) string {
	t.Helper()
	if !strings.Contains(doc, from) {
		t.Fatalf("%q does not hold %q", doc, from)
	}
	return strings.Replace(doc, from, to, 1)
}
