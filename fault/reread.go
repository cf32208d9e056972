package fault

import (
	"math"
	"slices"
	"sync"
)

// Set says which readings a slip lies in.
type Set uint8

// The sets.
const (
	InAir Set = iota
	Immersed
	AtTheEnd
	Everywhere
)

// Reread is another reading of what was typed.
type Reread struct {
	Found   bool
	Set     Set
	Index   int     // of the reading, -1: all of the set
	Instead float64 // grams; of the first where all of the set are meant
	Factor  float64 // unit: what the typed number is multiplied by
	Density float64 // g/cm³ that it would give

	best float64
}

// unitGrams are the units of mass that balances of the trade show, in grams.
var unitGrams = [...]struct {
	Name string
	Gram float64
}{
	{"ct", 0.2}, {"dwt", 1.55517384}, {"oz t", 31.1034768}, {"grain", 0.06479891}, {"tola", 11.6638038}, {"momme", 3.75}, {"baht", 15.244}, {"kg", 1000},
}

// UnitOf names the unit that a factor stands for, and whether the number was taken for it
// (false: the number was in it).
func UnitOf(factor float64) (name string, taken bool) {
	for _, u := range unitGrams {
		if math.Abs(factor/u.Gram-1) < 1e-9 {
			return u.Name, false
		}
		if math.Abs(factor*u.Gram-1) < 1e-9 {
			return u.Name, true
		}
	}
	return "", false
}

// typing is a draft of readings with one of them read otherwise.
type typing struct {
	air, immersed, closing []Reading
}

func (t *typing) take(w *Weighing) {
	t.air, t.immersed, t.closing = append(t.air[:0], w.Air...), append(t.immersed[:0], w.Immersed...), append(t.closing[:0], w.Closing...)
}

// reread weighs the slips of the hand: what was typed is read otherwise, and then nothing is wrong.
func (e *Engine) reread() {
	t := &e.typed
	t.take(e.w)
	e.digits()
	e.units()
	e.swapped()
	e.displacedTyped()
}

// sound is the logarithm of the evidence of readings when nothing is wrong with them. It is
// quick to say no where the displaced mass is beyond the material.
func (e *Engine) sound(t *typing, immersedAreGains bool) (ln, density float64) {
	w := e.w
	air := meanOf(t.air)
	if air <= 0 {
		return math.Inf(-1), 0
	}
	n := float64(len(t.immersed))
	mean := meanOf(t.immersed)
	ss := squares(t.immersed, mean)
	if !immersedAreGains {
		mean = air - mean
	}
	if mean <= 0 || mean >= 2*air {
		return math.Inf(-1), 0
	}
	scale := air / e.air
	own := e.s2 / n
	sum := 0.0
	for _, l := range e.base {
		b, variance := l.b*scale, l.variance*scale*scale+own
		if d := mean - b; d*d < cut*variance {
			sum += l.weight * normalAt(d*d, variance)
		}
	}
	if sum == 0 {
		return math.Inf(-1), 0
	}
	ln = math.Log(sum) + lnScatter(ss, e.s2, len(t.immersed)) + lnScatter(squares(t.air, air), w.AirS*w.AirS, len(t.air)) + e.intake(air) + e.lnCheck
	if e.closing2 > 0 {
		ln += lnNormal(meanOf(t.closing)-air, e.closing2)
	}
	density = w.Density(air, mean/(1+e.eta))
	if w.Another != nil {
		ln += e.lnAgrees(air, 1/density, 0)
	}
	if w.Volume != nil {
		ln += math.Log(w.Volume(1/density, air))
	}
	return ln + math.Log(e.air/air), w.Density(air, mean)
}

// note adds one other reading to the evidence of a fault.
func (e *Engine) note(k Kind, ln float64, r Reread) {
	if math.IsInf(ln, -1) {
		return
	}
	v := &e.Verdict
	v.LogEvidence[k] = lnAdd(v.LogEvidence[k], ln)
	if best := &v.Reread[k]; !best.Found || ln > best.best {
		r.Found, r.best = true, ln
		*best = r
	}
}

