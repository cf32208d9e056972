package picture

import (
	"math"
	"slices"
	"strings"
)

// Widths at which pages draw the scale, px. The picture is drawn anew for each, never scaled.
const (
	Slip    = 240  // narrow paper, printed at 0.2 mm a px; the scale only
	Narrow  = 358  // a phone
	Usual   = 688  // a tablet
	Wide    = 784  // the sheet
	Archive = 1184 // the record
)

// ScaleOptions choose how the density scale is drawn.
type ScaleOptions struct {
	Width     int     // px, at least Slip; 0: Wide
	Window    *Window // nil: what the subject needs
	NoCloseUp bool    // leave out the close-up; narrow pictures never have one
	NoWhole   bool    // leave out the strip of the whole scale
	Tall      int     // px that it may be high where that can be kept; 0: as high as it gets
}

const (
	gutter    = 124.0 // left of the plot, for the names of the lanes
	narrowest = 320
	wideFrom  = 600  // from here lanes have their names in the gutter
	headTall  = 19.0 // a lane's name above its bands, in a narrow picture
)

// spacing is how close the rows of a scale stand, px.
type spacing struct {
	hill  float64 // height of the distribution
	least float64 // of a lane
	pitch float64 // of its sub-rows
	pad   float64 // above its first band
}

var (
	airy  = spacing{hill: 44, least: 25, pitch: 19, pad: 4}
	tight = spacing{hill: 34, least: 21, pitch: 18, pad: 2.5}
)

// scale is a density scale being drawn.
type scale struct {
	canvas
	s       Subject
	m       measured
	weighed bool
	claim   claimed

	main, lens  plot
	hasLens     bool
	narrow      bool
	rows        spacing
	fitsOnly    bool     // lanes show what fits and what is claimed, and no neighbours
	folded      []string // lanes that are left out, in words
	lanes       []laid
	top, bottom float64 // of the lanes
}

// laid is a lane with its place.
type laid struct {
	lane
	shown, rest []placed
	y, height   float64
	fits        bool
}

// Scale draws the density scale: what was measured, against everything that it can be.
func Scale(s Subject, o ScaleOptions) Picture {
	if o.Width == 0 {
		o.Width = Wide
	}
	d := scale{s: s, claim: s.claim()}
	d.in = s.In
	d.width = float64(max(o.Width, Slip))
	d.narrow = d.width < wideFrom
	d.m, d.weighed = s.reading()
	lanes := s.lanes()
	w := window(d.m, d.weighed, lanes)
	if o.Window != nil && o.Window.High > o.Window.Low {
		w = *o.Window
	}
	d.panels(w, o)
	d.fit(lanes, &o)
	d.ground()
	for i := range d.lanes {
		d.drawLane(&d.lanes[i])
	}
	d.limits()
	if d.weighed {
		d.measure()
	}
	for i := range d.lanes {
		d.labels(&d.lanes[i])
	}
	if d.weighed && len(s.Pairs) > 0 {
		d.pairs()
	}
	height := d.bottom + size + 12
	if !o.NoWhole {
		height = d.whole(height + 8)
	}
	class := "scale"
	if d.narrow {
		class += " narrow"
	}
	if d.m.doubtful {
		class += " doubtful"
	}
	out := d.finish(class, inWords(d.m, d.weighed, d.claim, lanes), height)
	for _, lane := range d.folded {
		out.Folded = append(out.Folded, d.in.Say(lane))
	}
	out.FitsOnly = d.fitsOnly
	return out
}

// panels divides the width into the plot and the close-up.
func (d *scale) panels(w Window, o ScaleOptions) {
	needle := func(p plot) float64 {
		if !d.weighed || !p.shows(d.m.rho) {
			return math.NaN()
		}
		return p.at(d.m.rho)
	}
	d.main = plot{x0: gutter, x1: d.width - 2, w: w, claim: d.in.Say(claimWord)}
	if d.narrow {
		d.main.x0 = 2
	}
	if d.weighed && !d.narrow && !o.NoCloseUp {
		wide := math.Floor(d.width * 0.285)
		if near, ok := closeWindow(d.m, w); ok && magnified(w, near, d.width-gutter-26-wide, wide) >= leastClose {
			d.hasLens = true
			d.lens = plot{x0: d.width - wide, x1: d.width, w: near}
			d.lens.needle = needle(d.lens)
			d.main.x1 = d.lens.x0 - 26
		}
	}
	d.main.needle = needle(d.main)
}

// leastClose is the magnification from which a close-up is worth its room.
const leastClose = 2.5

// magnified is how much larger a window of the scale is drawn than another.
func magnified(all, part Window, wideAll, widePart float64) float64 {
	return widePart / (part.High - part.Low) * (all.High - all.Low) / wideAll
}

// barAt is the y of the measured bar.
func (d *scale) barAt() float64 { return d.rows.hill + 9 }

// stripTall is what the strip of the whole scale adds at most: three rows and its distance.
const stripTall = 68

