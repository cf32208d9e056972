package live

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"reflect"
	"slices"
	"sync"
)

// Hub follows the instruments of the program. Its methods may be called by several goroutines at once.
type Hub struct {
	options Options
	ctx     context.Context
	cancel  context.CancelFunc
	all     room

	change sync.Mutex // held while feeds come and go
	mu     sync.Mutex
	feeds  map[string]*running
}

// running is a feed with its way to be ended.
type running struct {
	feed   *Feed
	cancel context.CancelFunc
	done   chan struct{}
}

// NewHub makes an empty hub.
func NewHub(o Options) *Hub {
	ctx, cancel := context.WithCancel(context.Background())
	return &Hub{options: o, ctx: ctx, cancel: cancel, feeds: map[string]*running{}}
}

// Put follows the instrument c. A feed with the same ID is ended first, unless its config is the
// same. The error says what of the config can't be used; then the feed that was there goes on.
func (h *Hub) Put(c Config) error {
	h.change.Lock()
	defer h.change.Unlock()
	if h.ctx.Err() != nil {
		return errors.New("follow an instrument: the program is ending")
	}
	if c.ID == "" {
		return errors.New("follow an instrument: it has no ID")
	}
	if old := h.Feed(c.ID); old != nil && sameConfig(old.Config(), c) {
		return nil
	}
	f, err := NewFeed(c, h.options)
	if err != nil {
		return err
	}
	f.hub = &h.all
	h.remove(c.ID)
	ctx, cancel := context.WithCancel(h.ctx)
	r := &running{feed: f, cancel: cancel, done: make(chan struct{})}
	h.mu.Lock()
	h.feeds[c.ID] = r
	h.mu.Unlock()
	go func() {
		defer close(r.done)
		f.Run(ctx) // what it returns stands in its state
	}()
	return nil
}

// Remove ends the feed of an instrument and waits until it is gone.
func (h *Hub) Remove(id string) {
	h.change.Lock()
	defer h.change.Unlock()
	h.remove(id)
}

func (h *Hub) remove(id string) {
	h.mu.Lock()
	r := h.feeds[id]
	h.mu.Unlock()
	if r == nil {
		return
	}
	r.cancel()
	<-r.done
	h.mu.Lock()
	delete(h.feeds, id)
	h.mu.Unlock()
}

// Feed returns the feed of an instrument, or nil.
func (h *Hub) Feed(id string) *Feed {
	h.mu.Lock()
	defer h.mu.Unlock()
	if r := h.feeds[id]; r != nil {
		return r.feed
	}
	return nil
}

// Snapshots returns how all instruments stand, in the order of their IDs.
func (h *Hub) Snapshots() []Snapshot {
	h.mu.Lock()
	feeds := make([]*Feed, 0, len(h.feeds))
	for _, r := range h.feeds {
		feeds = append(feeds, r.feed)
	}
	h.mu.Unlock()
	slices.SortFunc(feeds, func(a, b *Feed) int { return cmp.Compare(a.config.ID, b.config.ID) })
	out := make([]Snapshot, len(feeds))
	for i, f := range feeds {
		out[i] = f.Snapshot()
	}
	return out
}

// Subscribe returns the events of all feeds from now on, also of those that are put later.
func (h *Hub) Subscribe() *Subscription { return h.all.subscribe() }

// Close ends all feeds and subscriptions and waits until they are gone.
func (h *Hub) Close() {
	h.cancel()
	h.change.Lock()
	defer h.change.Unlock()
	h.mu.Lock()
	var ids []string
	for id := range h.feeds {
		ids = append(ids, id)
	}
	h.mu.Unlock()
	for _, id := range ids {
		h.remove(id)
	}
	h.all.close()
}

func sameConfig(a, b Config) bool {
	if a.Pattern != b.Pattern {
		x, errX := a.Pattern.Encode()
		y, errY := b.Pattern.Encode()
		if errX != nil || errY != nil || !bytes.Equal(x, y) {
			return false
		}
	}
	a.Pattern, b.Pattern = nil, nil
	return reflect.DeepEqual(a, b)
}
