package handsfree

import (
	"cmp"
	"math"
	"slices"
)

// inAir and inLiquid number the two states that a balance's zero belongs to. With the vessel on the
// pan there is one zero for both.
const (
	inAir = iota
	inLiquid
)

// level is what a load is expected to read, net.
type level struct {
	v, u  float64 // g, with the uncertainty by which stories are weighed
	own   float64 // and the one by which a repeat counts as different
	known bool
	// intake is the mass that was written down at intake and how well; 0: none. A wet item weighs more
	// the first time and comes back to it.
	intake, intakeU float64
}

// likely is how likely a further reading is.
func (l level) likely(net, s float64) float64 {
	p := around(net-l.v, s, l.u, net)
	if l.intake > 0 {
		p = .5*p + .5*around(net-l.intake, s, l.intakeU, net)
	}
	return p
}

// learn takes a reading in.
func (l level) learn(net, s, own float64) level {
	l.v, l.u, l.own, l.known = net, s, own, true
	return l
}

// step is one rest as a story tells it.
type step struct {
	before *step
	rest   int
	load   Load
	net    float64 // g
	zero   float64 // subtracted, g
	// assumed: the zero was not seen. closing: the hanger alone after an immersion, without a new
	// zero. changed: g by which a touched load, or a repeat, differs from before, 0 where it agrees.
	assumed, closing bool
	changed          float64
	closes           bool    // the item was in air before, and in the liquid since
	immersed         int     // how often it had been in the liquid
	of               Load    // Same: what it is the same as
	used, shown      float64 // zero of the last immersion; what the balance shows
	likely           float64 // how likely it was, as it stood then
	expected         level   // what it was held against
	resolves         *step   // a reading whose zero was seen in this step only
}

// story is one reading of all rests so far.
type story struct {
	weight float64 // logarithm
	zero   [2]level
	item   [2]level
	check  [2]level

	load      Load    // of the last rest that was no Other
	at        int     // state whose zero was seen last
	gross     float64 // display of the last rest that was no Other, g
	net       float64
	low, high float64 // extremes since then
	other     float64 // display of an Other since then, NaN: none
	immersed  int     // readings of the item in the liquid
	had       bool    // a reading of the item in air
	closes    bool    // and one in the liquid after it
	used      float64 // what was subtracted at the last immersion, and what stood there
	stood     float64

	pending     *step   // reading whose zero was not seen yet
	pendingZero int     // which zero it is
	gone        float64 // its display
	zeroBefore  level   // what was known of its zero

	tail *step
	past uint64 // tells stories with other readings apart
}

func isItem(l Load) bool  { return l == ItemAir || l == ItemLiquid }
func isCheck(l Load) bool { return l == CheckInAir || l == CheckImmerse }
func isEmpty(l Load) bool { return l == EmptyAir || l == EmptyLiquid }
func isLoad(l Load) bool  { return isItem(l) || isCheck(l) }

// state is where a load is: in air or in the liquid.
func state(l Load) int {
	if l == ItemLiquid || l == CheckImmerse || l == EmptyLiquid {
		return inLiquid
	}
	return inAir
}

// usual is how often hands go from one load to another. Chosen here; rows need not add up to one. Only
// their order of size matters: nothing is sure by them alone.
var usual = map[Load]map[Load]float64{
	Unknown:      {EmptyAir: .45, EmptyLiquid: .25, ItemAir: .08, ItemLiquid: .06, CheckInAir: .04, CheckImmerse: .02},
	EmptyAir:     {ItemAir: .5, CheckInAir: .15, EmptyLiquid: .25, EmptyAir: .1, ItemLiquid: .06, CheckImmerse: .02},
	EmptyLiquid:  {ItemLiquid: .5, CheckImmerse: .15, EmptyLiquid: .1, EmptyAir: .15, ItemAir: .06, CheckInAir: .03},
	ItemAir:      {EmptyAir: .5, EmptyLiquid: .15, ItemLiquid: .12, ItemAir: .08, CheckInAir: .03, CheckImmerse: .01},
	ItemLiquid:   {EmptyLiquid: .5, EmptyAir: .12, ItemLiquid: .1, ItemAir: .1, CheckImmerse: .03, CheckInAir: .02},
	CheckInAir:   {EmptyAir: .5, EmptyLiquid: .15, CheckImmerse: .12, ItemAir: .06, CheckInAir: .05, ItemLiquid: .02},
	CheckImmerse: {EmptyLiquid: .5, EmptyAir: .12, ItemLiquid: .08, CheckInAir: .08, ItemAir: .03, CheckImmerse: .05},
}

