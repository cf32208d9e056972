package fault

import (
	"math"
)

// liquidFactor is the evidence of a liquid of another density.
func (e *Engine) liquidFactor(k Kind) float64 {
	total, best := 0.0, 0.0
	try := func(ratio, width, weight, rho float64) {
		mean, left, ln := e.liquidGiven(ratio, width*width)
		own := e.s2 / float64(len(e.displaced))
		sum := 0.0
		for _, l := range e.base {
			b := l.b / (1 + e.eta) * (1 + ratio + mean)
			variance := l.variance + b*b*(left-e.eta2) + own
			if d := e.mean - b; d*d < cut*variance {
				sum += l.weight * normalAt(d*d, variance)
			}
		}
		sum *= weight * math.Exp(ln)
		total += sum
		if rho > 0 && sum > best {
			best, e.Verdict.Liquid = sum, rho
		}
	}
	switch k {
	case Temperature:
		for _, c := range laws()[Temperature] {
			width := c.width * math.Sqrt(cell)
			try(e.w.PerKelvin*c.x, math.Abs(e.w.PerKelvin)*width, c.weight*e.w.Thermometer.at(c.x, width), 0)
		}
	case Ethanol:
		// Water taken up makes it denser; that the alcohol is stronger than said is rarer.
		for _, c := range laws()[Ethanol] {
			width := c.width * math.Sqrt(cell)
			try(c.x, width, 0.8*c.weight*e.w.Strength.at(c.x, width), 0)
			try(-c.x, width, 0.2*c.weight*e.w.Strength.at(-c.x, width), 0)
		}
	case Liquid:
		// Mostly another bottle, known to half a per cent; else a mixture of ethanol and water of
		// any strength, or dirt, that makes it denser more often than not. Chosen here.
		const bottle, mixture, spread = 0.5, 0.2, 0.005
		stated := e.w.LiquidRho - e.w.AirRho
		n := float64(len(e.w.OtherLiquids))
		for _, rho := range e.w.OtherLiquids {
			ratio := (rho-e.w.AirRho)/stated - 1
			const other = 0.05 // what an instrument for the strength says of another liquid is anybody's guess
			try(ratio, spread, bottle/n*e.w.Strength.at(ratio, other), rho)
		}
		const light, dense, cells = 0.785, 1.0, 16
		for i := range cells {
			width := (dense - light) / cells
			rho := light + width*(float64(i)+0.5)
			ratio := (rho-e.w.AirRho)/stated - 1
			// Ethanol that has changed is a fault of its own.
			if math.Abs(ratio) > 0.01 && !(e.w.Ethanol && ratio < Ethanol.Fault().Second) {
				broad := width / stated * math.Sqrt(cell)
				try(ratio, broad, mixture/cells*e.w.Strength.at(ratio, broad), 0)
			}
		}
		for _, c := range dirt() {
			// It changes nothing of the ethanol's strength.
			width, strength := c.width*math.Sqrt(cell), e.w.Strength.at(0, 0)
			try(c.x, width, 0.2*c.weight*strength, 0)
			try(-c.x, width, 0.1*c.weight*strength, 0)
		}
	}
	return math.Log(total)
}

// hanger is the evidence of a constant in all immersions: the hanger not tared at all makes the
// immersed reading heavier by its weight in the liquid, one tared in air only makes it lighter by
// its buoyancy. It moves the check piece by the same grams.
func (e *Engine) hanger() float64 {
	total := 0.0
	const steel = 8.0
	buoyancy := (e.w.LiquidRho - e.w.AirRho) / steel
	one := func(mass, width, weight float64) {
		for _, part := range [2]float64{-(1 - buoyancy), buoyancy} {
			if e.w.Standing && part < 0 {
				continue // the vessel carries what the hanger displaces, and nothing else of it
			}
			add, t := part*mass, 0.0
			if c := e.w.Check; c != nil {
				t = add / (c.LostG - add) // it lost the rest, and the constant came on top
			}
			total += weight / 2 * e.constant(add, t, math.Abs(part)*width*math.Sqrt(cell))
		}
	}
	if m := e.w.HangerG; m > 0 {
		one(m, 0.1*m, 1)
	} else {
		for _, c := range laws()[Hanger] {
			one(c.x, c.width, c.weight)
		}
	}
	return math.Log(total)
}

