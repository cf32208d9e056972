package picture

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wreath/alloy"
	"wreath/internal/determination"
)

// Fineness draws what density says of the fineness: its distribution over the usual recipes, every
// fineness weighted alike, with the 95 % interval, the range of any usual and any rare recipe, the
// legal limit where one is claimed, and the safe figure to pay by.
func (l Language) Fineness(a *determination.Answer, width int) Picture {
	const tall, base = 96.0, 140.0
	c := canvas{width: float64(max(width, narrowest)), in: l.Book}
	if a == nil || a.Fineness == nil {
		c.text("m", 0, 14, start, "no fineness yet")
		return c.finish("fineness", "No fineness: nothing is weighed, or no alloy family has this density.", 22)
	}
	f := a.Fineness
	low, high := math.Min(f.Low, f.Safe), f.High
	if f.RangeHigh > 0 {
		low, high = math.Min(low, f.RangeLow), math.Max(high, f.RangeHigh)
	}
	limit := math.NaN()
	if a.LegalLimit != nil {
		limit = a.LegalLimit.LimitPpt
		// A limit that is far away is told beside the arrow; it must not flatten the picture.
		if reach := math.Max(high-low, 5); limit > low-reach && limit < high+reach {
			low, high = math.Min(low, limit), math.Max(high, limit)
		}
	}
	air := math.Max(0.1*(high-low), 0.2)
	p := plot{x0: rowNames, x1: c.width - 10, w: Window{math.Max(0, low-air), math.Min(1000, high+air)}, needle: math.NaN()}
	if density := finenessCurve(a); density != nil {
		c.curve(p, base, tall, density, &Window{f.Low, f.High})
	}
	c.below(p, base, "parts per 1000")
	title := fmt.Sprintf("Fineness as %s: 95 percent between %s and %s, any usual recipe %s to %s, safe figure %s",
		familyNames(f.Family), ppt(f.Low), ppt(f.High), ppt(f.RangeLow), ppt(f.RangeHigh), ppt(f.Safe))
	if f.RangeHigh == 0 {
		title = fmt.Sprintf("Fineness as %s: 95 percent between %s and %s, no usual recipe fits, safe figure %s", familyNames(f.Family), ppt(f.Low), ppt(f.High), ppt(f.Safe))
	}
	// The two lines have their words on two levels, so that they never meet.
	safe := p.at(f.Safe)
	c.line("ink", safe, 18, safe, base)
	c.beside(p, safe, 14, "b halo", c.in.Sayf("safe figure %s", ppt(math.Floor(f.Safe*10)/10)))
	if !math.IsNaN(limit) {
		title += ", limit " + ppt(limit)
		x := p.at(limit)
		words := c.in.Sayf("limit %s", ppt(limit))
		switch {
		case limit < p.w.Low:
			words = "‹ " + words
		case limit > p.w.High:
			words += " ›"
		default:
			c.line("claim dashed", x, 34, x, base)
		}
		c.beside(p, x, 31, "c halo", words)
	}
	y := base + 36
	c.interval(p, y, "95 %", f.Low, f.High, "bar")
	if f.RangeHigh > 0 {
		y += 20
		c.interval(p, y, "usual recipes", f.RangeLow, f.RangeHigh, "ink thick2")
	}
	if f.OuterHigh > 0 {
		y += 20
		c.interval(p, y, "any recipe", f.OuterLow, f.OuterHigh, "ink dashed")
	}
	return c.finish("fineness", title+" parts per thousand.", y+14)
}

// beside writes words right of x, or left of it where there is no room.
func (c *canvas) beside(p plot, x, y float64, class, words string) {
	w := widthOf(words, size, true)
	switch {
	case x+5+w <= c.width:
		c.text(class, x+5, y, start, words)
	default:
		c.text(class, math.Max(x-5, w), y, end, words)
	}
}

// familyNames turns "gold-yellow + gold-green" into names.
func familyNames(keys string) string {
	var names []string
	for _, key := range strings.Split(keys, " + ") {
		if f, ok := alloy.FamilyByKey(key); ok {
			key = f.Name
		}
		names = append(names, key)
	}
	return list(names)
}

// finenessCurve is the density of the posterior of the families that count, by parts per thousand;
// nil where the tables have none of them.
func finenessCurve(a *determination.Answer) func(float64) float64 {
	m, weighed := Subject{Answer: a}.reading()
	if !weighed {
		return nil
	}
	type part struct {
		posterior *alloy.Posterior
		share     float64
	}
	var parts []part
	for _, key := range strings.Split(a.Fineness.Family, " + ") {
		family, ok := alloy.FamilyByKey(key)
		if !ok {
			continue
		}
		posterior, ok := family.Posterior(m.observation(), nil)
		if !ok {
			continue
		}
		share := 1.0
		if i := slices.IndexFunc(a.Families, func(f determination.Fineness) bool { return f.Family == key }); i >= 0 && a.Families[i].Share > 0 {
			share = a.Families[i].Share
		}
		parts = append(parts, part{posterior, share})
	}
	if parts == nil {
		return nil
	}
	step := math.Max((a.Fineness.High-a.Fineness.Low)/200, 0.02) / 1000
	return func(ppt float64) float64 {
		sum := 0.0
		for _, p := range parts {
			sum += p.share * (p.posterior.AtLeast(ppt/1000-step) - p.posterior.AtLeast(ppt/1000+step))
		}
		return sum
	}
}
