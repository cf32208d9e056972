package fault

import "math"

// component is one way the immersions seen so far can have come about: where the displaced mass
// of the sound item then lies, with its variance, and how likely that is.
type component struct{ weight, mean, variance float64 }

// bubbles lays out what a bubble adds to one immersion.
func (e *Engine) bubbles() {
	rho := e.w.LiquidRho - e.w.AirRho
	p := Bubble.Fault().Each
	e.shifts = append(e.shifts[:0], shift{1, 0, 0, 1 - p})
	for _, c := range laws()[Bubble] {
		c = c.lift(rho)
		e.shifts = append(e.shifts, shift{1, c.x, c.width * c.width * cell, p * c.weight})
	}
}

// zeros lays out what a moved zero adds to one immersion, in either direction.
func (e *Engine) zeros() {
	p := Zero.Fault().Each
	e.shifts = append(e.shifts[:0], shift{1, 0, 0, 1 - p})
	for _, c := range laws()[Zero] {
		x, width := c.x*e.w.Interval, c.width*e.w.Interval
		e.shifts = append(e.shifts, shift{1, x, width * width * cell, p * c.weight / 2}, shift{1, -x, width * width * cell, p * c.weight / 2})
	}
}

// touches lays out what a vessel that carries a share of the immersed weight makes of one
// immersion: the displaced mass b becomes b + share·(air - b).
func (e *Engine) touches() {
	p := Touching.Fault().Each
	e.shifts = append(e.shifts[:0], shift{1, 0, 0, 1 - p})
	for _, c := range laws()[Touching] {
		width := c.width * (e.air - e.mean) / math.Max(1-c.x, 0.1)
		e.shifts = append(e.shifts, shift{1 - c.x, c.x * e.air, width * width * cell, p * c.weight})
	}
}

// wires lays out what the surface does to a wire that is wetted otherwise than at the tare; false
// where the wire has no surface to speak of.
func (e *Engine) wires() bool {
	const cells = 12
	bound := e.w.SurfaceBoundG
	if bound <= 0 {
		return false
	}
	p := Wire.Fault().Each
	e.shifts = append(e.shifts[:0], shift{1, 0, 0, 1 - p})
	// A wire that was tared wet pulls less when it has dried; the other way round is rarer.
	const less = 0.75 // chosen here
	width := 2 * bound / cells
	for i := range cells {
		weight := p * less * 2 / cells
		if i < cells/2 {
			weight = p * (1 - less) * 2 / cells
		}
		e.shifts = append(e.shifts, shift{1, -bound + width*(float64(i)+0.5), width * width * cell, weight})
	}
	return true
}

// stays is the chance that a fault that hits several immersions hits them alike, as a bubble does
// that stays where it is; chosen here.
const stays = 0.5

// hits is the logarithm of the evidence of a fault that hits immersions by chance, given that it
// hit one at least.
func (e *Engine) hits(k Kind) float64 {
	if len(e.displaced) == 1 {
		return e.alike(k)
	}
	return lnAdd(math.Log(stays)+e.alike(k), math.Log(1-stays)+e.each(k))
}

// alike is hits for a fault of one size: for every size the immersions are hit by it or not.
func (e *Engine) alike(k Kind) float64 {
	e.comps = e.comps[:0]
	for range e.shifts {
		e.comps = append(e.comps, component{})
	}
	p := k.Fault().Each
	none := 1.0 // the first component: not hit so far
	for i, b := range e.displaced {
		var untouched component
		if i == 0 {
			untouched = e.first(e.base, &shift{part: 1}, b)
		} else {
			untouched = e.comps[0].after(&shift{part: 1}, b, e.s2)
		}
		untouched.weight *= 1 - p
		for n := 1; n < len(e.shifts); n++ {
			s := &e.shifts[n]
			c := &e.comps[n]
			var now component
			if i == 0 {
				now = e.first(e.base, s, b)
				now.weight *= s.weight // the chance of a hit times that of the size
			} else {
				now = e.comps[0].after(s, b, e.s2)
				now.weight *= s.weight
				if c.weight > 0 {
					hit, missed := c.after(s, b, e.s2), c.after(&shift{part: 1}, b, e.s2)
					hit.weight, missed.weight = hit.weight*p, missed.weight*(1-p)
					now = now.plus(hit).plus(missed)
				}
			}
			e.comps[n] = now
		}
		e.comps[0] = untouched
		none *= 1 - p
	}
	total := 0.0
	for _, c := range e.comps[1:] {
		total += c.weight
	}
	return math.Log(total / (1 - none))
}

// first is what is known of the sound displaced mass, which may lie at any of the levels, after the first
// immersion under one shift, the shift's own weight left out.
func (e *Engine) first(levels []level, s *shift, b float64) (c component) {
	m1, m2 := 0.0, 0.0
	for _, l := range levels {
		weight, mean, variance, ok := s.given(l.b, l.variance, b, e.s2)
		if !ok {
			continue
		}
		weight *= l.weight
		c.weight += weight
		m1 += weight * mean
		m2 += weight * (mean*mean + variance)
	}
	c.settle(m1, m2)
	return c
}

// after is a component after one more immersion under one shift, the shift's own weight left out.
func (c component) after(s *shift, b, own float64) component {
	if c.weight == 0 {
		return component{}
	}
	weight, mean, variance, ok := s.given(c.mean, c.variance, b, own)
	if !ok {
		return component{}
	}
	return component{c.weight * weight, mean, variance}
}

