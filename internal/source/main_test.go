package source

import (
	"bytes"
	"context"
	"runtime"
	"strings"
	"testing"
	"time"
)

// ear collects what a running source says.
type ear struct {
	t      *testing.T
	events chan Event
	cancel context.CancelFunc
	ended  chan error
	text   []byte // heard and not yet waited for
}

// follow runs a source until the test ends, and then checks that nothing of it is left.
func follow(t *testing.T, s Source) *ear {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	e := &ear{t: t, events: make(chan Event, 100_000), cancel: cancel, ended: make(chan error, 1)}
	before := runtime.NumGoroutine()
	go func() {
		e.ended <- s.Run(ctx, func(x Event) { x.Bytes = bytes.Clone(x.Bytes); e.events <- x })
	}()
	t.Cleanup(func() {
		cancel()
		if err := <-e.ended; err != nil {
			t.Errorf("Run = %v", err)
		}
		noMoreThan(t, before)
	})
	return e
}

// noMoreThan waits until the goroutines that are about to end have ended.
func noMoreThan(t *testing.T, goroutines int) {
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

func (e *ear) next() Event {
	e.t.Helper()
	select {
	case x := <-e.events:
		return x
	case <-time.After(20 * time.Second):
		e.t.Fatal("nothing came for 20 s")
		return Event{}
	}
}

// link waits for a state of the link and returns its event.
func (e *ear) link(want Link) Event {
	e.t.Helper()
	for {
		switch x := e.next(); {
		case x.Kind == Heard:
			e.text = append(e.text, x.Bytes...)
		case x.Kind == LinkChanged && x.Link == want:
			return x
		}
	}
}

// failure waits for a Connecting with a reason.
func (e *ear) failure(part string) {
	e.t.Helper()
	for {
		if x := e.link(Connecting); x.Err != nil {
			if !strings.Contains(x.Err.Error(), part) {
				e.t.Errorf("the link fails with %q, want %q in it", x.Err, part)
			}
			return
		}
	}
}

// hears waits until text was heard, which must be the next that is.
func (e *ear) hears(text string) {
	e.t.Helper()
	for len(e.text) < len(text) {
		if x := e.next(); x.Kind == Heard {
			e.text = append(e.text, x.Bytes...)
		}
	}
	if !strings.HasPrefix(string(e.text), text) {
		e.t.Fatalf("heard %q, want %q", e.text, text)
	}
	e.text = e.text[len(text):]
}

func open(t *testing.T, address string, o Options) Source {
	t.Helper()
	a, err := ParseAddress(address)
	if err != nil {
		t.Fatal(err)
	}
	o.FirstWait, o.LongestWait = 5*time.Millisecond, 20*time.Millisecond
	s, err := Open(a, o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}
