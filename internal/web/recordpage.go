package web

import (
	"encoding/json"
	"fmt"
	"html/template"
	"net/http"
	"strings"
	"time"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/people"
	"wreath/internal/picture"
	"wreath/internal/record"
	"wreath/internal/station"
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
	Stop     *stopView
	Pieces   []pieceView // further tests: those that count, then those set aside
	Worth    *value.Worth
	History  []happened
	Item     *desk.ItemSheet
	Again    *record.Repeat // what evaluating it again shows, where that was asked
	Terms    []value.Terms
	Proof    template.HTML    // the path to the newest signed head that covers it
	Head     string           // short form of that head
	Meanings []people.Meaning // with which this person may sign it
	NeedsKey bool             // signing asks for password or PIN
	Heard    []heardView      // what instruments said before readings
	Paper    *paperPart       // nil for who may not print
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
	body.Slots = slots(shown.Record.Sheet, body.Draft, false)
	if body.Heard, err = s.heardBefore(r, who, shown.Record.Sheet, body.Slots); err != nil {
		return err
	}
	body.Picture = draw(wordsFor(r), body.Answer, claimMade(body.Draft), true)
	if body.Pieces, err = piecesOf(shown.Record.Sheet.Requests, body.Draft, body.Answer); err != nil {
		return err
	}
	body.Stop = stopOf(shown.Record.Sheet.Requests, body.Answer)
	if shown.Worth != nil && who.May(people.SeePrices) {
		if err := json.Unmarshal(shown.Worth, &body.Worth); err != nil {
			return err
		}
	}
	history, err := d.History(r.Context(), who, shown.Record.ID)
	if err != nil {
		return err
	}
	body.History = inWords(history)
	if item := shown.Record.Sheet.Item; item != "" {
		found, err := d.ItemBy(r.Context(), who, item)
		if err != nil {
			return err
		}
		body.Item = &found
	}
	if who.May(people.ValueItem) && who.May(people.SeePrices) {
		if body.Terms, err = d.TermsOf(r.Context(), who); err != nil {
			return err
		}
	}
	if r.URL.Query().Has("again") {
		if body.Again, err = d.Again(r.Context(), who, shown.Record.ID); err != nil {
			return err
		}
	}
	if err := s.proof(r, who, &body); err != nil {
		return err
	}
	if body.Paper, err = s.paperPart(r, who, shown.Record.Number); err != nil {
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

// proof draws the way from the record's entry to the signed head. Of each neighbour's hash it shows the
// beginning; the bundle of evidence has them whole.
func (s *Server) proof(r *http.Request, who *desk.Who, body *recordView) error {
	covered, err := s.current().CoveredBy(r.Context(), who, body.Entry)
	if err != nil || covered == nil {
		return err
	}
	path := picture.Path{Index: uint64(body.Entry), Size: uint64(covered.Head.Entries)}
	for _, hash := range covered.Hashes {
		path.Hashes = append(path.Hashes, hash[:8])
	}
	body.Head = covered.Head.Short
	body.Proof = picture.Language{Book: wordsFor(r).book}.Proof(path, 460).SVG
	return nil
}

// happened is a line of a history in words.
type happened struct {
	Time   time.Time
	Clock  string
	What   string // of the catalogue
	Detail string // as it was written
	Person string
}

// kinds are the entries of a history in words.
var kinds = map[string]string{
	"sheet-opened": say("sheet opened"), "reading-taken": say("reading taken"), "reading-withdrawn": say("reading set aside"), "proof-carried": say("check piece carried over"),
	"reading-restored": say("reading restored"), "sheet-moved": say("moved to another station"),
	"sheet-changed": say("item or claim changed"), "sheet-noted": say("remark"), "sheet-dropped": say("sheet given up"),
	"item-entered": say("item written down"), "item-changed": say("written down anew"), "item-moved": say("moved, or left"), "item-held": say("held"), "item-released": say("released"), "photo-added": say("photo added"), "report-issued": say("report issued"),
	"determination-recorded": say("record kept"), "determination-signed": say("signed"), "item-valued": say("valued"), "lot-made": say("valued in a lot"),
}

// inWords says a history in words.
func inWords(history []desk.Happening) (out []happened) {
	for _, h := range history {
		line := happened{Time: h.Time, Clock: h.Clock, What: h.Kind, Person: h.Person}
		if words, found := kinds[h.Kind]; found {
			line.What = words
		}
		var body struct {
			Slot       string `json:"slot"`
			Text       string `json:"text"`
			Unit       string `json:"unit"`
			No         int    `json:"no"`
			Reason     string `json:"reason"`
			Number     string `json:"number"`
			Meaning    string `json:"meaning"`
			Withdrawal struct {
				Reason string `json:"reason"`
			} `json:"withdrawal"`
			Restored struct {
				Reason string `json:"reason"`
			} `json:"restored"`
			To *station.Ref `json:"to"`
		}
		if json.Unmarshal(h.Body, &body) == nil {
			switch h.Kind {
			case "reading-taken":
				line.Detail = plain(body.Slot) + ": " + body.Text
			case "reading-withdrawn":
				line.Detail = fmt.Sprintf("no. %d: %s", body.No, body.Withdrawal.Reason)
			case "reading-restored":
				line.Detail = fmt.Sprintf("no. %d: %s", body.No, body.Restored.Reason)
			case "sheet-moved":
				if body.To != nil {
					line.Detail = strings.TrimSuffix(fmt.Sprintf("%s: %s", body.To, body.Reason), ": ")
				}
			case "sheet-changed":
				line.Detail = body.Reason
			case "sheet-noted":
				line.Detail = body.Text
			case "determination-recorded":
				line.Detail = body.Number
			case "determination-signed":
				line.Detail = body.Meaning
			}
		}
		out = append(out, line)
	}
	return out
}

// evidence hands out a bundle that anybody can verify without the store.
func (s *Server) evidence(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	bundle, err := s.current().Evidence(r.Context(), who, []string{r.PathValue("name")})
	if err != nil {
		return err
	}
	data, err := json.MarshalIndent(bundle, "", " ")
	if err != nil {
		return err
	}
	attach(w, r.PathValue("name")+"-evidence.json", "application/json")
	_, err = w.Write(data)
	return err
}

// attach says that what follows is a file.
func attach(w http.ResponseWriter, name, kind string) {
	name = strings.Map(func(r rune) rune {
		if r == '-' || r == '.' || r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z' {
			return r
		}
		return '-'
	}, name)
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
}

// valueRecord puts a value on a record by its safe figure.
func (s *Server) valueRecord(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	name := r.PathValue("name")
	if _, err := s.current().Value(r.Context(), by(r, who), desk.Valuing{Records: []string{name}, Terms: r.FormValue("terms")}); err != nil {
		return err
	}
	s.hub.tell(name)
	back(w, r, "/record/"+name)
	return nil
}

// sign signs a record. Who signed in gives password, PIN or passkey once more.
func (s *Server) sign(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	d := s.current()
	if who.Mark() == "" {
		var err error
		if given := r.PostFormValue("passkey"); given != "" {
			err = d.ConfirmByPasskey(r.Context(), who, s.asked(w, r), []byte(given), s.place(r))
		} else {
			err = d.Confirm(r.Context(), who, r.PostFormValue("password"), r.PostFormValue("pin"), s.place(r))
		}
		if err != nil {
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
