package live

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"wreath/internal/line"
	"wreath/internal/source"
	"wreath/settle"
)

// driven is a feed whose source is the test, on a clock of its own.
type driven struct {
	t       testing.TB
	f       *Feed
	said    *Subscription
	seconds float64
}

var morning = time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)

func drive(t testing.TB, c Config) *driven {
	t.Helper()
	d := &driven{t: t}
	if c.Address.Kind == "" {
		c.Address = address(t, "tcp://192.0.2.7:4001")
	}
	c.ID, c.Name, c.Pattern = "b1", "balance", pattern(t)
	var err error
	d.f, err = NewFeed(c, Options{Now: func() time.Time { return morning.Add(time.Duration(d.seconds * 1e9)) }})
	if err != nil {
		t.Fatal(err)
	}
	d.said = d.f.Subscribe()
	return d
}

func (d *driven) link(e source.Event) {
	e.Kind, e.Seconds = source.LinkChanged, d.seconds
	d.f.take(e)
}

// plug connects; the connection starts at the start of a line.
func (d *driven) plug() {
	d.link(source.Event{Link: source.Connected, Identity: "port", Whole: true})
}
func (d *driven) pull() {
	d.link(source.Event{Link: source.Connecting, Err: errors.New("the link was cut")})
}

// say is heard a tenth of a second after what was said before.
func (d *driven) say(text string) {
	d.seconds += 0.1
	d.f.take(source.Event{Kind: source.Heard, Seconds: d.seconds, Bytes: []byte(text)})
}

func reading(mark string, grams float64) string { return fmt.Sprintf("%s %11.4f g\r\n", mark, grams) }

// rest says a value until it is settled.
func (d *driven) rest(grams float64) {
	d.t.Helper()
	for range 200 {
		d.say(reading("S", grams))
		if s := d.f.Snapshot(); s.State.Key == Still && abs(s.Settle.Value-grams) < 0.00005 {
			return
		}
	}
	d.t.Fatalf("%g g does not come to rest: %+v", grams, d.f.Snapshot().Settle)
}

func abs(x float64) float64 { return max(x, -x) }

// events takes all that waits.
func (d *driven) events() []Event {
	var out []Event
	for {
		e, err := d.said.take()
		if e == nil {
			if err != nil {
				d.t.Fatal(err)
			}
			return out
		}
		out = append(out, *e)
	}
}

func keys(s []Suspicion) []string {
	var out []string
	for _, x := range s {
		out = append(out, x.Key)
	}
	return out
}

func TestValuesOfAllKinds(t *testing.T) {
	d := drive(t, Config{})
	if s := d.f.Snapshot(); s.State.Key != Connecting || s.Balance != nil {
		t.Errorf("at first %+v", s)
	}
	d.plug()
	d.say("T 21.40 °C\r\nR 19.50 °C\r\n")
	d.say(reading("M", 12.3456))
	e := d.events()
	last := e[len(e)-1]
	if want := (line.Value{Channel: "B", Text: "12.3456", Unit: "g", Kind: line.Mass, Number: 12.3456, Interval: 0.0001, Mark: line.Moving}); last.Value != want || last.Kind != PhaseChanged {
		t.Errorf("the last event is %+v, want a first value %+v", last, want)
	}
	if last.Feed != "b1" || last.Seconds != 0.2 || !last.At.Equal(morning.Add(200*time.Millisecond)) || last.Origin != Real {
		t.Errorf("the last event is of %s at %g s, %s, %s", last.Feed, last.Seconds, last.At, last.Origin)
	}
	for i := range e {
		if e[i].Number != uint64(i+1) {
			t.Errorf("event %d has the number %d", i, e[i].Number)
		}
	}
	d.seconds += 7
	s := d.f.Snapshot()
	if s.State.Key != Moving || s.Balance.Age != 7*time.Second || s.Thermometer.Value.Number != 21.4 || s.Thermometer.Age != 7100*time.Millisecond {
		t.Errorf("the snapshot says %+v, %+v, %+v", s.State, s.Balance, s.Thermometer)
	}
	if s.Temperature.Value != 21.4 || s.Lines != 3 || s.Identity != "port" || s.Connections != 1 {
		t.Errorf("the snapshot says %+v", s)
	}
	if len(s.Other) != 1 || s.Other[0].Value.Number != 19.5 || s.Other[0].Age != s.Thermometer.Age {
		t.Errorf("the second thermometer says %+v", s.Other)
	}
	d.say("OVER\r\n")
	if s := d.f.Snapshot(); s.State.Key != Overload || s.Balance.Value.Text != "12.3456" {
		t.Errorf("above its range it is %+v with %+v", s.State, s.Balance)
	}
	d.rest(12.5)
	if s := d.f.Snapshot(); s.State.Key != Still || s.Settle.Phase != settle.Settled {
		t.Errorf("at rest it is %+v", s.State)
	}
}

