package web

import (
	"net/http"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/station"
)

// benchView is the start of the day: what lies on trays, and a new one.
type benchView struct {
	Open     []tray
	Stations []station.Station
	Station  string // that was used last on this device
	Barcode  string // that was scanned
	Weigh    bool   // only to weigh was asked for
}

// tray is a determination under way.
type tray struct {
	ID, Name, Barcode, Claim string
	Readings                 int
}

func (s *Server) bench(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if !who.May(people.SeeStations) {
		back(w, r, landing(who))
		return nil
	}
	d := s.current()
	sheets, err := d.Sheets(r.Context(), who)
	if err != nil {
		return err
	}
	equipment, err := d.Equipment(r.Context(), who)
	if err != nil {
		return err
	}
	body := benchView{Stations: equipment.Stations, Barcode: r.URL.Query().Get("barcode"), Weigh: r.URL.Query().Has("weigh")}
	if c, err := r.Cookie("wreath-station"); err == nil {
		body.Station = c.Value
	} else if len(equipment.Stations) == 1 {
		body.Station = equipment.Stations[0].ID
	}
	for _, sheet := range sheets {
		body.Open = append(body.Open, trayOf(sheet))
	}
	s.render(w, r, http.StatusOK, "bench", view{Title: "Bench", Nav: "bench", Who: who, Body: body})
	return nil
}

func trayOf(sheet record.Sheet) tray {
	t := tray{ID: sheet.ID, Barcode: sheet.Barcode}
	draft, err := determination.Decode(sheet.Requests[len(sheet.Requests)-1].Document)
	if err == nil {
		if draft.Item != nil {
			t.Name = draft.Item.Description
		}
		t.Claim = claimWords(draft.Claim)
	}
	for _, reading := range sheet.Readings {
		if reading.Withdrawn == nil {
			t.Readings++
		}
	}
	return t
}

// openSheet begins a determination and goes to it.
func (s *Server) openSheet(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	sheet, err := s.begun(w, r, who)
	if err != nil {
		return err
	}
	back(w, r, "/sheet/"+sheet.Sheet.ID)
	return nil
}

// weigh opens a sheet with a first reading on it.
func (s *Server) weigh(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	reading := record.Reading{Slot: "air_g", Text: strings.TrimSpace(r.FormValue("text")), Source: record.Typed}
	if _, err := reading.Value(); err != nil { // before a sheet is opened for it
		return err
	}
	sheet, err := s.begun(w, r, who)
	if err != nil {
		return err
	}
	_, err = s.current().Take(r.Context(), desk.By{Who: who, Key: part(r, "reading")}, sheet.Sheet.ID, reading)
	return s.done(w, r, sheet.Sheet.ID, err)
}

// begun opens the sheet that a form asks for. What lies in a tray that is known already is that item.
func (s *Server) begun(w http.ResponseWriter, r *http.Request, who *desk.Who) (desk.Sheet, error) {
	document, err := documentOf(r, nil)
	if err != nil {
		return desk.Sheet{}, err
	}
	begin := desk.Begin{Station: r.FormValue("station"), Barcode: strings.TrimSpace(r.FormValue("barcode")), Document: document}
	if begin.Item, err = s.itemFor(r, who, begin.Barcode); err != nil {
		return desk.Sheet{}, err
	}
	sheet, err := s.current().OpenSheet(r.Context(), by(r, who), begin)
	if err != nil {
		return sheet, err
	}
	if begin.Station != "" {
		http.SetCookie(w, &http.Cookie{Name: "wreath-station", Value: begin.Station, Path: "/", MaxAge: 365 * 24 * 3600, Secure: s.o.TLS, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	}
	s.hub.tell("bench")
	return sheet, nil
}
