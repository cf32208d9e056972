package web

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"wreath/internal/desk"
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
	station  station.Ref
	requests int      // of the sheet: one more asks for something else
	order    []string // slots that the sheet asks for, one entry a reading
	passed   []string // of these, what will not come
	another  bool     // a second liquid follows the first
	machine  *handsfree.Recogniser
	timeline timeline
	now      handsfree.Outcome
	last     live.Event     // with the latest value
	numbers  map[int]int    // capture to reading of the sheet
	doubts   map[int]doubt  // reading of the sheet to what speaks against it
	odd      map[int]string // capture to what spoke against the line when it was taken: another unit
	unproved bool           // the sheet says that the instrument is not proved to stand behind its port
	heard    map[int][]byte // capture to what was heard before it
	failed   string         // why the last capture could not be taken
	wanted   string         // slot that the sheet asks for
	asked    string         // slot that a person asked to take; it waits until the balance rests
	work     chan job
}

// doubt is what speaks against a reading, so that a person should look.
type doubt struct {
	slot string
	text string // of the recogniser; later weighings may answer it
	odd  string // of the line; it stands on the sheet as a remark
}

func (d doubt) String() string { return strings.TrimSpace(d.text + " " + d.odd) }

// timeline lays the streams of a balance one behind the other. A balance that is linked anew counts its seconds
// from zero again; what follows it does not.
type timeline struct {
	ahead   float64 // to be added to the seconds of the stream
	number  uint64  // of the last event
	seconds float64 // of the last event, on the stream's own scale
	at      time.Time
}

// take puts an event on one scale with those before. It says whether another stream begins with it.
func (t *timeline) take(e *live.Event) (anew bool) {
	own := e.Seconds
	if anew = t.number > 0 && (e.Number <= t.number || own < t.seconds); anew {
		const least = 1 // s; nobody links an instrument in less
		t.ahead += t.seconds + max(least, e.At.Sub(t.at).Seconds()) - own
	}
	t.number, t.seconds, t.at = e.Number, own, e.At
	e.Seconds += t.ahead
	e.Settle.Seconds, e.Settle.From, e.Settle.Began = e.Settle.Seconds+t.ahead, e.Settle.From+t.ahead, e.Settle.Began+t.ahead
	return anew
}

