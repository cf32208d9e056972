package web

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/handsfree"
	"wreath/internal/line"
	"wreath/internal/live"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/station"
	"wreath/settle"
)

// atBalance is the one sheet that a linked balance weighs for. Two counters may have their sheets open; what
// the balance says goes to this one.
type atBalance struct {
	balance string // id of the instrument
	thermo  string // id of the station's thermometer, where it is linked; ""
	sheet   string
	run     string // drawn anew with every recogniser, so that the marks of its acts are its own

	mu       sync.Mutex
	who      *desk.Who // in whose name readings are taken: who brought the sheet here or acted on it last
	byItself bool
	standing bool // the vessel stands on the pan
	machine  *handsfree.Recogniser
	now      handsfree.Outcome
	last     live.Event  // with the latest value
	numbers  map[int]int // capture to reading of the sheet
	doubts   map[int]string
	odd      map[int]string // capture to what spoke against the line when it was taken: unproved, another unit
	heard    map[int][]byte // capture to what was heard before it
	failed   string         // why the last capture could not be taken
	wanted   string         // slot that the sheet asks for
	asked    string         // slot that a person asked to take; it waits until the balance rests
	work     chan job
}

// job is a capture on its way to the sheet. Done, where it is not nil, is closed after it.
type job struct {
	capture handsfree.Capture
	heard   []byte
	latest  line.Value
	origin  live.Origin
	done    chan struct{}
}

// counters hold which sheet is at which balance.
type counters struct {
	mu sync.Mutex
	at map[string]*atBalance // by the balance
}

// ofBalance is the sheet at a balance; nil is none.
func (s *Server) ofBalance(id string) *atBalance {
	s.counters.mu.Lock()
	defer s.counters.mu.Unlock()
	return s.counters.at[id]
}

// ofSheet is the balance that a sheet is at; nil is none.
func (s *Server) ofSheet(id string) *atBalance {
	s.counters.mu.Lock()
	defer s.counters.mu.Unlock()
	for _, at := range s.counters.at {
		if at.sheet == id {
			return at
		}
	}
	return nil
}

// leave takes a sheet away from its balance, because it is concluded or given up.
func (s *Server) leave(sheet string) {
	at := s.ofSheet(sheet)
	if at == nil {
		return
	}
	s.counters.mu.Lock()
	delete(s.counters.at, at.balance)
	s.counters.mu.Unlock()
	at.close()
	s.hub.stir(at.balance)
}

// close ends the worker. Nothing is sent to it after.
func (at *atBalance) close() {
	at.mu.Lock()
	defer at.mu.Unlock()
	if at.work != nil {
		close(at.work)
		at.work = nil
	}
}

// bring puts a sheet at its station's balance, in place of the one that was there.
func (s *Server) bring(ctx context.Context, who *desk.Who, sheet desk.Sheet, balance, thermo string, byItself bool) error {
	o, err := s.recogniserOptions(ctx, who, sheet.Sheet)
	if err != nil {
		return err
	}
	o.OnTake = !byItself
	at := &atBalance{balance: balance, thermo: thermo, sheet: sheet.Sheet.ID, run: drawMark(), who: who, byItself: byItself, standing: o.Standing,
		machine: handsfree.New(o), numbers: map[int]int{}, doubts: map[int]string{},
		odd: map[int]string{}, heard: map[int][]byte{}, work: make(chan job, 64)}
	at.now = handsfree.Outcome{Phase: at.machine.Phase()}
	at.want(o.Wanted)
	s.counters.mu.Lock()
	if s.counters.at == nil {
		s.counters.at = map[string]*atBalance{}
	}
	before := s.counters.at[balance]
	s.counters.at[balance] = at
	s.counters.mu.Unlock()
	go s.write(at, at.work)
	if before != nil {
		before.close()
		if before.sheet != at.sheet {
			s.hub.tell(before.sheet)
			if feed := s.o.Live.Feed(balance); feed != nil {
				feed.NextItem()
			}
		}
	}
	s.hub.stir(balance)
	return nil
}

