package settle

import "math"

// Options describe the instrument. Interval alone is needed.
type Options struct {
	// Interval is the scale interval d: one unit of the last digit sent. 0 means that the stream is
	// not rounded.
	Interval float64
	// Repeatability is the standard deviation of repeated readings, 0 when it is not known. It is used
	// to tell unusual scatter from usual; unknown, three intervals of scatter are unusual until the
	// stream has shown its own.
	Repeatability float64
	// Target is the standard uncertainty at which the estimator stops waiting. 0 takes the largest of
	// 0.35 d, half the repeatability and 0.8 of the scatter of single readings. U goes on falling for as
	// long as the load rests.
	Target float64
	// Silence is the time in seconds after which a missing sample makes the state Silent. 0 takes ten
	// times the usual gap between samples, at least 5 s.
	Silence float64
	// Place is where the load is at first; Estimator.SetPlace changes it.
	Place Place
	// UnitName is put behind sizes in sentences, such as "g". Empty leaves the number bare.
	UnitName string
	// OnPress says that the instrument sends a line at each press of its key and nothing else. It is found
	// out by itself from the second such line on; the first may be the first of a stream.
	OnPress bool
	// Density of the immersion liquid in units of value per cubic millimetre, for the size of bubbles:
	// 0.000998 for water and grams. 0 takes that.
	Density float64
}

const (
	ringSize    = 256 // readings kept for looking back
	leastCount  = 3   // readings below which nothing is settled
	jumpSigmas  = 5   // a reading so far from the plateau is no scatter: once in a million and more
	jumpDigits  = 2.5 // and further than rounding and a slow drift can bring it
	nearDigits  = 4   // creep within so many digits (or six times the scatter) of rest is fitted
	loadDigits  = 50  // an excursion so large is a change of load even if it comes back
	usualScaled = 3   // scatter so many times the usual is a trouble
)

// Estimator follows one instrument. It is not safe for use by several goroutines at once.
type Estimator struct {
	o    Options
	last Event

	ring  [ringSize]point
	count int // samples taken; the newest is at (count-1) % ringSize

	gap     float64 // usual gap between samples, seconds
	changed float64 // when the value last differed from the one before

	w       window
	settled bool    // the plateau is at rest; one stray reading does not end it
	value   float64 // of the plateau
	calmed  bool    // it was at rest at some time, the last time on calm
	calm    float64

	// The movement that led to the present plateau.
	restless bool    // a change of load was seen and has not come to rest
	start    float64 // value before it
	began    float64
	took     float64 // from began to the first time at rest, 0 before
	far      float64 // largest distance from start
	swings   bool    // it went past the value at rest
	owned    bool    // what creeps still is the item, not the balance
	lobe     float64 // how long it last stayed on one side of it, seconds
	speed    float64 // sum of squared steps over their time, for the length of the response

	rough float64 // scatter of this load, where readings went to and fro further than was known

	strays   int // readings beyond the plateau, in a row
	straySum int // of them, signed

	streams bool // lines come by themselves, not one at each press of a key
	presses int  // lines that came at one, as far as can be seen

	rest     rested // the plateau before this one
	haveRest bool
	loads    int
	slowFrom float64 // when slow troubles are watched from

	learned learned
	slow    slow
	steps   steps
	found   troubleList
}

type point struct{ t, y float64 }

// rested is a plateau that was settled.
type rested struct {
	value, noise float64
	load         int
	began        float64
	w            window
}

// New makes an estimator. Options that are negative or no number count as 0.
func New(o Options) *Estimator {
	for _, v := range []*float64{&o.Interval, &o.Repeatability, &o.Target, &o.Silence, &o.Density} {
		if !(*v > 0) || math.IsInf(*v, 0) {
			*v = 0
		}
	}
	if o.Density == 0 {
		o.Density = 0.000998
	}
	e := &Estimator{o: o}
	e.last = Event{Wait: -1}
	return e
}

