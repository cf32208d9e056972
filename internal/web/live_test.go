package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"wreath/internal/desk"
	"wreath/internal/handsfree"
	"wreath/internal/line"
	"wreath/internal/live"
	"wreath/internal/people"
	"wreath/internal/source"
	"wreath/internal/station"
	"wreath/settle"
)

// inventedPattern reads lines such as "calm     5.0000 g", which no balance writes.
func inventedPattern(t testing.TB) json.RawMessage {
	t.Helper()
	number := line.Part{Is: "number", Decimals: 4, Whole: 7, Width: 12, Sign: "beside"}
	word := line.Part{Is: "word", Width: 5, Words: []line.Word{{Word: "calm", Mark: "settled"}, {Word: "busy", Mark: "moving"}}}
	p := line.Pattern{Format: line.Format, Framing: line.Framing{End: "any"}, Lines: []line.Shape{
		{Name: "overload", Means: "overload", Parts: []line.Part{{Is: "text", Text: "full ------------ g"}}},
		{Name: "reading", Means: "reading", Parts: []line.Part{word, number, {Is: "blank", Min: 1, Max: 1}, {Is: "unit"}}},
	}, Tests: []line.LineTest{{Line: strings.TrimSpace(says(5, true)), Reads: "5.0000 g", Mark: "settled"}}}
	text, err := p.Encode()
	if err != nil {
		t.Fatal(err)
	}
	var compact bytes.Buffer
	if err := json.Compact(&compact, text); err != nil {
		t.Fatal(err)
	}
	return compact.Bytes()
}

// says is a line of the invented balance.
func says(grams float64, still bool) string {
	word := "busy"
	if still {
		word = "calm"
	}
	return fmt.Sprintf("%-5s%12.4f g\r\n", word, grams)
}

// load is what that lies on the invented balance for some seconds.
type load struct{ grams, seconds float64 }

// weighing is an item of 5 g and 15.6 g/cm³ weighed twice in water, between two weighings in air; before it
// comes to the water the balance is set to zero with the hanger in it.
var weighing = []load{{0, 8}, {5, 9}, {0, 8}, {4.6801, 10}, {0, 8}, {4.6802, 10}, {0, 8}, {5, 9}, {0, 6}}

