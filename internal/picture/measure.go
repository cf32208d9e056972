package picture

import (
	"fmt"
	"math"
	"strings"
)

// limits draws the dotted limits of the claim up to the measured bar.
func (d *scale) limits() {
	var claims []*laid
	var which []int
	for i := range d.lanes {
		for j := range d.lanes[i].shown {
			if d.lanes[i].shown[j].claimed {
				claims, which = append(claims, &d.lanes[i]), append(which, j)
			}
		}
	}
	if len(claims) != 1 { // of several families: their own outlines only
		return
	}
	b := &claims[0].shown[which[0]]
	foot := d.bandY(claims[0], b.row) - 3
	from := 4.0
	if d.weighed {
		from = d.barAt() + 4
	}
	for _, p := range d.plots() {
		for _, v := range []float64{b.low, b.high} {
			if p.shows(v) {
				d.line("limit", p.at(v), from, p.at(v), foot)
			}
		}
	}
}

func (d *scale) plots() []plot {
	if d.hasLens {
		return []plot{d.main, d.lens}
	}
	return []plot{d.main}
}

// measure draws hill, bar, tint and needle.
func (d *scale) measure() {
	if d.hasLens {
		// What of the plot the lens shows.
		a, b := d.main.at(d.lens.w.Low), d.main.at(d.lens.w.High)
		d.rect("frame faint", a, 1, b-a, d.bottom-1)
		d.path("frame faint", new(track).add('M', b, 1).add('H', d.lens.x0).add('M', b, d.bottom).add('H', d.lens.x0).String())
	}
	for _, p := range d.plots() {
		tall := d.rows.hill
		if d.hasLens && p == d.lens {
			tall -= 16 // under the name of the close-up
		}
		d.measured(p, tall)
	}
	if d.hasLens {
		ratio := magnified(d.main.w, d.lens.w, d.main.x1-d.main.x0, d.lens.x1-d.lens.x0)
		d.text("m", d.lens.x0+6, size+1, start, d.in.Sayf("close-up ×%s", times(ratio)))
		d.ends(d.lens)
		return
	}
	d.ends(d.main)
}

func times(ratio float64) string {
	switch {
	case ratio < 9.95:
		return fmt.Sprintf("%.1f", ratio)
	case ratio < 99999.5:
		return fmt.Sprintf("%.0f", ratio)
	}
	return fmt.Sprintf("%.0e", ratio)
}

func (d *scale) measured(p plot, tall float64) {
	weak := ""
	if d.m.doubtful {
		weak = " weak"
	}
	a, b := p.at(d.m.low), p.at(d.m.high)
	if d.m.low > p.w.High || d.m.high < p.w.Low {
		// Off the window: an arrowhead says to which side.
		at, way := p.x0+2, 1.0
		if d.m.low > p.w.High {
			at, way = p.x1-2, -1
		}
		d.path("dot", new(track).add('M', at, d.barAt()).add('l', way*10, -6).add('l', 0, 12).add('Z').String())
		return
	}
	if b-a < 2 {
		a, b = math.Max(p.x0, (a+b)/2-1), math.Min(p.x1, (a+b)/2+1)
	}
	d.rect("through", a, d.barAt(), b-a, d.bottom-d.barAt())
	d.hill(p, tall, weak)
	d.line("bar"+weak, a, d.barAt(), b, d.barAt())
	if !math.IsNaN(p.needle) {
		d.line("casing", p.needle, d.top, p.needle, d.bottom)
		d.line("needle", p.needle, d.barAt()-5-tall, p.needle, d.bottom)
	}
}

// hill draws the distribution of the density.
func (d *scale) hill(p plot, tall float64, weak string) {
	base := d.barAt() - 5
	low, high := math.Max(p.w.Low, d.m.rho-4.5*d.m.u), math.Min(p.w.High, d.m.rho+4.5*d.m.u)
	if d.m.open || d.m.high > d.m.rho+4.5*d.m.u {
		high = math.Min(p.w.High, d.m.high)
	}
	if !(high > low) {
		return
	}
	steps := int(math.Min(80, math.Max(16, p.at(high)-p.at(low))))
	heights, top := make([]float64, steps+1), 1e-300
	for i := range heights {
		heights[i] = d.m.height(low + (high-low)*float64(i)/float64(steps))
		top = math.Max(top, heights[i])
	}
	var t track
	t.add('M', p.at(low), base)
	for i, h := range heights {
		t.add('L', p.at(low+(high-low)*float64(i)/float64(steps)), base-tall*h/top)
	}
	d.path("hill"+weak, t.add('L', p.at(high), base).add('Z').String())
}

