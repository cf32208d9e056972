package plan

import (
	"fmt"
	"math"
	"strconv"

	"wreath/alloy"
	"wreath/internal/determination"
)

// Question is what is planned for.
type Question struct {
	Station string               // name of the station; "" prints none
	Draft   *determination.Draft // what the station knows, with claim, colour and house rule; readings are not used
	MassG   float64              // what the item weighs in air
	Density float64              // g/cm³ at 20 °C to expect; 0: that of the claim
	Against []string             // what the claim is held against; none: its neighbours and look-alikes
	Repeats int                  // weighings of each kind; 0: as many immersions as the house rule asks for
}

// Limits of a question.
const (
	MostRepeats = 20
	leastG      = 1e-4
	mostG       = 4e5
)

// Plan is what can be expected. Densities are in g/cm³ at 20 °C.
type Plan struct {
	Station  string  `json:"station,omitempty"`
	Claim    string  `json:"claim"`
	MassG    float64 `json:"mass_g"`
	Repeats  int     `json:"repeats"`
	Rule     string  `json:"rule"`
	TooSmall bool    `json:"too_small"` // the balance does not see the loss of weight

	Density  float64 `json:"density_g_cm3"`
	U        float64 `json:"u_g_cm3"`
	Expanded float64 `json:"expanded_g_cm3"` // 95 %
	Floor    float64 `json:"floor_g_cm3"`    // expanded uncertainty that no number of repeats passes

	ByRepeats []Repeat      `json:"by_repeats"`
	Questions []Told        `json:"questions"`
	Findings  []Chance      `json:"findings"`
	Improve   []Improvement `json:"improve"`
	Finer     []Finer       `json:"finer"`

	Assumed  []determination.Assumption `json:"assumed"`
	Sentence string                     `json:"sentence"`

	// Curve is the expected expanded uncertainty in g/cm³ against the mass, for the station and for
	// each finer balance in the order of Finer. NaN where the balance does not see the item.
	Curve func(massG float64) float64 `json:"-"`
}

// Repeat is the interval to expect of a number of repeats.
type Repeat struct {
	N        int     `json:"n"`
	Expanded float64 `json:"expanded_g_cm3"`
}

// Finer is what a finer balance would change.
type Finer struct {
	ResolutionG float64  `json:"resolution_g"`
	Expanded    float64  `json:"expanded_g_cm3"`
	Answers     []string `json:"answers"` // to the questions, in their order

	Curve func(massG float64) float64 `json:"-"`
}

func bad(path, hint, reason string, args ...any) error {
	return &determination.InputError{Path: path, Reason: fmt.Sprintf(reason, args...), Hint: hint}
}

// asking is a question with its bench and materials.
type asking struct {
	Question
	*bench
	asked   determination.Asked
	claimed determination.Material
	others  []determination.Material
	rho     float64
}

// Make plans one item at one station. An *InputError names what is wrong with the question.
func Make(q Question) (*Plan, error) {
	a, err := resolve(q)
	if err != nil {
		return nil, err
	}
	p, e, err := a.plan()
	if err != nil {
		return nil, err
	}
	if !p.TooSmall {
		if p.Findings, err = a.findings(e); err != nil {
			return nil, err
		}
	}
	p.tidy()
	return p, nil
}

// Outline is Make without how likely each finding is, which takes most of its time.
func Outline(q Question) (*Plan, error) {
	a, err := resolve(q)
	if err != nil {
		return nil, err
	}
	p, _, err := a.plan()
	if err != nil {
		return nil, err
	}
	p.tidy()
	return p, nil
}

// Outlook is what a station can be expected to say to the claim's own question: whether the claim is
// told from the next lower standard.
type Outlook struct {
	Answer   string // yes, for most, or no
	Short    string // a sentence of a few words: how many immersions it takes, or that they do not help
	Sentence string // the same with its figures
}

// Answerable says whether the station can answer the claim's own question on the item, before it is wet.
func Answerable(q Question) (Outlook, error) {
	q.Against = nil
	a, err := resolve(q)
	if err != nil {
		return Outlook{}, err
	}
	a.others = a.others[:1]
	p := &Plan{MassG: a.MassG, Claim: a.asked.Words, Repeats: a.Repeats}
	e, seen, err := a.expect(a.MassG, a.rho, a.Repeats)
	if err != nil {
		return Outlook{}, err
	}
	p.TooSmall = !seen
	p.Expanded = e.expanded
	if err := a.questions(p, e, seen); err != nil {
		return Outlook{}, err
	}
	if err := a.finer(p); err != nil {
		return Outlook{}, err
	}
	t := p.Questions[0]
	return Outlook{t.Answer, short(t, p.Repeats), a.sentence(p)}, nil
}