// recogniserOptions are what is known of a sheet before the balance says anything.
func (s *Server) recogniserOptions(ctx context.Context, who *desk.Who, sheet record.Sheet) (o handsfree.Options, err error) {
	d := s.current()
	draft, err := d.Filled(ctx, who, sheet.ID)
	if err != nil {
		asked, decodeErr := determination.Decode(sheet.Requests[len(sheet.Requests)-1].Document)
		if decodeErr != nil {
			return o, decodeErr
		}
		draft = asked // the readings don't go together; what is asked still says how it hangs
	}
	o.Standing = draft.Arrangement == "standing"
	if b := draft.Balance; b != nil {
		o.ZeroRead = b.Zero == "read"
		o.IntervalG, o.RepeatabilityG, o.RepeatabilityLiquidG, o.CapacityG = or0(b.ResolutionG), or0(b.RepeatabilityG), or0(b.RepeatabilityLiquidG), or0(b.CapacityG)
	}
	if l := draft.Liquid; l != nil && l.DensityKgM3 != nil {
		o.LiquidGCm3 = *l.DensityKgM3 / 1000
	} else if l != nil && l.Kind == "ethanol-water" {
		o.LiquidGCm3 = 0.8 // of any strength, near enough to tell a load in it from one in air
	}
	if sheet.Station != nil && who.May(people.SeeStations) {
		equipment, err := d.Equipment(ctx, who)
		if err != nil {
			return o, err
		}
		o.Check = checkOf(equipment, *sheet.Station)
	}
	for _, r := range sheet.Readings {
		if !sheet.Counts(r) || unitOf(r.Slot) != "g" {
			continue
		}
		if x, err := r.Value(); err == nil {
			o.Held = append(o.Held, handsfree.Held{Slot: r.Slot, Value: x})
		}
	}
	o.Wanted = wantedSlots(sheet, o.Standing)
	return o, nil
}

// checkOf is the check piece of a station, as the recogniser knows it; nil where there is none.
func checkOf(e desk.Equipment, at station.Ref) *handsfree.Check {
	for _, place := range e.Stations {
		if place.ID != at.ID || place.CheckPiece == nil {
			continue
		}
		for _, i := range e.Instruments {
			if i.ID != place.CheckPiece.ID || i.Solid == nil {
				continue
			}
			c := &handsfree.Check{AirG: or0(i.Solid.MassG), AirUG: or0(i.Solid.MassUG), VolumeCm3: or0(i.Solid.VolumeCm3)}
			if c.VolumeCm3 == 0 && i.Solid.DensityKgM3 != nil {
				c.VolumeCm3 = c.AirG / *i.Solid.DensityKgM3 * 1000
			}
			return c
		}
	}
	return nil
}

// wantedSlots are the weighings of the item that the usual order still asks for: once in air, twice immersed,
// once in air again.
func wantedSlots(sheet record.Sheet, standing bool) []string {
	immersed := "liquid_g"
	if standing {
		immersed = "gain_g"
	}
	wanted := []string{"air_g", immersed, immersed, "closing_air_g"}
	for _, r := range sheet.Readings {
		if !sheet.Counts(r) {
			continue
		}
		if i := slices.Index(wanted, r.Slot); i >= 0 {
			wanted = slices.Delete(wanted, i, i+1)
		}
	}
	return wanted
}

// hear takes what a balance says to the sheet that is at it.
func (s *Server) hear(e live.Event) {
	at := s.ofBalance(e.Feed)
	if at == nil {
		return
	}
	at.mu.Lock()
	defer at.mu.Unlock()
	var now handsfree.Outcome
	switch {
	case (e.Kind == live.ValueRead || e.Kind == live.PhaseChanged) && e.Value.Kind == line.Mass && e.Settle.N > 0:
		at.last = e
		now = at.machine.Add(e.Settle)
	case e.Kind == live.StateChanged && slices.Contains([]string{live.Overload, live.Underload, live.Fault}, e.State.Key):
		now = at.machine.NoNumber(e.Seconds, e.State.Key == live.Overload)
	default:
		return
	}
	s.act(at, now, nil)
}

