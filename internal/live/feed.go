package live

import (
	"context"
	"time"

	"wreath/internal/source"
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

// Feed follows one instrument. Its methods may be called by several goroutines at once.
type Feed struct{ config Config }

// NewFeed makes the feed of an instrument. It touches neither port nor network; Run does. The error
// says what of the config can't be used.
func NewFeed(c Config, o Options) (*Feed, error) { return &Feed{config: c}, nil }

// Run follows the instrument until ctx ends, and leaves nothing behind. It runs once.
func (f *Feed) Run(ctx context.Context) error { return nil }

// Config returns what the feed was made of.
func (f *Feed) Config() Config { return f.config }

// Snapshot returns how the instrument stands now.
func (f *Feed) Snapshot() Snapshot { return Snapshot{} }

// Subscribe returns the events of the feed from now on. Close it when it is not needed any more.
func (f *Feed) Subscribe() *Subscription { return nil }

// Evidence returns what was heard from one time of the stream to another, as far as it is kept: the
// whole lines of which some byte came in that time. Seconds are those of the events.
func (f *Feed) Evidence(from, to float64) Evidence { return Evidence{} }

// Heard returns the last raw bytes, at most n, for a person to look at.
func (f *Feed) Heard(n int) []byte { return nil }

// Confirm notes that a person has looked and vouches that the instrument stands behind the port.
func (f *Feed) Confirm(by string) {}

// NextItem says that the item was changed, so that a reading that repeats one of the item before to
// its last digit is noticed.
func (f *Feed) NextItem() {}

// Push hands over bytes to a feed whose address is push: or wedge:. The caller ends lines with
// their line end. The error says that the feed has another kind of address or does not run.
func (f *Feed) Push(ctx context.Context, p []byte) error { return nil }
