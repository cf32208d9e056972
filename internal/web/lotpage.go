package web

import (
	"net/http"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/value"
)

// makeLot values the records that were chosen together.
func (s *Server) makeLot(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	records := r.PostForm["record"]
	if len(records) == 0 {
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "No record is chosen.", Hint: "Choose the records of the lot in the day book."}
	}
	id, _, err := s.current().Lot(r.Context(), by(r, who), desk.Valuing{Records: records, Name: strings.TrimSpace(r.FormValue("name")), Recipes: value.MixedScrap})
	if err != nil {
		return err
	}
	back(w, r, "/lots/"+id)
	return nil
}

func (s *Server) lot(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	lots, err := s.current().Lots(r.Context(), who)
	if err != nil {
		return err
	}
	for _, lot := range lots {
		if lot.ID == r.PathValue("id") {
			s.render(w, r, http.StatusOK, "lot", view{Title: say("Lot"), Nav: "book", Who: who, Body: lot})
			return nil
		}
	}
	return &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is no lot " + r.PathValue("id") + ".", Hint: "Choose records in the day book and value them together."}
}
