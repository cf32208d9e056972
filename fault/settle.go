package fault

import (
	"bytes"
	_ "embed"
	"encoding/csv"
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"
)

//go:embed data/settlers.csv
var settlersCSV []byte

// Settler is one row of the table of acts that tell causes apart: what comes right after it says
// what was wrong before. The table is data: data/settlers.csv.
type Settler struct {
	Key    string
	Act    string  // in words
	Hang   string  // "same": done while the item hangs; "anew": the item is out of the liquid; else ""
	Ends   []Kind  // faults that it ends
	Leaves float64 // chance that it leaves one where it is
	Shows  []Kind  // faults that it is a look at

	Found, NotFound float64 // by how much the weight of those changes when it was found, or not
	Takes           string  // what is read with it: "zero", "celsius", "percent", or nothing
	Source          string
}

// Settlers lists the table.
func Settlers() []Settler { return settlers() }

// SettlerByKey finds an act by its stable name.
func SettlerByKey(key string) (*Settler, bool) {
	for i := range settlers() {
		if s := &settlers()[i]; s.Key == key {
			return s, true
		}
	}
	return nil, false
}

var settlers = sync.OnceValue(func() (all []Settler) {
	rows, err := csv.NewReader(bytes.NewReader(settlersCSV)).ReadAll()
	if err != nil {
		panic("data/settlers.csv: " + err.Error())
	}
	for i, row := range rows[1:] {
		number := func(text string) float64 {
			if text == "" {
				return 1
			}
			x, err := strconv.ParseFloat(text, 64)
			if err != nil {
				panic(fmt.Sprintf("data/settlers.csv line %d: %v", i+2, err))
			}
			return x
		}
		kinds := func(text string) (kinds []Kind) {
			for _, key := range strings.Fields(text) {
				k, ok := KindByKey(key)
				if !ok {
					panic(fmt.Sprintf("data/settlers.csv line %d: there is no fault %q", i+2, key))
				}
				kinds = append(kinds, k)
			}
			return kinds
		}
		all = append(all, Settler{
			Key: row[0], Act: row[1], Hang: row[2], Ends: kinds(row[3]), Leaves: number(row[4]), Shows: kinds(row[5]),
			Found: number(row[6]), NotFound: number(row[7]), Takes: row[8], Source: row[9],
		})
	}
	return all
})

// Done is an act as it was done.
type Done struct {
	Settler *Settler
	Before  int // the immersion that it went before, from 0; their number where it came after all
	Found   Seen
}

// ZeroReading is what the balance shows with the empty hanger in the liquid, in grams.
type ZeroReading struct {
	Before int // the immersion that it went before, from 0; their number where it came after all
	Gram   float64
}

// Second is a second measurement of what a liquid was taken for: what it finds less what was
// stated, and the standard uncertainty of that difference.
type Second struct{ Off, U float64 }

// Chances of a fault that nobody did anything about while the item hangs; chosen here.
const (
	holds   = 0.97 // that it stays
	appears = 0.02 // that it comes
	resets  = 0.1  // that a zero that had moved is back when the empty hanger is read
)

// sameHang says that the item was not taken out before an immersed reading: something was done to
// it under the liquid, and nothing that takes it out.
func (w *Weighing) sameHang(i int) bool {
	same := false
	for _, d := range w.Done {
		if d.Before == i && d.Settler.Hang == "anew" {
			return false
		}
		same = same || d.Before == i && d.Settler.Hang == "same"
	}
	for _, z := range w.Zeros {
		if z.Before == i {
			return false
		}
	}
	return same
}

// ended is the chance that acts before an immersed reading left a fault where it was, 1 where none
// was done that ends it.
func (w *Weighing) ended(k Kind, i int) float64 {
	leaves := 1.0
	for _, d := range w.Done {
		for _, end := range d.Settler.Ends {
			if d.Before == i && end == k {
				leaves *= d.Settler.Leaves
			}
		}
	}
	return leaves
}

// steps are the places of the immersed readings in time, counted from the last time that the
// balance was set to zero.
func (e *Engine) steps() {
	e.at = e.at[:0]
	next := 0.0
	for i := range e.w.Immersed {
		if e.w.ended(Drift, i) < 1 {
			next = 0
		}
		e.at = append(e.at, next)
		next++
	}
}

// stepOf is the place in time of a reading of the empty hanger.
func (e *Engine) stepOf(z ZeroReading) float64 {
	if z.Before == 0 || len(e.at) == 0 {
		return 0
	}
	return e.at[min(z.Before, len(e.at))-1] + 1
}

// shiftOf is what a shift of the display makes of a displaced mass.
func (e *Engine) shiftOf(display float64) float64 {
	if e.w.Standing {
		return display
	}
	return -display
}

// zeroVariance is that of a reading of the empty hanger.
func (e *Engine) zeroVariance() float64 { return e.s2 + e.w.AirS*e.w.AirS }

// soundZeros is the evidence of the readings of the empty hanger when they should be zero, but for
// scatter that is larger by a factor.
func (e *Engine) soundZeros(scatter2 float64) (ln float64) {
	for _, z := range e.w.Zeros {
		ln += lnNormal(z.Gram, scatter2*e.zeroVariance())
	}
	return ln
}

