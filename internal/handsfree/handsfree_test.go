package handsfree

import (
	"math"
	"slices"
	"testing"

	"wreath/settle"
)

// player makes events as a balance that answers at once would: for tests of single sequences.
type player struct {
	t       *testing.T
	r       *Recogniser
	seconds float64
	load    int
	at      float64
	readings
}

// readings are the captures that stand.
type readings map[int]Capture

func play(t *testing.T, o Options) *player {
	if o.IntervalG == 0 {
		o.IntervalG, o.RepeatabilityG = .0001, .0001
	}
	return &player{t: t, r: New(o), readings: readings{}}
}

func (p *player) take(out Outcome) Outcome {
	for _, c := range out.Captures {
		if c.Change == Aside {
			delete(p.readings, c.No)
			continue
		}
		p.readings[c.No] = c
	}
	return out
}

// to moves the display to a value and leaves it there. Through is what it passes on the way.
func (p *player) to(value float64, through ...float64) Outcome {
	p.load++
	for _, v := range append(through, p.at, (p.at+value)/2, value) {
		p.seconds += .3
		p.take(p.r.Add(settle.Event{Phase: settle.Moving, Seconds: p.seconds, Value: v, Load: p.load}))
	}
	return p.rest(value, 6)
}

func (p *player) rest(value, seconds float64) (out Outcome) {
	p.at = value
	began := p.seconds
	for p.seconds < began+seconds {
		p.seconds += .2
		e := settle.Event{Phase: settle.Settled, Seconds: p.seconds, Value: value, U: 2e-5, From: began, Began: began, Took: 1, Load: p.load}
		if o := p.take(p.r.Add(e)); len(o.Captures) > 0 {
			out = o
		}
	}
	return out
}

// held are the values in a slot, oldest first.
func (p *player) held(slot string) (out []float64) {
	nos := make([]int, 0, len(p.readings))
	for no := range p.readings {
		nos = append(nos, no)
	}
	slices.Sort(nos)
	for _, no := range nos {
		if c := p.readings[no]; c.Slot == slot {
			out = append(out, math.Round(c.Value*1e4)/1e4)
		}
	}
	return out
}

func (p *player) want(slot string, values ...float64) {
	p.t.Helper()
	if got := p.held(slot); !slices.Equal(got, values) {
		p.t.Errorf("%s holds %v, want %v", slot, got, values)
	}
}

// sure fails the test where a reading is doubtful.
func (p *player) sure() {
	p.t.Helper()
	for _, c := range p.readings {
		if c.IsReading() && c.Doubtful() {
			p.t.Errorf("%s %v is doubtful: %.3f %q", c.Slot, c.Value, c.Sure, c.Doubt)
		}
	}
}

// The item is an invented piece of 15.6124 g and 15.55 g/cm³; its hanger weighs 3.2140 g in water.
const (
	air, under, hanger = 15.6124, 14.6103, 3.2140
)

func TestHangingWithTare(t *testing.T) {
	p := play(t, Options{})
	p.to(0)
	p.to(air)
	p.to(0)
	p.to(hanger)
	p.to(0)
	p.to(under)
	p.to(.0001)
	p.to(under + .0002)
	p.to(.0002)
	p.to(-hanger)
	p.to(0)
	p.to(air)
	p.want(Air, air)
	p.want(Liquid, under, under+.0002)
	p.want(ClosingZero, .0002)
	p.want(ClosingAir, air)
	p.sure()
}

func TestHangerRead(t *testing.T) {
	p := play(t, Options{ZeroRead: true})
	p.to(0)
	p.to(air)
	p.to(0)
	p.to(hanger)
	p.to(hanger + under)
	p.to(hanger + .0001)
	p.to(hanger + .0001 + under)
	p.to(hanger + .0003)
	p.want(Air, air)
	p.want(Liquid, under, under)
	p.want(ClosingZero, .0002) // against the zero that the last immersion had
	p.sure()
	for _, c := range p.readings {
		if c.Slot == Liquid && math.Abs(c.Shown-c.Zero-c.Value) > 1e-9 {
			t.Errorf("shown %v less %v is not %v", c.Shown, c.Zero, c.Value)
		}
	}
}

// A person who forgets to set the zero gets the right net reading, and is told.
func TestForgottenTare(t *testing.T) {
	p := play(t, Options{ItemG: air})
	p.to(0)
	p.to(air)
	p.to(0)
	p.to(hanger)
	p.to(hanger + under)
	p.want(Liquid, under)
}

func TestLiquidFirst(t *testing.T) {
	p := play(t, Options{})
	p.to(0)
	p.to(hanger)
	p.to(0)
	p.to(under)
	for _, c := range p.readings {
		if c.IsReading() && !c.Doubtful() {
			t.Errorf("%s %v is sure when nothing shows it", c.Slot, c.Value)
		}
	}
	p.to(0)
	p.to(under)
	p.to(0)
	p.to(-hanger)
	p.to(0)
	p.to(air)
	p.to(0)
	p.want(Liquid, under, under)
	p.want(Air, air)
	p.sure()
}

