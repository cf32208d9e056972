package source

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// Source is one place that bytes come from.
type Source interface {
	// Run listens until ctx ends, and then returns nil. It calls sink for every event, from one
	// goroutine at a time, and leaves no goroutine, file or port behind. It returns an error only
	// for what trying again cannot mend; a port that is not there is no such thing. A playback
	// returns nil at its end.
	Run(ctx context.Context, sink Sink) error
}

// Sink takes what a source says. It must not keep Event.Bytes, and while it works nothing is read.
type Sink func(Event)

// Event is one thing that a source says: bytes heard, bytes sent, or a change of the link.
type Event struct {
	Kind    EventKind
	Seconds float64 // since the start of Run; in a playback since the start of the recording

	Bytes []byte // Heard and Sent; on loan until the sink returns

	Link Link // LinkChanged
	// Identity is, with LinkChanged to Connected, what the port or the other side is called, in words
	// that stay the same. A Listen address says with Connecting where it waits to be called.
	Identity string
	// Whole says, with LinkChanged to Connected, that the bytes start at the start of a line, as
	// they do from a file or a web request. A port may be opened in the middle of one.
	Whole bool
	Err   error // LinkChanged: why the link is not up; nil when it is, and when Run ends in order
}

// EventKind tells what an event is about.
type EventKind int

// The kinds of events.
const (
	Heard EventKind = iota
	Sent
	LinkChanged
)

// String returns the kind in a word: heard, sent, link.
func (k EventKind) String() string {
	if k < Heard || k > LinkChanged {
		return fmt.Sprintf("event %d", int(k))
	}
	return [...]string{"heard", "sent", "link"}[k]
}

// Link is how the link of a source stands.
type Link int

// The states of a link, in the order in which they are usually met.
const (
	Connecting Link = iota // not connected; Err says why the last try failed, if one did
	Connected              // open, and bytes may come; after Quiet the same connection goes on
	Quiet                  // open, and nothing came for as long as Options.Silent
	Ended                  // Run is about to return
)

// String returns the state in a word: connecting, connected, silent, ended.
func (l Link) String() string {
	if l < Connecting || l > Ended {
		return fmt.Sprintf("link %d", int(l))
	}
	return [...]string{"connecting", "connected", "silent", "ended"}[l]
}

// Options say how to listen. The zero value asks for nothing and waits the usual times.
type Options struct {
	// Request is sent each Every, for an instrument that speaks only when it is asked. Nothing is
	// sent while one of the two is zero. Every is at least ShortestEvery.
	Request []byte
	Every   time.Duration
	// Silent is how long nothing may come until the link counts as silent; 0 never says so.
	Silent time.Duration
	// FirstWait and LongestWait bound the pause before the next try to connect. It doubles from one
	// to the other and varies at random by a quarter. Zero stands for 250 ms and 8 s, chosen here.
	FirstWait, LongestWait time.Duration
	// Simulated opens an address of the kind Simulated. Without it such an address is refused.
	Simulated func(Address) (Source, error)
}

// Pusher is a Source that is given its bytes by a call: the kinds Push and Wedge.
type Pusher interface {
	Source
	// Push hands over bytes and returns when they were taken, or with an error when ctx ends
	// first, when Run is not running, or when p is longer than MaxPush.
	Push(ctx context.Context, p []byte) error
}

// ErrNotListening is returned by Push while Run does not run.
var ErrNotListening = errors.New("nobody listens at this address now")

// MaxPush is the most bytes that one call of Push may bring.
const MaxPush = 64 << 10
