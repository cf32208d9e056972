package web

import (
	"fmt"
	"net/http"
	"sync"
	"time"
)

// hub tells pages that are open that something they show has changed.
type hub struct {
	mu        sync.Mutex
	listeners map[chan string]bool
}

func (h *hub) listen() chan string {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.listeners == nil {
		h.listeners = map[chan string]bool{}
	}
	c := make(chan string, 16)
	h.listeners[c] = true
	return c
}

func (h *hub) leave(c chan string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.listeners, c)
}

// tell says that a subject has changed. A page that is too slow looks again anyway with the next one.
func (h *hub) tell(subject string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for c := range h.listeners {
		select {
		case c <- subject:
		default:
		}
	}
}

// heartbeat keeps proxies from closing a quiet stream.
const heartbeat = 20 * time.Second

// events streams the names of what changes (server-sent events).
func (s *Server) events(w http.ResponseWriter, r *http.Request) {
	if s.current() == nil {
		s.fail(w, r, &problem{Type: "first-run", Status: http.StatusServiceUnavailable, Title: "No shop is open yet.", Hint: "Go through the first run."})
		return
	}
	if _, err := s.who(r, false); err != nil {
		s.fail(w, r, err)
		return
	}
	out := http.NewResponseController(w)
	out.SetWriteDeadline(time.Time{})
	out.SetReadDeadline(time.Time{})
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	changes := s.hub.listen()
	defer s.hub.leave(changes)
	fmt.Fprint(w, "retry: 2000\n\n")
	if err := out.Flush(); err != nil {
		return
	}
	beat := time.NewTicker(heartbeat)
	defer beat.Stop()
	for {
		select {
		case <-r.Context().Done():
			return
		case <-s.over:
			return
		case subject := <-changes:
			fmt.Fprintf(w, "event: changed\ndata: %s\n\n", subject)
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
