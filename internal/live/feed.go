package live

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"wreath/internal/line"
	"wreath/internal/source"
	"wreath/settle"
)

// Options are what feeds need of the program.
type Options struct {
	// Now is the clock; nil stands for time.Now.
	Now func() time.Time
	// Simulated opens simulated addresses; see source.Options.
	Simulated func(source.Address) (source.Source, error)
	// Record makes a sink that keeps a record of the feed's whole conversation and hands it on; nil
	// keeps none. See source.Recorder.
	Record func(c Config, next source.Sink) source.Sink
}

const (
	usualSilent = 10 * time.Second // chosen here: a balance that sends by itself sends once a second at least
	// unreadLines is how many lines in a row must fail until the line counts as not understood.
	unreadLines = 3
	// quietStart is how long nothing must have come after a port was opened for the first byte to
	// be the first of a line: within a line there is no such pause. Chosen here.
	quietStart = 0.5
	mostOther  = 8
	mostShown  = 120
)

// Feed follows one instrument. Its methods may be called by several goroutines at once.
type Feed struct {
	config  Config
	options Options
	source  source.Source
	own     room
	hub     *room // of the hub that it belongs to, or nil

	mu        sync.Mutex
	started   bool
	framer    *line.Framer
	heard     memory
	values    []line.Value
	link      source.Link
	up        bool    // connected, silent or not
	upSince   float64 // seconds
	virgin    bool    // nothing was heard since the connection
	seconds   float64 // of the last event of the source
	at        time.Time
	number    uint64
	failed    int      // lines in a row that were not read
	snapshot  Snapshot // the parts that are kept as they are shown
	balance   channel
	warmth    *settle.Thermometer
	warmthOf  string // channel of the thermometer
	watch     watch
	spark     spark
	connected bool // was it ever
}

// channel is the state of the channel that is followed as the balance.
type channel struct {
	known     bool
	name      string
	estimator *settle.Estimator
	event     settle.Event
	spoke     bool // event is of this connection
}

// NewFeed makes the feed of an instrument. It touches neither port nor network; Run does. The error
// says what of the config can't be used.
func NewFeed(c Config, o Options) (*Feed, error) {
	if c.Pattern == nil {
		return nil, fmt.Errorf("follow %s: it has no pattern of its lines; learn one", c.ID)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	asked := source.Options{Silent: c.Silent, Simulated: o.Simulated}
	asked.Request, asked.Every = c.asks()
	switch c.Address.Kind {
	case source.Push, source.Wedge, source.File: // nobody expects them to speak all the time
	default:
		asked.Silent = cmp.Or(asked.Silent, usualSilent)
	}
	src, err := source.Open(c.Address, asked)
	if err != nil {
		return nil, fmt.Errorf("follow %s: %w", c.ID, err)
	}
	f := &Feed{config: c, options: o, source: src, framer: line.NewFramer(c.Pattern.Framing), at: o.Now()}
	f.balance.name = cmp.Or(c.Channel, c.Pattern.Main)
	f.balance.known = f.balance.name != ""
	f.snapshot = Snapshot{ID: c.ID, Name: c.Name, Address: c.Address.String(), Origin: Real,
		State: State{Key: Connecting, Since: f.at, Sentence: "The program is connecting."}}
	switch c.Address.Kind {
	case source.Simulated:
		f.snapshot.Origin = Simulated
	case source.Play:
		f.snapshot.Origin = Playback
	}
	f.snapshot.Proof = Proof{Key: Unbound}
	if c.Binding != nil {
		f.snapshot.Proof = Proof{Key: Unproved, Why: WhyNew}
		f.watch.unit = c.Binding.Unit
	}
	return f, nil
}

// asks is what is sent to the instrument, and how often: what was said of it, else what the pattern says.
func (c *Config) asks() (request []byte, every time.Duration) {
	request, every = c.Request, c.Every
	if request == nil && c.Pattern.Request != "" {
		request = []byte(c.Pattern.Request)
	}
	if every == 0 {
		every = time.Duration(c.Pattern.EveryS * float64(time.Second))
	}
	return request, every
}

// Run follows the instrument until ctx ends, and leaves nothing behind. It runs once.
func (f *Feed) Run(ctx context.Context) error {
	f.mu.Lock()
	if f.started {
		f.mu.Unlock()
		return errors.New("follow " + f.config.ID + ": it was followed before")
	}
	f.started = true
	f.mu.Unlock()
	var sink source.Sink = f.take
	if f.options.Record != nil {
		sink = f.options.Record(f.config, sink)
	}
	ctx, cancel := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		f.idle(ctx)
	}()
	err := f.source.Run(ctx, sink)
	cancel()
	<-done
	f.mu.Lock()
	f.seconds, f.at = f.now(), f.options.Now()
	f.ended(err)
	f.mu.Unlock()
	f.own.close()
	return err
}