// endWords are the ends of the interval as they are written.
func (d *scale) endWords() (low, high string) {
	n := places(d.m.expanded)
	low, high = d.in.Number(fixed(d.m.low, n)), d.in.Number(fixed(d.m.high, n))
	if d.m.open {
		high = d.in.Say("no upper end")
	}
	return low, high
}

// endsBelow says whether the ends of the interval have no room beside the bar.
func (d *scale) endsBelow(p plot) bool {
	low, high := d.endWords()
	a, b := p.at(d.m.low), p.at(d.m.high)
	return a-7-widthOf(low, size, true) < p.x0 || b+7+widthOf(high, size, true) > p.x1
}

// ends writes the ends of the interval beside the bar, or under it where there is no room.
func (d *scale) ends(p plot) {
	low, high := d.endWords()
	a, b := p.at(d.m.low), p.at(d.m.high)
	if !d.endsBelow(p) {
		d.text("v halo", a-7, d.barAt()+4.7, end, low)
		d.text("v halo", b+7, d.barAt()+4.7, start, high)
		return
	}
	if d.hasLens {
		return // no row was kept for them; the number stands above the picture
	}
	wl, wh := widthOf(low, size, true), widthOf(high, size, true)
	// Both want to stand at their ends; where they would meet they part about the middle.
	at, to := math.Max(p.x0, a-wl), math.Min(p.x1, b+wh)
	if short := at + wl + 10 + wh - to; short > 0 {
		at, to = at-short/2, to+short/2
		if at < p.x0 {
			at, to = p.x0, p.x0+wl+10+wh
		}
		if to > p.x1 {
			at, to = p.x1-wl-10-wh, p.x1
		}
	}
	d.text("v halo", at, d.barAt()+19, start, low)
	d.text("v halo", to, d.barAt()+19, end, high)
}

// pairs draws what single pairs of readings give, and where settling the doubt would move it.
func (d *scale) pairs() {
	y := d.top - 11
	p := d.main
	if d.s.Settled != nil {
		a, b := p.at(d.m.rho), p.at(*d.s.Settled/1000)
		if way := math.Copysign(1, b-a); math.Abs(b-a) > 24 {
			d.path("doubtline", new(track).add('M', a+way*8, y).add('H', b-way*8).add('m', -way*7, -5).add('l', way*7, 5).add('l', -way*7, 5).String())
		}
	}
	type group struct {
		x     float64
		names []string
		stray bool
	}
	var groups []group
	for _, pair := range d.s.Pairs {
		x := math.Min(math.Max(p.at(pair.KgM3/1000), p.x0+6), p.x1-6)
		joined := false
		for i := range groups {
			if g := &groups[i]; g.stray == pair.Stray && math.Abs(g.x-x) < 12 {
				g.names, joined = append(g.names, pair.Name), true
			}
		}
		if !joined {
			groups = append(groups, group{x, []string{pair.Name}, pair.Stray})
		}
		class, stem := "dot", "needle"
		if pair.Stray {
			class, stem = "ring", "doubtline"
		}
		d.group(fmt.Sprintf("pair %s: %.3f g/cm³", pair.Name, pair.KgM3/1000))
		d.line(stem, x, y-8, x, y+8)
		d.circle(class, x, y, 5)
		d.endGroup()
	}
	var taken []span
	for _, g := range groups {
		taken = append(taken, span{g.x - 6, g.x + 6})
	}
	for i, g := range groups {
		words := d.in.Sayf("pair %s", g.names[0])
		if len(g.names) > 1 {
			words = d.in.Sayf("pairs %s", strings.Join(g.names, ", "))
		}
		w := widthOf(words, size, true)
		class := "v halo"
		sides := []span{{g.x + 10, g.x + 10 + w}, {g.x - 10 - w, g.x - 10}}
		if g.stray {
			class = "d halo"
			sides[0], sides[1] = sides[1], sides[0]
		}
		for _, s := range sides {
			ok := s.a >= p.x0 && s.b <= p.x1
			for j, t := range taken {
				ok = ok && (j == i || !s.meets(t))
			}
			if ok {
				taken = append(taken, s)
				d.text(class, s.a, y+4.7, start, words)
				break
			}
		}
	}
}
