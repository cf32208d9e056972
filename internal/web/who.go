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

// place is where a request comes from. What came through a proxy did not come from this machine, whatever
// the connection says; nobody works without signing in that way.
func (s *Server) place(r *http.Request) desk.Place {
	for _, name := range []string{"Forwarded", "X-Forwarded-For", "X-Real-Ip", "Via"} {
		if r.Header.Get(name) != "" {
			return desk.Place{Source: "through a proxy", Device: s.cookie(r, deviceCookie)}
		}
	}
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
	if given := r.Header.Get("Authorization"); given != "" {
		bearer, found := strings.CutPrefix(given, "Bearer ")
		if !found {
			return nil, &people.SignInError{Reason: "this way of signing in is not known", Hint: "Send a token: Authorization: Bearer."}
		}
		return d.EnterProgram(r.Context(), bearer)
	}
	who, err := s.session(r, working)
	if err == nil {
		return who, nil
	}
	if ended, is := errors.AsType[*people.SignInError](err); is {
		// A shop of one, or whose session ended, goes on without one.
		local, localErr := d.Local(r.Context(), s.place(r).Source)
		if localErr == nil {
			return local, nil
		}
		if ended == errNoSession {
			return nil, localErr
		}
	}
	return nil, err // of a locked session nothing is shown, not even whose it is
}

// errNoSession says that the browser brought no session.
var errNoSession = &people.SignInError{Reason: "nobody has signed in here", Hint: "Sign in."}

// session is the person of the session that the browser brought. It comes back with people.ErrLocked as
// well, so that it can be unlocked.
func (s *Server) session(r *http.Request, working bool) (*desk.Who, error) {
	token := s.cookie(r, sessionCookie)
	if token == "" {
		return nil, errNoSession
	}
	return s.current().Enter(r.Context(), token, s.place(r), working)
}
