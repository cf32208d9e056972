package web

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"wreath/internal/desk"
	"wreath/internal/ledger"
	"wreath/internal/paper"
	"wreath/internal/people"
	"wreath/internal/spool"
	"wreath/internal/store"
	"wreath/internal/strictjson"
	"wreath/internal/tables"
	"wreath/internal/value"
)

const problemMedia = "application/problem+json"

// problem is what went wrong, for people and for programs (RFC 9457).
type problem struct {
	Type   string  `json:"type" doc:"what kind; doc/http.md lists them"`
	Title  string  `json:"title" doc:"what was wrong, in words"`
	Status int     `json:"status"`
	Hint   string  `json:"hint,omitempty" doc:"how to mend it"`
	Field  string  `json:"field,omitempty" doc:"of the document or address that was sent"`
	Faults []fault `json:"faults,omitempty" doc:"everything that is wrong with the document, where it is more than one thing"`

	wait    time.Duration // before it may be tried again
	allowed string        // methods that would do
}

// fault is one of several things that are wrong.
type fault struct {
	Field string `json:"field"`
	Title string `json:"title"`
	Hint  string `json:"hint,omitempty"`
}

func (p *problem) Error() string { return p.Title }

// asProblem turns the errors of the rooms below into what people and programs read.
func asProblem(err error) *problem {
	var (
		p       *problem
		user    *desk.UserError
		stale   *desk.StaleError
		faults  value.Faults
		field   *strictjson.FieldError
		refused *people.Refused
		signIn  *people.SignInError
		wait    *people.WaitError
		off     *people.OffError
		code    *people.CodeError
		broken  *ledger.Broken
		tooBig  *http.MaxBytesError
		lacking *paper.MissingError
		list    *desk.ListError
		unread  *tables.ReadError
		misfit  *spool.FitError
		taken   *spool.TakenError
		hinted  interface {
			error
			Hint() string
		}
	)
	switch {
	case errors.As(err, &p):
		copied := *p
		p = &copied
	case errors.As(err, &user) && user.Missing:
		p = &problem{Type: "missing", Title: user.Reason, Status: http.StatusNotFound, Hint: user.Hint}
	case errors.As(err, &user):
		p = &problem{Type: "input", Title: user.Reason, Status: http.StatusUnprocessableEntity, Hint: user.Hint}
	case errors.As(err, &stale):
		p = &problem{Type: "stale", Title: stale.Error(), Status: http.StatusConflict, Hint: "Both versions are kept; look at it as it is now."}
	case errors.As(err, &faults) && len(faults) > 1:
		p = &problem{Type: "input", Title: faults.Error(), Status: http.StatusUnprocessableEntity, Hint: faults[0].Hint, Field: faults[0].Path}
		for _, f := range faults {
			p.Faults = append(p.Faults, fault{f.Path, f.Error(), f.Hint})
		}
	case errors.As(err, &field):
		p = &problem{Type: "input", Title: field.Error(), Status: http.StatusUnprocessableEntity, Hint: field.Hint, Field: field.Path}
		if field.Path == "text" { // of a reading: it stands beside the words, which quote it
			p.Title = field.Reason
		}
	case errors.As(err, &refused):
		p = &problem{Type: "not-allowed", Title: refused.Error(), Status: http.StatusForbidden, Hint: refused.Hint}
	case errors.Is(err, people.ErrLocked):
		p = &problem{Type: "locked", Title: "The session is locked.", Status: http.StatusUnauthorized, Hint: "Give your PIN or password."}
	case errors.As(err, &signIn):
		p = &problem{Type: "sign-in", Title: signIn.Reason, Status: http.StatusUnauthorized, Hint: signIn.Hint}
	case errors.As(err, &wait):
		p = &problem{Type: "wait", Title: wait.Error(), Status: http.StatusTooManyRequests, Hint: wait.Hint, wait: wait.Wait}
	case errors.As(err, &off):
		p = &problem{Type: "off", Title: off.Error(), Status: http.StatusForbidden, Hint: off.Hint}
	case errors.As(err, &code):
		p = &problem{Type: "input", Title: code.Reason, Status: http.StatusUnprocessableEntity, Hint: code.Hint}
	case errors.As(err, &tooBig):
		p = &problem{Type: "too-large", Title: fmt.Sprintf("That is larger than %d bytes.", tooBig.Limit), Status: http.StatusRequestEntityTooLarge, Hint: "A document may have 4 MiB, a photo 20 MB."}
	case errors.As(err, &lacking):
		p = &problem{Type: "input", Title: lacking.Error(), Status: http.StatusUnprocessableEntity, Hint: lacking.Hint()}
		for _, m := range lacking.Missing {
			p.Faults = append(p.Faults, fault{"7.8.2.1 " + m.Clause, m.What, m.Hint})
		}
	case errors.As(err, &list):
		p = &problem{Type: "input", Title: list.Error(), Status: http.StatusUnprocessableEntity, Hint: "Mend the rows that are named, then send the file again."}
		for _, f := range list.Trial.Findings {
			if !f.Warning {
				p.Faults = append(p.Faults, fault{strings.TrimPrefix(fmt.Sprintf("row %d, %s", f.Row, f.Column), "row 0, "), f.Wrong, f.Mend})
			}
		}
	case errors.As(err, &unread):
		p = &problem{Type: "input", Title: unread.Reason, Status: http.StatusUnprocessableEntity, Hint: unread.Hint}
		if unread.Row > 0 {
			p.Field = fmt.Sprintf("row %d", unread.Row)
		}
	case errors.As(err, &misfit):
		p = &problem{Type: "input", Title: misfit.Error(), Status: http.StatusUnprocessableEntity, Hint: misfit.Hint()}
	case errors.As(err, &taken):
		p = &problem{Type: "stale", Title: taken.Error(), Status: http.StatusConflict, Hint: taken.Hint()}
	case errors.As(err, &hinted):
		p = &problem{Type: "held", Title: hinted.Error(), Status: http.StatusForbidden, Hint: hinted.Hint()}
	case errors.As(err, &broken):
		p = &problem{Type: "broken", Title: err.Error(), Status: http.StatusInternalServerError, Hint: "Keep the store as it is, and find out who had access."}
	case errors.Is(err, store.ErrConflict):
		p = &problem{Type: "mark", Title: err.Error(), Status: http.StatusConflict, Hint: "Use a new mark for a new act."}
	case errors.Is(err, store.ErrUnknown):
		p = &problem{Type: "unknown", Title: "The database did not say whether that was kept.", Status: http.StatusServiceUnavailable, Hint: "Send it again: it is not done twice."}
	case errors.Is(err, store.ErrFull):
		p = &problem{Type: "storage", Title: "The disk is full.", Status: http.StatusInsufficientStorage, Hint: "What is there can be read. Make room, then do it again."}
	case errors.Is(err, store.ErrFailing):
		p = &problem{Type: "storage", Title: "The disk gives errors.", Status: http.StatusInsufficientStorage, Hint: "What is there can be read. Have the disk looked at."}
	default:
		// What is inside of the program is for its log, not for who asks.
		p = &problem{Type: "other", Title: "That did not work.", Status: http.StatusInternalServerError}
	}
	if p.Type == "" {
		p.Type = "other"
	}
	return p
}

