package web

import (
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"strings"
	"time"

	"wreath/internal/desk"
	"wreath/internal/line"
	"wreath/internal/people"
	"wreath/internal/source"
	"wreath/internal/station"
)

// lineView is the page on which the line of an instrument is learned.
type lineView struct {
	Instrument *station.Instrument
	Ports      []source.Port
	Form       map[string]string
	Problem    *problem

	Open     bool // it is listened to
	Link     string
	Why      string
	Identity string
	Heard    []string
	Said     []string
	Broken   string
	Learned  *line.Learned
	Percent  string
	Latest   []triedLine
	Read     int
	Unread   int
	Shape    []string // the parts of the lines that it knows, in words
	Wedge    bool     // it types into a field of the page
}

func (s *Server) instrumentOf(r *http.Request, who *desk.Who, id string) (*station.Instrument, error) {
	all, err := s.current().Equipment(r.Context(), who)
	if err != nil {
		return nil, err
	}
	for i := range all.Instruments {
		if all.Instruments[i].ID == id {
			return &all.Instruments[i], nil
		}
	}
	return nil, &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is no instrument " + id + ".", Hint: "The page of stations lists them."}
}

// manages refuses who may not link instruments.
func manages(who *desk.Who) error {
	if who.May(people.ManageInstrument) {
		return nil
	}
	return &people.Refused{Action: people.ManageInstrument, Name: who.Person().Name, Reason: "it needs the role instruments", Hint: "Let somebody do it who has the role."}
}

// learnLine is the page on which the line of an instrument is learned.
func (s *Server) learnLine(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if err := manages(who); err != nil {
		return err
	}
	i, err := s.instrumentOf(r, who, r.PathValue("id"))
	if err != nil {
		return err
	}
	v := s.lineView(i)
	if ports, err := source.Ports(); err == nil { // where the system tells none, the address is typed
		v.Ports = ports
	}
	s.render(w, r, http.StatusOK, "line", view{Title: "The line of an instrument", Nav: "stations", Who: who, Body: v})
	return nil
}

