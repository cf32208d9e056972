package web

import (
	"net/http"
	"net/url"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/store"
)

// trayChecked begins the remark that the tray of a sheet was scanned at the sheet.
const trayChecked = "The tray was scanned and is the one of this sheet: "

// scan goes to what a barcode stands for: the sheet of a tray, a record, an item, an instrument; or to a new
// item in that tray.
func (s *Server) scan(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	code := strings.TrimSpace(r.FormValue("code"))
	if code == "" || len(code) > 100 {
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "Nothing was scanned.", Hint: "Scan the tray once more."}
	}
	if isCard(code) {
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "A card was scanned away from the pages.", Hint: "Go back to the sheet, click beside the fields, and scan the card once more."}
	}
	d := s.current()
	sheets, err := d.Sheets(r.Context(), who)
	if err != nil {
		return err
	}
	for _, sheet := range sheets {
		if sheet.Barcode == code {
			if sheet.ID == r.FormValue("at") { // the tray of this very sheet: what lies in it is what the sheet says
				if _, err := d.Note(r.Context(), by(r, who), sheet.ID, trayChecked+code+"."); err != nil {
					return err
				}
				s.hub.tell(sheet.ID)
			}
			back(w, r, "/sheet/"+sheet.ID)
			return nil
		}
	}
	for _, q := range []store.Query{{Number: code, Limit: 1}, {Barcode: code, Limit: 1}} {
		found, err := d.Find(r.Context(), who, q)
		if err != nil {
			return err
		}
		if len(found) == 1 {
			back(w, r, "/record/"+url.PathEscape(found[0].Number))
			return nil
		}
	}
	if page, err := s.labelled(r, who, code); err != nil || page != "" {
		if err == nil {
			back(w, r, page)
		}
		return err
	}
	back(w, r, "/?barcode="+url.QueryEscape(code))
	return nil
}

// labelled is the page of what the label of an item or an instrument says; "" for another code.
func (s *Server) labelled(r *http.Request, who *desk.Who, code string) (string, error) {
	if item, err := s.current().ItemBy(r.Context(), who, code); err == nil && item.Item.ID == code {
		return "/items/" + code, nil
	}
	if !who.May(people.SeeStations) {
		return "", nil
	}
	equipment, err := s.current().Equipment(r.Context(), who)
	if err != nil {
		return "", err
	}
	for i := range equipment.Instruments {
		if equipment.Instruments[i].ID == code {
			return "/stations/" + url.PathEscape(code), nil
		}
	}
	return "", nil
}
