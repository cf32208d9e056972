package web

import (
	"errors"
	"net"
	"net/http"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/people"
)

// Cookies. The one of the session ends with the browser; that of the device stays.
const (
	sessionCookie = "wreath-session"
	deviceCookie  = "wreath-device"
)

func (s *Server) cookieName(name string) string {
	if s.o.TLS {
		return "__Host-" + name
	}
	return name
}

func (s *Server) cookie(r *http.Request, name string) string {
	c, err := r.Cookie(s.cookieName(name))
	if err != nil {
		return ""
	}
	return c.Value
}

func (s *Server) setCookie(w http.ResponseWriter, name, value string, seconds int) {
	http.SetCookie(w, &http.Cookie{
		Name: s.cookieName(name), Value: value, Path: "/", MaxAge: seconds,
		HttpOnly: true, Secure: s.o.TLS, SameSite: http.SameSiteStrictMode,
	})
}

// place is where a request comes from.
func (s *Server) place(r *http.Request) desk.Place {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	return desk.Place{Source: host, Device: s.cookie(r, deviceCookie)}
}

// who finds out who asks: a program by its token, a person by the session, or the one person of a bench
// of one on the machine itself.
func (s *Server) who(r *http.Request, working bool) (*desk.Who, error) {
	d := s.current()
	if bearer, found := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer "); found {
		return d.EnterProgram(r.Context(), bearer)
	}
	token := s.cookie(r, sessionCookie)
	if token == "" {
		return d.Local(r.Context(), s.place(r).Source)
	}
	who, err := d.Enter(r.Context(), token, s.place(r), working)
	if err != nil {
		var ended *people.SignInError
		if errors.As(err, &ended) {
			// A shop of one whose session ended goes on without one.
			if local, localErr := d.Local(r.Context(), s.place(r).Source); localErr == nil {
				return local, nil
			}
		}
		return who, err
	}
	return who, nil
}
