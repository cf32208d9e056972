package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"

	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/store"
)

// TestLife follows one determination from its first reading to the correction of its correction.
func TestLife(t *testing.T) {
	onBoth(t, func(t *testing.T, w *world) {
		ctx := t.Context()
		id := w.sheet()
		so := must[Evaluated](t)(w.Evaluate(ctx, w.who["measure"], id))
		if so.Answer == nil || so.Answer.Finding == nil {
			t.Fatal("the sheet comes to nothing")
		}
		must[Sheet](t)(w.Withdraw(ctx, w.boss(), id, 5, "bubble seen"))
		must[Sheet](t)(w.Take(ctx, w.boss(), id, record.Reading{Slot: "liquid_g", Text: "6,9430", Source: record.Typed}))
		must[Sheet](t)(w.Change(ctx, w.boss(), id, []byte(strings.ReplaceAll(claimDoc, "750", "585")), "stamp read again"))
		must[Sheet](t)(w.Note(ctx, w.boss(), id, "a scratch inside"))
		r := must[*record.Record](t)(w.Conclude(ctx, w.as("second"), id))

		shown := must[Recorded](t)(w.Show(ctx, w.who["measure"], r.Number))
		if shown.State.Word != record.StateRecorded || shown.Record.ID != r.ID || len(shown.Hash) != 64 {
			t.Errorf("%+v", shown.State)
		}
		reading := shown.Record.Sheet.Readings[4]
		if reading.Withdrawn == nil || reading.Withdrawn.Reason != "bubble seen" || reading.Text != "6.9431" {
			t.Errorf("the withdrawn reading is %+v", reading)
		}
		if !slices.ContainsFunc(shown.Record.Marks, func(m string) bool { return strings.Contains(m, "was changed after") }) || !shown.Record.Sheet.Requests[1].Late {
			t.Errorf("marks %q do not tell the late claim (S-012)", shown.Record.Marks)
		}
		if again := must[*record.Repeat](t)(w.Again(ctx, w.who["audit"], r.Number)); !again.Same || len(again.Document)+len(again.Figures)+len(again.Versions) > 0 {
			t.Errorf("evaluated again: %+v", again)
		}
		_, err := w.Sheet(ctx, w.who["measure"], id)
		refused(t, "the sheet of a record", err)
		_, err = w.Take(ctx, w.boss(), id, record.Reading{Slot: "air_g", Text: "1", Source: record.Typed})
		refused(t, "a reading after the record", err)
		var kinds []string
		for _, h := range must[[]Happening](t)(w.History(ctx, w.who["audit"], r.Number)) {
			kinds = append(kinds, h.Kind)
		}
		want := append(slices.Concat([]string{"sheet-opened"}, slices.Repeat([]string{"reading-taken"}, 7)),
			"reading-withdrawn", "reading-taken", "sheet-changed", "sheet-noted", "determination-recorded")
		if !slices.Equal(kinds, want) {
			t.Errorf("history %v", kinds)
		}

		if shown = w.sign("sign", r.Number, people.Approved); shown.State.Word != record.StateSigned || !shown.State.Complete {
			t.Errorf("%+v", shown.State)
		}
		if cp, err := w.LastCheckpoint(ctx, w.who["audit"]); err != nil || cp.Size != sizeOf(t, w.Desk) {
			t.Errorf("the checkpoint of the signature covers %d of %d entries, %v", cp.Size, sizeOf(t, w.Desk), err)
		}

		second := must[*record.Record](t)(w.Correct(ctx, w.as("sign"), r.Number, ringGiven(t), "wrong item on the hook"))
		third := must[*record.Record](t)(w.Correct(ctx, w.as("sign"), second.Number, ringGiven(t), "wrong once more"))
		for _, old := range []string{r.Number, second.Number} {
			shown := must[Recorded](t)(w.Show(ctx, w.who["sign"], old))
			if shown.State.Word != record.StateSuperseded {
				t.Errorf("%s is %s", old, shown.State.Word)
			}
			w.ok(w.Confirm(ctx, w.who["boss"], password, "", counterPlace))
			_, err := w.Sign(ctx, w.boss(), old, people.Approved)
			saying(t, "signed "+old, err, "superseded")
			_, err = w.Value(ctx, w.boss(), Valuing{Records: []string{old}})
			saying(t, "valued "+old, err, "superseded")
			_, _, err = w.Lot(ctx, w.boss(), Valuing{Records: []string{third.Number, old}, Recipes: "mixed-scrap"})
			saying(t, "in a lot "+old, err, "superseded")
			_, err = w.Correct(ctx, w.boss(), old, ringGiven(t), "again")
			saying(t, "corrected "+old, err, "superseded")
		}
		if a, b := third.Supersedes, second.Supersedes; a.Number != second.Number || b.Number != r.Number || b.Reason != "wrong item on the hook" {
			t.Errorf("%+v, %+v", a, b)
		}
		if d := must[*record.Difference](t)(w.Compare(ctx, w.who["audit"], second.Number)); len(d.Document) == 0 || len(d.Answer) == 0 {
			t.Errorf("what the correction changed: %+v", d)
		}
		_, err = w.Compare(ctx, w.who["audit"], r.Number)
		refused(t, "compare what corrects nothing", err)
		found := must[[]store.Determination](t)(w.Find(ctx, w.who["audit"], store.Query{State: record.StateSuperseded}))
		if len(found) != 2 || found[0].SupersededBy != third.Number || found[1].SupersededBy != second.Number {
			t.Errorf("found %+v", found)
		}
		verified(t, w.Desk)
	})
}