// idle tells the framer the time where a pause ends a line.
func (f *Feed) idle(ctx context.Context) {
	pause := f.config.Pattern.Framing.IdleS
	if pause <= 0 || f.config.Address.Kind == source.Play {
		return // a playback has a clock of its own; its next bytes bring the time
	}
	beat := time.NewTicker(time.Duration(min(max(pause/4, 0.005), 0.1) * float64(time.Second)))
	defer beat.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-beat.C:
			f.mu.Lock()
			if f.up {
				f.framer.Idle(f.now(), f.line)
			}
			f.mu.Unlock()
		}
	}
}

// now estimates the seconds of the stream. It changes nothing: the clock of a simulated instrument may run
// at another pace than ours. The caller holds the lock.
func (f *Feed) now() float64 {
	if f.config.Address.Kind == source.Play {
		return f.seconds
	}
	return f.seconds + max(0, f.options.Now().Sub(f.at).Seconds())
}

// Config returns what the feed was made of.
func (f *Feed) Config() Config { return f.config }

// Subscribe returns the events of the feed from now on. Close it when it is not needed any more.
func (f *Feed) Subscribe() *Subscription { return f.own.subscribe() }

// take is the sink of the source.
func (f *Feed) take(e source.Event) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.seconds, f.at = max(f.seconds, e.Seconds), f.options.Now()
	switch e.Kind {
	case source.Heard:
		f.hear(e.Bytes)
	case source.LinkChanged:
		f.linked(e)
	}
}

func (f *Feed) hear(p []byte) {
	if f.virgin {
		f.virgin = false
		if f.seconds-f.upSince >= quietStart {
			f.framer.Whole()
		}
	}
	f.heard.add(p, f.seconds)
	f.snapshot.Bytes += uint64(len(p))
	f.framer.Write(p, f.seconds, f.line)
}

// simulatedWords stand in the lines by which a simulated instrument says what it is, however it is connected.
var simulatedWords = []byte("simulated, no real weighing")

// line reads one line.
func (f *Feed) line(l line.Line) {
	f.snapshot.Lines++
	if f.snapshot.Origin != Playback && bytes.Contains(l.Bytes, simulatedWords) {
		f.snapshot.Origin = Simulated // and stays so: what spoke so once isn't real
	}
	if l.Damaged != "" {
		f.fail(l, l.Damaged)
		return
	}
	values, err := f.config.Pattern.ReadAll(f.values[:0], l.Bytes)
	f.values = values
	if errors.Is(err, line.ErrNoReading) {
		return
	}
	if err != nil {
		f.fail(l, err.Error())
		return
	}
	f.failed = 0
	for _, v := range values {
		f.value(v, l.Seconds)
	}
}

func (f *Feed) fail(l line.Line, why string) {
	shown := source.Escape(l.Bytes[:min(len(l.Bytes), mostShown)])
	if len(shown) > mostShown {
		shown = shown[:mostShown] + "…"
	}
	f.snapshot.Mistakes = Mistakes{Count: f.snapshot.Mistakes.Count + 1, Shown: shown, Why: why, At: f.at}
	f.failed++
	f.publish(Event{Kind: LineFailed, Seconds: l.Seconds, Mistake: f.snapshot.Mistakes})
	if f.failed >= unreadLines {
		f.state(State{Key: NotUnderstood, Shown: shown, Why: why, Sentence: "The line is not understood."})
	}
}

// value takes one value to its place.
func (f *Feed) value(v line.Value, seconds float64) {
	isBalance := v.Kind == line.Mass || v.State != line.Reading
	switch {
	case isBalance && f.isBalance(v):
		f.weigh(v, seconds)
	case v.State != line.Reading: // of a channel that nobody follows
	case v.Kind == line.Temperature && (f.warmth == nil || f.warmthOf == v.Channel):
		f.feel(v, seconds)
	default:
		f.other(v, seconds)
	}
}

// isBalance says whether a mass belongs to the channel that is followed. The first mass decides
// where nobody has.
func (f *Feed) isBalance(v line.Value) bool {
	if !f.balance.known && v.State == line.Reading {
		f.balance.known, f.balance.name = true, v.Channel
	}
	return !f.balance.known || f.balance.name == v.Channel
}

