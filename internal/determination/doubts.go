package determination

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"sync"

	"wreath/alloy"
	"wreath/fault"
	"wreath/fluid"
	"wreath/gem"
	"wreath/quantity"
)

// Doubts are shown from here on; chosen here, tried on simulated weighings.
const (
	doubtful   = 0.5   // P(clean) below which doubts are shown
	worthALine = 0.01  // share of a fault that is shown
	atLeast3   = 0.001 // share from which the first three are shown all the same
	mostLines  = 6
	inGroup    = 0.02 // share of its group below which a member is not named
)

// namedMaterial is a standard material that the displaced mass can be held against.
type namedMaterial struct {
	name         string
	low, v, high float64 // specific volume, cm³/g
}

// judgeFaults weighs what may be wrong with the weighing or the item and writes down the doubts.
// Only plain immersion and comparison are judged so; the other methods have their own signs. Of an item
// of parts only the readings are judged.
func (e *evaluation) judgeFaults(c claim) {
	switch {
	case e.parted:
		e.judgeReadings(c, unjudgedParts)
		return
	case e.method != "immersion" && e.method != "comparison":
		e.answer.NotJudged = unjudgedMethod
		return
	}
	e.describeWeighing()
	e.describeCase(c)
	if len(e.faultCase.Claimed) == 0 {
		e.judgeReadings(c, unjudgedMaterial)
		return
	}
	e.describeSecondLiquid()
	e.describeVolume()
	v := e.faults.Judge(&e.weighed, &e.faultCase)
	clean := v.Posterior[fault.Clean]
	e.answer.Clean = &clean
	e.secondDensity()
	e.doubtSecondLiquid()
	e.judged, e.sound = true, clean
	if clean >= doubtful && len(e.answer.Doubts) == 0 {
		return
	}
	e.writeDoubts(c, v, clean < doubtful)
}

// describeWeighing tells the engine what is known of the weighing.
func (e *evaluation) describeWeighing() {
	d := e.draft
	w := &e.weighed
	*w = fault.Weighing{Air: typed(w.Air[:0], d.AirG), Closing: typed(w.Closing[:0], d.ClosingAirG), Immersed: w.Immersed[:0], OtherLiquids: w.OtherLiquids[:0], Done: w.Done, Zeros: w.Zeros}
	w.Standing = e.standing
	immersed := d.LiquidG
	if e.standing {
		immersed = d.GainG
	}
	w.Immersed = typed(w.Immersed, immersed)
	w.Interval = e.resolution
	rounding := roundingVariance * e.resolution * e.resolution
	if e.zeroRead {
		rounding = e.resolution * e.resolution / 6
	}
	w.AirS = math.Sqrt(e.widened(false, d.AirG) + rounding)
	w.ImmersedS = math.Sqrt(e.widened(true, immersed) + rounding + e.surfaceU*e.surfaceU)
	above20 := e.liquidC - 20
	w.AirRho = e.inputs[e.airRho].Value / 1000
	w.LiquidRho = e.rho0 / 1000
	w.Scale = 1
	if e.expansion >= 0 {
		w.Scale *= 1 + e.inputs[e.expansion].Value*above20
		w.CommonU = e.inputs[e.expansion].U * above20
	}
	if e.rise >= 0 {
		w.Scale /= 1 - e.inputs[e.rise].Value
		w.CommonU = math.Hypot(w.CommonU, e.inputs[e.rise].U)
	}
	if len(w.Air) > 0 && len(w.Immersed) > 0 {
		w.CommonU = math.Hypot(w.CommonU, e.linearity*math.Sqrt(2./3)/math.Max(e.resolution, w.Air[0].Gram/15))
	}
	w.PerKelvin = e.rho1 / e.rho0
	e.describeLiquid(w)
	e.describeDone(w)
	if item := d.Item; item != nil {
		w.StonesSeen, w.HollowSeen, w.CoreSeen = seen(item.Stones), seen(item.Hollow), seen(item.Core)
		if w.IntakeG = or(item.IntakeMassG, 0); w.IntakeG > 0 {
			w.IntakeDigit = quantity.Interval(strconv.FormatFloat(w.IntakeG, 'f', -1, 64))
		}
	}
	w.SurfaceBoundG = e.surfaceBound()
	if h := d.Hanger; h != nil {
		w.HangerG = or(h.MassG, 0)
	}
}

// widened is the variance of one reading. A repeatability known by few readings counts as larger,
// as its t distribution is (variance ν/(ν-2)); many repeats speak for themselves.
func (e *evaluation) widened(immersed bool, readings []Reading) float64 {
	s, dof := e.statedRepeatability(immersed)
	if n := len(readings); n >= enoughRepeats && e.assumedRepeatability(immersed) {
		_, own := mean(readings)
		s, dof = math.Max(own, s/3), float64(n-1)
	}
	if dof > 2.5 && !math.IsInf(dof, 1) {
		s *= math.Sqrt(dof / (dof - 2))
	}
	return s * s
}

