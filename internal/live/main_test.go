package live

import (
	"context"
	"io"
	"net"
	"runtime"
	"testing"
	"time"

	"wreath/internal/line"
	"wreath/internal/source"
)

// invented is a line format made up for these tests: "S  12.3456 g", "M -0.0001 g", "OVER", "T 21.40 °C".
const invented = `{"format": "wreath line pattern 1", "name": "invented", "framing": {"end": "CRLF", "text": "utf-8"}, "main": "B",
"lines": [
 {"name": "reading", "means": "reading", "channel": "B", "parts": [
  {"is": "word", "words": [{"word": "S", "mark": "settled"}, {"word": "M", "mark": "moving"}]}, {"is": "text", "text": " "},
  {"is": "number", "decimals": 4, "whole": 5, "sign": "beside", "width": 11}, {"is": "blank", "min": 1, "max": 1}, {"is": "unit"}]},
 {"name": "coarse", "means": "reading", "channel": "B", "parts": [
  {"is": "word", "words": [{"word": "S", "mark": "settled"}, {"word": "M", "mark": "moving"}]}, {"is": "text", "text": " "},
  {"is": "number", "decimals": 2, "whole": 5, "sign": "beside", "width": 11}, {"is": "blank", "min": 1, "max": 1}, {"is": "unit"}]},
 {"name": "overload", "means": "overload", "channel": "B", "parts": [{"is": "text", "text": "OVER"}]},
 {"name": "thermometer", "means": "reading", "channel": "T", "parts": [{"is": "text", "text": "T "}, {"is": "number", "decimals": 2, "whole": 3, "sign": "beside"},
  {"is": "blank", "min": 1, "max": 1}, {"is": "unit"}]},
 {"name": "room", "means": "reading", "channel": "R", "parts": [{"is": "text", "text": "R "}, {"is": "number", "decimals": 2, "whole": 3, "sign": "beside"},
  {"is": "blank", "min": 1, "max": 1}, {"is": "unit"}]}],
"tests": [{"line": "S     12.3456 g", "reads": "12.3456 g", "channel": "B", "mark": "settled"}, {"line": "M     -0.0001 g", "reads": "-0.0001 g", "channel": "B", "mark": "moving"},
 {"line": "OVER", "state": "overload", "channel": "B"}, {"line": "T 21.40 °C", "reads": "21.40 °C", "channel": "T"}, {"line": "2.3456 g", "refused": true}]}`

func pattern(t testing.TB) *line.Pattern {
	t.Helper()
	p, err := line.DecodePattern([]byte(invented))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func address(t testing.TB, text string) source.Address {
	t.Helper()
	a, err := source.ParseAddress(text)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// run follows an instrument until the test ends, and then checks that nothing of it is left.
func run(t testing.TB, c Config, o Options) (*Feed, *Subscription, context.CancelFunc) {
	t.Helper()
	f, err := NewFeed(c, o)
	if err != nil {
		t.Fatal(err)
	}
	before := runtime.NumGoroutine()
	ctx, cancel := context.WithCancel(context.Background())
	said := f.Subscribe()
	ended := make(chan error)
	go func() { ended <- f.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("Run = %v", err)
		}
		noMoreThan(t, before)
	})
	return f, said, cancel
}

func noMoreThan(t testing.TB, goroutines int) {
	t.Helper()
	deadline := time.Now().Add(5 * time.Second)
	for runtime.NumGoroutine() > goroutines {
		if time.Now().After(deadline) {
			all := make([]byte, 1<<20)
			t.Errorf("%d goroutines, want %d\n%s", runtime.NumGoroutine(), goroutines, all[:runtime.Stack(all, true)])
			return
		}
		runtime.Gosched()
	}
}

// await takes events until one is as wanted.
func await(t testing.TB, s *Subscription, what string, wanted func(Event) bool) Event {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	for {
		e, err := s.Next(ctx)
		if err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		if wanted(e) {
			return e
		}
	}
}

func toState(key string) func(Event) bool {
	return func(e Event) bool { return e.Kind == StateChanged && e.State.Key == key }
}

func toValue(text string) func(Event) bool {
	return func(e Event) bool { return (e.Kind == ValueRead || e.Kind == PhaseChanged) && e.Value.Text == text }
}

// wire is an instrument on the network of this computer.
type wire struct {
	t    testing.TB
	door net.Listener
	net.Conn
}

func newWire(t testing.TB) *wire {
	t.Helper()
	door, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	w := &wire{t: t, door: door}
	t.Cleanup(func() {
		door.Close()
		if w.Conn != nil {
			w.Conn.Close()
		}
	})
	return w
}

// plug waits until it is called, and ends the half line with which every connection is taken to begin.
func (w *wire) plug() {
	w.t.Helper()
	c, err := w.door.Accept()
	if err != nil {
		w.t.Fatal(err)
	}
	w.Conn = c
	w.say("\r\n")
}

func (w *wire) say(text string) {
	w.t.Helper()
	if _, err := io.WriteString(w.Conn, text); err != nil {
		w.t.Fatal(err)
	}
}
