package web

import (
	"crypto/subtle"
	"net/http"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/station"
	"wreath/quantity"
)

// firstView is the first run: my own station, or a look around.
type firstView struct {
	Code    bool // the set-up code is asked for
	Demo    bool // a look around is offered
	Problem *problem
	Form    map[string]string
}

func (s *Server) first(w http.ResponseWriter, r *http.Request) {
	if s.current() != nil {
		back(w, r, "/")
		return
	}
	s.render(w, r, http.StatusOK, "first", view{Title: "First run", Body: s.firstView(nil, r)})
}

func (s *Server) firstView(p *problem, r *http.Request) firstView {
	form := map[string]string{}
	for _, name := range []string{"name", "printed", "interval", "liquid", "strength", "arrangement", "currency"} {
		form[name] = r.FormValue(name)
	}
	return firstView{Code: s.o.SetUpCode != "", Demo: s.o.OpenDemo != nil, Problem: p, Form: form}
}

func (s *Server) firstDone(w http.ResponseWriter, r *http.Request) {
	if s.current() != nil {
		back(w, r, "/")
		return
	}
	if err := s.begin(r); err != nil {
		p := asProblem(err)
		s.render(w, r, p.Status, "first", view{Title: "First run", Body: s.firstView(p, r)})
		return
	}
	s.relink(r.Context())
	back(w, r, "/")
}

func (s *Server) begin(r *http.Request) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.desk != nil {
		return nil
	}
	given := strings.ToUpper(strings.TrimSpace(r.FormValue("code")))
	if s.o.SetUpCode != "" && subtle.ConstantTimeCompare([]byte(given), []byte(s.o.SetUpCode)) != 1 {
		return &problem{Type: "code", Status: http.StatusForbidden, Title: "That is not the set-up code.", Hint: "It stands on the console where the program was started."}
	}
	if r.FormValue("begin") == "demo" {
		d, err := s.o.OpenDemo(r.Context())
		if err == nil {
			s.desk = d
		}
		return err
	}
	balance, place, err := stationOf(r)
	if err != nil {
		return err
	}
	opening := desk.Opening{
		Shop:   desk.Shop{Name: strings.TrimSpace(r.FormValue("name")), TimeZone: r.FormValue("zone"), Currency: strings.ToUpper(strings.TrimSpace(r.FormValue("currency")))},
		Person: people.Person{ID: "owner", Name: strings.TrimSpace(r.FormValue("printed"))},
	}
	if opening.Shop.Name == "" {
		opening.Shop.Name = "My bench"
	}
	if opening.Person.Name == "" {
		opening.Person.Name = "Owner"
	}
	d, err := s.o.OpenOwn(r.Context(), opening, r.FormValue("password"))
	if err != nil {
		return err
	}
	s.desk = d
	who, err := d.Local(r.Context(), people.Console)
	if err != nil {
		return nil // a shop with a password: the station is set up after signing in
	}
	if _, err := d.SetInstrument(r.Context(), desk.By{Who: who}, balance, "first run"); err != nil {
		return err
	}
	_, err = d.SetStation(r.Context(), desk.By{Who: who}, place, "first run")
	return err
}

// stationOf makes a station out of three answers: what the last digit of the balance stands for, what the
// liquid is, and how the item hangs.
func stationOf(r *http.Request) (station.Instrument, station.Station, error) {
	balance := station.Instrument{Format: 1, ID: "balance", Version: 1, Kind: station.Balance}
	place := station.Station{Format: 1, ID: "bench", Version: 1, Name: "Bench", Balance: &station.Ref{ID: "balance", Version: 1}}
	interval := strings.TrimSpace(r.FormValue("interval"))
	if _, err := quantity.ParseNumber(interval, true); err == nil {
		interval += " g" // as balances show it, and as the example beside the field has it
	}
	grams, err := quantity.ParseMass(interval, true)
	if err != nil || grams <= 0 {
		return balance, place, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The step of the last digit can't be read.", Hint: "A balance that shows 12.345 g steps by 0.001 g: write 0.001 g, or 1 mg."}
	}
	balance.ScaleIntervalG = &grams
	place.Arrangement = r.FormValue("arrangement")
	if place.Arrangement != "standing" {
		place.Arrangement = "hanging"
	}
	place.Liquid = &station.Liquid{Kind: "water"}
	if r.FormValue("liquid") == "ethanol-water" {
		strength, err := quantity.ParseNumber(r.FormValue("strength"), true)
		if err != nil {
			return balance, place, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The strength of the ethanol can't be read.", Hint: "Write the percent by volume that stands on the bottle, such as 96."}
		}
		place.Liquid = &station.Liquid{Kind: "ethanol-water", EthanolVolumePercent20: &strength}
	}
	if err := balance.Check(); err != nil {
		return balance, place, err
	}
	return balance, place, place.Check()
}
