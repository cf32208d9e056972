package handsfree

import "math"

// goOn lets one story go on with one rest.
type goOn struct {
	k         *know
	from      *story
	n         int
	r         *rest
	low, high float64 // extremes since the last rest that was no Other
	out       []story
}

// add goes on with a load. prior and likelihood are plain densities; change completes the new story.
func (g *goOn) add(load Load, prior, likelihood float64, net, zero float64, change func(*story, *step)) {
	p := prior * likelihood
	if p < 1e-60 {
		if g.r.forced != load {
			return
		}
		p = 1e-60 // said by a person: it is possible
	}
	s := *g.from
	s.weight += math.Log(p)
	t := &step{before: s.tail, rest: g.n, load: load, net: net, zero: zero, closes: s.closes,
		immersed: s.immersed, of: s.load, used: s.used, shown: g.r.value}
	s.tail = t
	s.past = s.past*1099511628211 ^ uint64(g.n)
	if isLoad(load) {
		s.past = s.past*1099511628211 ^ uint64(load[len(load)-1]) ^ uint64(load[0])<<8 ^ uint64(int64(math.Round(net/g.r.interval)))<<16
	}
	if load != Other {
		s.load, s.gross, s.low, s.high, s.other = load, g.r.value, g.r.value, g.r.value, math.NaN()
		if load != Same {
			s.net = net
		}
	} else {
		s.low, s.high, s.other = g.low, g.high, g.r.value
	}
	if change != nil {
		change(&s, t)
	}
	g.out = append(g.out, s)
}

// prior is how usual the load is after that of the story, with what the sheet wants.
func (g *goOn) prior(load Load) float64 {
	from, k := g.from.load, g.k
	row := usual[from]
	p := row[load]
	if k.o.Standing {
		// One zero serves both states: what may follow either may follow.
		switch {
		case isEmpty(from):
			p = max(usual[EmptyAir][load], usual[EmptyLiquid][load])
		case isEmpty(load):
			p = row[EmptyAir] + row[EmptyLiquid]
		}
	}
	if k.o.UnderFloor && from == ItemAir && load == ItemLiquid {
		p = .2 // the vessel is raised to the item
	}
	if wanted := g.r.wanted; isItem(load) && len(wanted) > 0 && !g.from.item[inAir].known && !g.from.item[inLiquid].known {
		// Only the first load: what is usual must not count again with every repeat.
		slot := k.slot(load, false)
		p *= .5
		for i, w := range wanted {
			if w == slot || load == ItemAir && w == ClosingAir {
				p *= 2
				if i == 0 {
					p *= 3
				}
				break
			}
		}
	}
	if wanted := g.r.wanted; isCheck(load) && len(wanted) > 0 && wanted[0] == k.slot(load, false) {
		p *= 3
	}
	return p
}

// slot names the readings of a load.
func (k *know) slot(load Load, closing bool) string {
	standing := k.o.Standing
	switch load {
	case ItemAir:
		if closing {
			return ClosingAir
		}
		return Air
	case ItemLiquid:
		switch {
		case k.o.SecondLiquid && standing:
			return OtherGain
		case k.o.SecondLiquid:
			return OtherLiquid
		case standing:
			return Gain
		}
		return Liquid
	case CheckInAir:
		return CheckAir
	case CheckImmerse:
		if standing {
			return CheckGain
		}
		return CheckLiquid
	case EmptyAir:
		return ZeroAir
	case EmptyLiquid:
		if closing {
			return ClosingZero
		}
		return ZeroLiquid
	}
	return ""
}