// digits tries every single slip of a digit in every reading: any reading, any kind of slip and
// any place are equally likely.
func (e *Engine) digits() {
	t := &e.typed
	readings := -math.Log(float64(len(e.w.Air) + len(e.w.Immersed) + len(e.w.Closing)))
	for s, set := range [...][]Reading{t.air, t.immersed, t.closing} {
		for i := range set {
			was := set[i].Gram
			others, n := 0.0, 0
			if Set(s) != Immersed {
				for _, r := range e.w.Air {
					others, n = others+r.Gram, n+1
				}
				for _, r := range e.w.Closing {
					others, n = others+r.Gram, n+1
				}
			} else {
				for _, r := range e.w.Immersed {
					others, n = others+r.Gram, n+1
				}
			}
			others, n = others-was, n-1
			s1 := e.w.AirS
			if Set(s) == Immersed {
				s1 = e.w.ImmersedS
			}
			editsOf(set[i], e.w.Interval, func(y, chance float64) {
				if n > 0 && math.Abs(y-others/float64(n)) > 30*s1 {
					return // the repeats say no
				}
				set[i].Gram = y
				ln, density := e.sound(t, e.w.Standing)
				e.note(Digit, ln+readings+math.Log(chance), Reread{Set: Set(s), Index: i, Instead: y, Density: density})
			})
			set[i].Gram = was
		}
	}
}

// units tries every other unit for the readings of one set, for all where the mass at the intake
// is known, and for all but the closing weighing.
func (e *Engine) units() {
	t := &e.typed
	sets := [...]struct {
		set                    Set
		air, immersed, closing bool
	}{{InAir, true, false, true}, {InAir, true, false, false}, {Immersed, false, true, false}, {AtTheEnd, false, false, true}, {Everywhere, true, true, true}, {Everywhere, true, true, false}}
	each := -math.Log(float64(2 * len(unitGrams) * len(sets)))
	for _, s := range sets {
		if s.set == Everywhere && s.closing && e.w.IntakeG <= 0 || s.set == Everywhere && !s.closing && len(t.closing) == 0 || s.set == AtTheEnd && len(t.closing) == 0 || s.set == InAir && !s.closing && len(t.closing) == 0 {
			continue
		}
		for _, u := range unitGrams {
			for _, factor := range [2]float64{u.Gram, 1 / u.Gram} {
				scaleAll(t.air, e.w.Air, s.air, factor)
				scaleAll(t.immersed, e.w.Immersed, s.immersed, factor)
				scaleAll(t.closing, e.w.Closing, s.closing, factor)
				ln, density := e.sound(t, e.w.Standing)
				if s.air {
					ln += float64(len(t.air)) * math.Log(factor)
				}
				if s.immersed {
					ln += float64(len(t.immersed)) * math.Log(factor)
				}
				if s.closing {
					ln += float64(len(t.closing)) * math.Log(factor)
				}
				first := t.air
				switch s.set {
				case Immersed:
					first = t.immersed
				case AtTheEnd:
					first = t.closing
				}
				e.note(Unit, ln+each, Reread{Set: s.set, Index: -1, Instead: first[0].Gram, Factor: factor, Density: density})
			}
		}
	}
	t.take(e.w)
}

func scaleAll(to, from []Reading, scaled bool, factor float64) {
	if !scaled {
		factor = 1
	}
	for i := range to {
		to[i].Gram = from[i].Gram * factor
	}
}

// swapped reads the air readings as immersed and the immersed ones as in air.
func (e *Engine) swapped() {
	t := &e.typed
	t.air, t.immersed = append(t.air[:0], e.w.Immersed...), append(t.immersed[:0], e.w.Air...)
	ln, density := e.sound(t, e.w.Standing)
	e.note(Swapped, ln, Reread{Set: InAir, Index: -1, Instead: meanOf(t.air), Density: density})
	t.take(e.w)
}