// short is the outlook in a few words.
func short(t Told, planned int) string {
	switch {
	case t.Best == No:
		return "No balance can answer that."
	case t.Answer == t.Best && planned == 1 && t.Best == Yes:
		return "One immersion will do."
	case t.Answer == t.Best && t.Best == Yes:
		return fmt.Sprintf("%d immersions will do.", planned)
	case t.Repeats > planned:
		return fmt.Sprintf("It takes %d immersions.", t.Repeats)
	case t.Answer == ForMost:
		return "This balance can answer that for most recipes only."
	}
	return "This balance can't answer that."
}

func resolve(q Question) (*asking, error) {
	if q.Draft == nil {
		q.Draft = &determination.Draft{}
	}
	if !(q.MassG >= leastG && q.MassG <= mostG) {
		return nil, bad("mass", "Give what the item weighs, with its unit: 12.4 g, 2.3 ct, 1 ozt.", "%g g cannot be right", q.MassG)
	}
	if q.Density != 0 && !(q.Density >= 0.5 && q.Density <= 23) {
		return nil, bad("density", "Give it in g/cm³; gold has 19.3.", "%g g/cm³ cannot be right", q.Density)
	}
	a := &asking{Question: q}
	var err error
	if a.asked, err = determination.Ask(q.Draft); err != nil {
		return nil, err
	}
	if a.asked.Fineness == 0 {
		return nil, bad("claim", `Write a metal and its fineness: "gold 750".`, "a plan needs a claim of a metal with its fineness")
	}
	if a.claimed, err = a.asked.Claimed(); err != nil {
		return nil, bad("claim.fineness", "wreath materials families lists the families with their finenesses.", "the tables hold no alloy that is %s", a.asked.Words)
	}
	if a.Repeats == 0 {
		a.Repeats = a.asked.Rule.Immersions
	}
	if a.Repeats < 1 || a.Repeats > MostRepeats {
		return nil, bad("repeats", "The plan lists what each number of repeats gives.", "%d repeats are outside 1 to %d", q.Repeats, MostRepeats)
	}
	v, _ := a.claimed.Middle()
	a.rho = 1 / v
	if q.Density > 0 {
		a.rho = q.Density
	}
	if k := q.Draft.Balance; k != nil && k.CapacityG != nil && q.MassG > *k.CapacityG {
		return nil, bad("mass", "Plan for a larger balance.", "%g g is more than the balance's capacity of %g g", q.MassG, *k.CapacityG)
	}
	if err := a.against(); err != nil {
		return nil, err
	}
	if a.bench, err = newBench(q.Draft); err != nil {
		return nil, err
	}
	if a.rho*a.warm <= a.drive+a.air {
		return nil, bad("density", "Plan for another liquid, or with a sinker.", "an item of %.3g g/cm³ floats in this liquid", a.rho)
	}
	return a, nil
}

// against resolves what the claim is held against. Unless said: the next lower standard, the next
// higher one, and the look-alikes whose usual density fits, as far as the tables hold them.
func (a *asking) against() error {
	for _, w := range a.Against {
		m, err := a.asked.Named(w)
		if err != nil {
			return err
		}
		if low, high := m.Band(); w == ppt(a.asked.Fineness) || sameBand(a.claimed, low, high) {
			return bad("against", "Name another material than what is claimed.", "%q is what is claimed", w)
		}
		a.others = append(a.others, m)
	}
	if len(a.others) > 0 {
		return nil
	}
	if m, err := a.asked.At(a.asked.Next); err == nil {
		a.others = append(a.others, m)
	}
	for _, s := range a.asked.Standards {
		if s <= a.asked.Fineness || alloy.SameStandard(s, a.asked.Fineness) {
			continue
		}
		if m, err := a.asked.At(s); err == nil {
			a.others = append(a.others, m)
		}
		break
	}
	low, high := a.claimed.Band()
	for _, l := range alloy.Lookalikes() {
		if least, most := l.Band(); l.Typical > 0 && most >= low && least <= high {
			m, err := a.asked.Named(l.Key)
			if err != nil {
				return err
			}
			a.others = append(a.others, m)
		}
	}
	if len(a.others) == 0 {
		return bad("against", "Say what it is to be told from: 585, silver 925, tungsten.", "the tables hold no neighbour of %s", a.asked.Words)
	}
	return nil
}

