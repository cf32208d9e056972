package web

import (
	"encoding/json"
	"io"
	"math"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/handsfree"
	"wreath/internal/line"
	"wreath/internal/live"
	"wreath/internal/record"
	"wreath/internal/source"
	"wreath/internal/station"
	"wreath/settle"
)

// program does an act as a program, over the HTTP interface.
func (w *benchWorld) program(method, path, body string) {
	w.t.Helper()
	r, err := http.NewRequestWithContext(w.t.Context(), method, w.home()+apiRoot+path, strings.NewReader(body))
	if err != nil {
		w.t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Idempotency-Key", drawMark())
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		w.t.Fatal(err)
	}
	defer answer.Body.Close()
	if answer.StatusCode/100 != 2 {
		var said map[string]any
		_ = json.NewDecoder(answer.Body).Decode(&said) // only to show it
		w.t.Fatalf("%s %s: %s, %v", method, path, answer.Status, said)
	}
}

// enters brings captures to the sheet at the balance, as the recogniser gives them.
func (w *benchWorld) enters(at *atBalance, now handsfree.Outcome) {
	w.t.Helper()
	done := make(chan struct{})
	at.mu.Lock()
	waits := w.server.act(at, now, done)
	at.mu.Unlock()
	if !waits {
		w.t.Fatal("the capture was not passed on")
	}
	<-done
}

func (w *benchWorld) sheetNow(id string) record.Sheet {
	w.t.Helper()
	s, err := w.desk.Sheet(w.t.Context(), w.who, id)
	if err != nil {
		w.t.Fatal(err)
	}
	return s.Sheet
}

// TestUnansweredGoesIntoTheRecord concludes a sheet whose readings are in doubt, at the page and as a program: the
// record says what nobody answered, and nothing that was answered or set aside.
func TestUnansweredGoesIntoTheRecord(t *testing.T) {
	for _, by := range []string{"page", "program"} {
		w := linkedWorld(t, "push:b1")
		id := w.openSheet("", weighed[2:]...) // all but the first two
		w.bringHere(id, false)
		at := w.server.ofSheet(id)
		taken := func(no int, slot string, grams float64, doubt string) handsfree.Outcome {
			return handsfree.Outcome{Captures: []handsfree.Capture{{No: no, Slot: slot, Value: grams, Shown: grams, Sure: 1, Doubt: doubt}}}
		}
		w.enters(at, taken(1, handsfree.Air, 5, "It creeps."))
		w.enters(at, taken(2, handsfree.Liquid, 4.6801, "It scatters."))
		w.enters(at, taken(3, handsfree.Liquid, 4.6833, "A bubble may sit on it."))
		confirmed := taken(1, handsfree.Air, 5, "")
		confirmed.Captures[0].Change = handsfree.Confirmed
		w.enters(at, confirmed)
		last := w.sheetNow(id).Readings
		if _, err := w.desk.Withdraw(t.Context(), desk.By{Who: w.who}, id, last[len(last)-1].No, "a bubble was seen"); err != nil {
			t.Fatal(err)
		}
		if err := w.server.keepUp(t.Context(), w.who, id); err != nil {
			t.Fatal(err)
		}
		at.mu.Lock()
		at.now.Question = &handsfree.Question{No: 2, Text: "Is 4.6801 g in the liquid?"}
		at.mu.Unlock()
		if by == "page" {
			answer, err := http.PostForm(w.home()+"/sheet/"+id+"/conclude", map[string][]string{"mark": {drawMark()}})
			if err != nil {
				t.Fatal(err)
			}
			answer.Body.Close()
		} else {
			w.program("POST", "/sheets/"+id+"/conclusion", "")
		}
		r, err := w.desk.Show(t.Context(), w.who, "D-000001")
		if err != nil {
			t.Fatalf("by the %s: %v", by, err)
		}
		var texts []string
		for _, n := range r.Record.Sheet.Notes {
			texts = append(texts, n.Text)
		}
		if want := []string{"Reading 7, in the liquid, a doubt that nobody answered: It scatters.", "Reading 7, a question that nobody answered: Is 4.6801 g in the liquid?"}; !slices.Equal(texts, want) {
			t.Errorf("by the %s the record says %q, want %q", by, texts, want)
		}
		if w.server.ofSheet(id) != nil {
			t.Errorf("by the %s: the sheet is at the balance still", by)
		}
	}
}

