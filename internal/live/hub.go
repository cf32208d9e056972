package live

// Hub follows the instruments of the program. Its methods may be called by several goroutines at once.
type Hub struct{}

// NewHub makes an empty hub.
func NewHub(o Options) *Hub { return &Hub{} }

// Put follows the instrument c. A feed with the same ID is ended first, unless its config is the same.
func (h *Hub) Put(c Config) error { return nil }

// Remove ends the feed of an instrument and waits until it is gone.
func (h *Hub) Remove(id string) {}

// Feed returns the feed of an instrument, or nil.
func (h *Hub) Feed(id string) *Feed { return nil }

// Snapshots returns how all instruments stand, in the order of their IDs.
func (h *Hub) Snapshots() []Snapshot { return nil }

// Subscribe returns the events of all feeds from now on, also of those that are put later.
func (h *Hub) Subscribe() *Subscription { return nil }

// Close ends all feeds and subscriptions and waits until they are gone.
func (h *Hub) Close() {}
