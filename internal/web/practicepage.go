package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/practice"
	"wreath/internal/record"
	"wreath/internal/simulation"
	"wreath/internal/strictjson"
)

// practiceView is a practice bench as its page shows it.
type practiceView struct {
	ID       string
	Lesson   practice.Lesson
	Pace     float64
	Told     []practiceFact
	Looked   bool
	Seen     []string // by a look, of the catalogue
	Now      nowView
	Acts     []actGroup
	Bench    string // how the bench stands, of the catalogue
	Slots    []slotView
	Draft    *determination.Draft
	Claim    string
	Answer   *determination.Answer
	Density  densityView
	Picture  pictures
	Why      *problem
	Refused  []determination.Doubt
	Findings []string
	Faults   []practiceFault
	End      *practiceEnd
}

// practiceFact is one thing that the person is told.
type practiceFact struct{ Name, Value string }

// practiceFault is one thing that may be wrong.
type practiceFault struct{ Key, Name string }

// practiceEnd is what stands on the page when it is judged.
type practiceEnd struct {
	*practice.Score
	Said   practice.Judgement
	Wrong  string // what the person said was wrong, of the catalogue
	Truth  practice.Truth
	Fault  string // what was wrong, of the catalogue
	Made   string
	Cm3    string // density of the whole body
	Inside bool   // the interval of the sheet holds it
	Next   string // key of the lesson that follows
}

// Practice says that nothing of the page enters the records. What the simulated bench of the shop says does:
// those records are of a demonstration.
func (v view) Practice() bool {
	switch v.Body.(type) {
	case *practiceView, *practiceList:
		return true
	}
	return false
}

// actGroup is some acts that belong together.
type actGroup struct {
	Name string
	Acts []actView
}

// actView is one act of a hand.
type actView struct {
	Act      string
	Name     string
	Possible bool
}

// practiceActs are the acts of a bench in the order of the work.
func practiceActs(bar, standing bool) []actGroup {
	var hang []actView
	groups := []actGroup{{say("Balance"), []actView{{string(simulation.ActZero), say("Set it to zero"), false}}}}
	air := actGroup{say("In air"), []actView{
		{string(simulation.ActPanOn), say("Put the item on the pan"), false}, {string(simulation.ActCheckOn), say("Put the check piece on the pan"), false}, {string(simulation.ActPanOff), say("Take it off the pan"), false}}}
	if bar {
		air.Acts = append(air.Acts, actView{string(simulation.ActHangDry), say("Hang the empty hanger in the air"), false}, actView{string(simulation.ActSling), say("Put the item on the hanger in the air"), false}, actView{string(simulation.ActUnsling), say("Take it off the hanger in the air"), false})
	}
	if standing {
		hang = append(hang, actView{string(simulation.ActVesselOn), say("Stand the vessel on the pan"), false})
	}
	hang = append(hang, actView{string(simulation.ActHang), say("Hang the empty hanger in the liquid"), false}, actView{string(simulation.ActUnhang), say("Take the hanger away"), false})
	groups = append(groups, air, actGroup{say("Hanger"), hang})
	return append(groups, actGroup{say("In the liquid"), []actView{
		{string(simulation.ActImmerse), say("Immerse the item"), false}, {string(simulation.ActImmerseCk), say("Immerse the check piece"), false},
		{string(simulation.ActBrush), say("Brush bubbles off"), false}, {string(simulation.ActCentre), say("Lift and centre it"), false}, {string(simulation.ActLift), say("Take it out"), false}}},
		actGroup{say("Beside the balance"), []actView{{string(simulation.ActDry), say("Dry the item"), false}}})
}

// acting are the acts of a practice bench.
func (p *practised) acting() []actGroup {
	return practiceActs(p.task.Lesson.Kind == "bar", p.task.Told.Draft.Arrangement == "standing")
}

// possible marks what can be done as the bench stands.
func possible(groups []actGroup, acts []simulation.Act) {
	for _, group := range groups {
		for i, act := range group.Acts {
			group.Acts[i].Possible = slices.Contains(acts, simulation.Act(act.Act))
		}
	}
}