// constantGiven is liquidGiven for an error of the check piece's own reading: it adds to what the
// check piece shows and not to the liquid.
func (e *Engine) constantGiven(t, spread float64) (mean, left, ln float64) {
	u2 := e.w.LiquidU * e.w.LiquidU
	c := e.w.Check
	if c == nil {
		return 0, u2, 0
	}
	all := u2 + c.U*c.U + spread*spread
	d := c.Ratio - t
	return d * u2 / all, u2 * (c.U*c.U + spread*spread) / all, lnNormal(d, all)
}

// hollow is the evidence of a sealed space: the outline is larger than the metal.
func (e *Engine) hollow() float64 {
	total := 0.0
	own := e.s2 / float64(len(e.displaced))
	for _, l := range e.base {
		for _, c := range laws()[Hollow] {
			grown := 1 / (1 - c.x)
			b := l.b * grown
			width := l.b * grown * grown * c.width
			variance := l.variance*grown*grown + width*width*cell + own
			if d := e.mean - b; d*d < cut*variance {
				total += l.weight * c.weight * normalAt(d*d, variance)
			}
		}
	}
	return math.Log(total)
}

// inlaid is the evidence of a share of the mass that is of another specific volume.
func (e *Engine) inlaid(k Kind, specific []float64) float64 {
	total := 0.0
	own := e.s2 / float64(len(e.displaced))
	for _, v := range specific {
		other := e.w.displaced(e.air, v) * (1 + e.eta)
		for _, l := range e.fewer {
			for _, c := range laws()[k] {
				b := l.b + c.x*(other-l.b)
				width := c.width * (other - l.b)
				variance := l.variance + width*width*cell + own
				if d := e.mean - b; d*d < cut*variance {
					total += l.weight * c.weight * normalAt(d*d, variance)
				}
			}
		}
	}
	return math.Log(total / float64(len(specific)))
}

// pores is the evidence of open pores. They hold air at the first immersion and fill from one to
// the next, so that the displaced mass falls by up to the pores' own; what they took up is
// weighed in air at the end. How full they are at each weighing is anybody's guess: any filling
// is as likely as any other.
func (e *Engine) pores() float64 {
	total := 0.0
	// Pores only fill: of all orders of the later immersions one is right.
	ordered := 1.0
	for i := 2; i < len(e.displaced); i++ {
		ordered *= float64(i)
		if e.displaced[i] > e.displaced[i-1]+3*math.Sqrt(2*e.s2) {
			ordered = 0
		}
	}
	first := e.displaced[0]
	for _, c := range laws()[Pores] {
		share := c.x / (1 - c.x)
		volume := e.mean * share
		sum := 0.0
		for _, l := range e.fewer {
			sum += l.weight * between(first-l.b, l.b*share, math.Sqrt(l.variance+e.s2))
		}
		for _, b := range e.displaced[1:] {
			sum *= between(first-b, volume, math.Sqrt(2*e.s2))
		}
		if order := ordered; order == 0 || volume > 4*math.Sqrt(e.s2) {
			sum *= order // below that scatter, not filling, sets the order
		}
		if e.closing2 > 0 {
			sum *= between(e.closing, volume, math.Sqrt(e.closing2))
		}
		total += c.weight * sum
	}
	return math.Log(total)
}