func TestStanding(t *testing.T) {
	gain := air / 15.55
	gain = math.Round(gain*1e4) / 1e4
	p := play(t, Options{Standing: true, DensityLow: 15.2, DensityHigh: 15.7})
	p.to(0)
	p.to(air)
	p.to(0)
	p.to(gain)
	p.to(-.0004)
	p.to(gain)
	p.to(-.0008)
	p.to(air)
	p.want(Air, air)
	if got := p.held(Gain); len(got) != 2 || math.Abs(got[0]-gain) > .0005 || math.Abs(got[1]-gain) > .0009 {
		t.Errorf("gain_g holds %v, want %v twice", got, gain)
	}
	if got := p.held(ClosingAir); len(got) != 1 {
		t.Errorf("closing_air_g holds %v", got)
	}
}

func TestCheckPiece(t *testing.T) {
	p := play(t, Options{Check: &Check{AirG: 50.0031, VolumeCm3: 6.25}, LiquidGCm3: .998})
	p.to(0)
	p.to(50.0032)
	p.to(0)
	p.to(air)
	p.to(0)
	p.to(hanger)
	p.to(0)
	p.to(43.7704)
	p.to(0)
	p.to(under)
	p.want(CheckAir, 50.0032)
	p.want(CheckLiquid, 43.7704)
	p.want(Air, air)
	p.want(Liquid, under)
	p.sure()
}

// The zero of the hanger is seen only after the item hung on it.
func TestHangerReadAfterOnly(t *testing.T) {
	p := play(t, Options{ZeroRead: true, ItemG: air})
	p.to(0)
	p.to(air)
	p.to(0)
	p.to(hanger + under)
	for _, c := range p.readings {
		if c.Slot == Liquid && !c.Doubtful() {
			t.Error("an immersed reading whose zero was not seen is sure")
		}
	}
	p.to(hanger)
	p.want(Liquid, under)
}

// A touch is no repeat; taking out and hanging in again is one.
func TestTouchIsNoRepeat(t *testing.T) {
	p := play(t, Options{ItemG: air})
	p.to(0)
	p.to(air)
	p.to(air, air+.8, air-.3)
	p.want(Air, air)
	p.to(air, 0, .0001, 0)
	p.want(Air, air, air)
}

// An item that rests half in and goes further leaves one reading.
func TestHalfImmersed(t *testing.T) {
	p := play(t, Options{ItemG: air, DensityLow: 15.2, DensityHigh: 15.7})
	p.to(0)
	p.to(air)
	p.to(0)
	p.to(hanger)
	p.to(0)
	half := p.to(14.9, 10)
	p.to(under, 14.8)
	p.to(0)
	p.to(under)
	if got := p.held(Liquid); !slices.Contains(got, under) {
		t.Errorf("liquid_g holds %v (half in: %+v)", got, half.Captures)
	}
	for _, c := range p.readings {
		if c.Slot == Liquid && math.Abs(c.Value-under) > .001 && !c.Doubtful() {
			t.Errorf("the item half in is sure as %v", c.Value)
		}
	}
}

// Another item is no weighing of this one.
func TestAnotherItem(t *testing.T) {
	p := play(t, Options{ItemG: air, HangerG: hanger})
	p.to(0)
	p.to(air)
	p.to(0)
	out := p.to(22.3456)
	p.want(Air, air)
	if q := p.r.question; q == nil {
		t.Errorf("nothing is asked: %+v", out)
	}
	p.take(p.r.Say(0, Other))
	if p.r.question != nil {
		t.Errorf("still asks %q", p.r.question.Text)
	}
}

// A display that was switched is named.
func TestUnitIsNamed(t *testing.T) {
	p := play(t, Options{ItemG: air, HangerG: hanger})
	p.to(0)
	p.to(air)
	p.to(0)
	p.to(air / .2)
	if q := p.r.question; q == nil || q.Text != "78.0620 g would be the item in air if the display showed carats. Look at its unit." {
		t.Errorf("asks %+v", q)
	}
}

func TestPersonDecides(t *testing.T) {
	p := play(t, Options{})
	p.to(0)
	p.to(under)
	first := p.readings[2]
	if first.Slot != Air || !first.Doubtful() {
		t.Fatalf("%+v", first)
	}
	p.take(p.r.Say(first.No, ItemLiquid))
	if c := p.readings[first.No]; c.Slot != Liquid || c.Sure < SureEnough || c.Change != Moved || c.Was != Air {
		t.Errorf("%+v", c)
	}
	out := p.take(p.r.SetAside(0))
	if len(out.Captures) != 1 || out.Captures[0].Change != Aside || out.Captures[0].No != first.No {
		t.Errorf("%+v", out)
	}
	p.want(Liquid)
	p.to(0)
	p.want(Liquid) // it does not come back
}

