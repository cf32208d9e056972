package web

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"maps"
	mrand "math/rand/v2"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"wreath/internal/determination"
	"wreath/internal/live"
	"wreath/internal/practice"
	"wreath/internal/record"
	"wreath/internal/simulated"
	"wreath/internal/simulation"
	"wreath/internal/source"
	"wreath/internal/station"
	"wreath/settle"
)

// Bounds of practising; chosen here.
const (
	mostPractised = 24               // benches at once
	mostOfOne     = 3                // of one person
	practiceIdle  = 20 * time.Minute // after which a bench that nobody acts at is cleared away
	longestAct    = 2 * time.Minute  // that is waited for until a hand has left
)

// paces are how many times faster than life a bench may run.
var paces = map[string]float64{"1": 1, "4": 4, "16": 16}

// practices are the benches at which somebody practises. They live in memory alone: nothing of them reaches
// the store.
type practices struct {
	mu       sync.Mutex
	open     map[string]*practised
	stations simulated.Stations
}

// practised is one item on one simulated bench.
type practised struct {
	id, owner string
	pace      float64
	task      *practice.Task
	station   *simulated.Station
	feed      *live.Feed
	stop      context.CancelFunc
	idle      *time.Timer

	hands sync.Mutex // one act at a time

	mu        sync.Mutex
	used      time.Time
	sheet     record.Sheet
	draft     *determination.Draft // what is asked, without readings
	looked    bool
	acts      []simulation.Act // what was refused too
	judgement practice.Judgement
	score     *practice.Score // nil until it is judged
}

// beginPractice sets up a bench for somebody, and clears away their oldest where they have too many.
func (s *Server) beginPractice(owner string, l practice.Lesson, pace float64) (*practised, error) {
	task, err := practice.New(l)
	if err != nil {
		return nil, err
	}
	p := &practised{id: strings.ToLower(rand.Text()[:12]), owner: owner, pace: pace, task: task, draft: task.Told.Draft, used: s.o.Now(), station: simulated.NewStation(task.Live)}
	document, err := station.WriteDraft(p.draft)
	if err != nil {
		return nil, err
	}
	if p.sheet, err = record.Open(record.Sheet{ID: "practice-" + p.id, Opened: record.Act{Time: p.used, Person: owner}}, document); err != nil {
		return nil, err
	}
	if err := s.roomToPractise(owner); err != nil {
		return nil, err
	}
	if err := s.followPractice(p); err != nil {
		return nil, err
	}
	s.practices.mu.Lock()
	defer s.practices.mu.Unlock()
	if s.practices.open == nil {
		s.practices.open = map[string]*practised{}
	}
	s.practices.open[p.id] = p
	return p, nil
}

// followPractice lets the time of a bench pass, and follows its balance as any linked one is followed.
func (s *Server) followPractice(p *practised) error {
	balance, err := p.station.NewInstrument("balance", "columns")
	if err != nil {
		return err
	}
	pattern, err := balance.Pattern()
	if err != nil {
		return err
	}
	if err := s.practices.stations.Add(p.id, p.station); err != nil {
		return err
	}
	b := p.draft.Balance
	config := live.Config{ID: "practice", Address: source.Address{Kind: source.Simulated, Where: p.id}, Pattern: pattern,
		Settle: settle.Options{UnitName: "g", Interval: or0(b.ResolutionG), Repeatability: or0(b.RepeatabilityG)}}
	if p.feed, err = live.NewFeed(config, live.Options{Now: s.o.Now, Simulated: s.practices.stations.Open}); err != nil {
		s.practices.stations.Remove(p.id)
		return err
	}
	ctx, cancel := context.WithCancel(context.Background())
	p.stop = cancel
	p.idle = time.AfterFunc(practiceIdle, func() { s.endPractice(p.id) })
	go func() { _ = p.station.Run(ctx, p.pace) }() // the pace was checked
	go func() { _ = p.feed.Run(ctx) }()            // it ends with the bench, and its state says so
	go func() {
		select {
		case <-s.over:
			s.endPractice(p.id)
		case <-ctx.Done():
		}
	}()
	return nil
}

