package web

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/people"
	"wreath/internal/station"
	"wreath/internal/value"
	"wreath/quantity"
)

// stationsView is all stations and instruments.
type stationsView struct {
	desk.Equipment
	Rules  []determination.HouseRule
	Kinds  []string
	Metals []string

	Now map[string]*nowView // how the linked instruments stand

	Instrument, Station map[string]string // what the two forms begin with: the one that is changed, or nothing
}

func (s *Server) stations(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	equipment, err := s.current().Equipment(r.Context(), who)
	if err != nil {
		return err
	}
	body := stationsView{Equipment: equipment, Rules: determination.HouseRules, Kinds: station.Kinds, Metals: value.Metals, Now: s.following()}
	change := r.URL.Query().Get("change")
	for i := range equipment.Instruments {
		if equipment.Instruments[i].ID == change {
			body.Instrument = instrumentForm(&equipment.Instruments[i])
		}
	}
	for i := range equipment.Stations {
		if equipment.Stations[i].ID == change {
			body.Station = stationForm(&equipment.Stations[i])
		}
	}
	s.render(w, r, http.StatusOK, "stations", view{Title: "Stations", Nav: "stations", Who: who, Body: body})
	return nil
}

// instrumentForm is an instrument as its form asks for it.
func instrumentForm(i *station.Instrument) map[string]string {
	form := map[string]string{"id": i.ID, "kind": i.Kind, "maker": i.Maker, "type": i.Type, "serial": i.Serial, "place": i.Place,
		"interval": asTyped(i.ScaleIntervalG, " g"), "capacity": asTyped(i.CapacityG, " g"),
		"repeatability": asTyped(i.RepeatabilityG, " g"), "repeatability_liquid": asTyped(i.RepeatabilityLiquidG, " g")}
	if i.Solid != nil {
		form["density"], form["density_u"] = asTyped(i.Solid.DensityKgM3, ""), asTyped(i.Solid.DensityUKgM3, "")
	}
	return form
}

// stationForm is a station as its form asks for it.
func stationForm(p *station.Station) map[string]string {
	form := map[string]string{"id": p.ID, "name": p.Name, "where": p.Place, "altitude": asTyped(p.AltitudeM, ""), "arrangement": p.Arrangement, "house_rule": p.HouseRule}
	for name, ref := range map[string]*station.Ref{"balance": p.Balance, "thermometer": p.Thermometer, "check_piece": p.CheckPiece, "barometer": p.Barometer} {
		if ref != nil {
			form[name] = ref.ID
		}
	}
	if p.Liquid != nil {
		form["liquid"], form["strength"] = p.Liquid.Kind, asTyped(p.Liquid.EthanolVolumePercent20, "")
	}
	return form
}

// asTyped is a number as somebody may have typed it; "" without one.
func asTyped(x *float64, unit string) string {
	if x == nil {
		return ""
	}
	return strconv.FormatFloat(*x, 'f', -1, 64) + unit
}

// equipmentView is one station or instrument with its versions.
type equipmentView struct {
	ID         string
	Station    *station.Station
	Instrument *station.Instrument
	Papers     *station.Status
	Missing    []string
	Versions   []desk.Version

	Linkable  bool     // it may say its readings by itself
	Now       *nowView // what it says; nil where it is not followed
	WrongLink string   // why it can't be followed
	Bindable  bool     // the person may say that the check weight is on
	Typed     bool     // it types into a field of the page

	Printers []printerView
}

// following is how all linked instruments stand.
func (s *Server) following() map[string]*nowView {
	out := map[string]*nowView{}
	if s.o.Live == nil {
		return out
	}
	for _, snap := range s.o.Live.Snapshots() {
		v := showNow(snap, s.o.Now())
		out[snap.ID] = &v
	}
	return out
}

func (s *Server) equipment(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	d := s.current()
	all, err := d.Equipment(r.Context(), who)
	if err != nil {
		return err
	}
	body := equipmentView{ID: r.PathValue("id")}
	for i := range all.Stations {
		if all.Stations[i].ID == body.ID {
			body.Station = &all.Stations[i]
		}
	}
	for i := range all.Instruments {
		if all.Instruments[i].ID == body.ID {
			body.Instrument, body.Papers, body.Missing = &all.Instruments[i], &all.Papers[i], all.Instruments[i].Missing()
		}
	}
	if body.Station == nil && body.Instrument == nil {
		return &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is no station or instrument " + body.ID + ".", Hint: "The page of stations lists them."}
	}
	if i := body.Instrument; i != nil && s.o.Live != nil {
		body.Linkable = slices.Contains([]string{station.Balance, station.Thermometer, station.Barometer, station.Hygrometer}, i.Kind)
		body.Now, body.WrongLink = s.following()[i.ID], s.wrongLink(i.ID)
		body.Bindable = body.Now != nil && i.Link != nil && i.Link.Binding != nil && who.May(people.CheckInstrument)
		body.Typed = body.Now != nil && body.Now.Wedge
	}
	if body.Versions, err = d.Versions(r.Context(), who, body.ID); err != nil {
		return err
	}
	if body.Printers, err = s.printers(r, who); err != nil {
		return err
	}
	s.render(w, r, http.StatusOK, "equipment", view{Title: body.ID, Nav: "stations", Who: who, Body: body})
	return nil
}