// SetPlace tells where the load is now. It takes effect from the next sample on.
func (e *Estimator) SetPlace(p Place) { e.o.Place = p }

// Reset forgets the stream and keeps what was learned of the instrument: its noise and its response.
// It is for a line that was interrupted.
func (e *Estimator) Reset() {
	*e = Estimator{o: e.o, learned: e.learned, loads: e.loads, streams: e.streams, presses: e.presses,
		last: Event{Wait: -1, Load: e.loads}}
}

// Largest magnitude that is taken: squares and their sums stay finite.
const tooLarge = 1e100

// Add takes the next sample and returns the state after it. A sample that is no number, infinite or
// older than the one before changes nothing and comes back with Refused.
func (e *Estimator) Add(s Sample) Event {
	if why := e.refuse(s); why != "" {
		out := e.last
		out.Refused = why
		return out
	}
	alone := e.alone(s)
	if alone && e.count > 0 {
		e.loads++ // another press, another weighing
		e.Reset()
	}
	if e.count > 0 && s.Seconds-e.newest().t > e.silence() {
		e.Reset() // what came before the silence is not followed by what comes after
	}
	e.note(s)
	if e.count == 1 {
		e.begin(s.Seconds, s.Value)
		e.began = s.Seconds
	}
	e.follow(s)
	e.last = e.state(s)
	if alone {
		e.last = e.single(s)
	}
	return e.last
}

// aloneSeconds is the time without a line before and after one that was sent at the press of a key.
const aloneSeconds = 1.5

// alone says that a line is one that the balance marks as settled and sent by itself, as balances do that
// send at the press of their print key only.
func (e *Estimator) alone(s Sample) bool {
	if s.Mark != MarkSettled || e.count > 0 && s.Seconds-e.newest().t < aloneSeconds {
		e.streams = true
	}
	if e.streams {
		return false
	}
	e.presses++
	return e.presses > 1 || e.o.OnPress
}

// single is the state after a line that stands alone: the balance's word for it is all there is. It keeps
// within its band, taken as an interval either way, all places alike; its repeatability is the other part.
func (e *Estimator) single(s Sample) Event {
	out := e.last
	out.Phase, out.Value, out.Wait = Settled, s.Value, 0
	out.U = math.Sqrt(e.o.Interval*e.o.Interval*(1./12+1./3) + e.o.Repeatability*e.o.Repeatability)
	return out
}

// At returns the state at a time at or after the last sample: the same with its Age, Silent if it is
// too old.
func (e *Estimator) At(seconds float64) Event {
	out := e.last
	if e.count == 0 || math.IsNaN(seconds) {
		return out
	}
	out.Age = max(0, seconds-e.newest().t)
	out.Same = max(0, seconds-e.changed)
	out.Seconds = max(seconds, e.newest().t)
	if out.Age > e.silence() {
		out.Phase = Silent
		out.Wait = -1
	}
	return out
}

func (e *Estimator) refuse(s Sample) string {
	switch {
	case math.IsNaN(s.Value) || math.IsInf(s.Value, 0):
		return "the value is no number"
	case math.Abs(s.Value) > tooLarge:
		return "the value is beyond any load"
	case math.IsNaN(s.Seconds) || math.IsInf(s.Seconds, 0) || math.Abs(s.Seconds) > tooLarge:
		return "the time is no number"
	case e.count > 0 && s.Seconds < e.newest().t:
		return "the time goes backwards"
	}
	return ""
}

func (e *Estimator) silence() float64 {
	if e.o.Silence > 0 {
		return e.o.Silence
	}
	return max(5, 10*e.gap)
}

func (e *Estimator) newest() point { return e.ring[(e.count-1)%ringSize] }

// back returns the point n samples before the newest; n must be below kept.
func (e *Estimator) back(n int) point { return e.ring[(e.count-1-n)%ringSize] }

func (e *Estimator) kept() int { return min(e.count, ringSize) }

