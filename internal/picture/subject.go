package picture

import (
	"math"
	"slices"
	"strconv"

	"wreath/alloy"
	"wreath/internal/determination"
	"wreath/internal/sentence"
)

// Subject is what a picture is drawn of.
type Subject struct {
	Answer *determination.Answer // nil: nothing is weighed yet
	Claim  *determination.Claim  // nil: nothing is claimed

	Pairs   []Pair   // readings taken one by one, shown while the weighing is doubtful or where asked for
	Settled *float64 // kg/m³: where the density would move if the doubt were settled; nil: not known

	In *sentence.Book // the language of the words; nil: English
}

// Pair is the density that one pair of readings gives alone.
type Pair struct {
	Name  string // "1"
	KgM3  float64
	Stray bool // it does not agree with the others
}

// standards is the list that finenesses are taken from where the claim names none.
const standards = "iso-9202"

// densest and lightest bound every window, g/cm³.
const (
	lightest = 1.0
	densest  = 23.0
)

// measured is the density at 20 °C, all in g/cm³.
type measured struct {
	rho, u, expanded float64
	low, high        float64 // of the 95 % interval
	open             bool    // the weighing sets no upper end; high is then the end of the scale
	dof              float64 // 0: unbounded
	doubtful         bool
	beside           []float64 // what else the window must show
}

// reading takes the density out of an answer; false where nothing is weighed.
func (s Subject) reading() (measured, bool) {
	a := s.Answer
	if a == nil || !(a.Density20C.KgM3 > 0) {
		return measured{}, false
	}
	d := a.Density20C
	m := measured{rho: d.KgM3 / 1000, u: d.UKgM3 / 1000, expanded: d.UExpanded / 1000, low: d.LowKgM3 / 1000}
	if d.HighKgM3 != nil {
		m.high = *d.HighKgM3 / 1000
	} else {
		m.high, m.open = densest, true
	}
	if d.Dof != nil {
		m.dof = *d.Dof
	}
	m.u = math.Max(m.u, m.rho*1e-9)
	m.expanded = math.Max(m.expanded, m.u)
	m.doubtful = Doubtful(a)
	for _, pair := range s.Pairs {
		m.beside = append(m.beside, pair.KgM3/1000)
	}
	if s.Settled != nil {
		m.beside = append(m.beside, *s.Settled/1000)
	}
	return m, true
}

func (m measured) observation() alloy.Observation {
	v := 1 / m.rho
	return alloy.Observation{V: v, U: m.u / m.rho * v, Dof: m.dof}
}

// z is the distance from a plain range of densities in standard uncertainties of the measurement,
// taken in specific volume.
func (m measured) z(low, high float64) float64 {
	o := m.observation()
	return math.Max(0, math.Max(o.V-1/low, 1/high-o.V)/o.U)
}

// height is the distribution of the density at x, 1 at its top: that of a specific volume of the
// given degrees of freedom, turned into density.
func (m measured) height(x float64) float64 {
	t := (1/x - 1/m.rho) / (m.u / (m.rho * m.rho))
	h := math.Exp(-t * t / 2)
	if m.dof > 0 {
		h = math.Pow(1+t*t/m.dof, -(m.dof+1)/2)
	}
	return h * (m.rho / x) * (m.rho / x)
}

// Doubtful says whether a doubt holds the finding back.
func Doubtful(a *determination.Answer) bool {
	return a != nil && slices.ContainsFunc(a.Doubts, func(d determination.Doubt) bool { return d.Suspends })
}

// claimed is a claim resolved against the tables; fineness as fraction, 0 where none is claimed.
type claimed struct {
	metal, family, stone string
	fineness             float64
	standards            []float64 // of metal
}

func (s Subject) claim() claimed {
	d := s.Claim
	if d == nil {
		return claimed{}
	}
	c := claimed{metal: d.Metal, family: d.Family, stone: d.Stone}
	if f, ok := alloy.FamilyByKey(d.Family); ok {
		c.metal = f.Metal
	}
	switch {
	case d.Fineness != nil:
		c.fineness = *d.Fineness / 1000
	case d.Carat != nil:
		c.fineness = ofCarat(*d.Carat)
		if c.metal == "" {
			c.metal = "gold"
		}
	}
	key := d.Standards
	if key == "" {
		key = standards
	}
	c.standards = slices.Clone(alloy.Standards(key, c.metal))
	if d.StandardsPpt != nil {
		c.standards = nil
		for _, f := range d.StandardsPpt {
			c.standards = append(c.standards, f/1000)
		}
	}
	if c.fineness > 0 {
		c.standards = slices.DeleteFunc(c.standards, func(f float64) bool { return alloy.SameStandard(f, c.fineness) })
		c.standards = append(c.standards, c.fineness)
	}
	slices.Sort(c.standards)
	return c
}

// ofCarat is the fineness that is marked for a carat, as the list of standards prints it.
func ofCarat(carat float64) float64 {
	for _, s := range alloy.StandardsOf(standards, "gold") {
		if listed, err := strconv.ParseFloat(s.Carat, 64); err == nil && listed == carat {
			return s.Fineness
		}
	}
	return carat / 24
}
