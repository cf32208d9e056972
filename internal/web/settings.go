package web

import (
	"net/http"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/value"
)

// settingsView is people, money and how the pages look here.
type settingsView struct {
	Staff     *desk.Staff // nil where this person may not see it
	Roles     []people.Role
	Prices    []value.Price
	Terms     []value.Terms
	Metals    []string
	Sittings  []desk.Sitting // one's own sessions
	Device    bool           // this browser is an enrolled device
	Passkeys  []desk.PasskeyRow
	Passkey   bool   // one can be made under this address
	Elsewhere string // address under which it could, where this one is a number
	Domain    string // name of the pages, which passkeys belong to
	SignIn    bool
	Once      shownOnce
	Paper     paperSettings
}

// shownOnce is what was just made, and is shown on this one page only.
type shownOnce struct {
	Code     string // one-time code
	For      string // whose
	Recovery []string
}

func (s *Server) settings(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	return s.showSettings(w, r, who, shownOnce{})
}

func (s *Server) showSettings(w http.ResponseWriter, r *http.Request, who *desk.Who, once shownOnce) error {
	return s.settingsPage(w, r, who, http.StatusOK, once, paperForm{})
}

// settingsPage draws the page; form is what was typed of a printer and was wrong.
func (s *Server) settingsPage(w http.ResponseWriter, r *http.Request, who *desk.Who, status int, once shownOnce, form paperForm) error {
	d := s.current()
	body := settingsView{Roles: people.Roles, Metals: value.Metals, Device: who.Device() != "", Once: once}
	shop, err := d.AboutShop(r.Context())
	if err != nil {
		return err
	}
	body.SignIn = shop.SignIn
	if who.SignedIn() {
		if body.Sittings, err = d.Sessions(r.Context(), who); err != nil {
			return err
		}
	}
	if who.SignedIn() {
		if body.Passkeys, err = d.Passkeys(r.Context(), who); err != nil {
			return err
		}
		body.Passkey, body.Elsewhere = s.passkeysHere(r)
		if site, err := s.site(r); err == nil {
			body.Domain = site.Domain
		}
	}
	if who.May(people.SeePeople) {
		staff, err := d.Staff(r.Context(), who)
		if err != nil {
			return err
		}
		body.Staff = &staff
	}
	if who.May(people.SeePrices) {
		if body.Prices, err = d.Prices(r.Context(), who); err != nil {
			return err
		}
		if body.Terms, err = d.TermsOf(r.Context(), who); err != nil {
			return err
		}
	}
	if body.Paper, err = s.paperSettings(r, who, form); err != nil {
		return err
	}
	s.render(w, r, status, "settings", view{Title: "Settings", Nav: "settings", Who: who, Body: body})
	return nil
}

func (s *Server) addPerson(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	p := people.Person{ID: strings.TrimSpace(r.FormValue("id")), Name: strings.TrimSpace(r.FormValue("name"))}
	for _, role := range r.Form["role"] {
		p.Roles = append(p.Roles, people.Role(role))
	}
	code, err := s.current().AddPerson(r.Context(), by(r, who), p)
	if err != nil {
		return err
	}
	once := shownOnce{Code: code, For: p.ID}
	if !who.SignedIn() { // there is a second person now: who added signs in too, and may see no page before
		in := s.signInView(r, nil)
		in.Then, in.ID, in.Once = "/settings", who.Person().ID, once
		s.render(w, r, http.StatusOK, "sign-in", view{Title: "Sign in", Body: in})
		return nil
	}
	return s.showSettings(w, r, who, once)
}

func (s *Server) endPerson(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if err := s.current().EndPerson(r.Context(), by(r, who), r.PathValue("id"), strings.TrimSpace(r.FormValue("reason"))); err != nil {
		return err
	}
	back(w, r, "/settings")
	return nil
}

func (s *Server) setPassword(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if err := s.current().SetPassword(r.Context(), by(r, who), r.PostFormValue("old"), r.PostFormValue("new"), s.place(r)); err != nil {
		return err
	}
	s.setCookie(w, sessionCookie, "", -1) // what was begun under the old one has ended
	back(w, r, "/settings")
	return nil
}

// setPrice enters one price.
func (s *Server) setPrice(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	amount, err := value.ParseDecimal(strings.Replace(strings.TrimSpace(r.FormValue("amount")), ",", ".", 1))
	if err != nil {
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The price can't be read.", Hint: "Write digits with at most one point or comma, such as 78.40."}
	}
	price := value.Price{
		Metal: r.FormValue("metal"), Amount: amount, Per: r.FormValue("per"), Currency: strings.ToUpper(strings.TrimSpace(r.FormValue("currency"))),
		Source: strings.TrimSpace(r.FormValue("source")), HeldAt: value.Moment{Time: s.o.Now()},
	}
	if err := s.current().SetPrices(r.Context(), by(r, who), []value.Price{price}); err != nil {
		return err
	}
	back(w, r, "/settings")
	return nil
}

// setTerms sets the simplest terms: a percentage for each metal. More of them come by file.
func (s *Server) setTerms(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	t := value.Terms{Key: "counter", Name: "Counter", Currency: strings.ToUpper(strings.TrimSpace(r.FormValue("currency"))), MaxPriceAgeMin: 24 * 60}
	var err error
	if t.Rounding.Step, err = value.ParseDecimal("0.01"); err != nil {
		return err
	}
	t.Rounding.Direction = value.Down
	for _, metal := range value.Metals {
		text := strings.Replace(strings.TrimSpace(r.FormValue("percent_"+metal)), ",", ".", 1)
		if text == "" {
			continue
		}
		percent, err := value.ParseDecimal(text)
		if err != nil {
			return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The percentage for " + metal + " can't be read.", Hint: "Write digits, such as 92.5."}
		}
		t.Metals = append(t.Metals, value.MetalTerms{Metal: metal, Percent: percent})
	}
	if _, err := s.current().SetTerms(r.Context(), by(r, who), t, r.FormValue("reason")); err != nil {
		return err
	}
	back(w, r, "/settings")
	return nil
}