// describeLiquid tells what is known of the liquid, as stated and by a check piece.
func (e *evaluation) describeLiquid(w *fault.Weighing) {
	if e.method == "comparison" {
		// The reference in the same liquid is the check piece.
		w.LiquidRho = e.answer.LiquidDensityKgM3 / 1000
		w.LiquidU = e.answer.LiquidDensityUKgM3 / e.answer.LiquidDensityKgM3
		return
	}
	if k := e.check; k.found > 0 {
		w.LiquidRho, w.LiquidU = k.stated/1000, k.statedU/k.stated
		w.Check = &fault.Check{Ratio: k.found/k.stated - 1, U: k.u / k.stated, LostG: k.lost}
	} else {
		sum := 0.0
		for _, i := range e.liquidErrors[:e.nLiquidErrors] {
			sum += e.inputs[i].U * e.inputs[i].U
		}
		w.LiquidU = math.Sqrt(sum+math.Pow(e.rho1*e.inputs[e.liquidT].U, 2)) / e.rho0
	}
	kind := ""
	if e.draft.Liquid != nil {
		kind = e.draft.Liquid.Kind
	}
	w.Ethanol = kind == "ethanol-water"
	for i := range fluid.Liquids {
		l := &fluid.Liquids[i]
		if rho := l.Density.GramPerCm3() * (1 - float64(l.Expansion)*(e.liquidC-20)); benchLiquid(l) && math.Abs(rho/w.LiquidRho-1) > 0.01 {
			w.OtherLiquids = append(w.OtherLiquids, rho)
		}
	}
}

// benchLiquid is true for a liquid that stands on a bench for this work.
func benchLiquid(l *fluid.Liquid) bool {
	switch l.Key {
	case "water", "ethanol", "ethanol-70-vol", "propan-2-ol", "acetone", "toluene":
		return true
	}
	return false
}

// surfaceBound is the most that the pull of the surface on the wires can change between a dry and
// a wetted wire, in grams: surface tension times perimeter. Without a wire in the draft it is that
// of one of 0.3 mm.
func (e *evaluation) surfaceBound() float64 {
	diameter, wires := 0.3, 1.0
	if h := e.draft.Hanger; h != nil {
		diameter = or(h.WireDiameterMM, diameter)
		if h.Wires != nil {
			wires = float64(*h.Wires)
		}
	}
	const gravity = 9.80665
	return wires * math.Pi * diameter * e.surfaceTension() / gravity / 1000
}

func seen(answer *bool) fault.Seen {
	switch {
	case answer == nil:
		return fault.NotLooked
	case *answer:
		return fault.Yes
	}
	return fault.No
}

func typed(to []fault.Reading, readings []Reading) []fault.Reading {
	for _, r := range readings {
		to = append(to, fault.Reading{Gram: r.Gram, Digit: r.Interval})
	}
	return to
}

// describeCase lays out what the item can be: what is claimed, what else it is usually.
func (e *evaluation) describeCase(c claim) {
	k := &e.faultCase
	*k = fault.Case{Claimed: k.Claimed[:0], Lower: k.Lower[:0], Finer: k.Finer[:0], Cores: coreVolumes, StoneSpecific: stoneVolumes}
	switch {
	case c.stone != "":
		e.caseOfStone(c)
	case c.metal == "":
		k.Claimed = append(k.Claimed, standardNodes()...)
		k.Alike = lookalikeNodes()
	case c.fineness == 0:
		k.Claimed = append(k.Claimed, anyFineness()[c.metal]...)
		k.Alike = lookalikeNodes()
	default:
		e.caseOfStandard(c)
		k.Alike = lookalikeNodes()
	}
}

// The specific volumes of cores that forgers use, and of stones that are set; cm³/g at 20 °C.
// Tungsten 19.25, lead 11.34, copper 8.94, silver 10.5, steel 7.86, aluminium 2.70; diamond 3.52,
// zirconia 5.8, quartz 2.65, corundum 4.0.
var (
	coreVolumes  = []float64{1 / 19.25, 1 / 11.34, 1 / 8.94, 1 / 10.5, 1 / 7.86, 1 / 2.70}
	stoneVolumes = []float64{1 / 3.52, 1 / 5.8, 1 / 2.65, 1 / 4.0}
)

// overFineness are the finenesses that honest ware of a standard has, as fractions above it.
var overFineness = [...]float64{0.001, 0.004}

