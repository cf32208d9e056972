package live

import (
	"context"
	"errors"
	"sync"
)

const (
	// mostValues bounds the single values that wait for a subscriber, mostEvents everything that does.
	mostValues = 64
	mostEvents = 512
)

// ErrClosed ends a subscription in order.
var ErrClosed = errors.New("the subscription is closed")

// ErrBehind ends a subscription of which nobody took events for so long that one that must not be lost
// had no room. Subscribe again and take a Snapshot.
var ErrBehind = errors.New("the subscriber fell too far behind; subscribe again")

// Subscription is a queue of events. Only one goroutine may take from it at a time.
type Subscription struct {
	room  *room
	ready chan struct{} // holds a token while there is something to look at

	mu     sync.Mutex
	queue  []Event
	values int   // how many of queue may be lost
	ended  error // why nothing more comes
}

// room holds the subscriptions of a feed or of a hub. Its zero value is ready.
type room struct {
	mu   sync.Mutex
	in   map[*Subscription]bool
	shut bool
}

func (r *room) subscribe() *Subscription {
	s := &Subscription{room: r, ready: make(chan struct{}, 1)}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.shut {
		s.end(ErrClosed)
		return s
	}
	if r.in == nil {
		r.in = map[*Subscription]bool{}
	}
	r.in[s] = true
	return s
}

func (r *room) publish(e *Event) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for s := range r.in {
		s.add(e)
	}
}

// close ends all subscriptions; what waits in them can still be taken.
func (r *room) close() {
	r.mu.Lock()
	in := r.in
	r.in, r.shut = nil, true
	r.mu.Unlock()
	for s := range in {
		s.end(ErrClosed)
	}
}

// mayBeLost tells the events that a later one of their kind replaces.
func (e *Event) mayBeLost() bool { return e.Kind == ValueRead || e.Kind == LineFailed }

// add never waits. It loses what may be lost first.
func (s *Subscription) add(e *Event) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.ended != nil {
		return
	}
	n := len(s.queue)
	switch {
	case e.mayBeLost():
		if s.values >= mostValues && n > 0 && s.queue[n-1].mayBeLost() {
			s.queue[n-1] = *e
			break
		}
		if s.values >= mostValues || n >= mostEvents {
			break
		}
		s.values++
		s.queue = append(s.queue, *e)
	case n >= mostEvents && !s.makeRoom():
		s.ended = ErrBehind
	default:
		s.queue = append(s.queue, *e)
	}
	s.wake()
}

// makeRoom gives up all values that may be lost.
func (s *Subscription) makeRoom() bool {
	kept := s.queue[:0]
	for i := range s.queue {
		if !s.queue[i].mayBeLost() {
			kept = append(kept, s.queue[i])
		}
	}
	clear(s.queue[len(kept):])
	s.queue, s.values = kept, 0
	return len(kept) < mostEvents
}

func (s *Subscription) wake() {
	select {
	case s.ready <- struct{}{}:
	default:
	}
}

func (s *Subscription) end(why error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.ended == nil {
		s.ended = why
	}
	s.wake()
}

// Next waits for the next event. The error is that of ctx, ErrClosed after Close and when the feed
// or the hub has ended, or ErrBehind. What came before an end is given first.
func (s *Subscription) Next(ctx context.Context) (Event, error) {
	for {
		e, err := s.take()
		if e != nil {
			return *e, nil
		}
		if err != nil {
			return Event{}, err
		}
		select {
		case <-s.ready:
		case <-ctx.Done():
			return Event{}, ctx.Err()
		}
	}
}

func (s *Subscription) take() (*Event, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.queue) == 0 {
		return nil, s.ended
	}
	e := s.queue[0]
	s.queue[0] = Event{}
	s.queue = s.queue[1:]
	if len(s.queue) == 0 {
		s.queue = nil // the room in front of it is given back
	}
	if e.mayBeLost() {
		s.values--
	}
	return &e, nil
}

// Close ends the subscription.
func (s *Subscription) Close() {
	s.room.mu.Lock()
	delete(s.room.in, s)
	s.room.mu.Unlock()
	s.end(ErrClosed)
}