func (s *Server) lineView(i *station.Instrument) *lineView {
	v := &lineView{Instrument: i, Form: map[string]string{}}
	if l := i.Link; l != nil {
		v.Form["address"], v.Form["request"], v.Form["every"] = l.Address, l.Request, asTyped(l.RequestEveryS, "")
		if b := l.Binding; b != nil {
			v.Form["check"], v.Form["tolerance"] = asTyped(b.CheckG, " g"), asTyped(b.ToleranceG, " g")
		}
	}
	l := s.lesson(i.ID)
	if l == nil {
		return v
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.looked, v.Wedge = time.Now(), l.address.Kind == source.Wedge
	v.Open, v.Link, v.Why, v.Identity = true, l.link.String(), l.why, l.identity
	v.Form["address"], v.Form["request"] = l.address.String(), l.request
	if l.everyS > 0 {
		v.Form["every"] = asTyped(&l.everyS, "")
	}
	v.Heard, v.Broken, v.Learned, v.Latest, v.Read, v.Unread = l.heardLines(10), l.broken, l.learned, l.latest, l.read, l.unread
	for _, said := range l.said {
		text := said.shown
		if said.settled != nil && *said.settled {
			text += ", still"
		} else if said.settled != nil {
			text += ", moving"
		}
		v.Said = append(v.Said, text)
	}
	if l.learned != nil {
		v.Percent = percent(l.learned.Certainty)
		if p := l.learned.Pattern; p != nil {
			for _, shape := range p.Lines {
				v.Shape = append(v.Shape, shapeWords(shape))
			}
		}
	}
	return v
}

// shapeWords says what stands in a kind of line, from left to right.
func shapeWords(shape line.Shape) string {
	var parts []string
	for _, p := range shape.Parts {
		word := p.Is
		if p.Text != "" {
			word += " " + source.Escape([]byte(p.Text))
		}
		parts = append(parts, word)
	}
	return shape.Means + ": " + strings.Join(parts, " | ")
}

// lineNow tells the page what was heard meanwhile.
func (s *Server) lineNow(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if err := manages(who); err != nil {
		return err
	}
	i, err := s.instrumentOf(r, who, r.PathValue("id"))
	if err != nil {
		return err
	}
	v, words := s.lineView(i), wordsFor(r)
	out := struct {
		Link   string      `json:"link"`
		Heard  []string    `json:"heard"`
		Latest []triedLine `json:"latest"`
		Read   int         `json:"read"`
		Unread int         `json:"unread"`
	}{words.T(v.Link), orEmpty(v.Heard), orEmpty(v.Latest), v.Read, v.Unread}
	w.Header().Set("Content-Type", "application/json")
	return json.NewEncoder(w).Encode(out)
}

// teach does one step of learning a line: listen, say what the display shows, take that back, save, or stop.
func (s *Server) teach(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if err := manages(who); err != nil {
		return err
	}
	id, ctx := r.PathValue("id"), r.Context()
	i, err := s.instrumentOf(r, who, id)
	if err != nil {
		return err
	}
	then := "/instruments/" + id + "/line"
	l := s.lesson(id)
	switch act := r.FormValue("act"); {
	case act == "listen":
		link, err := linkForm(r)
		if err != nil {
			return err
		}
		i.Link = link
		if err := i.Check(); err != nil { // before the port is opened
			return err
		}
		sent, err := link.RequestBytes()
		if err != nil {
			return err
		}
		if err := s.beginLesson(ctx, id, link.Address, link.Request, sent, or0(link.RequestEveryS)); err != nil {
			return addressProblem(err)
		}
	case act == "stop":
		s.endLesson(id)
		s.relink(ctx)
	case act == "unlink":
		s.endLesson(id)
		if _, err := s.current().LinkInstrument(ctx, by(r, who), id, nil, strings.TrimSpace(r.FormValue("reason"))); err != nil {
			return err
		}
		s.relink(ctx)
		then = "/stations/" + id
	case l == nil:
		return &problem{Type: "input", Status: http.StatusConflict, Title: "Nothing is listened to.", Hint: "Say where the line comes from, and listen first."}
	case act == "say":
		l.say(strings.TrimSpace(r.FormValue("shown")), map[string]*bool{"still": new(true), "moving": new(false)}[r.FormValue("settled")])
	case act == "forget":
		l.forget()
	case act == "save":
		if err := s.saveLine(r, who, i, l); err != nil {
			return err
		}
		then = "/stations/" + id
	default:
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "There is no such step.", Hint: "Known: listen, say, forget, save, stop, unlink."}
	}
	back(w, r, then)
	return nil
}

// linkForm reads where a line comes from and what is sent to ask for one.
func linkForm(r *http.Request) (*station.Link, error) {
	link := &station.Link{Address: strings.TrimSpace(r.FormValue("address")), Request: r.FormValue("request")}
	if link.Address == "" && r.FormValue("port") != "" {
		link.Address = r.FormValue("port")
	}
	if link.Request != "" {
		if err := numberField(r, "every", &link.RequestEveryS); err != nil {
			return nil, err
		}
		if link.RequestEveryS == nil {
			link.RequestEveryS = new(0.5)
		}
	}
	return link, nil
}

// addressProblem says what is wrong with an address beside its field.
func addressProblem(err error) error {
	return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "It can't be listened to: " + err.Error() + ".", Hint: "Look at the address, and whether another program holds the port.", Field: "address"}
}