// recorded writes what the invented balance says of loads that change, as a recording: it answers in 0.3 s,
// speaks five times a second, and its last digit flickers.
func recorded(t testing.TB, rests []load) string {
	t.Helper()
	var out strings.Builder
	out.WriteString("wreath recording 1\nmade 2026-11-26T09:00:00Z\nnote invented\n\n0.000000 = connecting\n0.010000 = joined invented\n")
	shown, at, n := 0.0, 0.1, 0
	for _, r := range rests {
		for end := at + r.seconds; at < end; at += 0.2 {
			shown += (r.grams - shown) * (1 - math.Exp(-0.2/0.3))
			flicker := []float64{0, 0, 0.0001, 0, -0.0001, 0, 0}[n%7] * 0.4
			n++
			still := math.Abs(shown-r.grams) < 0.0003
			fmt.Fprintf(&out, "%.6f < %s\n", at, strings.NewReplacer("\r", `\r`, "\n", `\n`).Replace(says(shown+flicker, still)))
		}
	}
	path := filepath.Join(t.TempDir(), "invented.txt")
	if err := os.WriteFile(path, []byte(out.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// withHub has a hub that ends with the test.
func withHub(t testing.TB, o *Options) {
	t.Helper()
	o.Live = live.NewHub(live.Options{Now: o.Now})
	t.Cleanup(o.Live.Close)
}

// pace is how many times faster than a clock the time of a quick balance runs.
const pace = 8

// quickWorld is a linkedWorld whose balance speaks faster than it says it does, so that a person's rests pass in
// less time: each line of a speaker is a tenth of a second after the one before, however long that took. Bytes,
// ports and pages are as they are.
func quickWorld(t testing.TB, address string) *benchWorld {
	t.Helper()
	w := openWorld(t)
	w.halt()
	w.pace = pace
	begin := time.Now()
	w.options.Now = func() time.Time { return begin.Add(pace * time.Since(begin)) } // silence is as old as it would be
	w.options.Live = live.NewHub(live.Options{Now: w.options.Now, Record: func(_ live.Config, next source.Sink) source.Sink {
		begun := w.lines.Load()
		return func(e source.Event) {
			e.Seconds = float64(w.lines.Load()-begun) / 10
			next(e)
		}
	}})
	t.Cleanup(w.options.Live.Close)
	w.serve(w.address)
	w.link("B-1", &station.Link{Address: address, Pattern: inventedPattern(t)})
	return w
}

// linkedWorld is a world whose balance is linked by an address.
func linkedWorld(t testing.TB, address string) *benchWorld {
	t.Helper()
	w := openWorld(t)
	w.halt()
	withHub(t, &w.options)
	w.serve(w.address)
	w.link("B-1", &station.Link{Address: address, Pattern: inventedPattern(t)})
	return w
}

// link links an instrument.
func (w *benchWorld) link(id string, link *station.Link) {
	w.t.Helper()
	if _, err := w.desk.LinkInstrument(w.t.Context(), desk.By{Who: w.who}, id, link, ""); err != nil {
		w.t.Fatal(err)
	}
	w.server.relink(w.t.Context())
	if why := w.server.wrongLink(id); why != "" {
		w.t.Fatal(why)
	}
}

// pushed says a line to an instrument that is linked by a push.
func (w *benchWorld) pushed(id, text string) {
	w.t.Helper()
	if err := w.options.Live.Feed(id).Push(w.t.Context(), []byte(text)); err != nil {
		w.t.Fatal(err)
	}
}

// awaits waits until something is so.
func awaits(t testing.TB, what string, so func() bool) {
	t.Helper()
	deadline := time.Now().Add(patience)
	for !so() {
		if time.Now().After(deadline) {
			t.Fatalf("it did not come true that %s", what)
		}
		select {
		case <-t.Context().Done():
			t.Fatal(t.Context().Err())
		case <-time.After(5 * time.Millisecond):
		}
	}
}

// bringHere brings a sheet to its balance, to be weighed by itself or not.
func (w *benchWorld) bringHere(id string, byItself bool) {
	w.t.Helper()
	ctx := w.t.Context()
	sheet, err := w.desk.Sheet(ctx, w.who, id)
	if err != nil {
		w.t.Fatal(err)
	}
	if err := w.server.bring(ctx, w.who, sheet, "B-1", "", byItself); err != nil {
		w.t.Fatal(err)
	}
}

// TestWeighsByItself plays a whole weighing to a sheet that takes readings by itself.
func TestWeighsByItself(t *testing.T) {
	w := openWorld(t)
	w.halt()
	withHub(t, &w.options)
	w.serve(w.address)
	id := w.openSheet("")
	path := recorded(t, append([]load{{0, 30}}, weighing...))
	w.link("B-1", &station.Link{Address: "play://" + path + "?speed=30", Pattern: inventedPattern(t)})
	w.bringHere(id, true)
	awaits(t, "the whole weighing stands on the sheet", func() bool {
		s, err := w.desk.Sheet(t.Context(), w.who, id)
		return err == nil && strings.HasPrefix(strings.Join(w.readings(id), ", "), "air_g") && s.Sheet.Readings[len(s.Sheet.Readings)-1].Slot == "closing_air_g"
	})
	w.has(id, "air_g 5.0000", "liquid_g 4.6801", "liquid_g 4.6802", "closing_zero_g 0.0000", "closing_air_g 5.0000")
	s, err := w.desk.Sheet(t.Context(), w.who, id)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range s.Sheet.Readings {
		if r.Source != "received" || !r.Rested || !r.Settled { // the balance says so as well
			t.Errorf("%s: %+v", r.Slot, r)
		}
		heard, err := w.desk.Stream(t.Context(), w.who, r.Evidence)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(string(heard), r.Text+" g") || len(heard) > desk.MaxStream {
			t.Errorf("%s: %q does not say %s", r.Slot, heard, r.Text)
		}
	}
}

// TestReadingsWaitForAPerson takes nothing by itself, and takes what stands still when it is asked.
func TestReadingsWaitForAPerson(t *testing.T) {
	w := quickWorld(t, "push:b1")
	id := w.openSheet("")
	w.bringHere(id, false)
	b := w.speaks("B-1")
	at := w.server.ofSheet(id)
	rests := func(grams float64) {
		b.rests(grams)
		awaits(t, "the balance rests", func() bool {
			at.mu.Lock()
			defer at.mu.Unlock()
			return at.last.Settle.Phase == settle.Settled && math.Abs(at.last.Value.Number-grams) < 0.001
		})
	}
	rests(0)
	rests(5)
	w.has(id)
	w.server.handAct(t.Context(), at, w.who, "air_g", (*handsfree.Recogniser).Take)
	awaits(t, "it is taken", func() bool { return len(w.readings(id)) > 0 })
	w.has(id, "air_g 5.0000")
}

// TestMovedKeepsWhatWasHeard moves a reading after its balance was linked anew, whose stream counts its
// seconds from zero.
func TestMovedKeepsWhatWasHeard(t *testing.T) {
	w := linkedWorld(t, "push:b1")
	id := w.openSheet("")
	w.bringHere(id, false)
	at := w.server.ofSheet(id)
	heard := func(grams float64) {
		awaits(t, "the line is heard", func() bool { return w.options.Live.Feed("B-1").Push(t.Context(), []byte(says(grams, true))) == nil })
		awaits(t, "the line is kept", func() bool { return bytes.Contains(w.options.Live.Feed("B-1").Heard(200), []byte(says(grams, true))) })
	}
	enters := func(c handsfree.Capture) {
		done := make(chan struct{})
		at.mu.Lock()
		waits := w.server.act(at, handsfree.Outcome{Captures: []handsfree.Capture{c}}, done)
		at.mu.Unlock()
		if !waits {
			t.Fatal("the capture was not passed on")
		}
		<-done
	}
	heard(5)
	c := handsfree.Capture{No: 1, Change: handsfree.Taken, Slot: "air_g", Value: 5, From: 0, To: 1e6, Sure: 1}
	enters(c)
	w.server.o.Live.Remove("B-1")
	w.server.relink(t.Context())
	heard(77)
	c.Change, c.Was, c.Slot = handsfree.Moved, "air_g", "closing_air_g"
	enters(c)
	s, err := w.desk.Sheet(t.Context(), w.who, id)
	if err != nil {
		t.Fatal(err)
	}
	r := s.Sheet.Readings
	if len(r) != 2 || r[1].Slot != "closing_air_g" || r[0].Evidence == "" || r[1].Evidence != r[0].Evidence {
		t.Errorf("%+v", r)
	}
}

// TestLessonsBeginAtOnce begins several lessons of one instrument at the same time; one of them stays.
func TestLessonsBeginAtOnce(t *testing.T) {
	w := linkedWorld(t, "push:b1")
	seen := make(chan *lesson, 8)
	var all sync.WaitGroup
	for range cap(seen) {
		all.Go(func() {
			if err := w.server.beginLesson(t.Context(), "B-1", "push:b1", "", nil, 0); err != nil {
				t.Error(err)
			}
			seen <- w.server.lesson("B-1")
		})
	}
	all.Wait()
	last := w.server.lesson("B-1")
	w.server.endLesson("B-1")
	for range cap(seen) {
		l := <-seen
		select {
		case <-l.ended:
		default:
			t.Errorf("a lesson goes on that nobody can end; it is the last: %v", l == last)
		}
	}
}

// TestShopBenchIsNoPractice tells the bench whose readings enter the records of a demonstration from practising.
func TestShopBenchIsNoPractice(t *testing.T) {
	if (view{Body: &shopBenchView{}}).Practice() || !(view{Body: &practiceView{}}).Practice() {
		t.Error("it is not told what enters the records")
	}
}

// speaker lets an invented balance speak ten times a second of its own time, until the test ends.
type speaker struct {
	mu    sync.Mutex
	grams float64
	quiet bool
}

// speaks lets an instrument that is linked by a push speak.
func (w *benchWorld) speaks(id string) *speaker {
	b := &speaker{}
	beat := 100 * time.Millisecond / time.Duration(max(1, w.pace))
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		shown, n := 0.0, 0
		tick := time.NewTicker(beat)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
			}
			b.mu.Lock()
			grams, quiet := b.grams, b.quiet
			b.mu.Unlock()
			if quiet {
				continue
			}
			shown += (grams - shown) * (1 - math.Exp(-0.1/0.3))
			n++
			flicker := 0.00004 * float64(n%7-3) / 3
			feed := w.options.Live.Feed(id)
			if feed == nil {
				continue
			}
			w.lines.Add(1)
			if err := feed.Push(ctx, []byte(says(shown+flicker, math.Abs(shown-grams) < 0.0003))); err != nil && ctx.Err() == nil {
				continue // the link was made anew meanwhile
			}
		}
	}()
	w.t.Cleanup(func() { stop(); <-done })
	return b
}

