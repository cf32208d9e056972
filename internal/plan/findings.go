package plan

import (
	"errors"
	"math"

	"wreath/internal/determination"
)

// Chance is how likely each finding is, should the item be of one material: what the numbers alone
// would say, with everything else that the house rule asks for given.
type Chance struct {
	If        string  `json:"if"`
	Met       float64 `json:"met"`
	NotMet    float64 `json:"not_met"`
	Undecided float64 `json:"undecided"`
}

// piece is a stretch of observed specific volume with one finding.
type piece struct {
	low, high float64
	finding   string
}

// findings integrates what is found over the specific volume that may be observed.
func (a *asking) findings(e expectation) ([]Chance, error) {
	materials := append([]determination.Material{a.claimed}, a.others...)
	low, high := math.Inf(1), 0.0
	for _, m := range materials {
		l, h := m.Band()
		s := math.Hypot(e.u, m.ModelU()*h)
		low, high = math.Min(low, l-5*s), math.Max(high, h+5*s)
	}
	pieces, err := a.pieces(math.Max(low, 1./23), math.Min(high, 2), e.u)
	if err != nil {
		return nil, err
	}
	var chances []Chance
	for _, m := range materials {
		c := Chance{If: m.Name}
		for _, p := range pieces {
			switch share := within(m, p.low, p.high, e.u); p.finding {
			case "met":
				c.Met += share
			case "not met":
				c.NotMet += share
			}
		}
		// What lies outside of everything looked at is undecided.
		c.Met, c.NotMet = math.Min(c.Met, 1), math.Min(c.NotMet, 1-math.Min(c.Met, 1))
		c.Undecided = math.Max(0, 1-c.Met-c.NotMet)
		chances = append(chances, c)
	}
	return chances, nil
}

// pieces cuts a range of specific volume where the finding changes.
func (a *asking) pieces(low, high, u float64) ([]piece, error) {
	n := int(math.Min(160, math.Max(40, 3*(high-low)/math.Max(u, 1e-9))))
	fine := math.Max(u/50, (high-low)*1e-6)
	found, err := a.found(low)
	if err != nil {
		return nil, err
	}
	pieces := []piece{{low, low, found}}
	for i := 1; i <= n; i++ {
		v := low + (high-low)*float64(i)/float64(n)
		next, err := a.found(v)
		if err != nil {
			return nil, err
		}
		last := &pieces[len(pieces)-1]
		if next == last.finding {
			last.high = v
			continue
		}
		from, to := last.high, v
		for to-from > fine {
			middle := (from + to) / 2
			f, err := a.found(middle)
			if err != nil {
				return nil, err
			}
			if f == last.finding {
				from = middle
			} else {
				to, next = middle, f
			}
		}
		last.high = to
		pieces = append(pieces, piece{to, v, next})
	}
	return pieces, nil
}

// found is what the numbers alone say of an observed specific volume.
func (a *asking) found(v float64) (string, error) {
	answer, err := determination.Evaluate(a.readings(a.MassG, 1/v, a.Repeats), determination.Options{NumbersOnly: true})
	var field *determination.InputError
	switch {
	case errors.As(err, &field):
		return "undecided", nil // readings that the program would ask to be taken again
	case err != nil:
		return "", err
	case answer.Finding == nil:
		return "undecided", nil
	case answer.Finding.WouldBe != "":
		return answer.Finding.WouldBe, nil
	}
	return answer.Finding.Result, nil
}

// within is the probability of observing a specific volume from low to high.
func within(m determination.Material, low, high, u float64) float64 {
	l, h := m.Band()
	s := math.Hypot(u, m.ModelU()*h)
	if s == 0 {
		s = 1e-6
	}
	n := int(math.Min(2000, math.Max(8, 6*(high-low)/s)))
	n += n % 2
	step, sum := (high-low)/float64(n), 0.0
	if high < l-40*s || low > h+40*s {
		return 0
	}
	for i := range n + 1 {
		weight := 2.0
		switch {
		case i == 0 || i == n:
			weight = 1
		case i%2 == 1:
			weight = 4
		}
		sum += weight * m.Observed(low+float64(i)*step, u)
	}
	return sum * step / 3
}