// knows says whether an act is among those of a bench.
func knows(groups []actGroup, act simulation.Act) bool {
	return slices.ContainsFunc(groups, func(g actGroup) bool {
		return slices.ContainsFunc(g.Acts, func(a actView) bool { return a.Act == string(act) })
	})
}

// benchWords say where the item is.
var benchWords = map[simulation.Place]string{simulation.Away: say("Item and check piece lie beside the balance."), simulation.InAir: say("Something is weighed in air."), simulation.Immersed: say("Something hangs in the liquid.")}

// faultNames are what may be wrong, in words.
var faultNames = map[string]string{
	"none": say("nothing is wrong"), "bubble": say("a bubble under the item"), "zero": say("the zero moved"), "touching": say("the item touches the vessel"), "wire": say("the liquid pulls at the wire"),
	"temperature": say("the thermometer is wrong"), "liquid": say("another liquid, or a dirty one"), "ethanol": say("ethanol that lost strength"), "drift": say("the balance drifts"), "draught": say("a draught"),
	"wet": say("the item was wet at first"), "wrong-item": say("another item lay on the tray"), "pores": say("open pores that take up liquid"), "hollow": say("a sealed hollow"), "stones": say("stones that were not declared"),
	"core": say("a core of another metal"), "lower-standard": say("a lower standard under a higher stamp"), "look-alike": say("another material that looks like it"),
}

// shapeNames are the kinds of items.
var shapeNames = map[string]string{"ring": say("a ring"), "coin": say("a coin"), "bar": say("a bar"), "pendant": say("a pendant"), "piece": say("a piece")}

// refusals are why an act can't be done; the bench says them.
var refusals = []string{
	say("something is weighed already; take it off first"), say("no hanger hangs in the liquid; hang it first"), say("no hanger hangs in the air from the balance; hang it there first"), say("nothing lies on the pan"), say("nothing hangs in the air"),
	say("nothing hangs in the liquid"), say("the hanger hangs in the liquid already, or holds something"), say("the hanger hangs already; take it away first"), say("no empty hanger hangs there"), say("the vessel stands where it belongs"),
	say("the item is on the bench; take it off first"), say("a hand is at the bench; wait until it leaves"),
}

// practiceList is the page of lessons.
type practiceList struct {
	Levels []practiceLevel
	Open   []*practiceView
	Shop   bool // the shop has a simulated bench of its own
}

// practiceLevel is some lessons that are alike hard.
type practiceLevel struct {
	Name    string
	Lessons []practice.Lesson
}

var levelNames = []string{say("To begin with"), say("Something that shows"), say("Hard to see")}

// practise lists the lessons.
func (s *Server) practise(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	v := &practiceList{Shop: s.shopBench() != nil}
	for level, name := range levelNames {
		lessons := slices.DeleteFunc(practice.Lessons(), func(l practice.Lesson) bool { return l.Level != level+1 })
		v.Levels = append(v.Levels, practiceLevel{name, lessons})
	}
	for _, p := range s.practisedBy(who.Person().ID) {
		v.Open = append(v.Open, &practiceView{ID: p.id, Lesson: p.task.Lesson})
	}
	s.render(w, r, http.StatusOK, "practices", view{Title: "Practice", Nav: "practice", Who: who, Body: v})
	return nil
}

// practiseLesson sets up a bench and goes to it.
func (s *Server) practiseLesson(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	l, err := lessonOf(r.FormValue("lesson"))
	if err != nil {
		return err
	}
	pace, known := paces[r.FormValue("pace")]
	if !known {
		pace = 1
	}
	p, err := s.beginPractice(who.Person().ID, l, pace)
	if err != nil {
		return err
	}
	back(w, r, "/practice/"+p.id)
	return nil
}

func (s *Server) practiceBench(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	p, err := s.practiceOf(r.PathValue("id"), who.Person().ID)
	if err != nil {
		return err
	}
	p.use(s.o.Now())
	v, err := s.practiceView(p, wordsFor(r))
	if err != nil {
		return err
	}
	s.render(w, r, http.StatusOK, "practice", view{Title: "Practice", Nav: "practice", Who: who, Body: v})
	return nil
}

