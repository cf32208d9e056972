package source

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"time"
)

// Open makes the source of an address. It touches neither port nor network nor file; Run does.
func Open(a Address, o Options) (Source, error) {
	if len(o.Request) > 0 && o.Every > 0 && o.Every < ShortestEvery {
		return nil, fmt.Errorf("open %s: a request every %s is too often; ask at most every %s", a, o.Every, ShortestEvery)
	}
	if o.FirstWait <= 0 {
		o.FirstWait = 250 * time.Millisecond
	}
	if o.LongestWait <= 0 {
		o.LongestWait = 8 * time.Second
	}
	switch a.Kind {
	case Serial:
		return &runner{options: o, open: (&serialLine{address: a, asks: len(o.Request) > 0 && o.Every > 0}).open}, nil
	case TCP:
		return &runner{options: o, open: func(ctx context.Context) (conn, error) { return dial(ctx, a.Where) }}, nil
	case Listen:
		return &listener{where: a.Where, options: o}, nil
	case File:
		o.LongestWait = min(o.LongestWait, 2*time.Second) // a memory stick is missed sooner than a cable
		return &runner{options: o, open: (&watched{path: a.Where, skip: !a.FromStart}).open}, nil
	case Push, Wedge:
		return newPushed(a, o), nil
	case Play:
		return &player{path: a.Where, pace: a.Pace}, nil
	case Simulated:
		if o.Simulated == nil {
			return nil, fmt.Errorf("open %s: this program has no simulated instruments here", a)
		}
		return o.Simulated(a)
	}
	return nil, fmt.Errorf("open %s: the way %q is not known", a, a.Kind)
}

// conn is one connection. Read waits at most as long as the tick and then returns 0 and no error. Only one
// goroutine uses a conn.
type conn interface {
	io.ReadWriteCloser
	Identity() string
	Whole() bool // what comes first is the start of a line
}

// ShortestEvery is the shortest time between two requests: common practice is one to ten a second.
const ShortestEvery = tick

// tick is how long a Read may wait: it bounds how late a request goes out, a silence is said and a
// cancelled Run returns.
const tick = 50 * time.Millisecond

// runner connects, reads, and connects again, all in the goroutine of Run.
type runner struct {
	options Options
	open    func(context.Context) (conn, error)
}

func (r *runner) Run(ctx context.Context, sink Sink) error {
	t := newTalk(sink, r.options)
	pause := r.options.FirstWait
	var err error
	for ctx.Err() == nil {
		t.change(Event{Link: Connecting, Err: err})
		var c conn
		c, err = r.open(ctx)
		if err == nil {
			began := time.Now()
			err = t.listen(ctx, c)
			if time.Since(began) > r.options.LongestWait || errors.Is(err, errAnew) {
				pause = r.options.FirstWait
			}
		}
		if ctx.Err() != nil {
			break
		}
		// A link that is lost says so at once and not only when the pause is over.
		t.change(Event{Link: Connecting, Err: err})
		wait(ctx, time.Duration(float64(pause)*(0.75+0.5*rand.Float64())))
		pause = min(2*pause, r.options.LongestWait)
	}
	t.change(Event{Link: Ended})
	return nil
}

// wait returns after d or when ctx ends.
func wait(ctx context.Context, d time.Duration) {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
	case <-timer.C:
	}
}

// talk turns what connections do into events.
type talk struct {
	sink    Sink
	options Options
	start   time.Time
	last    Event // the change of the link that was said last
	said    bool
}

func newTalk(sink Sink, o Options) *talk { return &talk{sink: sink, options: o, start: time.Now()} }

func (t *talk) seconds() float64 { return time.Since(t.start).Seconds() }

// change says that the link changed, unless the same was said just before.
func (t *talk) change(e Event) {
	if t.said && e.Link == t.last.Link && e.Identity == t.last.Identity && text(e.Err) == text(t.last.Err) {
		return
	}
	e.Kind, e.Seconds = LinkChanged, t.seconds()
	t.said, t.last = true, e
	t.sink(e)
}

func text(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

var (
	errGone = errors.New("the link was cut; plug it in again")
	// errAnew ends a connection that is followed at once by another.
	errAnew = errors.New("it starts anew")
	// errNotTaken is a request that could not be sent because the one before still waits.
	errNotTaken = errors.New("the request was not taken")
)

// listen reads c until it fails or ctx ends, and closes it.
func (t *talk) listen(ctx context.Context, c conn) error {
	defer c.Close()
	connected := Event{Link: Connected, Identity: c.Identity(), Whole: c.Whole()}
	t.change(connected)
	heard := time.Now()
	asked := heard.Add(-t.options.Every)
	buffer := make([]byte, 8192)
	for ctx.Err() == nil {
		if len(t.options.Request) > 0 && t.options.Every > 0 && time.Since(asked) >= t.options.Every {
			// The beat is kept, but what was missed is not made up for.
			if asked = asked.Add(t.options.Every); time.Since(asked) >= t.options.Every {
				asked = time.Now()
			}
			switch _, err := c.Write(t.options.Request); {
			case err == nil:
				t.sink(Event{Kind: Sent, Seconds: t.seconds(), Bytes: t.options.Request})
			case !errors.Is(err, errNotTaken):
				return err
			}
		}
		n, err := c.Read(buffer)
		if n > 0 {
			heard = time.Now()
			// After a silence the link is up again, but not anew: the stream was never torn.
			if t.last.Link == Quiet {
				t.change(Event{Link: Connected, Identity: connected.Identity, Whole: true})
			}
			t.sink(Event{Kind: Heard, Seconds: t.seconds(), Bytes: buffer[:n]})
		}
		if err != nil {
			return err
		}
		if t.options.Silent > 0 && t.last.Link == Connected && time.Since(heard) >= t.options.Silent {
			t.change(Event{Link: Quiet, Identity: connected.Identity})
		}
	}
	return nil
}
