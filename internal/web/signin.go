package web

import (
	"errors"
	"net/http"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/people"
)

// signInView is the page that asks who it is, and the page of a session that is locked.
type signInView struct {
	Then      string
	ID        string
	Locked    string // name of the person whose session is locked here; "" without one
	Device    bool   // a PIN works at this device
	Passkey   bool   // a passkey can be asked for under this address
	Code      bool   // a code is asked for beside the password
	Elsewhere string // address under which it could, where this one is a number; "" else
	Problem   *problem
	Once      shownOnce // the code of the second person, whom a bench of one has just let in
}

// sessions routes what is about coming in and going.
func (s *Server) sessions() {
	s.mux.HandleFunc("GET /unlock", s.unlockPage)
	s.mux.HandleFunc("POST /unlock", s.unlock)
	s.mux.HandleFunc("POST /lock", s.lock)
	s.mux.HandleFunc("GET /new-password", s.newPasswordPage)
	s.mux.HandleFunc("POST /new-password", s.newPassword)
	s.mux.HandleFunc("POST /device/forget", s.forgetDevice)
	s.mux.HandleFunc("POST /passkeys/ask", s.askPasskey)
	s.page("POST /passkeys/new", s.askNewPasskey)
	s.page("POST /passkeys", s.addPasskey)
	s.page("POST /passkeys/{id}/remove", s.removePasskey)
	s.page("POST /people/{id}/passkeys/{passkey}/remove", s.removePasskeyOf)
	s.page("POST /two-factors", s.setTwoFactors)
	s.page("GET /device", s.devicePage)
	s.page("POST /device", s.enrolDevice)
	s.page("POST /pin", s.setPIN)
	s.page("POST /recovery-codes", s.recoveryCodes)
	s.page("POST /sessions/{id}/end", s.endSession)
	s.page("POST /people/{id}/code", s.resetPassword)
}

func (s *Server) signInView(r *http.Request, p *problem) signInView {
	v := signInView{Then: local(r.FormValue("then")), ID: r.PostFormValue("id"), Device: s.cookie(r, deviceCookie) != "", Problem: p}
	v.Passkey, v.Elsewhere = s.passkeysHere(r)
	v.Code = !people.IsLocal(s.place(r).Source) && !v.Device
	return v
}

func (s *Server) showSignIn(w http.ResponseWriter, r *http.Request, status int, p *problem) {
	s.render(w, r, status, "sign-in", view{Title: "Sign in", Body: s.signInView(r, p)})
}

func (s *Server) signInPage(w http.ResponseWriter, r *http.Request) {
	if s.current() == nil {
		back(w, r, "/first")
		return
	}
	s.showSignIn(w, r, http.StatusOK, nil)
}

// signIn lets in by password, by passkey, or by PIN at an enrolled device. A session begins with a token of its own,
// whatever the browser held before; what it held ends.
func (s *Server) signIn(w http.ResponseWriter, r *http.Request) {
	d := s.current()
	if d == nil {
		back(w, r, "/first")
		return
	}
	id, password, pin := strings.TrimSpace(r.PostFormValue("id")), r.PostFormValue("password"), r.PostFormValue("pin")
	var token string
	var who *desk.Who
	var err error
	switch {
	case r.PostFormValue("passkey") != "":
		token, who, err = d.SignInByPasskey(r.Context(), s.asked(w, r), []byte(r.PostFormValue("passkey")), s.place(r))
	case password == "" && pin != "":
		token, who, err = d.HandOver(r.Context(), id, pin, s.place(r))
	default:
		token, who, err = d.SignInWith(r.Context(), id, password, strings.TrimSpace(r.PostFormValue("code")), s.place(r))
	}
	if err != nil {
		p := asProblem(err)
		if p.wait > 0 || p.Status >= http.StatusInternalServerError {
			s.fail(w, r, err)
			return
		}
		s.showSignIn(w, r, p.Status, p)
		return
	}
	if before, err := s.session(r, false); before != nil && (err == nil || errors.Is(err, people.ErrLocked)) {
		if err := d.SignOut(r.Context(), before, false); err != nil {
			s.o.Log.Warn("earlier session was not ended", "error", err)
		}
	}
	s.setCookie(w, sessionCookie, token, 0)
	to := local(r.PostFormValue("then"))
	if to == "/" {
		to = landing(who)
	}
	back(w, r, to)
}

