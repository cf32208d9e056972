package determination

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"wreath/alloy"
	"wreath/evidence"
)

// EvidenceKinds lists the kinds of further evidence.
var EvidenceKinds = []string{"size", "magnet", "conductivity", "sound", "surface", "touchstone", "refraction"}

const (
	speaksAgainst = 0.05 // a likelihood up to this speaks against a candidate; chosen here
	agrees        = 0.20 // a likelihood from this on agrees with one; chosen here
	movesAtLeast  = 0.01 // a change of share that is shown
	mostChanges   = 8
)

// groups are the groups of tests that mislead together.
var groups = [...]string{"size", "magnet", "conductivity", "sound", "skin", "refraction"}

// piece is one finding of a further test, resolved.
type piece struct {
	kind  string
	field string // of the draft
	off   bool
	group int
	test  evidence.Piece // nil where the finding bears on the type only
	rate  evidence.Rate
	says  string
	hint  string // what settles a contradiction

	diameter, thickness, u float64 // of a coin, mm; 0 not measured

	likelihood []float64 // of each leaf
	informed   []bool    // false where the test says nothing of it
}

// furtherEvidence holds each piece of further evidence against the candidates: what it says, what
// it changes, and what it contradicts.
func (e *evaluation) furtherEvidence(c claim) error {
	if err := e.resolveEvidence(c); err != nil {
		return err
	}
	if len(e.pieces) > 0 {
		e.weighEvidence(c)
	}
	if e.coinType != nil {
		e.checkType()
	}
	return nil
}

func (e *evaluation) weighEvidence(c claim) {
	n := len(e.leaves)
	materials := make([]evidence.Material, n)
	likelihoods, informed := make([]float64, n*len(e.pieces)), make([]bool, n*len(e.pieces))
	for i := range e.leaves {
		materials[i] = materialOf(&e.leaves[i])
	}
	tests := 0
	for k := range e.pieces {
		p := &e.pieces[k]
		p.likelihood, p.informed = likelihoods[k*n:(k+1)*n], informed[k*n:(k+1)*n]
		for i := range materials {
			p.likelihood[i] = 1
			if p.test != nil {
				p.likelihood[i], p.informed[i] = p.test.Likelihood(&materials[i])
			}
		}
		if p.test != nil && !p.off {
			tests++
		}
	}
	all := e.sharesWithout(-1, -1)
	if tests > 0 {
		for i := range e.leaves {
			share := all[i]
			e.leaves[i].ShareWithEvidence = &share
		}
	}
	e.answer.Evidence = make([]EvidenceEffect, len(e.pieces))
	for k := range e.pieces {
		p := &e.pieces[k]
		x := &e.answer.Evidence[k]
		*x = EvidenceEffect{Kind: p.kind, Off: p.off, Says: p.says, Sees: p.rate.Sees, ErrorRate: p.rate.Error, Against: []string{}, Shares: []ShareChange{}}
		if p.test == nil {
			continue
		}
		for i := range e.leaves {
			switch l := &e.leaves[i]; {
			case !l.Fits:
			case !p.informed[i]:
				x.NothingOf++
			case p.against(i):
				x.Against = append(x.Against, l.Name)
			}
		}
		without, with := all, all
		if p.off {
			with = e.sharesWithout(-1, k)
		} else {
			without = e.sharesWithout(k, -1)
		}
		for i := range e.leaves {
			if math.Abs(with[i]-without[i]) >= movesAtLeast {
				x.Shares = append(x.Shares, ShareChange{e.leaves[i].Name, without[i], with[i]})
			}
		}
		slices.SortStableFunc(x.Shares, func(a, b ShareChange) int {
			return cmp.Compare(math.Abs(b.With-b.Without), math.Abs(a.With-a.Without))
		})
		x.Shares = x.Shares[:min(len(x.Shares), mostChanges)]
	}
	e.contradictions(c)
}

// sharesWithout shares out what fits with all evidence that is on, less one piece, and with one
// more that is off (-1: none).
func (e *evaluation) sharesWithout(less, more int) []float64 {
	shares := make([]float64, len(e.leaves))
	e.share(func(i int) float64 {
		var lowest [len(groups)]float64 // of each group, less 1
		for k := range e.pieces {
			if p := &e.pieces[k]; p.test != nil && k != less && (!p.off || k == more) {
				lowest[p.group] = math.Min(lowest[p.group], p.likelihood[i]-1)
			}
		}
		product := e.leaves[i].weight * e.leaves[i].evidence
		for _, l := range lowest {
			product *= 1 + l
		}
		return product
	}, func(i int, share float64) { shares[i] = share })
	return shares
}

// against says whether the piece speaks against a candidate.
func (p *piece) against(i int) bool {
	return p.informed[i] && p.likelihood[i] <= math.Max(speaksAgainst, 1.2*p.rate.Error)
}