func sameBand(m determination.Material, low, high float64) bool {
	ownLow, ownHigh := m.Band()
	return low == ownLow && high == ownHigh
}

func ppt(f float64) string { return strconv.FormatFloat(math.Round(1e5*f)/100, 'f', -1, 64) }

// plan is all of a plan but the chances of each finding, with what the weighing is expected to give.
func (a *asking) plan() (*Plan, expectation, error) {
	p := &Plan{
		Station: a.Station, Claim: a.asked.Words, MassG: a.MassG, Repeats: a.Repeats, Rule: a.asked.Rule.Title(), Density: a.rho,
		ByRepeats: []Repeat{}, Findings: []Chance{}, Improve: []Improvement{}, Finer: []Finer{}, Assumed: []determination.Assumption{},
		Curve: a.curve(a.Repeats),
	}
	e, seen, err := a.expect(a.MassG, a.rho, a.Repeats)
	if err != nil {
		return nil, e, err
	}
	p.TooSmall = !seen
	if seen {
		p.U, p.Expanded = e.u*a.rho*a.rho, e.expanded
		p.Assumed = append(p.Assumed, e.answer.Assumed...)
		for n := 1; n <= 10; n++ {
			r, _, err := a.expect(a.MassG, a.rho, n)
			if err != nil {
				return nil, e, err
			}
			p.ByRepeats = append(p.ByRepeats, Repeat{n, r.expanded})
		}
		f, _, err := a.expect(a.MassG, a.rho, manyRepeats)
		if err != nil {
			return nil, e, err
		}
		p.Floor = f.expanded
		p.Improve = improvements(e)
	}
	if err := a.questions(p, e, seen); err != nil {
		return nil, e, err
	}
	if err := a.finer(p); err != nil {
		return nil, e, err
	}
	p.Sentence = a.sentence(p)
	return p, e, nil
}

// curve is the expected interval against the mass.
func (a *asking) curve(n int) func(float64) float64 {
	return func(grams float64) float64 {
		if k := a.Draft.Balance; k.CapacityG != nil && grams > *k.CapacityG {
			return math.NaN()
		}
		e, seen, err := a.expect(grams, a.rho, n)
		if err != nil || !seen {
			return math.NaN()
		}
		return e.expanded
	}
}

// finer plans for balances with the next two finer scale intervals. Their repeatability is what is
// taken for such an interval, or the station's own where that is better.
func (a *asking) finer(p *Plan) error {
	d := math.Pow(10, math.Ceil(math.Log10(a.d)-1e-9))
	for range 2 {
		d = math.Round(d/10*1e9) / 1e9
		if d < 1e-5 || a.MassG > mostIntervals*d {
			break // hardly anybody has it
		}
		q := a.Question
		draft := *a.Draft
		interval := d // the curve asks for it later
		balance := determination.Balance{ResolutionG: &interval, Zero: draft.Balance.Zero}
		draft.Balance = &balance
		inAir, immersed := determination.StatedRepeatability(&draft)
		if a.sAir < inAir || a.sLiq < immersed {
			inAir, immersed = math.Min(a.sAir, inAir), math.Min(a.sLiq, immersed)
			balance.RepeatabilityG, balance.RepeatabilityLiquidG, balance.RepeatabilityDof = &inAir, &immersed, a.Draft.Balance.RepeatabilityDof
		}
		q.Draft = &draft
		b, err := newBench(&draft)
		if err != nil {
			return err
		}
		other := &asking{Question: q, bench: b, asked: a.asked, claimed: a.claimed, others: a.others, rho: a.rho}
		e, seen, err := other.expect(a.MassG, a.rho, a.Repeats)
		if err != nil {
			return err
		}
		f := Finer{ResolutionG: d, Expanded: e.expanded, Answers: make([]string, 0, len(a.others)), Curve: other.curve(a.Repeats)}
		for i := range p.Questions {
			f.Answers = append(f.Answers, other.answer(p.Questions[i], a.others[i], e, seen))
		}
		p.Finer = append(p.Finer, f)
	}
	return nil
}