// landing is the page at which a person begins. Who does not weigh has nothing at the bench.
func landing(who *desk.Who) string {
	switch {
	case who.May(people.SeeStations):
		return "/"
	case who.May(people.Search):
		return "/book"
	}
	return "/settings"
}

func (s *Server) signOut(w http.ResponseWriter, r *http.Request) {
	if d := s.current(); d != nil {
		if who, err := s.session(r, false); who != nil && (err == nil || errors.Is(err, people.ErrLocked)) {
			if err := d.SignOut(r.Context(), who, r.FormValue("day") != ""); err != nil {
				s.fail(w, r, err)
				return
			}
		}
	}
	s.setCookie(w, sessionCookie, "", -1)
	w.Header().Set("Clear-Site-Data", `"cache"`)
	back(w, r, "/sign-in")
}

// lock puts a lid on the session, so that a colleague can step in.
func (s *Server) lock(w http.ResponseWriter, r *http.Request) {
	if d := s.current(); d != nil {
		who, err := s.session(r, true)
		if err == nil {
			err = d.Lock(r.Context(), who)
		}
		if err != nil && !errors.Is(err, people.ErrLocked) {
			s.fail(w, r, err)
			return
		}
	}
	back(w, r, "/unlock")
}

// unlockPage is all that a locked session shows: whose it is, and a way for a colleague.
func (s *Server) unlockPage(w http.ResponseWriter, r *http.Request) {
	if s.current() == nil {
		back(w, r, "/first")
		return
	}
	who, err := s.session(r, false)
	if !errors.Is(err, people.ErrLocked) {
		back(w, r, local(r.FormValue("then"))) // there is nothing to unlock
		return
	}
	s.showUnlock(w, r, http.StatusOK, who, nil)
}

func (s *Server) showUnlock(w http.ResponseWriter, r *http.Request, status int, who *desk.Who, p *problem) {
	body := s.signInView(r, p)
	body.Locked = who.Person().Name
	s.render(w, r, status, "unlock", view{Title: "Locked", Body: body})
}

func (s *Server) unlock(w http.ResponseWriter, r *http.Request) {
	d := s.current()
	if d == nil {
		back(w, r, "/first")
		return
	}
	who, err := s.session(r, false)
	if err != nil && !errors.Is(err, people.ErrLocked) {
		s.fail(w, r, err)
		return
	}
	var token string
	if given := r.PostFormValue("passkey"); given != "" {
		token, err = d.UnlockByPasskey(r.Context(), who, s.asked(w, r), []byte(given), s.place(r))
	} else {
		token, err = d.Unlock(r.Context(), who, r.PostFormValue("password"), r.PostFormValue("pin"), s.place(r))
	}
	if err != nil {
		p := asProblem(err)
		if who == nil || p.wait > 0 {
			s.fail(w, r, err)
			return
		}
		s.showUnlock(w, r, p.Status, who, p)
		return
	}
	if token != "" {
		s.setCookie(w, sessionCookie, token, 0)
	}
	back(w, r, local(r.PostFormValue("then")))
}

func (s *Server) newPasswordPage(w http.ResponseWriter, r *http.Request) {
	if s.current() == nil {
		back(w, r, "/first")
		return
	}
	s.render(w, r, http.StatusOK, "new-password", view{Title: "New password", Body: s.signInView(r, nil)})
}

