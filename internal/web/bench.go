package web

import (
	"net/http"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/record"
	"wreath/internal/station"
)

// benchView is the start of the day: what lies on trays, and a new one.
type benchView struct {
	Open     []tray
	Stations []station.Station
	Station  string // that was used last on this device
}

// tray is a determination under way.
type tray struct {
	ID, Name, Barcode, Claim string
	Readings                 int
}

func (s *Server) bench(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	d := s.current()
	sheets, err := d.Sheets(r.Context(), who)
	if err != nil {
		return err
	}
	equipment, err := d.Equipment(r.Context(), who)
	if err != nil {
		return err
	}
	body := benchView{Stations: equipment.Stations}
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
	document, err := documentOf(r, nil)
	if err != nil {
		return err
	}
	at := r.FormValue("station")
	sheet, err := s.current().OpenSheet(r.Context(), by(r, who), desk.Begin{Station: at, Barcode: r.FormValue("barcode"), Document: document})
	if err != nil {
		return err
	}
	if at != "" {
		http.SetCookie(w, &http.Cookie{Name: "wreath-station", Value: at, Path: "/", MaxAge: 365 * 24 * 3600, Secure: s.o.TLS, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	}
	s.hub.tell("bench")
	back(w, r, "/sheet/"+sheet.Sheet.ID)
	return nil
}