const (
	oftenOther = .03 // something else rests on the balance
	oftenSame  = .5  // after a movement that took nothing off, it is the same load
	tareUnseen = .02 // the zero was set and no rest at zero was seen
)

// know holds what does not change from story to story.
type know struct {
	o      Options
	solid  solid
	capac  float64
	wanted []string
	// immersions that the sheet is to hold, item's own mass
	immersions int
}

// scatter is the standard deviation to be expected of a reading there.
func (k *know) scatter(r *rest, at int) float64 {
	s := k.o.RepeatabilityG
	if at == inLiquid {
		s = max(s, k.o.RepeatabilityLiquidG)
		if s == 0 {
			s = 2 * r.interval
		}
	} else if s == 0 {
		s = r.interval
	}
	// A value that stood still is not as rough as an uncertainty may say that knows no better.
	u := min(r.u, 4*max(s, r.interval))
	return math.Sqrt(s*s + .16*r.interval*r.interval + u*u)
}

// spread is the standard deviation by which stories are weighed. It is that of the liquid for all
// loads: how well repeats agree must not tell air from liquid.
func (k *know) spread(r *rest) float64 { return k.scatter(r, inLiquid) }

// zeroOf is which of the two zeros a state has.
func (k *know) zeroOf(at int) int {
	if k.o.Standing {
		return inAir
	}
	return at
}

// extend returns the ways in which a story can go on with a rest.
func (k *know) extend(s *story, n int, r *rest, out []story) []story {
	var extended []story
	g := goOn{k: k, from: s, n: n, r: r, low: min(s.low, r.low), high: max(s.high, r.high)}
	if s.load == Unknown {
		g.low, g.high = r.low, r.high
	}
	g.empties()
	g.loads()
	if !r.take && !r.again {
		g.same()
		g.other()
	} else if r.forced == Same {
		g.same()
	} else if r.forced == Other {
		g.other()
	}
	extended = g.out
	if r.forced != Unknown {
		extended = slices.DeleteFunc(extended, func(s story) bool { return s.tail.load != r.forced })
	}
	return append(out, extended...)
}

// beam is how many stories are kept.
const beam = 64

// present is all that the future of a story depends on, and what it has taken.
type present struct {
	zero, item, check [2]int64
	known             [6]bool
	load              Load
	at, immersed      int
	had, closes       bool
	pending, other    bool
	past              uint64
}

func (s *story) present(interval float64) present {
	p := present{load: s.load, at: s.at, immersed: s.immersed, had: s.had, closes: s.closes, pending: s.pending != nil,
		other: !math.IsNaN(s.other), past: s.past}
	steps := func(l level) int64 { return int64(math.Round(2 * l.v / interval)) }
	for i := range 2 {
		for j, l := range [...]level{s.zero[i], s.item[i], s.check[i]} {
			p.known[3*i+j] = l.known
		}
		p.zero[i], p.item[i], p.check[i] = steps(s.zero[i]), steps(s.item[i]), steps(s.check[i])
	}
	return p
}

// prune joins stories that differ in nothing that matters, and keeps the likeliest, with weights that
// add up to one.
func prune(stories []story, interval float64) []story {
	slices.SortStableFunc(stories, func(a, b story) int { return cmp.Compare(b.weight, a.weight) })
	likeliest, sum := stories[0].weight, 0.0
	at := map[present]int{}
	var kept []story
	for _, s := range stories {
		if s.weight < likeliest-18 { // a hundred-millionth
			break
		}
		key := s.present(interval)
		if i, ok := at[key]; ok {
			kept[i].weight = likeliest + math.Log(math.Exp(kept[i].weight-likeliest)+math.Exp(s.weight-likeliest))
		} else if len(kept) < beam {
			at[key] = len(kept)
			kept = append(kept, s)
		}
	}
	for _, s := range kept {
		sum += math.Exp(s.weight - likeliest)
	}
	for i := range kept {
		kept[i].weight -= likeliest + math.Log(sum)
	}
	slices.SortStableFunc(kept, func(a, b story) int { return cmp.Compare(b.weight, a.weight) })
	return kept
}