// empties goes on with nothing, or the hanger alone, on the balance.
func (g *goOn) empties() {
	k, s, v := g.k, g.from, g.r.value
	for _, load := range []Load{EmptyAir, EmptyLiquid} {
		if k.o.Standing && g.r.forced != load && (load == EmptyAir) == (s.had || s.immersed > 0) {
			continue // one kind is enough where there is one zero
		}
		at := state(load)
		z := k.zeroOf(at)
		sd := 1.5 * k.spread(g.r)
		prior := g.prior(load)
		if isLoad(s.load) && !g.removed() {
			prior *= .2
		}
		atZero := normal(v, max(.7*g.r.interval, sd))
		// The key leaps, hands do not.
		pressed, moved := 1.0, 1.0
		switch g.r.way {
		case leapt:
			moved = .03
		case carried:
			pressed = .2 // something may have come and the key been pressed before it rested
		}
		known := s.zero[z]
		// A load that was put on an unseen zero finds it now.
		waits := s.pending != nil && s.pendingZero == z
		if waits {
			known = s.zeroBefore
		}
		// After an immersion it is the closing zero, whichever hanger it is: one that reads the same.
		closing := s.load == ItemLiquid && !waits && math.Abs(v-s.stood) < max(12*sd, .05*math.Abs(s.net))
		here := func(n *story, t *step) {
			t.closing = closing
			if moved := v - s.stood; closing && math.Abs(moved) > 4*sd {
				t.changed = moved
			}
			n.at, n.zero[z] = at, level{v: v, u: g.r.u, known: true}
			if n.pending != nil && n.pendingZero == z {
				n.resolve(k, t, g.r)
			}
		}
		if known.known {
			stays := .9*normal(v-known.v, sd) + .1*normal(v-known.v, math.Hypot(30*sd, known.u))
			g.add(load, prior*moved, stays, v-s.used, v, here)
			if math.Abs(known.v) > 3*sd {
				g.add(load, prior*.5*pressed, atZero, 0, v, func(n *story, t *step) {
					n.shift(z, known.v)
					n.pending = nil
					n.at, n.zero[z] = at, level{v: v, u: g.r.u, known: true}
				})
			}
			// The vessel, another hanger or a dish comes or goes.
			comes := .03
			switch {
			case k.o.Standing && s.had && s.immersed == 0:
				comes = .5 // the hanger is hung once, and lifts a little itself
			case k.o.Standing:
				comes = .15
			}
			g.add(load, prior*comes*moved, k.hanger(v-known.v, g.r), v, v, func(n *story, t *step) {
				n.pending = nil
				n.at, n.zero[z] = at, level{v: v, u: g.r.u, known: true}
			})
			continue
		}
		// Never seen: the balance was set to zero, or shows what nobody set to zero.
		set, shows, offset := .65, .25, .1
		if k.o.ZeroRead {
			set, shows = .35, .55
		}
		if waits {
			set, offset = .4, .3
		}
		g.add(load, prior*set, atZero, 0, v, func(n *story, t *step) {
			if other := 1 - z; !k.o.UnderFloor && s.load != Unknown && !waits {
				n.zero[other].known = false // it was set with the hanger on or off: unknown by how much
			}
			here(n, t)
		})
		g.add(load, prior*offset*moved, normal(v, 20*g.r.interval), v, v, here)
		from := 0.0
		if other := s.zero[1-z]; other.known {
			from = other.v
		} else if s.load != Unknown {
			shows *= .3
		}
		g.add(load, prior*shows*moved, k.hanger(v-from, g.r), v, v, here)
	}
}

// hanger is the density of the weight of a hanger or vessel, put on or taken off.
func (k *know) hanger(x float64, r *rest) float64 {
	x = math.Abs(x)
	if x < 8*r.interval || x > k.capac {
		return 0
	}
	p := 1 / (x * math.Log(1000)) // hangers and vessels span three orders of size
	h := k.o.HangerG
	switch {
	case h <= 0:
		return p
	case k.o.Standing: // it lifts what it displaces
		if x > h/12 && x < h/2 {
			return .3*p + .7/(h/2-h/12)
		}
		return .3 * p
	}
	// In the liquid it is lighter by its buoyancy, somewhat under a fifth for steel.
	return .1*p + .45*normal(x-.93*h, .05*h+r.interval)
}

// shift follows a zero that was set: all other zeros go by as much.
func (s *story) shift(z int, by float64) {
	for i := range s.zero {
		if i != z {
			// What was read of the hanger before the zero was set need not have come to rest.
			s.zero[i].v, s.zero[i].u = s.zero[i].v-by, math.Hypot(s.zero[i].u, .02*by)
		}
	}
}

