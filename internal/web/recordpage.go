package web

import (
	"encoding/json"
	"net/http"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/value"
)

// recordView is everything about one record.
type recordView struct {
	desk.Recorded
	Answer   *determination.Answer
	Draft    *determination.Draft
	Density  densityView
	Summary  *record.Summary
	Slots    []slotView
	Picture  pictures
	Worth    *value.Worth
	History  []desk.Happening
	Meanings []people.Meaning // with which this person may sign it
	NeedsKey bool             // signing asks for password or PIN
}

func (s *Server) record(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	d := s.current()
	shown, err := d.Show(r.Context(), who, r.PathValue("name"))
	if err != nil {
		return err
	}
	body := recordView{Recorded: shown, NeedsKey: who.Mark() == ""}
	if err := json.Unmarshal(shown.Record.Answer, &body.Answer); err != nil {
		return err
	}
	if body.Draft, err = determination.Decode(shown.Record.Document); err != nil {
		return err
	}
	if body.Summary, err = shown.Record.Summary(); err != nil {
		return err
	}
	body.Density = printDensity(body.Answer)
	body.Slots = slots(shown.Record.Sheet, body.Draft)
	body.Picture = draw(body.Answer, body.Draft.Claim, true)
	if shown.Worth != nil && who.May(people.SeePrices) {
		if err := json.Unmarshal(shown.Worth, &body.Worth); err != nil {
			return err
		}
	}
	if body.History, err = d.History(r.Context(), who, shown.Record.ID); err != nil {
		return err
	}
	for _, m := range people.Meanings {
		if m.Meaning != people.Released && who.May(m.Action) && shown.SupersededBy == "" {
			body.Meanings = append(body.Meanings, m.Meaning)
		}
	}
	s.render(w, r, http.StatusOK, "record", view{Title: shown.Record.Number, Nav: "book", Who: who, Body: body})
	return nil
}

// sign signs a record. Who signed in gives password or PIN once more.
func (s *Server) sign(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	d := s.current()
	if who.Mark() == "" {
		if err := d.Confirm(r.Context(), who, r.PostFormValue("password"), r.PostFormValue("pin"), s.place(r)); err != nil {
			return err
		}
	}
	name := r.PathValue("name")
	if _, err := d.Sign(r.Context(), by(r, who), name, people.Meaning(r.PostFormValue("meaning"))); err != nil {
		return err
	}
	s.hub.tell(name)
	back(w, r, "/record/"+name)
	return nil
}
