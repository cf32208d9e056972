package web

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"wreath/internal/line"
	"wreath/internal/live"
	"wreath/internal/source"
	"wreath/internal/station"
	"wreath/settle"
)

// LiveConfig says how the readings of a linked instrument are followed. The error says what of the link
// can't be used.
func LiveConfig(i *station.Instrument) (live.Config, error) {
	l := i.Link
	c := live.Config{ID: i.ID, Name: strings.TrimSpace(i.Maker + " " + i.Type), Channel: l.Channel}
	var err error
	if c.Address, err = source.ParseAddress(l.Address); err != nil {
		return c, err
	}
	if l.Pattern != nil {
		if c.Pattern, err = line.DecodePattern(l.Pattern); err != nil {
			return c, fmt.Errorf("the pattern of %s: %w", i.ID, err)
		}
	}
	if c.Request, err = l.RequestBytes(); err != nil {
		return c, err
	}
	if l.RequestEveryS != nil {
		c.Every = time.Duration(*l.RequestEveryS * float64(time.Second))
	}
	if i.Kind == station.Balance {
		c.Settle = settle.Options{UnitName: "g", Interval: or0(i.ScaleIntervalG), Repeatability: or0(i.RepeatabilityG)}
		c.Capacity = or0(i.CapacityG)
	}
	if b := l.Binding; b != nil {
		c.Binding = &live.Binding{Identity: b.Port, MassG: *b.CheckG, ToleranceG: *b.ToleranceG}
	}
	return c, nil
}

func or0(x *float64) float64 {
	if x == nil {
		return 0
	}
	return *x
}

// relinked is how often the program looks whether another one has linked an instrument, or changed a sheet that
// is at a balance.
const relinked = 15 * time.Second

// follow keeps the hub to the instruments that are linked, and passes on what they say, until the pages end.
func (s *Server) follow() {
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	go func() {
		tick := time.NewTicker(relinked)
		defer tick.Stop()
		for {
			select {
			case <-s.over:
				stop()
				return
			case <-ctx.Done():
				return
			case now := <-tick.C:
				s.endForgotten(now)
				s.relink(ctx)
				s.keepAllUp(ctx)
			}
		}
	}()
	s.relink(ctx)
	for {
		said := s.o.Live.Subscribe()
		err := s.pass(ctx, said)
		said.Close()
		if !errors.Is(err, live.ErrBehind) {
			return
		}
	}
}

// pass passes events on until the subscription ends.
func (s *Server) pass(ctx context.Context, said *live.Subscription) error {
	for {
		e, err := said.Next(ctx)
		if err != nil {
			return err
		}
		s.hear(e)
		s.hub.stir(e.Feed)
	}
}

// relink brings the hub to what is linked now.
func (s *Server) relink(ctx context.Context) {
	d := s.current()
	if s.o.Live == nil || d == nil {
		return
	}
	s.linking.Lock()
	defer s.linking.Unlock()
	linked, err := d.Linked(ctx)
	if err != nil {
		s.o.Log.Error("the linked instruments can't be read", "error", err)
		return
	}
	var ids []string
	wrong := map[string]string{}
	for i := range linked {
		c, err := LiveConfig(&linked[i])
		if err == nil && !s.taught(linked[i].ID) {
			err = s.o.Live.Put(c)
			ids = append(ids, c.ID)
		}
		if err != nil {
			wrong[linked[i].ID] = err.Error()
		}
	}
	for _, now := range s.o.Live.Snapshots() {
		if !slices.Contains(ids, now.ID) {
			s.o.Live.Remove(now.ID)
		}
	}
	s.wrongLinks = wrong
}

// wrongLink says why an instrument that is linked can't be followed; "" where it can.
func (s *Server) wrongLink(id string) string {
	s.linking.Lock()
	defer s.linking.Unlock()
	return s.wrongLinks[id]
}

// signs are the shapes of a reading's state: a level line, a wave, dots, a block.
var signs = map[string]string{
	"still": "M2 6H30", "moving": "M2 6c2-7 5-7 7 0s5 7 7 0 5-7 7 0 5 7 7 0", "gone": "M4 6h.1M16 6h.1M28 6h.1", "stop": "M2 2h28v8H2z",
}

// stateWords are the states of an instrument, each with its shape.
var stateWords = map[string]struct{ Shape, Word string }{
	live.NotConnected: {"gone", say("no signal")}, live.Connecting: {"gone", say("connecting")}, live.Waiting: {"gone", say("nothing heard yet")},
	live.Silent: {"gone", say("no signal")}, live.NotUnderstood: {"gone", say("its lines can't be read")}, live.Ended: {"gone", say("at its end")},
	live.Overload: {"stop", say("overload")}, live.Underload: {"stop", say("below its range")}, live.Fault: {"stop", say("the instrument reports a fault")},
	live.Moving: {"moving", say("moving")}, live.Settling: {"moving", say("settling")}, live.Still: {"still", say("still")},
}

// nowView is what a balance says now, as the sheet shows it.
type nowView struct {
	ID     string
	State  string // shape of the state
	Sign   string // path that draws it
	Word   string // of the catalogue
	Since  time.Time
	Ago    int    // whole seconds since then
	Counts bool   // the seconds are told
	Head   string // digits that stand
	Soft   string // digits that still change
	Unit   string
	Class  string
	Path   string // last 30 s of the signal
	What   string // what is on the balance, of the catalogue
	Doing  string // what the program waits for, in English
	Notes  []string
	Mark   string // simulated, recording, program: no real instrument is known to speak
	Unsure bool   // the instrument is not proved to stand behind its port
	Wedge  bool   // it types into a field of the page

	Here     bool // this sheet is at the balance
	There    tray // the sheet that is, where it is another one
	Taken    bool // a sheet is at the balance
	ByItself bool
	Question *questionView
	Wants    string         // slot that the program waits for
	Doubts   map[int]string // reading of the sheet to what speaks against it
}

