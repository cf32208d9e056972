package handsfree

import "math"

// Solids that are weighed lie between these densities, g/cm³: below opal and coral, above iridium and
// osmium (gem/data and alloy/data hold what lies between).
const (
	lightest = 2.0
	densest  = 22.7
)

// normal is the density of the normal distribution.
func normal(x, s float64) float64 {
	z := x / s
	return math.Exp(-z*z/2) / (s * math.Sqrt(2*math.Pi))
}

// around is how a weighing of something known to u scatters: mostly as the balance does, sometimes more (a
// drop, a worn wire), seldom by what a wet item carries or a bubble lifts, which goes with its surface.
// The shares are chosen here.
func around(x, s, u, mass float64) float64 {
	return 0.9*normal(x, math.Hypot(s, u)) + 0.06*normal(x, math.Hypot(10*s, u)) + 0.03*normal(x, math.Hypot(max(30*s, film(mass)), u)) +
		0.01*normal(x, math.Hypot(max(60*s, 4*film(mass)), u))
}

// film is what a wet solid of middling density carries, g: 30 µm of water on some plumpness. Chosen here.
func film(mass float64) float64 {
	return 0.024 * math.Pow(math.Abs(mass)/12, 2./3)
}

// anything is the density of a load of which nothing is known: every order of size alike, from twenty
// intervals to the capacity.
func anything(x, interval, capacity float64) float64 {
	if x < 20*interval || x > 1.05*capacity {
		return 0
	}
	return 1 / (x * math.Log(capacity/(20*interval)))
}

// solid holds what is expected of an item's density.
type solid struct {
	liquid    float64 // g/cm³
	low, high float64 // of the claim, g/cm³; 0: none
}

// density is how likely a density in g/cm³ is, per unit of it.
func (m solid) density(rho float64) float64 {
	if rho < lightest || rho > densest {
		return 0
	}
	p := 1 / (rho * math.Log(densest/lightest))
	if m.low <= 0 || m.high < m.low {
		return p
	}
	// An item is mostly near what it is said to be. Half of the expectation stays open.
	q := 0.0
	if low, high := 0.97*m.low, 1.03*m.high; rho >= low && rho <= high {
		q = 1 / (high - low)
	}
	return 0.5*p + 0.5*q
}

// lost is the density of the weight lost in the liquid of an item that weighs air grams. s smears it.
func (m solid) lost(x, air, s float64) float64 {
	return smear(x, s, func(x float64) float64 {
		if x <= 0 || air <= 0 {
			return 0
		}
		rho := air * m.liquid / x
		return m.density(rho) * rho / x
	})
}

// airFromHanging and airFromGain are the density of the weight in air of an item that weighs x in it,
// when its immersed reading is known.
func (m solid) airFromHanging(x, liquid, s float64) float64 {
	return smear(x, s, func(x float64) float64 {
		lost := x - liquid
		if lost <= 0 || liquid <= 0 {
			return 0
		}
		rho := x * m.liquid / lost
		return m.density(rho) * m.liquid * liquid / (lost * lost)
	})
}

func (m solid) airFromGain(x, gain, s float64) float64 {
	return smear(x, s, func(x float64) float64 {
		if gain <= 0 {
			return 0
		}
		return m.density(x*m.liquid/gain) * m.liquid / gain
	})
}

// smear takes a density at a value that is uncertain by s: where the display is coarse against the
// weight lost, its edges must not cut.
func smear(x, s float64, p func(float64) float64) float64 {
	return 0.5*p(x) + 0.25*p(x-1.5*s) + 0.25*p(x+1.5*s)
}