// roomToPractise clears away the oldest bench of somebody who has as many as one may have. Where all benches are
// in use it says so.
func (s *Server) roomToPractise(owner string) error {
	s.practices.mu.Lock()
	all := slices.SortedFunc(maps.Values(s.practices.open), func(a, b *practised) int { return a.lastUsed().Compare(b.lastUsed()) })
	s.practices.mu.Unlock()
	own := slices.DeleteFunc(slices.Clone(all), func(p *practised) bool { return p.owner != owner })
	if len(own) >= mostOfOne {
		s.endPractice(own[0].id)
		return nil
	}
	if len(all) >= mostPractised {
		return &problem{Type: "input", Status: http.StatusServiceUnavailable, Title: "All practice benches are in use.", Hint: "Try again when somebody has left one; a bench that nobody uses is cleared away after twenty minutes."}
	}
	return nil
}

// endPractice clears a bench away.
func (s *Server) endPractice(id string) {
	s.practices.mu.Lock()
	p := s.practices.open[id]
	delete(s.practices.open, id)
	s.practices.mu.Unlock()
	if p == nil {
		return
	}
	p.idle.Stop()
	p.stop()
	s.practices.stations.Remove(id)
}

// practiceOf finds a bench of somebody.
func (s *Server) practiceOf(id, owner string) (*practised, error) {
	s.practices.mu.Lock()
	defer s.practices.mu.Unlock()
	p := s.practices.open[id]
	if p == nil || p.owner != owner {
		return nil, &problem{Type: "missing", Status: http.StatusNotFound, Title: "This practice bench is cleared away.", Hint: "Begin anew: nothing of practising is kept."}
	}
	return p, nil
}

// practisedBy are the benches of somebody, the newest first.
func (s *Server) practisedBy(owner string) (out []*practised) {
	s.practices.mu.Lock()
	defer s.practices.mu.Unlock()
	for _, p := range s.practices.open {
		if p.owner == owner {
			out = append(out, p)
		}
	}
	slices.SortFunc(out, func(a, b *practised) int {
		return cmp.Or(b.lastUsed().Compare(a.lastUsed()), strings.Compare(a.id, b.id))
	})
	return out
}

func (p *practised) lastUsed() time.Time {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.used
}

// use notes that somebody acts, so that the bench is left standing.
func (p *practised) use(now time.Time) {
	p.idle.Reset(practiceIdle)
	p.mu.Lock()
	defer p.mu.Unlock()
	p.used = now
}

// errJudged refuses what comes after the judgement.
var errJudged = &problem{Type: "input", Status: http.StatusConflict, Title: "It is judged already.", Hint: "Take another item."}

// do lets the person do an act, and returns when the hand has left the bench.
func (p *practised) do(ctx context.Context, act simulation.Act) error {
	if !knows(p.acting(), act) {
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "There is no such act at this bench.", Hint: "The buttons name those that there are."}
	}
	p.hands.Lock()
	defer p.hands.Unlock()
	p.mu.Lock()
	judged := p.score != nil
	if !judged {
		p.acts = append(p.acts, act)
	}
	p.mu.Unlock()
	if judged {
		return errJudged
	}
	return handle(ctx, p.station, p.feed, act)
}

// handle does an act at a bench, and returns when the hand has left it. The feed is that of its balance.
func handle(ctx context.Context, bench *simulated.Station, feed *live.Feed, act simulation.Act) error {
	ctx, cancel := context.WithTimeout(ctx, longestAct)
	defer cancel()
	said := feed.Subscribe()
	defer func() { said.Close() }()
	if err := bench.Do(act); err != nil {
		return &problem{Type: "input", Status: http.StatusConflict, Title: "It can't be done as the bench stands: " + err.Error() + ".", Hint: "The other buttons are as they were."}
	}
	for bench.State().Busy {
		if _, err := said.Next(ctx); errors.Is(err, live.ErrBehind) {
			said.Close()
			said = feed.Subscribe()
		} else if err != nil {
			return nil // who asked has gone, or the bench; the hand leaves all the same
		}
	}
	return nil
}

