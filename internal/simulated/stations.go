package simulated

import (
	"context"
	"fmt"
	"net"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"wreath/internal/simulation"
	"wreath/internal/source"
)

// Stations are the simulated stations of a program by their names. The zero value has none.
type Stations struct {
	mu     sync.Mutex
	byName map[string]*Station
}

// Add gives a station a name, so that addresses can lead to it. The name must be free, and none of the kinds
// of session.
func (s *Stations) Add(name string, station *Station) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if _, taken := s.byName[name]; taken || name == "" || slices.Contains(simulation.Kinds, name) {
		return fmt.Errorf("a simulated station can't be called %q: the name is taken", name)
	}
	if s.byName == nil {
		s.byName = map[string]*Station{}
	}
	s.byName[name] = station
	return nil
}

// Remove forgets a station.
func (s *Stations) Remove(name string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.byName, name)
}

// Station finds a station.
func (s *Stations) Station(name string) (*Station, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	station, ok := s.byName[name]
	return station, ok
}

// Open makes the source of a simulated address; it serves as source.Options.Simulated.
//
//	simulated:bench?instrument=thermometer       an instrument of a station that was added as "bench"
//	simulated:hanging?format=comma&seed=3&speed=4&fault=bubble
//
// The second weighs by itself: a session of its own, of one of the kinds of package simulation, over
// and over with the next seed.
func (s *Stations) Open(a source.Address) (source.Source, error) {
	values, err := url.ParseQuery(a.More)
	if err != nil {
		return nil, fmt.Errorf("%s: what stands after the question mark can't be read; write name=value, with & between two", a)
	}
	take := func(name string) string {
		got := values.Get(name)
		values.Del(name)
		return got
	}
	var src source.Source
	if station, ok := s.Station(a.Where); ok {
		name := take("instrument")
		i, ok := station.Instrument(name)
		if !ok {
			return nil, fmt.Errorf("%s: the simulated station has no instrument called %q", a, name)
		}
		src = &attached{instrument: i}
	} else {
		own, err := newOwn(a, take)
		if err != nil {
			return nil, err
		}
		src = own
	}
	for name := range values {
		return nil, fmt.Errorf("%s: %q says nothing to a simulated instrument", a, name)
	}
	return src, nil
}

// attached listens to an instrument of a station that somebody else runs.
type attached struct{ instrument *Instrument }

// Run implements source.Source.
func (a *attached) Run(ctx context.Context, sink source.Sink) error {
	began := time.Now()
	change := func(e source.Event) {
		e.Kind, e.Seconds = source.LinkChanged, time.Since(began).Seconds()
		sink(e)
	}
	i := a.instrument
	var err error
	for ctx.Err() == nil {
		change(source.Event{Link: source.Connecting, Err: err})
		if i.plugged(ctx) != nil {
			break
		}
		change(source.Event{Link: source.Connected, Identity: i.Info().Words, Whole: true})
		err = ErrUnplugged
		a.listen(ctx, began, sink)
	}
	change(source.Event{Link: source.Ended})
	return nil
}

func (a *attached) listen(ctx context.Context, began time.Time, sink source.Sink) {
	here, there := net.Pipe()
	var serving, asking sync.WaitGroup
	serving.Go(func() { _ = a.instrument.Serve(ctx, there) }) // how it ended, Run sees
	done := make(chan struct{})
	if request := a.instrument.format.Request; request != "" {
		asking.Go(func() { ask(here, request, done) })
	}
	room := make([]byte, 1024)
	for {
		n, err := here.Read(room)
		if n > 0 {
			sink(source.Event{Kind: source.Heard, Seconds: time.Since(began).Seconds(), Bytes: room[:n]})
		}
		if err != nil {
			break
		}
	}
	close(done)
	here.Close()
	serving.Wait()
	asking.Wait()
}

// ask sends the request five times a second: inside the program nobody else does.
func ask(c net.Conn, request string, done <-chan struct{}) {
	ticker := time.NewTicker(200 * time.Millisecond)
	defer ticker.Stop()
	for {
		select {
		case <-done:
			return
		case <-ticker.C:
			if _, err := c.Write([]byte(request)); err != nil {
				return
			}
		}
	}
}

// own is a station of its own where somebody weighs, session after session.
type own struct {
	kind, fault, format string
	seed                uint64
	speed               float64
}

func newOwn(a source.Address, take func(string) string) (*own, error) {
	o := &own{kind: a.Where, fault: take("fault"), format: take("format"), seed: 1, speed: 1}
	if !slices.Contains(simulation.Kinds, o.kind) {
		return nil, fmt.Errorf("%s: there is no simulated station and no kind of session of that name; kinds are %s", a, strings.Join(simulation.Kinds, ", "))
	}
	if o.format == "" {
		o.format = "columns"
	}
	if _, err := FormatByKey(o.format); err != nil {
		return nil, fmt.Errorf("%s: %w", a, err)
	}
	if text := take("seed"); text != "" {
		seed, err := strconv.ParseUint(text, 10, 64)
		if err != nil {
			return nil, fmt.Errorf("%s: the seed %q is no whole number", a, text)
		}
		o.seed = seed
	}
	if text := take("speed"); text != "" {
		speed, err := strconv.ParseFloat(text, 64)
		if err != nil || !(speed > 0 && speed <= 1000) {
			return nil, fmt.Errorf("%s: the speed %q is no number between 0 and 1000", a, text)
		}
		o.speed = speed
	}
	if _, err := o.session(o.seed); err != nil {
		return nil, fmt.Errorf("%s: %w", a, err)
	}
	return o, nil
}

func (o *own) session(seed uint64) (*simulation.Sequence, error) {
	return simulation.NewSequence(seed, simulation.SequenceOptions{Kind: o.kind, Fault: o.fault})
}

// Run implements source.Source.
func (o *own) Run(ctx context.Context, sink source.Sink) error {
	ended := source.Event{}
	for seed := o.seed; ctx.Err() == nil; seed++ {
		q, err := o.session(seed)
		if err != nil {
			return err // the first seed was tried; a later one may not be cast
		}
		station := NewStation(q.Live)
		i, err := station.NewInstrument("balance", o.format)
		if err != nil {
			return err
		}
		session, stop := context.WithTimeout(ctx, time.Duration(q.Ends/o.speed*float64(time.Second)))
		var running sync.WaitGroup
		running.Go(func() { _ = station.Run(session, o.speed) }) // the speed was checked
		err = (&attached{instrument: i}).Run(session, func(e source.Event) {
			if e.Kind == source.LinkChanged && e.Link == source.Ended {
				ended = e
				return // another session follows
			}
			sink(e)
		})
		stop()
		running.Wait()
		if err != nil {
			return err
		}
	}
	sink(ended)
	return nil
}