func TestTornLinesAreNeverJoined(t *testing.T) {
	d := drive(t, Config{})
	d.plug()
	d.say(reading("S", 1))
	d.say("S     12.34")
	d.pull()
	d.plug()
	d.say("56 g\r\n")
	d.pull()
	// Joined in the middle of a line whose rest looks like one.
	d.link(source.Event{Link: source.Connected, Identity: "port"})
	d.say(reading("S", 2.3456))
	if s := d.f.Snapshot(); s.Balance.Value.Text != "1.0000" || s.Mistakes.Count != 2 || !strings.Contains(s.Mistakes.Shown, "2.3456 g") {
		t.Errorf("after torn lines %+v, %+v", s.Balance, s.Mistakes)
	}
	d.pull()
	// After a second of silence a first byte begins a line.
	d.link(source.Event{Link: source.Connected, Identity: "port"})
	d.seconds++
	d.say(reading("S", 3.5))
	if s := d.f.Snapshot(); s.Balance.Value.Text != "3.5000" {
		t.Errorf("after a quiet start %+v", s.Balance)
	}
	// A silence in between is no tear.
	d.say("S      4.5")
	d.link(source.Event{Link: source.Quiet, Identity: "port"})
	d.link(source.Event{Link: source.Connected, Identity: "port", Whole: true})
	d.say("000 g\r\n")
	if s := d.f.Snapshot(); s.Balance.Value.Text != "4.5000" || s.Connections != 4 {
		t.Errorf("after a pause within a line %+v, %d connections", s.Balance, s.Connections)
	}
}

func TestUnpluggedInEveryState(t *testing.T) {
	for state, bring := range map[string]func(d *driven){
		Waiting:       func(d *driven) {},
		Moving:        func(d *driven) { d.say(reading("M", 5)); d.say(reading("M", 9)) },
		Still:         func(d *driven) { d.rest(5) },
		Overload:      func(d *driven) { d.rest(5); d.say("OVER\r\n") },
		NotUnderstood: func(d *driven) { d.rest(5); d.say("?\r\n?\r\n\x1b[2J\r\n") },
		Silent:        func(d *driven) { d.rest(5); d.link(source.Event{Link: source.Quiet, Identity: "port"}) },
	} {
		d := drive(t, Config{})
		d.plug()
		bring(d)
		before := d.f.Snapshot()
		if before.State.Key != state {
			t.Errorf("brought to %q it is %+v", state, before.State)
		}
		d.seconds++
		d.pull()
		after := d.f.Snapshot()
		if after.State.Key != NotConnected || !strings.Contains(after.State.Sentence, "the link was cut") || !after.State.Since.Equal(morning.Add(time.Duration(d.seconds*1e9))) {
			t.Errorf("unplugged in %q it is %+v", state, after.State)
		}
		if before.Balance != nil && (after.Balance == nil || after.Balance.Value != before.Balance.Value || after.Balance.Age < time.Second) {
			t.Errorf("unplugged in %q the value is %+v, was %+v", state, after.Balance, before.Balance)
		}
		if after.Settle.Value != before.Settle.Value || before.Balance != nil && after.Settle.Phase != settle.Silent {
			t.Errorf("unplugged in %q the settled value is %+v, was %+v", state, after.Settle, before.Settle)
		}
		if len(after.Spark) > len(before.Spark) || after.Lines != before.Lines || after.Mistakes != before.Mistakes {
			t.Errorf("unplugged in %q counts changed", state)
		}
		settled, said := false, false
		for _, e := range d.events() {
			settled = settled || e.Kind == PhaseChanged && e.Settle.Phase == settle.Settled && e.Settle.Value == 5
			said = said || e.Kind == StateChanged && e.State.Key == NotConnected
		}
		if wantSettled := state != Waiting && state != Moving; settled != wantSettled || !said {
			t.Errorf("unplugged in %q: settled event %v, word of it %v", state, settled, said)
		}
		if state == Still {
			if ev := d.f.Evidence(0, d.seconds); !strings.HasSuffix(string(ev.Bytes), reading("S", 5)) {
				t.Errorf("the evidence is gone: %q", ev.Bytes)
			}
		}
		d.plug()
		d.say(reading("S", 5))
		if s := d.f.Snapshot(); s.State.Key != Moving || s.Settle.N > 1 {
			t.Errorf("after %q the first value of a new connection leans on old ones: %+v, %+v", state, s.State, s.Settle)
		}
		d.rest(7)
		if s := d.f.Snapshot(); s.State.Key != Still || s.Connections != 2 {
			t.Errorf("plugged in again after %q it is %+v", state, s.State)
		}
	}
}