// act does what an outcome asks for. The caller holds the lock of at. Done, where it is not nil, is closed
// when the last capture was entered; false says that nothing is to be waited for.
func (s *Server) act(at *atBalance, now handsfree.Outcome, done chan struct{}) bool {
	asked := at.now.Question
	now = at.settleAsked(now)
	at.now = now
	expected := slices.ContainsFunc(now.Captures, func(c handsfree.Capture) bool { return c.Change == handsfree.Taken && c.Slot == at.wanted })
	for _, sound := range now.Sounds {
		// The page says that a reading is taken when it stands in its place. What is asked about a reading
		// that was expected can wait until the hands are free: later weighings mostly answer it.
		if sound == handsfree.SoundTaken || sound == handsfree.SoundDoubt && expected {
			continue
		}
		s.hub.sound(at.balance, string(sound))
	}
	waits := false
	for i, c := range now.Captures {
		j := job{capture: c, latest: at.last.Value, origin: at.last.Origin}
		if feed := s.o.Live.Feed(at.balance); feed != nil && c.Change == handsfree.Taken {
			at.heard[c.No], at.odd[c.No] = feed.Evidence(c.From, c.To).Bytes, sentences(at.last.Suspicions)
		}
		// What turns out to be another reading keeps what was heard when it was taken: the feed may have
		// forgotten it, or have been made anew with a clock of its own.
		j.heard = at.heard[c.No]
		if i == len(now.Captures)-1 {
			j.done = done
		}
		select {
		case at.work <- j:
			waits = waits || j.done != nil
		default:
			at.failed = "the captures come faster than they can be written down"
		}
	}
	if changedQuestion(asked, now.Question) {
		s.hub.tell(at.sheet)
	}
	return waits
}

// sentences joins what speaks against a value.
func sentences(suspicions []live.Suspicion) string {
	var out []string
	for _, s := range suspicions {
		out = append(out, s.Sentence)
	}
	return strings.Join(out, " ")
}

// want keeps the slot that the sheet asks for next.
func (at *atBalance) want(slots []string) {
	at.machine.SetWanted(slots)
	if at.wanted = ""; len(slots) > 0 {
		at.wanted = slots[0]
	}
}

// loads are what lies on the balance while a slot is read.
var loads = map[string]handsfree.Load{
	handsfree.Air: handsfree.ItemAir, handsfree.ClosingAir: handsfree.ItemAir, handsfree.Liquid: handsfree.ItemLiquid, handsfree.Gain: handsfree.ItemLiquid,
	handsfree.CheckAir: handsfree.CheckInAir, handsfree.CheckLiquid: handsfree.CheckImmerse, handsfree.CheckGain: handsfree.CheckImmerse, handsfree.ClosingZero: handsfree.EmptyLiquid,
}

// leastLoad is how many scale intervals a load has at least that a person may call an item; chosen here.
const leastLoad = 20

// settleAsked takes a person's word. Who takes a reading by hand has the row that the sheet asks for before the
// eyes: where the numbers leave open what rests on the balance, it is that.
func (at *atBalance) settleAsked(now handsfree.Outcome) handsfree.Outcome {
	load, known := loads[at.asked]
	if !known {
		at.asked = ""
		return now
	}
	no := -1
	if q := now.Question; q != nil && q.No == 0 && slices.Contains(q.Choices, load) {
		no = 0
	}
	// Of the first rest that it sees the recogniser knows little; who asks for the item's weighing does.
	e := at.last.Settle
	if no < 0 && len(at.numbers) == 0 && load == handsfree.ItemAir && now.Phase.Key == handsfree.PhaseWaiting &&
		e.Phase == settle.Settled && math.Abs(e.Value) > leastLoad*at.last.Value.Interval {
		no = 0
	}
	for _, c := range now.Captures {
		if c.Change == handsfree.Taken && c.IsReading() {
			if at.asked = ""; c.Load == load && c.Doubtful() {
				no = c.No
			}
		}
	}
	if no < 0 {
		return now
	}
	at.asked = ""
	said := at.machine.Say(no, load)
	said.Captures = append(now.Captures, said.Captures...)
	said.Sounds = nil // it was asked for
	return said
}

