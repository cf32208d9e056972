package simulation

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"

	"wreath/alloy"
	"wreath/internal/determination"
)

// Population is where the items of a calibration come from.
type Population string

const (
	// The weightings of fineness that an answer names, by their definition; the colour seen is
	// right in nine cases of ten, and every recipe of a family is as likely as another.
	Neutral Population = "neutral"
	Trade   Population = "trade"
	Sceptic Population = "sceptic"
	// Cheats: three quarters are 0 to 5 ppt finer than claimed, a quarter falls short by 20 ppt in
	// the mean. Makers keep to the middle of the recipes, colours are right.
	Cheats Population = "cheats"
)

// Calibration says what to hold probabilities against.
type Calibration struct {
	Seed       uint64
	Population Population
	Known      bool // the family is known: items are of the claim's family, and its own figure counts
	N, Workers int
}

// Forecast is one probability of reaching the claim, and whether the item does.
type Forecast struct {
	Said  float64 // by the program
	Bayes float64 // by who knows the population itself and the true scatter; 0 for Cheats
	True  bool
}

// CalibrationClaims are the claims of the calibration.
func CalibrationClaims() []Claim {
	var claims []Claim
	for _, c := range []struct {
		family string
		ppt    []float64
	}{
		{"gold-yellow", []float64{333, 375, 417, 585, 750, 916}}, {"gold-red", []float64{375, 585, 750}},
		{"gold-white-palladium", []float64{585, 750}}, {"gold-white-nickel", []float64{585, 750}},
	} {
		f, ok := alloy.FamilyByKey(c.family)
		if !ok {
			panic("no family " + c.family)
		}
		for _, ppt := range c.ppt {
			claims = append(claims, Claim{f, ppt / 1000})
		}
	}
	return claims
}

// Weighting is the name under which the program gives the probability that a population is held
// against.
func (p Population) Weighting() string {
	if p == Cheats {
		return string(Sceptic)
	}
	return string(p)
}

// draw returns the family and the fineness of an item that is claimed to be c.
func (p Population) draw(r *rand.Rand, c Claim, known bool) (*alloy.Family, float64) {
	family := c.Family
	if n := len(family.Neighbours); !known && p != Cheats && n > 0 && r.Float64() < 0.1 {
		if f, ok := alloy.FamilyByKey(family.Neighbours[r.IntN(n)]); ok {
			family = f
		}
	}
	standard := func() float64 {
		standards := slices.Clone(alloy.Standards("iso-9202", family.Metal))
		s := standards[r.IntN(len(standards))]
		if alloy.SameStandard(s, c.Fineness) {
			s = c.Fineness
		}
		return flat(r, s, min(s+0.005, 1))
	}
	short := func(mean, from float64) float64 { // exponential below from, cut where the families end
		for {
			if f := from - mean*r.ExpFloat64(); f >= min(0.300, from-mean) {
				return f
			}
		}
	}
	x := r.Float64()
	switch p {
	case Trade:
		if x < 0.90 {
			return family, standard()
		}
	case Sceptic:
		switch {
		case x < 0.50:
			return family, flat(r, c.Fineness, min(c.Fineness+0.005, 1))
		case x < 0.70:
			return family, standard()
		case x < 0.85:
			return family, short(0.020, c.Fineness)
		}
	case Cheats:
		if x < 0.25 {
			return family, short(0.020, c.Fineness)
		}
		return family, flat(r, c.Fineness, min(c.Fineness+0.005, 1))
	}
	return family, flat(r, 0.300, 1)
}

// cast makes an item of the population. Finenesses that a family is not made at are drawn again.
func (p Population) cast(r *rand.Rand, c Claim, known bool, mass float64) (Item, error) {
	law := Even
	if p == Cheats {
		law = Middle
	}
	var item Item
	err := fmt.Errorf("no item of %s %.0f", c.Family.Key, 1000*c.Fineness)
	for range 100 {
		family, fineness := p.draw(r, c, known)
		if fineness < family.Low || fineness > family.High {
			continue
		}
		if item, err = Alloy(r, family, fineness, mass, law); err == nil {
			return item, nil
		}
	}
	return item, err
}

// crowd is a sample of a population: specific volumes in order, and which items reach the claim.
type crowd struct {
	v     []float64
	reach []bool
}

const crowdSize = 12_000

func (p Population) crowd(seed uint64, c Claim, known bool) (crowd, error) {
	type one struct {
		v     float64
		reach bool
	}
	r := rand.New(rand.NewPCG(seed, 1<<40|uint64(1000*c.Fineness)))
	all := make([]one, crowdSize)
	for i := range all {
		item, err := p.cast(r, c, known, 1)
		if err != nil {
			return crowd{}, err
		}
		all[i] = one{item.Solid, item.Fineness >= c.Fineness}
	}
	slices.SortFunc(all, func(a, b one) int { return cmp.Compare(a.v, b.v) })
	var out crowd
	for _, o := range all {
		out.v, out.reach = append(out.v, o.v), append(out.reach, o.reach)
	}
	return out, nil
}

