package record

import (
	"encoding/json"
	"slices"
	"testing"

	"wreath/internal/determination"
	"wreath/internal/station"
)

// TestRestoredReadingCountsAgain: a reading that is restored gives the document that it gave before it
// was set aside, and the record still says that it had been.
func TestRestoredReadingCountsAgain(t *testing.T) {
	s, m := ring(t)
	before := must[*Complete](t)(Document(&s, m.Station, m.Instruments))
	aside := must[Sheet](t)(s.Withdraw(6, at(20), "still moving"))
	without := must[*Complete](t)(Document(&aside, m.Station, m.Instruments))
	if string(without.Document) == string(before.Document) {
		t.Fatal("the reading that was set aside changes nothing: the test shows nothing")
	}
	_, err := aside.Restore(6, at(21), " ")
	refused(t, err, "reason", "missing")
	_, err = aside.Restore(6, Act{Time: noon}, "it stood still")
	refused(t, err, "person", "missing")
	again := must[Sheet](t)(aside.Restore(6, at(21), "it stood still"))
	after := must[*Complete](t)(Document(&again, m.Station, m.Instruments))
	if string(after.Document) != string(before.Document) {
		t.Errorf("restored it comes to\n%s\nand before to\n%s", after.Document, before.Document)
	}
	r := must[*Record](t)(Make(again, m))
	if want := "Readings set aside and restored: 1 of 8."; !slices.Contains(r.Marks, want) {
		t.Errorf("marks %q, want %q among them", r.Marks, want)
	}
	past := r.Sheet.Readings[5].Restored
	if len(past) != 1 || past[0].Withdrawal.Reason != "still moving" || past[0].Reason != "it stood still" || past[0].Person == "" {
		t.Errorf("its past is %+v", past)
	}
}

// moved is a station like the first with another balance.
func moved(t *testing.T, m Making) (*station.Station, []station.Instrument) {
	t.Helper()
	other := *m.Station
	other.ID, other.Version = "S-other", 1
	kit := slices.Clone(m.Instruments)
	for _, i := range m.Instruments {
		if m.Station.Balance != nil && i.Ref() == *m.Station.Balance {
			i.ID = "B-other"
			kit = append(kit, i)
			ref := i.Ref()
			other.Balance = &ref
		}
	}
	if other.Balance == nil || *other.Balance == *m.Station.Balance {
		t.Fatal("the station has no balance to be changed")
	}
	return &other, kit
}

// TestMovedSheetNeverMixesBalances: an item weighed in air on one balance and in the liquid on another
// has no density. Its readings come back with the station.
func TestMovedSheetNeverMixesBalances(t *testing.T) {
	s, m := ring(t)
	here := must[*Complete](t)(Document(&s, m.Station, m.Instruments))
	other, kit := moved(t, m)
	there := must[Sheet](t)(s.Move(other.Ref(), at(30), "this balance can't decide it"))
	for n, r := range there.Readings {
		if there.Counts(r) || *there.TakenAt(n + 1) != m.Station.Ref() {
			t.Errorf("reading %d counts at the other station", n+1)
		}
	}
	there = taken(t, there, reading("liquid_g", "6.9430", 31), reading("liquid.temperature_c", "21.5", 32))
	complete := must[*Complete](t)(Document(&there, other, kit))
	d := must[*determination.Draft](t)(determination.Decode(complete.Document))
	if len(d.AirG) != 0 || len(d.LiquidG) != 1 || d.LiquidG[0].Text != "6.9430" {
		t.Fatalf("in air %v and immersed %v: readings of two balances are mixed", d.AirG, d.LiquidG)
	}
	if _, err := determination.Evaluate(d, determination.Options{}); err == nil {
		t.Error("there is a density without a weighing in air on this balance")
	}
	there = taken(t, there, reading("air_g", "7.4218", 33))
	r := must[*Record](t)(func() (*Record, error) { m := m; m.Station, m.Instruments = other, kit; return Make(there, m) }())
	if want := "Readings taken at another station, and not evaluated: 7 of 11."; !slices.Contains(r.Marks, want) {
		t.Errorf("marks %q, want %q among them", r.Marks, want)
	}
	text := must[[]byte](t)(r.Encode())
	if back := must[*Record](t)(Decode(text)); !json.Valid(text) || len(back.Sheet.Moves) != 1 || back.Sheet.Moves[0].Reason == "" {
		t.Errorf("the move is not kept: %+v", back.Sheet.Moves)
	}
	home := must[Sheet](t)(there.Move(m.Station.Ref(), at(40), "back again"))
	if again := must[*Complete](t)(Document(&home, m.Station, m.Instruments)); string(again.Document) != string(here.Document) {
		t.Errorf("back at the first station it comes to\n%s\nand before to\n%s", again.Document, here.Document)
	}
}

// TestMovesAreChecked: a sheet whose moves do not join is refused.
func TestMovesAreChecked(t *testing.T) {
	s, m := ring(t)
	good := must[Sheet](t)(must[Sheet](t)(s.Move(station.Ref{ID: "S-2", Version: 1}, at(30), "better")).Move(m.Station.Ref(), at(31), "back"))
	if err := good.check(); err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(*Sheet){
		"station":              func(s *Sheet) { s.Station = &station.Ref{ID: "S-3", Version: 1} },
		"moves[1].from":        func(s *Sheet) { s.Moves[1].From = &station.Ref{ID: "S-3", Version: 1} },
		"moves[1].readings":    func(s *Sheet) { s.Moves[1].Readings = 2 },
		"moves[0].readings":    func(s *Sheet) { s.Moves[0].Readings = 99 },
		"moves[0].to":          func(s *Sheet) { s.Moves[0].To.ID = "" },
		"moves[0].made.person": func(s *Sheet) { s.Moves[0].Made.Person = "" },
	} {
		bad := good.copied()
		spoil(&bad)
		refused(t, bad.check(), name, "")
	}
	lost := must[Sheet](t)(must[Sheet](t)(s.Withdraw(6, at(20), "bubble")).Restore(6, at(21), "none"))
	lost.Readings[5].Restored[0].Reason = ""
	refused(t, lost.check(), "readings[5].restored[0].reason", "")
}
