package fault

import (
	"cmp"
	"math"
	"slices"
)

// Engine is the work sheet of a judgement; it can be used again and then allocates little.
type Engine struct {
	w *Weighing

	air, air1      float64   // mean in air, its variance
	displaced      []float64 // of each immersion
	mean, ss       float64   // their mean, the sum of squared deviations
	s2             float64   // variance of one immersion
	closing        float64   // closing less first weighing in air
	closing2       float64   // its variance; 0 where there was none
	lnAir, lnOther float64   // logarithms of what all faults share: the scatter in air, the mass at the intake
	eta, eta2      float64   // what the check piece says of the liquid when it is as stated, and what is left unsure
	lnCheck        float64

	few    []Node
	fewer  []level // base in fewer levels, for what is costly
	base   []level // where the displaced mass lies when nothing is wrong
	mixed  []Node
	levels []level
	shifts []shift
	comps  []component
	sizes  []size
	pinned []size

	at      []float64   // places of the immersions in time, in steps
	on, off []component // of a fault that stays or goes while the item hangs

	corrected []float64 // immersions without what a hanger adds
	typed     typing

	others []Node

	Verdict Verdict
}

// level is a displaced mass that may be: its variance and weight.
type level struct{ b, variance, weight float64 }

// shift is what a fault makes of one immersion: b becomes part·b + add.
type shift struct{ part, add, variance, weight float64 }

// Verdict is the outcome. Its slices are the engine's and hold until the next judgement.
type Verdict struct {
	LogEvidence [Kinds]float64 // natural logarithm, per gram of each reading; -Inf for a fault that can't be
	Posterior   [Kinds]float64
	Reread      [Kinds]Reread // the best other reading of what was typed, for digit, unit, swapped and displaced
	Liquid      float64       // density of the other liquid that explains it best; 0: none
}

// Case is what an item can be: as claimed, of another standard, another material.
type Case struct {
	Claimed, Lower, Finer, Alike []Node
	Cores, StoneSpecific         []float64 // specific volumes of core metals, and of stones
}

const maxBase = 16

// Judge weighs every fault against the readings.
func (e *Engine) Judge(w *Weighing, c *Case) *Verdict {
	e.w = w
	e.Verdict = Verdict{}
	e.read()
	ln := &e.Verdict.LogEvidence
	for k := range ln {
		ln[k] = math.Inf(-1)
	}
	e.others = append(append(e.others[:0], c.Lower...), c.Alike...)
	e.mixed = Compress(append(e.mixed[:0], c.Claimed...), maxBase)

	scatter := e.scatter(e.ss, e.s2)
	end := e.noClosing()
	common := scatter + end + e.lnAir + e.lnOther
	e.base = e.place(e.base[:0], e.mixed, 0, 0)
	e.few = Compress(append(e.few[:0], e.mixed...), maxBase/2)
	e.fewer = e.place(e.fewer[:0], e.few, 0, 0)
	ln[Clean] = e.lnSum(e.base) + common + e.lnCheck
	ln[LowerStandard] = e.materials(c.Lower) + common + e.lnCheck
	ln[FinerStandard] = e.materials(c.Finer) + common + e.lnCheck
	ln[LookAlike] = e.materials(c.Alike) + common + e.lnCheck

	each := e.lnAir + e.lnOther + e.lnCheck
	e.bubbles()
	ln[Bubble] = e.hits(Bubble) + end + each
	e.zeros()
	ln[Zero] = e.hits(Zero) + e.zeroClosing() + each
	e.touches()
	ln[Touching] = e.hits(Touching) + end + each
	if e.wires() {
		ln[Wire] = e.hits(Wire) + end + each
	}
	ln[Hanger] = e.hanger() + common
	ln[Temperature] = e.liquidFactor(Temperature) + common
	ln[Liquid] = e.liquidFactor(Liquid) + common
	if w.Ethanol {
		ln[Ethanol] = e.liquidFactor(Ethanol) + common
	}
	ln[Hollow] = e.hollow() + common + e.lnCheck
	ln[Stones] = e.inlaid(Stones, c.StoneSpecific) + common + e.lnCheck
	ln[Core] = e.inlaid(Core, c.Cores) + common + e.lnCheck
	ln[Pores] = e.pores() + each
	ln[Wet] = e.wet() + scatter + e.lnAir + e.lnCheck
	ln[Drift] = e.drift() + e.lnAir
	ln[Draught] = e.draught()
	ln[WrongItem] = e.wrongItem(common) + e.lnCheck
	e.reread()
	ln[SomethingElse] = e.somethingElse()
	e.settled()
	e.posterior()
	return &e.Verdict
}