// wait remembers a reading whose zero was not seen: the empty balance after it may show it.
func (s *story) wait(t *step, z int, gross float64, before level) {
	s.pending, s.pendingZero, s.gone, s.zeroBefore = t, z, gross, before
}

// resolve gives a reading that waited for its zero what it waited for.
func (s *story) resolve(k *know, t *step, r *rest) {
	p := s.pending
	t.resolves, s.pending = p, nil
	net, at := s.gone-r.value, state(p.load)
	sd := k.spread(r)
	learned := &s.item[at]
	if isCheck(p.load) {
		learned = &s.check[at]
	}
	// It was weighed as it stood; what it was held against then counts for what it is now.
	*learned = p.expected
	s.weight += math.Log(max(k.likely(p.load, s, net, sd), 1e-60)) - math.Log(max(p.likely, 1e-60))
	*learned = p.expected.learn(net, sd, k.scatter(r, at))
	if p.load == ItemLiquid {
		s.used = r.value
	}
}

// removed tells whether what was on the balance was taken off since: the reading fell, or rose where
// the item came out of the liquid on its hanger.
func (g *goOn) removed() bool {
	s := g.from
	if !isLoad(s.load) {
		return true
	}
	if g.r.again || g.r.unseenBefore {
		return true
	}
	net := math.Abs(s.net)
	if g.low <= s.gross-.6*net {
		return true
	}
	if s.load == ItemLiquid && !g.k.o.Standing {
		lost := .04 * math.Abs(s.net)
		if s.item[inAir].known {
			lost = s.item[inAir].v - s.net
		}
		return g.high >= s.gross+.6*lost && g.high <= s.gross+1.5*lost
	}
	return false
}

// further tells whether a load goes on from an Other without having been taken off in between, as an
// item that is lowered by halves.
func (g *goOn) further() bool {
	s := g.from
	return !math.IsNaN(s.other) && g.r.low > .5*min(s.other, g.r.value)
}

// loads goes on with item or check piece.
func (g *goOn) loads() {
	k, s := g.k, g.from
	for _, load := range []Load{ItemAir, ItemLiquid, CheckInAir, CheckImmerse} {
		if isCheck(load) && k.o.Check == nil {
			continue
		}
		prior := g.prior(load)
		if isLoad(s.load) && !g.removed() && !(k.o.UnderFloor && load == ItemLiquid && s.load == ItemAir) {
			prior *= .04
		}
		if g.further() {
			prior *= 3
		}
		at := state(load)
		z := k.zeroOf(at)
		known := s.zero[z]
		if known.known && at == inLiquid && s.at == inAir && !k.o.Standing {
			prior *= .2 // the hanger was hung again, and its zero not seen
		}
		switch {
		case known.known:
			g.load(load, prior, known.v, false, nil)
			if math.Abs(known.v) > 5*k.scatter(g.r, at) {
				p := tareUnseen
				if g.r.nearZero >= 2 {
					p = .4
				}
				g.load(load, prior*p, 0, false, func(n *story) {
					n.shift(z, known.v)
					n.zero[z].v = 0
				})
			}
		case at == inLiquid:
			// The hanger was hung and nobody waited for its zero, or it was not set at all.
			set := .3
			if k.o.ZeroRead || k.o.UnderFloor {
				set = .1
			}
			g.load(load, prior*set, 0, true, func(n *story) {
				n.zero[z] = level{u: g.r.interval, known: true}
				n.zero[1-z].known = n.zero[1-z].known && (k.o.UnderFloor || k.o.Standing)
			})
			if load == ItemLiquid {
				g.pending(prior * (1 - set) * .5)
			}
		default:
			g.load(load, prior*.5, 0, true, func(n *story) { n.zero[z] = level{u: g.r.interval, known: true} })
		}
		// The pan above a hanger that stays hung shares its zero.
		if other := s.zero[1-z]; at == inAir && !k.o.Standing && s.at == inLiquid && other.known &&
			(!known.known || math.Abs(other.v-known.v) > 3*k.scatter(g.r, at)) {
			g.load(load, prior*2, other.v, false, nil)
		}
	}
}

