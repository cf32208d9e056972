package live

import (
	"context"
	"errors"
)

// Subscription is a queue of events. Only one goroutine may take from it at a time.
type Subscription struct{}

// Next waits for the next event. The error is that of ctx, ErrClosed after Close and when the feed
// or the hub has ended, or ErrBehind.
func (s *Subscription) Next(ctx context.Context) (Event, error) { return Event{}, nil }

// Close ends the subscription.
func (s *Subscription) Close() {}

// ErrClosed ends a subscription in order.
var ErrClosed = errors.New("the subscription is closed")

// ErrBehind ends a subscription of which nobody took events for so long that one that must not be lost
// had no room. Subscribe again and take a Snapshot.
var ErrBehind = errors.New("the subscriber fell too far behind; subscribe again")