func (e *evaluation) caseOfStandard(c claim) {
	k := &e.faultCase
	named := c.namedFamilies()
	total := 0.0
	for _, f := range alloy.Families() {
		weight := e.prior(f, c, named)
		if weight == 0 || !made(f, c.fineness) && f != c.family {
			continue
		}
		added := false
		for _, over := range overFineness {
			k.Claimed, added = e.appendNodes(k.Claimed, f, min(c.fineness+over, 0.9999), weight/float64(len(overFineness)))
		}
		if added {
			total += weight
		}
	}
	scaleNodes(k.Claimed, total)
	if total == 0 {
		return
	}
	below, above := 0, 0
	for _, s := range c.standards {
		switch {
		case s < c.fineness:
			below++
		case s > c.fineness:
			above++
		}
	}
	lower, finer := 0.0, 0.0
	for _, f := range alloy.Families() {
		weight := e.prior(f, c, named)
		if weight == 0 {
			continue
		}
		ok := false
		for _, s := range c.standards {
			if s == c.fineness || !made(f, s) {
				continue
			}
			w := weight * 0.3 / float64(max(below, 1))
			if s == c.next {
				w += weight * 0.4
			}
			if s < c.fineness {
				if k.Lower, ok = e.appendNodes(k.Lower, f, s+0.0025, w); ok {
					lower += w
				}
			} else if k.Finer, ok = e.appendNodes(k.Finer, f, min(s+0.0025, 0.9999), weight/float64(above)); ok {
				finer += weight / float64(above)
			}
		}
		for _, short := range [...]float64{0.010, 0.020, 0.035, 0.060, 0.100} { // under its standard: chosen here
			w := weight * 0.06
			if !made(f, c.fineness) {
				continue
			}
			if k.Lower, ok = e.appendNodes(k.Lower, f, c.fineness-short, w); ok {
				lower += w
			}
		}
	}
	scaleNodes(k.Lower, lower)
	scaleNodes(k.Finer, finer)
}

func (e *evaluation) caseOfStone(c claim) {
	k := &e.faultCase
	k.Cores, k.StoneSpecific = nil, nil
	s, ok := gem.ByKey(c.stone)
	if !ok {
		return
	}
	k.Claimed = appendRange(k.Claimed, 1/s.High.GramPerCm3(), 1/s.Low.GramPerCm3(), 6, 1)
	k.Alike = stoneNodes()
	e.weighed.StonesSeen, e.weighed.HollowSeen, e.weighed.CoreSeen = fault.No, fault.No, fault.No
}

// recipe names the recipes of a family at one fineness.
type recipe struct {
	family   *alloy.Family
	fineness float64
}

// mostRecipes bounds what a work sheet remembers: the standards of all lists several times over.
const mostRecipes = 2000

// appendNodes adds the recipes of a family at a fineness. The same standards come again and again, so
// the work sheet remembers their nodes.
func (e *evaluation) appendNodes(nodes []fault.Node, f *alloy.Family, fineness, weight float64) ([]fault.Node, bool) {
	key := recipe{f, fineness}
	own, ok := e.recipes[key]
	if !ok {
		if e.recipes == nil || len(e.recipes) >= mostRecipes {
			e.recipes = map[recipe][]fault.Node{}
		}
		own = nodesAt(f, fineness)
		e.recipes[key] = own
	}
	for _, n := range own {
		n.Weight *= weight
		nodes = append(nodes, n)
	}
	return nodes, len(own) > 0
}

// nodesAt are the recipes of a family at a fineness, eight nodes at most with a weight of 1 together;
// none where the table of the family does not reach.
func nodesAt(f *alloy.Family, fineness float64) (nodes []fault.Node) {
	var room [64]alloy.Node
	all, ok := f.Nodes(room[:0], fineness)
	if !ok {
		return nil
	}
	for _, n := range all {
		nodes = append(nodes, fault.Node{V: n.V, SD: f.ModelU * n.V, Weight: n.Weight})
	}
	// The usual recipes come in order, then the rare ones: they are merged apart.
	usual := 1
	for usual < len(nodes) && nodes[usual].V >= nodes[usual-1].V {
		usual++
	}
	few := fault.Merge(nodes[:usual], 6)
	return append(few, fault.Merge(nodes[usual:], 2)...)
}

// appendRange adds a plain range of specific volumes in n cells.
func appendRange(nodes []fault.Node, low, high float64, n int, weight float64) []fault.Node {
	width := (high - low) / float64(n)
	for i := range n {
		v := low + width*(float64(i)+0.5)
		nodes = append(nodes, fault.Node{V: v, SD: math.Max(width/math.Sqrt(6), 5e-4*v), Weight: weight / float64(n)})
	}
	return nodes
}

func scaleNodes(nodes []fault.Node, total float64) {
	for i := range nodes {
		nodes[i].Weight /= total
	}
}

