package picture

import (
	"fmt"
	"math"

	"wreath/internal/determination"
)

const rowNames = 112.0 // left of the bars under a distribution

// Density draws the distribution of the density at 20 °C: the first-order curve and, below it, the
// interval of the first order and that of the propagation of distributions.
func (l Language) Density(a *determination.Answer, width int) Picture {
	const tall, base = 110.0, 122.0
	c := canvas{width: float64(max(width, narrowest)), in: l.Book}
	m, weighed := Subject{Answer: a}.reading()
	if !weighed {
		c.text("m", 0, 14, start, "nothing is weighed yet")
		return c.finish("density", "Nothing is weighed yet.", 22)
	}
	// The answer's interval may be the propagated one; the first order's is symmetric in v.
	v, half := 1/m.rho, a.Density20C.K*m.u/(m.rho*m.rho)
	firstLow, firstHigh, open := 1/(v+half), densest, true
	if v > half && 1/(v-half) < densest {
		firstHigh, open = 1/(v-half), false
	}
	if a.Density20C.IntervalBy == "first-order" {
		firstLow, firstHigh, open = m.low, m.high, m.open
	}
	low, high := math.Min(m.rho-4.2*m.u, firstLow), math.Max(m.rho+4.2*m.u, math.Min(firstHigh, m.rho+8*m.u))
	mcLow, mcHigh := math.NaN(), math.NaN()
	if mc := a.MonteCarlo; mc != nil {
		mcLow, mcHigh = mc.LowKgM3/1000, densest
		if mc.HighKgM3 != nil {
			mcHigh = *mc.HighKgM3 / 1000
		}
		low, high = math.Min(low, mcLow), math.Max(high, math.Min(mcHigh, m.rho+8*m.u))
	}
	low = math.Max(low, 0.01)
	p := plot{x0: rowNames, x1: c.width - 6, w: Window{low, high}, needle: math.NaN()}
	c.curve(p, base, tall, m.height, nil)
	c.line("needle", p.at(m.rho), base-tall, p.at(m.rho), base)
	c.below(p, base, "g/cm³")
	y := base + 36
	n := places(m.expanded)
	title := fmt.Sprintf("Distribution of the density: first order %s to %s", fixed(firstLow, n), fixed(firstHigh, n))
	if open {
		title = fmt.Sprintf("Distribution of the density: first order from %s without upper end", fixed(firstLow, n))
	}
	c.interval(p, y, "first order", firstLow, firstHigh, "ink thick2")
	if !math.IsNaN(mcLow) {
		y += 20
		c.interval(p, y, "propagated", mcLow, mcHigh, "bar")
		if a.MonteCarlo.HighKgM3 == nil {
			title += fmt.Sprintf(", propagated from %s without upper end", fixed(mcLow, n))
		} else {
			title += fmt.Sprintf(", propagated %s to %s", fixed(mcLow, n), fixed(mcHigh, n))
		}
		if a.MonteCarlo.Validated {
			title += "; they agree"
		} else {
			title += "; they differ, and the propagated one counts"
		}
	}
	return c.finish("density", title+" grams per cubic centimetre.", y+14)
}

// curve draws a distribution over a plot; what lies in fill, nil for all of it, is tinted.
func (c *canvas) curve(p plot, base, tall float64, f func(float64) float64, fill *Window) {
	const steps = 160
	top := 1e-300
	var xs, ys [steps + 1]float64
	for i := range xs {
		xs[i] = p.w.Low + (p.w.High-p.w.Low)*float64(i)/steps
		ys[i] = math.Max(0, f(xs[i]))
		top = math.Max(top, ys[i])
	}
	if fill == nil {
		fill = &p.w
	}
	a, b := math.Max(fill.Low, p.w.Low), math.Min(fill.High, p.w.High)
	for _, end := range [...]float64{a, b} { // a steep curve may be highest between two steps
		top = math.Max(top, f(end))
	}
	y := func(v float64) float64 { return base - tall*math.Max(0, f(v))/top }
	if b > a {
		var area track
		area.add('M', p.at(a), base).add('L', p.at(a), y(a))
		for i := range xs {
			if xs[i] > a && xs[i] < b {
				area.add('L', p.at(xs[i]), base-tall*ys[i]/top)
			}
		}
		c.path("area", area.add('L', p.at(b), y(b)).add('L', p.at(b), base).add('Z').String())
	}
	var line track
	for i := range xs {
		line.add(map[bool]byte{true: 'M', false: 'L'}[i == 0], p.at(xs[i]), base-tall*ys[i]/top)
	}
	c.path("curve", line.String())
}

// below draws the axis under a distribution, its unit in the gutter.
func (c *canvas) below(p plot, base float64, unit string) {
	c.line("axis", p.x0, base, p.x1, base)
	c.text("m", 0, base+17, start, unit)
	reach := p.x0 - 6
	for _, t := range ticks(p.w.Low, p.w.High, (p.x1-p.x0)/62) {
		x, w := p.at(t.at), widthOf(t.label, size, false)
		c.line("axis", x, base, x, base+5)
		if x-w/2 < reach+6 || x+w/2 > c.width {
			continue
		}
		c.text("m", x, base+17, middle, t.label)
		reach = x + w/2
	}
}

// interval draws a bar under a distribution with its name in the gutter; what goes on beyond the
// plot ends in an arrowhead.
func (c *canvas) interval(p plot, y float64, name string, low, high float64, class string) {
	c.text("m", 0, y+4.7, start, name)
	a, b := p.at(low), p.at(high)
	if b-a < 2 {
		b = math.Min(a+2, p.x1)
		a = b - 2
	}
	c.line(class, a, y, b, y)
	if low < p.w.Low {
		c.path("solid", new(track).add('M', p.x0-8, y).add('l', 8, -5).add('v', 10).add('Z').String())
	}
	if high > p.w.High {
		c.path("solid", new(track).add('M', math.Min(p.x1+8, c.width), y).add('l', -8, -5).add('v', 10).add('Z').String())
	}
}