func changedQuestion(before, after *handsfree.Question) bool {
	if before == nil || after == nil {
		return before != after
	}
	return before.No != after.No || before.Text != after.Text
}

// write enters captures one after the other, until the sheet leaves the balance.
func (s *Server) write(at *atBalance, work <-chan job) {
	for j := range work {
		if err := s.enter(at, j); err != nil {
			at.mu.Lock()
			at.failed = err.Error()
			if errors.As(err, new(*people.SignInError)) || errors.As(err, new(*people.Refused)) || errors.Is(err, people.ErrLocked) {
				at.byItself = false // whose name it was done in may do it no more
			}
			at.mu.Unlock()
			s.hub.sound(at.balance, string(handsfree.SoundDoubt))
			s.o.Log.Warn("a reading from the balance was not taken", "sheet", at.sheet, "error", err)
		}
		if j.done != nil {
			close(j.done)
		}
		s.hub.tell(at.sheet)
		s.hub.stir(at.balance)
	}
}

// enter brings one capture to the sheet. What turns out to be something else is set aside, never erased.
func (s *Server) enter(at *atBalance, j job) error {
	ctx := context.Background()
	c, d := j.capture, s.current()
	at.mu.Lock()
	who, no := at.who, at.numbers[c.No]
	delete(at.doubts, c.No)
	odd := at.odd[c.No]
	if c.Change != handsfree.Aside && c.IsReading() {
		doubt := odd
		if c.Doubtful() {
			doubt = strings.TrimSpace(cmp.Or(c.Doubt, c.Why) + " " + doubt)
		}
		if doubt != "" {
			at.doubts[c.No] = doubt
		}
	}
	at.mu.Unlock()
	mark := func(what string) desk.By {
		return desk.By{Who: who, Key: fmt.Sprintf("%s-%d-%s-%s", at.run, c.No, what, c.Slot)}
	}
	if (c.Change == handsfree.Moved || c.Change == handsfree.Aside) && no > 0 {
		_, err := d.Withdraw(ctx, mark("aside"), at.sheet, no, cmp.Or(c.Why, "it was something else"))
		var field *record.FieldError
		if err != nil && !errors.As(err, &field) { // set aside by a person already
			return err
		}
		at.mu.Lock()
		delete(at.numbers, c.No)
		at.mu.Unlock()
	}
	if c.Change != handsfree.Taken && c.Change != handsfree.Moved || !c.IsReading() {
		return nil
	}
	r := record.Reading{Slot: c.Slot, Source: record.Received, Settled: true}
	r.Text, r.Unit = asShown(c, j.latest)
	sheet, err := d.TakeHeard(ctx, mark("take"), at.sheet, r, desk.Heard{Stream: j.heard, Invented: j.origin != live.Real})
	if err != nil {
		return err
	}
	if n := len(sheet.Sheet.Readings); n > 0 {
		at.mu.Lock()
		at.numbers[c.No], at.failed = sheet.Sheet.Readings[n-1].No, ""
		at.want(wantedSlots(sheet.Sheet, at.standing))
		at.mu.Unlock()
	}
	if odd != "" && len(sheet.Sheet.Readings) > 0 {
		// No later weighing answers it, so the record holds it too.
		taken := sheet.Sheet.Readings[len(sheet.Sheet.Readings)-1]
		if _, err := d.Note(ctx, mark("odd"), at.sheet, fmt.Sprintf("Reading %d (%s): %s", taken.No, taken.Slot, odd)); err != nil {
			return err
		}
	}
	return s.warmth(ctx, at, mark("warmth"), c)
}

// freshS is how old the thermometer's last word may be when it is taken beside a weighing, s; chosen here.
const freshS = 60