// displacedTyped reads what was typed as the immersed reading as the displaced mass, and the
// other way about where the vessel stands on the pan.
func (e *Engine) displacedTyped() {
	ln, density := e.sound(&e.typed, !e.w.Standing)
	air := meanOf(e.w.Air)
	e.note(Displaced, ln, Reread{Set: Immersed, Index: -1, Instead: air - meanOf(e.w.Immersed), Density: density})
}

// kindsOfSlip are the point moved, two digits in the wrong order, one left out, one typed twice,
// one misread.
const kindsOfSlip = 5

// editsOf calls f for every number of which the typed one is a single slip, with the chance of
// that slip.
func editsOf(r Reading, interval float64, f func(y, chance float64)) {
	digit := r.Digit
	if digit <= 0 {
		digit = interval
	}
	x := math.Round(r.Gram / digit)
	if x <= 0 || x >= 1e12 {
		return
	}
	var digits [16]int64
	length := 0
	for rest := int64(x); rest > 0; rest /= 10 {
		digits[length] = rest % 10 // lowest first
		length++
	}
	place := 1 / (kindsOfSlip * float64(length))
	try := func(y, chance float64) {
		if y > 0 && math.Abs(y-r.Gram) >= digit/2 {
			f(y, chance)
		}
	}
	for n, factor := range [...]float64{10, 0.1, 100, 0.01, 1000, 0.001} {
		chance := [...]float64{0.4, 0.4, 0.05, 0.05, 0.05, 0.05}[n] / kindsOfSlip
		try(r.Gram*factor, chance)
	}
	powers := powersOfTen()
	whole := int64(x)
	// A digit typed twice among the decimals makes more decimals than the balance shows, one left
	// out makes fewer.
	coarse, fine := digit, digit
	switch {
	case interval > 0 && digit < 0.5*interval:
		coarse = digit * 10
	case interval > 0 && digit > 1.5*interval:
		fine = digit / 10
	}
	for i := range length {
		d := digits[i]
		if i+1 < length {
			next := digits[i+1]
			if next == d {
				try(float64(whole/powers[i+1]*powers[i]+whole%powers[i])*coarse, place)
			} else {
				try(float64(whole+(d-next)*powers[i+1]+(next-d)*powers[i])*digit, place)
			}
		}
		for other := range int64(10) {
			if other != d {
				try(float64(whole+(other-d)*powers[i])*digit, place*takenFor(other, d))
			}
		}
	}
	for i := 0; i <= length; i++ {
		for d := range int64(10) {
			if d == 0 && i == length {
				continue
			}
			try(float64(whole/powers[i]*powers[i]*10+d*powers[i]+whole%powers[i])*fine, 1/(kindsOfSlip*float64(length+1)))
		}
	}
}

// alike is the share of misread digits that look like the right one. The rest is any other digit: a
// neighbour on the keys, the digit of another line, one heard wrongly. Chosen here.
const alike = 0.7

// takenFor is the chance that a digit, given that it is misread, is taken for another one.
func takenFor(right, typed int64) float64 {
	look := misread[right]
	if slices.Contains(look, typed) {
		return alike / float64(len(look))
	}
	return (1 - alike) / float64(9-len(look))
}

// misread lists the digits that one is taken for on a display, and the other way round.
var misread = [10][]int64{0: {6, 8}, 1: {7}, 2: {}, 3: {8}, 4: {9}, 5: {6}, 6: {0, 5, 9}, 7: {1}, 8: {0, 3}, 9: {4, 6}}

var powersOfTen = sync.OnceValue(func() (p [17]int64) {
	p[0] = 1
	for i := 1; i < len(p); i++ {
		p[i] = 10 * p[i-1]
	}
	return p
})
