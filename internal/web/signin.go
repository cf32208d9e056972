package web

import (
	"net/http"
)

// signInView is the page that asks who it is.
type signInView struct {
	Then    string
	ID      string
	Device  bool // a PIN works at this device
	Problem *problem
}

func (s *Server) signInPage(w http.ResponseWriter, r *http.Request) {
	if s.current() == nil {
		back(w, r, "/first")
		return
	}
	s.render(w, r, http.StatusOK, "sign-in", view{Title: "Sign in", Body: signInView{Then: local(r.FormValue("then")), Device: s.cookie(r, deviceCookie) != ""}})
}

// signIn lets in by password, or by PIN at an enrolled device. A session begins with a token of its own,
// whatever the browser held before.
func (s *Server) signIn(w http.ResponseWriter, r *http.Request) {
	d := s.current()
	if d == nil {
		back(w, r, "/first")
		return
	}
	id, password, pin := r.PostFormValue("id"), r.PostFormValue("password"), r.PostFormValue("pin")
	var token string
	var err error
	if password == "" && pin != "" {
		token, _, err = d.HandOver(r.Context(), id, pin, s.place(r))
	} else {
		token, _, err = d.SignIn(r.Context(), id, password, s.place(r))
	}
	if err != nil {
		p := asProblem(err)
		s.render(w, r, p.Status, "sign-in", view{Title: "Sign in", Body: signInView{Then: local(r.FormValue("then")), ID: id, Device: s.cookie(r, deviceCookie) != "", Problem: p}})
		return
	}
	s.setCookie(w, sessionCookie, token, 0)
	back(w, r, local(r.PostFormValue("then")))
}

func (s *Server) signOut(w http.ResponseWriter, r *http.Request) {
	if d := s.current(); d != nil {
		if who, err := s.who(r, false); err == nil {
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