// read condenses the readings.
func (e *Engine) read() {
	w := e.w
	n := float64(len(w.Air))
	e.air = meanOf(w.Air)
	e.air1 = w.AirS * w.AirS / n
	e.steps()
	e.displaced = e.displaced[:0]
	e.mean = 0
	for _, r := range w.Immersed {
		b := w.displacedBy(e.air, r.Gram)
		e.displaced = append(e.displaced, b)
		e.mean += b / float64(len(w.Immersed))
	}
	e.ss = 0
	for _, b := range e.displaced {
		e.ss += (b - e.mean) * (b - e.mean)
	}
	e.s2 = w.ImmersedS * w.ImmersedS
	e.closing, e.closing2 = 0, 0
	if len(w.Closing) > 0 {
		e.closing = meanOf(w.Closing) - e.air
		e.closing2 = e.air1 + w.AirS*w.AirS/float64(len(w.Closing))
	}
	e.lnAir = lnScatter(squares(w.Air, e.air), w.AirS*w.AirS, len(w.Air))
	e.lnOther = e.intake(e.air)
	e.eta, e.eta2, e.lnCheck = e.liquidGiven(0, 0)
}

// lnScatter is the logarithm of the density of the deviations of n readings from their mean.
func lnScatter(ss, variance float64, n int) float64 {
	if n < 2 {
		return 0
	}
	return -ss/(2*variance) - float64(n-1)/2*math.Log(2*math.Pi*variance) - math.Log(float64(n))/2
}

func (e *Engine) scatter(ss, variance float64) float64 {
	return lnScatter(ss, variance, len(e.displaced))
}

func lnNormal(d, variance float64) float64 {
	return -d*d/(2*variance) - math.Log(2*math.Pi*variance)/2
}

// noClosing is the closing weighing when it should agree with the first.
func (e *Engine) noClosing() float64 {
	if e.closing2 == 0 {
		return 0
	}
	return lnNormal(e.closing, e.closing2)
}

// intakeShare is how far two balances may differ on one item; chosen here.
const intakeShare = 1e-5

// intakeS is the standard deviation of the mass at the intake about that of now: two readings, the
// last digit that was written down, and another balance.
func (e *Engine) intakeS(air float64) float64 {
	return math.Sqrt(4*e.w.AirS*e.w.AirS+e.w.IntakeDigit*e.w.IntakeDigit/3) + intakeShare*air
}

func (e *Engine) intake(air float64) float64 {
	if e.w.IntakeG <= 0 {
		return 0
	}
	s := e.intakeS(air)
	return lnNormal(e.w.IntakeG-air, s*s)
}

// liquidGiven says what the check piece leaves of the liquid's relative error when a fault should
// have moved it by t: the error's mean, its variance, and the logarithm of the check's density.
func (e *Engine) liquidGiven(t, variance float64) (mean, left, ln float64) {
	u2 := e.w.LiquidU * e.w.LiquidU
	c := e.w.Check
	if c == nil {
		return 0, u2 + variance, 0
	}
	all := u2 + variance + c.U*c.U
	d := c.Ratio - t
	return d * (u2 + variance) / all, (u2 + variance) * c.U * c.U / all, lnNormal(d, all)
}

