package simulation

import (
	"math"
	"math/rand/v2"
)

// Live steps a bench through time: what hands do comes to the pan as forces, the balance answers
// with its own slowness, noise and rounding, and changes its display so many times a second. The
// forces themselves are those of Bench.Force.
//
// A Live knows what is true at every moment, and which reading a careful person takes when. It is
// not safe for concurrent use.
type Live struct {
	Bench *Bench
	Check Item // the check piece at hand
	// VesselG is the mass of vessel and liquid that ActVesselOn stands on the pan, g.
	VesselG float64

	o       LiveOptions
	rand    *rand.Rand
	session *Session // whose faults take hold of what is done by hand
	filter  filter
	mark    mark

	h          float64 // s from one conversion to the next
	perDisplay int     // conversions for one display
	ticks      int
	asked      float64 // s that Step was asked for so far

	queue     []Move // still to be done, in order of time
	next      int
	hand      hand
	stretches []Stretch
	open      bool // the last stretch goes on

	item                Item // the item, while the check piece is on the bench
	checkOn             bool
	filled              float64 // Bench.Filled of the item meanwhile
	wet                 float64 // g of liquid on the item since it was lifted out
	weighed, immersions int     // how often so far, by hand
	slung               bool    // the item hangs in the air
	extra               float64 // g on the pan that is neither item nor hanger
	tareBy              float64 // s when the balance sets itself to zero whether it rests or not; 0: not asked
	zeroAir, zeroLiquid float64

	placed     float64 // g by which this placing differs from others
	gap        float64 // g still missing of a load that is being laid on, at its start
	gapFrom    float64 // s
	gapLong    float64 // s
	blow       float64 // g with which it is laid on too hard
	swing      float64 // g, amplitude
	swingFrom  float64 // s
	swingHz    float64
	swingLong  float64 // s until it has fallen to 37 %
	gust       float64 // g, of the draught now
	grip       float64 // g, of the hand now
	warmFrom   float64 // s when the warm item was laid on
	warmed     bool    // it was
	bubbleGoes float64 // s when the bubble leaves; 0: it stays

	gustKeeps, gripKeeps  float64 // share that lasts to the next conversion
	shown                 LiveSample
	thermometer, thermOff float64
}

// hand is a move being made.
type hand struct {
	Move
	changes, leaves float64 // s
	changed         bool
	on              bool    // a hand is at the bench
	force           float64 // g, how heavily it touches
	lean            float64 // g, how heavily it leans
}

// NewLive puts a bench into time. The same bench, seed, options and moves give the same stream.
func NewLive(b *Bench, seed uint64, o LiveOptions) *Live {
	o = o.defaults()
	l := &Live{Bench: b, Check: Item{Made: "check piece", Mass: 79.5, Solid: 10, Expansion: 48e-6}, VesselG: 400,
		o: o, rand: rand.New(rand.NewPCG(seed, 0x6c697665))}
	const longest = 0.05 // s; a load that swings is still followed
	l.perDisplay = int(math.Ceil(1/o.RateHz/longest - 1e-9))
	l.h = 1 / o.RateHz / float64(l.perDisplay)
	l.filter = newFilter(o, l.h)
	l.mark = mark{band: o.MarkBand * b.Interval, seconds: o.MarkSeconds}
	l.gustKeeps, l.gripKeeps = math.Exp(-l.h/o.DraughtSeconds), math.Exp(-l.h/0.06)
	l.gust = b.Draught * l.rand.NormFloat64()
	l.thermOff = b.TemperatureC - b.LiquidC
	l.thermometer = b.TemperatureC
	l.item = b.Item
	b.Tare()
	l.filter.rest(b.level())
	l.stretches = append(l.stretches, Stretch{Slot: SlotZeroAir})
	l.open = true
	l.off(0)
	return l
}

// off makes the display of the empty bench differ from zero at the start.
func (l *Live) off(grams float64) {
	l.Bench.tare -= grams
	l.stretches[0].First = l.settled()
	l.display()
}

