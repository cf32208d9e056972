package web

import (
	"encoding/json"
	"errors"
	"net/http"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/store"
	"wreath/internal/strictjson"
)

// problem is what went wrong, for people and for programs (RFC 9457).
type problem struct {
	Type   string `json:"type"` // what kind, as a path of these pages
	Title  string `json:"title"`
	Status int    `json:"status"`
	Hint   string `json:"hint,omitempty"`
	Field  string `json:"field,omitempty"` // of the document that was sent
}

func (p *problem) Error() string { return p.Title }

// asProblem turns the errors of the rooms below into what people and programs read.
func asProblem(err error) *problem {
	var (
		p       *problem
		user    *desk.UserError
		stale   *desk.StaleError
		field   *strictjson.FieldError
		refused *people.Refused
		signIn  *people.SignInError
		wait    *people.WaitError
		off     *people.OffError
		code    *people.CodeError
		broken  *ledger.Broken
		tooBig  *http.MaxBytesError
		hinted  interface {
			error
			Hint() string
		}
	)
	switch {
	case errors.As(err, &p):
	case errors.As(err, &user) && user.Missing:
		p = &problem{Type: "missing", Title: user.Reason, Status: http.StatusNotFound, Hint: user.Hint}
	case errors.As(err, &user):
		p = &problem{Type: "input", Title: user.Reason, Status: http.StatusUnprocessableEntity, Hint: user.Hint}
	case errors.As(err, &stale):
		p = &problem{Type: "stale", Title: stale.Error(), Status: http.StatusConflict, Hint: "Both versions are kept; look at it as it is now."}
	case errors.As(err, &field):
		p = &problem{Type: "input", Title: field.Error(), Status: http.StatusUnprocessableEntity, Hint: field.Hint, Field: field.Path}
	case errors.As(err, &refused):
		p = &problem{Type: "not-allowed", Title: refused.Error(), Status: http.StatusForbidden, Hint: refused.Hint}
	case errors.Is(err, people.ErrLocked):
		p = &problem{Type: "locked", Title: "The session is locked.", Status: http.StatusUnauthorized, Hint: "Give your PIN or password."}
	case errors.As(err, &signIn):
		p = &problem{Type: "sign-in", Title: signIn.Reason, Status: http.StatusUnauthorized, Hint: signIn.Hint}
	case errors.As(err, &wait):
		p = &problem{Type: "wait", Title: wait.Error(), Status: http.StatusTooManyRequests, Hint: wait.Hint}
	case errors.As(err, &off):
		p = &problem{Type: "off", Title: off.Error(), Status: http.StatusForbidden, Hint: off.Hint}
	case errors.As(err, &code):
		p = &problem{Type: "input", Title: code.Reason, Status: http.StatusUnprocessableEntity, Hint: code.Hint}
	case errors.As(err, &tooBig):
		p = &problem{Type: "too-large", Title: "That is too large.", Status: http.StatusRequestEntityTooLarge, Hint: "A photo may have 20 MB."}
	case errors.As(err, &hinted):
		p = &problem{Type: "held", Title: hinted.Error(), Status: http.StatusForbidden, Hint: hinted.Hint()}
	case errors.As(err, &broken):
		p = &problem{Type: "broken", Title: err.Error(), Status: http.StatusInternalServerError, Hint: "Keep the store as it is, and find out who had access."}
	case errors.Is(err, store.ErrConflict):
		p = &problem{Type: "mark", Title: err.Error(), Status: http.StatusConflict, Hint: "Use a new mark for a new act."}
	case errors.Is(err, store.ErrUnknown):
		p = &problem{Type: "unknown", Title: "The database did not say whether that was kept.", Status: http.StatusServiceUnavailable, Hint: "Send it again: it is not done twice."}
	case errors.Is(err, store.ErrFull), errors.Is(err, store.ErrFailing):
		p = &problem{Type: "storage", Title: err.Error(), Status: http.StatusInsufficientStorage, Hint: "What is there can be read. Make room, or have the disk looked at."}
	default:
		p = &problem{Type: "other", Title: "That did not work: " + err.Error(), Status: http.StatusInternalServerError, Hint: "Nothing that was kept is lost. If it repeats, note what was done and report it."}
	}
	if p.Type == "" {
		p.Type = "other"
	}
	return p
}

// wantsJSON tells a program from a browser.
func wantsJSON(r *http.Request) bool {
	return strings.HasPrefix(r.URL.Path, "/api/") || strings.Contains(r.Header.Get("Accept"), "application/json")
}

// fail answers with a problem, as a page or as JSON.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	p := asProblem(err)
	if p.Status >= http.StatusInternalServerError {
		s.o.Log.Error("request failed", "path", r.URL.Path, "error", err)
	}
	if wantsJSON(r) {
		shown := *p
		shown.Type = "/problems/" + p.Type
		w.Header().Set("Content-Type", "application/problem+json")
		w.WriteHeader(p.Status)
		json.NewEncoder(w).Encode(shown)
		return
	}
	if p.Status == http.StatusUnauthorized && r.Method == http.MethodGet {
		http.Redirect(w, r, "/sign-in?then="+escapePath(r), http.StatusSeeOther)
		return
	}
	s.render(w, r, p.Status, "problem", view{Title: "Not done", Body: p})
}
