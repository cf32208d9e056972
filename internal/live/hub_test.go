package live

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"wreath/internal/simulated"
	"wreath/internal/source"
)

func TestHub(t *testing.T) {
	before := runtime.NumGoroutine()
	h := NewHub(Options{})
	said := h.Subscribe()
	config := func(id string) Config {
		return Config{ID: id, Name: id, Address: address(t, "push:"+id), Pattern: pattern(t)}
	}
	for _, id := range []string{"b", "a"} {
		if err := h.Put(config(id)); err != nil {
			t.Fatal(err)
		}
		await(t, said, id, func(e Event) bool { return e.Feed == id && e.Kind == StateChanged && e.State.Key == Waiting })
	}
	if s := h.Snapshots(); len(s) != 2 || s[0].ID != "a" || s[1].ID != "b" {
		t.Errorf("snapshots %+v", s)
	}
	a := h.Feed("a")
	if err := a.Push(t.Context(), []byte(reading("S", 3))); err != nil {
		t.Fatal(err)
	}
	if e := await(t, said, "a value", toValue("3.0000")); e.Feed != "a" {
		t.Errorf("the value comes from %s", e.Feed)
	}
	if err := h.Put(config("a")); err != nil || h.Feed("a") != a {
		t.Errorf("the same config begins anew: %v", err)
	}
	if err := h.Put(Config{ID: "a", Address: address(t, "push:a")}); err == nil || h.Feed("a") != a {
		t.Errorf("a config of no use ends the feed: %v", err)
	}
	other := config("a")
	other.Capacity = 220
	own := a.Subscribe()
	if err := h.Put(other); err != nil || h.Feed("a") == a {
		t.Errorf("another config does not begin anew: %v", err)
	}
	await(t, own, "the end", toState(Ended))
	if _, err := own.Next(t.Context()); !errors.Is(err, ErrClosed) {
		t.Errorf("after the end of a feed: %v", err)
	}
	if s := a.Snapshot(); s.State.Key != Ended || s.Balance == nil {
		t.Errorf("an ended feed stands at %+v", s)
	}
	if err := a.Push(t.Context(), nil); !errors.Is(err, source.ErrNotListening) {
		t.Errorf("a push to an ended feed: %v", err)
	}
	b := h.Feed("b")
	h.Remove("b")
	h.Remove("b")
	if s := b.Snapshot().State; s.Key != Ended {
		t.Errorf("a removed feed stands at %+v", s)
	}
	if h.Feed("b") != nil || len(h.Snapshots()) != 1 {
		t.Error("a removed instrument is still there")
	}
	h.Close()
	h.Close()
	if err := h.Put(config("c")); err == nil {
		t.Error("a closed hub follows another instrument")
	}
	for {
		if _, err := said.Next(t.Context()); err != nil {
			if !errors.Is(err, ErrClosed) {
				t.Error(err)
			}
			break
		}
	}
	if _, err := h.Subscribe().Next(t.Context()); !errors.Is(err, ErrClosed) {
		t.Errorf("subscribed to a closed hub: %v", err)
	}
	noMoreThan(t, before)
}

func TestRecordAndPlay(t *testing.T) {
	path := filepath.Join(t.TempDir(), "talk")
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	var recorder *source.Recorder
	options := Options{Record: func(c Config, next source.Sink) source.Sink {
		recorder, err = source.NewRecorder(file, source.Header{Address: c.Address, Made: morning, Note: "invented"}, 0)
		if err != nil {
			t.Error(err)
			return next
		}
		return recorder.Sink(next)
	}}
	w := newWire(t)
	f, said, stop := run(t, Config{ID: "b1", Address: address(t, "tcp://"+w.door.Addr().String()), Pattern: pattern(t)}, options)
	w.plug()
	await(t, said, "connected", toState(Waiting))
	w.say(reading("M", 1) + reading("S", 2) + "S      3.0")
	await(t, said, "a value", toValue("2.0000"))
	w.Close()
	await(t, said, "unplugged", toState(NotConnected))
	w.plug()
	w.say("S      4.0000 g\r\n")
	await(t, said, "a value after it", toValue("4.0000"))
	stop()
	await(t, said, "the end", toState(Ended))
	live := f.Snapshot()

	played, err := NewFeed(Config{ID: "p", Address: address(t, "play://"+path+"?speed=most"), Pattern: pattern(t)}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	heard := played.Subscribe()
	if err := played.Run(t.Context()); err != nil {
		t.Fatal(err)
	}
	again := played.Snapshot()
	if again.Origin != Playback || again.Lines != live.Lines || again.Bytes != live.Bytes || again.Balance.Value != live.Balance.Value || again.Mistakes.Count != live.Mistakes.Count {
		t.Errorf("played: %+v, was %+v", again, live)
	}
	if abs(again.Balance.Seconds-live.Balance.Seconds) > 1e-5 {
		t.Errorf("played the value is of %g s, was of %g s", again.Balance.Seconds, live.Balance.Seconds)
	}
	for _, text := range []string{"1.0000", "2.0000", "4.0000"} {
		await(t, heard, "played "+text, toValue(text))
	}
	if err := played.Run(t.Context()); err == nil {
		t.Error("a feed runs twice")
	}
	gone, err := NewFeed(Config{ID: "p", Address: address(t, "play://"+path+".gone"), Pattern: pattern(t)}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := gone.Run(t.Context()); !errors.Is(err, os.ErrNotExist) {
		t.Error(err)
	}
	if s := gone.Snapshot().State; s.Key != Ended || !strings.Contains(s.Sentence, "no such file") {
		t.Errorf("a recording that is gone: %+v", s)
	}
}

func TestPushOnlyWhereItBelongs(t *testing.T) {
	f, err := NewFeed(Config{ID: "x", Address: address(t, "tcp://localhost:1"), Pattern: pattern(t)}, Options{Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Push(t.Context(), []byte("1")); err == nil || !strings.Contains(err.Error(), "not by a push") {
		t.Errorf("push to a connection: %v", err)
	}
}

func TestSimulatedSpeakerIsNamed(t *testing.T) {
	if string(simulatedWords) != simulated.Banner {
		t.Errorf("a simulated instrument says %q, and %q is looked for", simulated.Banner, simulatedWords)
	}
	d := drive(t, Config{})
	d.link(source.Event{Link: source.Connected, Identity: "port"})
	d.say("# " + simulated.Banner + "\r\n" + reading("S", 1))
	d.pull()
	d.plug()
	d.say(reading("S", 1))
	e := d.events()
	if last := e[len(e)-1]; last.Origin != Simulated || d.f.Snapshot().Origin != Simulated {
		t.Errorf("what calls itself simulated passes for %s", last.Origin)
	}
}