func (o LiveOptions) defaults() LiveOptions {
	set := func(x *float64, usual float64) {
		if *x == 0 {
			*x = usual
		}
	}
	set(&o.RateHz, 10)
	o.RateHz = min(max(o.RateHz, 1), 50)
	set(&o.TimeConstant, 0.15)
	set(&o.MarkBand, 1)
	set(&o.MarkSeconds, 1)
	set(&o.DraughtSeconds, 0.7)
	set(&o.WarmSeconds, 40)
	set(&o.ThermometerLag, 5)
	set(&o.ThermometerInterval, 0.1)
	return o
}

// Options are those in force, with what was left out.
func (l *Live) Options() LiveOptions { return l.o }

// Seconds since the stream began.
func (l *Live) Seconds() float64 { return l.asked }

// Step lets dt seconds pass and returns what is displayed then. Between two changes of the display
// it repeats.
func (l *Live) Step(dt float64) LiveSample {
	l.asked += dt
	for float64(l.ticks+1)*l.h <= l.asked+1e-9 {
		l.tick()
	}
	sample := l.shown
	sample.Seconds = l.asked
	return sample
}

// Run lets time pass until a moment and yields every change of the display.
func (l *Live) Run(until float64, yield func(LiveSample)) {
	period := l.h * float64(l.perDisplay)
	for n := math.Floor(l.asked/period + 1e-9); ; {
		n++
		at := n * period
		if at > until+1e-9 {
			return
		}
		yield(l.Step(at - l.asked))
	}
}

// Queue adds moves to be made at their times. They come in order; a move that is due while a hand
// is at the bench waits for it.
func (l *Live) Queue(moves ...Move) { l.queue = append(l.queue, moves...) }

// Do makes a move as soon as the hand is free. The stretch afterwards gets the slot that the state
// of the bench suggests.
func (l *Live) Do(act Act) { l.Queue(Move{Act: act, At: l.asked, natural: true}) }

// Follow lets the seeded faults of a session take hold when its item is weighed by Do. The session's
// bench is this one.
func (l *Live) Follow(s *Session) { l.session = s }

// Idle is true when no hand is at the bench and none is due.
func (l *Live) Idle() bool { return !l.hand.on && l.next == len(l.queue) && l.tareBy == 0 }

// Stretches are those so far. The last one is still open unless a hand is at the bench; it ends now.
func (l *Live) Stretches() []Stretch {
	all := append([]Stretch(nil), l.stretches...)
	if l.open {
		l.close(&all[len(all)-1])
	}
	return all
}

// True is what the display would settle at now, without noise and rounding, in grams.
func (l *Live) True() float64 { return l.settled() }

func (l *Live) now() float64 { return float64(l.ticks) * l.h }

func (l *Live) tick() {
	l.ticks++
	b, now := l.Bench, l.now()
	b.Advance(l.h)
	l.pass(now)
	if l.hand.on || l.next < len(l.queue) {
		l.work(now)
	}
	l.filter.take(l.pressed(now) + l.slowNoise()*l.rand.NormFloat64())
	if l.ticks%l.perDisplay == 0 {
		l.display()
	}
}

// pass does what happens by itself.
func (l *Live) pass(now float64) {
	b := l.Bench
	if l.bubbleGoes > 0 && now >= l.bubbleGoes && b.Place == Immersed {
		l.bubbleGoes = 0
		if b.Bubble > 0 {
			b.Bubble = 0
			if l.open {
				l.stretches[len(l.stretches)-1].Released = now
			}
		}
	}
	if b.Film > 0 && b.Place == InAir {
		b.Film = max(0, b.Film-l.o.DryingGPerS*l.h)
	}
	if l.o.LiquidWarms != 0 && l.ticks%20 == 0 {
		b.LiquidC += 20 * l.h * l.o.LiquidWarms
	}
	if b.Draught > 0 {
		l.gust = l.gustKeeps*l.gust + math.Sqrt(1-l.gustKeeps*l.gustKeeps)*b.Draught*l.rand.NormFloat64()
	}
}

// still is the level with this placing, in grams: what lasts.
func (l *Live) still() float64 { return l.Bench.level() + l.extra + l.placed }