func (s *Server) practiceView(p *practised, w words) (*practiceView, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	v := &practiceView{ID: p.id, Lesson: p.task.Lesson, Pace: p.pace, Looked: p.looked, Now: showNow(p.feed.Snapshot(), s.o.Now()),
		Acts: p.acting(), Findings: []string{"met", "not met", "undecided"}, Claim: claimWords(p.draft.Claim)}
	state := p.station.State()
	v.Bench = benchWords[state.Place]
	possible(v.Acts, state.Possible)
	for _, key := range append([]string{"none"}, practice.Faults()...) {
		v.Faults = append(v.Faults, practiceFault{key, faultNames[key]})
	}
	v.Told = toldFacts(p.task, w)
	if p.looked {
		v.Seen = seenBy(p.task.Told)
	}
	var err error
	var field *strictjson.FieldError
	v.Draft, v.Answer, err = p.evaluate(s.o.Version)
	switch {
	case err == nil:
		v.Density = printDensity(v.Answer)
	case errors.As(err, &field):
		v.Why, v.Refused = asProblem(err), determination.Reread(v.Draft)
	default:
		return nil, err
	}
	v.Picture = draw(w, v.Answer, p.draft.Claim, false)
	v.Slots = p.rows()
	if p.score != nil {
		v.End = p.end(v.Answer)
	}
	return v, nil
}

// end is the truth beside what was said. The caller holds the lock.
func (p *practised) end(a *determination.Answer) *practiceEnd {
	truth := p.task.Truth()
	e := &practiceEnd{Score: p.score, Said: p.judgement, Wrong: faultNames[p.judgement.Fault], Truth: truth, Fault: faultNames[p.task.Lesson.Fault],
		Made: truth.Made, Cm3: strconv.FormatFloat(truth.DensityKgM3/1000, 'f', 3, 64)}
	if a != nil {
		d := a.Density20C
		e.Inside = truth.DensityKgM3 >= d.LowKgM3 && (d.HighKgM3 == nil || truth.DensityKgM3 <= *d.HighKgM3)
	}
	lessons := practice.Lessons()
	if at := slices.IndexFunc(lessons, func(l practice.Lesson) bool { return l.Key == p.task.Lesson.Key }); at >= 0 && at+1 < len(lessons) {
		e.Next = lessons[at+1].Key
	}
	return e
}

// toldFacts is what a counter knows of the item and its station.
func toldFacts(t *practice.Task, w words) []practiceFact {
	told, d := t.Told, t.Told.Draft
	decimals := func(x float64, unit string) string { return w.N(strconv.FormatFloat(x, 'f', -1, 64)) + " " + unit }
	item := w.T(shapeNames[told.Shape])
	if told.Colour != "" {
		item += ", " + w.T(told.Colour)
	}
	liquid := w.T(d.Liquid.Kind)
	if p := d.Liquid.EthanolMassPercent; p != nil {
		liquid += ", " + w.N(strconv.FormatFloat(*p, 'f', 1, 64)) + " %"
	}
	how := w.T("from the balance")
	if d.Arrangement == "standing" {
		how = w.T("from a stand, into a vessel on the pan")
	}
	facts := []practiceFact{
		{say("item"), item}, {say("stamp"), strconv.FormatFloat(told.StampPpt, 'f', -1, 64)}, {say("mass on the bag"), w.N(strconv.FormatFloat(told.IntakeG, 'f', decimalsOf(d), 64)) + " g"},
		{say("it hangs"), how}, {say("liquid"), liquid}, {say("thermometer"), w.N(strconv.FormatFloat(*d.Liquid.TemperatureC, 'f', 1, 64)) + " °C"},
		{say("balance steps by"), decimals(*d.Balance.ResolutionG, "g")},
		{say("check piece"), w.N(strconv.FormatFloat(told.CheckCm3, 'f', 4, 64)) + " ± " + w.N(strconv.FormatFloat(2*told.CheckUCm3, 'g', 2, 64)) + " cm³"},
	}
	return facts
}

