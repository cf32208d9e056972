package web

import (
	"fmt"
	"maps"
	"net/http"
	"slices"
	"sync"
	"time"
)

// hub tells pages that are open that something they show has changed.
type hub struct {
	mu        sync.Mutex
	listeners map[*listener]bool
}

// listener is one open page.
type listener struct {
	subjects chan string // that changed
	sounds   chan string // to be played
	feeds    []string    // instruments that the page shows

	woken   chan struct{}
	stirred map[string]bool // instruments that said something since the page was told last; under the hub's lock
}

func (h *hub) listen(feeds []string) *listener {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.listeners == nil {
		h.listeners = map[*listener]bool{}
	}
	l := &listener{subjects: make(chan string, 16), sounds: make(chan string, 4), feeds: feeds, woken: make(chan struct{}, 1), stirred: map[string]bool{}}
	h.listeners[l] = true
	return l
}

func (h *hub) leave(l *listener) {
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.listeners, l)
}

// tell says that a subject has changed. A page that is too slow looks again anyway with the next one.
func (h *hub) tell(subject string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for l := range h.listeners {
		select {
		case l.subjects <- subject:
		default:
		}
	}
}

// stir says that an instrument said something. A page that is still busy with the word before shows the
// newest when it comes to it.
func (h *hub) stir(feed string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for l := range h.listeners {
		if !slices.Contains(l.feeds, feed) {
			continue
		}
		l.stirred[feed] = true
		select {
		case l.woken <- struct{}{}:
		default:
		}
	}
}

// news are the instruments that said something since this was asked last.
func (h *hub) news(l *listener) []string {
	h.mu.Lock()
	defer h.mu.Unlock()
	feeds := slices.Sorted(maps.Keys(l.stirred))
	clear(l.stirred)
	return feeds
}

// sound says that pages at an instrument may play a sound.
func (h *hub) sound(feed, name string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for l := range h.listeners {
		if !slices.Contains(l.feeds, feed) {
			continue
		}
		select {
		case l.sounds <- name:
		default:
		}
	}
}

// heartbeat keeps proxies from closing a quiet stream.
const heartbeat = 20 * time.Second

// staleness is how often a page is told how old the last word of its instruments is.
const staleness = 2 * time.Second

// events streams the names of what changes (server-sent events).
func (s *Server) events(w http.ResponseWriter, r *http.Request) {
	if s.current() == nil {
		s.fail(w, r, &problem{Type: "first-run", Status: http.StatusServiceUnavailable, Title: "No shop is open yet.", Hint: "Go through the first run."})
		return
	}
	who, err := s.who(r, false)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	out := http.NewResponseController(w)
	out.SetWriteDeadline(time.Time{})
	out.SetReadDeadline(time.Time{})
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	shown, feeds := s.shownLive(r, who)
	page := s.hub.listen(feeds)
	defer s.hub.leave(page)
	fmt.Fprint(w, "retry: 2000\n\n")
	if err := out.Flush(); err != nil {
		return
	}
	beat := time.NewTicker(heartbeat)
	defer beat.Stop()
	fresh := time.NewTicker(staleness)
	defer fresh.Stop()
	for {
		select {
		case <-r.Context().Done():
			return
		case <-s.over:
			return
		case subject := <-page.subjects:
			fmt.Fprintf(w, "event: changed\ndata: %s\n\n", subject)
		case name := <-page.sounds:
			fmt.Fprintf(w, "event: sound\ndata: %s\n\n", name)
		case <-page.woken:
			for _, feed := range s.hub.news(page) {
				if said := shown(feed); said != nil {
					fmt.Fprintf(w, "event: now\ndata: %s\n\n", said)
				}
			}
		case <-fresh.C: // what says nothing grows old
			for _, feed := range feeds {
				if said := shown(feed); said != nil {
					fmt.Fprintf(w, "event: now\ndata: %s\n\n", said)
				}
			}
		case <-beat.C:
			if _, err := s.who(r, false); err != nil {
				return // the session ended; the page finds out when it comes back
			}
			fmt.Fprint(w, ": still here\n\n")
		}
		if err := out.Flush(); err != nil {
			return
		}
	}
}