func TestStatesInWords(t *testing.T) {
	d := drive(t, Config{})
	d.link(source.Event{Link: source.Connecting})
	d.seconds = 5
	d.link(source.Event{Link: source.Connecting, Err: errors.New("call 192.0.2.7:4001: refused")})
	d.seconds = 9
	d.link(source.Event{Link: source.Connecting, Err: errors.New("call 192.0.2.7:4001: no route")})
	if s := d.f.Snapshot().State; !s.Since.Equal(morning.Add(5*time.Second)) || s.Sentence != "Not connected: call 192.0.2.7:4001: no route." {
		t.Errorf("not connected: %+v", s)
	}
	d.link(source.Event{Link: source.Connecting, Identity: "127.0.0.1:4001"})
	if s := d.f.Snapshot().State; s.Sentence != "The program waits to be called at 127.0.0.1:4001." {
		t.Errorf("waiting to be called: %+v", s)
	}
	d.plug()
	d.say(reading("S", 1))
	d.seconds += 12
	d.link(source.Event{Link: source.Quiet, Identity: "port"})
	if s := d.f.Snapshot().State; s.Key != Silent || !s.Since.Equal(morning.Add(9100*time.Millisecond)) {
		t.Errorf("silent: %+v, want since the last byte", s)
	}
	d.link(source.Event{Link: source.Connected, Identity: "port", Whole: true})
	d.say("\x1b[2Jwhat\xff\r\nwhat\r\n")
	if s := d.f.Snapshot().State; s.Key == NotUnderstood {
		t.Errorf("after two odd lines: %+v", s)
	}
	d.say(reading("S", 1))
	d.say("what\r\nwhat\r\n")
	if s := d.f.Snapshot().State; s.Key == NotUnderstood {
		t.Errorf("after two more: %+v", s)
	}
	d.say("why\r\n")
	if s := d.f.Snapshot(); s.State.Key != NotUnderstood || s.State.Shown != "why" || s.State.Why == "" || s.Mistakes.Count != 5 {
		t.Errorf("after three odd lines: %+v", s)
	}
}

func TestBindingByCheckWeight(t *testing.T) {
	bound := Config{Binding: &Binding{Identity: "port", MassG: 100.0002, ToleranceG: 0.0005, Unit: "g"}}
	d := drive(t, bound)
	proof := func(key, why string) {
		t.Helper()
		if p := d.f.Snapshot().Proof; p.Key != key || p.Why != why {
			t.Errorf("the proof is %+v, want %s %s", p, key, why)
		}
	}
	d.plug()
	proof(Unproved, WhyNew)
	d.rest(99.9990)
	proof(Unproved, WhyNew)
	if got := keys(d.f.Snapshot().Suspicions); !slices.Equal(got, []string{SuspectUnproved}) {
		t.Errorf("suspicions %v", got)
	}
	d.rest(100.0004)
	proof(Proved, "")
	if p := d.f.Snapshot().Proof; p.By != ByCheckWeight || p.At.IsZero() {
		t.Errorf("the proof is %+v", p)
	}
	if got := d.f.Snapshot().Suspicions; got != nil {
		t.Errorf("suspicions %v", got)
	}
	d.pull()
	d.plug()
	proof(Unproved, WhyReconnected)
	d.f.Confirm("Anna (invented)")
	proof(Proved, "")
	d.pull()
	d.link(source.Event{Link: source.Connected, Identity: "another port", Whole: true})
	proof(Unproved, WhyIdentity)
	changes := 0
	for _, e := range d.events() {
		if e.Kind == ProofChanged {
			changes++
		}
	}
	if changes != 4 {
		t.Errorf("%d changes of the proof were said, want 4", changes)
	}
	// A memory stick is no cable that could be swapped.
	bound.Address = address(t, "file:///stick/readings.txt")
	bound.Binding.Identity = ""
	d = drive(t, bound)
	d.plug()
	d.f.Confirm("Anna (invented)")
	d.pull()
	d.plug()
	proof(Proved, "")
}