// saveLine links the instrument by what was learned.
func (s *Server) saveLine(r *http.Request, who *desk.Who, i *station.Instrument, l *lesson) error {
	l.mu.Lock()
	learned, address, request, every, identity := l.learned, l.address.String(), l.request, l.everyS, l.identity
	l.mu.Unlock()
	if learned == nil || learned.Pattern == nil {
		return &problem{Type: "input", Status: http.StatusConflict, Title: "No pattern is learned yet.", Hint: "Put a weight on and say what the display shows, then another."}
	}
	document, err := learned.Pattern.Encode()
	if err != nil {
		return err
	}
	var compact bytes.Buffer
	if err := json.Compact(&compact, document); err != nil {
		return err
	}
	link := &station.Link{Address: address, Pattern: compact.Bytes(), Request: request}
	if request != "" {
		link.RequestEveryS = &every
	}
	var check, tolerance *float64
	if err := massField(r, "check", &check); err != nil {
		return err
	}
	if err := massField(r, "tolerance", &tolerance); err != nil {
		return err
	}
	if check != nil {
		if tolerance == nil {
			tolerance = new(max(5*or0(i.ScaleIntervalG), *check*1e-5)) // chosen here
		}
		link.Binding = &station.Binding{CheckG: check, ToleranceG: tolerance, Port: identity}
	}
	if _, err := s.current().LinkInstrument(r.Context(), by(r, who), i.ID, link, strings.TrimSpace(r.FormValue("reason"))); err != nil {
		return err
	}
	s.endLesson(i.ID)
	s.relink(r.Context())
	return nil
}

// checkWeight keeps that the check weight is on and the instrument shows it.
func (s *Server) checkWeight(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	id := r.PathValue("id")
	feed := s.feed(id)
	if feed == nil {
		return &problem{Type: "input", Status: http.StatusConflict, Title: "The instrument is not linked.", Hint: "Link it first."}
	}
	snap := feed.Snapshot()
	if snap.Balance == nil || snap.State.Key != "still" {
		return &problem{Type: "input", Status: http.StatusConflict, Title: "The balance shows nothing that stands still.", Hint: "Put the check weight on, wait until it rests, then try again."}
	}
	if _, err := s.current().BindInstrument(r.Context(), by(r, who), id, desk.Bound{Port: snap.Identity, ReadG: snap.Balance.Value.Number}); err != nil {
		return err
	}
	s.relink(r.Context())
	if feed := s.feed(id); feed != nil {
		feed.Confirm(who.Person().Name)
	}
	back(w, r, "/stations/"+id)
	return nil
}

// pushLines hands bytes to whoever listens to an instrument that is pushed to: its lesson, or the hub.
func (s *Server) pushLines(r *http.Request, id string, data []byte) error {
	ctx, cancel := context.WithTimeout(r.Context(), 5*time.Second)
	defer cancel()
	if l := s.lesson(id); l != nil {
		pusher, ok := l.source.(source.Pusher)
		if !ok {
			return &problem{Type: "input", Status: http.StatusConflict, Title: "The line of " + id + " does not come by pushes.", Hint: "Link it by push:name or wedge:name."}
		}
		return pusher.Push(ctx, data)
	}
	feed := s.feed(id)
	if feed == nil {
		return &problem{Type: "missing", Status: http.StatusNotFound, Title: "No instrument " + id + " is linked.", Hint: "Link it by push:name on the page of stations."}
	}
	if err := feed.Push(ctx, data); err != nil {
		return &problem{Type: "input", Status: http.StatusConflict, Title: "The lines were not taken: " + err.Error() + ".", Hint: "Link it by push:name or wedge:name, and send at most 64 KB at once."}
	}
	return nil
}

// typedLine takes a line that an instrument typed into a field of the page.
func (s *Server) typedLine(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if !who.May(people.TakeReading) && !who.May(people.ManageInstrument) {
		return manages(who)
	}
	if err := s.pushLines(r, r.PathValue("id"), []byte(r.FormValue("line")+"\r\n")); err != nil {
		return err
	}
	if r.Header.Get("Accept") == "application/json" {
		w.WriteHeader(http.StatusNoContent)
		return nil
	}
	back(w, r, local(r.FormValue("then")))
	return nil
}