// lookalikeNodes are the look-alikes with a density of their own. Those that can be made to any
// density are left out: density can't speak for or against them.
var lookalikeNodes = sync.OnceValue(func() (nodes []fault.Node) {
	all := alloy.Lookalikes()
	for i := range all {
		low, high := all[i].Band()
		nodes = appendRange(nodes, low, high, 3, 0.8/float64(len(all)))
	}
	for _, metal := range [...]string{"silver", "platinum", "palladium", "gold"} {
		for _, n := range metalNodes(metal) {
			n.Weight *= 0.05
			nodes = append(nodes, n)
		}
	}
	return nodes
})

var stoneNodes = sync.OnceValue(func() (nodes []fault.Node) {
	all := gem.All()
	for _, s := range all {
		nodes = appendRange(nodes, 1/s.High.GramPerCm3(), 1/s.Low.GramPerCm3(), 2, 1/float64(len(all)))
	}
	return fault.Compress(nodes, 64)
})

// metalNodes are the standards of one metal in all its families.
func metalNodes(metal string) []fault.Node { return metalTables()[metal] }

var metalTables = sync.OnceValue(func() map[string][]fault.Node {
	tables := map[string][]fault.Node{}
	for metal := range metalPrior {
		var nodes []fault.Node
		total := 0.0
		for _, f := range alloy.FamiliesOf(metal) {
			if f.Role != alloy.Candidate {
				continue
			}
			for _, s := range alloy.Standards(defaultStandards, metal) {
				if !made(f, s) {
					continue
				}
				if own := nodesAt(f, min(s+0.0025, 0.9999)); len(own) > 0 {
					nodes = append(nodes, own...)
					total++
				}
			}
		}
		scaleNodes(nodes, total)
		tables[metal] = fault.Compress(nodes, 64)
	}
	return tables
})

// offStandard is the share of items of no standard where a metal is claimed and no fineness: scrap,
// melted bars, old ware. Half, as nobody claims a standard; chosen here.
const offStandard = 0.5

// anyFineness are the alloys of one metal in all its families: its standards, and now and then any
// other fineness.
var anyFineness = sync.OnceValue(func() map[string][]fault.Node {
	tables := map[string][]fault.Node{}
	for metal := range metalPrior {
		nodes := slices.Clone(metalNodes(metal))
		for i := range nodes {
			nodes[i].Weight *= 1 - offStandard
		}
		const step = 0.01
		var others []fault.Node
		total := 0.0
		for _, f := range alloy.FamiliesOf(metal) {
			if f.Role != alloy.Candidate {
				continue
			}
			for fineness := f.Low + step/2; fineness < f.High; fineness += step {
				if made(f, fineness) {
					others = append(others, nodesAt(f, fineness)...)
					total++
				}
			}
		}
		scaleNodes(others, total/offStandard)
		tables[metal] = append(nodes, fault.Compress(others, 64)...)
	}
	return tables
})

// standardNodes are all standard materials of all metals.
var standardNodes = sync.OnceValue(func() (nodes []fault.Node) {
	for metal, weight := range metalPrior {
		for _, n := range metalNodes(metal) {
			n.Weight *= weight
			nodes = append(nodes, n)
		}
	}
	slices.SortFunc(nodes, func(a, b fault.Node) int { return cmp.Compare(a.V, b.V) })
	return nodes
})

// reachOf is the least, the middle and the largest specific volume of nodes.
func reachOf(nodes []fault.Node) (m namedMaterial) {
	m.low = math.Inf(1)
	total := 0.0
	for _, n := range nodes {
		m.low, m.high = math.Min(m.low, n.V-2*n.SD), math.Max(m.high, n.V+2*n.SD)
		m.v += n.V * n.Weight
		total += n.Weight
	}
	m.v /= total
	return m
}

// nearestStandard is the standard material nearest to the density, other than the claim.
func (e *evaluation) nearestStandard(c claim) (best namedMaterial, ok bool) {
	distance := math.Inf(1)
	for _, f := range alloy.Families() {
		if f.Role != alloy.Candidate || c.stone != "" {
			continue
		}
		standards := c.standards
		if f.Metal != c.metal {
			standards = alloy.Standards(defaultStandards, f.Metal)
		}
		for _, s := range standards {
			if f.Metal == c.metal && s == c.fineness || !made(f, s) {
				continue
			}
			low, high, found := f.Band(s, false)
			middle := (low + high) / 2
			if d := math.Abs(middle - e.observation.V); found && d < distance {
				distance, ok = d, true
				best = namedMaterial{f.Name + " " + strconv.FormatFloat(1000*s, 'g', 4, 64), low, middle, high}
			}
		}
	}
	return best, ok
}
