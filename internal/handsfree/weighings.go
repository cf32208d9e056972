package handsfree

import "math"

// likely is how likely a load weighs net.
func (k *know) likely(load Load, s *story, net, sd float64) float64 {
	switch load {
	case ItemAir:
		return k.air(s, net, sd)
	case ItemLiquid:
		return k.immersed(s, net, sd)
	}
	return k.checkPiece(s, state(load), net, sd)
}

// air is how likely the item weighs net in air.
func (k *know) air(s *story, net, sd float64) float64 {
	if known := s.item[inAir]; known.known {
		return known.likely(net, sd)
	}
	if under := s.item[inLiquid]; under.known {
		if k.o.Standing {
			return k.solid.airFromGain(net, under.v, sd)
		}
		return k.solid.airFromHanging(net, under.v, sd)
	}
	return anything(net, 5*k.o.IntervalG, k.capac) // less than a hundred intervals is no item
}

// immersed is how likely the item weighs net in the liquid, or makes the vessel gain it.
func (k *know) immersed(s *story, net, sd float64) float64 {
	under, above := s.item[inLiquid], s.item[inAir]
	lost := net
	if above.known && !k.o.Standing {
		lost = above.v - net
	}
	p := 0.0
	if above.known {
		p = k.solid.lost(lost, above.v, math.Hypot(sd, above.u))
	} else {
		p = anything(net, k.o.IntervalG/5, k.capac)
	}
	if under.known {
		p = .999*under.likely(net, sd) + .001*p
	}
	if above.known && net > 0 && net < 1.5*above.v {
		// Something bears it, it is another item, or no such liquid: it hangs there all the same.
		p = .99*p + .01/(1.5*above.v)
	}
	return p
}

// checkPiece is how likely the check piece reads net.
func (k *know) checkPiece(s *story, at int, net, sd float64) float64 {
	if known := s.check[at]; known.known {
		p := known.likely(net, sd)
		if above := s.check[inAir]; at == inLiquid && above.known {
			// It is weighed to find out what the liquid is.
			lost, found := above.v-known.v, above.v-net
			if k.o.Standing {
				lost, found = known.v, net
			}
			if found > .7*lost && found < 1.4*lost {
				p = .9*p + .1/(.7*lost)
			}
		}
		return p
	}
	if at == inAir {
		return anything(net, k.o.IntervalG, k.capac)
	}
	if above := s.check[inAir]; above.known {
		lost := net
		if !k.o.Standing {
			lost = above.v - net
		}
		return k.solid.lost(lost, above.v, sd)
	}
	return anything(net, k.o.IntervalG/5, k.capac)
}
