package simulation

import (
	"math"
	"math/rand/v2"
	"strconv"
)

// Law says how the sizes of faults are drawn.
type Law uint8

const (
	Expected   Law = iota // as a table of faults takes for granted
	Unexpected            // otherwise: larger bubbles, warmer liquids, wider hollows
)

// Fault is one thing that goes wrong.
type Fault struct {
	Key   string
	Words string

	// InItem faults change what is weighed: they are drawn before a station is chosen for the
	// item. The item given is an honest one.
	InItem func(r *rand.Rand, law Law, c Claim, honest Item) (Item, float64, error)
	// AtBench faults set hooks of a session that is ready to run; they return the size.
	AtBench func(r *rand.Rand, law Law, s *Session) float64
}

// Faults are all faults that are seeded, in the order of the tables.
var Faults = []Fault{
	{Key: "bubble", Words: "a bubble under the item", AtBench: bubble},
	{Key: "zero", Words: "the zero moved", AtBench: zero},
	{Key: "touching", Words: "the item touches the vessel", AtBench: touching},
	{Key: "wire", Words: "the wire is not wetted as it was at the tare", AtBench: wire},
	{Key: "hanger", Words: "the hanger was not tared, or in air only", AtBench: hanger},
	{Key: "temperature", Words: "a wrong temperature", AtBench: temperature},
	{Key: "liquid", Words: "another liquid, or a dirty one", AtBench: liquid},
	{Key: "ethanol", Words: "ethanol that lost strength or was watered", AtBench: ethanol},
	{Key: "swapped", Words: "the two readings swapped", AtBench: swapped},
	{Key: "displaced", Words: "the displaced mass typed for the immersed reading", AtBench: displaced},
	{Key: "unit", Words: "a reading in another unit", AtBench: unit},
	{Key: "digit", Words: "a slip in one number", AtBench: digit},
	{Key: "drift", Words: "the balance drifts", AtBench: drift},
	{Key: "draught", Words: "draught", AtBench: draught},
	{Key: "wet", Words: "the item was wet at first", AtBench: wet},
	{Key: "wrong-item", Words: "another item on the tray", AtBench: wrongItem},
	{Key: "pores", Words: "open pores that take up liquid", InItem: pores},
	{Key: "hollow", Words: "a sealed hollow", InItem: hollow},
	{Key: "stones", Words: "stones that were not declared", InItem: stones},
	{Key: "core", Words: "a core of another metal", InItem: core},
	{Key: "lower-standard", Words: "the next lower standard sold as the claim", InItem: lower},
	{Key: "look-alike", Words: "another material", InItem: lookAlike},
}

// FaultByKey finds a fault.
func FaultByKey(key string) (Fault, bool) {
	for _, f := range Faults {
		if f.Key == key {
			return f, true
		}
	}
	return Fault{}, false
}

// some chooses which immersions a fault takes hold of: the first always, so that a session of one
// immersion has it too, each later one with a chance.
func some(r *rand.Rand, chance float64) (hit [MostImmersions]bool) {
	hit[0] = true
	for n := 1; n < MostImmersions; n++ {
		hit[n] = r.Float64() < chance
	}
	return hit
}

func bubble(r *rand.Rand, law Law, s *Session) float64 {
	median, stays := 1.2, 0.6
	if law == Unexpected {
		median, stays = 2, 0.4
	}
	mm := 0.0
	for mm < 0.3 || mm > 4 { // larger ones are seen, smaller ones do nothing
		mm = median * math.Exp(0.45*r.NormFloat64())
	}
	hit := some(r, stays)
	s.BeforeImmersion = func(n int) {
		s.Bench.Bubble = 0
		if hit[n] {
			s.Bench.Bubble = math.Pi / 6 * math.Pow(mm/10, 3)
		}
	}
	return mm
}

// zero: it moves by a step at some immersions; or once, and all immersions follow without setting
// the balance to zero again.
func zero(r *rand.Rand, law Law, s *Session) float64 {
	most := 300.0
	if law == Unexpected {
		most = 1000
	}
	hit := some(r, 0.3)
	var steps [MostImmersions]float64
	for n := range steps {
		steps[n] = eitherSign(r, logFlat(r, 3, most))
	}
	if r.IntN(4) == 0 {
		for n := range steps {
			hit[n], steps[n] = true, steps[0]
		}
	}
	s.BeforeImmersion = func(n int) {
		s.Bench.Zero = 0
		if hit[n] {
			s.Bench.Zero = steps[n] * s.Bench.Interval
		}
	}
	return steps[0]
}