func (e *Estimator) note(s Sample) {
	if e.count > 0 {
		p := e.newest()
		dt := s.Seconds - p.t
		if e.gap == 0 {
			e.gap = dt
		} else {
			e.gap += 0.1 * (min(dt, 3*e.gap) - e.gap)
		}
		if s.Value != p.y {
			e.changed = s.Seconds
		}
	} else {
		e.changed = s.Seconds
	}
	e.ring[e.count%ringSize] = point{s.Seconds, s.Value}
	e.count++
}

// noise is the scatter that readings at rest are held against: the present plateau's, drawn towards
// what earlier ones taught.
func (e *Estimator) noise() float64 {
	variance, dof := e.w.scatter(e.correlated(), e.o.Interval)
	priorVariance, priorDof := e.prior()
	if dof >= 6 && variance > 6*priorVariance && e.responded() {
		return math.Sqrt(variance) // it scatters as it never did
	}
	return max(e.rough, math.Sqrt((variance*dof+priorVariance*priorDof)/(dof+priorDof)))
}

// responded says that the balance must have come to rest by now, as far as it is up to the balance.
func (e *Estimator) responded() bool { return e.count > 0 && e.newest().t > e.slowFrom }

// roughness is the scatter of the last readings where they go to and fro, as they don't while a load is
// placed or creeps; 0 where they do not. It is taken from second differences, which a creep hardly
// touches, and from their middle, which one jump does not move.
func (e *Estimator) roughness() float64 {
	const many = 12
	if e.kept() < many+2 {
		return 0
	}
	var size [many]float64
	turns := 0
	last := 0.0
	for i := range many {
		bend := e.back(i).y - 2*e.back(i+1).y + e.back(i+2).y
		if bend*last < 0 {
			turns++
		}
		last = bend
		k := i
		for ; k > 0 && size[k-1] > math.Abs(bend); k-- {
			size[k] = size[k-1]
		}
		size[k] = math.Abs(bend)
	}
	middle := (size[many/2-1] + size[many/2]) / 2
	if turns < many/2 || size[many-1] > 6*middle {
		return 0 // a creep, or loads that come and go on a slow line: scatter has no such tails
	}
	// White scatter bends by √6 of itself; the middle of |x| is 0.6745 standard deviations.
	return middle / 0.6745 / math.Sqrt(6)
}

// quietAgain says that none of the last readings bends as rough ones would: of white scatter one bend in four
// is so small, and twelve in a row one time in ten million.
func (e *Estimator) quietAgain() bool {
	const many = 12
	if e.kept() < many+2 {
		return false
	}
	for i := range many {
		if math.Abs(e.back(i).y-2*e.back(i+1).y+e.back(i+2).y) > 0.8*e.rough {
			return false
		}
	}
	return true
}

// prior is what is known of the scatter before the present plateau. A guess of a fifth of a digit (or of
// half the repeatability) with little weight keeps a handful of equal readings from claiming that there
// is none.
func (e *Estimator) prior() (variance, dof float64) {
	variance, dof = e.learned.noise2, e.learned.noiseDof
	if e.restless && e.haveRest {
		// The plateau before is taken in once it is known how the balance responds; until then as far
		// as this change has shown.
		v, f := e.rest.w.scatter(e.correlated(), e.o.Interval)
		variance, dof = pool(variance, dof, v, f)
	}
	guess, weight := e.o.Interval/5, 0.05
	if r := e.o.Repeatability / 2; r > guess {
		guess, weight = r, 0.5
	}
	variance, dof = pool(variance, dof, guess*guess, weight)
	return variance, min(max(dof, 1), 30)
}

// correlated is how many successive readings count as one, at least 1: the balance's own filter makes
// neighbours alike.
func (e *Estimator) correlated() float64 {
	if e.gap <= 0 {
		return 1
	}
	return max(1, e.correlation()/e.gap)
}

// response is the time over which the balance's filter averages, seconds: the shortest that was seen, or
// before that what the present change shows.
func (e *Estimator) response() float64 {
	if e.restless && e.learned.response == 0 {
		step := e.newest().y - e.start
		if math.Abs(step) > loadDigits*e.o.Interval && e.speed > 0 {
			return step * step / e.speed
		}
	}
	return e.learned.response
}

