package web

import (
	"cmp"
	"errors"
	"io"
	"net/http"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/people"
)

// part is the mark of one of several acts that a form does; "" without a mark.
func part(r *http.Request, name string) string {
	if mark := r.FormValue("mark"); mark != "" {
		return mark + "-" + name
	}
	return ""
}

// itemFor writes down the item that a form describes, and gives its name. What lies in a tray that holds
// an item already is that item; a form that describes another one is asked about.
func (s *Server) itemFor(r *http.Request, who *desk.Who, barcode string) (string, error) {
	d := s.current()
	description := strings.TrimSpace(r.FormValue("description"))
	if barcode != "" {
		known, err := d.ItemBy(r.Context(), who, barcode)
		var none *desk.UserError
		switch {
		case err == nil && (description == "" || description == known.Item.Description):
			return known.Item.ID, nil
		case err == nil:
			return "", &problem{Type: "tray", Status: http.StatusUnprocessableEntity, Title: "The tray " + barcode + " holds another item: " + known.Item.Description + ".",
				Hint: "Leave the description empty to weigh that one, take another tray, or note on its record where it went."}
		case !errors.As(err, &none) || !none.Missing:
			return "", err
		}
	}
	if description == "" || !who.May(people.RegisterItem) {
		return "", nil
	}
	claim, err := claimOf(r, nil)
	if err != nil {
		return "", err
	}
	item, err := d.EnterItem(r.Context(), desk.By{Who: who, Key: part(r, "item")}, desk.Item{
		Description: description, Barcode: barcode, Claim: claimWords(claim), ClaimBy: strings.TrimSpace(r.FormValue("made_by")),
		Marks: strings.TrimSpace(r.FormValue("marks")), Condition: strings.TrimSpace(r.FormValue("condition")),
	})
	return item.ID, err
}

// addPhoto keeps a picture of an item.
func (s *Server) addPhoto(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	file, _, err := r.FormFile("photo")
	if err != nil {
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "No photo came with the form.", Hint: "Choose or take one, then keep it."}
	}
	defer file.Close()
	data, err := io.ReadAll(file)
	if err != nil {
		return err
	}
	if _, err := s.current().AddPhoto(r.Context(), by(r, who), r.PathValue("id"), data, strings.TrimSpace(r.FormValue("caption"))); err != nil {
		return err
	}
	back(w, r, local(r.FormValue("then")))
	return nil
}

// photo serves a picture. Its name is its hash, so it never changes.
func (s *Server) photo(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	data, err := s.current().Picture(r.Context(), who, r.PathValue("hash"))
	if err != nil {
		return err
	}
	kind := http.DetectContentType(data)
	if kind != "image/jpeg" && kind != "image/png" {
		return &problem{Type: "missing", Status: http.StatusNotFound, Title: "That is no picture.", Hint: "Photos are shown on the sheet and on the record."}
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Cache-Control", "private, max-age=86400, immutable")
	_, err = w.Write(data)
	return err
}

// moveItem notes where an item lies or how it left, so that its tray is free.
func (s *Server) moveItem(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	_, err := s.current().MoveItem(r.Context(), by(r, who), r.PathValue("id"), strings.TrimSpace(r.FormValue("place")), r.FormValue("gone"), strings.TrimSpace(r.FormValue("reason")), nil)
	if err != nil {
		return err
	}
	back(w, r, cmp.Or(local(r.FormValue("then")), "/"))
	return nil
}