// place puts nodes of specific volume on the axis of displaced mass. The liquid's relative error
// is moved by eta beyond what the check piece says.
func (e *Engine) place(levels []level, nodes []Node, eta, variance float64) []level {
	w := e.w
	for _, n := range nodes {
		b := w.displaced(e.air, n.V) * (1 + e.eta + eta)
		levels = append(levels, level{b, e.commonVariance(b, n.SD/n.V) + b*b*variance, n.Weight})
	}
	return levels
}

// commonVariance is that of the displaced mass which all immersions share.
func (e *Engine) commonVariance(b, relative float64) float64 {
	own := b / e.air * b / e.air * e.air1 // standing: the mass scales the expectation
	if !e.w.Standing {
		own = (1 - b/e.air) * (1 - b/e.air) * e.air1
	}
	return own + b*b*(relative*relative+e.w.CommonU*e.w.CommonU+e.eta2)
}

// sum is the density of the mean of the immersions over levels.
func (e *Engine) sum(levels []level) float64 {
	own := e.s2 / float64(len(e.displaced))
	total := 0.0
	for _, l := range levels {
		variance, d := l.variance+own, e.mean-l.b
		if z2 := d * d / variance; z2 < cut {
			total += l.weight * bell(z2) / math.Sqrt(variance)
		}
	}
	return total / math.Sqrt(2*math.Pi)
}

func (e *Engine) lnSum(levels []level) float64 { return math.Log(e.sum(levels)) }

// materials is the evidence of an item of other nodes, weighed soundly. Most are far off, and are
// passed over before anything is worked out.
func (e *Engine) materials(nodes []Node) float64 {
	own := e.s2 / float64(len(e.displaced))
	reach := 8 * math.Sqrt(e.commonVariance(e.mean, 0)+own)
	total := 0.0
	for _, n := range nodes {
		b := e.w.displaced(e.air, n.V) * (1 + e.eta)
		relative := n.SD / n.V
		if d := math.Abs(e.mean - b); d > 2*reach && d > 8*relative*b+reach {
			continue
		}
		variance := e.commonVariance(b, relative) + own
		if d := e.mean - b; d*d < cut*variance {
			total += n.Weight * bell(d*d/variance) / math.Sqrt(variance)
		}
	}
	return math.Log(total / math.Sqrt(2*math.Pi))
}

// liquidFactor is the evidence of a liquid of another density.
func (e *Engine) liquidFactor(k Kind) float64 {
	total, best := 0.0, 0.0
	try := func(ratio, width, weight, rho float64) {
		mean, left, ln := e.liquidGiven(ratio, width*width)
		own := e.s2 / float64(len(e.displaced))
		sum := 0.0
		for _, l := range e.base {
			b := l.b / (1 + e.eta) * (1 + ratio + mean)
			variance := l.variance + b*b*(left-e.eta2) + own
			if d := e.mean - b; d*d < cut*variance {
				sum += l.weight * normalAt(d*d, variance)
			}
		}
		sum *= weight * math.Exp(ln)
		total += sum
		if rho > 0 && sum > best {
			best, e.Verdict.Liquid = sum, rho
		}
	}
	switch k {
	case Temperature:
		for _, c := range laws()[Temperature] {
			width := c.width * math.Sqrt(cell)
			try(e.w.PerKelvin*c.x, math.Abs(e.w.PerKelvin)*width, c.weight*e.w.Thermometer.at(c.x, width), 0)
		}
	case Ethanol:
		// Water taken up makes it denser; that the alcohol is stronger than said is rarer.
		for _, c := range laws()[Ethanol] {
			width := c.width * math.Sqrt(cell)
			try(c.x, width, 0.8*c.weight*e.w.Strength.at(c.x, width), 0)
			try(-c.x, width, 0.2*c.weight*e.w.Strength.at(-c.x, width), 0)
		}
	case Liquid:
		// Mostly another bottle, known to half a per cent; else a mixture of ethanol and water of
		// any strength, or dirt, that makes it denser more often than not. Chosen here.
		const bottle, mixture, spread = 0.5, 0.2, 0.005
		stated := e.w.LiquidRho - e.w.AirRho
		n := float64(len(e.w.OtherLiquids))
		for _, rho := range e.w.OtherLiquids {
			ratio := (rho-e.w.AirRho)/stated - 1
			const other = 0.05 // what an instrument for the strength says of another liquid is anybody's guess
			try(ratio, spread, bottle/n*e.w.Strength.at(ratio, other), rho)
		}
		const light, dense, cells = 0.785, 1.0, 16
		for i := range cells {
			width := (dense - light) / cells
			rho := light + width*(float64(i)+0.5)
			ratio := (rho-e.w.AirRho)/stated - 1
			// Ethanol that has changed is a fault of its own.
			if math.Abs(ratio) > 0.01 && !(e.w.Ethanol && ratio < Ethanol.Fault().Second) {
				broad := width / stated * math.Sqrt(cell)
				try(ratio, broad, mixture/cells*e.w.Strength.at(ratio, broad), 0)
			}
		}
		for _, c := range dirt() {
			// It changes nothing of the ethanol's strength.
			width, strength := c.width*math.Sqrt(cell), e.w.Strength.at(0, 0)
			try(c.x, width, 0.2*c.weight*strength, 0)
			try(-c.x, width, 0.1*c.weight*strength, 0)
		}
	}
	return math.Log(total)
}