// fit arranges the lanes within the height that was asked for. First the rows move together, then the
// strip of the whole scale goes, then what does not fit; last, lanes are left out and named.
func (d *scale) fit(lanes []lane, o *ScaleOptions) {
	d.rows = airy
	d.arrange(lanes)
	least := func() float64 {
		height := d.bottom + size + 12
		if !o.NoWhole {
			height += stripTall
		}
		return height
	}
	room := float64(o.Tall)
	if o.Tall <= 0 || least() <= room {
		return
	}
	d.rows = tight
	d.arrange(lanes)
	if least() > room {
		o.NoWhole = true
	}
	if d.weighed && least() > room {
		d.fitsOnly = true
		d.arrange(lanes)
	}
	for least() > room {
		i := d.leastMissed()
		if i < 0 {
			return
		}
		out := d.lanes[i]
		d.folded = append(d.folded, out.words())
		lanes = slices.DeleteFunc(slices.Clone(lanes), func(l lane) bool { return l.title == out.title })
		d.arrange(lanes)
	}
}

// leastMissed is the lane that can be left out first: nothing in it fits, else it fits furthest from
// the measured value; never the claim's, nor what only looks like metal, nor without a claim the last
// that fits, beside which those are drawn. -1: none is left.
func (d *scale) leastMissed() int {
	found, worst := -1, -1.0
	claim, fitting := false, 0 // the claim is drawn; lanes that fit and hold no look-alikes
	for i := range d.lanes {
		fits := false
		for _, b := range slices.Concat(d.lanes[i].shown, d.lanes[i].rest) {
			claim = claim || b.claimed
			fits = fits || b.fits && b.kind != lookalike && b.kind != matched
		}
		if fits {
			fitting++
		}
	}
	for i := range d.lanes {
		l := &d.lanes[i]
		away := math.Inf(1)
		for _, b := range l.shown {
			if b.claimed || b.kind == lookalike || b.kind == matched {
				away = -1
				break
			}
			away = math.Min(away, b.z)
		}
		if away >= 0 && !l.fits {
			away += 1000
		} else if !claim && fitting == 1 {
			continue
		}
		if away >= 0 && away >= worst {
			found, worst = i, away
		}
	}
	return found
}

// words name what in a lane fits, or the lane where nothing does.
func (l *laid) words() string {
	var fits []string
	for _, b := range slices.Concat(l.shown, l.rest) {
		if b.fits {
			fits = append(fits, b.name)
		}
	}
	if len(fits) == 0 {
		return l.title
	}
	return strings.Join(fits, ", ")
}

// arrange gives each lane that has something in the window its place.
func (d *scale) arrange(lanes []lane) {
	d.lanes = nil
	d.top = 8
	if d.weighed {
		d.top = d.barAt() + 13
		if !d.hasLens && d.endsBelow(d.main) {
			d.top += 16
		}
		if len(d.s.Pairs) > 0 {
			d.top += 22
		}
	}
	y := d.top
	for _, l := range lanes {
		shown := d.main.w.of(l.bands)
		if len(shown) == 0 {
			continue
		}
		if l.title == matchedTitle {
			shown = d.merged(shown)
		}
		if d.fitsOnly {
			shown = onlyFitting(shown)
		}
		at := laid{lane: l, y: y}
		var rows int
		at.shown, at.rest, rows = d.main.layOut(shown, d.narrow)
		for _, b := range l.bands {
			at.fits = at.fits || b.fits
		}
		if len(at.rest) > 0 {
			rows++
		}
		at.height = math.Max(d.rows.least, float64(rows)*d.rows.pitch+d.rows.pad+2)
		if d.narrow {
			at.height += headTall
		}
		y += at.height
		d.lanes = append(d.lanes, at)
	}
	d.bottom = y
}

// onlyFitting leaves out of a lane what does not fit, unless it is claimed or nothing fits. Beside a
// claim its neighbours stay: they are what it is held against.
func onlyFitting(bands []band) []band {
	if slices.ContainsFunc(bands, func(b band) bool { return b.claimed }) || !slices.ContainsFunc(bands, func(b band) bool { return b.fits }) {
		return bands
	}
	return slices.DeleteFunc(slices.Clone(bands), func(b band) bool { return !b.fits })
}

// ground draws the panel of the close-up, the grid and the axis.
func (d *scale) ground() {
	if d.hasLens {
		d.rect("panel", d.lens.x0, 0, d.lens.x1-d.lens.x0, d.bottom+size+10)
	}
	unit := "g/cm³"
	d.axis(d.main, (d.main.x1-d.main.x0)/75, d.narrow)
	if d.narrow {
		d.text("m", d.main.x1, d.bottom+size+6, end, unit)
	} else {
		d.text("m", 0, d.bottom+size+6, start, unit)
	}
	if d.hasLens {
		d.axis(d.lens, (d.lens.x1-d.lens.x0)/55, false)
	}
}

// axis draws the divisions of a plot.
func (d *scale) axis(p plot, want float64, unitAtEnd bool) {
	reach, room := math.Inf(-1), math.Min(p.x1+14, d.width)
	if unitAtEnd {
		room = p.x1 - widthOf("g/cm³", size, false) - 8
	}
	for _, t := range ticks(p.w.Low, p.w.High, want) {
		x := p.at(t.at)
		d.line("grid", x, d.top-2, x, d.bottom+4)
		w := widthOf(t.label, size, false)
		a := x - w/2
		if a < p.x0-1 && p.x0 < 10 {
			a = p.x0 // at the edge of the picture
		}
		if a < math.Max(reach+6, p.x0-w/2-1) || a+w > room || p.x0 > gutter && a < p.x0 {
			continue
		}
		d.text("m", a+w/2, d.bottom+size+6, middle, t.label)
		reach = a + w
	}
	d.line("axis", p.x0, d.bottom, p.x1, d.bottom)
}
