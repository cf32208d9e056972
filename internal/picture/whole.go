package picture

import (
	"math"
	"slices"
	"sync"

	"wreath/alloy"
	"wreath/gem"
)

// group is a kind of things on the whole scale, g/cm³.
type group struct {
	name      string
	low, high float64
}

// wholeScale is what the strip shows: stones, base metals, and each precious metal over its legal
// alloys.
var wholeScale = sync.OnceValue(func() []group {
	stones := group{"stones", math.Inf(1), 0}
	for _, s := range gem.All() {
		stones.low, stones.high = math.Min(stones.low, s.Low.GramPerCm3()), math.Max(stones.high, s.High.GramPerCm3())
	}
	base := group{"base metals", math.Inf(1), 0}
	for _, symbol := range []string{"Zn", "Sn", "Fe", "Ni", "Cu"} {
		if m, ok := alloy.MetalBySymbol(symbol); ok {
			base.low, base.high = math.Min(base.low, m.Density.GramPerCm3()), math.Max(base.high, m.Density.GramPerCm3())
		}
	}
	out := []group{stones, base}
	for _, metal := range []string{"silver", "palladium", "gold", "platinum"} {
		g := group{metal, math.Inf(1), 0}
		for _, f := range alloy.FamiliesOf(metal) {
			if f.Role != alloy.Candidate {
				continue
			}
			for _, s := range alloy.Standards(standards, metal) {
				// A band that is as wide as several metals says nothing of where this one is.
				if light, dense, ok := f.Band(s, false); ok && made(f, s) && 1/light-1/dense < 3 {
					g.low, g.high = math.Min(g.low, 1/dense), math.Max(g.high, 1/light)
				}
			}
		}
		out = append(out, g)
	}
	return out
})

// whole draws the strip of the whole scale with the window as a frame; it returns where it ends.
func (d *scale) whole(y float64) float64 {
	const tall, step = 14.0, 17.0
	p := plot{x0: gutter, x1: d.width - 2, w: Window{lightest, densest}}
	if d.narrow {
		p.x0 = 2
	}
	lines := []float64{p.at(d.main.w.Low), p.at(d.main.w.High)} // that no label should stand on
	if d.weighed {
		lines = append(lines, p.at(d.m.rho))
	}
	var rows [][]span
	for _, g := range wholeScale() {
		g.name = d.in.Say(g.name)
		box := span{p.at(g.low), p.at(g.high)}
		w := widthOf(g.name, small, false)
		inside := box.b-box.a >= w+6
		for row := 0; ; row++ {
			if row == len(rows) {
				rows = append(rows, nil)
			}
			// Inside at the left, where the row below does not hide it; else left, else right of it.
			spots := []span{{box.a - 4 - w, box.a - 4}, {box.b + 4, box.b + 4 + w}}
			if inside {
				spots = []span{{(box.a + box.b - w) / 2, (box.a + box.b + w) / 2}, {box.a + 3, box.a + 3 + w}, {box.b - 3 - w, box.b - 3}}
			}
			label, ok, crossed := span{}, false, true
			for _, s := range spots {
				free := s.a >= p.x0 && s.b <= p.x1
				for _, t := range rows[row] {
					free = free && !s.meets(t) && !box.meets(t)
				}
				crosses := slices.ContainsFunc(lines, func(x float64) bool { return x > s.a-2 && x < s.b+2 })
				if free && (!ok || crossed && !crosses) {
					label, ok, crossed = s, true, crosses
				}
			}
			if !ok {
				continue
			}
			rows[row] = append(rows[row], box, label)
			top := y + 4 + float64(row)*step
			d.rect("whole", box.a, top, box.b-box.a, tall)
			class := "s m"
			if inside {
				class = "s onband"
			}
			d.text(class, label.a, top+11, start, g.name)
			break
		}
	}
	bottom := y + 4 + float64(len(rows))*step + 1
	d.rect("frame", p.at(d.main.w.Low), y, math.Max(2, p.at(d.main.w.High)-p.at(d.main.w.Low)), bottom-y)
	if d.weighed {
		d.line("needle strong", p.at(d.m.rho), y, p.at(d.m.rho), bottom)
	}
	if !d.narrow {
		d.text("m", 0, y+4+tall+2, start, "1 to 23 g/cm³")
	}
	return bottom + 4
}
