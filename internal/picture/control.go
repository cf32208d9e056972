package picture

import (
	"fmt"
	"math"
)

// Control is a control chart: the same check piece weighed again and again.
type Control struct {
	Name   string // what is watched, for the title: "check piece, station 2"
	Unit   string
	Points []ControlPoint // oldest first

	// Watch and Stop are the distances from Centre, both ways, beyond which a point is watched and
	// the station is stopped; 0 < Watch < Stop.
	Centre, Watch, Stop float64
	Decimals            int // of the numbers on the axis
}

// ControlPoint is one weighing.
type ControlPoint struct {
	Label string // under the chart where there is room: "24 Nov"
	Value float64
}

// judged says which shape a point has: inside a dot, beyond Watch a ring, beyond Stop a diamond.
func (k Control) judged(v float64) string {
	switch d := math.Abs(v - k.Centre); {
	case !(d <= k.Stop):
		return "stop"
	case d > k.Watch:
		return "watch"
	}
	return "inside"
}

// Control draws the chart. A point beyond the picture stands at its edge.
func (l Language) Control(k Control, width int) Picture {
	const tall, top, foot = 170.0, 12.0, 26.0
	c := canvas{width: float64(max(width, narrowest)), in: l.Book}
	if !(k.Stop > k.Watch && k.Watch > 0) {
		c.text("m", 0, 14, start, "no limits yet")
		return c.finish("control", "Control chart without limits: "+k.Name+".", 22)
	}
	low, high := k.Centre-1.45*k.Stop, k.Centre+1.45*k.Stop
	y := func(v float64) float64 {
		return top + tall*(high-math.Min(math.Max(v, low), high))/(high-low)
	}
	levels := []struct {
		v           float64
		name, class string
	}{
		{k.Centre + k.Stop, "stop above", "ink"}, {k.Centre + k.Watch, "watch", "ink dash2"}, {k.Centre, "certificate", "ink"},
		{k.Centre - k.Watch, "watch", "ink dash2"}, {k.Centre - k.Stop, "stop below", "ink"},
	}
	left, right := 0.0, 0.0
	for _, l := range levels {
		left = math.Max(left, widthOf(fixed(l.v, k.Decimals), size, false))
		right = math.Max(right, widthOf(c.in.Say(l.name), size, false))
	}
	x0, x1 := left+8, c.width-right-8
	c.rect("panel", x0, y(k.Centre+k.Watch), x1-x0, y(k.Centre-k.Watch)-y(k.Centre+k.Watch))
	free := math.Inf(-1) // below the last name: two limits that are close share one line of words
	for _, l := range levels {
		c.line(l.class, x0, y(l.v), x1, y(l.v))
		if y(l.v)-free >= 14 {
			c.text("m", 0, y(l.v)+4.7, start, fixed(l.v, k.Decimals))
			c.text("m", x1+8, y(l.v)+4.7, start, l.name)
			free = y(l.v)
		}
	}
	n := float64(len(k.Points))
	x := func(i int) float64 { return x0 + (x1-x0)*(float64(i)+0.5)/n }
	var line track
	count := map[string]int{}
	for i, p := range k.Points {
		line.add(map[bool]byte{true: 'M', false: 'L'}[i == 0], x(i), y(p.Value))
	}
	if n > 1 {
		c.path("curve faint", line.String())
	}
	reach := math.Inf(-1)
	for i, p := range k.Points {
		state := k.judged(p.Value)
		count[state]++
		c.group(fmt.Sprintf("%s: %s %s, %s", p.Label, fixed(p.Value, k.Decimals), k.Unit, state))
		switch state {
		case "stop":
			c.path("solid", new(track).add('M', x(i), y(p.Value)-8).add('l', 8, 8).add('l', -8, 8).add('l', -8, -8).add('Z').String())
		case "watch":
			c.circle("ring", x(i), y(p.Value), 5)
		default:
			c.circle("dot", x(i), y(p.Value), 3.5)
		}
		c.endGroup()
		w := widthOf(p.Label, size, false)
		if a := x(i) - w/2; p.Label != "" && a > reach+10 && a >= 0 && a+w <= c.width {
			c.text("m", x(i), top+tall+18, middle, p.Label)
			reach = a + w
		}
	}
	title := fmt.Sprintf("Control chart, %s: %s, %d inside, %d to watch, %d beyond the stop limit.",
		k.Name, counted(len(k.Points), "point"), count["inside"], count["watch"], count["stop"])
	return c.finish("control", title, top+tall+foot)
}
