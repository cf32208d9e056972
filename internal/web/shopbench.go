package web

import (
	"net/http"

	"wreath/internal/desk"
	"wreath/internal/live"
	"wreath/internal/people"
	"wreath/internal/simulated"
	"wreath/internal/simulation"
	"wreath/internal/source"
)

// ShopBench is a simulated bench whose instruments are linked in the shop, which is a demonstration. Sheets
// that are weighed at it are marked as simulated.
type ShopBench struct {
	Station *simulated.Station
	Balance string            // its balance in the shop's files
	Weigh   []simulation.Move // what somebody does there who weighs by himself, from its beginning
}

// shopBenchView is the page of the hands at the shop's simulated bench.
type shopBenchView struct {
	Now   nowView
	Bench string
	Busy  bool
	Fresh bool // nothing is on it: somebody can begin to weigh
	Acts  []actGroup
}

// shopBench is the simulated bench of the shop that is open; nil where it has none.
func (s *Server) shopBench() *ShopBench {
	if s.o.ShopBench == nil {
		return nil
	}
	return s.o.ShopBench()
}

// benchOfShop finds the bench and the feed of its balance, for whoever may take readings.
func (s *Server) benchOfShop(who *desk.Who) (*ShopBench, *live.Feed, error) {
	if !who.May(people.TakeReading) {
		return nil, nil, &people.Refused{Action: people.TakeReading, Name: who.Person().Name, Reason: "it needs the role measure", Hint: "Let somebody weigh who has the role."}
	}
	b := s.shopBench()
	if b == nil {
		return nil, nil, &problem{Type: "missing", Status: http.StatusNotFound, Title: "This shop has no simulated bench.", Hint: "The demonstration shop has one. To practise, choose a lesson."}
	}
	feed := s.feed(b.Balance)
	if feed == nil || feed.Config().Address.Kind != source.Simulated {
		return nil, nil, &problem{Type: "missing", Status: http.StatusNotFound, Title: "The balance of the simulated bench is not linked.", Hint: "The page of stations says why."}
	}
	return b, feed, nil
}

// shopHands is the page of the hands at the shop's simulated bench.
func (s *Server) shopHands(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	b, feed, err := s.benchOfShop(who)
	if err != nil {
		return err
	}
	state := b.Station.State()
	v := &shopBenchView{Now: showNow(feed.Snapshot(), s.o.Now()), Bench: benchWords[state.Place], Busy: state.Busy, Acts: practiceActs(false, false),
		Fresh: !state.Busy && state.Place == simulation.Away && !state.HangerOn}
	possible(v.Acts, state.Possible)
	s.render(w, r, http.StatusOK, "shopbench", view{Title: "Hands at the simulated bench", Nav: "practice", Who: who, Body: v})
	return nil
}

// shopHand does an act at the shop's simulated bench, or lets somebody weigh there.
func (s *Server) shopHand(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	b, feed, err := s.benchOfShop(who)
	if err != nil {
		return err
	}
	switch act := simulation.Act(r.FormValue("do")); {
	case act == "weigh":
		if state := b.Station.State(); state.Busy || state.Place != simulation.Away || state.HangerOn {
			return &problem{Type: "input", Status: http.StatusConflict, Title: "The bench is not free.", Hint: "Take item and hanger away first, or wait until the hand has left."}
		}
		b.Station.Weigh(b.Weigh...)
	case !knows(practiceActs(false, false), act):
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "There is no such act at this bench.", Hint: "The buttons name those that there are."}
	default:
		if err := handle(r.Context(), b.Station, feed, act); err != nil {
			return err
		}
	}
	back(w, r, "/practice/shop")
	return nil
}
