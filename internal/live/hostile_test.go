package live

import (
	"bytes"
	"context"
	"math/rand/v2"
	"runtime"
	"strings"
	"testing"
	"time"

	"wreath/internal/source"
)

// hostile are streams that no instrument sends. None of them holds a line of the invented format.
func hostile() map[string][]byte {
	r := rand.New(rand.NewPCG(6, 1))
	binary := make([]byte, 1<<20)
	for i := range binary {
		binary[i] = byte(r.Uint32())
	}
	good := reading("S", 12.3456)
	return map[string][]byte{
		"binary":             binary,
		"zeros":              make([]byte, 1<<20),
		"endless line":       bytes.Repeat([]byte("12.3456 g "), 1<<17),
		"endless good start": []byte("S     12.3456 g" + strings.Repeat(" ", 1<<20)),
		"lines without end":  []byte(strings.Repeat("S     12.3456 g\n", 1<<16)), // CR LF is the end
		"partial UTF-8":      []byte(strings.Repeat("T 21.40 \xc2\xb0\xc3\r\nT 21.40 \xb0C\r\n", 1<<15)),
		"overlong UTF-8":     []byte(strings.Repeat("S     12.3456 \xc1\xa7\r\n", 1<<15)),
		"ANSI escapes":       []byte(strings.Repeat("\x1b[2J\x1b[31mS     12.3456 g\x1b[0m\r\nS     12.\x1b[D3456 g\r\n", 1<<14)),
		"NUL within":         []byte(strings.Repeat("S     12.\x003456 g\r\n", 1<<15)),
		"number too long":    []byte(strings.Repeat("S "+strings.Repeat("9", 40)+".0000 g\r\n", 1<<14)),
		"not a number":       []byte(strings.Repeat("S         NaN g\r\nS         Inf g\r\nS      1e5.00 g\r\n", 1<<14)),
		"other units":        []byte(strings.Repeat("S     12.3456 kN\r\nS     12.3456\r\n", 1<<14)),
		"doubled":            []byte(strings.Repeat(strings.TrimSuffix(good, "\r\n")+strings.TrimSuffix(good, "\r\n")+"\r\n", 1<<14)),
		"line ends alone":    bytes.Repeat([]byte("\r\n"), 1<<18),
	}
}

func heap() uint64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.GC()
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

func TestHostileStreams(t *testing.T) {
	for name, stream := range hostile() {
		for _, packet := range []int{1, 7, 4096, len(stream)} {
			if packet == 1 {
				stream = stream[:min(len(stream), 50_000)]
			}
			d := drive(t, Config{})
			d.plug()
			before := heap()
			// At 1 MB/s.
			for at := 0; at < len(stream); at += packet {
				piece := stream[at:min(at+packet, len(stream))]
				d.seconds += float64(len(piece)) / 1e6
				d.f.take(source.Event{Kind: source.Heard, Seconds: d.seconds, Bytes: piece})
			}
			grown := int64(heap()) - int64(before)
			s := d.f.Snapshot()
			if s.Balance != nil || s.Thermometer != nil || s.Other != nil {
				t.Errorf("%s in packets of %d gives %+v %+v %+v", name, packet, s.Balance, s.Thermometer, s.Other)
			}
			for _, e := range d.events() {
				if e.Kind == ValueRead || e.Kind == PhaseChanged {
					t.Errorf("%s in packets of %d gives the event %+v", name, packet, e)
					break
				}
			}
			for _, b := range []byte(s.Mistakes.Shown) {
				if b < ' ' || b == 0x7f {
					t.Errorf("%s: the line that is shown holds %#x", name, b)
					break
				}
			}
			if grown > 2<<20 {
				t.Errorf("%s in packets of %d: the heap grew by %d bytes", name, packet, grown)
			}
			// The feed is none the worse for it.
			d.say("\r\n\r\n")
			d.say(reading("S", 12.3456))
			if s := d.f.Snapshot(); s.Balance == nil || s.Balance.Value.Number != 12.3456 {
				t.Errorf("after %s in packets of %d a good line gives %+v", name, packet, s.Balance)
			}
		}
	}
}

