//go:build linux || darwin

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/handsfree"
	"wreath/internal/line"
	"wreath/internal/live"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/simulated"
	"wreath/internal/simulation"
	"wreath/internal/source"
	"wreath/settle"
)

// overLine is one session over a real line: a simulated bench that speaks, the whole chain behind the line, and
// a sheet of a shop. Time is that of the bench: it goes on when a line has come through, and not before.
type overLine struct {
	t        *testing.T
	q        *simulation.Sequence
	station  *simulated.Station
	feed     *live.Feed
	hands    *handsfree.Recogniser
	desk     *room
	by       desk.By
	sheet    string
	decimals int

	mu      sync.Mutex
	now     float64       // seconds of the bench
	heard   []byte        // since the last line that was counted
	lines   int           // lines that came through, without greetings
	came    chan struct{} // a line came through
	greet   func()        // closes greeted
	greeted chan struct{}

	standing map[int]handsfree.Capture // captures that count now
	numbers  map[int]int               // capture to reading
	refused  error                     // the last reading that the shop did not take
}

// rateHz is how often the display changes; slow enough to be quick here, quick enough to be settled.
const rateHz = 5

func newOverLine(t *testing.T, kind, format string, seed uint64, network, demo bool) *overLine {
	t.Helper()
	habits := &simulation.Habits{Tared: true, Immersions: 2, AirWeighs: 1, Closing: true, ClosingZero: true, Zeroes: true, Dries: true, UnderHook: kind == "bar"}
	q, err := simulation.NewSequence(seed, simulation.SequenceOptions{Kind: kind, Fault: "none", Habits: habits, Live: &simulation.LiveOptions{RateHz: rateHz, Average: 0.3}})
	if err != nil {
		t.Fatal(err)
	}
	b := q.Session.Bench
	w := &overLine{t: t, q: q, station: simulated.NewStation(q.Live), came: make(chan struct{}, 1), decimals: simulated.Decimals(b.Interval),
		standing: map[int]handsfree.Capture{}, numbers: map[int]int{}}
	w.greeted = make(chan struct{})
	w.greet = sync.OnceFunc(func() { close(w.greeted) })
	w.openSheet(demo)
	immersed := handsfree.Liquid
	if b.Standing {
		immersed = handsfree.Gain
	}
	w.hands = handsfree.New(handsfree.Options{Standing: b.Standing, UnderFloor: habits.UnderHook, IntervalG: b.Interval, RepeatabilityG: b.Repeatability,
		RepeatabilityLiquidG: b.RepeatabilityLiquid, CapacityG: b.Capacity, LiquidGCm3: b.Liquid(),
		Wanted: []string{handsfree.Air, immersed, immersed, handsfree.ClosingZero, handsfree.ClosingAir}})
	w.connect(format, network)
	return w
}

// openSheet makes a shop of its own, and begins the determination.
func (w *overLine) openSheet(demo bool) {
	w.t.Helper()
	file := filepath.Join(w.t.TempDir(), "records.wreath")
	serve := &serveCmd{place: place{Store: file, Keys: file + ".keys"}}
	var err error
	w.desk, err = serve.openOwn(w.t.Context(), desk.Opening{Shop: desk.Shop{Format: 1, Name: "Invented Desk", TimeZone: "UTC", Demo: demo}, Person: people.Person{ID: "owner", Name: "Invented Owner"}}, "")
	if err != nil {
		w.t.Fatal(err)
	}
	w.t.Cleanup(w.desk.Close)
	who, err := w.desk.Local(w.t.Context(), people.Console)
	if err != nil {
		w.t.Fatal(err)
	}
	w.by = desk.By{Who: who}
	w.sheet = w.begin()
}

func (w *overLine) begin() string {
	w.t.Helper()
	text, err := json.Marshal(w.q.Session.Draft(simulation.Plan{LookOver: true}))
	if err != nil {
		w.t.Fatal(err)
	}
	var given map[string]any
	if err := json.Unmarshal(text, &given); err != nil {
		w.t.Fatal(err)
	}
	dropNulls(given)
	document, err := json.Marshal(given)
	if err != nil {
		w.t.Fatal(err)
	}
	s, err := w.desk.OpenSheet(w.t.Context(), w.by, desk.Begin{Document: document})
	if err != nil {
		w.t.Fatal(err)
	}
	return s.Sheet.ID
}

