package simulation

import (
	"math"
	"math/rand/v2"

	"wreath/fluid"
	"wreath/quantity"
)

// Case says what a session is to be.
type Case struct {
	Claim    Claim
	Fault    string // key; empty: clean
	Law      Law
	Standing bool
	False    bool    // the item is of the next lower standard whatever else goes wrong
	Settling bool    // what settles is done one by one
	Mass     float64 // of the honest item, g; drawn where it is 0
}

// New sets up a session and runs it.
func New(r *rand.Rand, c Case) (*Session, error) {
	s, err := Prepare(r, c)
	if err != nil {
		return nil, err
	}
	known := s.Check
	s.Check.Volume += s.checkOff // as it is, until the session is over
	s.Run()
	s.Check = known
	return s, nil
}

// Prepare sets up a session whose weighings are still to be done.
func Prepare(r *rand.Rand, c Case) (*Session, error) {
	grams := c.Mass
	if grams == 0 {
		grams = mass(r)
	}
	honest, err := c.Claim.Honest(r, grams, Middle)
	if c.False && err == nil {
		honest, err = c.Claim.Lower(r, honest.Mass, Middle)
	}
	if err != nil {
		return nil, err
	}
	item, size := honest, 0.0
	fault, _ := FaultByKey(c.Fault)
	if fault.InItem != nil {
		if item, size, err = fault.InItem(r, c.Law, c.Claim, honest); err != nil {
			return nil, err
		}
	}
	station, check := NewStation(r, item.Mass, item.Solid+item.Void+item.Pores, c.Standing)
	s := &Session{Bench: NewBench(r, station, item), Claim: c.Claim, Check: check, Truth: Truth{Fault: c.Fault, Words: fault.Words}, Settling: c.Settling}
	s.checkOff = s.Check.VolumeU * r.NormFloat64()
	s.SeesStones, s.SeesHollow = item.Stones, item.Void > 0
	s.SeesCore, s.SeesSlip, s.SeesOther = looked(r, c.Fault == "core"), looked(r, slipped[c.Fault]), looked(r, c.Fault == "wrong-item")
	s.SeesBase = looked(r, c.Fault == "look-alike") // none of them is plated
	d := station.Interval
	s.IntakeMass = math.Round((item.Mass*(1-0.0012*(1/item.Density()-1/8.))+station.Repeatability*r.NormFloat64())/d) * d
	if fault.AtBench != nil {
		size = fault.AtBench(r, c.Law, s)
	}
	s.Truth.Size = size
	return s, nil
}

// slipped are the faults that reading display and sheet again shows.
var slipped = map[string]bool{"digit": true, "unit": true, "swapped": true, "displaced": true}

// looked is what a look sees: what is there nearly always, what is not there hardly ever.
func looked(r *rand.Rand, there bool) bool {
	const misses, mistakes = 0.03, 0.001
	if there {
		return r.Float64() >= misses
	}
	return r.Float64() < mistakes
}

// Signs are what the numbers of a session show by themselves, each by more than three standard
// uncertainties.
type Signs struct {
	Density bool // the first immersion puts the item outside the claim's usual recipes
	Scatter bool // the first and the last immersion differ
	Closing bool // the closing weighing in air differs from the first
	Check   bool // the check piece finds another liquid
	Intake  bool // the mass is not that of the intake
	Zero    bool // the empty hanger does not read zero
}

// Any is true when something shows.
func (s Signs) Any() bool {
	return s.Density || s.Scatter || s.Closing || s.Check || s.Intake || s.Zero
}

// figures are what follows from the first pair of readings by plain arithmetic: the specific volume
// in cm³/g and its relative standard uncertainty from the true scatter, rounding, and the liquid
// as stated.
func (s *Session) figures() (v, relative float64) {
	b, w := s.Bench, s.written
	rho, uRho := statedLiquid(b.Station)
	lost, air := s.lost(w.Air, w.Immersed[0]), number(w.Air)
	volume := lost / (rho - b.AirKgM3/1000)
	v = volume / (air + b.AirKgM3/1000*volume)
	// Half a part in ten thousand of the volume for the rise of the liquid along the wire.
	return v, math.Hypot(math.Hypot(uRho/rho, 5e-5), s.uLost()/math.Abs(lost))
}