// driftingZeros is the same when the balance drifts by a step from reading to reading.
func (e *Engine) driftingZeros(step float64) (ln float64) {
	for _, z := range e.w.Zeros {
		ln += lnNormal(e.shiftOf(z.Gram)-step*e.stepOf(z), e.zeroVariance()+step*step)
	}
	return ln
}

// movedZero is the density of a reading of the empty hanger when the zero had moved by any size.
func (e *Engine) movedZero(g float64) float64 {
	e.sizes = e.sizes[:0]
	for _, c := range laws()[Zero] {
		e.sizes = append(e.sizes, size{c.x * e.w.Interval, c.width * e.w.Interval, c.weight})
	}
	return kernel(e.sizes, math.Abs(g), math.Sqrt(e.zeroVariance())) / 2
}

// settled adds what was done and read beside the weighings to the evidence of every fault.
func (e *Engine) settled() {
	w := e.w
	ln := &e.Verdict.LogEvidence
	staged := false
	for i := range w.Immersed {
		staged = staged || w.sameHang(i)
		for _, d := range w.Done {
			staged = staged || d.Before == i && len(d.Settler.Ends) > 0
		}
	}
	each, end := e.lnAir+e.lnOther+e.lnCheck, e.noClosing()
	if staged {
		e.bubbles()
		ln[Bubble] = e.series(Bubble) + end + each
		e.touches()
		ln[Touching] = e.series(Touching) + end + each
		if e.wires() {
			ln[Wire] = e.series(Wire) + end + each
		}
		e.zeros()
		ln[Zero] = e.series(Zero) + e.zeroClosing() + each
	}
	if len(w.Zeros) > 0 {
		e.readZeros(staged, each)
	}
	thermometer, strength := math.Log(w.Thermometer.at(0, 0)), math.Log(w.Strength.at(0, 0))
	for k := range Kinds {
		if k != Temperature {
			ln[k] += thermometer
		}
		if k != Ethanol && k != Liquid {
			ln[k] += strength
		}
	}
	for _, d := range w.Done {
		for _, k := range d.Settler.Shows {
			switch d.Found {
			case Yes:
				ln[k] += math.Log(d.Settler.Found)
			case No:
				ln[k] += math.Log(d.Settler.NotFound)
			}
		}
	}
}

// readZeros adds the readings of the empty hanger.
func (e *Engine) readZeros(staged bool, each float64) {
	ln := &e.Verdict.LogEvidence
	sound := e.soundZeros(1)
	for k := range Kinds {
		switch k {
		case Zero, Hanger, Drift, Draught, Wire, SomethingElse:
		default:
			ln[k] += sound
		}
	}
	if !staged {
		// Moved once and kept, or by another size at every immersion.
		e.zeros()
		kept := e.series(Zero)
		own := 0.0
		if len(e.displaced) > 1 {
			e.zeros()
			own = e.each(Zero)
			for _, z := range e.w.Zeros {
				own = own + math.Log(0.5*e.movedZero(z.Gram)+0.5*math.Exp(lnNormal(z.Gram, e.zeroVariance())))
			}
			kept = lnAdd(math.Log(stays)+kept, math.Log(1-stays)+own)
		}
		ln[Zero] = kept + e.zeroClosing() + each
	}
	ln[Hanger] = e.hangerAtZero() + e.noClosing() + e.lnAir + e.lnOther
	bound := e.w.SurfaceBoundG
	wet, wide := 0.0, 0.0
	for _, z := range e.w.Zeros {
		within := math.Exp(lnNormal(z.Gram, e.zeroVariance()))
		flat := 0.0
		if s := math.Sqrt(e.zeroVariance()); math.Abs(z.Gram) < bound+2*s {
			flat = 1 / (2*bound + 4*s)
		}
		wet += math.Log(0.7*within + 0.3*flat)
		wide += math.Log(0.8*within + 0.2/e.air)
	}
	ln[Wire] += wet
	ln[SomethingElse] += wide
}