// hanger is the evidence of a constant in all immersions: the hanger not tared at all makes the
// immersed reading heavier by its weight in the liquid, one tared in air only makes it lighter by
// its buoyancy. It moves the check piece by the same grams.
func (e *Engine) hanger() float64 {
	total := 0.0
	const steel = 8.0
	buoyancy := (e.w.LiquidRho - e.w.AirRho) / steel
	one := func(mass, width, weight float64) {
		for _, part := range [2]float64{-(1 - buoyancy), buoyancy} {
			if e.w.Standing && part < 0 {
				continue // the vessel carries what the hanger displaces, and nothing else of it
			}
			add, t := part*mass, 0.0
			if c := e.w.Check; c != nil {
				t = add / (c.LostG - add) // it lost the rest, and the constant came on top
			}
			total += weight / 2 * e.constant(add, t, math.Abs(part)*width*math.Sqrt(cell))
		}
	}
	if m := e.w.HangerG; m > 0 {
		one(m, 0.1*m, 1)
	} else {
		for _, c := range laws()[Hanger] {
			one(c.x, c.width, c.weight)
		}
	}
	return math.Log(total)
}

// constantGiven is liquidGiven for an error of the check piece's own reading: it adds to what the
// check piece shows and not to the liquid.
func (e *Engine) constantGiven(t, spread float64) (mean, left, ln float64) {
	u2 := e.w.LiquidU * e.w.LiquidU
	c := e.w.Check
	if c == nil {
		return 0, u2, 0
	}
	all := u2 + c.U*c.U + spread*spread
	d := c.Ratio - t
	return d * u2 / all, u2 * (c.U*c.U + spread*spread) / all, lnNormal(d, all)
}

// hollow is the evidence of a sealed space: the outline is larger than the metal.
func (e *Engine) hollow() float64 {
	total := 0.0
	own := e.s2 / float64(len(e.displaced))
	for _, l := range e.base {
		for _, c := range laws()[Hollow] {
			grown := 1 / (1 - c.x)
			b := l.b * grown
			width := l.b * grown * grown * c.width
			variance := l.variance*grown*grown + width*width*cell + own
			if d := e.mean - b; d*d < cut*variance {
				total += l.weight * c.weight * normalAt(d*d, variance)
			}
		}
	}
	return math.Log(total)
}