// dropNulls takes out what is not given: a document has no nulls.
func dropNulls(group map[string]any) {
	for name, value := range group {
		switch v := value.(type) {
		case nil:
			delete(group, name)
		case map[string]any:
			dropNulls(v)
		}
	}
}

// connect lets the balance speak over a line, and follows it.
func (w *overLine) connect(format string, network bool) {
	w.t.Helper()
	i, err := w.station.NewInstrument("balance", format)
	if err != nil {
		w.t.Fatal(err)
	}
	p, err := i.Pattern()
	if err != nil {
		w.t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	var running sync.WaitGroup
	w.t.Cleanup(func() { stop(); running.Wait() })
	opened := make(chan string, 1)
	running.Go(func() {
		var err error
		if network {
			err = i.ServeTCP(ctx, "127.0.0.1:0", func(a net.Addr) { opened <- "tcp://" + a.String() })
		} else {
			err = i.ServePTY(ctx, "", func(path string) { opened <- "serial://" + path })
		}
		if err != nil {
			w.t.Error(err)
		}
	})
	a, err := source.ParseAddress(<-opened)
	if err != nil {
		w.t.Fatal(err)
	}
	b := w.q.Session.Bench
	began := time.Now() // and stands still: the time that passes is that of the bench
	w.feed, err = live.NewFeed(live.Config{ID: "B-1", Address: a, Pattern: p, Capacity: b.Capacity,
		Settle: settle.Options{Interval: b.Interval, Repeatability: max(b.Repeatability, b.RepeatabilityLiquid)}},
		live.Options{Now: func() time.Time { return began }, Record: func(_ live.Config, next source.Sink) source.Sink { return w.tap(next, format) }})
	if err != nil {
		w.t.Fatal(err)
	}
	running.Go(func() {
		if err := w.feed.Run(ctx); err != nil {
			w.t.Error(err)
		}
	})
	select {
	case <-w.greeted: // whoever speaks knows that somebody listens
	case <-w.t.Context().Done():
		w.t.Fatal(w.t.Context().Err())
	}
}

// tap gives what comes the time of the bench, and takes each line to the hands once it was followed.
func (w *overLine) tap(next source.Sink, format string) source.Sink {
	end := "\n"
	switch format {
	case "letters":
		end = "\r"
	case "checked":
		end = "\x03"
	}
	return func(e source.Event) {
		w.mu.Lock()
		defer w.mu.Unlock()
		e.Seconds = w.now
		next(e)
		if e.Kind != source.Heard {
			return
		}
		w.heard = append(w.heard, e.Bytes...)
		for {
			head, rest, found := bytes.Cut(w.heard, []byte(end))
			if !found {
				return
			}
			w.heard = bytes.Clone(rest)
			if bytes.Contains(head, []byte(simulated.Banner)) {
				w.greet()
				continue
			}
			w.lines++
			w.follow()
			select {
			case w.came <- struct{}{}:
			default:
			}
		}
	}
}

// follow does what the page does with a value, without a key.
func (w *overLine) follow() {
	s := w.feed.Snapshot()
	var now handsfree.Outcome
	switch s.State.Key {
	case live.Overload, live.Underload, live.Fault:
		now = w.hands.NoNumber(w.now, s.State.Key == live.Overload)
	default:
		if s.Balance == nil || s.Balance.Seconds != w.now {
			return
		}
		now = w.hands.Add(s.Settle)
	}
	for _, c := range now.Captures {
		w.enter(c, s)
	}
}

// enter writes a capture to the sheet.
func (w *overLine) enter(c handsfree.Capture, s live.Snapshot) {
	ctx := context.Background()
	if no := w.numbers[c.No]; no > 0 && (c.Change == handsfree.Moved || c.Change == handsfree.Aside) {
		if _, err := w.desk.Withdraw(ctx, w.by, w.sheet, no, c.Why); err != nil {
			w.t.Error(err)
		}
		delete(w.numbers, c.No)
	}
	if c.Change == handsfree.Aside || !c.IsReading() {
		delete(w.standing, c.No)
		return
	}
	w.standing[c.No] = c
	if c.Change != handsfree.Taken && c.Change != handsfree.Moved {
		return
	}
	evidence := w.feed.Evidence(c.From, c.To)
	sheet, err := w.desk.TakeHeard(ctx, w.by, w.sheet, record.Reading{Slot: c.Slot, Source: record.Received, Rested: true, Text: strconv.FormatFloat(rounded(c.Value, w.decimals)+0, 'f', w.decimals, 64)},
		desk.Heard{Stream: evidence.Recording, Invented: s.Origin != live.Real})
	if err != nil {
		w.refused = err
		return
	}
	w.numbers[c.No] = sheet.Sheet.Readings[len(sheet.Sheet.Readings)-1].No
}

// run lets the whole session pass, a change of the display at a time.
func (w *overLine) run() {
	w.t.Helper()
	for n := 1; float64(n)/rateHz <= w.q.Ends; n++ {
		w.mu.Lock()
		w.now = float64(n) / rateHz
		w.mu.Unlock()
		if err := w.station.Advance(w.t.Context(), 1.0/rateHz); err != nil {
			w.t.Fatal(err)
		}
		for {
			w.mu.Lock()
			through := w.lines >= n
			w.mu.Unlock()
			if through {
				break
			}
			select {
			case <-w.came:
			case <-w.t.Context().Done():
				w.t.Fatal(w.t.Context().Err())
			}
		}
	}
}

// TestFromTheLineToTheRecord weighs invented items in front of the whole chain, over a pseudo-terminal or the
// network: nobody presses a key, and what is recorded is what was true.
func TestFromTheLineToTheRecord(t *testing.T) {
	for _, c := range []struct {
		kind, format string
		seed         uint64
		network      bool
	}{
		{"hanging", "columns", 5, false},
		{"standing", "semicolons", 3, true},
		{"ring", "checked", 4, false},
		{"coin", "comma", 7, true},
		{"bar", "letters", 1, false},
	} {
		line := "pseudo-terminal"
		if c.network {
			line = "network"
		}
		t.Run(c.kind+", "+line, func(t *testing.T) {
			t.Parallel()
			w := newOverLine(t, c.kind, c.format, c.seed, c.network, true)
			w.run()
			w.check()
		})
	}
}

// check holds the record against the truth, and its finding against that of the same readings typed.
func (w *overLine) check() {
	w.t.Helper()
	w.mu.Lock()
	defer w.mu.Unlock()
	t, b := w.t, w.q.Session.Bench
	if w.refused != nil {
		t.Fatal(w.refused)
	}
	sheet, err := w.desk.Sheet(t.Context(), w.by.Who, w.sheet)
	if err != nil {
		t.Fatal(err)
	}
	counted := map[string]int{}
	stretches := w.station.Stretches()
	var right []string
	for no, c := range w.standing {
		at := slices.IndexFunc(sheet.Sheet.Readings, func(r record.Reading) bool { return r.No == w.numbers[no] })
		if at < 0 {
			t.Errorf("capture %d, %s, is on no row of the sheet", no, c.Slot)
			continue
		}
		r := sheet.Sheet.Readings[at]
		counted[r.Slot]++
		value, err := r.Value()
		if err != nil {
			t.Fatal(err)
		}
		true1, slot := truthAt(stretches, c)
		if slot != "" && slot != r.Slot && r.Slot != handsfree.ClosingZero {
			t.Errorf("%s was taken for %s at %.1f s", slot, r.Slot, c.Seconds)
		}
		if off := math.Abs(value - true1); off > 4*c.U+b.Interval {
			t.Errorf("%s is %s g, in truth %.5f g: %.5f apart, and 4 u + d is %.5f", r.Slot, r.Text, true1, off, 4*c.U+b.Interval)
		}
		if r.Source != record.Received || !r.Rested || r.Evidence == "" {
			t.Errorf("%s came as %+v", r.Slot, r)
		}
		stream, err := w.desk.Stream(t.Context(), w.by.Who, r.Evidence)
		if err != nil || len(stream) == 0 || len(stream) > desk.MaxStream {
			t.Errorf("%s: %d bytes of evidence: %v", r.Slot, len(stream), err)
		}
		right = append(right, fmt.Sprintf("%s %s", r.Slot, r.Text))
	}
	immersed := handsfree.Liquid
	if b.Standing {
		immersed = handsfree.Gain
	}
	for slot, n := range map[string]int{handsfree.Air: 1, immersed: 2, handsfree.ClosingAir: 1} {
		if counted[slot] < n {
			t.Errorf("%d readings of %s are on the sheet, want %d: %v", counted[slot], slot, n, right)
		}
	}
	if t.Failed() {
		return
	}
	heard, err := w.desk.Conclude(t.Context(), w.by, w.sheet)
	if err != nil {
		t.Fatal(err)
	}
	typed := w.typed(sheet)
	if x, y := answerOf(t, heard), answerOf(t, typed); x != y {
		t.Errorf("heard, the answer is\n%s\ntyped, it is\n%s", x, y)
	}
	slices.Sort(right)
	t.Logf("%d lines: %v", w.lines, right)
}

// truthAt is what a capture should be: the true reading of its stretch, less its zero where one was subtracted.
func truthAt(stretches []simulation.Stretch, c handsfree.Capture) (grams float64, slot string) {
	for _, s := range slices.Backward(stretches) {
		if c.Seconds >= s.From {
			if c.Zero != 0 {
				return s.True - s.Zero, s.Slot
			}
			return s.True, s.Slot
		}
	}
	return math.NaN(), ""
}

// typed hands in the same readings as a person types them.
func (w *overLine) typed(sheet desk.Sheet) *record.Record {
	w.t.Helper()
	id := w.begin()
	for _, r := range sheet.Sheet.Readings {
		if !sheet.Sheet.Counts(r) {
			continue
		}
		if _, err := w.desk.Take(w.t.Context(), w.by, id, record.Reading{Slot: r.Slot, Text: r.Text, Source: record.Typed, Settled: true}); err != nil {
			w.t.Fatal(err)
		}
	}
	made, err := w.desk.Conclude(w.t.Context(), w.by, id)
	if err != nil {
		w.t.Fatal(err)
	}
	return made
}

// TestNothingInventedIsRecorded weighs a simulated item in front of a real shop.
func TestNothingInventedIsRecorded(t *testing.T) {
	for _, network := range []bool{false, true} {
		w := newOverLine(t, "ring", "columns", 4, network, false)
		w.run()
		w.mu.Lock()
		refused := w.refused
		w.mu.Unlock()
		var why *desk.UserError
		if !errors.As(refused, &why) || !strings.Contains(why.Reason, "no real instrument has said this reading") {
			t.Errorf("network %v: the shop says %v", network, refused)
		}
		sheet, err := w.desk.Sheet(t.Context(), w.by.Who, w.sheet)
		if err != nil {
			t.Fatal(err)
		}
		if n := len(sheet.Sheet.Readings); n > 0 {
			t.Errorf("network %v: %d invented readings stand on a real sheet", network, n)
		}
	}
}

// TestSimulatedAddressesInRealShops asks that the pages open no invented instrument for a real shop.
func TestSimulatedAddressesInRealShops(t *testing.T) {
	a, err := source.ParseAddress("simulated:ring?seed=3")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ open, demo, always, allowed bool }{
		{false, false, false, false}, {true, false, false, false}, {true, true, false, true}, {true, false, true, true},
	} {
		i := &inventedInstruments{always: c.always}
		if c.open {
			w := &overLine{t: t}
			w.q, err = simulation.NewSequence(1, simulation.SequenceOptions{Kind: "ring", Fault: "none"})
			if err != nil {
				t.Fatal(err)
			}
			w.openSheet(c.demo)
			i.use(w.desk.Desk)
		}
		hub := live.NewHub(live.Options{Simulated: i.open})
		p, err := line.DecodePattern(patternOf(t, "columns"))
		if err != nil {
			t.Fatal(err)
		}
		err = hub.Put(live.Config{ID: "B-1", Address: a, Pattern: p})
		hub.Close()
		if (err == nil) != c.allowed || err != nil && !errors.Is(err, errInvented) {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

func patternOf(t *testing.T, format string) []byte {
	t.Helper()
	f, err := simulated.FormatByKey(format)
	if err != nil {
		t.Fatal(err)
	}
	p, err := f.Pattern(4)
	if err != nil {
		t.Fatal(err)
	}
	document, err := p.Encode()
	if err != nil {
		t.Fatal(err)
	}
	return document
}

// answerOf is what a record finds.
func answerOf(t *testing.T, r *record.Record) string {
	t.Helper()
	var a determination.Answer
	if err := json.Unmarshal(r.Answer, &a); err != nil {
		t.Fatal(err)
	}
	finding, err := json.Marshal(a.Finding)
	if err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("%.10g ± %.10g kg/m³: %s", a.Density20C.KgM3, a.Density20C.UKgM3, finding)
}