// Doubted is what speaks against a reading of the sheet that the program took; "" where nothing does.
func (v *sheetView) Doubted(no int) string {
	if v.Now == nil {
		return ""
	}
	return v.Now.Doubts[no]
}

// questionView is what is asked about a rest of the balance.
type questionView struct {
	No      int
	Text    string
	Choices []choiceView
}

type choiceView struct{ Load, Name string }

// origins says what speaks where it is no real instrument.
var origins = map[live.Origin]string{live.Simulated: say("simulated"), live.Playback: say("a recording"), live.Pseudo: say("a program speaks")}

// showNow is how an instrument stands at the moment.
func showNow(snap live.Snapshot, now time.Time) nowView {
	words, known := stateWords[snap.State.Key]
	if !known {
		words.Shape, words.Word = "gone", say("no signal")
	}
	since := snap.State.Since
	if b := latest(snap); b != nil && b.Age > oldS*time.Second && (words.Shape == "still" || words.Shape == "moving") {
		words.Shape, words.Word, since = "gone", say("no signal"), b.At // of a line on which silence is no fault
	}
	v := nowView{
		ID: snap.ID, State: words.Shape, Sign: signs[words.Shape], Word: words.Word, Since: since, Mark: origins[snap.Origin],
		Counts: words.Shape != "moving" && words.Shape != "stop" && !since.IsZero(), Unsure: snap.Proof.Key == "unproved",
		Wedge: strings.HasPrefix(snap.Address, string(source.Wedge)+":"),
	}
	if v.Counts {
		v.Ago = max(0, int(now.Sub(since).Seconds()))
	}
	if b := latest(snap); b != nil && (words.Shape == "still" || words.Shape == "moving") {
		text := strings.Replace(withoutZeros(strings.TrimPrefix(b.Value.Text, "+")), "-", "−", 1)
		soft := 0
		if words.Shape == "moving" {
			soft = changing(b.Value.Text, b.Value.Interval, snap.Settle.U)
		}
		cut := len(text) - soft
		v.Head, v.Soft, v.Unit, v.Class = text[:cut], text[cut:], b.Value.Unit, longNumber(text)
	}
	v.Path = signal(snap.Spark, snap.Settle, snap.Balance)
	for _, t := range snap.Settle.Troubles {
		v.Notes = append(v.Notes, t.Sentence)
	}
	for _, q := range snap.Suspicions {
		v.Notes = append(v.Notes, q.Sentence)
	}
	if snap.State.Why != "" && words.Shape != "still" && words.Shape != "moving" {
		v.Notes = append(v.Notes, snap.State.Why)
	}
	return v
}

// withoutZeros takes the zeros off that some balances write before a number; on the sheet it stands as it came.
func withoutZeros(text string) string {
	digits := strings.TrimLeft(text, "- ")
	sign := text[:len(text)-len(digits)]
	for len(digits) > 1 && digits[0] == '0' && digits[1] >= '0' && digits[1] <= '9' {
		digits = digits[1:]
	}
	return sign + digits
}

// oldS is the age from which a reading is no live reading any more, s; chosen here.
const oldS = 10

// latest is the reading that an instrument is followed for: of a balance its mass, else its temperature.
func latest(snap live.Snapshot) *live.Reading {
	if snap.Balance != nil {
		return snap.Balance
	}
	return snap.Thermometer
}

// changing is how many bytes at the end of a number change while it moves by so much.
func changing(text string, interval, by float64) int {
	if interval <= 0 || !(by > 0) {
		return 0
	}
	digits := int(math.Floor(math.Log10(by/interval))) + 1
	n := 0
	for i := len(text) - 1; i >= 0 && digits > 0; i-- {
		if text[i] >= '0' && text[i] <= '9' {
			digits--
		} else if text[i] != '.' && text[i] != ',' {
			break
		}
		n++
	}
	if n > 0 && n < len(text) && (text[len(text)-n] == '.' || text[len(text)-n] == ',') {
		n-- // a mark stays with what stands before it
	}
	return min(n, len(text))
}

// The signal of the last seconds is drawn in a box of this size.
const (
	signalS    = 30
	signalWide = 400
	signalHigh = 24
)

// leastSwing is how many scale intervals the height of the box stands for at least, so that the last digit's
// flicker looks as small as it is; chosen here.
const leastSwing = 20

// signal draws the last 30 s as a line. A stretch without a reading is a gap.
func signal(points []live.Point, e settle.Event, latest *live.Reading) string {
	if len(points) < 2 {
		return ""
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range points {
		low, high = min(low, p.Value), max(high, p.Value)
	}
	if latest != nil {
		if least := leastSwing * latest.Value.Interval; high-low < least {
			middle := (high + low) / 2
			low, high = middle-least/2, middle+least/2
		}
	}
	if high == low {
		low, high = low-1, high+1
	}
	var out strings.Builder
	last := math.Inf(1)
	for _, p := range points {
		command := "L"
		if last-p.Ago > 3 || last == math.Inf(1) {
			command = "M"
		}
		last = p.Ago
		x := signalWide * (1 - p.Ago/signalS)
		y := 1 + (signalHigh-2)*(high-p.Value)/(high-low)
		out.WriteString(command + strconv.FormatFloat(x, 'f', 1, 64) + " " + strconv.FormatFloat(y, 'f', 1, 64))
	}
	return out.String()
}