// correlation is the time over which readings are alike, seconds.
func (e *Estimator) correlation() float64 {
	now := e.learned
	now.response = e.response()
	return now.correlation()
}

// near is the distance from rest within which creep is fitted, far enough for its shape to show and
// close enough for one exponential to hold.
func (e *Estimator) near(quiet float64) float64 { return nearDigits * max(e.o.Interval, 1.5*quiet) }

// quiet is the scatter by which nearness is judged. While the balance still answers a load it is what was
// known before: what the plateau seems to scatter may be a swing, which would stretch to take itself in.
func (e *Estimator) quiet() float64 {
	if e.restless && e.haveRest && !e.responded() {
		if variance, dof := e.prior(); dof > 1 {
			return max(e.rough, math.Sqrt(variance)*(1+0.5/dof))
		}
	}
	return e.noise()
}

// follow moves the plateau on by the newest sample.
func (e *Estimator) follow(s Sample) {
	if e.count > 1 {
		e.movement(s)
	}
	if e.rough > 0 && e.quietAgain() {
		// It was a hand, or the gust is over: what it left in the window is no scatter of this load.
		e.rough, e.settled = 0, false
		e.begin(s.Seconds, s.Value)
	}
	if e.settled && e.stray(s) {
		return
	}
	w := &e.w
	if w.n > 0 && !e.settled {
		quiet := e.quiet()
		if value, _, _ := w.fit(); math.Abs(s.Value-value) > e.near(quiet)+3*quiet {
			if rough := e.roughness(); rough > e.noise() && e.responded() && math.Abs(s.Value-value) < 8*rough {
				e.rough = rough // it scatters more than it did; so nearness is wider
			} else {
				if e.departs(s.Value, value) {
					e.value = value
					if !e.restless && e.calmed {
						e.value = e.calm
					}
					e.leave(1)
				}
				e.begin(s.Seconds, s.Value)
			}
		}
	}
	w.add(s.Seconds, s.Value)
	if e.restless && !e.settled && !e.owned && e.responded() {
		e.own()
	}
	w.ridge = leastRidge
	if e.noise() > e.o.Interval/2 {
		// Scatter that is carried along as far as the creep lasts looks like creep; so many readings then
		// count as one.
		w.ridge *= max(1, min(e.correlated(), 2*w.tau/max(e.gap, 1e-9)))
	}
	e.trim()
	e.creep(s)
}

// own takes the creep that goes on after the balance has responded for the item's own, as of one that cools:
// nothing says where it ends. From then on the value is that of the moment, and its move adds to U.
func (e *Estimator) own() {
	e.owned, e.swings = true, false
	e.w.tau = min(e.w.tau, (e.newest().t-e.began)/20)
	if e.learned.tau > 0 {
		e.w.tau = min(e.w.tau, e.learned.tau)
	}
	e.refill(min(e.w.n, e.kept()))
}

// creep passes the sample to the watch on slow troubles, unless the balance's own creep may still show.
func (e *Estimator) creep(s Sample) {
	if e.settled {
		e.slowFrom = min(e.slowFrom, s.Seconds+3*e.w.tau)
	}
	if s.Seconds >= e.slowFrom {
		e.slow.add(s.Seconds, s.Value, max(0.5, e.gap, 3*e.correlation()))
	}
}

// begin starts a new window at the newest sample, which add then takes.
func (e *Estimator) begin(t, y float64) { e.w.start(t, y, e.timeConstant()) }

// movement gathers what a change of load says of the response.
func (e *Estimator) movement(s Sample) {
	if !e.restless {
		return
	}
	p := e.back(1)
	e.far = max(e.far, math.Abs(s.Value-e.start))
	if dt := s.Seconds - p.t; dt > 0 {
		e.speed += (s.Value - p.y) * (s.Value - p.y) / dt
	}
}