func touching(r *rand.Rand, law Law, s *Session) float64 {
	share, again := logFlat(r, 0.005, 0.9), 0.5
	if law == Unexpected {
		share, again = flat(r, 0.005, 0.6), 0.3
	}
	hit := some(r, again)
	s.BeforeImmersion = func(n int) {
		s.Bench.Carried = 0
		if hit[n] {
			s.Bench.Carried = share * flat(r, 0.7, 1) // it never touches twice alike
		}
	}
	return share
}

func wire(r *rand.Rand, law Law, s *Session) float64 {
	missing := flat(r, 0.1, 1)
	if law == Unexpected {
		missing = flat(r, 0.4, 1)
	}
	hit := some(r, 0.5)
	s.BeforeImmersion = func(n int) {
		s.Bench.Unwetted = 0
		if hit[n] {
			s.Bench.Unwetted = missing
		}
	}
	return missing
}

func hanger(r *rand.Rand, law Law, s *Session) float64 {
	if r.IntN(2) == 0 && !s.Bench.Standing {
		s.ForgetTare = true
		return s.Bench.HangerMass
	}
	if s.Bench.Standing {
		s.ForgetTare = true // the hanger's volume in the vessel
	} else {
		s.TareDry = true
	}
	return s.Bench.HangerVolume
}

func temperature(r *rand.Rand, law Law, s *Session) float64 {
	sd := 3.0
	if law == Unexpected {
		sd = 6
	}
	dT := sd * r.NormFloat64()
	s.Bench.LiquidC += dT
	return dT
}

// liquid: water for ethanol or the other way round; now and then water with salt or detergent in
// it.
func liquid(r *rand.Rand, law Law, s *Session) float64 {
	b := s.Bench
	before := b.Liquid()
	switch {
	case r.IntN(4) == 0:
		b.LiquidFactor = 1 + logFlat(r, 0.002, 0.05)
	case b.Ethanol > 0:
		b.Strength = 0
	case law == Unexpected && r.IntN(2) == 0:
		b.Strength = flat(r, 0.3, 0.7)
	default:
		b.Strength = flat(r, 0.90, 0.96)
	}
	return b.Liquid() / before
}

func ethanol(r *rand.Rand, law Law, s *Session) float64 {
	b := s.Bench
	if b.Ethanol == 0 {
		b.Ethanol, b.EthanolU = flat(r, 0.90, 0.96), 0.001
		b.Strength = b.Ethanol + b.EthanolU*r.NormFloat64()
	}
	loss := logFlat(r, 0.0025, 0.08)
	if law == Unexpected {
		loss = flat(r, 0.01, 0.25)
	}
	b.Strength -= loss
	if b.Standing && r.IntN(2) == 0 {
		b.Evaporation = logFlat(r, 1e-6, 3e-5) // some 0.1 to 2 mg a minute
	}
	return loss
}

func swapped(_ *rand.Rand, _ Law, s *Session) float64 {
	s.Write = append(s.Write, func(w *Written) {
		air := w.Air
		w.Air = w.Immersed[0]
		for n := range w.Immersed {
			w.Immersed[n] = air
		}
	})
	return 0
}

func displaced(_ *rand.Rand, _ Law, s *Session) float64 {
	s.Write = append(s.Write, func(w *Written) {
		for n := range w.Immersed {
			w.Immersed[n] = s.format(number(w.Air) - number(w.Immersed[n]))
		}
	})
	return 0
}

// units are grams of a unit that a balance may be left in.
var units = []float64{0.2, 1.55517384, 31.1034768, 0.06479891, 11.6638038, 3.75, 1000}

// unit: the balance was switched between the weighing in air and those in the liquid.
func unit(r *rand.Rand, law Law, s *Session) float64 {
	u := units[r.IntN(len(units))]
	air := r.IntN(2) == 0
	both := law == Unexpected && r.IntN(4) == 0
	s.Write = append(s.Write, func(w *Written) {
		in := func(text string) string {
			more := max(0, int(math.Ceil(math.Log10(u)))) // a balance shows a large unit with more digits
			return strconv.FormatFloat(number(text)/u, 'f', w.Decimals+more, 64)
		}
		if air || both {
			w.Air = in(w.Air)
		}
		for n := range w.Immersed {
			if !air || both {
				w.Immersed[n] = in(w.Immersed[n])
			}
		}
	})
	return u
}

