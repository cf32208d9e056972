package web

import (
	"context"
	"encoding/json"
	"net/http"
	"strconv"
	"time"

	"wreath/internal/desk"
	"wreath/internal/handsfree"
	"wreath/internal/live"
	"wreath/internal/people"
	"wreath/internal/record"
)

// loadWords are the loads of a balance in the words of the bench.
var loadWords = map[handsfree.Load]string{
	handsfree.EmptyAir: say("nothing on the balance"), handsfree.EmptyLiquid: say("the hanger in the liquid"), handsfree.ItemAir: say("in air"), handsfree.ItemLiquid: say("in the liquid"),
	handsfree.CheckInAir: say("check piece in air"), handsfree.CheckImmerse: say("check piece in the liquid"), handsfree.Same: say("the same as before"), handsfree.Other: say("something else"),
}

// phaseWords are what the program does about the balance's words.
var phaseWords = map[handsfree.PhaseKey]string{
	handsfree.PhaseStill: say("it is taken in a moment"), handsfree.PhaseTaken: say("taken"), handsfree.PhaseAsk: say("one question"), handsfree.PhaseStop: say("take it off, and look at the balance"),
}

// tools are the linked instruments of a sheet's station.
type tools struct{ balance, thermometer string }

// toolsOf finds the linked instruments at which a sheet is weighed.
func (s *Server) toolsOf(ctx context.Context, who *desk.Who, sheet record.Sheet) (t tools, err error) {
	if s.o.Live == nil || sheet.Station == nil || !who.May(people.SeeStations) {
		return t, nil
	}
	equipment, err := s.current().Equipment(ctx, who)
	if err != nil {
		return t, err
	}
	for _, at := range equipment.Stations {
		if at.ID != sheet.Station.ID {
			continue
		}
		if at.Balance != nil && s.o.Live.Feed(at.Balance.ID) != nil {
			t.balance = at.Balance.ID
		}
		if at.Thermometer != nil && s.o.Live.Feed(at.Thermometer.ID) != nil {
			t.thermometer = at.Thermometer.ID
		}
	}
	return t, nil
}

// nowOf is what the balance of a sheet says, and whether the sheet is at it. A sheet that is opened by somebody
// who may weigh comes to a balance that is free.
func (s *Server) nowOf(r *http.Request, who *desk.Who, sheet desk.Sheet, others []tray) (*nowView, *nowView, error) {
	t, err := s.toolsOf(r.Context(), who, sheet.Sheet)
	if err != nil {
		return nil, nil, err
	}
	var warmth *nowView
	if feed := s.feed(t.thermometer); feed != nil {
		v := showNow(feed.Snapshot(), s.o.Now())
		warmth = &v
	}
	feed := s.feed(t.balance)
	if feed == nil {
		return nil, warmth, nil
	}
	at := s.ofBalance(t.balance)
	if at == nil && who.May(people.TakeReading) {
		if err := s.bring(r.Context(), who, sheet, t.balance, t.thermometer, false); err != nil {
			return nil, nil, err
		}
		at = s.ofBalance(t.balance)
	}
	v := showNow(feed.Snapshot(), s.o.Now())
	v.at(at, sheet.Sheet.ID)
	if at != nil && !v.Here {
		v.There = tray{ID: at.sheet}
		for _, other := range others {
			if other.ID == at.sheet {
				v.There = other
			}
		}
	}
	return &v, warmth, nil
}

func (s *Server) feed(id string) *live.Feed {
	if s.o.Live == nil || id == "" {
		return nil
	}
	return s.o.Live.Feed(id)
}

// at adds what the program makes of the balance's words for a sheet.
func (v *nowView) at(at *atBalance, sheet string) {
	if at == nil {
		return
	}
	at.mu.Lock()
	defer at.mu.Unlock()
	v.Taken, v.Here = true, at.sheet == sheet
	if !v.Here {
		return
	}
	v.ByItself = at.byItself
	phase := at.now.Phase
	if v.State == "still" { // what lay on it before is no word for a number that moves
		v.What = loadWords[phase.Load]
	}
	if v.State == "still" || v.State == "moving" || v.State == "stop" && phase.Key == handsfree.PhaseStop {
		v.Doing = phaseWords[phase.Key]
	}
	if phase.Key == handsfree.PhaseStill && !at.byItself && at.asked == "" {
		v.Doing = "" // nothing is taken until somebody asks
	}
	if q := at.now.Question; q != nil {
		v.Question = &questionView{No: q.No, Text: q.Text}
		for _, c := range q.Choices {
			v.Question.Choices = append(v.Question.Choices, choiceView{string(c), loadWords[c]})
		}
	}
	v.Doubts = map[int]string{}
	for no, doubt := range at.doubts {
		v.Doubts[no] = doubt.String()
	}
	v.Wants = at.wanted
	if at.failed != "" {
		v.Notes = append(v.Notes, at.failed)
	}
}

// silent says that a balance has said nothing for so long that its last word is no reading any more.
func (s *Server) silent(balance string) bool {
	feed := s.feed(balance)
	if feed == nil {
		return true
	}
	state := showNow(feed.Snapshot(), s.o.Now()).State
	return state != "still" && state != "moving"
}

// wantedSlot is the slot that the sheet at the balance asks for.
func (at *atBalance) wantedSlot() string {
	at.mu.Lock()
	defer at.mu.Unlock()
	return at.wanted
}

