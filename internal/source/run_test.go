package source

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// script is a connection that says what it is told to, at virtual times.
type script struct {
	ctx   context.Context
	after time.Duration // until the next words, and until the end after the last
	words []string
	next  time.Time
	wrote []string
}

var errScript = errors.New("the script is over")

func (s *script) Read(p []byte) (int, error) {
	if s.next.IsZero() {
		s.next = time.Now().Add(s.after)
	}
	if rest := time.Until(s.next); rest > 0 {
		wait(s.ctx, min(rest, tick))
		if time.Until(s.next) > 0 {
			return 0, nil
		}
	}
	s.next = time.Now().Add(s.after)
	if len(s.words) == 0 {
		return 0, errScript
	}
	n := copy(p, s.words[0])
	s.words = s.words[1:]
	return n, nil
}

func (s *script) Write(p []byte) (int, error) {
	s.wrote = append(s.wrote, string(p))
	return len(p), nil
}
func (s *script) Close() error     { return nil }
func (s *script) Identity() string { return "script" }
func (s *script) Whole() bool      { return false }

// told writes events in a short way.
func told(e Event) string {
	switch e.Kind {
	case Heard:
		return "heard " + string(e.Bytes)
	case Sent:
		return "sent " + string(e.Bytes)
	}
	whole := ""
	if e.Whole {
		whole = "whole"
	}
	return strings.TrimSpace(fmt.Sprintf("%s %s %s%s", e.Link, e.Identity, text(e.Err), whole))
}

func TestRunnerBacksOff(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var tries []time.Duration
		start := time.Now()
		ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
		defer cancel()
		r := &runner{options: Options{FirstWait: time.Second, LongestWait: 8 * time.Second}, open: func(context.Context) (conn, error) {
			tries = append(tries, time.Since(start))
			return nil, errors.New("not there")
		}}
		var said []string
		if err := r.Run(ctx, func(e Event) { said = append(said, told(e)) }); err != nil {
			t.Fatal(err)
		}
		if want := []string{"connecting", "connecting  not there", "ended"}; !slices.Equal(said, want) {
			t.Errorf("said %q, want %q: the same failure is said once", said, want)
		}
		pause := time.Second
		equal := true
		for i := 1; i < len(tries); i++ {
			got := tries[i] - tries[i-1]
			if got < pause*3/4 || got > pause*5/4 {
				t.Errorf("pause %d is %s, want %s give or take a quarter", i, got, pause)
			}
			equal = equal && got == pause
			pause = min(2*pause, 8*time.Second)
		}
		if len(tries) < 14 || equal {
			t.Errorf("%d tries in two minutes, all on the beat: %v", len(tries), equal)
		}
	})
}

func TestRunnerConnectsAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		opened := 0
		r := &runner{options: Options{FirstWait: time.Second, LongestWait: 8 * time.Second, Silent: 3 * time.Second}, open: func(ctx context.Context) (conn, error) {
			switch opened++; opened {
			case 1:
				return &script{ctx: ctx, after: time.Second, words: []string{"a"}}, nil
			case 2:
				return &script{ctx: ctx, after: 5 * time.Second, words: []string{"b", "c"}}, nil
			}
			cancel()
			return nil, errors.New("late")
		}}
		var said []string
		if err := r.Run(ctx, func(e Event) { said = append(said, told(e)) }); err != nil {
			t.Fatal(err)
		}
		want := []string{"connecting", "connected script", "heard a", "connecting  the script is over",
			"connected script", "silent script", "connected script whole", "heard b", "silent script", "connected script whole", "heard c",
			"silent script", "connecting  the script is over", "ended"}
		if !slices.Equal(said, want) {
			t.Errorf("said\n%q, want\n%q", said, want)
		}
	})
}

func TestRequestsKeepTheirBeat(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second+time.Millisecond)
		defer cancel()
		s := &script{ctx: ctx, after: time.Hour, words: []string{"x"}}
		r := &runner{options: Options{Request: []byte("Q\r\n"), Every: 200 * time.Millisecond}, open: func(context.Context) (conn, error) { return s, nil }}
		sent := 0
		r.Run(ctx, func(e Event) {
			if e.Kind == Sent {
				sent++
			}
		})
		if len(s.wrote) != 51 || sent != 51 || s.wrote[50] != "Q\r\n" {
			t.Errorf("%d requests went out and %d were said in 10 s at 5 a second, want 51 with the first at once", len(s.wrote), sent)
		}
	})
	if _, err := Open(Address{Kind: TCP, Where: "localhost:1"}, Options{Request: []byte("Q"), Every: time.Millisecond}); err == nil {
		t.Error("a thousand requests a second are taken")
	}
}

func TestOpenSimulated(t *testing.T) {
	a := Address{Kind: Simulated, Where: "x"}
	if _, err := Open(a, Options{}); err == nil {
		t.Error("a simulated address opens without anybody to simulate")
	}
	want := &pushed{}
	got, err := Open(a, Options{Simulated: func(b Address) (Source, error) {
		if b != a {
			t.Errorf("the hook gets %v, want %v", b, a)
		}
		return want, nil
	}})
	if err != nil || got != Source(want) {
		t.Errorf("Open = %v, %v", got, err)
	}
}
