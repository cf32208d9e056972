package spool

import (
	"bytes"
	"context"
	"errors"
	"io"
	"log/slog"
	"net"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// shelf is a queue of one printer in memory.
type shelf struct {
	mu       sync.Mutex
	printers []Printer
	jobs     []Job
	said     []string
	alive    atomic.Int64 // signs of life
	deaf     bool         // to signs of life
}

func (q *shelf) PrintersAtWork(context.Context) ([]Printer, error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	return append([]Printer(nil), q.printers...), nil
}

func (q *shelf) NextPrint(_ context.Context, printer string) (Job, bool, error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	for _, j := range q.jobs {
		if j.Printer == printer && j.State == Waiting {
			return j, true, nil
		}
	}
	return Job{}, false, nil
}

func (q *shelf) change(number, said string, to State) error {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.said = append(q.said, number+" "+said)
	for i := range q.jobs {
		if q.jobs[i].Number == number {
			q.jobs[i].State = to
		}
	}
	return nil
}

func (q *shelf) PrintBegun(_ context.Context, job Job, _ int64, _ string) error {
	return q.change(job.Number, "begun", Printing)
}

func (q *shelf) StillPrinting(context.Context, string) error {
	q.alive.Add(1)
	if q.deaf {
		return errors.New("the store is away")
	}
	return nil
}

func (q *shelf) PrintEnded(_ context.Context, number string, r Receipt) error {
	return q.change(number, string(r.Known), Printed)
}

func (q *shelf) PrintFailed(_ context.Context, number string, t *Trouble) (bool, error) {
	return false, q.change(number, "failed: "+t.Reason, Failed)
}

func (q *shelf) BreakOff(context.Context) error { return nil }

func (q *shelf) history() string {
	q.mu.Lock()
	defer q.mu.Unlock()
	return strings.Join(q.said, "; ")
}

var asText = RenderFunc(func(_ context.Context, job Job, p Printer) ([]byte, error) {
	if job.Subject == "unmade" {
		return nil, errors.New("a field is missing")
	}
	return Lines(p, job.Title()), nil
})

// TestSpoolerOrder prints the jobs of a printer one after the other, each begun before a byte is sent, and fails
// the one whose paper can't be made without holding up the rest.
func TestSpoolerOrder(t *testing.T) {
	raw := startRaw(t, -1)
	q := &shelf{printers: []Printer{textAt(raw.address())}}
	for n, subject := range []string{"one", "unmade", "two"} {
		q.jobs = append(q.jobs, Job{Number: string(rune('1' + n)), Document: Slip, Subject: subject, Printer: "counter", State: Waiting})
	}
	s := &Spooler{Queue: q, Render: asText, Timing: quick, Look: time.Millisecond}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); s.Run(ctx) }()
	for _, want := range []string{"slip one", "", "slip two"} {
		if got := <-raw.got; !strings.HasPrefix(string(got), want) || (want == "") != (len(got) == 0) {
			t.Errorf("%q came, want %q", got, want)
		}
	}
	const want = "1 begun; 1 handed over; 2 begun; 2 failed: got nothing, because the slip can't be made: a field is missing; 3 begun; 3 handed over"
	for deadline := time.Now().Add(30 * time.Second); q.history() != want; {
		if time.Now().After(deadline) {
			t.Fatalf("noted: %s", q.history())
		}
	}
	cancel()
	<-done
}

// TestSpoolerGivesSignsOfLife sends slowly: the queue hears of it, and when it can't be told any more the
// sending ends, because the job may count as broken off by then.
func TestSpoolerGivesSignsOfLife(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	q := &shelf{printers: []Printer{textAt("tcp://" + l.Addr().String())}, jobs: []Job{{Number: "1", Printer: "counter", Document: Slip, State: Waiting}}}
	go func() {
		c, err := l.Accept()
		if err != nil {
			return
		}
		defer c.Close()
		for q.alive.Load() < 3 { // slower than the signs of life
			if _, err := io.ReadFull(c, make([]byte, 100)); err != nil {
				return
			}
		}
		io.Copy(io.Discard, c)
	}()
	large := RenderFunc(func(context.Context, Job, Printer) ([]byte, error) { return sample(32 << 20), nil })
	s := &Spooler{Queue: q, Render: large, Timing: quick, Beat: time.Millisecond}
	o, err := s.One(t.Context(), "counter", "")
	if err != nil || o.State != Printed || q.alive.Load() < 3 {
		t.Errorf("%+v, %v after %d signs of life", o, err, q.alive.Load())
	}

	deaf := startStalled(t)
	unheard := &shelf{printers: []Printer{textAt(deaf)}, jobs: q.jobs, deaf: true}
	unheard.jobs[0].State = Waiting
	s.Queue = unheard
	o, err = s.One(t.Context(), "counter", "")
	if err != nil || o.State != Failed || o.Trouble.Sent == 0 || unheard.alive.Load() != 2 {
		t.Errorf("%+v, %v after %d signs of life that nobody heard", o, err, unheard.alive.Load())
	}
}

// startStalled is a printer that takes nothing.
func startStalled(t *testing.T) (address string) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	t.Cleanup(func() { close(done); l.Close() })
	go func() {
		if c, err := l.Accept(); err == nil {
			<-done
			c.Close()
		}
	}()
	return "tcp://" + l.Addr().String()
}

// TestSpoolerSaysATroubleOnce keeps the program's own log short while a printer is off for long, and forgets the
// trouble of a printer that is gone.
func TestSpoolerSaysATroubleOnce(t *testing.T) {
	var log bytes.Buffer
	q := &shelf{printers: []Printer{textAt("tcp://" + closedPort(t))}, jobs: []Job{{Number: "1", Printer: "counter", Document: Slip, State: Waiting}}}
	s := &Spooler{Queue: q, Render: asText, Timing: quick, Log: slog.New(slog.NewTextHandler(&log, nil)), Look: time.Millisecond, Rest: time.Millisecond}
	for range 3 {
		if _, err := s.One(t.Context(), "counter", ""); troubleOf(t, err).Kind != Off {
			t.Error(err)
		}
	}
	if n := strings.Count(log.String(), "refuses the connection"); n != 1 || q.history() != "" {
		t.Errorf("said %d times; noted: %s", n, q.history())
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); s.Run(ctx) }()
	q.mu.Lock()
	q.printers = nil
	q.mu.Unlock()
	for deadline := time.Now().Add(30 * time.Second); len(s.Troubles()) > 0; {
		if time.Now().After(deadline) {
			t.Fatal("the trouble of a printer that is gone stays")
		}
	}
	cancel()
	<-done
}
