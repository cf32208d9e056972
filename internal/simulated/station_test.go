package simulated

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"io"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"testing"
	"time"

	"wreath/internal/line"
	"wreath/internal/simulation"
)

// someone is a session that weighs by itself.
func someone(t *testing.T) *simulation.Sequence {
	t.Helper()
	q, err := simulation.NewSequence(3, simulation.SequenceOptions{Kind: "hanging", Fault: "none", Live: &simulation.LiveOptions{RateHz: 10, Average: 0.3}})
	if err != nil {
		t.Fatal(err)
	}
	return q
}

// during runs work that ends with the context, lets the test do its part, and asks that nothing is
// left behind.
func during(t *testing.T, work func(ctx context.Context) error, part func(ctx context.Context)) {
	t.Helper()
	before := runtime.NumGoroutine()
	ctx, stop := context.WithTimeout(context.Background(), time.Minute)
	var all sync.WaitGroup
	all.Go(func() {
		if err := work(ctx); err != nil {
			t.Error(err)
		}
	})
	part(ctx)
	stop()
	all.Wait()
	// A goroutine that is done is counted until it is gone.
	for end := time.Now().Add(5 * time.Second); runtime.NumGoroutine() > before && time.Now().Before(end); {
		runtime.Gosched()
	}
	if after := runtime.NumGoroutine(); after > before {
		room := make([]byte, 1<<16)
		t.Errorf("%d goroutines before and %d after:\n%s", before, after, room[:runtime.Stack(room, true)])
	}
}

// want are the bytes of the first displays of a session.
func want(t *testing.T, format string, seconds float64) []byte {
	t.Helper()
	q := someone(t)
	f, err := FormatByKey(format)
	if err != nil {
		t.Fatal(err)
	}
	all, n, bath, banner := f.BannerBytes(), 0, -1.0, 0.0
	q.Live.Run(seconds, func(s simulation.LiveSample) {
		if f.Thermometer && s.Seconds < bath+1-1e-9 {
			return
		}
		bath = s.Seconds
		if s.Seconds >= banner+30 {
			banner = s.Seconds
			all = append(all, f.BannerBytes()...)
		}
		all = append(all, f.Bytes(s, Decimals(q.Session.Bench.Interval), n)...)
		n++
	})
	return all
}

func instrument(t *testing.T, format string) (*Station, *Instrument) {
	t.Helper()
	s := NewStation(someone(t).Live)
	i, err := s.NewInstrument("balance", format)
	if err != nil {
		t.Fatal(err)
	}
	if info := i.Info(); !info.Simulated || info.Format != format || !bytes.Contains([]byte(info.Words), []byte("simulated")) {
		t.Errorf("info %+v", info)
	}
	return s, i
}

// exactly reads until everything expected came, and compares.
func exactly(t *testing.T, r io.Reader, expected []byte) {
	t.Helper()
	got := make([]byte, len(expected))
	if n, err := io.ReadFull(r, got); err != nil {
		t.Errorf("after %d of %d bytes: %v", n, len(expected), err)
	}
	if !bytes.Equal(got, expected) {
		for n := range got {
			if got[n] != expected[n] {
				t.Errorf("byte %d: %q, want %q", n, got[max(0, n-20):min(len(got), n+20)], expected[max(0, n-20):min(len(got), n+20)])
				return
			}
		}
	}
}

// Every byte of two minutes comes through the system's sockets as the bench displayed it, in every
// format that speaks by itself.
func TestSpeaksOverTCP(t *testing.T) {
	for _, f := range Formats() {
		if f.Request != "" {
			continue
		}
		s, i := instrument(t, f.Key)
		at := make(chan string, 1)
		during(t, func(ctx context.Context) error {
			return i.ServeTCP(ctx, "127.0.0.1:0", func(a net.Addr) { at <- a.String() })
		}, func(ctx context.Context) {
			c, err := net.Dial("tcp", <-at)
			if err != nil {
				t.Error(err)
				return
			}
			defer c.Close()
			r := bufio.NewReader(c)
			exactly(t, r, f.BannerBytes()) // now it knows of the call
			var passing sync.WaitGroup
			passing.Go(func() {
				if err := s.Advance(ctx, 120); err != nil {
					t.Error(err)
				}
			})
			exactly(t, r, want(t, f.Key, 120)[len(f.BannerBytes()):])
			passing.Wait()
		})
	}
}