// inlaid is the evidence of a share of the mass that is of another specific volume.
func (e *Engine) inlaid(k Kind, specific []float64) float64 {
	total := 0.0
	own := e.s2 / float64(len(e.displaced))
	for _, v := range specific {
		other := e.w.displaced(e.air, v) * (1 + e.eta)
		for _, l := range e.fewer {
			for _, c := range laws()[k] {
				b := l.b + c.x*(other-l.b)
				width := c.width * (other - l.b)
				variance := l.variance + width*width*cell + own
				if d := e.mean - b; d*d < cut*variance {
					total += l.weight * c.weight * normalAt(d*d, variance)
				}
			}
		}
	}
	return math.Log(total / float64(len(specific)))
}

// pores is the evidence of open pores. They hold air at the first immersion and fill from one to
// the next, so that the displaced mass falls by up to the pores' own; what they took up is
// weighed in air at the end. How full they are at each weighing is anybody's guess: any filling
// is as likely as any other.
func (e *Engine) pores() float64 {
	total := 0.0
	// Pores only fill: of all orders of the later immersions one is right.
	ordered := 1.0
	for i := 2; i < len(e.displaced); i++ {
		ordered *= float64(i)
		if e.displaced[i] > e.displaced[i-1]+3*math.Sqrt(2*e.s2) {
			ordered = 0
		}
	}
	first := e.displaced[0]
	for _, c := range laws()[Pores] {
		share := c.x / (1 - c.x)
		volume := e.mean * share
		sum := 0.0
		for _, l := range e.fewer {
			sum += l.weight * between(first-l.b, l.b*share, math.Sqrt(l.variance+e.s2))
		}
		for _, b := range e.displaced[1:] {
			sum *= between(first-b, volume, math.Sqrt(2*e.s2))
		}
		if order := ordered; order == 0 || volume > 4*math.Sqrt(e.s2) {
			sum *= order // below that scatter, not filling, sets the order
		}
		if e.closing2 > 0 {
			sum *= between(e.closing, volume, math.Sqrt(e.closing2))
		}
		total += c.weight * sum
	}
	return math.Log(total)
}

// between is the density at x of a value anywhere from 0 to width, seen with standard deviation s.
func between(x, width, s float64) float64 {
	const far = 7 // standard deviations: what lies beyond is less than 3e-12
	if x < -far*s || x > width+far*s {
		return 0
	}
	above, beyond := 2., 0.
	if x < far*s {
		above = math.Erfc(-x / s / math.Sqrt2)
	}
	if x > width-far*s {
		beyond = math.Erfc(-(x - width) / s / math.Sqrt2)
	}
	return (above - beyond) / (2 * width)
}

// wet is the evidence of liquid on the item at the first weighing in air, gone at the last. Where
// the item was weighed dry as well, at the end or at the intake, the difference is the liquid: its
// size is then known far better than a cell of the law is wide.
func (e *Engine) wet() float64 {
	const dried = 0.9 // chance that it is dry at the end; chosen here
	films := e.films()
	size, variance, ln := 0.0, 0.0, 0.0
	pin := func(w, s2 float64) { // one more weighing of the dry item
		if variance == 0 {
			size, variance = w, s2
			ln = math.Log(kernel(films, w, math.Sqrt(s2)))
			return
		}
		ln += lnNormal(w-size, variance+s2)
		size, variance = (size*s2+w*variance)/(variance+s2), variance*s2/(variance+s2)
	}
	s := e.intakeS(e.air)
	intake := func() {
		if e.w.IntakeG > 0 {
			pin(e.air-e.w.IntakeG, s*s)
		}
	}
	if e.closing2 == 0 {
		intake()
		return e.filmed(films, size, variance) + ln
	}
	// Dry at the end, or still wet.
	pin(-e.closing, e.closing2)
	intake()
	dry := math.Log(dried) + e.filmed(films, size, variance) + ln
	size, variance, ln = 0, 0, 0
	intake()
	still := math.Log(1-dried) + e.filmed(films, size, variance) + ln + e.noClosing()
	return lnAdd(dry, still)
}

