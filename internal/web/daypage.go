package web

import (
	"encoding/json"
	"net/http"
	"time"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/station"
	"wreath/internal/store"
)

// dayView is what is still to be done at the end of a day.
type dayView struct {
	Open     []tray
	Unsigned []store.Determination
	Overdue  []station.Status
	Names    []string // of the instruments that are overdue or out of service
	Backup   *backupView
}

// backupView is the last backup that was opened and verified after it was written.
type backupView struct {
	At   time.Time
	Days int // since then
	desk.BackupMade
}

func (s *Server) day(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	d := s.current()
	body := dayView{}
	sheets, err := d.Sheets(r.Context(), who)
	if err != nil {
		return err
	}
	for _, sheet := range sheets {
		body.Open = append(body.Open, trayOf(sheet))
	}
	if who.May(people.Search) {
		if body.Unsigned, err = d.Find(r.Context(), who, store.Query{State: "recorded", Limit: 100}); err != nil {
			return err
		}
	}
	if who.May(people.SeeStations) {
		equipment, err := d.Equipment(r.Context(), who)
		if err != nil {
			return err
		}
		for i, papers := range equipment.Papers {
			if papers.State != "in order" && papers.State != "" {
				body.Overdue, body.Names = append(body.Overdue, papers), append(body.Names, equipment.Instruments[i].ID)
			}
		}
	}
	history, err := d.History(r.Context(), who, "backup")
	if p := asProblem(err); err != nil && p.Status != http.StatusNotFound {
		return err
	}
	for _, h := range history {
		made := &backupView{At: h.Time, Days: int(s.o.Now().Sub(h.Time).Hours() / 24)}
		if h.Kind == "backup-made" && json.Unmarshal(h.Body, &made.BackupMade) == nil {
			body.Backup = made
		}
	}
	s.render(w, r, http.StatusOK, "day", view{Title: say("End of the day"), Nav: "book", Who: who, Body: body})
	return nil
}