// decimalsOf is how many decimals of a gram the balance shows.
func decimalsOf(d *determination.Draft) int {
	text := strconv.FormatFloat(*d.Balance.ResolutionG, 'f', -1, 64)
	if _, after, found := strings.Cut(text, "."); found {
		return len(after)
	}
	return 0
}

// seenBy is what a look shows.
func seenBy(told practice.Told) (out []string) {
	for _, row := range []struct {
		seen bool
		word string
	}{{told.SeesStones, say("Stones are seen.")}, {told.SeesHollow, say("It sounds and feels hollow.")}, {told.SeesCore, say("Something else shows at an edge.")}} {
		if row.seen {
			out = append(out, row.word)
		}
	}
	if len(out) == 0 {
		out = []string{say("Nothing strikes the eye.")}
	}
	return out
}

// practiceAct is one of the forms of a practice bench.
func (s *Server) practiceAct(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	p, err := s.practiceOf(r.PathValue("id"), who.Person().ID)
	if err != nil {
		return err
	}
	p.use(s.o.Now())
	made := record.Act{Time: s.o.Now(), Person: who.Person().ID}
	then := "/practice/" + p.id
	switch r.PathValue("act") {
	case "do":
		err = p.do(r.Context(), simulation.Act(r.FormValue("do")))
	case "take":
		err = p.take(r.FormValue("slot"), made)
	case "aside":
		no, wrong := strconv.Atoi(r.FormValue("no"))
		if wrong != nil {
			return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "No reading has that number.", Hint: "Choose one on the sheet."}
		}
		err = p.setAside(no, made, "set aside in practice")
	case "look":
		p.look()
	case "judge":
		err = p.judge(r.FormValue("finding"), r.FormValue("fault"))
	case "end":
		s.endPractice(p.id)
		then = "/practice"
	default:
		err = &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is no such act.", Hint: "Known: do, take, aside, look, judge, end."}
	}
	if err != nil {
		return err
	}
	back(w, r, then)
	return nil
}

// benchMessage is how a practice bench stands.
type benchMessage struct {
	Busy     bool     `json:"busy"`
	Bench    string   `json:"bench"`
	Possible []string `json:"possible"`
}

// practiceEvents streams what the balance of a practice bench shows, and how the bench stands.
func (s *Server) practiceEvents(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	p, err := s.practiceOf(r.PathValue("id"), who.Person().ID)
	if err != nil {
		return err
	}
	out, in := http.NewResponseController(w), wordsFor(r)
	out.SetWriteDeadline(time.Time{})
	out.SetReadDeadline(time.Time{})
	w.Header().Set("Content-Type", "text/event-stream")
	fmt.Fprint(w, "retry: 2000\n\n")
	said := p.feed.Subscribe()
	defer func() { said.Close() }()
	var drawn time.Time
	last := ""
	for {
		v := showNow(p.feed.Snapshot(), s.o.Now())
		m := in.message(&v)
		if now := time.Now(); now.Sub(drawn) >= redrawn {
			drawn, m.Path = now, &v.Path
		}
		if err := tellPage(w, "now", m); err != nil {
			return nil
		}
		state := p.station.State()
		bench := benchMessage{Busy: state.Busy, Bench: in.T(benchWords[state.Place]), Possible: []string{}}
		for _, act := range state.Possible {
			bench.Possible = append(bench.Possible, string(act))
		}
		if text := fmt.Sprint(bench); text != last {
			last = text
			if err := tellPage(w, "bench", bench); err != nil {
				return nil
			}
		}
		if err := out.Flush(); err != nil {
			return nil
		}
		_, err := said.Next(r.Context())
		switch {
		case err == nil:
		case r.Context().Err() != nil:
			return nil
		default: // behind, or the bench is cleared away
			said.Close()
			if _, gone := s.practiceOf(p.id, p.owner); gone != nil || p.judged() {
				return nil
			}
			said = p.feed.Subscribe()
		}
	}
}

func (p *practised) judged() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.score != nil
}

// tellPage writes one event of a stream.
func tellPage(w http.ResponseWriter, name string, v any) error {
	data, err := json.Marshal(v)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(w, "event: %s\ndata: %s\n\n", name, data)
	return err
}
