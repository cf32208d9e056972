package picture

import (
	"fmt"
	"math"
	"strings"
)

// Widths at which pages draw the scale, px. The picture is drawn anew for each, never scaled.
const (
	Narrow  = 358  // a phone
	Usual   = 688  // a tablet
	Wide    = 784  // the sheet
	Archive = 1184 // the record
)

// ScaleOptions choose how the density scale is drawn.
type ScaleOptions struct {
	Width     int     // px, at least 320; 0: Wide
	Window    *Window // nil: what the subject needs
	NoCloseUp bool    // leave out the close-up; narrow pictures never have one
	NoWhole   bool    // leave out the strip of the whole scale
}

const (
	gutter    = 124.0 // left of the plot, for the names of the lanes
	narrowest = 320
	wideFrom  = 600 // from here lanes have their names in the gutter
	hillTall  = 44.0
	barAt     = 53.0 // y of the measured bar
	laneLeast = 25.0
	headTall  = 19.0 // a lane's name above its bands, in a narrow picture
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
	d.width = float64(max(o.Width, narrowest))
	d.narrow = d.width < wideFrom
	d.m, d.weighed = s.reading()
	lanes := s.lanes()
	w := window(d.m, d.weighed, lanes)
	if o.Window != nil && o.Window.High > o.Window.Low {
		w = *o.Window
	}
	d.panels(w, o)
	d.arrange(lanes)
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
	return d.finish(class, sentence(d.m, d.weighed, d.claim, lanes), height)
}