var marks = map[line.Mark]settle.Mark{line.Unsaid: settle.MarkUnsaid, line.Settled: settle.MarkSettled, line.Moving: settle.MarkMoving}

func (f *Feed) weigh(v line.Value, seconds float64) {
	if v.State != line.Reading {
		f.outOfRange(v.State)
		return
	}
	b := &f.balance
	if b.estimator == nil {
		o := f.config.Settle
		if o.Interval == 0 {
			o.Interval = v.Interval
		}
		b.estimator = settle.New(o)
	}
	before := b.event
	b.event = b.estimator.Add(settle.Sample{Seconds: seconds, Value: v.Number, Mark: marks[v.Mark]})
	changed := !b.spoke || b.event.Phase != before.Phase || b.event.Load != before.Load
	b.spoke = true
	f.snapshot.Balance = &Reading{Value: v, Seconds: seconds, At: f.at}
	f.spark.add(seconds, v.Number)
	f.prove(v)
	f.snapshot.Suspicions = f.suspect(v, seconds)
	kind := ValueRead
	if changed {
		kind = PhaseChanged
	}
	f.phase(b.event.Phase)
	f.publish(Event{Kind: kind, Seconds: seconds, Value: v, Settle: b.event, Suspicions: f.snapshot.Suspicions})
}

func (f *Feed) feel(v line.Value, seconds float64) {
	if f.warmth == nil {
		f.warmth, f.warmthOf = settle.NewThermometer(settle.ThermometerOptions{Interval: v.Interval}), v.Channel
	}
	before := f.snapshot.Temperature.Phase
	first := f.snapshot.Thermometer == nil
	f.snapshot.Temperature = f.warmth.Add(settle.Sample{Seconds: seconds, Value: v.Number, Mark: marks[v.Mark]})
	f.snapshot.Thermometer = &Reading{Value: v, Seconds: seconds, At: f.at}
	kind := ValueRead
	if first || before != f.snapshot.Temperature.Phase {
		kind = PhaseChanged
	}
	if f.snapshot.Balance == nil {
		f.phase(f.snapshot.Temperature.Phase)
	}
	f.publish(Event{Kind: kind, Seconds: seconds, Value: v, Temperature: f.snapshot.Temperature})
}

func (f *Feed) other(v line.Value, seconds float64) {
	r := Reading{Value: v, Seconds: seconds, At: f.at}
	i := slices.IndexFunc(f.snapshot.Other, func(o Reading) bool { return o.Value.Channel == v.Channel && o.Value.Kind == v.Kind })
	switch {
	case i >= 0:
		f.snapshot.Other[i] = r
	case len(f.snapshot.Other) < mostOther:
		f.snapshot.Other = append(f.snapshot.Other, r)
	}
	f.publish(Event{Kind: ValueRead, Seconds: seconds, Value: v})
}

// publish tells the subscribers. The caller holds the lock, so that events keep their order.
func (f *Feed) publish(e Event) {
	f.number++
	e.Feed, e.Number, e.Origin = f.config.ID, f.number, f.snapshot.Origin
	if e.At.IsZero() {
		e.At = f.at
	}
	if e.Seconds == 0 {
		e.Seconds = f.seconds
	}
	f.own.publish(&e)
	if f.hub != nil {
		f.hub.publish(&e)
	}
}

// Evidence returns what was heard from one time of the stream to another, as far as it is kept: from
// the start of the first line on, and the last 4096 bytes of it. Seconds are those of the events.
func (f *Feed) Evidence(from, to float64) Evidence {
	f.mu.Lock()
	defer f.mu.Unlock()
	e := f.heard.cut(from, to)
	began := f.at.Add(-time.Duration(f.seconds * float64(time.Second)))
	e.Recording, e.lines = recording(e.lines, began, f.snapshot.Origin == Simulated), nil
	return e
}

// Heard returns the last raw bytes, at most n, for a person to look at.
func (f *Feed) Heard(n int) []byte {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.heard.bytes(f.heard.total-int64(max(n, 0)), f.heard.total)
}

// Push hands over bytes to a feed whose address is push: or wedge:. The caller ends lines with
// their line end. The error says that the feed has another kind of address or does not run.
func (f *Feed) Push(ctx context.Context, p []byte) error {
	if to, ok := f.source.(source.Pusher); ok {
		return to.Push(ctx, p)
	}
	return fmt.Errorf("push to %s: readings of this instrument come by %s and not by a push", f.config.ID, f.config.Address)
}