// warmth takes the temperature of the liquid beside a weighing in it.
func (s *Server) warmth(ctx context.Context, at *atBalance, by desk.By, c handsfree.Capture) error {
	immersed := c.Slot == handsfree.Liquid || c.Slot == handsfree.Gain || c.Slot == handsfree.CheckLiquid || c.Slot == handsfree.CheckGain
	if !immersed || at.thermo == "" {
		return nil
	}
	feed := s.o.Live.Feed(at.thermo)
	if feed == nil {
		return nil
	}
	snap := feed.Snapshot()
	if snap.Thermometer == nil || snap.Thermometer.Age > freshS*time.Second || snap.Temperature.Phase == settle.Moving {
		return nil
	}
	heard := feed.Evidence(snap.Thermometer.Seconds-5, snap.Thermometer.Seconds)
	_, err := s.current().TakeHeard(ctx, by, at.sheet, record.Reading{
		Slot: "liquid.temperature_c", Text: strconv.FormatFloat(snap.Thermometer.Value.Number, 'f', decimals(snap.Thermometer.Value.Interval), 64),
		Source: record.Received, Settled: snap.Temperature.Phase == settle.Settled,
	}, desk.Heard{Stream: heard.Bytes, Invented: snap.Origin != live.Real})
	return err
}

// asShown is a capture as the balance showed it, in the balance's own unit where it did. A difference of two
// readings, and a value that the display did not show any more, are in grams with the digits of the display.
func asShown(c handsfree.Capture, latest line.Value) (text, unit string) {
	if c.Zero == 0 && latest.State == line.Reading && latest.Text != "" && math.Abs(latest.Number-c.Value) < latest.Interval/2 {
		if latest.Unit == "g" {
			return latest.Text, ""
		}
		return latest.Text, latest.Unit
	}
	text = strconv.FormatFloat(c.Value, 'f', decimals(latest.Interval), 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-") // a rounded zero has no sign
	}
	return text, ""
}

// decimals is how many digits after the point one unit of the last digit needs.
func decimals(interval float64) int {
	if !(interval > 0) {
		return 4
	}
	n := 0
	for x := interval; n < 9 && math.Abs(x-math.Round(x)) > 1e-6*x; x *= 10 {
		n++
	}
	return n
}

// handAct does an act of hands at the balance: take, again, next, say. It waits until what was captured by
// it stands on the sheet. Asked is the slot that the person takes it for, "" where nothing is taken.
func (s *Server) handAct(ctx context.Context, at *atBalance, who *desk.Who, asked string, do func(*handsfree.Recogniser) handsfree.Outcome) {
	done := make(chan struct{})
	at.mu.Lock()
	at.who, at.asked = who, asked
	waits := s.act(at, do(at.machine), done)
	at.mu.Unlock()
	s.hub.stir(at.balance)
	if !waits {
		return
	}
	select {
	case <-done:
	case <-ctx.Done():
	}
}

// asideAt tells the recogniser that a person has set a reading aside.
func (s *Server) asideAt(sheet string, no int) {
	at := s.ofSheet(sheet)
	if at == nil {
		return
	}
	at.mu.Lock()
	defer at.mu.Unlock()
	for capture, reading := range at.numbers {
		if reading == no {
			delete(at.numbers, capture)
			delete(at.doubts, capture)
			now := at.machine.SetAside(capture)
			now.Captures = nil // it is set aside already
			s.act(at, now, nil)
		}
	}
}

// changedByHand tells the recogniser what the sheet asks for after somebody added a reading or changed it by
// hand. Another item, claim or station begins the story anew.
func (s *Server) changedByHand(ctx context.Context, who *desk.Who, id string, anew bool) error {
	at := s.ofSheet(id)
	if at == nil {
		return nil
	}
	sheet, err := s.current().Sheet(ctx, who, id)
	if err != nil {
		return err
	}
	at.mu.Lock()
	byItself := at.byItself
	at.mu.Unlock()
	if anew {
		return s.bring(ctx, who, sheet, at.balance, at.thermo, byItself)
	}
	o, err := s.recogniserOptions(ctx, who, sheet.Sheet)
	if err != nil {
		return err
	}
	at.mu.Lock()
	defer at.mu.Unlock()
	at.want(o.Wanted)
	return nil
}