// stray deals with a reading beyond the plateau. It reports whether the sample is to be kept out of
// the window for now.
func (e *Estimator) stray(s Sample) bool {
	sigma := e.noise()
	limit := max(jumpDigits*e.o.Interval, jumpSigmas*sigma*(1+4/float64(e.w.n)))
	off := s.Value - e.value
	if math.Abs(off) <= limit {
		e.strays, e.straySum = 0, 0
		return false
	}
	e.strays++
	if off > 0 {
		e.straySum++
	} else {
		e.straySum--
	}
	sameSide := e.strays == e.straySum || e.strays == -e.straySum
	if e.strays < 2 {
		return true
	}
	if !sameSide || !e.sudden(0.7*limit) {
		// It scatters more than it did, or it has crept away: the load is the same.
		e.strays, e.straySum = 0, 0
		e.settled = false
		e.begin(e.back(1).t, e.back(1).y)
		e.w.add(e.back(1).t, e.back(1).y)
		return false
	}
	e.change()
	return false
}

// sudden says whether the last two readings stand off from those just before them by more than limit.
func (e *Estimator) sudden(limit float64) bool {
	span := max(2*e.learned.tau, 0.5)
	now := e.newest()
	for i := 2; i < e.kept(); i++ {
		p := e.back(i)
		if math.Abs(now.y-p.y) > limit {
			return true
		}
		if now.t-p.t > span {
			return false
		}
	}
	return false
}

// departs says that a reading leaves a plateau that is not at rest, or no longer: the load is changed. While
// a load arrives readings rest nowhere for longer than the balance takes.
func (e *Estimator) departs(y, value float64) bool {
	far := loadDigits * max(e.o.Interval, e.noise())
	if !e.restless && e.calmed && math.Abs(y-e.calm) >= far {
		return true // a slow hand begins with less than a jump
	}
	if e.w.n < leastCount || math.Abs(y-value) < far {
		return false
	}
	return !e.restless || e.w.span() > max(1, 3*e.w.tau)
}

// change begins a new load with the last two readings.
func (e *Estimator) change() {
	first := e.back(1)
	e.learned.hear(e, 2)
	e.leave(2)
	e.begin(first.t, first.y)
	e.w.add(first.t, first.y)
}

// leave notes that the newest readings, as many as gone, are on their way to a new load.
func (e *Estimator) leave(gone int) {
	e.rest = rested{value: e.value, noise: e.noise(), load: e.loads, began: e.began, w: e.w}
	e.haveRest = true
	e.loads++
	before := e.back(min(gone, e.kept()-1))
	e.restless, e.settled = true, false
	e.start, e.began, e.took = e.rest.value, before.t, 0
	e.far, e.speed, e.swings, e.owned, e.lobe, e.rough = 0, 0, false, false, 0, 0
	e.strays, e.straySum = 0, 0
	for i := min(gone, e.kept()-1) - 1; i >= 0; i-- {
		from, to := e.back(i+1), e.back(i)
		if dt := to.t - from.t; dt > 0 {
			e.speed += (to.y - from.y) * (to.y - from.y) / dt
		}
		e.far = max(e.far, math.Abs(to.y-e.start))
	}
	e.slow.reset()
	e.slowFrom = e.began + max(10, 20*e.learned.tau)
	if e.learned.tau == 0 {
		e.slowFrom = e.began + 45
	}
}