func TestSuspicions(t *testing.T) {
	d := drive(t, Config{Capacity: 200, Settle: settle.Options{Repeatability: 0.0002}})
	d.plug()
	want := func(what string, want ...string) {
		t.Helper()
		if got := keys(d.f.Snapshot().Suspicions); !slices.Equal(got, want) {
			t.Errorf("%s: suspicions %v, want %v", what, got, want)
		}
	}
	d.rest(10)
	want("at rest")
	d.say("S     50.0000 ct\r\n")
	want("another unit", SuspectUnit)
	d.say("S       10.01 g\r\n")
	want("other digits", SuspectDigits)
	d.f.Confirm("Anna (invented)")
	d.say("S       10.01 g\r\n")
	want("confirmed")
	d.say("M    250.0000 g\r\n")
	want("beyond capacity", SuspectCapacity)
	d.say(reading("S", 10))
	d.say(reading("S", 90))
	want("two rests within a tenth of a second", SuspectJump)
	d.seconds += 3
	d.say(reading("S", 10))
	want("two rests with time between")
	d.f.NextItem()
	d.seconds += 3
	d.say(reading("M", 10))
	want("a moving value that was seen before")
	d.say(reading("S", 10))
	want("the value of the item before", SuspectSame)
	d.say(reading("S", 10.0001))
	want("one digit beside it")
	d.f.NextItem()
	d.seconds += 3
	d.say(reading("S", 0))
	d.f.NextItem()
	d.say(reading("S", 0))
	want("an empty pan")
}

func TestEvidence(t *testing.T) {
	d := drive(t, Config{})
	if e := d.f.Evidence(0, 1); e.Bytes != nil || e.SHA256 != "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855" {
		t.Errorf("of nothing: %+v", e) // SHA-256 of no bytes, FIPS 180-4
	}
	d.plug()
	for i := range 10_000 {
		text := reading("S", float64(i))
		d.say(text[:5])
		d.say(text[5:])
	}
	// Line i came in two pieces, at (2i+1)/10 and (2i+2)/10 seconds.
	e := d.f.Evidence(1999.95, 2000.0)
	if string(e.Bytes) != reading("S", 9999) || e.Cut || abs(e.To-2000) > 1e-6 || abs(e.From-2000) > 1e-6 {
		t.Errorf("of the last piece: %q, %+v", e.Bytes, e)
	}
	e = d.f.Evidence(1998.95, 2000.0)
	if want := reading("S", 9994) + reading("S", 9995); !strings.HasPrefix(string(e.Bytes), want) || len(e.Bytes) != 6*len(reading("S", 1)) {
		t.Errorf("of the last second: %q", e.Bytes)
	}
	e = d.f.Evidence(0, 2000)
	if len(e.Bytes) != MaxEvidence || !e.Cut || !strings.HasSuffix(string(e.Bytes), reading("S", 9999)) || e.From < 1900 {
		t.Errorf("of everything: %d bytes from %g s, cut %v", len(e.Bytes), e.From, e.Cut)
	}
	if len(e.Recording) > MaxEvidence || len(e.Recording) < MaxEvidence*8/10 {
		t.Errorf("of everything the recording is %d bytes", len(e.Recording))
	}
	if e := d.f.Evidence(0, 100); len(e.Bytes) != 0 || e.Recording != nil {
		t.Errorf("of what is forgotten: %d bytes", len(e.Bytes))
	}
	if got := string(d.f.Heard(4)); got != " g\r\n" {
		t.Errorf("the last four bytes are %q", got)
	}
	if got := len(d.f.Heard(1 << 20)); got != keptBytes {
		t.Errorf("%d bytes are kept, want %d", got, keptBytes)
	}
}