// between is the density at x of a value anywhere from 0 to width, seen with standard deviation s.
func between(x, width, s float64) float64 {
	const far = 7 // standard deviations: what lies beyond is less than 3e-12
	if x < -far*s || x > width+far*s {
		return 0
	}
	above, beyond := 2., 0.
	if x < far*s {
		above = math.Erfc(-x / s / math.Sqrt2)
	}
	if x > width-far*s {
		beyond = math.Erfc(-(x - width) / s / math.Sqrt2)
	}
	return (above - beyond) / (2 * width)
}

// wet is the evidence of liquid on the item at a weighing in air: at the first, gone at the last, or at
// the last, as it came out of the liquid. Where the item was weighed dry as well, at the other end or at
// the intake, the difference is the liquid: its size is then known far better than a cell of the law is wide.
func (e *Engine) wet() float64 {
	const (
		dried = 0.9    // chance that an item that was wet at first is dry at the end; chosen here
		first = 2. / 3 // share of the wet items that were wet at the first weighing; chosen here
	)
	films := e.films()
	size, variance, ln := 0.0, 0.0, 0.0
	pin := func(w, s2 float64) { // one more weighing of the dry item
		if variance == 0 {
			size, variance = w, s2
			ln = math.Log(kernel(films, w, math.Sqrt(s2)))
			return
		}
		ln += lnNormal(w-size, variance+s2)
		size, variance = (size*s2+w*variance)/(variance+s2), variance*s2/(variance+s2)
	}
	s := e.intakeS(e.air)
	intake := func() {
		if e.w.IntakeG > 0 {
			pin(e.air-e.w.IntakeG, s*s)
		}
	}
	if e.closing2 == 0 {
		intake()
		return math.Log(first) + e.filmed(films, size, variance) + ln
	}
	atEnd := e.lnSum(e.base) + e.lnOther + math.Log(kernel(films, e.closing, math.Sqrt(e.closing2)))
	// Dry at the end, or still wet.
	pin(-e.closing, e.closing2)
	intake()
	dry := math.Log(dried) + e.filmed(films, size, variance) + ln
	size, variance, ln = 0, 0, 0
	intake()
	still := math.Log(1-dried) + e.filmed(films, size, variance) + ln + e.noClosing()
	return lnAdd(math.Log(first)+lnAdd(dry, still), math.Log(1-first)+atEnd)
}

// filmed is the evidence of the immersions when a film was on the item in air: of a size with a
// variance, or of any size of the law where the variance is 0.
func (e *Engine) filmed(films []size, known, spread float64) float64 {
	if spread > 0 {
		films = append(e.pinned[:0], size{known, math.Sqrt(spread / cell), 1})
		e.pinned = films
	}
	total := 0.0
	own := e.s2 / float64(len(e.displaced))
	for _, c := range films {
		for _, l := range e.base {
			b := l.b * (1 - c.x/e.air)
			if !e.w.Standing {
				b += c.x
			}
			variance := l.variance + own + c.width*c.width*cell
			if d := e.mean - b; d*d < cut*variance {
				total += l.weight * c.weight * normalAt(d*d, variance)
			}
		}
	}
	return math.Log(total)
}

// films are the cells of liquid left on an item: those of the table for an item of 10 g, up to more on a
// larger surface. A single drop stays on a large item as on a small one, so the least does not grow.
func (e *Engine) films() []size {
	const cells = 20
	f := Wet.Fault()
	grown := e.grown()
	e.sizes = appendLogFlat(e.sizes[:0], f.First, f.Second*grown, cells, 1-2*tail)
	e.sizes = appendLogFlat(e.sizes, f.Second*grown, f.High*grown, cells/2, tail)
	e.sizes = appendLogFlat(e.sizes, f.Low, f.First, cells/2, tail)
	return e.sizes
}

// grown is the surface of the item against that of one of 10 g, 1 at least.
func (e *Engine) grown() float64 { return math.Max(1, math.Cbrt(e.air*e.air/100)) }

