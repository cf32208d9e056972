package picture

import (
	"fmt"
	"math"
)

// DayRow draws one row of the day book, 170 by 26 px: the claim's band, of the same width in each
// row, and what was measured to its scale. What is off the picture is an arrowhead on its side. Of
// a claim of several families the band is the nearest; without a claim only the measured bar's place
// is empty.
func DayRow(s Subject) Picture {
	const w, h, mid = 170.0, 26.0, 13.0
	const from, to = 0.36, 0.64 // of the width, the claim's band
	c := canvas{width: w, in: s.In}
	c.line("grid", 0, mid, w, mid)
	m, weighed := s.reading()
	var claim *band
	for _, l := range s.claimLanes() {
		for i := range l.bands {
			if b := &l.bands[i]; b.claimed && (claim == nil || b.z < claim.z) {
				claim = b
			}
		}
	}
	if claim == nil {
		title := "No claim with a band to hold the density against."
		if !weighed {
			title = "Nothing is weighed and nothing claimed."
		}
		return c.finish("dayrow", title, h)
	}
	// A band that is a line still has a width here: that of its haze.
	low, high := claim.low, claim.high
	if high-low < 1e-3*high && claim.kind == ofAlloy {
		low, high = claim.hazeLow, claim.hazeHigh
	}
	x := func(v float64) float64 { return w * (from + (to-from)*(v-low)/math.Max(high-low, 1e-9)) }
	c.rect("claim", x(low), 4, x(high)-x(low), h-8)
	if !weighed {
		return c.finish("dayrow", "Nothing is weighed yet; the claim is "+claim.name+".", h)
	}
	a, b := x(m.low), x(m.high)
	value, expanded := printed(m.rho, m.expanded)
	title := fmt.Sprintf("Measured %s plus or minus %s against %s, %s.", value, expanded, claim.name, between(claim.low, claim.high))
	weak := ""
	if m.doubtful {
		weak = " weak"
		title += " The weighing is doubtful."
	}
	switch {
	case b < 6:
		c.path("dot", new(track).add('M', 2, mid).add('l', 9, -6).add('v', 12).add('Z').String())
		title += " It lies below the picture."
	case a > w-6:
		c.path("dot", new(track).add('M', w-2, mid).add('l', -9, -6).add('v', 12).add('Z').String())
		title += " It lies above the picture."
	default:
		a, b = math.Max(a, 1), math.Min(b, w-1)
		c.line("bar"+weak, a, mid, math.Min(math.Max(b, a+3), w-1), mid)
		if at := x(m.rho); at >= 1 && at <= w-1 {
			if b-a > 12 {
				c.line("casing", at, 5, at, h-5)
			}
			c.line("needle", at, 5, at, h-5)
		}
	}
	return c.finish("dayrow", title, h)
}