// pressed is all that presses on the pan now, in grams.
func (l *Live) pressed(now float64) float64 {
	g := l.still() + l.gust
	if since := now - l.gapFrom; since < l.gapLong+0.1 {
		if since < l.gapLong {
			g -= l.gap * (1 - since/l.gapLong)
		} else {
			g += l.blow
		}
	}
	if l.swing > 0 {
		since := now - l.swingFrom
		amplitude := l.swing * math.Exp(-since/l.swingLong)
		g += amplitude * math.Sin(2*math.Pi*l.swingHz*since)
		if amplitude < 0.01*l.Bench.Interval {
			l.swing = 0
		}
	}
	if l.hand.on && l.hand.force > 0 {
		l.grip = l.gripKeeps*l.grip + math.Sqrt(1-l.gripKeeps*l.gripKeeps)*l.hand.force*l.rand.NormFloat64()
		if l.rand.Float64() < 3*l.h { // now and then it slips
			l.grip += 4 * l.hand.force * l.rand.NormFloat64()
		}
		g += l.grip + l.hand.lean
	}
	return g - l.lift(now)
}

// lift of the air that rises along a warm item, in grams.
func (l *Live) lift(now float64) float64 {
	if !l.warmed || l.Bench.Place != InAir || l.checkOn {
		return 0
	}
	return l.o.Warm * math.Exp(-(now-l.warmFrom)/l.o.WarmSeconds)
}

// repeatability is the standard deviation of a reading as the bench is now, in grams.
func (l *Live) repeatability() float64 {
	b := l.Bench
	if b.Place == Immersed || b.HangerOn && !b.HangerDry {
		return b.RepeatabilityLiquid
	}
	return b.Repeatability
}

func (l *Live) slowNoise() float64 {
	if l.o.Slow == 0 {
		return 0
	}
	return l.repeatability() * math.Sqrt(l.o.Slow*(1-l.o.Placing)) / l.filter.noise
}

func (l *Live) place() {
	l.placed = l.repeatability() * math.Sqrt(l.o.Placing) * l.rand.NormFloat64()
}

// indicated is what the balance makes of a level, without noise and rounding, in grams.
func (l *Live) indicated(level, noise float64) float64 {
	b := l.Bench
	return b.curved((level-b.tare)/(1-1.2/8000) + b.tareOff + noise)
}

func (l *Live) settled() float64 { return l.indicated(l.still(), 0) }

// display changes what is shown.
func (l *Live) display() {
	b, now := l.Bench, l.now()
	period := l.h * float64(l.perDisplay)
	noise := l.repeatability() * math.Sqrt((1-l.o.Slow)*(1-l.o.Placing)) * l.rand.NormFloat64()
	g := l.indicated(l.filter.out, noise)
	if l.o.ZeroTracking > 0 && math.Abs(g) <= l.o.ZeroTracking*b.Interval {
		most := 0.5 * b.Interval * period // half an interval a second
		b.tare += min(max(g, -most), most)
	}
	shown := b.round(g)
	rests := l.mark.take(now, shown)
	if l.tareBy > 0 && (rests || now >= l.tareBy) {
		l.tareBy = 0
		b.tare, b.tareOff = l.filter.out, (l.rand.Float64()-0.5)*b.Interval/2
		shown = b.round(l.indicated(l.filter.out, noise))
		l.mark.take(now, shown)
	}
	gross := l.filter.out
	l.shown.Overload = gross > b.Capacity+9*b.Interval
	l.shown.Underload = !l.shown.Overload && gross < -max(20*b.Interval, 0.002*b.Capacity)
	if l.shown.Overload || l.shown.Underload {
		shown = 0
	}
	l.shown.Grams = shown
	l.shown.Settled = rests && l.o.MarkSeconds > 0 && !l.shown.Overload && !l.shown.Underload && l.tareBy == 0
	l.thermometer += (b.LiquidC + l.thermOff - l.thermometer) * (1 - math.Exp(-period/l.o.ThermometerLag))
	step := l.o.ThermometerInterval
	l.shown.TemperatureC = math.Round((l.thermometer+0.2*step*(l.rand.Float64()-0.5))/step) * step
}
