package web

import (
	"encoding/json"
	"errors"
	"net"
	"net/http"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/people"
)

// askedCookie holds the ticket of the question that this browser was asked, for minutes.
const askedCookie = "wreath-asked"

// site is under what name the pages were asked for; names that are not allowed were refused before.
func (s *Server) site(r *http.Request) (people.Site, error) {
	name := ""
	if shop, err := s.current().AboutShop(r.Context()); err == nil {
		name = shop.Name
	}
	site, err := people.NewSite(r.Host, s.o.TLS, name)
	if why, is := errors.AsType[*people.SignInError](err); is {
		err = &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: why.Reason, Hint: why.Hint}
	}
	return site, err
}

// passkeysHere tells whether a passkey can be asked for under the address that was used. Where that is a
// number of this machine itself, elsewhere is the same page under a name.
func (s *Server) passkeysHere(r *http.Request) (here bool, elsewhere string) {
	if _, err := s.site(r); err == nil {
		return true, ""
	}
	host, port, err := net.SplitHostPort(r.Host)
	if err != nil {
		host, port = r.Host, ""
	}
	ip := net.ParseIP(strings.Trim(host, "[]"))
	if ip == nil || !ip.IsLoopback() || s.o.TLS {
		return false, ""
	}
	if port != "" {
		port = ":" + port
	}
	return false, "http://localhost" + port
}

// question sends the browser what it needs to use a passkey, and remembers there that it was asked.
func (s *Server) question(w http.ResponseWriter, ticket string, options people.Options) {
	s.setCookie(w, askedCookie, ticket, int(people.PasskeyWait.Seconds()))
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(map[string]any{"options": options})
}

// asked is the ticket of the question, which the browser forgets with the answer.
func (s *Server) asked(w http.ResponseWriter, r *http.Request) string {
	ticket := s.cookie(r, askedCookie)
	s.setCookie(w, askedCookie, "", -1)
	return ticket
}

// askPasskey asks for a passkey: of whoever has one, to sign in, or with for=me of the person whose session
// it is, locked or not, but for the passkey that is to be removed.
func (s *Server) askPasskey(w http.ResponseWriter, r *http.Request) {
	d := s.current()
	if d == nil {
		s.fail(w, r, &problem{Type: "first-run", Status: http.StatusServiceUnavailable, Title: "No shop is open yet."})
		return
	}
	var who *desk.Who
	var err error
	if r.PostFormValue("for") == "me" {
		if who, err = s.session(r, false); err != nil && !errors.Is(err, people.ErrLocked) {
			s.fail(w, r, err)
			return
		}
	}
	site, err := s.site(r)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	ticket, options, err := d.AskPasskey(r.Context(), who, site, r.PostFormValue("but"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.question(w, ticket, options)
}

// askNewPasskey asks for a new passkey, after password or passkey were given once more.
func (s *Server) askNewPasskey(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	site, err := s.site(r)
	if err == nil {
		err = s.confirmed(w, r, who)
	}
	if err != nil {
		return err
	}
	ticket, options, err := s.current().AskNewPasskey(r.Context(), who, site)
	if err != nil {
		return err
	}
	s.question(w, ticket, options)
	return nil
}

func (s *Server) addPasskey(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if r.PostFormValue("passkey") == "" { // sent by hand, or by a browser whose scripts are off
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The browser made no passkey.", Hint: "Allow scripts for these pages, or use a browser that knows passkeys."}
	}
	_, err := s.current().AddPasskey(r.Context(), by(r, who), s.asked(w, r), strings.TrimSpace(r.PostFormValue("name")), []byte(r.PostFormValue("passkey")))
	if err != nil {
		return err
	}
	back(w, r, "/settings#passkeys")
	return nil
}

func (s *Server) removePasskey(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if err := s.confirmed(w, r, who); err != nil {
		return err
	}
	if err := s.current().RemovePasskey(r.Context(), by(r, who), r.PathValue("id")); err != nil {
		return err
	}
	back(w, r, "/settings#passkeys")
	return nil
}

// removePasskeyOf is for somebody who lost it.
func (s *Server) removePasskeyOf(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	err := s.current().RemovePasskeyOf(r.Context(), by(r, who), r.PathValue("id"), r.PathValue("passkey"), strings.TrimSpace(r.FormValue("reason")))
	if err != nil {
		return err
	}
	back(w, r, "/settings")
	return nil
}

func (s *Server) setTwoFactors(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	err := s.current().SetTwoFactors(r.Context(), by(r, who), r.FormValue("strict") != "", strings.TrimSpace(r.FormValue("reason")))
	if err != nil {
		return err
	}
	back(w, r, "/settings")
	return nil
}
