package picture

import "math"

const (
	pill     = 16.0 // height of a band
	apart    = 4.0  // between what stands side by side
	mostRows = 10   // of labelled bands in one lane
	flagWide = 12.0 // width of the claim's flag
)

const claimWord = "claim"

// plot is one panel of the scale: where a window lies on the drawing.
type plot struct {
	x0, x1 float64
	w      Window
	needle float64 // x of the measured value, NaN where there is none
	claim  string  // the word beside the claim's flag
}

func (p plot) at(v float64) float64 {
	v = math.Min(math.Max(v, p.w.Low), p.w.High)
	return p.x0 + (v-p.w.Low)/(p.w.High-p.w.Low)*(p.x1-p.x0)
}

func (p plot) shows(v float64) bool { return v >= p.w.Low && v <= p.w.High }

// off says whether a stretch keeps off the needle.
func (p plot) off(a, b float64) bool {
	return math.IsNaN(p.needle) || b < p.needle-apart || a > p.needle+apart
}

// span is a stretch on the drawing.
type span struct{ a, b float64 }

func (s span) meets(t span) bool { return s.a < t.b+apart && t.a < s.b+apart }

// where a label stands on its band
type spot uint8

const (
	none   spot = iota
	within      // on the band itself
	beside      // right or left of it, or over its rare recipes
)

// placed is a band with its sub-row and the places of its label and flag.
type placed struct {
	band
	box, inner span // all recipes, the usual ones
	haze       span
	row        int
	label      string
	at         span // of the label
	spot       spot
	flag       int  // -1 on the left, 1 on the right, 0 none
	word       span // of the claim's word; empty: none
}

// shape is where a band lies on a plot.
func (p plot) shape(b band) placed {
	out := placed{band: b}
	widen := func(a, z float64) span {
		s := span{p.at(a), p.at(z)}
		if s.b-s.a < 3 { // a band that is a line must be seen
			middle := math.Min(math.Max((s.a+s.b)/2, p.x0+1.5), p.x1-1.5)
			s = span{middle - 1.5, middle + 1.5}
		}
		return s
	}
	out.box = widen(b.low, b.high)
	out.inner, out.haze = out.box, out.box
	if b.kind == ofAlloy {
		if b.usualHigh >= p.w.Low && b.usualLow <= p.w.High {
			out.inner = widen(b.usualLow, b.usualHigh)
		} else {
			out.inner = span{} // only rare recipes are in view
		}
		out.haze = span{math.Min(p.at(b.hazeLow), out.box.a), math.Max(p.at(b.hazeHigh), out.box.b)}
	}
	return out
}

// ground is what of its sub-row a band takes without its label. Others may stand on the haze, and on
// the rare recipes of what does not fit.
func (b *placed) ground() span {
	g := b.box
	if b.kind == ofAlloy && !b.fits && !b.claimed {
		g = b.inner
	}
	if b.claimed {
		g.a, g.b = math.Min(g.a, b.box.a-4), math.Max(g.b, b.box.b+4)
	}
	switch b.flag {
	case -1:
		g.a = math.Min(g.a, b.box.a-5-flagWide)
	case 1:
		g.b = math.Max(g.b, b.box.b+5+flagWide)
	}
	return g
}

// setFlag finds room for the claim's flag and word.
func (p plot) setFlag(b *placed) {
	w := widthOf(p.claim, size, true)
	left, right := span{b.box.a - 8 - flagWide - w, b.box.a - 8 - flagWide}, span{b.box.b + 8 + flagWide, b.box.b + 8 + flagWide + w}
	switch {
	case b.box.a-5-flagWide >= p.x0:
		b.flag = -1
		if left.a >= p.x0 && p.off(left.a, left.b) {
			b.word = left
		}
	case b.box.b+5+flagWide <= p.x1:
		b.flag = 1
		if right.b <= p.x1 && p.off(right.a, right.b) {
			b.word = right
		}
	}
}

