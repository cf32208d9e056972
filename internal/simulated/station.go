package simulated

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"wreath/internal/simulation"
)

// Station is one simulated bench with its clock, its hands and its instruments. Its methods may be
// called from several goroutines.
type Station struct {
	going sync.Mutex // held while time passes

	mu          sync.Mutex
	live        *simulation.Live
	until       float64 // s that the stream was asked for
	instruments []*Instrument
}

// NewStation makes a station of a live bench, which from then on is used through the station only. Its
// clock stands until Advance or Run is called.
func NewStation(live *simulation.Live) *Station {
	return &Station{live: live, until: live.Seconds()}
}

// NewInstrument puts an instrument on the station that speaks a format (a key of Formats).
func (s *Station) NewInstrument(name, format string) (*Instrument, error) {
	f, err := FormatByKey(format)
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, other := range s.instruments {
		if other.name == name {
			return nil, fmt.Errorf("the station has an instrument called %q already; give another name", name)
		}
	}
	i := newInstrument(s, name, f, Decimals(s.live.Bench.Interval))
	s.instruments = append(s.instruments, i)
	return i, nil
}

// Instrument finds an instrument by its name; an empty name stands for the first.
func (s *Station) Instrument(name string) (*Instrument, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, i := range s.instruments {
		if name == "" || i.name == name {
			return i, true
		}
	}
	return nil, false
}

// ErrBusy is returned by Do while a hand is at the bench.
var ErrBusy = errors.New("a hand is at the bench; wait until it leaves")

// Do lets a person do something now. It returns when the hand arrives; the display follows as time
// passes. An act that is impossible as the bench stands is refused with an error that says why, and
// ErrBusy while another act goes on.
func (s *Station) Do(act simulation.Act) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.live.Idle() {
		return ErrBusy
	}
	if err := s.live.Can(act); err != nil {
		return err
	}
	s.live.Do(act)
	return nil
}

// Weigh queues what somebody does who works by himself; the times of the moves count from now.
func (s *Station) Weigh(moves ...simulation.Move) {
	s.mu.Lock()
	defer s.mu.Unlock()
	now := s.live.Seconds()
	for _, m := range moves {
		m.At += now
		s.live.Queue(m)
	}
}

// Bring lays another item beside the bench, for the next weighing. The bench must be free of the
// old one.
func (s *Station) Bring(item simulation.Item) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.live.Idle() {
		return ErrBusy
	}
	return s.live.Bring(item)
}

// State is how a station stands, for the page that draws it.
type State struct {
	Simulated bool    // always true
	Seconds   float64 // since the clock began
	Place     simulation.Place
	HangerOn  bool
	HangerDry bool
	Busy      bool // a hand is at the bench
	Shown     simulation.LiveSample
	Possible  []simulation.Act // what can be done now
}

// State says how the station stands now. It gives no truth away.
func (s *Station) State() State {
	s.mu.Lock()
	defer s.mu.Unlock()
	b := s.live.Bench
	state := State{Simulated: true, Seconds: s.live.Seconds(), Place: b.Place, HangerOn: b.HangerOn, HangerDry: b.HangerDry,
		Busy: !s.live.Idle(), Shown: s.live.Step(0)}
	for _, act := range simulation.Acts() {
		if s.live.Can(act) == nil {
			state.Possible = append(state.Possible, act)
		}
	}
	return state
}

// Stretches are the truth so far: for each time of rest the reading that a careful person takes, and
// its true value.
func (s *Station) Stretches() []simulation.Stretch {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.live.Stretches()
}

// Change calls f with the bench while time stands, for whoever seeds a fault.
func (s *Station) Change(f func(*simulation.Live)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	f(s.live)
}

// Advance lets virtual time pass. Every line reaches whoever is connected; it waits for slow readers and
// returns early, with the error of ctx, when ctx ends.
func (s *Station) Advance(ctx context.Context, seconds float64) error {
	return s.pass(ctx, seconds, true)
}

// Run lets time pass until ctx ends, speed times as fast as it does. Lines that a reader does not
// take are lost, as on a real cable. It returns nil.
func (s *Station) Run(ctx context.Context, speed float64) error {
	if !(speed > 0 && speed <= 1000) {
		return fmt.Errorf("a simulated station runs 0 to 1000 times as fast as real time, not %g times", speed)
	}
	ticker := time.NewTicker(10 * time.Millisecond)
	defer ticker.Stop()
	last := time.Now()
	for {
		select {
		case <-ctx.Done():
			return nil
		case now := <-ticker.C:
			// After a pause of the computer time goes on from where it stood.
			passed := min(now.Sub(last), time.Second)
			last = now
			if err := s.pass(ctx, passed.Seconds()*speed, false); err != nil {
				return nil
			}
		}
	}
}

func (s *Station) pass(ctx context.Context, seconds float64, wait bool) error {
	s.going.Lock()
	defer s.going.Unlock()
	s.mu.Lock()
	s.until += seconds
	instruments := append([]*Instrument(nil), s.instruments...)
	var samples []simulation.LiveSample
	s.live.Run(s.until, func(x simulation.LiveSample) { samples = append(samples, x) })
	s.mu.Unlock()
	for _, x := range samples {
		for _, i := range instruments {
			if err := i.show(ctx, x, wait); err != nil {
				return err
			}
		}
	}
	return nil
}
