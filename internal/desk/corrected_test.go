package desk

import (
	"slices"
	"strings"
	"testing"
	"time"

	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/store"
)

// TestCorrectionKeepsWhenAReadingWasTaken corrects one reading of a record: the others keep their time
// and their person, and who corrects counts among those who measured.
func TestCorrectionKeepsWhenAReadingWasTaken(t *testing.T) {
	w := openWorld(t)
	ctx := t.Context()
	first := must[*record.Record](t)(w.Record(ctx, w.boss(), ringGiven(t)))
	before := first.Sheet.Readings
	if len(before) < 2 {
		t.Fatalf("%d readings, want some", len(before))
	}
	wrong := before[len(before)-1]
	given := ringGiven(t)
	text := strings.TrimSuffix(wrong.Text, " g")
	other := text[:len(text)-1] + map[bool]string{true: "8", false: "9"}[strings.HasSuffix(text, "9")]
	given.Document = []byte(strings.Replace(string(given.Document), text, other, 1))

	w.clock.move(time.Hour)
	second := must[*record.Record](t)(w.Correct(ctx, w.as("sign"), first.Number, given, "a digit was wrong"))
	old, new := 0, 0
	for _, r := range second.Sheet.Readings {
		switch {
		case r.Time.Equal(before[0].Time) && r.Person == before[0].Person:
			old++
		case r.Time.Equal(second.Made.Time) && r.Person == second.Made.Person:
			new++
		default:
			t.Errorf("reading %d is of %s by %s", r.No, r.Time, r.Person)
		}
	}
	if new != 1 || old != len(before)-1 {
		t.Errorf("%d readings are new and %d are old, want 1 and %d", new, old, len(before)-1)
	}

	w.clock.move(time.Hour)
	same := must[*record.Record](t)(w.Correct(ctx, w.as("sign"), second.Number, given, "the claim was wrong"))
	if slices.ContainsFunc(same.Sheet.Readings, func(r record.Reading) bool { return r.Time.Equal(same.Made.Time) }) {
		t.Error("a reading that nobody changed has the time of the correction")
	}
	var s standing
	w.ok(w.look(ctx, w.who["boss"], people.SeeRecords, func(tx *store.Tx) (err error) {
		s, _, err = w.standing(tx, same.Number)
		return err
	}))
	if !slices.Contains(s.MeasuredBy, same.Made.Person) {
		t.Errorf("measured by %v: who corrects could approve it alone", s.MeasuredBy)
	}
}

func TestShownIsTheNumberWhateverItsMark(t *testing.T) {
	for _, c := range [][4]string{{"4,6801", "", "4.6801 g", ""}, {"4.6801g", "", "4.6801", "g"}, {" 12.5 mg", "", "12.5", "mg"}} {
		if a, b := shown(record.Reading{Text: c[0], Unit: c[1]}), shown(record.Reading{Text: c[2], Unit: c[3]}); a != b {
			t.Errorf("%q and %q are told apart", a, b)
		}
	}
	if shown(record.Reading{Text: "4.6801"}) == shown(record.Reading{Text: "4.680"}) {
		t.Error("a digit that was not shown is not a digit")
	}
}
