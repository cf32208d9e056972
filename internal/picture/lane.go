package picture

import (
	"fmt"
	"math"
	"strings"
)

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
	y := l.y + d.rows.pad + float64(row)*d.rows.pitch
	if d.narrow {
		y += headTall
	}
	return y
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
		count = d.in.Sayf("and %d more", len(l.rest))
	}
	switch {
	case d.width < Narrow && count != "": // on a slip, which has no table
		d.text(class, 0, l.y+size+2, start, cutTo(title+", "+count, d.width, class == "b"))
	case d.narrow && count != "":
		d.text(class, 0, l.y+size+2, start, d.in.Sayf("%s, %s in the table", title, count))
	case d.narrow:
		d.text(class, 0, l.y+size+2, start, title)
	default:
		d.text(class, 0, l.y+d.rows.pad+pill/2+4.7, start, title)
		if count != "" {
			d.text("m", 0, l.y+d.rows.pad+pill/2+4.7+17, start, count)
			d.text("m", 0, l.y+d.rows.pad+pill/2+4.7+34, start, "in the table")
		}
	}
	for i := range l.shown {
		b := &l.shown[i]
		d.label(b, d.bandY(l, b.row), d.main, "plate")
		if b.word != (span{}) {
			d.text("c halo", b.word.a, d.bandY(l, b.row)+pill/2+4.7, start, d.main.claim)
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
	words := name + ", " + d.in.Say(best.distance())
	for _, shorter := range []string{d.in.Say(best.distance()), d.in.Say("far")} {
		if widthOf("‹ "+words, size, false) > room {
			words = shorter
		}
	}
	base := l.y + d.rows.pad + pill/2 + 4.7
	if best.high < d.m.rho {
		d.text("m", p.x0+6, base, start, "‹ "+words)
	} else {
		d.text("m", p.x1-6, base, end, words+" ›")
	}
}