// filmed is the evidence of the immersions when a film was on the item in air: of a size with a
// variance, or of any size of the law where the variance is 0.
func (e *Engine) filmed(films []size, known, spread float64) float64 {
	if spread > 0 {
		films = append(e.pinned[:0], size{known, math.Sqrt(spread / cell), 1})
		e.pinned = films
	}
	total := 0.0
	own := e.s2 / float64(len(e.displaced))
	for _, c := range films {
		for _, l := range e.base {
			b := l.b * (1 - c.x/e.air)
			if !e.w.Standing {
				b += c.x
			}
			variance := l.variance + own + c.width*c.width*cell
			if d := e.mean - b; d*d < cut*variance {
				total += l.weight * c.weight * normalAt(d*d, variance)
			}
		}
	}
	return math.Log(total)
}

// films are the cells of liquid left on an item: those of the table for an item of 10 g, and more
// on a larger surface.
func (e *Engine) films() []size {
	grown := math.Max(1, math.Cbrt(e.air*e.air/100))
	e.sizes = e.sizes[:0]
	for _, c := range laws()[Wet] {
		e.sizes = append(e.sizes, size{c.x * grown, c.width * grown, c.weight})
	}
	return e.sizes
}

// drift is the evidence of a steady change from reading to reading. In air it shows, or not:
// the balance may have been set to zero in between.
func (e *Engine) drift() float64 {
	const again = 0.8 // chance that the closing weighing began at zero again; chosen here
	n := len(e.displaced)
	total := 0.0
	for _, c := range laws()[Drift] {
		for _, sense := range [2]float64{-1, 1} {
			step, width := sense*c.x*e.w.AirS, c.width*e.w.AirS
			ss, mean := 0.0, 0.0
			for i, b := range e.displaced {
				mean += (b - step*e.at[i]) / float64(n)
			}
			for i, b := range e.displaced {
				d := b - step*e.at[i] - mean
				ss += d * d
			}
			// The width of the cell of steps shows as scatter about the mean.
			ln := e.scatter(ss, e.s2+width*width*cell*float64((n-1)*(n+1))/12)
			ln += e.driftingCheck(step) + e.driftingZeros(step)
			if e.closing2 > 0 {
				far := step * float64(n+1)
				ln += lnAdd(math.Log(again)+e.noClosing(), math.Log(1-again)+lnNormal(e.closing, e.closing2+far*far))
			}
			if e.w.IntakeG > 0 {
				s := e.intakeS(e.air)
				ln += lnAdd(e.lnOther, lnNormal(e.w.IntakeG-e.air, s*s+step*step)) - math.Ln2
			}
			sum := 0.0
			for _, l := range e.base {
				variance := l.variance + e.s2/float64(n) + step*step
				if d := mean - l.b; d*d < cut*variance {
					sum += l.weight * normalAt(d*d, variance)
				}
			}
			total += c.weight / 2 * sum * math.Exp(math.Max(ln, -700))
		}
	}
	return math.Log(total)
}

// driftingCheck is what the check piece says when the balance drifts by a step from reading to
// reading. Hanging, both of its readings move alike; standing, its gain moves, or not, as the
// balance was set to zero just before.
func (e *Engine) driftingCheck(step float64) float64 {
	c := e.w.Check
	if c == nil || !e.w.Standing {
		return e.lnCheck
	}
	moved := step / c.LostG
	_, _, ln := e.constantGiven(0, moved)
	return lnAdd(e.lnCheck, ln) - math.Ln2
}