// job is a capture on its way to the sheet. Done, where it is not nil, is closed after it.
type job struct {
	capture handsfree.Capture
	heard   []byte
	latest  line.Value
	origin  live.Origin
	// unproved says that the instrument is not proved to stand behind its port; "" where it is.
	unproved string
	done     chan struct{}
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
	at := &atBalance{balance: balance, thermo: thermo, sheet: sheet.Sheet.ID, run: drawMark(), who: who, byItself: byItself,
		requests: len(sheet.Sheet.Requests), order: o.order, another: o.another,
		machine: handsfree.New(o.Options), numbers: map[int]int{}, doubts: map[int]doubt{},
		odd: map[int]string{}, heard: map[int][]byte{}, work: make(chan job, 64)}
	if sheet.Sheet.Station != nil {
		at.station = *sheet.Sheet.Station
	}
	at.now = handsfree.Outcome{Phase: at.machine.Phase()}
	s.counters.mu.Lock()
	if s.counters.at == nil {
		s.counters.at = map[string]*atBalance{}
	}
	before := s.counters.at[balance]
	if before != nil && before.sheet == at.sheet {
		at.inherit(before)
	}
	at.want(sheet.Sheet)
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

// inherit takes over what is known of the sheet's readings from the recogniser before. Nobody sees at yet.
func (at *atBalance) inherit(before *atBalance) {
	before.mu.Lock()
	defer before.mu.Unlock()
	at.doubts, at.unproved = maps.Clone(before.doubts), before.unproved
	if at.requests == before.requests {
		at.passed = slices.Clone(before.passed)
	}
}

// hear takes what a balance says to the sheet that is at it.
func (s *Server) hear(e live.Event) {
	at := s.ofBalance(e.Feed)
	if at == nil {
		return
	}
	at.mu.Lock()
	defer at.mu.Unlock()
	if at.timeline.take(&e) {
		at.machine.NoNumber(e.Seconds, false) // what happened between the streams nobody saw
	}
	if e.Kind == live.ProofChanged && e.Proof.Key == live.Proved {
		at.unproved = false
	}
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
		j := job{capture: c, latest: at.last.Value, origin: at.last.Origin, unproved: unproved(at.last.Suspicions)}
		if feed := s.o.Live.Feed(at.balance); feed != nil && c.Change == handsfree.Taken {
			at.heard[c.No], at.odd[c.No] = feed.Evidence(c.From-at.timeline.ahead, c.To-at.timeline.ahead).Recording, sentences(at.last.Suspicions)
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

// sentences joins what speaks against a value, apart from that its instrument is not proved: that goes for all
// of its values.
func sentences(suspicions []live.Suspicion) string {
	var out []string
	for _, s := range suspicions {
		if s.Key != live.SuspectUnproved {
			out = append(out, s.Sentence)
		}
	}
	return strings.Join(out, " ")
}

// unproved is the sentence that an instrument is not proved; "" where it is.
func unproved(suspicions []live.Suspicion) string {
	for _, s := range suspicions {
		if s.Key == live.SuspectUnproved {
			return s.Sentence
		}
	}
	return ""
}

// want tells the recogniser what the sheet asks for next.
func (at *atBalance) want(sheet record.Sheet) {
	slots := remaining(at.order, sheet)
	for _, slot := range at.passed {
		if i := slices.Index(slots, slot); i >= 0 {
			slots = slices.Delete(slots, i, i+1)
		}
	}
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
	speaks := doubt{slot: c.Slot, odd: at.odd[c.No]}
	if c.Doubtful() {
		speaks.text = cmp.Or(c.Doubt, c.Why)
	}
	if c.Change == handsfree.Confirmed || c.Change == handsfree.Doubted {
		at.doubted(no, speaks)
	}
	aside := (c.Change == handsfree.Moved || c.Change == handsfree.Aside) && no > 0
	if aside { // before the sheet says so: it is no act of a person
		delete(at.numbers, c.No)
		delete(at.doubts, no)
	}
	at.mu.Unlock()
	mark := func(what string) desk.By {
		return desk.By{Who: who, Key: fmt.Sprintf("%s-%d-%s-%s", at.run, c.No, what, c.Slot)}
	}
	if aside {
		_, err := d.Withdraw(ctx, mark("aside"), at.sheet, no, cmp.Or(c.Why, "it was something else"))
		var field *record.FieldError
		if err != nil && !errors.As(err, &field) { // set aside by a person already
			return err
		}
	}
	if c.Change != handsfree.Taken && c.Change != handsfree.Moved || !c.IsReading() {
		return nil
	}
	r := record.Reading{Slot: c.Slot, Source: record.Received, Rested: true, Settled: j.latest.Mark == line.Settled && shows(j.latest, c.Shown)}
	r.Text, r.Unit = asShown(c, j.latest)
	sheet, err := d.TakeHeard(ctx, mark("take"), at.sheet, r, desk.Heard{Stream: j.heard, Invented: j.origin != live.Real})
	if err != nil {
		return err
	}
	n := len(sheet.Sheet.Readings)
	if n == 0 {
		return nil // the sheet was concluded meanwhile
	}
	taken := sheet.Sheet.Readings[n-1]
	at.mu.Lock()
	at.numbers[c.No], at.failed = taken.No, ""
	at.doubted(taken.No, speaks)
	at.want(sheet.Sheet)
	says := j.unproved != "" && !at.unproved
	at.unproved = at.unproved || says
	other, byItself := at.another && at.wanted == "", at.byItself
	at.mu.Unlock()
	// No later weighing answers what spoke against the line, so the record holds it too.
	if speaks.odd != "" {
		if _, err := d.Note(ctx, mark("odd"), at.sheet, ofReading(taken.No, taken.Slot)+": "+speaks.odd); err != nil {
			return err
		}
	}
	if says {
		text := ofReading(taken.No, taken.Slot) + ", and all after it until a check weight is seen: " + j.unproved
		if _, err := d.Note(ctx, mark("unproved"), at.sheet, text); err != nil {
			return err
		}
	}
	if err := s.warmth(ctx, at, mark("warmth"), c); err != nil || !other {
		return err
	}
	return s.bring(ctx, who, sheet, at.balance, at.thermo, byItself) // the second liquid's turn
}

// shows says whether a line shows a number of the display.
func shows(v line.Value, shown float64) bool {
	return v.State == line.Reading && math.Abs(v.Number-shown) < v.Interval/2
}

// doubted notes what speaks against a reading of the sheet, or that nothing does. The caller holds the lock.
func (at *atBalance) doubted(no int, d doubt) {
	switch {
	case no == 0:
	case d.String() == "":
		delete(at.doubts, no)
	default:
		at.doubts[no] = d
	}
}

// ofReading names a reading in a remark.
func ofReading(no int, slot string) string { return fmt.Sprintf("Reading %d, %s", no, plain(slot)) }

// unanswered is what nobody has answered about the readings that were taken from a balance to a sheet, for its
// record.
func (s *Server) unanswered(sheet string) (out []string) {
	at := s.ofSheet(sheet)
	if at == nil {
		return nil
	}
	at.mu.Lock()
	defer at.mu.Unlock()
	for _, no := range slices.Sorted(maps.Keys(at.doubts)) {
		if d := at.doubts[no]; d.text != "" {
			out = append(out, ofReading(no, d.slot)+", a doubt that nobody answered: "+d.text)
		}
	}
	if q := at.now.Question; q != nil {
		of := "A load that was not taken"
		if no := at.numbers[q.No]; no > 0 {
			of = fmt.Sprintf("Reading %d", no)
		}
		out = append(out, of+", a question that nobody answered: "+q.Text)
	}
	return out
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
	v := snap.Thermometer.Value
	_, err := s.current().TakeHeard(ctx, by, at.sheet, record.Reading{
		Slot: "liquid.temperature_c", Text: strconv.FormatFloat(v.Number, 'f', decimals(v.Interval), 64),
		Source: record.Received, Settled: v.Mark == line.Settled, Rested: snap.Temperature.Phase == settle.Settled,
	}, desk.Heard{Stream: heard.Recording, Invented: snap.Origin != live.Real})
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

// goWithout gives up the reading that the sheet asks for next: it will not come.
func (s *Server) goWithout(ctx context.Context, who *desk.Who, at *atBalance) error {
	sheet, err := s.current().Sheet(ctx, who, at.sheet)
	if err != nil {
		return err
	}
	at.mu.Lock()
	defer at.mu.Unlock()
	if at.wanted != "" {
		at.passed = append(at.passed, at.wanted)
		at.want(sheet.Sheet)
	}
	return nil
}

// keepAllUp is keepUp for every sheet that is at a balance, after another program may have changed it in the store.
func (s *Server) keepAllUp(ctx context.Context) {
	s.counters.mu.Lock()
	all := slices.Collect(maps.Values(s.counters.at))
	s.counters.mu.Unlock()
	for _, at := range all {
		at.mu.Lock()
		who := at.who
		at.mu.Unlock()
		if err := s.keepUp(ctx, who, at.sheet); err != nil {
			s.o.Log.Debug("a sheet at a balance can't be looked at", "sheet", at.sheet, "error", err) // whose name it is there in has signed out
		}
	}
}

// keepUp brings what is known at the balance up to what the sheet says now, after somebody changed the sheet
// at a page or as a program. A sheet that is concluded, given up or moved on leaves its balance; where another
// item, claim or rule is asked for, the story begins anew.
func (s *Server) keepUp(ctx context.Context, who *desk.Who, id string) error {
	at := s.ofSheet(id)
	if at == nil {
		return nil
	}
	sheet, err := s.current().Sheet(ctx, who, id)
	var user *desk.UserError
	switch {
	case errors.As(err, &user) && user.Missing:
		s.leave(id)
		return nil
	case err != nil:
		return err
	}
	at.mu.Lock()
	moved := sheet.Sheet.Station == nil || *sheet.Sheet.Station != at.station
	anew, byItself := len(sheet.Sheet.Requests) != at.requests, at.byItself
	at.mu.Unlock()
	switch {
	case moved: // the other station has a balance of its own
		s.leave(id)
		return nil
	case anew:
		return s.bring(ctx, who, sheet, at.balance, at.thermo, byItself)
	}
	at.mu.Lock()
	defer at.mu.Unlock()
	for capture, no := range at.numbers {
		if no <= len(sheet.Sheet.Readings) && sheet.Sheet.Readings[no-1].Withdrawn != nil {
			delete(at.numbers, capture)
			now := at.machine.SetAside(capture)
			now.Captures = nil // it is set aside already
			s.act(at, now, nil)
		}
	}
	for no := range at.doubts {
		if no <= len(sheet.Sheet.Readings) && sheet.Sheet.Readings[no-1].Withdrawn != nil {
			delete(at.doubts, no)
		}
	}
	at.want(sheet.Sheet)
	return nil
}