// TestEvidenceKeepsTimes reads the recording of the last lines: whole lines, each with the time of its last byte,
// and nothing of the bytes is lost, whatever they are.
func TestEvidenceKeepsTimes(t *testing.T) {
	d := drive(t, Config{})
	d.plug()
	var want []string
	var times []float64
	for i := range 40 {
		text := reading("S", float64(i))
		if i%7 == 3 {
			text = "\\\xff\x00\x1b[2J " + text
		}
		d.say(text[:4])
		d.say(text[4 : len(text)-1])
		d.say(text[len(text)-1:])
		want, times = append(want, text), append(times, d.seconds)
	}
	e := d.f.Evidence(times[19]+0.01, d.seconds)
	var got []string
	var at []float64
	h, err := source.ReadRecording(bytes.NewReader(e.Recording), func(e source.Event) bool {
		if e.Kind == source.Heard {
			got, at = append(got, string(e.Bytes)), append(at, e.Seconds)
		} else if e.Link != source.Connected || !e.Whole {
			t.Errorf("the link is %s", e.Link)
		}
		return true
	})
	if err != nil {
		t.Fatal(err)
	}
	if h.Simulated || !slices.Equal(got, want[20:]) || strings.Join(got, "") != string(e.Bytes) {
		t.Errorf("%+v, %q", h, got)
	}
	for i := range at {
		if when := h.Made.Add(time.Duration(at[i] * 1e9)); abs(when.Sub(d.f.at).Seconds()-(times[20+i]-d.seconds)) > 2e-6 {
			t.Errorf("line %d came at %s", i, when)
		}
	}
}

func TestSparkIsBounded(t *testing.T) {
	d := drive(t, Config{})
	d.plug()
	for range 1000 {
		d.say(reading("M", d.seconds))
		d.seconds -= 0.05 // twenty a second
	}
	p := d.f.Snapshot().Spark
	if len(p) < 250 || len(p) > 300 || p[0].Ago > 30 || p[0].Ago < 25 || p[len(p)-1].Ago > 0.11 {
		t.Errorf("%d points from %g s ago", len(p), p[0].Ago)
	}
	d.seconds += 100
	if p := d.f.Snapshot().Spark; len(p) != 0 {
		t.Errorf("%d points are older than 30 s", len(p))
	}
}

func TestNewFeedRefuses(t *testing.T) {
	if _, err := NewFeed(Config{ID: "x", Address: address(t, "push:")}, Options{}); err == nil || !strings.Contains(err.Error(), "pattern") {
		t.Errorf("without a pattern: %v", err)
	}
	if _, err := NewFeed(Config{ID: "x", Address: address(t, "simulated:x"), Pattern: pattern(t)}, Options{}); err == nil {
		t.Error("a simulated instrument without a simulator is taken")
	}
}

// TestAsks tells that nothing is to be sent from that nothing was said of it.
func TestAsks(t *testing.T) {
	says := *pattern(t)
	says.Request, says.EveryS = "Q\r\n", 0.25
	for _, c := range []struct {
		config  Config
		request string
		every   time.Duration
	}{
		{Config{Pattern: &says}, "Q\r\n", 250 * time.Millisecond},
		{Config{Pattern: &says, Request: []byte{}}, "", 250 * time.Millisecond},
		{Config{Pattern: &says, Request: []byte("P\r"), Every: time.Second}, "P\r", time.Second},
		{Config{Pattern: pattern(t)}, "", 0},
	} {
		if request, every := c.config.asks(); string(request) != c.request || every != c.every {
			t.Errorf("%q every %s: %q every %s is sent, want %q every %s", c.config.Request, c.config.Every, request, every, c.request, c.every)
		}
	}
}

// A clock that is not ours gives the times of what it says, however often somebody looks.
func TestLookingChangesNoTimes(t *testing.T) {
	c := Config{ID: "b1", Address: address(t, "tcp://192.0.2.7:4001"), Pattern: pattern(t)}
	now := morning
	f, err := NewFeed(c, Options{Now: func() time.Time { now = now.Add(time.Second); return now }})
	if err != nil {
		t.Fatal(err)
	}
	f.take(source.Event{Kind: source.LinkChanged, Link: source.Connected, Whole: true})
	for i := range 10 {
		seconds := float64(i) / 10
		f.take(source.Event{Kind: source.Heard, Seconds: seconds, Bytes: []byte(reading("S", 1))})
		if s := f.Snapshot(); s.Balance.Seconds != seconds {
			t.Errorf("value %d is of %g s, want %g", i, s.Balance.Seconds, seconds)
		}
		f.Confirm("Anna (invented)")
	}
}
