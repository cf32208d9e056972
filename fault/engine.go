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
	firstU         float64 // relative standard uncertainty of the specific volume in this liquid, the air reading left out

	lowerNodes, finerNodes, alikeNodes []Node // what else it can be made of

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
	e.layOut()
	e.inItem(c)
	e.reread()
	e.lowerNodes, e.finerNodes, e.alikeNodes = append(e.lowerNodes[:0], c.Lower...), append(e.finerNodes[:0], c.Finer...), append(e.alikeNodes[:0], c.Alike...)
	if w.Volume != nil {
		e.measured()
	}
	e.inLiquid()
	e.settled()
	if w.Another != nil {
		e.another(c)
	}
	e.posterior()
	return &e.Verdict
}

// common is the logarithm of what all faults of all immersions alike share, but for the check piece.
func (e *Engine) common() float64 {
	return e.scatter(e.ss, e.s2) + e.noClosing() + e.lnAir + e.lnOther
}

// layOut puts what the claim can be made of on the axis of displaced mass.
func (e *Engine) layOut() {
	e.base = e.place(e.base[:0], e.mixed, 0, 0)
	e.few = Compress(append(e.few[:0], e.mixed...), maxBase/2)
	e.fewer = e.place(e.fewer[:0], e.few, 0, 0)
}

// inItem weighs what lies in the item, or happened to it: every measurement of its volume shows it.
func (e *Engine) inItem(c *Case) {
	ln := &e.Verdict.LogEvidence
	common := e.common()
	ln[Hollow] = e.hollow() + common + e.lnCheck
	ln[Stones] = e.inlaid(Stones, c.StoneSpecific) + common + e.lnCheck
	ln[Core] = e.inlaid(Core, c.Cores) + common + e.lnCheck
	ln[Pores] = e.pores() + e.lnAir + e.lnOther + e.lnCheck
	ln[Wet] = e.wet() + e.scatter(e.ss, e.s2) + e.lnAir + e.lnCheck
	ln[WrongItem] = e.wrongItem(common, e.materials(c.Lower), e.materials(c.Alike)) + e.lnCheck
	ln[SomethingElse] = e.somethingElse()
	if e.w.Volume != nil {
		shown := math.Log(e.w.Volume(e.shown(), e.air))
		for _, k := range [...]Kind{Hollow, Stones, Core, Pores, Wet, WrongItem} {
			ln[k] += shown
		}
	}
}

// shown is the specific volume that the weighing shows by itself.
func (e *Engine) shown() float64 { return e.w.specific(e.air, e.mean/(1+e.eta)) }

// measured lets what was measured of the volume by other means weigh on what the item can be made of.
func (e *Engine) measured() {
	for _, nodes := range [...][]Node{e.mixed, e.lowerNodes, e.finerNodes, e.alikeNodes} {
		for i := range nodes {
			nodes[i].Weight *= e.w.Volume(nodes[i].V, e.air)
		}
	}
	e.layOut()
}

// inLiquid weighs what the materials say of a sound weighing, and of faults of the weighing in the
// liquid: another measurement of the volume does not show those.
func (e *Engine) inLiquid() {
	ln := &e.Verdict.LogEvidence
	common := e.common()
	ln[Clean] = e.lnSum(e.base) + common + e.lnCheck
	ln[LowerStandard] = e.materials(e.lowerNodes) + common + e.lnCheck
	ln[FinerStandard] = e.materials(e.finerNodes) + common + e.lnCheck
	ln[LookAlike] = e.materials(e.alikeNodes) + common + e.lnCheck

	each, end := e.lnAir+e.lnOther+e.lnCheck, e.noClosing()
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
	if e.w.Ethanol {
		ln[Ethanol] = e.liquidFactor(Ethanol) + common
	}
	ln[Drift] = e.drift() + e.lnAir
	ln[Draught] = e.draught()
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
	e.firstU = math.Sqrt(e.eta2 + w.CommonU*w.CommonU + e.s2/float64(len(w.Immersed))/(e.mean*e.mean))
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
		if n.Weight == 0 {
			continue
		}
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
