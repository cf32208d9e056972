package simulation

import (
	"math/rand/v2"

	"wreath/alloy"
)

// Claims are the claims of the confusion table.
func Claims() []Claim {
	claim := func(family string, ppt float64) Claim {
		f, ok := alloy.FamilyByKey(family)
		if !ok {
			panic("no family " + family)
		}
		return Claim{f, ppt / 1000}
	}
	return []Claim{
		claim("gold-yellow", 585), claim("gold-yellow", 750), claim("gold-red", 750), claim("gold-yellow", 916),
		claim("silver-copper", 925), claim("gold-fine", 999),
	}
}

// NextLower is the next lower fineness of the international list.
func (c Claim) NextLower() float64 {
	next, ok := alloy.NextLower(alloy.Standards("iso-9202", c.Family.Metal), c.Fineness)
	if !ok {
		return c.Fineness - 0.133
	}
	return next
}

// Honest is an item that is what it is said to be: up to 5 ppt finer, fine metal up to pure.
func (c Claim) Honest(r *rand.Rand, mass float64, law RecipeLaw) (Item, error) {
	high := c.Fineness + 0.005
	if c.Family.Low > 0.97 {
		high = 1
	}
	return Alloy(r, c.Family, flat(r, c.Fineness, min(high, 1)), mass, law)
}

// Lower is an item of the next lower standard that is sold as the claim.
func (c Claim) Lower(r *rand.Rand, mass float64, law RecipeLaw) (Item, error) {
	next := c.NextLower()
	family := c.Family
	if next < family.Low {
		// Below fine gold and fine silver the ordinary alloys begin.
		key := map[string]string{"gold": "gold-yellow", "silver": "silver-copper"}[family.Metal]
		if f, ok := alloy.FamilyByKey(key); ok {
			family = f
		}
	}
	return Alloy(r, family, next+0.005*r.Float64(), mass, law)
}

// balances are what a bench may have: scale interval, largest load and the check piece that fits.
var balances = []struct{ interval, capacity, check float64 }{
	{0.0001, 220, 8}, {0.001, 620, 25}, {0.01, 4200, 120}, {0.1, 15000, 600}, {1, 32000, 1500},
}

// NewStation draws a station that a competent person would choose for an item: the balance
// carries it and resolves the weight it loses to half a per cent or better.
func NewStation(r *rand.Rand, mass, volume float64, standing bool) (Station, CheckPiece) {
	return stationOf(r, mass, volume, standing, 200, 1e6)
}

// stationOf draws a station whose scale interval goes so many times into the weight that an item
// loses in water, from fewest to most.
func stationOf(r *rand.Rand, mass, volume float64, standing bool, fewest, most float64) (Station, CheckPiece) {
	var fit []int
	for i, b := range balances {
		if mass < 0.9*b.capacity && volume > fewest*b.interval && volume < most*b.interval {
			fit = append(fit, i)
		}
	}
	if len(fit) == 0 {
		fit = []int{0}
	}
	k := balances[fit[r.IntN(len(fit))]]
	d := k.interval
	s := Station{Standing: standing, Interval: d, Capacity: k.capacity,
		Repeatability: d * flat(r, 0.4, 1.2), Linearity: d * flat(r, 0, 1),
		TemperatureC: flat(r, 18, 26), TemperatureU: 0.2, AirKgM3: flat(r, 1.15, 1.21), AirU: 0.01,
	}
	s.RepeatabilityLiquid = d * flat(r, 0.6, 2)
	if d < 0.01 {
		s.RepeatabilityLiquid += logFlat(r, 0.0001, 0.0006)
	}
	if r.IntN(4) == 0 {
		s.Ethanol, s.EthanolU = flat(r, 0.90, 0.96), 0.001
	}
	switch {
	case volume < 20:
		s.WireMM, s.VesselMM, s.HangerMass = flat(r, 0.1, 0.4), flat(r, 50, 90), logFlat(r, 0.3, 4)
	case volume < 120:
		s.WireMM, s.VesselMM, s.HangerMass = flat(r, 0.2, 0.6), flat(r, 90, 150), logFlat(r, 3, 30)
	default:
		s.WireMM, s.VesselMM, s.HangerMass = flat(r, 0.5, 1.5), flat(r, 200, 300), logFlat(r, 20, 200)
	}
	s.HangerVolume = s.HangerMass / 7.9 // steel
	check := k.check * flat(r, 0.8, 1.2)
	piece := CheckPiece{Volume: check, Mass: check * 7.95, VolumeU: 1e-4 * check}
	if piece.Mass > 0.9*k.capacity {
		piece.Mass = check * 2.7 // aluminium
	}
	return s, piece
}

// mass draws the mass of an item in grams: 1 g to 13 kg, rings more often than bars.
func mass(r *rand.Rand) float64 {
	if r.IntN(5) == 0 {
		return logFlat(r, 60, 13000)
	}
	return logFlat(r, 1, 60)
}