// spokenAgainst says whether some piece that is on speaks against a candidate.
func (e *evaluation) spokenAgainst(i int) bool {
	for k := range e.pieces {
		if p := &e.pieces[k]; !p.off && p.against(i) {
			return true
		}
	}
	return false
}

// tested says whether evidence of a kind is given and on.
func (e *evaluation) tested(kind string) bool {
	return slices.ContainsFunc(e.pieces, func(p piece) bool { return p.kind == kind && !p.off && p.test != nil })
}

// actionOf are the acts, as wreath materials actions lists them, that give each kind of evidence.
var actionOf = map[string]string{"size": "caliper", "magnet": "magnet", "conductivity": "conductivity", "sound": "sound", "surface": "xrf", "touchstone": "touchstone", "refraction": "refraction"}

// alreadyTested says whether an act was done: its evidence is given and on.
func (e *evaluation) alreadyTested(act string) bool {
	return slices.ContainsFunc(e.pieces, func(p piece) bool { return !p.off && actionOf[p.kind] == act })
}

// settleContradiction is the next step where evidence contradicts: to try the test again that contradicts
// most. It settles what is open about the claim. Nil where nothing contradicts.
func (e *evaluation) settleContradiction() *NextStep {
	worst := -1
	for k := range e.answer.Evidence {
		if n := len(e.answer.Evidence[k].Contradicts); n > 0 && actionOf[e.pieces[k].kind] != "" && (worst < 0 || n > len(e.answer.Evidence[worst].Contradicts)) {
			worst = k
		}
	}
	if worst < 0 {
		return nil
	}
	claimed := 0.0
	for i := range e.leaves {
		if l := &e.leaves[i]; l.claimed > 0 && l.ShareWithEvidence != nil {
			claimed += *l.ShareWithEvidence
		}
	}
	claimed = math.Min(claimed, 1)
	p := &e.pieces[worst]
	next := &NextStep{Key: actionOf[p.kind], Act: p.hint, Why: "settles whether this finding misleads or what it contradicts", Settles: bits(claimed) + bits(1-claimed)}
	if a := actionByKey(next.Key); a != nil {
		next.Minutes, _ = e.takes(a)
	}
	return next
}

// contradictions looks for evidence that contradicts the claim, the density, or other evidence, and
// holds the finding back until it is settled. Nothing is averaged away: the shares beside it are
// what they are, and the contradiction is said.
func (e *evaluation) contradictions(c claim) {
	for k := range e.pieces {
		p := &e.pieces[k]
		if p.off || p.test == nil {
			continue
		}
		var with, words []string
		if e.deniesClaim(p) {
			with = append(with, "claim")
			words = append(words, fmt.Sprintf("it is not what %s would show", e.claimWords(c)))
		}
		if said := e.deniesDensity(p); said != "" {
			with = append(with, "density")
			words = append(words, said)
		}
		for j := range e.pieces {
			if q := &e.pieces[j]; j != k && !q.off && q.test != nil && e.denies(p, q) {
				with = append(with, q.kind)
				words = append(words, fmt.Sprintf("nothing that fits and that both tests can speak of agrees with both this and %s", q.kind))
			}
		}
		if len(with) == 0 {
			continue
		}
		x := &e.answer.Evidence[k]
		x.Contradicts = with
		x.Contradiction = fmt.Sprintf("%s, and %s.", p.says, strings.Join(words, "; "))
		e.suspend("evidence contradicts: "+p.kind+" against "+strings.Join(with, " and "), p.hint, "%s", strings.TrimSuffix(x.Contradiction, "."))
	}
}

func (e *evaluation) claimWords(c claim) string {
	switch {
	case c.words != "":
		return c.words
	case c.stone != "":
		return c.stone
	}
	return c.metal
}

// deniesClaim says whether a piece speaks against everything that is claimed and fits.
func (e *evaluation) deniesClaim(p *piece) bool {
	any := false
	for i := range e.leaves {
		l := &e.leaves[i]
		if l.claimed == 0 || !l.Fits {
			continue
		}
		if !p.against(i) {
			return false
		}
		any = true
	}
	return any
}

// deniesDensity says in words how a piece contradicts the density: no material that fits the density
// and of which the piece says something agrees with it.
func (e *evaluation) deniesDensity(p *piece) string {
	if size, ok := p.test.(evidence.Size); ok {
		// Here the density itself is compared, with no table between.
		v, u := e.observation.V, e.observation.U
		allowed := size.Allowed()
		both := math.Hypot(u, size.U/size.Mass)
		switch {
		case v > allowed.High+e.fits*both:
			return fmt.Sprintf("the item displaced %.4g cm³ of liquid, more than its outline of %.4g cm³ holds", v*size.Mass, size.Volume)
		case v < allowed.Low-e.fits*both:
			return fmt.Sprintf("the item displaced %.4g cm³ of liquid, less than a solid piece of its outline of %.4g cm³ does", v*size.Mass, size.Volume)
		}
		return ""
	}
	any := false
	for i := range e.leaves {
		if !e.leaves[i].Fits || !p.informed[i] {
			continue
		}
		if p.likelihood[i] >= agrees {
			return ""
		}
		any = true
	}
	if !any {
		return ""
	}
	return "nothing in the tables that has this density and a known value agrees with it: think of layers, plate or a core"
}