// drift is the evidence of a steady change from reading to reading. In air it shows, or not:
// the balance may have been set to zero in between.
func (e *Engine) drift() float64 {
	const again = 0.8 // chance that the closing weighing began at zero again; chosen here
	n := len(e.displaced)
	total := 0.0
	for _, c := range laws()[Drift] {
		for _, sense := range [2]float64{-1, 1} {
			step, width := sense*c.x*e.w.AirS, c.width*e.w.AirS
			ss, mean := 0.0, 0.0
			for i, b := range e.displaced {
				mean += (b - step*e.at[i]) / float64(n)
			}
			for i, b := range e.displaced {
				d := b - step*e.at[i] - mean
				ss += d * d
			}
			// The width of the cell of steps shows as scatter about the mean.
			ln := e.scatter(ss, e.s2+width*width*cell*float64((n-1)*(n+1))/12)
			ln += e.driftingCheck(step) + e.driftingZeros(step)
			if e.closing2 > 0 {
				far := step * float64(n+1)
				ln += lnAdd(math.Log(again)+e.noClosing(), math.Log(1-again)+lnNormal(e.closing, e.closing2+far*far))
			}
			if e.w.IntakeG > 0 {
				s := e.intakeS(e.air)
				ln += lnAdd(e.lnOther, lnNormal(e.w.IntakeG-e.air, s*s+step*step)) - math.Ln2
			}
			sum := 0.0
			for _, l := range e.base {
				variance := l.variance + e.s2/float64(n) + step*step
				if d := mean - l.b; d*d < cut*variance {
					sum += l.weight * normalAt(d*d, variance)
				}
			}
			total += c.weight / 2 * sum * math.Exp(math.Max(ln, -700))
		}
	}
	return math.Log(total)
}

// driftingCheck is what the check piece says when the balance drifts by a step from reading to
// reading. Hanging, both of its readings move alike; standing, its gain moves, or not, as the
// balance was set to zero just before.
func (e *Engine) driftingCheck(step float64) float64 {
	c := e.w.Check
	if c == nil || !e.w.Standing {
		return e.lnCheck
	}
	moved := step / c.LostG
	_, _, ln := e.constantGiven(0, moved)
	return lnAdd(e.lnCheck, ln) - math.Ln2
}

// draught is the evidence of readings that scatter more than the balance does.
func (e *Engine) draught() float64 {
	total := 0.0
	n := float64(len(e.displaced))
	ssAir := squares(e.w.Air, e.air)
	for _, c := range laws()[Draught] {
		f2 := c.x * c.x
		ln := e.scatter(e.ss, e.s2*f2) + e.soundZeros(f2) + lnScatter(ssAir, e.w.AirS*e.w.AirS*f2, len(e.w.Air))
		if e.closing2 > 0 {
			ln += lnNormal(e.closing, e.closing2*f2)
		}
		if e.w.IntakeG > 0 {
			s := e.intakeS(e.air)
			ln += lnNormal(e.w.IntakeG-e.air, s*s+f2*e.w.AirS*e.w.AirS)
		}
		if k := e.w.Check; k != nil {
			own := (f2 - 1) * (e.s2 + e.w.AirS*e.w.AirS) / (k.LostG * k.LostG)
			ln += lnNormal(k.Ratio, e.w.LiquidU*e.w.LiquidU+k.U*k.U+own)
		}
		sum := 0.0
		for _, l := range e.base {
			variance := l.variance + f2*(e.s2/n+e.air1)
			if d := e.mean - l.b; d*d < cut*variance {
				sum += l.weight * normalAt(d*d, variance)
			}
		}
		total += c.weight * sum * math.Exp(math.Max(ln, -700))
	}
	return math.Log(total)
}