// setWithin is how far from zero a balance may stand and count as set to zero, g: by what one reading
// scatters. More than that is subtracted.
func (k *know) setWithin(r *rest) float64 {
	return max(2.5*k.scatter(&rest{interval: r.interval}, inAir), 1.5*r.interval)
}

// pending goes on with an immersed item whose hanger was not read yet.
func (g *goOn) pending(prior float64) {
	v := g.r.value
	if v < 20*g.r.interval || g.k.o.Standing {
		return
	}
	likely := .1 / v
	if above := g.from.item[inAir]; above.known {
		// With the hanger it is more than the item alone.
		alone := above.v * (1 - g.k.solid.liquid/lightest)
		if v < alone-5*above.u {
			return
		}
		likely = g.k.hanger(max(v-above.v*(1-g.k.solid.liquid/13), 20*g.r.interval), g.r)
	}
	g.add(ItemLiquid, prior, likely, v, 0, func(n *story, t *step) {
		t.assumed, t.likely = true, likely
		n.wait(t, g.k.zeroOf(inLiquid), v, level{})
		n.immersed++
		n.closes, n.used = n.had, 0
	})
}

// load goes on with a load on a zero.
func (g *goOn) load(load Load, prior, zero float64, assumed bool, change func(*story)) {
	k, s, r := g.k, g.from, g.r
	at := state(load)
	net := r.value - zero
	sd, own := k.spread(r), k.scatter(r, at)
	if assumed {
		sd, own = math.Hypot(sd, 2*r.interval), math.Hypot(own, 2*r.interval)
	}
	expected := s.check[at]
	if isItem(load) {
		expected = s.item[at]
	}
	p := k.likely(load, s, net, sd)
	reported := zero
	if !k.o.ZeroRead && math.Abs(zero) <= k.setWithin(r) {
		reported = 0 // the zero was set and has stayed, but for what the closing zero shows
	}
	g.add(load, prior, p, net, reported, func(n *story, t *step) {
		t.net, t.assumed = r.value-reported, assumed
		if expected.known && math.Abs(net-expected.v) > 5*math.Hypot(own, expected.own) {
			t.changed = net - expected.v
		}
		t.expected, t.likely = expected, p
		n.pending = nil
		if assumed {
			n.wait(t, k.zeroOf(at), r.value, s.zero[k.zeroOf(at)])
		}
		learned := &n.check[at]
		if isItem(load) {
			learned = &n.item[at]
		}
		*learned = expected.learn(net, sd, own)
		switch load {
		case ItemAir:
			n.had = true
		case ItemLiquid:
			n.immersed++
			n.closes, n.used, n.stood = n.had, reported, zero
		}
		if change != nil {
			change(n)
		}
	})
}

// same goes on with what was there, touched and come to rest again.
func (g *goOn) same() {
	s := g.from
	if s.load == Unknown {
		return
	}
	prior := oftenSame
	switch swing := max(g.high-s.gross, s.gross-g.low); {
	case isLoad(s.load) && g.removed():
		prior = .02
	case isEmpty(s.load) && swing > 100*g.r.interval:
		prior = .05 // something came and went, and the zero may be another
	}
	sd := g.k.spread(g.r) * math.Sqrt2
	change := g.r.value - s.gross
	p := around(change, sd, 0, s.net)
	g.add(Same, prior, p, s.net+change, 0, func(n *story, t *step) {
		n.load, n.low, n.high = s.load, g.r.value, g.r.value
		t.zero = s.gross - s.net
		if math.Abs(change) > 5*math.Sqrt2*g.k.scatter(g.r, state(s.load)) {
			t.changed = change
			if isLoad(s.load) {
				n.net = s.net + change
			}
		} else {
			n.gross = s.gross // small steps must not add up unseen
		}
	})
}

// other goes on with something else: a hand, another thing, an item half in.
func (g *goOn) other() {
	prior := oftenOther
	if isLoad(g.from.load) && !g.removed() {
		prior *= .5
	}
	x := math.Max(math.Abs(g.r.value), 20*g.r.interval)
	g.add(Other, prior, .4/(x*math.Log(g.k.capac/(20*g.r.interval))), g.r.value, 0, nil)
}