// hangerAtZero is the evidence of a hanger that was not tared when the empty hanger was read: it
// then shows what it adds, until the balance is set to zero with it.
func (e *Engine) hangerAtZero() float64 {
	n := len(e.displaced)
	set := n // the first immersion after it was tared after all
	for i := n - 1; i >= 0; i-- {
		if e.w.ended(Zero, i) < 1 {
			set = i
		}
	}
	variance := e.zeroVariance()
	add, found, ln := 0.0, false, 0.0
	for _, z := range e.w.Zeros {
		switch here := e.shiftOf(z.Gram); {
		case z.Before > set || z.Before == set && set == 0:
			ln += lnNormal(here, variance)
		case !found:
			add, found = here, true
		default:
			ln += lnNormal(here-add, 2*variance)
		}
	}
	if !found {
		return e.hanger() + e.scatter(e.ss, e.s2) + ln
	}
	shown := 0.0 // the density of what the empty hanger shows
	const steel = 8.0
	buoyancy := (e.w.LiquidRho - e.w.AirRho) / steel
	for _, part := range [2]float64{-(1 - buoyancy), buoyancy} {
		mass := add / part
		if mass <= 0 || e.w.Standing && part < 0 {
			continue
		}
		s := math.Sqrt(variance) / math.Abs(part)
		prior := kernel(laws()[Hanger], mass, s)
		if m := e.w.HangerG; m > 0 {
			prior = math.Exp(lnNormal(mass-m, s*s+0.01*m*m))
		}
		shown += prior / math.Abs(part) / 2
	}
	// The immersions as they would be without it.
	was, mean := e.displaced, e.mean
	defer func() { e.displaced, e.mean = was, mean }()
	e.displaced, e.mean = append(e.corrected[:0], was...), 0
	e.corrected = e.displaced
	for i := range e.displaced {
		if i < set {
			e.displaced[i] -= add
		}
		e.mean += e.displaced[i] / float64(n)
	}
	ss := 0.0
	for _, b := range e.displaced {
		ss += (b - e.mean) * (b - e.mean)
	}
	t := 0.0
	if c := e.w.Check; c != nil {
		t = add / (c.LostG - add)
	}
	return math.Log(shown) + ln + math.Log(e.constant(0, t, math.Sqrt(variance))) + e.scatter(ss, e.s2)
}

// constant is the density of the immersions, and of the check piece, when the same grams are added
// to every displaced mass: add to those of the item, t as a share to that of the check piece; half
// is their standard deviation.
func (e *Engine) constant(add, t, half float64) float64 {
	spread := 0.0
	if c := e.w.Check; c != nil {
		spread = half / c.LostG
	}
	mean, _, ln := e.constantGiven(t, spread)
	own := e.s2/float64(len(e.displaced)) + half*half
	sum := 0.0
	for _, l := range e.base {
		b := l.b/(1+e.eta)*(1+mean) + add
		variance := l.variance + own
		if d := e.mean - b; d*d < cut*variance {
			sum += l.weight * normalAt(d*d, variance)
		}
	}
	return sum * math.Exp(ln)
}

// series is the evidence of a fault of one size through immersions between which something was
// done: it is there or not at each of them, stays while the item hangs, and is ended by the act
// that ends it. Given that it was there once at least.
func (e *Engine) series(k Kind) float64 {
	w := e.w
	p := k.Fault().Each
	n := len(e.shifts)
	e.on, e.off = append(e.on[:0], make([]component, n)...), append(e.off[:0], make([]component, n)...)
	clean := &shift{part: 1}
	never, none := component{}, 1.0
	for i, b := range e.displaced {
		rise, hold := p, p
		if i > 0 && w.sameHang(i) {
			rise, hold = appears, holds
		} else if i > 0 && k == Zero && w.ended(Zero, i) == 1 {
			hold = math.Max(p, stays) // under one tare a zero that moved stays where it is
		}
		if leaves := w.ended(k, i); leaves < 1 {
			rise, hold = rise*leaves, hold*leaves
		}
		for j := 1; j < n; j++ {
			s := &e.shifts[j]
			share := s.weight / p
			if i == 0 {
				e.on[j] = e.first(e.base, s, b).times(share * rise)
				continue
			}
			on, off := e.on[j], e.off[j]
			e.on[j] = never.after(s, b, e.s2).times(share * rise).plus(off.after(s, b, e.s2).times(rise)).plus(on.after(s, b, e.s2).times(hold))
			e.off[j] = on.after(clean, b, e.s2).times(1 - hold).plus(off.after(clean, b, e.s2).times(1 - rise))
		}
		if i == 0 {
			never = e.first(e.base, clean, b).times(1 - rise)
		} else {
			never = never.after(clean, b, e.s2).times(1 - rise)
		}
		none *= 1 - rise
		if k == Zero {
			for _, z := range w.Zeros {
				if z.Before == i+1 {
					never = e.emptied(z, &never)
				}
			}
		}
	}
	total := 0.0
	for j := 1; j < n; j++ {
		total += e.on[j].weight + e.off[j].weight
	}
	return math.Log(total / (1 - none))
}

// emptied takes a reading of the empty hanger into account where the zero may have moved, and
// returns what it leaves of its not having moved so far.
func (e *Engine) emptied(z ZeroReading, never *component) component {
	variance := e.zeroVariance()
	still := 0.97*math.Exp(lnNormal(z.Gram, variance)) + 0.03*e.movedZero(z.Gram)
	back := math.Exp(lnNormal(z.Gram, variance))
	for j := 1; j < len(e.shifts); j++ {
		s := &e.shifts[j]
		kept := math.Exp(lnNormal(e.shiftOf(z.Gram)-s.add, variance+s.variance))
		e.on[j].weight *= (1-resets)*kept + resets*back
		e.off[j].weight *= still
	}
	return never.times(still)
}

// times scales the weight of a component.
func (c component) times(f float64) component {
	c.weight *= f
	return c
}

// at is the density of a second measurement when it should be off by x; 1 where there is none.
func (s *Second) at(x, width float64) float64 {
	if s == nil {
		return 1
	}
	return math.Exp(math.Max(lnNormal(s.Off-x, s.U*s.U+width*width), -700))
}