// rests puts a load on.
func (b *speaker) rests(grams float64) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.grams = grams
}

// silent takes the cable out, or puts it back.
func (b *speaker) silent(quiet bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.quiet = quiet
}

// TestLinesArePushed hands lines over as a program, and looks at how the instrument stands.
func TestLinesArePushed(t *testing.T) {
	s := newSite(t, password, func(o *Options) { withHub(t, o) })
	boss := s.who("boss")
	pattern := inventedPattern(t)
	if _, err := s.desk.LinkInstrument(t.Context(), boss, "B-1", &station.Link{Address: "push:b1", Pattern: pattern}, ""); err != nil {
		t.Fatal(err)
	}
	s.server.relink(t.Context())
	measure, audit := s.program(people.Measure), s.program(people.Audit)
	awaits(t, "the feed runs", func() bool {
		return measure.do("POST", apiRoot+"/instruments/B-1/lines", strings.NewReader(says(12.3456, true)), "Content-Type", "application/octet-stream").status == 200
	})
	var following Following
	awaits(t, "the line is read", func() bool {
		following = into[Following](measure.get(apiRoot + "/instruments"))
		return len(following.Instruments) == 1 && following.Instruments[0].Text == "12.3456"
	})
	if f := following.Instruments[0]; f.ID != "B-1" || f.Unit != "g" || f.Origin != "real" || f.Lines == 0 {
		t.Errorf("%+v", f)
	}
	measure.do("POST", apiRoot+"/instruments/B-9/lines", strings.NewReader("x"), "Content-Type", "application/octet-stream").want(404)
	audit.do("POST", apiRoot+"/instruments/B-1/lines", strings.NewReader("x"), "Content-Type", "application/octet-stream").want(403)
	measure.do("POST", apiRoot+"/instruments/B-1/lines", bytes.NewReader(make([]byte, maxPush+1)), "Content-Type", "application/octet-stream").want(413)
	s.client().do("POST", apiRoot+"/instruments/B-1/lines", strings.NewReader("x"), "Content-Type", "application/octet-stream").want(401)
}

