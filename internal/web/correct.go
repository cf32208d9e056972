package web

import (
	"encoding/json"
	"net/http"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/strictjson"
)

// correctView is a record to be corrected: everything that was said and read, to be written anew.
type correctView struct {
	Number string
	Seen   int64
	Draft  *determination.Draft
	Fields []correctField
	Sheet  record.Sheet
}

// correctField holds the readings of one slot, one on a line.
type correctField struct {
	Slot, Name, Unit, Text string
}

func (s *Server) correctPage(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if !who.May(people.CorrectDetermination) {
		return refused(who, people.CorrectDetermination)
	}
	shown, err := s.current().Show(r.Context(), who, r.PathValue("name"))
	if err != nil {
		return err
	}
	body := correctView{Number: shown.Record.Number, Seen: shown.Seen, Sheet: shown.Record.Sheet}
	complete, err := determination.Decode(shown.Record.Document)
	if err != nil {
		return err
	}
	if body.Draft, err = determination.Decode(asked(body.Sheet)); err != nil {
		return err
	}
	for _, slot := range slots(body.Sheet, complete, false) {
		var lines []string
		for _, reading := range slot.Kept() {
			lines = append(lines, reading.Text)
		}
		body.Fields = append(body.Fields, correctField{slot.Slot, slot.Name, slot.Unit, strings.Join(lines, "\n")})
	}
	s.render(w, r, http.StatusOK, "correct", view{Title: say("Correct"), Nav: "book", Who: who, Body: body})
	return nil
}

// asked is what was asked of a sheet last.
func asked(sheet record.Sheet) json.RawMessage { return sheet.Requests[len(sheet.Requests)-1].Document }

// correct puts a new record in the place of a wrong one.
func (s *Server) correct(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	d := s.current()
	name := r.PathValue("name")
	shown, err := d.Show(r.Context(), who, name)
	if err != nil {
		return err
	}
	was := shown.Record.Sheet
	before, err := determination.Decode(asked(was))
	if err != nil {
		return err
	}
	document, err := documentOf(r, before)
	if err != nil {
		return err
	}
	complete, err := determination.Decode(shown.Record.Document)
	if err != nil {
		return err
	}
	if document, err = withReadings(document, slots(was, complete, false), r); err != nil {
		return err
	}
	begin := desk.Begin{Item: was.Item, Barcode: was.Barcode, Document: document}
	if was.Station != nil {
		begin.Station = was.Station.ID
	}
	doer := by(r, who)
	doer.Seen = seen(r)
	made, err := d.Correct(r.Context(), doer, name, desk.Given{Begin: begin, Source: record.Typed}, strings.TrimSpace(r.FormValue("reason")))
	if err != nil {
		return err
	}
	s.hub.tell(name)
	back(w, r, "/record/"+made.Number)
	return nil
}

// withReadings puts the readings of a form into a draft.
func withReadings(document json.RawMessage, rows []slotView, r *http.Request) (json.RawMessage, error) {
	draft := map[string]any{}
	if err := json.Unmarshal(document, &draft); err != nil {
		return nil, err
	}
	for _, row := range rows {
		lines := strings.FieldsFunc(r.FormValue("slot-"+row.Slot), func(c rune) bool { return c == '\n' || c == '\r' || c == ';' })
		var texts []string
		for _, line := range lines {
			if line = strings.TrimSpace(line); line != "" {
				texts = append(texts, line)
			}
		}
		if len(texts) == 0 {
			continue
		}
		at, last := draft, row.Slot
		for {
			head, rest, nested := strings.Cut(last, ".")
			if !nested {
				break
			}
			below, is := at[head].(map[string]any)
			if !is {
				below = map[string]any{}
				at[head] = below
			}
			at, last = below, rest
		}
		if strings.HasSuffix(row.Slot, "_g") {
			readings := make([]any, len(texts))
			for i, text := range texts {
				readings[i] = gramsText(text)
			}
			at[last] = readings
			continue
		}
		at[last] = json.RawMessage(strings.Replace(texts[len(texts)-1], ",", ".", 1))
	}
	out, err := json.Marshal(draft)
	if err != nil {
		return nil, &strictjson.FieldError{Path: "readings", Reason: "one can't be read", Hint: "Write the temperature as a number, such as 21.4."}
	}
	return out, nil
}

// gramsText gives a reading its unit, where it has none.
func gramsText(text string) string {
	if last := text[len(text)-1]; last >= '0' && last <= '9' || last == '.' {
		text += " g"
	}
	return strings.Replace(text, ",", ".", 1)
}