func digit(r *rand.Rand, law Law, s *Session) float64 {
	air := r.IntN(2) == 0
	s.Write = append(s.Write, func(w *Written) {
		if air {
			w.Air = Slip(r, w.Air)
		} else {
			w.Immersed[0] = Slip(r, w.Immersed[0])
		}
	})
	return 0
}

func drift(r *rand.Rand, law Law, s *Session) float64 {
	perMinute := eitherSign(r, s.Bench.Repeatability*logFlat(r, 3, 60))
	if law == Unexpected {
		perMinute = eitherSign(r, s.Bench.Repeatability*flat(r, 2, 100))
	}
	s.Bench.Drift = perMinute / 60
	return perMinute
}

func draught(r *rand.Rand, law Law, s *Session) float64 {
	times := logFlat(r, 5, 50)
	if law == Unexpected {
		times = flat(r, 4, 40)
	}
	s.Bench.Draught = times * s.Bench.RepeatabilityLiquid
	return times
}

func wet(r *rand.Rand, law Law, s *Session) float64 {
	g := logFlat(r, 0.003, 0.060)
	if law == Unexpected {
		g = flat(r, 0.003, 0.080)
	}
	s.BeforeAir = func() { s.Bench.Film = g }
	return 1000 * g
}

// wrongItem: the tray holds another item than was taken in. Half of the time it is exchanged on
// the way into the liquid (Unexpected).
func wrongItem(r *rand.Rand, law Law, s *Session) float64 {
	claims := Claims()
	other := claims[r.IntN(len(claims))]
	times := math.Exp(eitherSign(r, flat(r, 0.03, 0.4)))
	b := s.Bench
	item, err := other.Honest(r, min(b.Item.Mass*times, 0.95*b.Capacity), Middle)
	if err != nil {
		panic(err) // honest items of the claims can always be cast
	}
	if law == Unexpected && r.IntN(2) == 0 {
		s.Exchanged = &item
		return times
	}
	b.Item = item
	return times
}

func pores(r *rand.Rand, law Law, c Claim, honest Item) (Item, float64, error) {
	share := logFlat(r, 0.001, 0.06)
	if law == Unexpected {
		share = flat(r, 0.002, 0.08)
	}
	return honest.Porous(share, logFlat(r, 20, 600)), share, nil
}

func hollow(r *rand.Rand, law Law, c Claim, honest Item) (Item, float64, error) {
	share := logFlat(r, 0.004, 0.50)
	if law == Unexpected {
		share = flat(r, 0.02, 0.60)
	}
	return honest.Hollowed(share), share, nil
}

// stoneDensities are those of diamond, cubic zirconia, quartz and corundum, in g/cm³.
var stoneDensities = []float64{3.52, 5.8, 2.65, 4.0}

func stones(r *rand.Rand, law Law, c Claim, honest Item) (Item, float64, error) {
	share := logFlat(r, 0.003, 0.35)
	if law == Unexpected {
		share = flat(r, 0.005, 0.30)
	}
	return honest.SetWith(share, stoneDensities[r.IntN(len(stoneDensities))]), share, nil
}

func core(r *rand.Rand, law Law, c Claim, honest Item) (Item, float64, error) {
	densities := []float64{19.25, 11.34, 10.22, 8.93, 8.5, 7.87} // tungsten, lead, molybdenum, copper, brass, steel
	share := flat(r, 0.1, 0.9)
	if law == Unexpected {
		share = flat(r, 0.3, 0.97)
	}
	return honest.Cored(share, densities[r.IntN(len(densities))]), share, nil
}

func lower(r *rand.Rand, law Law, c Claim, honest Item) (Item, float64, error) {
	item, err := c.Lower(r, honest.Mass, Middle)
	return item, 1000 * c.NextLower(), err
}

func lookAlike(r *rand.Rand, law Law, c Claim, honest Item) (Item, float64, error) {
	materials := []struct {
		name      string
		low, high float64
	}{
		{"brass", 8.40, 8.73}, {"copper", 8.90, 8.96}, {"tin bronze", 8.70, 8.90}, {"nickel silver", 8.5, 8.8}, {"lead", 11.30, 11.35},
		{"molybdenum", 10.15, 10.25}, {"steel", 7.8, 8.0}, {"tungsten", 19.2, 19.3}, {"tungsten heavy alloy", 16.9, 18.8}, {"bismuth", 9.75, 9.81},
	}
	m := materials[r.IntN(len(materials))]
	density := flat(r, m.low, m.high)
	return Plain(m.name, honest.Mass, density), density, nil
}