// draught is the evidence of readings that scatter more than the balance does.
func (e *Engine) draught() float64 {
	total := 0.0
	n := float64(len(e.displaced))
	ssAir := squares(e.w.Air, e.air)
	for _, c := range laws()[Draught] {
		f2 := c.x * c.x
		ln := e.scatter(e.ss, e.s2*f2) + e.soundZeros(f2) + lnScatter(ssAir, e.w.AirS*e.w.AirS*f2, len(e.w.Air))
		if e.closing2 > 0 {
			ln += lnNormal(e.closing, e.closing2*f2)
		}
		if e.w.IntakeG > 0 {
			s := e.intakeS(e.air)
			ln += lnNormal(e.w.IntakeG-e.air, s*s+f2*e.w.AirS*e.w.AirS)
		}
		if k := e.w.Check; k != nil {
			own := (f2 - 1) * (e.s2 + e.w.AirS*e.w.AirS) / (k.LostG * k.LostG)
			ln += lnNormal(k.Ratio, e.w.LiquidU*e.w.LiquidU+k.U*k.U+own)
		}
		sum := 0.0
		for _, l := range e.base {
			variance := l.variance + f2*(e.s2/n+e.air1)
			if d := e.mean - l.b; d*d < cut*variance {
				sum += l.weight * normalAt(d*d, variance)
			}
		}
		total += c.weight * sum * math.Exp(math.Max(ln, -700))
	}
	return math.Log(total)
}

// wrongItem is the evidence of an item that is not the one taken in, or was exchanged between two
// weighings: its mass differs, and it may be of anything.
func (e *Engine) wrongItem(common float64) float64 {
	known := &e.Verdict.LogEvidence
	lower, alike := math.Exp(known[LowerStandard]-common-e.lnCheck), math.Exp(known[LookAlike]-common-e.lnCheck)
	other := math.Log(e.sum(e.base)/2 + lower/8 + alike/8 + e.flat(e.mean)/4)
	ln := other + common - e.lnOther
	if e.w.IntakeG > 0 {
		s := e.intakeS(e.air)
		total := 0.0
		for _, c := range laws()[WrongItem] {
			for _, sense := range [2]float64{-1, 1} {
				total += c.weight / 2 * math.Exp(math.Max(lnNormal(e.w.IntakeG-e.air*(1+sense*c.x), s*s+e.air*e.air*c.width*c.width*cell), -700))
			}
		}
		ln += math.Log(total)
	}
	if e.closing2 == 0 {
		return ln
	}
	// Exchanged before the closing weighing: only that one differs. Or before the immersions: then
	// they and the closing weighing are of the other item.
	total := 0.0
	for _, c := range laws()[WrongItem] {
		for _, sense := range [2]float64{-1, 1} {
			total += c.weight / 2 * math.Exp(math.Max(lnNormal(e.closing-sense*e.air*c.x, e.closing2+e.air*e.air*c.width*c.width*cell), -700))
		}
	}
	closed := math.Log(total) + common - e.noClosing()
	return lnAdd(ln+math.Log(0.5), closed+lnAdd(math.Log(0.25)+e.lnSum(e.base), math.Log(0.25)+e.ofClosing()))
}

// ofClosing is the evidence of immersions of the item of the closing weighing, which may be of
// anything, the claimed metal before all.
func (e *Engine) ofClosing() float64 {
	air, mean := e.air, e.mean
	defer func() { e.air, e.mean = air, mean }()
	e.air += e.closing
	if !e.w.Standing {
		e.mean += e.closing
	}
	if e.air <= 0 {
		return math.Inf(-1)
	}
	return math.Log(e.sum(e.placed(e.mixed))/2 + math.Exp(e.materials(e.others))/4 + e.flat(e.mean)/4)
}

func (e *Engine) placed(nodes []Node) []level {
	e.levels = e.place(e.levels[:0], nodes, 0, 0)
	return e.levels
}

// flat is the density of a displaced mass of which nothing is known: most likely anything up to
// half of the mass, rarely anything else.
func (e *Engine) flat(b float64) float64 {
	const likely, rest = 0.95, 0.05
	half := 0.5 * e.air * (e.w.LiquidRho - e.w.AirRho)
	if b > 0 && b < half {
		return likely / half
	}
	return rest / (2 * e.air)
}

