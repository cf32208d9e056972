package desk

import (
	"testing"
	"time"

	"wreath/internal/record"
)

// bareSheet is a sheet at the station S-1 without readings.
func (w *world) bareSheet() string {
	w.t.Helper()
	return must[Sheet](w.t)(w.OpenSheet(w.t.Context(), w.boss(), Begin{Station: "S-1", Document: []byte(claimDoc)})).Sheet.ID
}

func TestCarriedProofKeepsTimeAndPerson(t *testing.T) {
	w := openWorld(t)
	ctx := t.Context()
	first := w.sheet()
	was := must[Sheet](t)(w.Sheet(ctx, w.who["boss"], first)).Sheet
	w.clock.move(2 * time.Hour)
	for _, name := range []string{"of an open sheet", "of a record"} {
		if name == "of a record" {
			must[*record.Record](t)(w.Conclude(ctx, w.boss(), first))
		}
		id := w.bareSheet()
		if !must[bool](t)(w.ProofAtHand(ctx, w.who["boss"], id)) {
			t.Errorf("%s: no proof is at hand", name)
		}
		by := By{Who: w.who["measure"], Key: "carry " + name}
		for range 2 { // sent twice, done once
			must[Sheet](t)(w.CarryProof(ctx, by, id))
		}
		s := must[Sheet](t)(w.Sheet(ctx, w.who["boss"], id)).Sheet
		if len(s.Readings) != 2 || len(s.Notes) != 1 || s.Notes[0].Made.Person != "measure" {
			t.Fatalf("%s: the sheet has %d readings and the notes %v", name, len(s.Readings), s.Notes)
		}
		for i, r := range s.Readings {
			from := was.Readings[1+i]
			if r.Slot != from.Slot || r.Text != from.Text || !r.Time.Equal(from.Time) || r.Person != "boss" || r.No != i+1 {
				t.Errorf("%s: carried %+v, want that of %+v", name, r, from)
			}
		}
		for _, r := range [][2]string{{"liquid.temperature_c", "21.5"}, {"air_g", "7.4218"}, {"liquid_g", "6.9431"}, {"liquid_g", "6.9428"}, {"closing_air_g", "7.4218"}} {
			must[Sheet](t)(w.Take(ctx, w.boss(), id, record.Reading{Slot: r[0], Text: r[1], Source: record.Typed}))
		}
		must[*record.Record](t)(w.Conclude(ctx, w.boss(), id))
		must[Sheet](t)(w.CarryProof(ctx, by, id)) // once more, after it was concluded
	}
}

func TestProofIsNotCarriedWhereThereIsNone(t *testing.T) {
	w := openWorld(t)
	ctx := t.Context()
	alone := w.bareSheet()
	if must[bool](t)(w.ProofAtHand(ctx, w.who["boss"], alone)) {
		t.Error("a proof is at hand, and no check piece was weighed")
	}
	if _, err := w.CarryProof(ctx, w.boss(), alone); err == nil {
		t.Error("a proof was carried, and no check piece was weighed")
	}
	full := w.sheet()
	if _, err := w.CarryProof(ctx, w.boss(), full); err == nil {
		t.Error("a proof was carried onto a sheet that has one")
	}
	elsewhere := must[Sheet](t)(w.OpenSheet(ctx, w.boss(), Begin{Document: []byte(claimDoc)})).Sheet.ID
	if _, err := w.CarryProof(ctx, w.boss(), elsewhere); err == nil {
		t.Error("a proof was carried from another station")
	}
	w.clock.move(24 * time.Hour)
	if _, err := w.CarryProof(ctx, w.who2(), alone); err == nil {
		t.Error("a proof was carried over to another day")
	}
}

// who2 is boss, signed in again after a night.
func (w *world) who2() By {
	w.t.Helper()
	_, who, err := w.SignIn(w.t.Context(), "boss", password, counterPlace)
	w.ok(err)
	return By{Who: who}
}
