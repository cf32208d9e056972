package source

import (
	"context"
	"fmt"
	"sync"
	"time"
)

// pushed is given its bytes by calls.
type pushed struct {
	identity string
	options  Options
	given    chan gift

	mu    sync.Mutex
	ended chan struct{} // closed when Run returns; nil while it does not run
}

type gift struct {
	bytes []byte
	taken chan struct{}
}

func newPushed(a Address, o Options) *pushed {
	return &pushed{identity: a.String(), options: o, given: make(chan gift)}
}

func (s *pushed) Run(ctx context.Context, sink Sink) error {
	ended := make(chan struct{})
	s.mu.Lock()
	if s.ended != nil {
		s.mu.Unlock()
		return fmt.Errorf("listen at %s: somebody listens there already", s.identity)
	}
	s.ended = ended
	s.mu.Unlock()
	defer func() {
		s.mu.Lock()
		s.ended = nil
		s.mu.Unlock()
		close(ended)
	}()
	t := newTalk(sink, s.options)
	t.listen(ctx, &pushedConn{ctx: ctx, pushed: s})
	t.change(Event{Link: Ended})
	return nil
}

// Push hands over bytes; see Pusher. Whoever calls ends a line with its line end, because the bytes
// of two calls follow each other without a gap.
func (s *pushed) Push(ctx context.Context, p []byte) error {
	if len(p) > MaxPush {
		return fmt.Errorf("push to %s: %d bytes at once are more than %d", s.identity, len(p), MaxPush)
	}
	s.mu.Lock()
	ended := s.ended
	s.mu.Unlock()
	if ended == nil {
		return fmt.Errorf("push to %s: %w", s.identity, ErrNotListening)
	}
	g := gift{bytes: p, taken: make(chan struct{})}
	select {
	case s.given <- g:
	case <-ended:
		return fmt.Errorf("push to %s: %w", s.identity, ErrNotListening)
	case <-ctx.Done():
		return fmt.Errorf("push to %s: %w", s.identity, ctx.Err())
	}
	select {
	case <-g.taken:
		return nil
	case <-ended:
		return fmt.Errorf("push to %s: %w", s.identity, ErrNotListening)
	}
}

// pushedConn reads what is pushed.
type pushedConn struct {
	ctx    context.Context
	pushed *pushed
	rest   gift
}

func (c *pushedConn) Read(p []byte) (int, error) {
	// The sink has returned for everything that was read before.
	if c.rest.taken != nil && len(c.rest.bytes) == 0 {
		close(c.rest.taken)
		c.rest = gift{}
	}
	if c.rest.taken == nil {
		timer := time.NewTimer(tick)
		defer timer.Stop()
		select {
		case c.rest = <-c.pushed.given:
		case <-timer.C:
			return 0, nil
		case <-c.ctx.Done():
			return 0, nil
		}
	}
	n := copy(p, c.rest.bytes)
	c.rest.bytes = c.rest.bytes[n:]
	return n, nil
}

func (c *pushedConn) Write([]byte) (int, error) { return 0, errNotTaken }

// Close tells a caller whose bytes were all taken so.
func (c *pushedConn) Close() error {
	if c.rest.taken != nil && len(c.rest.bytes) == 0 {
		close(c.rest.taken)
	}
	return nil
}
func (c *pushedConn) Identity() string { return c.pushed.identity }
func (c *pushedConn) Whole() bool      { return true }