// TestUnprovedIsSaidOnce takes readings while no check weight was seen: the sheet says so once, and once more
// after the proof was lost again.
func TestUnprovedIsSaidOnce(t *testing.T) {
	w := quickWorld(t, "push:b1")
	check, tolerance := 100.0, 0.001
	link := &station.Link{Address: "push:b1", Pattern: inventedPattern(t), Binding: &station.Binding{CheckG: &check, ToleranceG: &tolerance}}
	w.link("B-1", link)
	id := w.openSheet("")
	w.bringHere(id, false)
	at := w.server.ofSheet(id)
	notes := func() (out []string) {
		for _, n := range w.sheetNow(id).Notes {
			out = append(out, n.Text)
		}
		return out
	}
	no := 0
	takes := func(slot string, grams float64) {
		no++
		w.enters(at, handsfree.Outcome{Captures: []handsfree.Capture{{No: no, Slot: slot, Value: grams, Shown: grams, Sure: 1}}})
	}
	b := w.speaks("B-1")
	rests := func(grams float64, proof string) {
		b.rests(grams)
		awaits(t, "the balance rests", func() bool {
			at.mu.Lock()
			defer at.mu.Unlock()
			snap := w.options.Live.Feed("B-1").Snapshot()
			return at.last.Settle.Phase == settle.Settled && math.Abs(at.last.Value.Number-grams) < 0.001 && snap.Proof.Key == proof &&
				(proof == live.Proved) == (len(at.last.Suspicions) == 0)
		})
	}
	rests(5, live.Unproved)
	takes(handsfree.Air, 5)
	takes(handsfree.Liquid, 4.68)
	said := notes()
	if len(said) != 1 || !strings.HasPrefix(said[0], "Reading 1, in air, and all after it until a check weight is seen: The instrument was connected anew, ") {
		t.Fatalf("the sheet says %q", said)
	}
	v := nowView{}
	v.at(at, id)
	if len(v.Doubts) != 0 {
		t.Errorf("what goes for all readings is said beside each: %v", v.Doubts)
	}
	w.bringHere(id, true) // taken by itself from now on
	at = w.server.ofSheet(id)
	takes(handsfree.Liquid, 4.68)
	if said := notes(); len(said) != 1 {
		t.Errorf("after the recogniser was made anew the sheet says %q", said)
	}
	w.bringHere(id, false)
	at = w.server.ofSheet(id)
	rests(100, live.Proved)
	takes(handsfree.ClosingAir, 5)
	w.options.Live.Remove("B-1")
	w.server.relink(t.Context())
	rests(5, live.Unproved)
	takes(handsfree.ClosingAir, 5)
	if said := notes(); len(said) != 2 || !strings.HasPrefix(said[1], "Reading 5, in air again, and all after it") {
		t.Errorf("after the proof was lost again the sheet says %q", said)
	}
}

// TestOddLineIsADoubt takes a reading from a line whose unit changed: the reading says so beside it and as a
// remark, since no later weighing answers it.
func TestOddLineIsADoubt(t *testing.T) {
	w := linkedWorld(t, "push:b1")
	awaits(t, "the feed runs", func() bool { return w.options.Live.Feed("B-1").Push(t.Context(), []byte(says(5, true))) == nil })
	id := w.openSheet("")
	w.bringHere(id, false)
	at := w.server.ofSheet(id)
	at.mu.Lock()
	at.last = live.Event{Feed: "B-1", Suspicions: []live.Suspicion{{Key: live.SuspectUnit, Sentence: "The unit is ct and was g."}}}
	at.mu.Unlock()
	w.enters(at, handsfree.Outcome{Captures: []handsfree.Capture{{No: 1, Slot: handsfree.Air, Value: 5, Shown: 5, Sure: 1}}})
	v := nowView{}
	v.at(at, id)
	s := w.sheetNow(id)
	if v.Doubts[1] != "The unit is ct and was g." || len(s.Notes) != 1 || s.Notes[0].Text != "Reading 1, in air: The unit is ct and was g." {
		t.Errorf("beside it stands %v, the remarks are %+v", v.Doubts, s.Notes)
	}
	answer, err := http.Get(w.home() + "/sheet/" + id)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	page, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	_, row, _ := strings.Cut(string(page), `id="slot-air_g"`)
	if row, _, _ = strings.Cut(row, "</section>"); !strings.Contains(row, "5.0000") || !strings.Contains(row, "The unit is ct and was g.") {
		t.Errorf("the row of the reading is %s", row)
	}
}