// layOut gives each band a sub-row and its label a place, so that nothing runs into anything. What
// is beyond the most rows comes back apart, without labels.
func (p plot) layOut(bands []band, short bool) (out, rest []placed, rows int) {
	var taken [][]span
	flagged := false
	for _, band := range bands {
		b := p.shape(band)
		b.label = band.label
		if short && band.short != "" {
			b.label = band.short
		}
		if widthOf(b.label, size, b.fits) > p.labelRoom() && band.short != "" {
			b.label = band.short
		}
		b.label = p.cut(b.label, band.fits)
		if band.claimed && !flagged {
			p.setFlag(&b)
			flagged = true
		}
		row := 0
		for ; row < len(taken); row++ {
			if p.place(&b, taken[row], false) {
				break
			}
		}
		if row == len(taken) {
			if row == mostRows {
				rest = append(rest, b)
				continue
			}
			taken = append(taken, nil)
			if !p.place(&b, nil, false) {
				if band.short != "" {
					b.label = p.cut(band.short, band.fits)
				}
				p.place(&b, nil, true)
			}
		}
		b.row = row
		taken[row] = append(taken[row], b.ground())
		if b.spot != none {
			taken[row] = append(taken[row], b.at)
		}
		if b.word != (span{}) {
			taken[row] = append(taken[row], b.word)
		}
		out = append(out, b)
	}
	return out, rest, max(1, len(taken))
}

// labelRoom is how wide a label may be, so that it has a place beside the needle.
func (p plot) labelRoom() float64 { return (p.x1-p.x0)/2 - 14 }

// cut shortens a label that is wider than half the plot.
func (p plot) cut(label string, bold bool) string { return cutTo(label, p.labelRoom(), bold) }

// place finds room for a band and its label beside what a sub-row holds already. Forced, it
// always does.
func (p plot) place(b *placed, taken []span, forced bool) bool {
	ground := b.ground()
	free := func(s span) bool {
		if s.a < p.x0 || s.b > p.x1 {
			return false
		}
		for _, t := range taken {
			if s.meets(t) {
				return false
			}
		}
		return true
	}
	for _, t := range taken {
		if ground.meets(t) || b.word != (span{}) && b.word.meets(t) {
			return false
		}
	}
	w := widthOf(b.label, size, b.fits)
	set := func(s span, where spot) bool {
		b.at, b.spot = s, where
		return true
	}
	// Inside, in the middle or at either side of the needle.
	for _, s := range p.parts(b.inner) {
		if s.b-s.a >= w+8 {
			mid := (s.a + s.b) / 2
			return set(span{mid - w/2, mid + w/2}, within)
		}
	}
	// Right, then left of everything that belongs to the band.
	side := span{math.Min(ground.a, b.box.a), math.Max(ground.b, b.box.b)}
	if b.word != (span{}) {
		side = span{math.Min(side.a, b.word.a), math.Max(side.b, b.word.b)}
	}
	for _, s := range []span{{side.b + 5, side.b + 5 + w}, {side.a - 5 - w, side.a - 5}} {
		if free(s) && p.off(s.a, s.b) {
			return set(s, beside)
		}
	}
	// Over the rare recipes.
	if b.kind == ofAlloy && (b.fits || b.claimed) {
		rare := []span{{b.inner.b, b.box.b}, {b.box.a, b.inner.a}}
		if b.inner == (span{}) {
			rare = []span{b.box}
		}
		for _, over := range rare {
			for _, s := range p.parts(over) {
				if s.b-s.a >= w+8 {
					return set(span{s.a + 4, s.a + 4 + w}, beside)
				}
			}
		}
	}
	if !forced {
		return false
	}
	// The row is empty: near the band, beside it rather than on it, and off the needle and the flag.
	best, cost := span{p.x0, p.x0 + w}, math.Inf(1)
	mid := (b.box.a + b.box.b) / 2
	for x := p.x0; x+w <= p.x1; x += 2 {
		s := span{x, x + w}
		if b.word != (span{}) && s.meets(b.word) {
			continue
		}
		own := math.Abs(x+w/2-mid)/2 + math.Max(0, math.Min(s.b, b.box.b)-math.Max(s.a, b.box.a))
		if !p.off(s.a, s.b) {
			own += 60
		}
		if own < cost {
			best, cost = s, own
		}
	}
	if b.kind != ofAlloy && b.kind != ofStone && best.a < b.box.b && best.b > b.box.a {
		return set(best, within) // a plate keeps it off the hatch
	}
	return set(best, beside)
}

// parts cuts a stretch at the needle: the whole where the needle is off its middle, the parts left and
// right of it otherwise.
func (p plot) parts(s span) []span {
	if p.off(s.a, s.b) {
		return []span{s}
	}
	left, right := span{s.a, p.needle - apart}, span{p.needle + apart, s.b}
	if left.b-left.a > right.b-right.a {
		return []span{left, right}
	}
	return []span{right, left}
}