// newPassword sets a password with a one-time code or a recovery code. It lets nobody in: the person signs
// in with it next.
func (s *Server) newPassword(w http.ResponseWriter, r *http.Request) {
	d := s.current()
	if d == nil {
		back(w, r, "/first")
		return
	}
	err := d.NewPassword(r.Context(), strings.TrimSpace(r.PostFormValue("id")), r.PostFormValue("code"), r.PostFormValue("new"), s.place(r))
	if err != nil {
		p := asProblem(err)
		if p.wait > 0 || p.Status >= http.StatusInternalServerError {
			s.fail(w, r, err)
			return
		}
		s.render(w, r, p.Status, "new-password", view{Title: "New password", Body: s.signInView(r, p)})
		return
	}
	back(w, r, "/sign-in")
}

// deviceView is the page on which this device is made known.
type deviceView struct{ Name string }

func (s *Server) devicePage(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if !who.May(people.EnrolDevice) {
		return refused(who, people.EnrolDevice)
	}
	s.render(w, r, http.StatusOK, "device", view{Title: "This device", Nav: "settings", Who: who, Body: deviceView{who.Device()}})
	return nil
}

func refused(who *desk.Who, a people.Action) error {
	return &people.Refused{Action: a, Name: who.Person().Name, Reason: "none of the roles allows it", Hint: "Ask somebody who administers."}
}

// enrolDevice makes this browser a counter. Sessions belong to a device from their beginning, so the person
// signs in again, and sets a PIN then.
func (s *Server) enrolDevice(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	d := s.current()
	secret, _, err := d.EnrolDevice(r.Context(), by(r, who), strings.TrimSpace(r.PostFormValue("name")), r.PostFormValue("shared") != "")
	if err != nil {
		return err
	}
	s.setCookie(w, deviceCookie, secret, deviceDays*24*3600)
	if who.SignedIn() {
		if err := d.SignOut(r.Context(), who, false); err != nil {
			return err
		}
		s.setCookie(w, sessionCookie, "", -1)
	}
	back(w, r, "/sign-in?then=/settings")
	return nil
}

// deviceDays is how long a browser keeps the secret of its device; browsers keep no cookie for longer
// than 400 days.
const deviceDays = 400

// forgetDevice takes the secret of a device out of this browser. The device itself is ended by who
// administers.
func (s *Server) forgetDevice(w http.ResponseWriter, r *http.Request) {
	s.setCookie(w, deviceCookie, "", -1)
	s.setCookie(w, sessionCookie, "", -1)
	back(w, r, "/sign-in")
}

// confirmed takes password, PIN or passkey that came with a form, before an act that asks for it.
func (s *Server) confirmed(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if given := r.PostFormValue("passkey"); given != "" {
		return s.current().ConfirmByPasskey(r.Context(), who, s.asked(w, r), []byte(given), s.place(r))
	}
	if who.SignedIn() && (r.PostFormValue("password") != "" || r.PostFormValue("current_pin") != "") {
		return s.current().Confirm(r.Context(), who, r.PostFormValue("password"), r.PostFormValue("current_pin"), s.place(r))
	}
	return nil
}

func (s *Server) setPIN(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if err := s.confirmed(w, r, who); err != nil {
		return err
	}
	if err := s.current().SetPIN(r.Context(), by(r, who), r.PostFormValue("pin"), s.place(r)); err != nil {
		return err
	}
	back(w, r, "/settings")
	return nil
}

func (s *Server) recoveryCodes(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if err := s.confirmed(w, r, who); err != nil {
		return err
	}
	codes, err := s.current().RecoveryCodes(r.Context(), by(r, who))
	if err != nil {
		return err
	}
	return s.showSettings(w, r, who, shownOnce{Recovery: codes})
}

func (s *Server) endSession(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if err := s.current().EndOwn(r.Context(), by(r, who), r.PathValue("id")); err != nil {
		return err
	}
	back(w, r, "/settings")
	return nil
}

func (s *Server) resetPassword(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	code, err := s.current().ResetPassword(r.Context(), by(r, who), r.PathValue("id"))
	if err != nil {
		return err
	}
	return s.showSettings(w, r, who, shownOnce{Code: code, For: r.PathValue("id")})
}