// wrongItem is the evidence of an item that is not the one taken in, or was exchanged between two
// weighings: its mass differs, and it may be of anything, also of the lower standards and the look-alikes
// whose evidence of the immersions is given.
func (e *Engine) wrongItem(common, lnLower, lnAlike float64) float64 {
	other := math.Log(e.sum(e.base)/2 + math.Exp(lnLower)/8 + math.Exp(lnAlike)/8 + e.flat(e.mean)/4)
	ln := other + common - e.lnOther
	if e.w.IntakeG > 0 {
		s := e.intakeS(e.air)
		total := 0.0
		for _, c := range laws()[WrongItem] {
			for _, sense := range [2]float64{-1, 1} {
				total += c.weight / 2 * math.Exp(math.Max(lnNormal(e.w.IntakeG-e.air*(1+sense*c.x), s*s+e.air*e.air*c.width*c.width*cell), -700))
			}
		}
		ln += math.Log(total)
	}
	if e.closing2 == 0 {
		return ln
	}
	// Exchanged before the closing weighing: only that one differs. Or before the immersions: then
	// they and the closing weighing are of the other item.
	total := 0.0
	for _, c := range laws()[WrongItem] {
		for _, sense := range [2]float64{-1, 1} {
			total += c.weight / 2 * math.Exp(math.Max(lnNormal(e.closing-sense*e.air*c.x, e.closing2+e.air*e.air*c.width*c.width*cell), -700))
		}
	}
	closed := math.Log(total) + common - e.noClosing()
	return lnAdd(ln+math.Log(0.5), closed+lnAdd(math.Log(0.25)+e.lnSum(e.base), math.Log(0.25)+e.ofClosing()))
}

// ofClosing is the evidence of immersions of the item of the closing weighing, which may be of
// anything, the claimed metal before all.
func (e *Engine) ofClosing() float64 {
	air, mean := e.air, e.mean
	defer func() { e.air, e.mean = air, mean }()
	e.air += e.closing
	if !e.w.Standing {
		e.mean += e.closing
	}
	if e.air <= 0 {
		return math.Inf(-1)
	}
	return math.Log(e.sum(e.placed(e.mixed))/2 + math.Exp(e.materials(e.others))/4 + e.flat(e.mean)/4)
}

func (e *Engine) placed(nodes []Node) []level {
	e.levels = e.place(e.levels[:0], nodes, 0, 0)
	return e.levels
}

// flat is the density of a displaced mass of which nothing is known: most likely anything up to
// half of the mass, rarely anything else.
func (e *Engine) flat(b float64) float64 {
	const likely, rest = 0.95, 0.05
	half := 0.5 * e.air * (e.w.LiquidRho - e.w.AirRho)
	if b > 0 && b < half {
		return likely / half
	}
	return rest / (2 * e.air)
}

// somethingElse keeps the rest honest: half of it moves all immersions alike, half each of them,
// and now and then the other weighings too.
func (e *Engine) somethingElse() float64 {
	const apart = 0.1 // chance that the immersions have nothing in common; chosen here
	ln := math.Log(1-apart) + e.scatter(e.ss, e.s2) + math.Log(e.flat(e.mean))
	own := math.Log(apart)
	for _, b := range e.displaced {
		own += math.Log(e.flat(b))
	}
	ln = lnAdd(ln, own)
	if e.closing2 > 0 {
		ln += lnAdd(math.Log(0.8)+e.noClosing(), math.Log(0.2)+math.Log(1/e.air))
	}
	const wide = 0.05 // of the liquid's density
	if e.w.Check != nil {
		ln += lnAdd(math.Log(0.9)+e.lnCheck, math.Log(0.1)+lnNormal(e.w.Check.Ratio, wide*wide))
	}
	air := lnAdd(math.Log(0.8)+e.lnAir, math.Log(0.2)+lnScatter(squares(e.w.Air, e.air), 400*e.w.AirS*e.w.AirS, len(e.w.Air)))
	other := e.lnOther
	if e.w.IntakeG > 0 {
		other = lnAdd(math.Log(0.9)+other, math.Log(0.1)+math.Log(1/e.air))
	}
	return ln + air + other
}