// A flood over a real connection, with a subscriber that never looks.
func TestFloodOverTheNetwork(t *testing.T) {
	w := newWire(t)
	f, said, _ := run(t, Config{ID: "b1", Address: address(t, "tcp://"+w.door.Addr().String()), Pattern: pattern(t)}, Options{})
	asleep := f.Subscribe()
	w.plug()
	await(t, said, "connected", toState(Waiting))
	flood := hostile()["binary"]
	for range 4 {
		if _, err := w.Write(flood); err != nil {
			t.Fatal(err)
		}
	}
	w.say("\r\n\r\n" + reading("S", 77))
	await(t, said, "a value after the flood", toValue("77.0000"))
	asleep.mu.Lock()
	waiting := len(asleep.queue)
	asleep.mu.Unlock()
	if waiting > mostEvents {
		t.Errorf("%d events wait for the one who sleeps", waiting)
	}
	if n := f.Snapshot().Bytes; n < uint64(4*len(flood)) {
		t.Errorf("%d bytes were heard", n)
	}
}

// soakLines is how many lines the soak takes.
var soakLines = 1_000_000

// A million lines, with the loads of ten thousand weighings, leave no more behind than ten thousand lines do.
func TestSoak(t *testing.T) {
	lines := soakLines
	d := drive(t, Config{})
	d.plug()
	begin := time.Now()
	var packet []byte
	var before uint64
	r := rand.New(rand.NewPCG(6, 2))
	values := 0
	for i := range lines {
		mark, load := "S", 10*float64(i/100%50)
		if i%100 < 10 {
			mark, load = "M", load+float64(i%100)
		}
		packet = append(packet[:0], reading(mark, load+0.0001*float64(r.IntN(3)))...)
		if i%1000 == 999 {
			packet = append(packet, "\x1b[J odd\r\n"...)
		}
		d.seconds += 0.02 // fifty lines a second
		d.f.take(source.Event{Kind: source.Heard, Seconds: d.seconds, Bytes: packet})
		for {
			e, err := d.said.take()
			if err != nil {
				t.Fatal(err)
			}
			if e == nil {
				break
			}
			if e.Kind == ValueRead || e.Kind == PhaseChanged {
				values++
			}
		}
		if i%20 == 0 {
			d.f.Snapshot()
		}
		if i%50_000 == 0 {
			d.f.NextItem()
		}
		if i == lines/100 {
			before = heap()
		}
	}
	grown := int64(heap()) - int64(before)
	s := d.f.Snapshot()
	if values != lines || s.Lines != uint64(lines+lines/1000) || s.Mistakes.Count != uint64(lines/1000) {
		t.Errorf("%d values of %d lines, %d counted, %d odd ones", values, lines, s.Lines, s.Mistakes.Count)
	}
	if grown > 512<<10 {
		t.Errorf("the heap grew by %d bytes", grown)
	}
	t.Logf("%d lines took %s, the heap grew by %d bytes", lines, time.Since(begin).Round(time.Millisecond), grown)
}

// An idle feed whose framing is a pause has a beat of its own, which must end with it.
func TestPauseEndsALine(t *testing.T) {
	p := pattern(t)
	p.Framing.End, p.Framing.IdleS = "", 0.05
	c := Config{ID: "b1", Address: address(t, "push:x"), Pattern: p}
	f, said, _ := run(t, c, Options{})
	await(t, said, "connected", toState(Waiting))
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	if err := f.Push(ctx, []byte(strings.TrimSpace(reading("S", 8)))); err != nil {
		t.Fatal(err)
	}
	await(t, said, "a value after a pause", toValue("8.0000"))
}
