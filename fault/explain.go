package fault

import "math"

// Sized is true for a fault of one size that a density tells.
func (k Kind) Sized() bool {
	switch k {
	case Bubble, Zero, Touching, Wire, Hanger, Temperature, Liquid, Ethanol, Hollow, Stones, Pores, Wet:
		return true
	}
	return false
}

// Needed is the size of a fault that would make the item, as weighed, one of specific volume v
// (cm³/g at 20 °C); in the unit of the table. False where no size does, or the fault has none.
func (e *Engine) Needed(k Kind, v float64) (size float64, ok bool) {
	w := e.w
	b := w.displaced(e.air, v) * (1 + e.eta)
	gap := e.mean - b
	switch k {
	case Bubble, Zero, Touching, Wire:
		// What hits one immersion is as large as the one that is furthest off.
		for _, d := range e.displaced {
			d -= b
			further := d > gap // these only take weight away
			if k == Zero || k == Wire {
				further = math.Abs(d) > math.Abs(gap)
			}
			if further {
				gap = d
			}
		}
	}
	switch k {
	case Bubble:
		return bubbleDiameter(gap, w.LiquidRho-w.AirRho), gap > 0
	case Zero:
		return gap / w.Interval, true
	case Touching:
		return gap / (e.air - b), gap > 0 && e.air > b
	case Wire:
		return 1000 * gap, w.SurfaceBoundG > 0
	case Hanger:
		buoyancy := (w.LiquidRho - w.AirRho) / 8.0
		if gap < 0 {
			return -gap / (1 - buoyancy), true
		}
		return gap / buoyancy, true
	case Temperature:
		return (e.mean/b - 1) / w.PerKelvin, w.PerKelvin != 0
	case Liquid:
		return w.AirRho + (w.LiquidRho-w.AirRho)*(1+e.eta)*e.mean/b, true
	case Ethanol:
		return e.mean/b - 1, w.Ethanol
	case Hollow, Pores:
		return 1 - b/e.mean, gap > 0
	case Stones:
		return Share(w.specific(e.air, e.mean), v, 1/diamond)
	case Wet:
		if e.wetAtEnd() {
			return e.closing, true
		}
		if w.Standing {
			return e.air * (1 - e.mean/b), gap < 0
		}
		return gap / (1 - b/e.air), gap > 0
	}
	return 0, false
}

// wetAtEnd is true where the item is heavier in air at the end than it was at first.
func (e *Engine) wetAtEnd() bool {
	return e.closing2 > 0 && e.closing > 3*math.Sqrt(e.closing2)
}

// diamond is the density of the stone that a size is given for, g/cm³.
const diamond = 3.52

// Share is the share of the mass that is of specific volume inlay when the whole has v and the
// rest has rest. False outside 0 to 1.
func Share(v, rest, inlay float64) (share float64, ok bool) {
	x := (v - rest) / (inlay - rest)
	return x, x > 0 && x < 1
}

// Bounds are the smallest and the largest size that can be: what is physically possible, and no
// further than the law of the table goes.
func (e *Engine) Bounds(k Kind) (low, high float64) {
	f := k.Fault()
	low, high = f.Low, f.High
	switch k {
	case Wire:
		return -1000 * e.w.SurfaceBoundG, 1000 * e.w.SurfaceBoundG
	case Zero:
		return -f.High, f.High
	case Hanger:
		if m := e.w.HangerG; m > 0 {
			return 0.7 * m, 1.3 * m // three standard deviations of its law
		}
	case Liquid:
		low, high = e.w.LiquidRho*0.99, e.w.LiquidRho*1.01
		for _, rho := range e.w.OtherLiquids {
			low, high = math.Min(low, rho), math.Max(high, rho)
		}
		return low, high
	case Wet:
		return low, high * e.grown()
	}
	from, to := math.Inf(-1), math.Inf(1)
	switch f.Law {
	case "lognormal":
		const tail = 3.0902 // 0.1 and 99.9 % of a normal law
		from, to = f.First*math.Exp(-tail*f.Second), f.First*math.Exp(tail*f.Second)
	case "normal":
		const tail = 3.0902
		from, to = f.First-tail*f.Second, f.First+tail*f.Second
	}
	return math.Max(low, from), math.Min(high, to)
}

// Excluded says that no size that can be makes the item one whose specific volume lies between
// light and dense.
func (e *Engine) Excluded(k Kind, dense, light float64) bool {
	switch k {
	case Digit, Unit, Swapped, Displaced:
		return !e.Verdict.Reread[k].Found
	case Ethanol:
		if !e.w.Ethanol {
			return true
		}
	case Wire:
		if e.w.SurfaceBoundG <= 0 {
			return true
		}
	default:
		if !k.Sized() {
			return false
		}
	}
	// Three standard deviations of the readings are allowed for.
	near := 3 * math.Sqrt(e.commonVariance(e.mean, 0)+e.s2/float64(len(e.displaced))) / e.mean
	a, okA := e.Needed(k, dense*(1-near))
	b, okB := e.Needed(k, light*(1+near))
	if !okA && !okB {
		return true
	}
	low, high := e.Bounds(k)
	switch {
	case !okA:
		a = low
	case !okB:
		b = low
	}
	if a > b {
		a, b = b, a
	}
	if k == Liquid {
		for _, rho := range append([]float64{e.w.LiquidRho}, e.w.OtherLiquids...) {
			slack := 0.01 * rho
			if rho+slack >= a && rho-slack <= b {
				return false
			}
		}
		return true
	}
	return b < low || a > high
}

// Displaced is the displaced mass in grams of the item as weighed in air if it had the specific
// volume v (cm³/g at 20 °C).
func (e *Engine) Displaced(v float64) float64 { return e.w.displaced(e.air, v) * (1 + e.eta) }