// denies says whether two pieces contradict each other: each agrees with some candidate that fits,
// and no candidate that both say something of agrees with both.
func (e *evaluation) denies(p, q *piece) bool {
	first, second, both := false, false, false
	for i := range e.leaves {
		if !e.leaves[i].Fits {
			continue
		}
		a, b := p.informed[i] && p.likelihood[i] >= agrees, q.informed[i] && q.likelihood[i] >= agrees
		first, second = first || a, second || b
		if a && b {
			return false
		}
		both = both || p.informed[i] && q.informed[i]
	}
	return first && second && both
}

// materialOf is what is known of a candidate for further tests.
func materialOf(l *leaf) evidence.Material {
	m := evidence.Material{SpecificVolume: evidence.Range{Low: 1000 / l.HighKgM3, High: 1000 / l.LowKgM3}}
	switch {
	case l.family != nil:
		f, fineness := l.family, l.Fineness/1000
		m.Metal, m.Fineness = f.Metal, fineness
		m.Magnet = pullOf(f)
		m.Conductivity = evidence.ConductivityOf(f.Key, fineness)
		m.Sound = soundOf(f, fineness)
		m.Rest = mostOf()[f]
	case l.lookalike != nil:
		known := l.lookalike
		spread := 0.0 // values of one grade, and of whatever can be made
		if l.tuned {
			spread = 0.10
		}
		m.Conductivity = evidence.Around(known.Conductivity*evidence.PerPercentIACS, 0.15+spread)
		m.Sound = evidence.Around(known.Sound, 0.04+spread/2)
		for _, word := range known.Magnet {
			m.Magnet |= pulls[word]
		}
	case l.species != nil:
		s := l.species
		m.Index = evidence.Range{Low: s.RefractiveLow, High: s.RefractiveHigh}
		m.Birefringence = evidence.Range{Low: s.Birefringence, High: s.Birefringence}
		m.Aggregate = s.Optic == "aggregate" || s.Optic == "opaque" || s.Optic == "composite"
	}
	return m
}

// pulls are the words for what a magnet does.
var pulls = map[string]evidence.Pull{"none": evidence.NoPull, "weak": evidence.WeakPull, "strong": evidence.StrongPull}

// pullOf is what a hand magnet may do to a family. Alloys with nickel or cobalt may be attracted,
// platinum and palladium a little by a strong magnet (their susceptibilities stand in the table of
// metals); the rest is not (common practice).
func pullOf(f *alloy.Family) evidence.Pull {
	pull := evidence.NoPull
	for _, m := range f.Metals() {
		switch m.Symbol {
		case "Co", "Fe":
			return evidence.NoPull | evidence.WeakPull | evidence.StrongPull
		case "Ni", "Pt", "Pd":
			pull |= evidence.WeakPull
		}
	}
	return pull
}

// soundOf is the range of the speed of sound in alloys of a family: the mean of the metals'
// speeds by volume, for each metal alone as the rest, 5 % either way (3 % for fine metal). No measured
// alloys were at hand (chosen here); it is wide enough to tell gold from tungsten and from lead, and
// must not be used for finer questions. Not known where the speed in one of the metals is not.
func soundOf(f *alloy.Family, fineness float64) evidence.Range {
	metals := f.Metals()
	base := metals[0]
	if fineness >= 0.98 {
		return evidence.Around(base.Sound, 0.03)
	}
	r := evidence.Range{Low: math.Inf(1)}
	for _, m := range metals[1:] {
		if m.Sound == 0 {
			return evidence.Range{}
		}
		a, b := fineness/base.Density.GramPerCm3(), (1-fineness)/m.Density.GramPerCm3()
		speed := (a*base.Sound + b*m.Sound) / (a + b)
		r.Low, r.High = math.Min(r.Low, 0.95*speed), math.Max(r.High, 1.05*speed)
	}
	if base.Sound == 0 || r.High == 0 {
		return evidence.Range{}
	}
	return r
}

// mostOf is the largest share of the rest that each other metal takes in a family's recipes, rare
// ones too.
var mostOf = sync.OnceValue(func() map[*alloy.Family][]evidence.Part {
	all := map[*alloy.Family][]evidence.Part{}
	for _, f := range alloy.Families() {
		for _, m := range f.Metals()[1:] {
			most := 0.0
			for _, region := range []alloy.Region{f.Usual, f.Outer} {
				for _, box := range region {
					for _, b := range box {
						for _, s := range b.Shares {
							if s.Symbol == m.Symbol {
								most = math.Max(most, s.High)
							}
						}
					}
				}
			}
			all[f] = append(all[f], evidence.Part{Metal: m.Name, Fraction: most})
		}
	}
	return all
})
