package web

import (
	"net/http"
	"strings"

	"wreath/internal/desk"
)

// itemCardView is one item with all that is known of it.
type itemCardView struct {
	desk.ItemSheet
	Wrong   *problem
	Form    desk.Item // what stands in the form of its text
	Reason  string
	History []happened

	Printers []printerView
}

// itemCard shows an item: what it is, its records, its photos, and its label.
func (s *Server) itemCard(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	return s.showItem(w, r, who, http.StatusOK, nil)
}

func (s *Server) showItem(w http.ResponseWriter, r *http.Request, who *desk.Who, status int, change func(*itemCardView)) error {
	d := s.current()
	found, err := d.ItemBy(r.Context(), who, r.PathValue("id"))
	if err != nil {
		return err
	}
	body := itemCardView{ItemSheet: found, Form: found.Item}
	history, err := d.History(r.Context(), who, found.Item.ID)
	if err != nil {
		return err
	}
	body.History = inWords(history)
	if body.Printers, err = s.printers(r, who); err != nil {
		return err
	}
	if change != nil {
		change(&body)
	}
	s.render(w, r, status, "itemcard", view{Title: found.Item.Description, Nav: "book", Who: who, Body: body})
	return nil
}

// changeItemText writes down anew what is said of an item. What was typed stays where it can't be.
func (s *Server) changeItemText(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	d := s.current()
	before, err := d.ItemBy(r.Context(), who, r.PathValue("id"))
	if err != nil {
		return err
	}
	to, reason := before.Item, strings.TrimSpace(r.FormValue("reason"))
	for name, field := range map[string]*string{"description": &to.Description, "marks": &to.Marks, "condition": &to.Condition, "barcode": &to.Barcode, "place": &to.Place} {
		if r.Form.Has(name) {
			*field = strings.TrimSpace(r.FormValue(name))
		}
	}
	doer := by(r, who)
	doer.Seen = seen(r)
	if _, err = d.ChangeItem(r.Context(), doer, to, reason); err == nil {
		back(w, r, "/items/"+to.ID)
		return nil
	}
	p := asProblem(err)
	if p.Status != http.StatusUnprocessableEntity && p.Status != http.StatusConflict {
		return err
	}
	return s.showItem(w, r, who, p.Status, func(v *itemCardView) { v.Wrong, v.Form, v.Reason = p, to, reason })
}