// TestWhoSaysItRests parts what the balance says of itself from what the program found.
func TestWhoSaysItRests(t *testing.T) {
	w := linkedWorld(t, "push:b1")
	id := w.openSheet("")
	w.bringHere(id, false)
	at := w.server.ofSheet(id)
	for n, c := range []struct {
		mark    line.Mark
		shows   float64
		settled bool
	}{{line.Settled, 5, true}, {line.Moving, 5, false}, {line.Unsaid, 5, false}, {line.Settled, 5.1, false}} {
		at.mu.Lock()
		at.last = live.Event{Feed: "B-1", Value: line.Value{State: line.Reading, Number: c.shows, Interval: 0.0001, Text: "5.0000", Unit: "g", Mark: c.mark}}
		at.mu.Unlock()
		w.enters(at, handsfree.Outcome{Captures: []handsfree.Capture{{No: n + 1, Slot: handsfree.Air, Value: 5, Shown: 5, Sure: 1}}})
		if r := w.sheetNow(id).Readings[n]; !r.Rested || r.Settled != c.settled {
			t.Errorf("marked %v at %g g: %+v", c.mark, c.shows, r)
		}
	}
}

// TestProgramsAreHeardAtTheBalance changes a sheet over the HTTP interface: what is known at the balance follows.
func TestProgramsAreHeardAtTheBalance(t *testing.T) {
	w := linkedWorld(t, "push:b1")
	id := w.openSheet("")
	w.bringHere(id, true)
	first := w.server.ofSheet(id)
	wants := func(slot string) {
		t.Helper()
		at := w.server.ofSheet(id)
		if at == nil {
			t.Fatal("the sheet is not at the balance")
		}
		if got := at.wantedSlot(); got != slot {
			t.Errorf("%q is waited for, want %q", got, slot)
		}
	}
	wants("air_g")
	w.program("POST", "/sheets/"+id+"/readings", `{"slot": "air_g", "text": "5.0000"}`)
	wants("liquid_g")
	w.enters(first, handsfree.Outcome{Captures: []handsfree.Capture{{No: 1, Slot: handsfree.Liquid, Value: 4.68, Shown: 4.68, Sure: 1, Doubt: "It creeps."}}})
	w.program("POST", "/sheets/"+id+"/readings/2/withdrawal", `{"reason": "a bubble"}`)
	first.mu.Lock()
	if len(first.numbers) != 0 || len(first.doubts) != 0 {
		t.Errorf("of a reading that was set aside stay %v and %v", first.numbers, first.doubts)
	}
	first.mu.Unlock()
	w.program("POST", "/sheets/"+id+"/readings/2/restoration", `{"reason": "it was none"}`)
	wants("liquid_g") // the second one
	w.program("PUT", "/sheets/"+id+"/request", `{"document": `+strings.Replace(claimed, `"claim"`, `"house_rule": "first-look", "claim"`, 1)+`, "reason": "for sorting"}`)
	if w.server.ofSheet(id) == first {
		t.Error("another rule is asked for, and the story goes on")
	}
	wants("") // one immersion is enough
	w.program("POST", "/sheets/"+id+"/end", `{"reason": "given up"}`)
	if w.server.ofSheet(id) != nil {
		t.Error("a sheet that was given up is at the balance")
	}
	id = w.openSheet("")
	w.bringHere(id, true)
	at, err := station.DecodeStation([]byte(`{"id": "other", "version": 1, "name": "Other", "arrangement": "hanging", "liquid": {"kind": "water"}}`))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.desk.SetStation(t.Context(), desk.By{Who: w.who}, *at, ""); err != nil {
		t.Fatal(err)
	}
	w.program("POST", "/sheets/"+id+"/station", `{"station": "other"}`)
	if w.server.ofSheet(id) != nil {
		t.Error("a sheet that moved on is at the balance still")
	}
	id = w.openSheet("", weighed...)
	w.bringHere(id, true)
	if _, err := w.desk.Conclude(t.Context(), desk.By{Who: w.who}, id); err != nil { // by another program, in the same store
		t.Fatal(err)
	}
	w.server.keepAllUp(t.Context())
	if w.server.ofSheet(id) != nil {
		t.Error("a sheet that another program recorded is at the balance still")
	}
}