func TestSpeaksOverPTY(t *testing.T) {
	for _, format := range []string{"columns", "checked", "bath"} {
		s, i := instrument(t, format)
		at := make(chan string, 1)
		during(t, func(ctx context.Context) error {
			return i.ServePTY(ctx, "", func(path string) { at <- path })
		}, func(ctx context.Context) {
			c, err := os.OpenFile(<-at, os.O_RDWR, 0)
			if err != nil {
				t.Error(err)
				return
			}
			defer c.Close()
			r := bufio.NewReader(c)
			exactly(t, r, i.format.BannerBytes())
			var passing sync.WaitGroup
			passing.Go(func() {
				if err := s.Advance(ctx, 120); err != nil {
					t.Error(err)
				}
			})
			exactly(t, r, want(t, format, 120)[len(i.format.BannerBytes()):])
			passing.Wait()
		})
	}
}

// talking connects to an instrument inside the program.
func talking(t *testing.T, i *Instrument, part func(ctx context.Context, c net.Conn)) {
	t.Helper()
	here, there := net.Pipe()
	during(t, func(ctx context.Context) error {
		if err := i.Serve(ctx, there); !errors.Is(err, ErrUnplugged) {
			return err
		}
		return nil
	}, func(ctx context.Context) {
		exactly(t, here, i.format.BannerBytes())
		part(ctx, here)
		here.Close()
	})
}

func TestSpeaksOnlyWhenAsked(t *testing.T) {
	s, i := instrument(t, "asked")
	p, err := i.Pattern()
	if err != nil {
		t.Fatal(err)
	}
	talking(t, i, func(ctx context.Context, c net.Conn) {
		for range 5 {
			if err := s.Advance(ctx, 7); err != nil {
				t.Error(err)
			}
			shown := s.State().Shown
			for _, part := range []string{"noise", p.Request[:3], p.Request[3:]} {
				if _, err := c.Write([]byte(part)); err != nil {
					t.Error(err)
				}
			}
			exactly(t, c, i.format.Bytes(shown, i.decimals, 0))
		}
	})
}

// hear collects what an instrument says in some seconds, until a mark that is said when it behaves again.
func hear(t *testing.T, s *Station, i *Instrument, seconds float64) []byte {
	t.Helper()
	var heard bytes.Buffer
	talking(t, i, func(ctx context.Context, c net.Conn) {
		var reading sync.WaitGroup
		reading.Go(func() { _, _ = io.Copy(&heard, c) })
		if err := s.Advance(ctx, seconds); err != nil {
			t.Error(err)
		}
		if err := i.Misbehave(Unplugged); err != nil { // what was said is out before the cable is
			t.Error(err)
		}
		reading.Wait()
	})
	return heard.Bytes()
}

func TestMisbehaves(t *testing.T) {
	for _, row := range []struct {
		is   Misbehaviour
		fair func(clean, refused, distinct int) bool
	}{
		{Behaves, func(clean, refused, distinct int) bool { return clean > 300 && refused == 0 && distinct > 10 }},
		{Silent, func(clean, refused, distinct int) bool { return clean == 0 && refused == 0 }},
		{Frozen, func(clean, refused, distinct int) bool { return clean > 300 && refused == 0 && distinct == 1 }},
		{Garbage, func(clean, refused, distinct int) bool { return refused > 50 }},
		{Cut, func(clean, refused, distinct int) bool { return refused > 100 }},
		{Other, func(clean, refused, distinct int) bool { return clean == 0 && refused > 300 }}, // it shows other decimals
	} {
		s, i := instrument(t, "columns")
		p, err := i.Pattern()
		if err != nil {
			t.Fatal(err)
		}
		if err := i.Misbehave(row.is); err != nil {
			t.Fatal(err)
		}
		first, clean, refused, values := true, 0, 0, map[float64]bool{}
		line.NewFramer(p.Framing).Write(append(i.format.BannerBytes(), hear(t, s, i, 40)...), 0, func(l line.Line) {
			if first {
				first = false // half a line, for all that a listener knows
				return
			}
			v, err := p.Read(l.Bytes)
			switch {
			case l.Damaged != "" || err != nil && !errors.Is(err, line.ErrNoReading):
				refused++
			case err == nil:
				clean++
				values[v.Number] = true
			}
		})
		if !row.fair(clean, refused, len(values)) {
			t.Errorf("%q: %d lines read, %d refused, %d values", row.is, clean, refused, len(values))
		}
	}
	_, i := instrument(t, "columns")
	if i.Misbehave("rude") == nil {
		t.Error("it can be rude")
	}
}