// somethingElse keeps the rest honest: half of it moves all immersions alike, half each of them,
// and now and then the other weighings too.
func (e *Engine) somethingElse() float64 {
	const apart = 0.1 // chance that the immersions have nothing in common; chosen here
	ln := math.Log(1-apart) + e.scatter(e.ss, e.s2) + math.Log(e.flat(e.mean))
	own := math.Log(apart)
	for _, b := range e.displaced {
		own += math.Log(e.flat(b))
	}
	ln = lnAdd(ln, own)
	if e.closing2 > 0 {
		ln += lnAdd(math.Log(0.8)+e.noClosing(), math.Log(0.2)+math.Log(1/e.air))
	}
	const wide = 0.05 // of the liquid's density
	if e.w.Check != nil {
		ln += lnAdd(math.Log(0.9)+e.lnCheck, math.Log(0.1)+lnNormal(e.w.Check.Ratio, wide*wide))
	}
	air := lnAdd(math.Log(0.8)+e.lnAir, math.Log(0.2)+lnScatter(squares(e.w.Air, e.air), 400*e.w.AirS*e.w.AirS, len(e.w.Air)))
	other := e.lnOther
	if e.w.IntakeG > 0 {
		other = lnAdd(math.Log(0.9)+other, math.Log(0.1)+math.Log(1/e.air))
	}
	return ln + air + other
}

func lnAdd(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if math.IsInf(a, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}

// posterior turns evidence into probabilities with the weights of the table.
func (e *Engine) posterior() {
	v := &e.Verdict
	top := math.Inf(-1)
	var ln [Kinds]float64
	for k := range Kinds {
		f := k.Fault()
		weight := f.Weight
		switch seen := e.seen(k); seen {
		case Yes:
			weight *= f.LookedYes
		case No:
			weight *= f.LookedNo
		}
		if e.w.Factor != nil {
			weight *= e.w.Factor(k)
		}
		if math.IsNaN(v.LogEvidence[k]) {
			v.LogEvidence[k] = math.Inf(-1)
		}
		ln[k] = v.LogEvidence[k] + math.Log(weight)
		top = math.Max(top, ln[k])
	}
	sum := 0.0
	for k := range ln {
		v.Posterior[k] = math.Exp(ln[k] - top)
		sum += v.Posterior[k]
	}
	for k := range v.Posterior {
		v.Posterior[k] /= sum
	}
}

func (e *Engine) seen(k Kind) Seen {
	switch k {
	case Stones:
		return e.w.StonesSeen
	case Hollow:
		return e.w.HollowSeen
	case Core:
		return e.w.CoreSeen
	}
	return NotLooked
}

// Compress merges nodes in order of specific volume until at most n are left, keeping mean and
// variance of each group. The sum of the weights stays. It works in place.
func Compress(nodes []Node, n int) []Node {
	if len(nodes) <= n {
		return nodes
	}
	slices.SortFunc(nodes, func(a, b Node) int { return cmp.Compare(a.V, b.V) })
	return Merge(nodes, n)
}

// Merge is Compress for nodes that are in order.
func Merge(nodes []Node, n int) []Node {
	total := 0.0
	for _, d := range nodes {
		total += d.Weight
	}
	if len(nodes) <= n || total == 0 {
		return nodes
	}
	out := nodes[:0]
	// Weights often fill a group exactly: how their sum is rounded must not move a border.
	share := total / float64(n) * (1 - 1e-9)
	weight, m1, m2, origin := 0.0, 0.0, 0.0, nodes[0].V
	for i, d := range nodes {
		x := d.V - origin
		weight += d.Weight
		m1 += d.Weight * x
		m2 += d.Weight * (x*x + d.SD*d.SD)
		if weight >= share || i == len(nodes)-1 {
			if weight > 0 {
				mean := m1 / weight
				out = append(out, Node{origin + mean, math.Sqrt(math.Max(0, m2/weight-mean*mean)), weight})
			}
			weight, m1, m2 = 0, 0, 0
		}
	}
	return out
}
