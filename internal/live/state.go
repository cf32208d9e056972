package live

import (
	"fmt"
	"slices"
	"time"

	"wreath/internal/line"
	"wreath/internal/source"
	"wreath/settle"
)

// linked takes a change of the link.
func (f *Feed) linked(e source.Event) {
	was := f.link
	f.link = e.Link
	switch e.Link {
	case source.Connecting:
		f.down()
		switch {
		case e.Err != nil:
			f.state(State{Key: NotConnected, Why: e.Err.Error(), Sentence: fmt.Sprintf("Not connected: %v.", e.Err)})
		case e.Identity != "":
			f.state(State{Key: Connecting, Sentence: "The program waits to be called at " + e.Identity + "."})
		default:
			f.state(State{Key: Connecting, Sentence: "The program is connecting."})
		}
	case source.Connected:
		if f.up && was == source.Quiet {
			return // the next value says how it stands
		}
		f.connect(e)
	case source.Quiet:
		f.state(State{Key: Silent, Sentence: "It is connected and silent."})
	case source.Ended:
		f.down()
	}
}

// connect begins a stream that has nothing to do with the one before: a half line of that one must never
// meet a half line of this one.
func (f *Feed) connect(e source.Event) {
	f.down()
	f.up, f.upSince, f.virgin = true, f.seconds, !e.Whole
	f.failed = 0
	if e.Whole {
		f.framer.Whole()
	}
	f.snapshot.Connections++
	f.snapshot.Identity = e.Identity
	if f.snapshot.Origin == Real && e.Identity == source.PseudoTerminal {
		f.snapshot.Origin = Pseudo
	}
	f.unprove()
	f.state(State{Key: Waiting, Sentence: "It is connected, and nothing was heard yet."})
}

// down notes that the stream is torn. What was read stays as it was, with its age.
func (f *Feed) down() {
	f.up = false
	f.framer.Broken()
	f.balance.spoke = false
	if f.balance.estimator != nil {
		f.balance.estimator.Reset()
	}
}

func (f *Feed) ended(err error) {
	s := State{Key: Ended, Sentence: "It is not followed any more."}
	if err != nil {
		s.Why, s.Sentence = err.Error(), fmt.Sprintf("It is not followed any more: %v.", err)
	}
	f.state(s)
}

func (f *Feed) outOfRange(s line.State) {
	switch s {
	case line.Overload:
		f.state(State{Key: Overload, Sentence: "The balance says that the load is above its range."})
	case line.Underload:
		f.state(State{Key: Underload, Sentence: "The balance says that the load is below its range."})
	case line.Fault:
		f.state(State{Key: Fault, Sentence: "The instrument reports a fault of its own."})
	}
}

func (f *Feed) phase(p settle.Phase) {
	switch p {
	case settle.Settled:
		f.state(State{Key: Still, Sentence: "The reading is still."})
	case settle.Settling:
		f.state(State{Key: Settling, Sentence: "The reading settles."})
	default:
		f.state(State{Key: Moving, Sentence: "The reading moves."})
	}
}

// flowing says that values come.
func flowing(key string) bool { return key == Moving || key == Settling || key == Still }

// state notes how the instrument stands, and says it unless values tell it anyhow.
func (f *Feed) state(s State) {
	old := f.snapshot.State
	s.Since = f.at
	switch {
	case s.Key == Silent && f.heard.total > 0 && f.snapshot.State.Key != Waiting:
		s.Since = f.lastHeard()
	case s.Key == old.Key:
		s.Since = old.Since
	}
	f.snapshot.State = s
	if s.Key == old.Key && (s.Why == old.Why && s.Sentence == old.Sentence || s.Key == NotUnderstood) || flowing(s.Key) && flowing(old.Key) {
		return
	}
	f.publish(Event{Kind: StateChanged, State: s})
}

// lastHeard is when the last byte came.
func (f *Feed) lastHeard() time.Time {
	p, _ := f.heard.piece(len(f.heard.pieces) - 1)
	return f.at.Add(-time.Duration((f.seconds - p.seconds) * float64(time.Second)))
}

// Snapshot returns how the instrument stands now.
func (f *Feed) Snapshot() Snapshot {
	f.mu.Lock()
	defer f.mu.Unlock()
	now, seconds := f.options.Now(), f.now()
	s := f.snapshot
	aged := func(r *Reading) *Reading {
		if r == nil {
			return nil
		}
		copied := *r
		copied.Age = now.Sub(r.At)
		return &copied
	}
	s.Balance, s.Thermometer = aged(s.Balance), aged(s.Thermometer)
	s.Other = slices.Clone(s.Other)
	for i := range s.Other {
		s.Other[i].Age = now.Sub(s.Other[i].At)
	}
	if f.balance.estimator != nil && f.balance.spoke {
		s.Settle = f.balance.estimator.At(seconds)
	} else {
		s.Settle = f.balance.event
		if s.Balance != nil {
			s.Settle.Phase, s.Settle.Age = settle.Silent, s.Balance.Age.Seconds()
		}
	}
	s.Settle.Troubles = slices.Clone(s.Settle.Troubles)
	if f.warmth != nil {
		s.Temperature = f.warmth.At(seconds)
	}
	s.Suspicions = slices.Clone(s.Suspicions)
	s.Spark = f.spark.points(seconds)
	return s
}

// spark keeps the curve of the last 30 s.
type spark struct {
	ring [sparkPoints]struct{ seconds, value float64 }
	n    int // ever added
}

const (
	sparkPoints  = 300
	sparkSeconds = 30.0
)

// add keeps ten points a second.
func (s *spark) add(seconds, value float64) {
	if s.n > 0 {
		last := &s.ring[(s.n-1)%sparkPoints]
		if seconds-last.seconds < sparkSeconds/sparkPoints && seconds >= last.seconds {
			return
		}
	}
	s.ring[s.n%sparkPoints] = struct{ seconds, value float64 }{seconds, value}
	s.n++
}

func (s *spark) points(now float64) []Point {
	var out []Point
	for i := max(0, s.n-sparkPoints); i < s.n; i++ {
		p := s.ring[i%sparkPoints]
		if ago := now - p.seconds; ago <= sparkSeconds && ago >= 0 {
			out = append(out, Point{Ago: ago, Value: p.value})
		}
	}
	return out
}