// trim drops the old end of the window where it no longer belongs to the plateau: too far from rest,
// or part of a trend. At least an eighth goes at once, so the work stays in proportion to the samples.
func (e *Estimator) trim() {
	w := &e.w
	if (w.n == leastCount || w.n >= w.look && !e.settled) && !e.owned {
		for range 2 { // the value that tau is measured against depends on tau
			value, _, _ := w.fit()
			if tau := e.measureTau(value); tau > 0 && tau != w.tau && w.n <= e.kept() {
				w.tau = tau
				e.refill(w.n) // its sums depend on it
			}
		}
	}
	if w.n < 4 {
		return
	}
	keep := w.n
	value, creep, _ := w.fit()
	if w.n <= e.kept() {
		first := math.Abs(e.back(w.n-1).y - value)
		drop := w.n/8 + 1
		// Once enough is left without it, the creep's steeper part goes too: there its shape matters. Not
		// where scatter decides how steep it looks, for that would pick the windows that look flat.
		rest := e.newest().t - e.back(w.n-1-drop).t
		quiet := e.quiet()
		steep := math.Abs(creep) > 0.4*e.near(quiet) && rest > 1.5*w.tau && w.n-drop >= 6
		if first > e.near(quiet)+3*quiet || steep && e.noise() < e.o.Interval/2 {
			keep = w.n - drop
		}
	}
	if w.n >= w.look {
		w.look = w.n + w.n/4 + 1
		move, u := w.trend(e.correlated(), e.noise())
		least := 0.6 * e.o.Interval
		if e.learned.response == 0 && !e.restless {
			// Nothing is known of the balance's filter, and what it makes of noise looks like a trend.
			least = max(8*e.o.Interval, 6*e.noise())
		}
		// While the creep is fitted it is no trend; dropping what looks steep would leave what looks flat.
		creeps := e.restless && w.span() < 6*w.tau && e.noise() > e.o.Interval/2
		if math.Abs(move) > max(least, 4*u) && w.n >= 8 && !creeps {
			keep = min(keep, w.n/2)
			w.look = 0 // what is left may be a trend still
		}
	}
	if keep < w.n {
		e.refill(min(keep, e.kept()))
	}
}

// refill makes the window anew from its last n samples.
func (e *Estimator) refill(n int) {
	look, tau := e.w.look, e.w.tau
	first := e.back(n - 1)
	e.w.start(first.t, first.y, tau)
	for i := n - 1; i >= 0; i-- {
		p := e.back(i)
		e.w.add(p.t, p.y)
	}
	e.w.look = max(4, min(look, n+n/4+1))
}

// timeConstant is the best guess before the present creep has shown its own.
func (e *Estimator) timeConstant() float64 {
	switch {
	case e.w.tau > 0 && e.restless:
		return e.w.tau
	case e.learned.tau > 0:
		return e.learned.tau
	}
	return e.gap
}

// measureTau finds the time constant of the creep towards value from the times at which it was last
// further away than 2, 4, 8 ... digits: they are a constant ratio apart in amplitude and so a constant
// time apart, also under the envelope of a swing. 0 means that too little of the creep was seen.
func (e *Estimator) measureTau(value float64) float64 {
	if !e.restless {
		return 0
	}
	unit := max(e.o.Interval, 5*e.noise())
	if unit == 0 {
		unit = 1e-4 * e.far
	}
	if unit <= 0 {
		return 0
	}
	const levels = 14
	var at [levels]float64
	level, n := 0, e.kept()
	before := e.start > value
	e.lobe = 0
	var last point // nearest to rest in time that was off it
	for i := range n {
		p := e.back(i)
		if p.t <= e.began {
			break
		}
		if math.Abs(p.y-value) > 2*unit {
			if p.y > value != before {
				e.swings = true // it went past
			}
			if last.t == 0 {
				last = p
			}
			if e.lobe == 0 && p.y > value != (last.y > value) {
				e.lobe = last.t - p.t
			}
		}
		for level < levels && math.Abs(p.y-value) > unit*float64(int(2)<<level) {
			at[level] = p.t
			level++
		}
	}
	if level < 3 {
		return 0
	}
	if !e.swings {
		level = min(level, 6) // nearer to rest the creep that is left shows better
	} // else a swing drops through many levels at once, and only many of them show its envelope
	tail := (at[0] - at[2]) / (2 * math.Ln2)
	whole := (at[0] - at[level-1]) / (float64(level-1) * math.Ln2)
	if tail > 1.5*whole {
		whole = tail // what is left goes slower than what went before
	}
	return max(whole, 0.3*e.gap)
}