// TestTwoTabs has one sheet open in two windows: the one that is behind is told.
func TestTwoTabs(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	id := w.sheet()
	left := must[Sheet](t)(w.Sheet(ctx, w.who["boss"], id))
	by := w.boss()
	by.Seen = left.Seq
	must[Sheet](t)(w.Withdraw(ctx, by, id, 5, "bubble seen"))
	before := w.all()
	var stale *StaleError
	for name, act := range map[string]func() error{
		"withdraw": func() error { _, err := w.Withdraw(ctx, by, id, 6, "bubble seen"); return err },
		"change":   func() error { _, err := w.Change(ctx, by, id, []byte(claimDoc), "again"); return err },
		"conclude": func() error { _, err := w.Conclude(ctx, by, id); return err },
		"drop":     func() error { return w.Drop(ctx, by, id, "left") },
	} {
		if err := act(); !errors.As(err, &stale) || stale.Now != left.Seq+1 {
			t.Errorf("%s from behind: %v", name, err)
		}
	}
	if w.all() != before {
		t.Error("a stale act changed the store")
	}
	by.Seen = must[Sheet](t)(w.Sheet(ctx, w.who["boss"], id)).Seq
	r := must[*record.Record](t)(w.Conclude(ctx, by, id))

	// The same for a record that was signed, and an item that was moved, meanwhile.
	seen := must[Recorded](t)(w.Show(ctx, w.who["sign"], r.Number)).Seen
	w.sign("boss", r.Number, people.Reviewed)
	_, err := w.Correct(ctx, By{Who: w.who["sign"], Seen: seen}, r.Number, ringGiven(t), "wrong item")
	if !errors.As(err, &stale) {
		t.Errorf("correct from behind: %v", err)
	}
	i := w.item()
	at := lastEntry(t, w.Desk).Seq
	must[Item](t)(w.MoveItem(ctx, w.boss(), i.ID, "safe", "", "", nil))
	_, err = w.MoveItem(ctx, By{Who: w.who["boss"], Seen: at}, i.ID, "window", "", "", nil)
	if !errors.As(err, &stale) {
		t.Errorf("move from behind: %v", err)
	}
}