// The cable goes out and in: the link of a pseudo-terminal goes and comes, a TCP port closes and opens.
func TestUnplugsAndComesBack(t *testing.T) {
	link := filepath.Join(t.TempDir(), "balance")
	_, i := instrument(t, "letters")
	at := make(chan string, 2)
	during(t, func(ctx context.Context) error {
		return i.ServePTY(ctx, link, func(path string) { at <- path })
	}, func(ctx context.Context) {
		for range 3 {
			path := <-at
			if leads, err := os.Readlink(link); leads != path || err != nil {
				t.Errorf("the link leads to %q and not to %q, %v", leads, path, err)
			}
			c, err := os.OpenFile(link, os.O_RDWR, 0)
			if err != nil {
				t.Error(err)
				return
			}
			exactly(t, c, i.format.BannerBytes())
			_ = i.Misbehave(Unplugged)
			if n, err := c.Read(make([]byte, 1)); err == nil {
				t.Errorf("%d bytes from a cable that is out", n)
			}
			c.Close()
			_ = i.Misbehave(Behaves)
		}
	})
	if _, err := os.Lstat(link); !os.IsNotExist(err) {
		t.Errorf("the link is left behind: %v", err)
	}

	_, i = instrument(t, "letters")
	calls := make(chan string, 2)
	during(t, func(ctx context.Context) error {
		return i.ServeTCP(ctx, "127.0.0.1:0", func(a net.Addr) { calls <- a.String() })
	}, func(ctx context.Context) {
		first := ""
		for range 3 {
			address := <-calls
			if first == "" {
				first = address
			}
			c, err := net.Dial("tcp", address)
			if err != nil || address != first {
				t.Errorf("%s, before %s: %v", address, first, err)
				return
			}
			exactly(t, c, i.format.BannerBytes())
			_ = i.Misbehave(Unplugged)
			if n, err := c.Read(make([]byte, 1)); err == nil {
				t.Errorf("%d bytes from a cable that is out", n)
			}
			c.Close()
			_ = i.Misbehave(Behaves)
		}
	})
}

func TestLeavesOtherFilesAlone(t *testing.T) {
	file := filepath.Join(t.TempDir(), "mine")
	if err := os.WriteFile(file, []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, i := instrument(t, "letters")
	if err := i.ServePTY(context.Background(), file, nil); err == nil {
		t.Error("a file was taken for a link")
	}
	if b, err := os.ReadFile(file); string(b) != "mine" {
		t.Errorf("the file now holds %q, %v", b, err)
	}
}

// In real time, speeded up: lines come by themselves, and by hand the bench does what it is told.
func TestRunsByItselfAndByHand(t *testing.T) {
	q := someone(t)
	live := simulation.NewLive(q.Session.Bench, 5, simulation.LiveOptions{})
	s := NewStation(live)
	i, err := s.NewInstrument("balance", "asked")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.NewInstrument("balance", "letters"); err == nil {
		t.Error("two instruments have one name")
	}
	if s.Run(context.Background(), 0) == nil || s.Run(context.Background(), 1e9) == nil {
		t.Error("time may stand or fly")
	}
	during(t, func(ctx context.Context) error { return s.Run(ctx, 500) }, func(ctx context.Context) {
		talking(t, i, func(_ context.Context, c net.Conn) {
			ask := func(done func(State) bool) {
				room := make([]byte, 256)
				for ctx.Err() == nil && !done(s.State()) {
					if _, err := c.Write([]byte(i.format.Request)); err != nil {
						t.Error(err)
						return
					}
					if n, err := c.Read(room); err != nil || n == 0 {
						t.Errorf("%d bytes, %v", n, err)
						return
					}
				}
			}
			if err := s.Do(simulation.ActImmerse); err == nil {
				t.Error("an item was immersed without a hanger")
			}
			if err := s.Do(simulation.ActPanOn); err != nil {
				t.Error(err)
			}
			if err := s.Do(simulation.ActPanOff); !errors.Is(err, ErrBusy) {
				t.Errorf("two hands at once: %v", err)
			}
			ask(func(s State) bool { return s.Place == simulation.InAir && !s.Busy })
			from := s.State().Seconds
			ask(func(s State) bool { return s.Seconds > from+60 })
			if got, mass := s.State().Shown.Grams, q.Session.Bench.Item.Mass; got < 0.99*mass || got > 1.01*mass {
				t.Errorf("%g g shown of an item of %g g", got, mass)
			}
			if err := s.Bring(q.Session.Bench.Item); err == nil {
				t.Error("an item came while the other lay on the pan")
			}
		})
	})
}