func TestAgainAndTake(t *testing.T) {
	p := play(t, Options{ItemG: air})
	p.to(0)
	p.to(air)
	p.take(p.r.Again())
	p.rest(air, 4)
	p.want(Air, air, air)

	q := play(t, Options{ItemG: air, OnTake: true})
	q.to(0)
	q.to(air)
	q.want(Air)
	q.take(q.r.Take())
	q.want(Air, air)
	q.take(q.r.Take())
	q.want(Air, air)
	// Pressed while it moves, it takes at the first rest.
	q.load++
	q.seconds += .2
	q.r.Add(settle.Event{Phase: settle.Moving, Seconds: q.seconds, Value: 3, Load: q.load})
	q.take(q.r.Take())
	q.to(0)
	q.to(air)
	if got := q.held(Air); len(got) > 2 {
		t.Errorf("air_g holds %v", got)
	}
}

func TestPhases(t *testing.T) {
	p := play(t, Options{ItemG: air, HangerG: hanger})
	if k := p.r.Phase().Key; k != PhaseSilent {
		t.Errorf("begins %s", k)
	}
	p.to(0)
	if got := p.r.Phase(); got.Key != PhaseWaiting || got.Words != "put the item on" {
		t.Errorf("%+v", got)
	}
	var sounds []Sound
	p.load++
	for i, v := range []float64{5, 15, air, air} {
		p.seconds += .3
		phase := settle.Moving
		if i == 3 {
			phase = settle.Settled
		}
		out := p.r.Add(settle.Event{Phase: phase, Seconds: p.seconds, Value: v, U: 2e-5, Load: p.load})
		sounds = append(sounds, out.Sounds...)
	}
	if got := p.r.Phase(); got.Key != PhaseStill || got.Words != "still, will be taken in 2 s" || math.Abs(got.Wait-1.7) > .01 { // it rests since the reading before
		t.Errorf("%+v", got)
	}
	if !slices.Equal(sounds, []Sound{SoundStill}) {
		t.Errorf("sounds %v", sounds)
	}
	if out := p.rest(air, 3); !slices.Equal(out.Sounds, []Sound{SoundTaken}) {
		t.Errorf("sounds %v", out.Sounds)
	}
	if got := p.r.Phase(); got.Key != PhaseTaken || got.Next != Liquid || got.Words != "taken. take it off" {
		t.Errorf("%+v", got)
	}
	if out := p.r.NoNumber(p.seconds, true); out.Phase.Key != PhaseStop || !slices.Equal(out.Sounds, []Sound{SoundStop}) {
		t.Errorf("%+v", out)
	}
}

// Held readings make a recogniser that begins in the middle as sure as one that saw the beginning.
func TestHeldReadings(t *testing.T) {
	p := play(t, Options{Held: []Held{{Air, air}, {Liquid, under}}, Wanted: []string{Liquid, ClosingAir}})
	p.to(0)
	p.to(under)
	p.to(0)
	p.to(air)
	p.want(Liquid, under)
	p.want(ClosingAir, air)
	p.sure()
}

// press is a balance that sends one line at each press of its key.
func (p *player) press(e *settle.Estimator, values ...float64) {
	for _, v := range values {
		p.seconds += 20
		p.take(p.r.Add(e.Add(settle.Sample{Seconds: p.seconds, Value: v, Mark: settle.MarkSettled})))
	}
}

func TestOneLineAtEachPress(t *testing.T) {
	p := play(t, Options{ItemG: air, HangerG: hanger})
	e := settle.New(settle.Options{Interval: .0001, OnPress: true})
	p.press(e, 0, air, 0, hanger, 0, under, .0001, under+.0001)
	p.want(Air, air)
	p.want(Liquid, under, under+.0001)
	p.sure()
}

// The first line is the item in air; nobody saw the zero. The mass at intake stands for it.
func TestFirstRestWithoutZero(t *testing.T) {
	p := play(t, Options{ItemG: air, HangerG: hanger})
	e := settle.New(settle.Options{Interval: .0001, OnPress: true})
	p.press(e, air, hanger, 0, under)
	p.want(Air, air)
	p.want(Liquid, under)
	p.sure()

	// Where nothing is known of the item, it asks; the empty balance afterwards shows what it stood at.
	q := play(t, Options{})
	e = settle.New(settle.Options{Interval: .0001, OnPress: true})
	q.press(e, air)
	if q.r.question == nil {
		t.Fatal("nothing is asked")
	}
	q.take(q.r.Say(0, ItemAir))
	q.want(Air, air)
	for _, c := range q.readings {
		if !c.Doubtful() {
			t.Errorf("sure of a load whose zero was not seen: %+v", c)
		}
	}
	q.press(e, .0200)
	q.want(Air, math.Round((air-.02)*1e4)/1e4)
}
