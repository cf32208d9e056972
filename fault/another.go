package fault

import "math"

// Another is the same item weighed in another liquid: a second measurement of its specific volume,
// free of whatever is wrong with the first liquid or hit an immersion in it.
type Another struct {
	Gram float64 // reading of the item in it, or gain
	Gain bool
	Rho  float64 // density of that liquid less that of the air, times the Scale there; g/cm³

	RhoU  float64 // relative standard uncertainty of Rho
	GramU float64 // standard uncertainty of the weight lost in it
	Wrong float64 // chance that this weighing is wrong itself
}

// specific is the specific volume that it finds of an item of mass air; false where it finds none.
func (o *Another) specific(w *Weighing, air float64) (v float64, ok bool) {
	lost := o.Gram
	if !o.Gain {
		lost = air - o.Gram
	}
	x := lost / (air * o.Rho)
	return x / (1 + x*w.AirRho), x > 0
}

// u is the standard uncertainty of a specific volume that it finds of an item of mass air.
func (o *Another) u(v, air float64) float64 {
	return v * math.Hypot(o.RhoU, o.GramU/(v*air*o.Rho))
}

// astray is the density of a weighing that is wrong itself, off by d from what it should find with
// standard uncertainty s: to either side, any size up to half of v as likely on a logarithmic scale,
// as errors of a zero or a touch are.
func astray(d, v, s float64) float64 {
	d, most := math.Abs(d), math.Max(v/2, 3*s)
	return 1 / (2 * (1 + math.Log(most/s)) * math.Max(d, s))
}

// lnAgrees is the evidence of the other weighing when both find the same item: an item of mass air
// of which the first found the specific volume v. Spread is a standard deviation that the two may
// differ by on top.
func (e *Engine) lnAgrees(air, v, spread float64) float64 {
	o := e.w.Another
	found, ok := o.specific(e.w, air)
	if !ok {
		found = 0 // nothing that an item of metal would do: off by all of it
	}
	s := math.Hypot(math.Hypot(o.u(v, air), e.firstU*v), spread)
	sound := 0.0
	if ok {
		sound = (1 - o.Wrong) * math.Exp(-math.Min((found-v)*(found-v)/(2*s*s), 700)) / (s * math.Sqrt(2*math.Pi))
	}
	return math.Log(sound + o.Wrong*astray(found-v, v, s))
}

// condition changes nodes of specific volume to what the other weighing leaves of them: its density at
// each, and where in the node it then lies.
func condition(nodes []Node, v, s float64) {
	const far = 100 // variances: the chance that the other weighing is wrong itself is far larger
	for i := range nodes {
		n := &nodes[i]
		variance := n.SD*n.SD + s*s
		d := v - n.V
		if d*d > far*variance {
			n.Weight = 0
			continue
		}
		n.Weight *= math.Exp(-d*d/(2*variance)) / math.Sqrt(2*math.Pi*variance)
		n.V, n.SD = n.V+n.SD*n.SD/variance*d, n.SD*s/math.Sqrt(variance)
	}
}

// another adds the weighing in the other liquid to the evidence of every fault. Where something is
// wrong in the first liquid alone, the other shows the material as it is: the materials are held
// against it, and then the first weighing against what is left of them. Where something is wrong
// with the item, or with what was written down, both find the same.
func (e *Engine) another(c *Case) {
	o := e.w.Another
	found, ok := o.specific(e.w, e.air)
	if !ok {
		return
	}
	v := e.shown()
	s := o.u(found, e.air)
	free := e.Verdict.LogEvidence // of the first weighing by itself
	for k := range free {
		e.Verdict.LogEvidence[k] = math.Inf(-1)
	}
	for _, nodes := range [...][]Node{e.mixed, e.lowerNodes, e.finerNodes, e.alikeNodes} {
		condition(nodes, found, s)
	}
	e.layOut()
	e.inLiquid()
	e.settled()
	tied := e.Verdict.LogEvidence

	claimed, weight := 0.0, 0.0
	for _, n := range c.Claimed {
		claimed += n.V * n.Weight
		weight += n.Weight
	}
	claimed /= weight
	sound, wrong := math.Log(1-o.Wrong), math.Log(o.Wrong)
	agrees := e.lnAgrees(e.air, v, 0)
	ln := &e.Verdict.LogEvidence
	for k := range Kinds {
		switch k {
		case Clean, LowerStandard, FinerStandard, LookAlike:
			ln[k] = lnAdd(sound+tied[k], wrong+math.Log(astray(found-v, v, s))+free[k])
		case Bubble, Zero, Touching, Wire, Temperature, Liquid, Ethanol, Drift, Draught:
			ln[k] = lnAdd(sound+tied[k], wrong+math.Log(astray(found-claimed, claimed, s))+free[k])
		case Hanger:
			// Forgotten once, or in both: then both are off, by the same grams in liquids that differ.
			once := lnAdd(sound+tied[k], wrong+math.Log(astray(found-claimed, claimed, s))+free[k])
			ln[k] = lnAdd(once, free[k]+e.lnAgrees(e.air, v, sideways*(v-claimed))) - math.Ln2
		case Wet:
			ln[k] = free[k] + e.lnAgrees(e.air, v, sideways*(v-claimed))
		case Pores:
			ln[k] = free[k] + e.lnAgrees(e.air, v, v-claimed) // fuller by then, or dried
		case Digit, Unit, Swapped, Displaced:
			ln[k] = free[k] // each other reading was held against it
		case SomethingElse:
			ln[k] = free[k] + lnAdd(agrees, math.Log(astray(found-v, v, s))) - math.Ln2
		default:
			ln[k] = free[k] + agrees
		}
	}
}

// sideways is by how much of itself an error of so many grams differs as a specific volume in two
// liquids: water and ethanol differ by a fifth.
const sideways = 0.2

// BothLiquids are the specific volumes that the two weighings find, in cm³/g at 20 °C, and how many
// standard uncertainties of their difference lie between them. False where the other finds none.
func (e *Engine) BothLiquids() (first, second, apart float64, ok bool) {
	o := e.w.Another
	first = e.shown()
	second, ok = o.specific(e.w, e.air)
	return first, second, math.Abs(second-first) / math.Hypot(o.u(first, e.air), e.firstU*first), ok
}

// FirstU is the relative standard uncertainty of the specific volume that the first liquid finds, after
// what the check piece says of it.
func (e *Engine) FirstU() float64 { return e.firstU }
