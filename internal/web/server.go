package web

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"runtime/debug"
	"strings"
	"sync"
	"time"

	"wreath/internal/desk"
	"wreath/internal/live"
	"wreath/internal/source"
	"wreath/internal/spool"
)

//go:embed templates/*.html static/*
var files embed.FS

// Options say how the pages are served.
type Options struct {
	// Desk is the shop that is open; nil at a first run.
	Desk *desk.Desk
	// OpenOwn makes the user's own shop, OpenDemo an invented one to look around in. They are offered
	// at a first run.
	OpenOwn  func(ctx context.Context, o desk.Opening, password string) (*desk.Desk, error)
	OpenDemo func(ctx context.Context) (*desk.Desk, error)
	// SetUpCode must be given at a first run that is reached over a network; "" on the machine itself.
	SetUpCode string
	// Live follows the instruments that are linked; nil follows none. It is the caller's to close, after
	// the pages have ended.
	Live *live.Hub
	// Simulated opens an invented instrument whose line is to be learned; nil knows none.
	Simulated func(source.Address) (source.Source, error)
	// ShopBench is the simulated bench of the shop that is open; it gives nil where the shop has none, and is
	// nil itself where there never is one.
	ShopBench func() *ShopBench
	// Printing works off the queue of the printers; nil where another program does. It is the caller's to run.
	Printing *spool.Spooler

	Version string
	TLS     bool     // cookies are for encrypted connections only
	Hosts   []string // names under which the pages may be asked for; loopback is always among them
	Log     *slog.Logger
	Now     func() time.Time
}

// Server is the pages of one shop.
type Server struct {
	o     Options
	pages map[string]*template.Template
	mux   *http.ServeMux
	hub   hub
	over  chan struct{} // closed when the server ends, so that streams end

	counters   counters
	linking    sync.Mutex
	wrongLinks map[string]string // why a linked instrument can't be followed
	lessons    lessons
	practices  practices

	mu   sync.RWMutex
	desk *desk.Desk
}

// New makes a server.
func New(o Options) (*Server, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	s := &Server{o: o, mux: http.NewServeMux(), desk: o.Desk, over: make(chan struct{})}
	var err error
	if s.pages, err = readPages(); err != nil {
		return nil, err
	}
	s.routes()
	s.sessions()
	s.mux.HandleFunc("GET /health/live", func(w http.ResponseWriter, r *http.Request) { health(w, true) })
	s.mux.HandleFunc("GET /health/ready", s.ready)
	s.mux.HandleFunc("/", s.nothing)
	if o.Live != nil {
		go s.follow()
	}
	return s, nil
}

// current is the desk that is open; nil before the first run is over.
func (s *Server) current() *desk.Desk {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return s.desk
}

// Handler is the server with everything that holds for every request.
func (s *Server) Handler() http.Handler {
	guard := http.NewCrossOriginProtection()
	guard.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.fail(w, r, &problem{Type: "cross-site", Status: http.StatusForbidden, Title: "This was asked by a page of another site.", Hint: "Open the pages under their own address, and do it there."})
	}))
	var h http.Handler = s.mux
	h = guard.Handler(h)
	h = s.limited(h)
	h = s.known(h)
	h = s.whole(h)
	h = s.headers(h)
	return h
}

// headers are on every answer.
func (s *Server) headers(next http.Handler) http.Handler {
	const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; font-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=(), payment=(), usb=()")
		h.Set("Cache-Control", "no-store")
		if s.o.TLS {
			h.Set("Strict-Transport-Security", "max-age=31536000")
		}
		next.ServeHTTP(w, r)
	})
}

// known refuses names under which the pages are not served, so that no other name can be pointed at them.
func (s *Server) known(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host := r.Host
		if h, _, err := net.SplitHostPort(host); err == nil {
			host = h
		}
		host = strings.Trim(host, "[]")
		ip := net.ParseIP(host)
		allowed := host == "localhost" || ip != nil && ip.IsLoopback()
		for _, h := range s.o.Hosts {
			allowed = allowed || strings.EqualFold(h, host)
		}
		if !allowed {
			s.fail(w, r, &problem{Type: "host", Status: http.StatusMisdirectedRequest, Title: fmt.Sprintf("The pages are not served under the name %q.", host), Hint: "Use the address that the program printed when it started, or allow the name with --host."})
			return
		}
		next.ServeHTTP(w, r)
	})
}

// whole answers with a problem where a page breaks down, and keeps the cause for the log.
func (s *Server) whole(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			switch cause := recover(); cause {
			case nil:
			case http.ErrAbortHandler:
				panic(cause)
			default:
				s.o.Log.Error("page broke down", "path", r.URL.Path, "cause", fmt.Sprint(cause), "stack", string(debug.Stack()))
				s.fail(w, r, fmt.Errorf("broke down: %v", cause))
			}
		}()
		next.ServeHTTP(w, r)
	})
}

// ready says whether work can be done: a shop is open and its store answers.
func (s *Server) ready(w http.ResponseWriter, r *http.Request) {
	d := s.current()
	if d == nil {
		health(w, false)
		return
	}
	_, err := d.AboutShop(r.Context())
	health(w, err == nil)
}

// health tells a supervisor yes or no, and nobody anything else.
func health(w http.ResponseWriter, well bool) {
	w.Header().Set("Content-Type", "application/json")
	if !well {
		w.WriteHeader(http.StatusServiceUnavailable)
	}
	fmt.Fprintf(w, "{\"ok\":%t}\n", well)
}

// maxBody is the largest request: a photo and some fields.
const maxBody = 24 << 20

func (s *Server) limited(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, maxBody)
		next.ServeHTTP(w, r)
	})
}

// Serve answers until the context ends. Streams end at once, other requests get ten seconds.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	server := &http.Server{
		Handler:           s.Handler(),
		ReadHeaderTimeout: 10 * time.Second,
		ReadTimeout:       2 * time.Minute,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    64 << 10,
		ErrorLog:          slog.NewLogLogger(s.o.Log.Handler(), slog.LevelWarn),
	}
	done := make(chan error, 1)
	go func() { done <- server.Serve(l) }()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
	}
	close(s.over)
	ending, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	err := server.Shutdown(ending)
	if served := <-done; !errors.Is(served, http.ErrServerClosed) {
		err = errors.Join(err, served)
	}
	return err
}

// static serves style and modules; they change only with the program.
func (s *Server) static() http.Handler {
	sub, err := fs.Sub(files, "static")
	if err != nil {
		panic(err) // the files are part of the program
	}
	served := http.FileServerFS(sub)
	return http.StripPrefix("/static/", http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cache-Control", "no-cache")
		w.Header().Set("ETag", `"`+s.o.Version+buildMark+`"`)
		served.ServeHTTP(w, r)
	}))
}