// plus merges two components, keeping mean and variance.
func (c component) plus(d component) component {
	if c.weight == 0 {
		return d
	}
	if d.weight == 0 {
		return c
	}
	w := c.weight + d.weight
	m := (c.weight*c.mean + d.weight*d.mean) / w
	a, b := c.mean-m, d.mean-m
	return component{w, m, (c.weight*(c.variance+a*a) + d.weight*(d.variance+b*b)) / w}
}

// each is the logarithm of the evidence of a fault that hits each immersion by chance with a size
// of its own, given that it hit one at least. The first shift is that of no hit.
//
// It goes from immersion to immersion. What is known of the sound displaced mass is kept as one
// normal law for every size at the first immersion; that is exact for two immersions, and a good
// merge for more.
func (e *Engine) each(k Kind) float64 {
	e.thin()
	e.comps = e.comps[:0]
	floor := 0.0
	for i, b := range e.displaced {
		if i == 0 {
			for _, s := range e.shifts {
				c := e.first(e.fewer, &s, b)
				c.weight *= s.weight
				e.comps = append(e.comps, c) // the first stays that of no hit, whatever its weight
				floor = math.Max(floor, c.weight)
			}
			continue
		}
		top := 0.0
		var hit component // the first hit comes now
		h1, h2 := 0.0, 0.0
		for j := range e.comps {
			c := &e.comps[j]
			if c.weight <= floor*1e-12 {
				c.weight = 0
				continue
			}
			var next component
			m1, m2 := 0.0, 0.0
			for n, s := range e.shifts {
				weight, mean, variance, ok := s.given(c.mean, c.variance, b, e.s2)
				if !ok {
					continue
				}
				weight *= c.weight * s.weight
				if j == 0 && n > 0 {
					hit.weight += weight
					h1 += weight * mean
					h2 += weight * (mean*mean + variance)
					continue
				}
				next.weight += weight
				m1 += weight * mean
				m2 += weight * (mean*mean + variance)
			}
			next.settle(m1, m2)
			*c = next
			top = math.Max(top, c.weight)
		}
		hit.settle(h1, h2)
		e.comps = append(e.comps, hit)
		floor = math.Max(top, hit.weight)
	}
	total := 0.0
	for _, c := range e.comps[min(1, len(e.comps)):] {
		total += c.weight
	}
	p := k.Fault().Each
	return math.Log(total / (1 - math.Pow(1-p, float64(len(e.displaced)))))
}

// thin merges neighbouring shifts two by two: sizes of their own at every immersion need no finer
// cells, and cost the square of their number. Zero's shifts come in pairs of either sign, so the
// next but one is the neighbour.
func (e *Engine) thin() {
	out := e.shifts[:1]
	hits := e.shifts[1:]
	for i := 0; i < len(hits); {
		a, next := hits[i], i+1
		if i+2 < len(hits) && hits[i].add*hits[i+1].add < 0 {
			b, c, d := hits[i+1], hits[i+2], hits[min(i+3, len(hits)-1)]
			out = append(out, a.merged(c), b.merged(d))
			i += 4
			continue
		}
		if next < len(hits) {
			a = a.merged(hits[next])
		}
		out = append(out, a)
		i += 2
	}
	e.shifts = out
}

// merged is one shift in the place of two.
func (s shift) merged(t shift) shift {
	w := s.weight + t.weight
	p, q := s.weight/w, t.weight/w
	add := p*s.add + q*t.add
	a, b := s.add-add, t.add-add
	return shift{p*s.part + q*t.part, add, p*(s.variance+a*a) + q*(t.variance+b*b), w}
}

// settle sets mean and variance from the sums of a component's parts.
func (c *component) settle(m1, m2 float64) {
	if c.weight <= 0 {
		c.weight = 0
		return
	}
	c.mean = m1 / c.weight
	c.variance = math.Max(m2/c.weight-c.mean*c.mean, 0)
}

// given holds an immersion against a sound displaced mass with a mean and a variance: the density
// of the immersion, and what is then known of the mass. False where the density is nothing.
func (s *shift) given(mean, variance, immersion, own float64) (density, then, left float64, ok bool) {
	all := s.part*s.part*variance + s.variance + own
	d := immersion - s.part*mean - s.add
	if d*d > cut*all {
		return 0, 0, 0, false
	}
	inverse := 1 / all
	gain := s.part * variance * inverse
	return bell(d*d*inverse) * math.Sqrt(inverse) * perRoot2Pi, mean + gain*d, variance * (1 - gain*s.part), true
}

// zeroClosing is the closing weighing when the zero may have moved before it as well.
func (e *Engine) zeroClosing() float64 {
	if e.closing2 == 0 {
		return 0
	}
	p := Zero.Fault().Each
	total := (1 - p) * math.Exp(e.noClosing())
	for _, c := range laws()[Zero] {
		x, width := c.x*e.w.Interval, c.width*e.w.Interval
		variance := e.closing2 + width*width*cell
		total += p / 2 * c.weight * (math.Exp(lnNormal(e.closing-x, variance)) + math.Exp(lnNormal(e.closing+x, variance)))
	}
	return math.Log(total)
}