// TestOneSheetAtABalance brings one sheet after the other to a balance.
func TestOneSheetAtABalance(t *testing.T) {
	w := linkedWorld(t, "push:b1")
	one, two := w.openSheet("TRAY-1"), w.openSheet("TRAY-2")
	page := func(id string) string {
		r := httptest.NewRequest("GET", w.home()+"/sheet/"+id, nil)
		r.RemoteAddr = "127.0.0.1:9"
		out := httptest.NewRecorder()
		w.server.Handler().ServeHTTP(out, r)
		return out.Body.String()
	}
	if !strings.Contains(page(one), "Readings wait for you.") {
		t.Error("the first sheet that is opened is not at the balance")
	}
	if text := page(two); !strings.Contains(text, "At the balance now") || !strings.Contains(text, "TRAY-1") {
		t.Error("the second sheet does not say which one is at the balance")
	}
	w.bringHere(two, false)
	if !strings.Contains(page(two), "Readings wait for you.") || !strings.Contains(page(one), "TRAY-2") {
		t.Error("the sheets did not change places")
	}
	if err := w.desk.Drop(t.Context(), desk.By{Who: w.who}, two, "given up"); err != nil {
		t.Fatal(err)
	}
	w.server.leave(two)
	if !strings.Contains(page(one), "Readings wait for you.") {
		t.Error("the balance is not free after the sheet at it was given up")
	}
}