// TestUnansweredIsKept concludes a sheet with what nobody answered: the record holds it, whoever looks from an
// older state of the sheet is told so first, and the same act sent twice is one record.
func TestUnansweredIsKept(t *testing.T) {
	ctx, w := t.Context(), openWorld(t)
	id := w.sheet()
	by := By{Who: w.who["boss"], Key: "once", Seen: must[Sheet](t)(w.Sheet(ctx, w.who["boss"], id)).Seq}
	must[Sheet](t)(w.Note(ctx, w.boss(), id, "a scratch inside"))
	const doubt = "Reading 5 (liquid_g): it scatters more than usual."
	var stale *StaleError
	if _, err := w.Conclude(ctx, by, id, doubt); !errors.As(err, &stale) {
		t.Errorf("concluded from behind: %v", err)
	}
	by.Seen = stale.Now
	first := must[*record.Record](t)(w.Conclude(ctx, by, id, doubt))
	again := must[*record.Record](t)(w.Conclude(ctx, by, id)) // the sheet is at no balance any more
	if again.Number != first.Number {
		t.Errorf("sent twice it became %s and %s", first.Number, again.Number)
	}
	kept := must[Recorded](t)(w.Show(ctx, w.who["measure"], first.Number)).Record
	if n := kept.Sheet.Notes; len(n) != 2 || n[0].Text != "a scratch inside" || n[1].Text != doubt || n[1].Made != kept.Made {
		t.Errorf("the remarks are %+v", n)
	}
	if r := must[*record.Repeat](t)(w.Again(ctx, w.who["audit"], first.Number)); !r.Same {
		t.Errorf("evaluated again: %+v", r)
	}
	same(t, t, w.Desk)
}

// TestTwoCountersConclude has two counters conclude one sheet at once: one record comes of it.
func TestTwoCountersConclude(t *testing.T) {
	onBoth(t, func(t *testing.T, w *world) {
		for range 5 {
			id := w.sheet()
			before := sizeOf(t, w.Desk)
			var group sync.WaitGroup
			errs := make([]error, 2)
			for i, who := range []string{"second", "measure"} {
				group.Go(func() { _, errs[i] = w.Conclude(context.Background(), w.as(who), id) })
			}
			group.Wait()
			if (errs[0] == nil) == (errs[1] == nil) || sizeOf(t, w.Desk) != before+1 {
				t.Fatalf("%v; %v; %d entries", errs[0], errs[1], sizeOf(t, w.Desk)-before)
			}
			refused(t, "the one that came second", errors.Join(errs...))
		}
	})
}

// TestNumbersHaveNoGaps records from eight sides at once. Refused and repeated ones use up no
// number.
func TestNumbersHaveNoGaps(t *testing.T) {
	w := openWorld(t)
	given, wrong := ringGiven(t), ringGiven(t)
	wrong.Document = []byte(`{"air_g": [1], "liquid_g": [2]}`)
	const sides, each = 8, 125
	var group sync.WaitGroup
	for side := range sides {
		group.Go(func() {
			for n := range each {
				by := By{Who: w.who["second"], Key: fmt.Sprintf("%d-%d", side, n)}
				r, err := w.Record(context.Background(), by, given)
				if err != nil {
					t.Error(err)
					return
				}
				if n%25 == 0 {
					if _, err := w.Record(context.Background(), w.as("second"), wrong); err == nil {
						t.Error("a wrong one was recorded")
					}
					if again, err := w.Record(context.Background(), by, given); err != nil || again.Number != r.Number {
						t.Errorf("sent again: %v, %v", again, err)
					}
				}
			}
		})
	}
	group.Wait()
	seen := map[string]bool{}
	for q := (store.Query{Limit: 1000}); ; {
		page := must[[]store.Determination](t)(w.Find(t.Context(), w.who["audit"], q))
		if len(page) == 0 {
			break
		}
		for _, r := range page {
			seen[r.Number] = true
		}
		q.Before = page[len(page)-1].Seq
	}
	for n := 1; n <= sides*each; n++ {
		if !seen[fmt.Sprintf("D-%06d", n)] {
			t.Fatalf("there is no record %d of %d", n, sides*each)
		}
	}
	if len(seen) != sides*each {
		t.Errorf("%d numbers, want %d", len(seen), sides*each)
	}
	verified(t, w.Desk)
}
