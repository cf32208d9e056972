package record

import (
	"errors"
	"strings"
	"testing"
	"time"

	"wreath/internal/determination"
	"wreath/internal/station"
)

// Everything here is invented: names, numbers and certificates.
const (
	balanceDoc = `{"id": "B-1", "version": 1, "kind": "balance", "capacity_g": 210, "scale_interval_g": 0.0001,
 "repeatability_g": 0.0001, "repeatability_liquid_g": 0.0003, "repeatability_dof": 20,
 "certificates": [{"number": "B-77", "issuer": "Invented Calibration", "date": "2026-03-01", "next_due": "2027-03-01"}],
 "acceptance": {"date": "2026-03-02", "person": "A. Tester", "passed": true}}`
	thermometerDoc = `{"id": "T-1", "version": 3, "kind": "thermometer", "scale_interval_c": 0.1,
 "certificates": [{"number": "T-11", "issuer": "Invented Calibration", "date": "2026-06-01", "next_due": "2026-11-01",
                   "points_c": [{"shown": 15, "correction": -0.10, "expanded_u": 0.1, "k": 2}, {"shown": 25, "correction": -0.10, "expanded_u": 0.1, "k": 2}]}],
 "acceptance": {"date": "2026-06-02", "person": "A. Tester", "passed": true}}`
	checkPieceDoc = `{"id": "K-1", "version": 1, "kind": "check piece", "solid": {"density_kg_m3": 7930, "density_u_kg_m3": 0.4},
 "certificates": [{"number": "K-3", "issuer": "Invented Calibration", "date": "2026-01-10", "next_due": "2031-01-10"}],
 "acceptance": {"date": "2026-01-12", "person": "A. Tester", "passed": true}}`
	stationDoc = `{"id": "S-1", "version": 2, "arrangement": "hanging", "altitude_m": 40,
 "balance": {"id": "B-1", "version": 1}, "thermometer": {"id": "T-1", "version": 3}, "check_piece": {"id": "K-1", "version": 1},
 "hanger": {"wire_diameter_mm": 0.2, "wires": 1, "vessel_diameter_mm": 70, "surface_u_g": 0}, "liquid": {"kind": "water"}}`
	claimDoc = `{"item": {"description": "plain band, stamp 750", "colour": "yellow", "stones": false}, "claim": {"metal": "gold", "fineness": 750, "family": "gold-yellow", "made_by": "stamp"}}`
)

var noon = time.Date(2026, 11, 26, 12, 0, 0, 0, time.FixedZone("", 3600))

// at is a person's act some minutes after noon.
func at(minutes int) Act { return Act{noon.Add(time.Duration(minutes) * time.Minute), "P-1"} }

// failer is a test, a benchmark or a property.
type failer interface {
	Helper()
	Fatal(args ...any)
	Fatalf(format string, args ...any)
}

func must[T any](t failer) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func bench(t failer) (*station.Station, []station.Instrument) {
	t.Helper()
	var kit []station.Instrument
	for _, doc := range []string{balanceDoc, thermometerDoc, checkPieceDoc} {
		kit = append(kit, *must[*station.Instrument](t)(station.DecodeInstrument([]byte(doc))))
	}
	return must[*station.Station](t)(station.DecodeStation([]byte(stationDoc))), kit
}

func opened(t failer, document string, with *station.Station) Sheet {
	t.Helper()
	begin := Sheet{ID: "D-1", Item: "I-1", Barcode: "2000001", Opened: at(0)}
	if with != nil {
		ref := with.Ref()
		begin.Station = &ref
	}
	return must[Sheet](t)(Open(begin, []byte(document)))
}

func reading(slot, text string, minutes int) Reading {
	return Reading{Slot: slot, Text: text, Time: at(minutes).Time, Person: "P-1", Source: Typed}
}

func taken(t failer, s Sheet, readings ...Reading) Sheet {
	t.Helper()
	for _, r := range readings {
		s = must[Sheet](t)(s.Take(r))
	}
	return s
}

// ring is a sheet with everything that the default house rule asks for, one reading set aside.
func ring(t failer) (Sheet, Making) {
	t.Helper()
	st, kit := bench(t)
	s := opened(t, claimDoc, st)
	s = taken(t, s,
		reading("liquid.temperature_c", "21,5", 1),
		reading("liquid.proof.air_g", "39.6500", 2), reading("liquid.proof.liquid_g", "34.6655", 3),
		reading("air_g", "7.4218", 4),
		reading("liquid_g", "6.9413", 5), // a bubble
		reading("liquid_g", "6.9431 g", 6),
	)
	s = must[Sheet](t)(s.Withdraw(5, at(7), "bubble seen"))
	r := reading("liquid_g", "+ 6,9428", 8)
	r.Unit, r.Source, r.Settled, r.Evidence = "g", Received, true, strings.Repeat("0a", 32)
	s = taken(t, s, r, reading("closing_air_g", "7.4218", 9))
	return s, Making{
		ID: "R-1", Number: "2026-0001", Made: at(10), Station: st, Instruments: kit,
		Options: determination.Options{Version: "test"},
	}
}

func refused(t testing.TB, err error, path, says string) {
	t.Helper()
	var f *FieldError
	if !errors.As(err, &f) {
		t.Fatalf("%v, want an error at %q", err, path)
	}
	if f.Path != path || !strings.Contains(f.Reason+" "+f.Hint, says) || f.Hint == "" {
		t.Errorf("%q: %s (%s), want an error at %q that says %q and a hint", f.Path, f.Reason, f.Hint, path, says)
	}
}