// Apart is how far the item as it is lies outside the claim's usual recipes, in standard
// uncertainties of a sound weighing of it.
func (s *Session) Apart() float64 {
	b := s.Bench
	rho, uRho := statedLiquid(b.Station)
	volume := b.Item.Solid + b.Item.Void + b.Item.Pores
	v := volume / b.Item.Mass
	u := v * math.Hypot(math.Hypot(uRho/rho, 5e-5), s.uLost()/(volume*(rho-b.AirKgM3/1000)))
	low, high, _ := s.Claim.Family.Band(s.Claim.Fineness, false)
	return max(v-high, low-v) / u
}

// lost is the weight that liquid takes off, from an air and an immersed reading.
func (s *Session) lost(air, immersed string) float64 {
	if s.Bench.Standing {
		return number(immersed)
	}
	return number(air) - number(immersed)
}

// scatter of one reading in air and of one immersed, rounding and tare included, in grams.
func (s *Session) scatter() (air, immersed float64) {
	b := s.Bench
	rounding := b.Interval * math.Sqrt(1./12+1./48)
	return math.Hypot(b.Repeatability, rounding), math.Hypot(b.RepeatabilityLiquid, rounding)
}

// uLost is the standard uncertainty of the lost weight, in grams.
func (s *Session) uLost() float64 {
	air, immersed := s.scatter()
	linearity := s.Bench.Linearity / math.Sqrt(3)
	if s.Bench.Standing {
		return math.Hypot(immersed, linearity)
	}
	return math.Sqrt(air*air + immersed*immersed + 2*linearity*linearity)
}

// See looks at what a plan wrote down. It knows the true repeatability and takes the liquid as
// stated.
func (s *Session) See(p Plan) Signs {
	const shown = 3
	var signs Signs
	b, w := s.Bench, s.written
	sAir, sLiquid := s.scatter()

	f := s.Claim.Family
	v, relative := s.figures()
	low, high, _ := f.Band(s.Claim.Fineness, false)
	if l, h, ok := f.Band(min(s.Claim.Fineness+0.005, 1), false); ok {
		low, high = min(low, l), max(high, h)
	}
	u := math.Hypot(relative, f.ModelU) * v
	signs.Density = !(v > low-shown*u && v < high+shown*u)

	if n := p.Immersions; n > 1 {
		signs.Scatter = math.Abs(number(w.Immersed[n-1])-number(w.Immersed[0])) > shown*math.Sqrt2*sLiquid
	}
	signs.Zero = p.EmptyZero && math.Abs(number(w.ClosingZero)) > shown*math.Hypot(sLiquid, sAir) || p.Settlers && math.Abs(number(w.Zero)) > shown*math.Hypot(sLiquid, sAir)
	signs.Closing = p.ClosingAir && math.Abs(number(w.Closing)-number(w.Air)) > shown*math.Sqrt2*sAir
	if p.CheckPiece {
		rho, uRho := statedLiquid(b.Station)
		expected := s.Check.Volume * (1 + 48e-6*(b.TemperatureC-20)) * (rho - b.AirKgM3/1000) / (1 - 1.2/8000)
		u := math.Hypot(s.uLost(), expected*math.Hypot(uRho/rho, s.Check.VolumeU/s.Check.Volume))
		signs.Check = math.Abs(s.lost(w.CheckAir, w.CheckWet)-expected) > shown*u
	}
	signs.Intake = p.Intake && math.Abs(number(w.Air)-s.IntakeMass) > shown*math.Sqrt2*sAir
	return signs
}

// StatedLiquid is the density in g/cm³ that the temperature and strength stand for that the station
// states, and its standard uncertainty.
func (s Station) StatedLiquid() (rho, u float64) { return statedLiquid(s) }

// statedLiquid is the density that the stated temperature and strength stand for in g/cm³, and
// how far the truth may be from it.
func statedLiquid(s Station) (rho, u float64) {
	density := func(strength, celsius float64) float64 {
		var rho quantity.Density
		var err error
		if s.Ethanol > 0 {
			rho, err = fluid.EthanolWater(strength, quantity.Temperature(celsius))
		} else {
			rho, err = fluid.Water(quantity.Temperature(celsius), 101325, 0.5)
		}
		if err != nil {
			panic(err) // stations are drawn inside the range of the formulas
		}
		return rho.GramPerCm3()
	}
	rho = density(s.Ethanol, s.TemperatureC)
	u = math.Hypot(density(s.Ethanol, s.TemperatureC+s.TemperatureU)-rho, density(s.Ethanol+s.EthanolU, s.TemperatureC)-rho)
	return rho, u
}