// setInstrument writes down an instrument. What the form doesn't ask stays as it was.
func (s *Server) setInstrument(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	d := s.current()
	i := station.Instrument{ID: strings.TrimSpace(r.FormValue("id")), Kind: r.FormValue("kind")}
	all, err := d.Equipment(r.Context(), who)
	if err != nil {
		return err
	}
	for _, known := range all.Instruments {
		if known.ID == i.ID {
			i = known
		}
	}
	i.Maker, i.Type, i.Serial, i.Place = r.FormValue("maker"), r.FormValue("type"), r.FormValue("serial"), r.FormValue("place")
	masses := map[string]**float64{"capacity": &i.CapacityG, "interval": &i.ScaleIntervalG, "repeatability": &i.RepeatabilityG, "repeatability_liquid": &i.RepeatabilityLiquidG}
	for name, to := range masses {
		if err := massField(r, name, to); err != nil {
			return err
		}
	}
	if text := r.FormValue("density"); text != "" {
		solid := station.Solid{}
		if i.Solid != nil {
			solid = *i.Solid
		}
		i.Solid = &solid
		if err := numberField(r, "density", &i.Solid.DensityKgM3); err != nil {
			return err
		}
		if err := numberField(r, "density_u", &i.Solid.DensityUKgM3); err != nil {
			return err
		}
	}
	if number := strings.TrimSpace(r.FormValue("certificate")); number != "" {
		i.Certificates = append(i.Certificates, station.Certificate{
			Number: number, Issuer: r.FormValue("issuer"), Date: station.Date(r.FormValue("date")), NextDue: station.Date(r.FormValue("due")),
		})
	}
	if _, err := d.SetInstrument(r.Context(), by(r, who), i, r.FormValue("reason")); err != nil {
		return err
	}
	s.relink(r.Context())
	back(w, r, "/stations")
	return nil
}

func massField(r *http.Request, name string, to **float64) error {
	text := strings.TrimSpace(r.FormValue(name))
	if text == "" {
		return nil
	}
	grams, err := quantity.ParseMass(text, true)
	if err != nil {
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The mass " + text + " can't be read.", Hint: "Write number and unit, such as 0.1 mg.", Field: name}
	}
	*to = &grams
	return nil
}

func numberField(r *http.Request, name string, to **float64) error {
	text := strings.TrimSpace(r.FormValue(name))
	if text == "" {
		return nil
	}
	number, err := quantity.ParseNumber(text, true)
	if err != nil {
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The number " + text + " can't be read.", Hint: "Write it with a point or a comma.", Field: name}
	}
	*to = &number
	return nil
}

// setStation writes down a station. What the form doesn't ask stays as it was.
func (s *Server) setStation(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	d := s.current()
	all, err := d.Equipment(r.Context(), who)
	if err != nil {
		return err
	}
	place := station.Station{ID: strings.TrimSpace(r.FormValue("id"))}
	for _, known := range all.Stations {
		if known.ID == place.ID {
			place = known
		}
	}
	place.Name, place.Place, place.Arrangement, place.HouseRule = r.FormValue("name"), r.FormValue("where"), r.FormValue("arrangement"), r.FormValue("house_rule")
	for name, to := range map[string]**station.Ref{"balance": &place.Balance, "thermometer": &place.Thermometer, "check_piece": &place.CheckPiece, "barometer": &place.Barometer} {
		*to = nil
		for _, i := range all.Instruments {
			if i.ID == r.FormValue(name) {
				ref := i.Ref()
				*to = &ref
			}
		}
	}
	liquid := station.Liquid{Kind: r.FormValue("liquid")}
	if place.Liquid != nil && place.Liquid.Kind == liquid.Kind {
		liquid = *place.Liquid
	}
	if liquid.Kind == "ethanol-water" {
		if err := numberField(r, "strength", &liquid.EthanolVolumePercent20); err != nil {
			return err
		}
	}
	if liquid.Kind != "" {
		place.Liquid = &liquid
	}
	if err := numberField(r, "altitude", &place.AltitudeM); err != nil {
		return err
	}
	if _, err := d.SetStation(r.Context(), by(r, who), place, r.FormValue("reason")); err != nil {
		return err
	}
	back(w, r, "/stations")
	return nil
}

// outOfService takes an instrument out of service, or returns it.
func (s *Server) outOfService(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	act := s.current().TakeOutOfService
	if r.FormValue("back") != "" {
		act = s.current().ReturnToService
	}
	if _, err := act(r.Context(), by(r, who), r.PathValue("id"), strings.TrimSpace(r.FormValue("reason"))); err != nil {
		return err
	}
	s.relink(r.Context())
	back(w, r, "/stations/"+r.PathValue("id"))
	return nil
}
