package web

import (
	"net/http"

	"wreath/internal/desk"
	"wreath/internal/materials"
)

// materialsView is one of the tables behind the numbers, or the list of them.
type materialsView struct {
	Tables []materials.Table
	Table  *materials.Table
	Shown  materials.Shown
	Match  string
}

func (s *Server) materials(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	body := materialsView{Tables: materials.Tables, Match: r.FormValue("match")}
	title := "Materials"
	if name := r.PathValue("table"); name != "" {
		t, found := materials.ByName(name)
		if !found {
			return &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is no table " + name + ".", Hint: "The page of materials lists them."}
		}
		body.Table, body.Shown, title = &t, materials.Show(t.Match(body.Match)), t.Name
	}
	s.render(w, r, http.StatusOK, "materials", view{Title: title, Nav: "materials", Who: who, Body: body})
	return nil
}