// take notes what the balance shows now.
func (p *practised) take(slot string, act record.Act) error {
	snap := p.feed.Snapshot()
	key := snap.State.Key
	if snap.Balance == nil || key != live.Still && key != live.Moving && key != live.Settling {
		return &problem{Type: "input", Status: http.StatusConflict, Title: "The balance shows no number.", Hint: "Look at what is on it."}
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.score != nil {
		return errJudged
	}
	if !slices.ContainsFunc(p.rows(), func(row slotView) bool { return row.Slot == slot }) {
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The sheet has no such row.", Hint: "Take the reading into one of its rows."}
	}
	sheet, err := p.sheet.Take(record.Reading{Slot: slot, Text: snap.Balance.Value.Text, Unit: snap.Balance.Value.Unit, Time: act.Time, Person: act.Person, Source: record.Received, Rested: key == live.Still})
	if err != nil {
		return err
	}
	p.sheet = sheet
	return nil
}

// setAside takes a reading out of what is evaluated. It stays on the sheet.
func (p *practised) setAside(no int, act record.Act, reason string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.score != nil {
		return errJudged
	}
	sheet, err := p.sheet.Withdraw(no, act, reason)
	if err != nil {
		return err
	}
	p.sheet = sheet
	return nil
}

// look writes down what a look under the loupe shows.
func (p *practised) look() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.score != nil || p.looked {
		return
	}
	told := p.task.Told
	item := determination.Item{}
	if p.draft.Item != nil {
		item = *p.draft.Item
	}
	item.Stones, item.Hollow, item.Core = &told.SeesStones, &told.SeesHollow, &told.SeesCore
	draft := *p.draft
	draft.Item = &item
	p.draft, p.looked = &draft, true
}

// judge holds what the person comes to against the truth. Time at the bench ends with it.
func (p *practised) judge(finding, fault string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.score != nil {
		return errJudged
	}
	j := practice.Judgement{Finding: finding, Fault: fault, Acts: p.acts}
	score, err := p.task.Score(j)
	if err != nil {
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "A finding and what may be wrong are needed.", Hint: "Choose one of each; \"nothing is wrong\" is among them."}
	}
	p.judgement, p.score = j, &score
	p.stop()
	return nil
}

// rows are those of the sheet. The thermometer's is left out: what it shows stands in the request. The caller
// holds the lock.
func (p *practised) rows() []slotView {
	rows := slices.DeleteFunc(slots(p.sheet, p.draft, true), func(row slotView) bool { return row.Slot == "liquid.temperature_c" })
	if !slices.ContainsFunc(rows, func(row slotView) bool { return row.Slot == emptyHanger }) {
		rows = append(rows, slotView{Slot: emptyHanger, Unit: "g"})
	}
	for i := range rows {
		if rows[i].Slot == emptyHanger {
			rows[i].Name = say("empty hanger at the end")
		}
	}
	return rows
}

const emptyHanger = "closing_zero_g"

// evaluate is what the sheet comes to, by the way of every other sheet. The draft is what it was made of. The
// caller holds the lock.
func (p *practised) evaluate(version string) (*determination.Draft, *determination.Answer, error) {
	sheet, draft := p.sheet, *p.draft
	proof := map[string]bool{}
	for _, r := range sheet.Readings {
		if slot, is := strings.CutPrefix(r.Slot, "liquid.proof."); is && r.Withdrawn == nil {
			proof[slot] = true
		}
	}
	if len(proof) == 2 { // in air and in the liquid
		liquid := *draft.Liquid
		liquid.Proof = &determination.Proof{VolumeCm3: &p.task.Told.CheckCm3, VolumeUCm3: &p.task.Told.CheckUCm3}
		draft.Liquid = &liquid
	} else { // one alone says nothing yet
		sheet.Readings = slices.DeleteFunc(slices.Clone(sheet.Readings), func(r record.Reading) bool { return strings.HasPrefix(r.Slot, "liquid.proof.") })
	}
	document, err := station.WriteDraft(&draft)
	if err != nil {
		return &draft, nil, err
	}
	sheet.Requests = []record.Request{{Version: 1, Document: document, Made: sheet.Opened}}
	complete, err := record.Document(&sheet, nil, nil)
	if err != nil {
		return &draft, nil, err
	}
	whole, err := determination.Decode(complete.Document)
	if err != nil {
		return &draft, nil, err
	}
	a, err := determination.Evaluate(whole, determination.Options{Version: version})
	return whole, a, err
}

// lessonOf is the lesson that a form asks for; without a name an item is drawn that is on no list.
func lessonOf(key string) (practice.Lesson, error) {
	if key == "" || key == "fresh" {
		return practice.Fresh(mrand.Uint64N(1 << 32)), nil
	}
	var seed uint64
	if n, err := fmt.Sscanf(key, "fresh-%d", &seed); n == 1 && err == nil {
		return practice.Fresh(seed), nil
	}
	l, known := practice.LessonByKey(key)
	if !known {
		return l, &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is no such lesson.", Hint: "The page lists them."}
	}
	return l, nil
}