// panels divides the width into the plot and the close-up.
func (d *scale) panels(w Window, o ScaleOptions) {
	needle := func(p plot) float64 {
		if !d.weighed || !p.shows(d.m.rho) {
			return math.NaN()
		}
		return p.at(d.m.rho)
	}
	d.main = plot{x0: gutter, x1: d.width - 2, w: w}
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

// arrange gives each lane that has something in the window its place.
func (d *scale) arrange(lanes []lane) {
	d.top = 8
	if d.weighed {
		d.top = barAt + 13
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
		at := laid{lane: l, y: y}
		var rows int
		at.shown, at.rest, rows = d.main.layOut(shown, d.narrow)
		for _, b := range l.bands {
			at.fits = at.fits || b.fits
		}
		if len(at.rest) > 0 {
			rows++
		}
		at.height = math.Max(laneLeast, float64(rows)*pitch+6)
		if d.narrow {
			at.height += headTall
		}
		y += at.height
		d.lanes = append(d.lanes, at)
	}
	d.bottom = y
}

// merged draws materials that can be made to the same densities of the window as one band.
func (d *scale) merged(bands []band) []band {
	w := d.main.w
	var out []band
	var names, shorts [][]string
	for _, b := range bands {
		low, high := math.Max(b.low, w.Low), math.Min(b.high, w.High)
		i := 0
		for i < len(out) && !(near(math.Max(out[i].low, w.Low), low) && near(math.Min(out[i].high, w.High), high)) {
			i++
		}
		if i == len(out) {
			out, names, shorts = append(out, b), append(names, nil), append(shorts, nil)
		} else {
			out[i].name += "; " + b.name
		}
		names[i], shorts[i] = append(names[i], b.label), append(shorts[i], b.short)
	}
	for i := range out {
		out[i].label = strings.Join(names[i], ", ")
		out[i].short = strings.Join(shorts[i], ", ")
		if room := d.main.labelRoom(); widthOf(out[i].short, size, true) > room {
			out[i].short = fmt.Sprintf("%s +%d", shorts[i][0], len(shorts[i])-1)
		}
	}
	return out
}

// bandY is the top of a sub-row of a lane.
func (d *scale) bandY(l *laid, row int) float64 {
	y := l.y + 4 + float64(row)*pitch
	if d.narrow {
		y += headTall
	}
	return y
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
		d.axis(d.lens, 3, false)
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

// drawLane draws the bands of a lane, and the same under the lens.
func (d *scale) drawLane(l *laid) {
	d.line("grid", 0, l.y, d.main.x1, l.y)
	for i := range l.shown {
		d.under(&l.shown[i], d.bandY(l, l.shown[i].row), pill)
	}
	for i := range l.shown {
		b := &l.shown[i]
		d.group(b.says(d.weighed))
		d.bandBox(b, d.main, d.bandY(l, b.row), pill)
		d.endGroup()
	}
	if len(l.rest) > 0 { // too many to name: thin marks, which the table names
		y := d.bandY(l, mostRows)
		for i := range l.rest {
			b := &l.rest[i]
			d.group(b.says(d.weighed))
			d.bandBox(b, d.main, y+4, 8)
			d.endGroup()
		}
	}
	if !d.hasLens {
		return
	}
	d.line("grid", d.lens.x0, l.y, d.lens.x1, l.y)
	for i := range l.shown {
		if b := d.underLens(&l.shown[i]); b != nil {
			d.under(b, d.bandY(l, b.row), pill)
		}
	}
	for i := range l.shown {
		if b := d.underLens(&l.shown[i]); b != nil {
			d.bandBox(b, d.lens, d.bandY(l, b.row), pill)
		}
	}
}

// underLens is the band as the close-up shows it; nil where it does not.
func (d *scale) underLens(b *placed) *placed {
	if b.low > d.lens.w.High || b.high < d.lens.w.Low {
		return nil
	}
	out := d.lens.shape(b.band)
	out.row, out.label = b.row, b.label
	return &out
}

// under draws what others may stand on: the haze, and the rare recipes of what does not fit.
func (d *scale) under(b *placed, y, tall float64) {
	if b.kind != ofAlloy {
		return
	}
	d.rect("haze", b.haze.a, y+3, b.haze.b-b.haze.a, tall-6)
	if !b.fits && !b.claimed && b.box != b.inner {
		d.path("rare", new(track).add('M', b.box.a, y+4).add('V', y+tall-4).add('M', b.box.a, y+tall/2).add('H', b.box.b).add('M', b.box.b, y+4).add('V', y+tall-4).String())
	}
}

// bandBox draws a band: all recipes, the usual ones, the outline of the claim and its flag.
func (d *scale) bandBox(b *placed, p plot, y, tall float64) {
	fit := ""
	if b.fits {
		fit = " fit"
	}
	switch b.kind {
	case ofAlloy:
		if b.fits || b.claimed {
			d.rect("outer"+fit, b.box.a, y+2, b.box.b-b.box.a, tall-4)
		}
		if b.inner != (span{}) {
			d.rect("band"+fit, b.inner.a, y, b.inner.b-b.inner.a, tall)
		}
	case ofStone:
		d.rect("band"+fit, b.box.a, y, b.box.b-b.box.a, tall)
	default:
		step := 6.0
		if b.kind == matched {
			step = 12
		}
		class := "alike" + fit
		if b.kind == matched {
			class = "matched" + fit
		}
		d.rect(class, b.box.a, y, b.box.b-b.box.a, tall)
		d.hatch("hatch"+fit, b.box.a, y, b.box.b-b.box.a, tall, step)
	}
	if b.claimed {
		d.outline(b, p, y-3, tall+6)
	}
	mid := y + tall/2
	switch b.flag {
	case -1:
		d.path("flag", new(track).add('M', b.box.a-4, mid-9).add('l', -flagWide, 9).add('l', flagWide, 9).add('Z').String())
	case 1:
		d.path("flag", new(track).add('M', b.box.b+4, mid-9).add('l', flagWide, 9).add('l', -flagWide, 9).add('Z').String())
	}
}

// outline stands off from the claimed band; it is open on a side that the window cuts.
func (d *scale) outline(b *placed, p plot, y, tall float64) {
	a, z := b.box.a, b.box.b
	var t track
	if b.low >= p.w.Low && a-3 >= 0 {
		a -= 3
		t.add('M', a, y).add('V', y+tall)
	}
	if b.high <= p.w.High && z+3 <= d.width {
		z += 3
		t.add('M', z, y).add('V', y+tall)
	}
	d.path("claim", t.add('M', a, y).add('H', z).add('M', a, y+tall).add('H', z).String())
}

// labels writes the names of the lane and of its bands, over the needle.
func (d *scale) labels(l *laid) {
	class := "m"
	if l.fits && d.weighed {
		class = "b"
	}
	title, count := l.title, ""
	if len(l.rest) > 0 {
		count = fmt.Sprintf("and %d more", len(l.rest))
	}
	switch {
	case d.narrow && count != "":
		d.text(class, 0, l.y+size+2, start, title+", "+count+" in the table")
	case d.narrow:
		d.text(class, 0, l.y+size+2, start, title)
	default:
		d.text(class, 0, l.y+4+pill/2+4.7, start, title)
		if count != "" {
			d.text("m", 0, l.y+4+pill/2+4.7+17, start, count)
			d.text("m", 0, l.y+4+pill/2+4.7+34, start, "in the table")
		}
	}
	for i := range l.shown {
		b := &l.shown[i]
		d.label(b, d.bandY(l, b.row), d.main, "plate")
		if b.word != (span{}) {
			d.text("c halo", b.word.a, d.bandY(l, b.row)+pill/2+4.7, start, claimWord)
		}
	}
	if d.hasLens {
		d.lensLabels(l)
	}
}

func (d *scale) label(b *placed, y float64, p plot, plate string) {
	if b.spot == none {
		return
	}
	base := y + pill/2 + 4.7
	mid := (b.at.a + b.at.b) / 2
	fit := map[bool]string{true: "b", false: "m"}[b.fits]
	switch {
	case b.spot == beside:
		d.text(fit+" halo", mid, base, middle, b.label)
	case b.kind == lookalike || b.kind == matched:
		d.rect(plate, b.at.a-3, y+1.5, b.at.b-b.at.a+6, pill-3)
		d.text(fit, mid, base, middle, b.label)
	case b.fits:
		d.text("onfit", mid, base, middle, b.label)
	default:
		d.text("onband", mid, base, middle, b.label)
	}
}

// lensLabels names what the close-up shows where there is room, and in a lane that shows nothing the
// nearest band with side and distance.
func (d *scale) lensLabels(l *laid) {
	p := d.lens
	var taken [mostRows + 1][]span
	seen := false
	var inView []*placed
	for i := range l.shown {
		if b := d.underLens(&l.shown[i]); b != nil {
			seen = true
			inView = append(inView, b)
			taken[b.row] = append(taken[b.row], b.ground())
		}
	}
	for _, b := range inView {
		others := make([]span, 0, len(taken[b.row]))
		for _, s := range taken[b.row] {
			if s != b.ground() {
				others = append(others, s)
			}
		}
		inner := p
		inner.x0, inner.x1 = p.x0+3, p.x1-3
		if inner.place(b, others, false) {
			taken[b.row] = append(taken[b.row], b.at)
			d.label(b, d.bandY(l, b.row), p, "panel")
		}
	}
	if seen || len(l.bands) == 0 {
		return
	}
	best := &l.bands[0]
	for i := range l.bands {
		if b := &l.bands[i]; b.z < best.z {
			best = b
		}
	}
	name := best.label
	if best.short != "" {
		name = best.short
	}
	room := (p.x1-p.x0)/2 - 14
	words := name + ", " + best.distance()
	for _, shorter := range []string{best.distance(), "far"} {
		if widthOf("‹ "+words, size, false) > room {
			words = shorter
		}
	}
	base := l.y + 4 + pill/2 + 4.7
	if best.high < d.m.rho {
		d.text("m", p.x0+6, base, start, "‹ "+words)
	} else {
		d.text("m", p.x1-6, base, end, words+" ›")
	}
}

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
		from = barAt + 4
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
		tall := hillTall
		if d.hasLens && p == d.lens {
			tall = hillTall - 16 // under the name of the close-up
		}
		d.measured(p, tall)
	}
	if d.hasLens {
		ratio := magnified(d.main.w, d.lens.w, d.main.x1-d.main.x0, d.lens.x1-d.lens.x0)
		d.text("m", d.lens.x0+6, size+1, start, "close-up ×"+times(ratio))
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
		d.path("dot", new(track).add('M', at, barAt).add('l', way*10, -6).add('l', 0, 12).add('Z').String())
		return
	}
	if b-a < 2 {
		a, b = math.Max(p.x0, (a+b)/2-1), math.Min(p.x1, (a+b)/2+1)
	}
	d.rect("through", a, barAt, b-a, d.bottom-barAt)
	d.hill(p, tall, weak)
	d.line("bar"+weak, a, barAt, b, barAt)
	if !math.IsNaN(p.needle) {
		d.line("casing", p.needle, d.top, p.needle, d.bottom)
		d.line("needle", p.needle, barAt-5-tall, p.needle, d.bottom)
	}
}

// hill draws the distribution of the density.
func (d *scale) hill(p plot, tall float64, weak string) {
	base := barAt - 5
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
	low, high = fixed(d.m.low, n), fixed(d.m.high, n)
	if d.m.open {
		high = "no upper end"
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
		d.text("v halo", a-7, barAt+4.7, end, low)
		d.text("v halo", b+7, barAt+4.7, start, high)
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
	d.text("v halo", at, barAt+19, start, low)
	d.text("v halo", to, barAt+19, end, high)
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
		words := "pair " + g.names[0]
		if len(g.names) > 1 {
			words = "pairs " + strings.Join(g.names, ", ")
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