// wantsJSON tells a program from a browser.
func wantsJSON(r *http.Request) bool {
	return strings.HasPrefix(r.URL.Path, "/api/") || strings.HasPrefix(r.Header.Get("Accept"), "application/json")
}

// fail answers with a problem, as a page or as JSON.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	p := asProblem(err)
	if p.Status >= http.StatusInternalServerError {
		mark := rand.Text()[:8]
		s.o.Log.Error("request failed", "mark", mark, "method", r.Method, "path", r.URL.Path, "error", err)
		if p.Hint == "" {
			p.Hint = "Nothing that was kept is lost. If it repeats, report what was done and the mark " + mark + ", which stands in the program's log."
		}
	}
	h := w.Header()
	h.Del("ETag")
	if p.wait > 0 {
		h.Set("Retry-After", strconv.Itoa(int(math.Ceil(p.wait.Seconds()))))
	}
	if p.allowed != "" {
		h.Set("Allow", p.allowed)
	}
	if wantsJSON(r) {
		shown := *p
		shown.Type = "/problems/" + p.Type
		if !strings.HasPrefix(r.URL.Path, "/api/") { // asked by a page, for people
			in := wordsFor(r)
			shown.Title, shown.Hint = in.S(p.Title), in.S(p.Hint)
		}
		if p.Status == http.StatusUnauthorized {
			h.Set("WWW-Authenticate", "Bearer")
		}
		h.Set("Content-Type", problemMedia)
		w.WriteHeader(p.Status)
		json.NewEncoder(w).Encode(shown)
		return
	}
	if p.Type == "locked" && r.Method == http.MethodGet {
		http.Redirect(w, r, "/unlock?then="+escapePath(r), http.StatusSeeOther)
		return
	}
	if p.Status == http.StatusUnauthorized && r.Method == http.MethodGet {
		http.Redirect(w, r, "/sign-in?then="+escapePath(r), http.StatusSeeOther)
		return
	}
	s.render(w, r, p.Status, "problem", view{Title: "Not done", Body: problemView{p, cameFrom(r)}})
}

// problemView is the page that says what was not done.
type problemView struct {
	Problem *problem
	From    string // address of the page on which it was asked for; "" where that is not known
}

// cameFrom is the page of this program from which a request came, by what the browser says.
func cameFrom(r *http.Request) string {
	u, err := url.Parse(r.Referer())
	if err != nil || u.Host != r.Host {
		return ""
	}
	from := local(u.RequestURI())
	if r.Method == http.MethodGet && from == r.URL.RequestURI() || from == "/" {
		return ""
	}
	return from
}

// nothing answers for paths and methods that there are not.
func (s *Server) nothing(w http.ResponseWriter, r *http.Request) {
	var methods []string
	for _, m := range []string{http.MethodGet, http.MethodPost, http.MethodPut, http.MethodDelete} {
		other := r.Clone(r.Context())
		other.Method = m
		if _, pattern := s.mux.Handler(other); pattern != "/" {
			methods = append(methods, m)
		}
	}
	if len(methods) > 0 {
		s.fail(w, r, &problem{Type: "method", Status: http.StatusMethodNotAllowed, Title: r.Method + " does nothing here.", Hint: "Use " + strings.Join(methods, " or ") + ".", allowed: strings.Join(methods, ", ")})
		return
	}
	hint := "The address may have been cut short. The bench leads everywhere."
	if wantsJSON(r) {
		hint = apiRoot + "/openapi.json lists what there is."
	}
	s.fail(w, r, &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is no page " + r.URL.Path + ".", Hint: hint})
}
