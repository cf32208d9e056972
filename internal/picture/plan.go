package picture

import (
	"fmt"
	"math"
)

// Plan is the interval that a station can be expected to give, against the mass of the item, with
// the questions that an interval can answer as levels.
type Plan struct {
	Stations  []PlanLine
	Questions []PlanLevel
	MassG     float64 // of the item at hand; 0: none
}

// PlanLine is what one station can do.
type PlanLine struct {
	Name     string
	Expanded func(massG float64) float64 // expected expanded uncertainty of the density, g/cm³
}

// PlanLevel is a question: an interval below it answers it.
type PlanLevel struct {
	Name     string // "585 told from 750"
	Expanded float64
}

// Plan draws the plan, both axes logarithmic: 0.5 to 100 g, widened to the item, and 0.01 to 20
// g/cm³, widened to what is expected of the item and to the questions. Names stand below the
// picture with the dash of their line, so that they never collide.
func (l Language) Plan(p Plan, width int) Picture {
	const top, tall, highest = 8.0, 200.0, 20.0
	lowest := p.lowest()
	c := canvas{width: float64(max(width, narrowest)), in: l.Book}
	least, most := 0.5, 100.0
	if p.MassG > 0 && !math.IsInf(p.MassG, 0) {
		least, most = math.Min(least, p.MassG/1.5), math.Max(most, p.MassG*1.5)
	}
	x0, x1 := 44.0, c.width-12
	if lowest < 0.001 {
		x0 = 54 // room for 0.0001
	}
	x := func(m float64) float64 { return x0 + (x1-x0)*math.Log(m/least)/math.Log(most/least) }
	y := func(u float64) float64 {
		return top + tall*(1-math.Log(math.Min(math.Max(u, lowest), highest)/lowest)/math.Log(highest/lowest))
	}
	for u := lowest; u < highest; u *= 10 {
		c.line("grid", x0, y(u), x1, y(u))
		c.text("m", x0-6, y(u)+4.7, end, fmt.Sprintf("%g", u))
	}
	reach := math.Inf(-1)
	for decade := math.Floor(math.Log10(least)); decade <= math.Ceil(math.Log10(most)); decade++ {
		for _, n := range []float64{1, 2, 5} {
			m := n * math.Pow(10, decade)
			if m < least*0.999 || m > most*1.001 {
				continue
			}
			label := fmt.Sprintf("%.3g", m)
			if m >= 1000 {
				label = fmt.Sprintf("%.3gk", m/1000)
			}
			w := widthOf(label, size, false)
			c.line("grid", x(m), top, x(m), top+tall)
			if a := x(m) - w/2; a > reach+8 && a+w <= c.width {
				c.text("m", x(m), top+tall+19, middle, label)
				reach = a + w
			}
		}
	}
	c.text("m", 0, top+tall+38, start, cutTo(c.in.Say("expected ± in g/cm³ against mass in g"), c.width, false))
	key := top + tall + 59
	title := "Expected interval against the mass of the item, "
	for i, s := range p.Stations {
		class := []string{"curve strong", "curve strong dash1", "curve strong dash2"}[i%3]
		const steps = 80
		var t track
		at := byte('M')
		for j := range steps + 1 {
			m := least * math.Pow(most/least, float64(j)/steps)
			u := s.Expanded(m)
			if !(u >= lowest && u <= highest) {
				at = 'M' // leaves the picture, and may come back
				continue
			}
			t.add(at, x(m), y(u))
			at = 'L'
		}
		if len(t.b) > 0 {
			c.path(class, t.String())
		}
		c.line(class, 0, key-4, 34, key-4)
		words := c.in.Say(s.Name)
		if u := s.Expanded(p.MassG); p.MassG > 0 && math.IsNaN(u) {
			words += c.in.Say(": does not see this item")
		} else if p.MassG > 0 {
			words += c.in.Sayf(": ± %.2g for this item", u)
			if u >= lowest && u <= highest {
				c.circle("mark", x(p.MassG), y(u), 5)
			}
		}
		c.text("", 44, key, start, cutTo(words, c.width-44, false))
		key += 19
	}
	for _, q := range p.Questions {
		if q.Expanded >= lowest && q.Expanded <= highest {
			c.line("claim dashed", x0, y(q.Expanded), x1, y(q.Expanded))
		}
		c.line("claim dashed", 0, key-4, 34, key-4)
		c.text("c", 44, key, start, cutTo(c.in.Sayf("below ± %.2g: %s", q.Expanded, q.Name), c.width-44, true))
		key += 19
	}
	if p.MassG > 0 {
		c.line("ink", x(p.MassG), top, x(p.MassG), top+tall)
		title += fmt.Sprintf("%.4g g here, ", p.MassG)
	}
	title += counted(len(p.Stations), "station") + ", " + counted(len(p.Questions), "question") + "."
	return c.finish("plan", title, key-8)
}

// lowest is the lower end of the axis: a hundredth, or the power of ten below what is smallest.
func (p Plan) lowest() float64 {
	least := 0.01
	for _, q := range p.Questions {
		least = smaller(least, q.Expanded)
	}
	if p.MassG > 0 {
		for _, s := range p.Stations {
			least = smaller(least, s.Expanded(p.MassG))
		}
	}
	return math.Pow(10, math.Floor(math.Log10(math.Max(least, 1e-5))+1e-9))
}

func smaller(least, u float64) float64 {
	if u > 0 && u < least {
		return u
	}
	return least
}