// bayes is the share of the crowd that reaches the claim among those that would read v ± u.
func (k crowd) bayes(v, u float64) float64 {
	from, _ := slices.BinarySearch(k.v, v-6*u)
	reach, all := 0.0, 0.0
	for i := from; i < len(k.v) && k.v[i] < v+6*u; i++ {
		z := (k.v[i] - v) / u
		w := math.Exp(-z * z / 2)
		all += w
		if k.reach[i] {
			reach += w
		}
	}
	if all == 0 {
		return 0.5
	}
	return reach / all
}

// Run weighs items of the population, without any fault, and returns what was said of each.
func (y Calibration) Run() ([]Forecast, error) {
	claims := CalibrationClaims()
	crowds := make([]crowd, len(claims))
	workers := max(1, y.Workers)
	parts := make([][]Forecast, workers)
	errs := make([]error, workers)
	each := func(work func(w int) error) error {
		var wait sync.WaitGroup
		for w := range workers {
			wait.Go(func() { errs[w] = work(w) })
		}
		wait.Wait()
		for _, err := range errs {
			if err != nil {
				return err
			}
		}
		return nil
	}
	if y.Population != Cheats {
		if err := each(func(w int) (err error) {
			for k := w; k < len(claims) && err == nil; k += workers {
				crowds[k], err = y.Population.crowd(y.Seed, claims[k], y.Known)
			}
			return err
		}); err != nil {
			return nil, err
		}
	}
	if err := each(func(w int) error {
		for i := w; i < y.N; i += workers {
			k := i % len(claims)
			f, ok, err := y.one(rand.New(rand.NewPCG(y.Seed, uint64(i))), claims[k], crowds[k])
			if err != nil {
				return err
			}
			if ok {
				parts[w] = append(parts[w], f)
			}
		}
		return nil
	}); err != nil {
		return nil, err
	}
	return slices.Concat(parts...), nil
}

func (y Calibration) one(r *rand.Rand, c Claim, k crowd) (Forecast, bool, error) {
	item, err := y.Population.cast(r, c, y.Known, logFlat(r, 1, 100))
	if err != nil {
		return Forecast{}, false, err
	}
	// From fine balances to coarse ones: where a weighing decides everything, nothing is said between.
	station, check := stationOf(r, item.Mass, item.Solid, r.IntN(2) == 0, 25, 10_000)
	s := &Session{Bench: NewBench(r, station, item), Claim: c, Check: check}
	s.Run()
	a, err := determination.Evaluate(s.Draft(Plan{Immersions: 1}), determination.Options{MonteCarlo: determination.WhereNeeded})
	var refused *determination.InputError
	if errors.As(err, &refused) {
		return Forecast{}, false, nil // too coarse a weighing: no density follows, no probability is given
	}
	if err != nil {
		return Forecast{}, false, err
	}
	f := Forecast{True: item.Fineness >= c.Fineness}
	if y.Population != Cheats {
		v, relative := s.figures()
		f.Bayes = k.bayes(v, v*relative)
	}
	said := a.Fineness
	if y.Known {
		said = nil
		for i := range a.Families {
			if a.Families[i].Family == c.Family.Key {
				said = &a.Families[i]
			}
		}
	}
	if said == nil {
		return f, false, nil // out of reach of the tables: no probability is given
	}
	for _, reach := range said.Reach {
		if strings.HasPrefix(reach.Weighting, y.Population.Weighting()) {
			f.Said = reach.Probability
			return f, true, nil
		}
	}
	return f, false, nil
}

// Bin is what was said within a span, and how often it was true.
type Bin struct {
	Low, High float64
	N         int
	Said      float64 // mean
	True      float64 // share
}

// Spread is one binomial standard deviation of the share that is true.
func (b Bin) Spread() float64 {
	if b.N == 0 {
		return 1
	}
	return math.Sqrt(b.Said * (1 - b.Said) / float64(b.N))
}

// Between gathers the forecasts that say low to high.
func Between(forecasts []Forecast, low, high float64) Bin {
	b := Bin{Low: low, High: high}
	for _, f := range forecasts {
		if f.Said >= low && f.Said < high {
			b.N++
			b.Said += f.Said
			b.True += float64(count(f.True))
		}
	}
	if b.N > 0 {
		b.Said /= float64(b.N)
		b.True /= float64(b.N)
	}
	return b
}

// Brier returns the mean squared error of what was said, and of who knows the population. 0 is
// perfect, 0.25 what a coin says.
func Brier(forecasts []Forecast) (said, bayes float64) {
	for _, f := range forecasts {
		truth := float64(count(f.True))
		said += (f.Said - truth) * (f.Said - truth) / float64(len(forecasts))
		bayes += (f.Bayes - truth) * (f.Bayes - truth) / float64(len(forecasts))
	}
	return said, bayes
}
