package plan

import "math"

// tidy keeps the digits that mean something, so that one question prints one plan on every machine.
func (p *Plan) tidy() {
	for _, x := range []*float64{&p.Density, &p.U, &p.Expanded, &p.Floor} {
		*x = digits(*x)
	}
	for i := range p.ByRepeats {
		p.ByRepeats[i].Expanded = digits(p.ByRepeats[i].Expanded)
	}
	for i := range p.Questions {
		q := &p.Questions[i]
		q.Needs, q.Error, q.RepeatFloor, q.Floor = digits(q.Needs), chance(q.Error), chance(q.RepeatFloor), chance(q.Floor)
		if q.SmallestG != nil {
			g := digits(*q.SmallestG)
			q.SmallestG = &g
		}
	}
	for i := range p.Findings {
		c := &p.Findings[i]
		c.Met, c.NotMet = chance(c.Met), chance(c.NotMet)
		c.Undecided = chance(1 - c.Met - c.NotMet)
	}
	for i := range p.Improve {
		x := &p.Improve[i]
		x.Share, x.Alone, x.Halved, x.Gone = digits(x.Share), digits(x.Alone), digits(x.Halved), digits(x.Gone)
	}
	for i := range p.Finer {
		p.Finer[i].Expanded = digits(p.Finer[i].Expanded)
	}
}

// digits keeps five significant digits.
func digits(x float64) float64 {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return x
	}
	scale := math.Pow(10, 4-math.Floor(math.Log10(math.Abs(x))))
	return math.Round(x*scale) / scale
}

// chance keeps a probability to a ten-thousandth, more than the quadrature is good for at most.
func chance(p float64) float64 { return math.Round(1e4*p) / 1e4 }