// TestGoWithout gives up what is waited for; a person's reading does not bring it back.
func TestGoWithout(t *testing.T) {
	w := linkedWorld(t, "push:b1")
	id := w.openSheet("", weighed[:1]...)
	w.bringHere(id, true)
	post := func(act string) {
		answer, err := http.PostForm(w.home()+"/sheet/"+id+"/balance", map[string][]string{"act": {act}})
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		if answer.StatusCode != http.StatusOK {
			t.Fatal(answer.Status)
		}
	}
	at := w.server.ofSheet(id)
	post("next")
	post("next")
	if got := at.wantedSlot(); got != "closing_air_g" {
		t.Errorf("%q is waited for", got)
	}
	w.program("POST", "/sheets/"+id+"/readings", `{"slot": "liquid.temperature_c", "text": "21.4"}`)
	if got := at.wantedSlot(); got != "closing_air_g" {
		t.Errorf("after a reading by hand %q is waited for", got)
	}
}

// TestKnownOfASheet asks what the recogniser is told.
func TestKnownOfASheet(t *testing.T) {
	w := openWorld(t)
	told := func(document string, readings ...[2]string) known {
		t.Helper()
		s, err := w.desk.OpenSheet(t.Context(), desk.By{Who: w.who}, desk.Begin{Station: "bench", Document: json.RawMessage(document)})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range readings {
			if _, err := w.desk.Take(t.Context(), desk.By{Who: w.who}, s.Sheet.ID, record.Reading{Slot: r[0], Text: r[1], Source: record.Typed}); err != nil {
				t.Fatal(err)
			}
		}
		o, err := w.server.recogniserOptions(t.Context(), w.who, w.sheetNow(s.Sheet.ID))
		if err != nil {
			t.Fatal(err)
		}
		return o
	}
	o := told(strings.Replace(claimed, `"item": {`, `"hanger": {"mass_g": 12.5, "under_floor": true}, "item": {"intake_mass_g": 5.01, `, 1))
	if o.HangerG != 12.5 || !o.UnderFloor || o.ItemG != 5.01 {
		t.Errorf("%+v", o.Options)
	}
	// Yellow gold 750 lies between 15 and 16 g/cm³ by its recipes (alloy/data).
	if o.DensityLow < 14.5 || o.DensityHigh > 16.5 || o.DensityLow >= o.DensityHigh {
		t.Errorf("750 is expected from %g to %g g/cm³", o.DensityLow, o.DensityHigh)
	}
	if want := []string{"air_g", "liquid_g", "liquid_g", "closing_air_g", "liquid.proof.air_g", "liquid.proof.liquid_g"}; !slices.Equal(o.Wanted, want) || o.Check == nil {
		t.Errorf("the rule asks for %q, want %q", o.Wanted, want)
	}
	if o := told(strings.Replace(claimed, `"stones": false`, `"hollow": true`, 1)); o.DensityLow != 0 || o.DensityHigh != 0 {
		t.Errorf("a hollow one is expected from %g to %g g/cm³", o.DensityLow, o.DensityHigh)
	}
	if o := told(`{"claim": {"metal": "gold", "carat": 18}}`); o.DensityLow >= 15 || o.DensityHigh <= 15.5 {
		t.Errorf("18 carat of any colour is expected from %g to %g g/cm³", o.DensityLow, o.DensityHigh)
	}
	if o := told(`{"house_rule": "first-look"}`); !slices.Equal(o.Wanted, []string{"air_g", "liquid_g"}) || o.DensityHigh != 0 {
		t.Errorf("a first look asks for %q", o.Wanted)
	}
	const spirit = `{"second_liquid": {"kind": "ethanol-water", "ethanol_mass_percent": 96}}`
	if o := told(spirit, weighed[:2]...); o.SecondLiquid || !o.another {
		t.Errorf("the first liquid is not done: %+v", o)
	}
	if o := told(spirit, weighed...); !o.SecondLiquid || o.another || o.LiquidGCm3 != 0.8 || !slices.Equal(o.Wanted, []string{"second_liquid.liquid_g"}) {
		t.Errorf("the first liquid is done: %+v", o)
	}
	if o := order(determination.HouseRules[3], true, false); !slices.Equal(o, []string{"air_g", "gain_g", "gain_g", "gain_g", "closing_air_g"}) {
		t.Errorf("standing, the strict rule asks for %q", o)
	}
}

