package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/record"
	"wreath/internal/station"
)

// compareView is two records side by side.
type compareView struct {
	Left, Right string // their numbers
	Facts       []fact
	Pictures    [2]pictures
	Changes     *record.Difference // where one corrects the other
	Reason      string
}

// fact is one line of both records.
type fact struct {
	Name        string // of the catalogue
	Left, Right string
	Differs     bool
}

// compare shows two records side by side: those that were chosen, or a correction and what it corrects.
func (s *Server) compare(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	d := s.current()
	names := r.URL.Query()["record"]
	body := compareView{}
	if len(names) == 1 {
		shown, err := d.Show(r.Context(), who, names[0])
		if err != nil {
			return err
		}
		if shown.Record.Supersedes == nil {
			return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "One record is chosen, and it corrects no other.", Hint: "Choose two records in the day book."}
		}
		body.Reason = shown.Record.Supersedes.Reason
		if body.Changes, err = d.Compare(r.Context(), who, names[0]); err != nil {
			return err
		}
		names = []string{shown.Record.Supersedes.Number, shown.Record.Number}
	}
	if len(names) != 2 {
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: fmt.Sprintf("Two records are compared; %d are chosen.", len(names)), Hint: "Choose two in the day book."}
	}
	var sides [2][]fact
	for i, name := range names {
		shown, err := d.Show(r.Context(), who, name)
		if err != nil {
			return err
		}
		var answer *determination.Answer
		if err := json.Unmarshal(shown.Record.Answer, &answer); err != nil {
			return err
		}
		draft, err := determination.Decode(shown.Record.Document)
		if err != nil {
			return err
		}
		body.Pictures[i] = draw(wordsFor(r), answer, draft.Claim, false)
		sides[i] = factsOf(&shown, answer, draft)
		names[i] = shown.Record.Number
	}
	body.Left, body.Right = names[0], names[1]
	right := map[string]string{}
	for _, f := range sides[1] {
		right[f.Name] = f.Left
	}
	for _, f := range sides[0] {
		body.Facts = append(body.Facts, fact{f.Name, f.Left, right[f.Name], f.Left != right[f.Name]})
		delete(right, f.Name)
	}
	for _, f := range sides[1] {
		if text, more := right[f.Name]; more {
			body.Facts = append(body.Facts, fact{f.Name, "", text, true})
		}
	}
	s.render(w, r, http.StatusOK, "compare", view{Title: say("Compare"), Nav: "book", Who: who, Body: body})
	return nil
}

// factsOf is a record in lines.
func factsOf(shown *desk.Recorded, a *determination.Answer, d *determination.Draft) []fact {
	density := printDensity(a)
	out := []fact{
		{Name: say("kept"), Left: shown.Record.Made.Time.Format("2006-01-02 15:04")},
		{Name: say("state"), Left: shown.State.Text},
		{Name: say("item"), Left: a.Item},
		{Name: say("claim"), Left: claimWords(d.Claim)},
		{Name: say("Density at 20 °C"), Left: density.Value + " ± " + density.U + " g/cm³"},
		{Name: say("mass, g"), Left: fmt.Sprintf("%.4f", a.TrueMassG)},
	}
	if f := a.Finding; f != nil {
		out = append(out, fact{Name: say("finding"), Left: f.Result}, fact{Name: say("rule"), Left: f.Rule})
	}
	if f := a.Fineness; f != nil {
		out = append(out, fact{Name: say("safe figure"), Left: safePpt(f.Safe)}, fact{Name: say("95 % interval"), Left: fmt.Sprintf("%.0f … %.0f", f.Low, f.High)})
	}
	var doubts []string
	for _, doubt := range a.Doubts {
		doubts = append(doubts, doubt.Cause)
	}
	out = append(out, fact{Name: say("doubts"), Left: strings.Join(doubts, "; ")})
	if s := shown.Record.Sheet.Station; s != nil {
		out = append(out, fact{Name: say("station"), Left: s.String()})
	}
	for _, row := range slots(shown.Record.Sheet, d, false) {
		var texts []string
		for _, reading := range row.Kept() {
			texts = append(texts, reading.Text)
		}
		out = append(out, fact{Name: row.Name, Left: strings.Join(texts, "; ")})
	}
	return out
}

// changed are the groups of what differs between a record and the one that it corrects.
type changed struct {
	Name string
	List []station.Change
}

// Groups lists what differs, in the order in which one looks.
func (v compareView) Groups() []changed {
	if v.Changes == nil {
		return nil
	}
	return []changed{
		{say("asked and read"), v.Changes.Sheet}, {say("station and instruments"), v.Changes.Station},
		{say("evaluated"), v.Changes.Document}, {say("what came of it"), v.Changes.Answer},
	}
}
