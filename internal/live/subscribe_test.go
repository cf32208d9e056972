package live

import (
	"context"
	"errors"
	"testing"

	"wreath/settle"
)

func TestSlowSubscriberLosesOnlyValues(t *testing.T) {
	d := drive(t, Config{})
	fast := d.f.Subscribe()
	d.plug()
	settledFast := 0
	for i := range 40 {
		d.rest(float64(i + 1))
		for range 100 {
			d.say(reading("M", float64(i+1)+0.5))
			for {
				e, _ := fast.take()
				if e == nil {
					break
				}
				if e.Kind == PhaseChanged && e.Settle.Phase == settle.Settled {
					settledFast++
				}
			}
		}
	}
	got := d.events()
	settled, last := 0, uint64(0)
	for _, e := range got {
		if e.Number <= last {
			t.Errorf("event %d comes after event %d", e.Number, last)
		}
		last = e.Number
		if e.Kind == PhaseChanged && e.Settle.Phase == settle.Settled {
			settled++
		}
	}
	if settled != settledFast || settled < 40 || len(got) > mostEvents {
		t.Errorf("the slow one got %d settled events among %d, the fast one %d", settled, len(got), settledFast)
	}
}

func TestValuesWaitInBounds(t *testing.T) {
	d := drive(t, Config{})
	d.plug()
	d.rest(1)
	d.events()
	for round := range 3 {
		for range 20 * mostValues {
			d.say(reading("S", 1))
		}
		got := d.events()
		if len(got) < mostValues || len(got) > mostValues+5 {
			t.Errorf("round %d: %d values wait, want about %d", round, len(got), mostValues)
		}
		if last := got[len(got)-1].Seconds; last != d.seconds {
			t.Errorf("round %d: the last that waits is of %g s, want the latest of %g s", round, last, d.seconds)
		}
	}
}

func TestQueueIsBounded(t *testing.T) {
	d := drive(t, Config{})
	for i := range 4 * mostEvents {
		e := Event{Kind: ValueRead}
		if i%5 == 0 && i < 3*mostEvents {
			e.Kind = StateChanged
		}
		d.said.add(&e)
		if n := len(d.said.queue); n > mostEvents {
			t.Fatalf("%d events wait after %d", n, i)
		}
	}
	states := 0
	for _, e := range d.events() {
		if e.Kind == StateChanged {
			states++
		}
	}
	if want := (3*mostEvents + 4) / 5; states != want {
		t.Errorf("%d changes wait, want all %d", states, want)
	}
}

func TestSubscriberFarBehind(t *testing.T) {
	d := drive(t, Config{})
	for range 2 * mostEvents {
		d.plug()
		d.pull()
	}
	n := 0
	for {
		_, err := d.said.Next(t.Context())
		if err != nil {
			if !errors.Is(err, ErrBehind) || n != mostEvents {
				t.Errorf("after %d events %v", n, err)
			}
			break
		}
		n++
	}
	again := d.f.Subscribe()
	d.plug()
	if e, err := again.Next(t.Context()); err != nil || e.Kind != StateChanged {
		t.Errorf("subscribed again: %+v, %v", e, err)
	}
	again.Close()
	if _, err := again.Next(t.Context()); !errors.Is(err, ErrClosed) {
		t.Errorf("after Close: %v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := d.f.Subscribe().Next(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("Next with an ended context: %v", err)
	}
}