// TestLinkedAnewInTheMiddle links the balance anew in the middle of a weighing, so that its stream counts from zero
// again: the sheet gets the same readings, each with what was heard before it.
func TestLinkedAnewInTheMiddle(t *testing.T) {
	w := quickWorld(t, "push:b1")
	id := w.openSheet("")
	b := w.speaks("B-1")
	w.bringHere(id, true)
	for n, step := range []struct {
		grams    float64
		readings int
		anew     bool
	}{{0, 0, false}, {5, 1, false}, {0, 1, true}, {4.6801, 2, false}, {0, 2, false}, {4.6802, 3, true}, {0, 4, false}, {5, 5, false}} {
		b.rests(step.grams)
		awaits(t, "step "+string(rune('0'+n))+" is taken", func() bool {
			return len(w.readings(id)) >= step.readings && w.settledAt("B-1", step.grams)
		})
		if step.anew {
			w.options.Live.Remove("B-1")
			w.server.relink(t.Context())
		}
	}
	for _, r := range w.sheetNow(id).Readings {
		if r.Withdrawn != nil {
			continue
		}
		heard, err := w.desk.Stream(t.Context(), w.who, r.Evidence)
		if err != nil || !strings.Contains(string(heard), r.Text+" g") {
			t.Errorf("before %s %s was heard %q, %v", r.Slot, r.Text, heard, err)
		}
	}
	got := w.readings(id)
	for _, want := range []string{"air_g 5.0000", "liquid_g 4.6801", "liquid_g 4.6802", "closing_air_g 5.0000"} {
		if !slices.Contains(got, want) {
			t.Errorf("%q is not among %q", want, got)
		}
	}
}

func TestTimeline(t *testing.T) {
	var l timeline
	at := time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC)
	says := func(number uint64, seconds float64, after time.Duration) (float64, bool) {
		e := live.Event{Number: number, Seconds: seconds, At: at.Add(after), Settle: settle.Event{Seconds: seconds, From: seconds - 1, Began: seconds - 2}}
		anew := l.take(&e)
		if e.Settle.Seconds != e.Seconds || e.Settle.From != e.Seconds-1 || e.Settle.Began != e.Seconds-2 {
			t.Errorf("event %d at %g s: %+v", number, seconds, e.Settle)
		}
		return e.Seconds, anew
	}
	for _, c := range []struct {
		number  uint64
		seconds float64
		after   time.Duration
		want    float64
		anew    bool
	}{
		{40, 12, 0, 12, false}, {41, 13, time.Second, 13, false},
		{3, 0.5, 6 * time.Second, 18, true}, {4, 0.75, 7 * time.Second, 18.25, false}, // linked anew after 5 s
		{9, 0.25, 7 * time.Second, 19.25, true}, // at once, as many lines later
	} {
		if got, anew := says(c.number, c.seconds, c.after); math.Abs(got-c.want) > 1e-9 || anew != c.anew {
			t.Errorf("event %d at %g s stands at %g, anew %v; want %g, %v", c.number, c.seconds, got, anew, c.want, c.anew)
		}
	}
}

// TestHeardWithTimes shows what was heard over its time; what was kept before times were is shown as well.
func TestHeardWithTimes(t *testing.T) {
	p, err := line.DecodePattern(inventedPattern(t))
	if err != nil {
		t.Fatal(err)
	}
	var v heardView
	v.show([]byte("wreath recording 1\nmade 2026-11-26T09:00:00Z\n\n0.500000 = connected\n0.500000 < "+source.Escape([]byte(says(1, false)))+"\n0.750000 < "+source.Escape([]byte(says(3, false)))+"\n2.500000 < "+source.Escape([]byte(says(5, true)))+"\n"), p)
	if len(v.Lines) != 3 || v.Lines[0].Ago != "-2.00" || v.Lines[2].Ago != "0.00" || v.Lines[2].Text != strings.TrimSpace(says(5, true)) || v.Path != "M0.0 23.0L50.0 12.0L400.0 1.0" || v.Low != "1.0000 g" || v.High != "5.0000 g" {
		t.Errorf("%+v", v)
	}
	v = heardView{}
	v.show([]byte(says(1, false)+says(3, false)+says(5, true)), p)
	if len(v.Lines) != 3 || v.Lines[0].Ago != "" || v.Path != "M0.0 23.0L200.0 12.0L400.0 1.0" {
		t.Errorf("without times: %+v", v)
	}
	v = heardView{}
	v.show(nil, p)
	if v.Lines != nil || v.Path != "" {
		t.Errorf("of nothing: %+v", v)
	}
}