func TestChanging(t *testing.T) {
	for _, c := range []struct {
		text         string
		interval, by float64
		want         string
	}{
		{"11.6468", 0.0001, 0.005, "68"}, {"11.6468", 0.0001, 0.0001, "8"}, {"11.6468", 0.0001, 0, ""}, {"11.6468", 0.0001, 0.00001, ""},
		{"11.6468", 0.0001, 0.02, "468"}, {"11.6468", 0.0001, 0.3, "6468"}, {"11.6468", 0.0001, 3, "1.6468"}, {"-1.6468", 0.0001, 3000, "1.6468"},
		{"11.6468", 0, 1, ""}, {"12", 1, 4, "2"}, {"", 1, 4, ""}, {"11.6468", 0.0001, math.NaN(), ""},
	} {
		if n := changing(c.text, c.interval, c.by); c.text[len(c.text)-n:] != c.want {
			t.Errorf("of %s by %g change %q, want %q", c.text, c.by, c.text[len(c.text)-n:], c.want)
		}
	}
}

func TestWithoutZeros(t *testing.T) {
	for text, want := range map[string]string{"000018.698": "18.698", "-000000.1": "-0.1", "0.5": "0.5", "00": "0", "0": "0", "": "", "- 012057,2": "- 12057,2", "10.0": "10.0"} {
		if got := withoutZeros(text); got != want {
			t.Errorf("%q is shown as %q, want %q", text, got, want)
		}
	}
}

func TestDecimals(t *testing.T) {
	for interval, want := range map[float64]int{1: 0, 10: 0, 0.1: 1, 0.5: 1, 0.002: 3, 0.0001: 4, 0.00001: 5, 0: 4, math.NaN(): 4} {
		if got := decimals(interval); got != want && interval == interval {
			t.Errorf("%g needs %d decimals, got %d", interval, want, got)
		}
	}
}

func TestAsShown(t *testing.T) {
	carats := line.Value{Text: "25.00", Unit: "ct", Number: 5, Interval: 0.002}
	grams := line.Value{Text: "+5.0000", Unit: "g", Number: 5, Interval: 0.0001}
	for _, c := range []struct {
		capture    handsfree.Capture
		latest     line.Value
		text, unit string
	}{
		{handsfree.Capture{Value: 5.00002}, grams, "+5.0000", ""}, // as it was received
		{handsfree.Capture{Value: 5.0004}, carats, "25.00", "ct"},
		{handsfree.Capture{Value: 4.68012, Zero: 0.0003}, grams, "4.6801", ""}, // a difference of two readings
		{handsfree.Capture{Value: 4.68012}, grams, "4.6801", ""},               // the display went on
		{handsfree.Capture{Value: -0.00001, Zero: 0.0003}, grams, "0.0000", ""},
		{handsfree.Capture{Value: 4.6801}, line.Value{State: line.Overload}, "4.6801", ""},
	} {
		if text, unit := asShown(c.capture, c.latest); text != c.text || unit != c.unit {
			t.Errorf("%+v beside %+v is %q %q, want %q %q", c.capture, c.latest, text, unit, c.text, c.unit)
		}
	}
}