// nowMessage is what a page needs to show what an instrument says, in the page's language.
type nowMessage struct {
	ID     string   `json:"id"`
	State  string   `json:"state"`
	Sign   string   `json:"sign"`
	Word   string   `json:"word"`
	Ago    int      `json:"ago"`
	Counts bool     `json:"counts"`
	Head   string   `json:"head"`
	Soft   string   `json:"soft"`
	Unit   string   `json:"unit"`
	Class  string   `json:"class"`
	What   string   `json:"what"`
	Doing  string   `json:"doing"`
	Notes  []string `json:"notes"`
	Path   *string  `json:"path,omitempty"` // drawn anew now and then
}

// redrawn is how often the picture of the signal is drawn anew; the digits don't wait for it.
const redrawn = 400 * time.Millisecond

// shownLive is what a page that is open wants to hear of instruments: which ones, and how they are shown. A
// sheet names itself with at, the page of stations asks for all with watch.
func (s *Server) shownLive(r *http.Request, who *desk.Who) (shown func(feed string) []byte, feeds []string) {
	id, w := r.URL.Query().Get("at"), wordsFor(r)
	switch {
	case s.o.Live == nil:
		return nil, nil
	case id != "":
		sheet, err := s.current().Sheet(r.Context(), who, id)
		if err != nil {
			return nil, nil
		}
		t, err := s.toolsOf(r.Context(), who, sheet.Sheet)
		if err != nil {
			return nil, nil
		}
		feeds = []string{t.balance, t.thermometer}
	case r.URL.Query().Has("watch") && who.May(people.SeeStations):
		for _, snap := range s.o.Live.Snapshots() {
			feeds = append(feeds, snap.ID)
		}
	}
	drawn := map[string]time.Time{}
	return func(name string) []byte {
		feed := s.feed(name)
		if feed == nil {
			return nil
		}
		v := showNow(feed.Snapshot(), s.o.Now())
		v.at(s.ofBalance(name), id)
		m := w.message(&v)
		if now := time.Now(); now.Sub(drawn[name]) >= redrawn {
			drawn[name], m.Path = now, &v.Path
		}
		data, err := json.Marshal(m)
		if err != nil {
			return nil // not reached: it holds text and numbers
		}
		return data
	}, feeds
}

func (w words) message(v *nowView) nowMessage {
	m := nowMessage{ID: v.ID, State: v.State, Sign: v.Sign, Word: w.T(v.Word), Ago: v.Ago, Counts: v.Counts, Head: w.R(v.Head), Soft: w.R(v.Soft), Unit: v.Unit, Class: v.Class, Notes: []string{}}
	if v.What != "" {
		m.What = w.T(v.What)
	}
	if v.Doing != "" {
		m.Doing = w.T(v.Doing)
	}
	for _, note := range v.Notes {
		m.Notes = append(m.Notes, w.S(note))
	}
	return m
}

// atTheBalance does an act of hands: bring the sheet to the balance, let readings be taken by themselves or
// not, take, again, say what it was.
func (s *Server) atTheBalance(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	id, ctx := r.PathValue("id"), r.Context()
	if !who.May(people.TakeReading) {
		return &people.Refused{Action: people.TakeReading, Name: who.Person().Name, Reason: "it needs the role measure", Hint: "Let somebody weigh who has the role."}
	}
	act, at := r.FormValue("act"), s.ofSheet(id)
	no, _ := strconv.Atoi(r.FormValue("no")) // none names the last
	switch {
	case act == "here" || act == "by-itself" || act == "by-hand":
		sheet, err := s.current().Sheet(ctx, who, id)
		if err != nil {
			return err
		}
		t, err := s.toolsOf(ctx, who, sheet.Sheet)
		if err != nil {
			return err
		}
		if t.balance == "" {
			return &problem{Type: "input", Status: http.StatusConflict, Title: "No balance is linked at this station.", Hint: "Link it on the page of stations, or type the readings."}
		}
		if err := s.bring(ctx, who, sheet, t.balance, t.thermometer, act == "by-itself"); err != nil {
			return err
		}
	case at == nil:
		return &problem{Type: "input", Status: http.StatusConflict, Title: "This sheet is not at the balance.", Hint: "Bring it there first; another sheet may be weighed at the moment."}
	case act == "take" && s.silent(at.balance):
		return &problem{Type: "input", Status: http.StatusConflict, Title: "The balance says nothing at the moment.", Hint: "Look at its cable, or type the reading."}
	case act == "take":
		slot := r.FormValue("slot")
		if _, known := loads[slot]; !known {
			slot = at.wantedSlot()
		}
		s.handAct(ctx, at, who, slot, (*handsfree.Recogniser).Take)
	case act == "again":
		s.handAct(ctx, at, who, "", (*handsfree.Recogniser).Again)
	case act == "next":
		if err := s.goWithout(ctx, who, at); err != nil {
			return err
		}
		s.hub.tell(id)
	case act == "say":
		s.handAct(ctx, at, who, "", func(m *handsfree.Recogniser) handsfree.Outcome { return m.Say(no, handsfree.Load(r.FormValue("load"))) })
	default:
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "There is no such act at the balance.", Hint: "Known: here, by-itself, by-hand, take, again, next, say."}
	}
	if r.Header.Get("Accept") == "application/json" { // the page is told what changes
		w.WriteHeader(http.StatusNoContent)
		return nil
	}
	back(w, r, "/sheet/"+id)
	return nil
}
