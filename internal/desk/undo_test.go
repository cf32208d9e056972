package desk

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"wreath/internal/record"
	"wreath/internal/station"
	"wreath/internal/store"
)

// secondStation is a station with a balance of its own.
func (w *world) secondStation() {
	w.t.Helper()
	i, err := station.DecodeInstrument([]byte(strings.NewReplacer("B-1", "B-2", `"kind"`, `"version": 1, "kind"`).Replace(balanceDoc)))
	w.ok(err)
	must[station.Ref](w.t)(w.SetInstrument(w.t.Context(), w.boss(), *i, "new"))
	at, err := station.DecodeStation([]byte(strings.NewReplacer("S-1", "S-2", "B-1", "B-2").Replace(stationDoc)))
	w.ok(err)
	must[station.Ref](w.t)(w.SetStation(w.t.Context(), w.boss(), *at, "new"))
}

// TestUndoOnlyAdds sets readings aside and restores them at random, 100 acts on each of five sheets:
// the log only grows, by one entry for each act that was taken; the sheet shows what a model of it
// says; and the views computed anew from the log are the same.
func TestUndoOnlyAdds(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	for seed := range uint64(5) {
		rng := rand.New(rand.NewPCG(seed, seed))
		id := w.sheet()
		taken := len(must[Sheet](t)(w.Sheet(ctx, w.who["boss"], id)).Sheet.Readings)
		aside := make([]string, taken+1) // by number, the reason; "" counts
		past := make([]int, taken+1)
		before, done := w.entriesOf(id), 0
		for step := range 100 {
			no, undo, reason := 1+rng.IntN(taken), rng.IntN(2) == 0, fmt.Sprintf("step %d", step)
			act := w.RestoreReading
			if undo {
				act = w.Withdraw
			}
			_, err := act(ctx, w.boss(), id, no, reason)
			if can := undo == (aside[no] == ""); can != (err == nil) {
				t.Fatalf("seed %d, step %d at reading %d: undo %v, %v", seed, step, no, undo, err)
			}
			switch {
			case err != nil:
			case undo:
				aside[no] = reason
				done++
			default:
				aside[no] = ""
				past[no]++
				done++
			}
			after := w.entriesOf(id)
			if len(after) < len(before) || !slices.Equal(before, after[:len(before)]) || err != nil && len(after) != len(before) || err == nil && len(after) != len(before)+1 {
				t.Fatalf("seed %d, step %d (%v): the log went from %d to %d entries, or one of them was changed", seed, step, err, len(before), len(after))
			}
			before = after
			w.shows(id, aside, past)
		}
		if done < 30 {
			t.Errorf("seed %d: only %d of 100 acts were taken", seed, done)
		}
		w.ok(w.Rebuild(ctx))
		w.shows(id, aside, past)
	}
	verified(t, w.Desk)
}

// entriesOf are the entries of the log about a subject, as they are kept.
func (w *world) entriesOf(subject string) (out []string) {
	w.t.Helper()
	w.ok(w.o.Store.Read(w.t.Context(), w.Shop(), func(tx *store.Tx) error {
		for e, err := range tx.Of(subject) {
			if err != nil {
				return err
			}
			raw, err := tx.Raw(e.Seq)
			if err != nil {
				return err
			}
			out = append(out, string(raw))
		}
		return nil
	}))
	return out
}

// shows asks that a sheet shows what was set aside and how often it was restored.
func (w *world) shows(id string, aside []string, past []int) {
	w.t.Helper()
	for _, r := range must[Sheet](w.t)(w.Sheet(w.t.Context(), w.who["boss"], id)).Sheet.Readings {
		if (r.Withdrawn == nil) != (aside[r.No] == "") || r.Withdrawn != nil && r.Withdrawn.Reason != aside[r.No] || len(r.Restored) != past[r.No] {
			w.t.Fatalf("reading %d is %+v, want it set aside for %q and restored %d times", r.No, r, aside[r.No], past[r.No])
		}
	}
}

// TestMovedSheet moves a sheet to a second balance: nothing is evaluated until it is weighed there anew.
func TestMovedSheet(t *testing.T) {
	onBoth(t, func(t *testing.T, w *world) {
		ctx := t.Context()
		w.secondStation()
		id := w.sheet()
		if so := must[Evaluated](t)(w.Evaluate(ctx, w.who["measure"], id)); so.Answer == nil {
			t.Fatal("the sheet comes to nothing")
		}
		s := must[Sheet](t)(w.MoveSheet(ctx, w.boss(), id, "S-2", "this balance can't decide it"))
		if s.Sheet.Station.ID != "S-2" || s.Sheet.TakenAt(1).ID != "S-1" {
			t.Errorf("the sheet is at %v, its first reading was taken at %v", s.Sheet.Station, s.Sheet.TakenAt(1))
		}
		_, err := w.Evaluate(ctx, w.who["measure"], id)
		refused(t, "a density of readings of another balance", err)
		_, err = w.Conclude(ctx, w.boss(), id)
		refused(t, "a record of readings of another balance", err)
		for _, r := range [][2]string{{"air_g", "7.4219"}, {"liquid_g", "6.9430"}, {"liquid.temperature_c", "21.5"}} {
			must[Sheet](t)(w.Take(ctx, w.boss(), id, record.Reading{Slot: r[0], Text: r[1], Source: record.Typed}))
		}
		r := must[*record.Record](t)(w.Conclude(ctx, w.boss(), id))
		if r.Station.ID != "S-2" || r.Station.Balance.ID != "B-2" || len(r.Sheet.Moves) != 1 {
			t.Errorf("the record is of %s on %v", r.Station.ID, r.Station.Balance)
		}
		if again := must[*record.Repeat](t)(w.Again(ctx, w.who["audit"], r.Number)); !again.Same {
			t.Errorf("evaluated again: %+v", again)
		}
		w.ok(w.Rebuild(ctx))
		verified(t, w.Desk)
	})
}

// TestCheckPieceStaysWithItsStation: what proved the liquid of one station proves none at another.
func TestCheckPieceStaysWithItsStation(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	w.secondStation()
	weighed := w.sheet() // with the check piece, at S-1
	must[Sheet](t)(w.MoveSheet(ctx, w.boss(), weighed, "S-2", "other water"))
	bare := must[Sheet](t)(w.OpenSheet(ctx, w.boss(), Begin{Station: "S-2", Document: []byte(claimDoc)})).Sheet.ID
	if must[bool](t)(w.ProofAtHand(ctx, w.who["boss"], bare)) {
		t.Error("a check piece weighed at S-1 is offered at S-2")
	}
}
