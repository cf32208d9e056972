package plan

import (
	"errors"
	"math"
	"strings"

	"wreath/internal/determination"
)

// manyRepeats stands for no end of repeats.
const manyRepeats = 400

// bench is a station with what its model makes of readings, learned from one weighing.
type bench struct {
	draft *determination.Draft // conditions, claim and rule; no readings
	// (ρ-ρa)·loss/reading in air, in g/cm³: the liquid's density less the air's, with the rise along
	// the wires in it.
	drive float64
	air   float64 // density of the air, g/cm³
	warm  float64 // density at the liquid's temperature over that at 20 °C
	d     float64 // scale interval, g
	most  float64 // largest load, g
	sAir  float64 // standard deviation of one reading, g
	sLiq  float64
}

// newBench learns a station. The draft holds no readings.
func newBench(draft *determination.Draft) (*bench, error) {
	b := &bench{draft: draft, drive: 1, warm: 1, air: 0.0012}
	if draft.Method != "" && draft.Method != "immersion" {
		return nil, &determination.InputError{Path: "method", Reason: "a plan is made for plain immersion, not for " + draft.Method,
			Hint: "Leave the method out, with the item hanging or the vessel standing."}
	}
	if k := draft.Balance; k == nil || k.ResolutionG == nil {
		// Whatever else is wrong is said first: it would come up once this is mended.
		trial, balance, any := *draft, determination.Balance{}, 0.001
		if k != nil {
			balance = *k
		}
		balance.ResolutionG, trial.Balance = &any, &balance
		if _, err := newBench(&trial); err != nil {
			return nil, err
		}
		return nil, &determination.InputError{Path: "balance.resolution_g", Reason: "is missing", Hint: "Say what the last digit of the display is worth, in grams."}
	}
	b.d = *draft.Balance.ResolutionG
	// A load that any balance with this interval can weigh, and that it sees well.
	const learning = 3000
	grams := math.Min(learning*b.d, mostG)
	b.most = math.Min(mostG/2, mostIntervals*b.d)
	if k := draft.Balance; k.CapacityG != nil {
		b.most = *k.CapacityG
		grams = math.Min(grams, b.most)
		// Readings at the largest load scatter beyond it.
		without, balance := *draft, *k
		balance.CapacityG = nil
		without.Balance = &balance
		b.draft = &without
	}
	a, err := determination.Measure(b.readings(grams, 10, 1))
	if err != nil {
		return nil, err
	}
	trial := b.loss(grams, 10) // with a liquid of 1 g/cm³ and the air of an ordinary room
	b.air, b.warm = a.AirDensityKgM3/1000, a.Density.KgM3/a.Density20C.KgM3
	b.drive = (a.Density.KgM3/1000 - b.air) * trial / grams
	b.sAir, b.sLiq = determination.StatedRepeatability(draft)
	return b, nil
}

// loss is the loss of weight in the liquid, in grams, of an item with a reading in air and a density
// at 20 °C in g/cm³.
func (b *bench) loss(grams, rho20 float64) float64 { return grams * b.drive / (rho20*b.warm - b.air) }

// readings makes the draft of n repeats of an item with a reading in air and a density at 20 °C in
// g/cm³. The readings scatter as those of the balance do.
func (b *bench) readings(grams, rho20 float64, n int) *determination.Draft {
	d := *b.draft
	loss := b.loss(grams, rho20)
	// Rounding and the zero scatter too: d²/12 and d²/48.
	rounding := b.d * b.d * 5 / 48
	d.AirG = spread(grams, math.Sqrt(b.sAir*b.sAir+rounding), n)
	if d.Arrangement == "standing" {
		d.GainG = spread(loss, math.Sqrt(b.sLiq*b.sLiq+rounding), n)
	} else {
		d.Arrangement = "hanging"
		d.LiquidG = spread(grams-loss, math.Sqrt(b.sLiq*b.sLiq+rounding), n)
	}
	return &d
}

// spread makes n readings with a mean and a sample standard deviation: by turns above and below,
// the last of an odd number in the middle.
func spread(mean, s float64, n int) []determination.Reading {
	readings := make([]determination.Reading, n)
	step := s
	if n%2 == 0 {
		step *= math.Sqrt(float64(n-1) / float64(n))
	}
	for i := range n {
		readings[i].Gram = mean
		switch {
		case i == n-1 && n%2 == 1:
		case i%2 == 0:
			readings[i].Gram += step
		default:
			readings[i].Gram -= step
		}
	}
	return readings
}

// expectation is what a weighing is expected to give. Densities in g/cm³ at 20 °C.
type expectation struct {
	v, u     float64 // specific volume in cm³/g and its standard uncertainty
	k        float64
	expanded float64 // of the density
	answer   *determination.Answer
}

// expect returns what n repeats of an item would give; false where the balance does not see the
// loss of weight at all.
func (b *bench) expect(grams, rho20 float64, n int) (expectation, bool, error) {
	a, err := determination.Measure(b.readings(grams, rho20, n))
	var field *determination.InputError
	if errors.As(err, &field) && unseen(b, grams, rho20, field) {
		return expectation{}, false, nil
	}
	if err != nil {
		return expectation{}, false, err
	}
	rho := a.Density20C.KgM3 / 1000
	e := expectation{v: 1 / rho, k: a.Density20C.K, answer: a}
	e.u = a.Density20C.UKgM3 / 1000 / (rho * rho)
	e.expanded = a.Density20C.K * a.Density20C.UKgM3 / 1000
	return e, true, nil
}

// unseen is true of an error that says no more than that the item is too small for the balance.
func unseen(b *bench, grams, rho20 float64, field *determination.InputError) bool {
	small := b.loss(grams, rho20) < 3*(b.d+b.sAir+b.sLiq)
	reading := strings.HasPrefix(field.Path, "air_g") || strings.HasPrefix(field.Path, "liquid_g") || strings.HasPrefix(field.Path, "gain_g")
	return small && reading
}
