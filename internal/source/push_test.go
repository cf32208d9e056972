package source

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
)

func TestPush(t *testing.T) {
	s := open(t, "push:left", Options{}).(Pusher)
	if err := s.Push(t.Context(), []byte("early")); !errors.Is(err, ErrNotListening) {
		t.Errorf("a push before Run gives %v", err)
	}
	e := follow(t, s)
	if up := e.link(Connected); up.Identity != "push:left" || !up.Whole {
		t.Errorf("connected to %q, whole %v", up.Identity, up.Whole)
	}
	long := strings.Repeat("0123456789", MaxPush/10)
	for _, text := range []string{"12.5 g\n", "", long} {
		if err := s.Push(t.Context(), []byte(text)); err != nil {
			t.Fatal(err)
		}
		e.hears(text)
	}
	if err := s.Push(t.Context(), make([]byte, MaxPush+1)); err == nil {
		t.Error("more than MaxPush bytes are taken")
	}
	e.cancel()
	e.link(Ended)
	// Run is ending or has ended; either way nobody takes the bytes and the caller learns it.
	if err := s.Push(t.Context(), []byte("late")); !errors.Is(err, ErrNotListening) {
		t.Errorf("a push after the end gives %v", err)
	}
}

func TestPushWaitsForTheReader(t *testing.T) {
	s := open(t, "wedge:", Options{}).(Pusher)
	ctx, cancel := context.WithCancel(t.Context())
	held, release := make(chan struct{}), make(chan struct{})
	ended := make(chan error)
	go func() {
		ended <- s.Run(ctx, func(e Event) {
			if e.Kind == Heard {
				close(held)
				<-release
			}
		})
	}()
	first := make(chan error)
	go func() {
		for {
			if err := s.Push(t.Context(), []byte("x")); !errors.Is(err, ErrNotListening) {
				first <- err
				return
			}
		}
	}()
	<-held
	impatient, stop := context.WithCancel(t.Context())
	stop()
	if err := s.Push(impatient, []byte("y")); !errors.Is(err, context.Canceled) {
		t.Errorf("a push that gives up gives %v", err)
	}
	close(release)
	if err := <-first; err != nil {
		t.Error(err)
	}
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

func TestPushEndsWithTheReader(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := open(t, "wedge:", Options{}).(Pusher)
		ctx, cancel := context.WithCancel(t.Context())
		release, ended, pushed := make(chan struct{}), make(chan error), make(chan error)
		go func() {
			ended <- s.Run(ctx, func(e Event) {
				if e.Kind == Heard {
					<-release
				}
			})
		}()
		synctest.Wait()
		for range 2 {
			go func() { pushed <- s.Push(t.Context(), []byte("x")) }()
			synctest.Wait() // the first is with the sink, the second waits for it
		}
		cancel()
		close(release)
		taken, refused := <-pushed, <-pushed
		if taken != nil {
			taken, refused = refused, taken
		}
		if taken != nil || !errors.Is(refused, ErrNotListening) {
			t.Errorf("one push gives %v, the other %v", taken, refused)
		}
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
}

func TestOneListensToAPush(t *testing.T) {
	s := open(t, "push:x", Options{})
	follow(t, s).link(Connected)
	if err := s.Run(t.Context(), func(Event) {}); err == nil || !bytes.Contains([]byte(err.Error()), []byte("already")) {
		t.Errorf("a second Run gives %v", err)
	}
}
