package determination

import (
	"errors"
	"math"
	"slices"
	"sync"

	"wreath/fault"
	"wreath/hydrostatic"
	"wreath/quantity"
	"wreath/uncertainty"
)

const (
	coverage     = 0.95
	fitsWithin   = 2.58 // standard uncertainties: 99 % of a normal distribution
	densestKnown = 22.6 // g/cm³, osmium
)

// sheets are work sheets to use again: a determination in a batch then allocates its answer only.
var sheets = sync.Pool{New: func() any { return new(evaluation) }}

// FormulasEdition names the edition of the formulas built into this program. It moves with every
// change that moves a printed digit of any answer.
const FormulasEdition = "2026-11.3"

// TablesEdition names the edition of the tables and rules built into this program.
const TablesEdition = "2026-11.3"

// Evaluate turns a draft into an answer. It changes nothing of the draft and knows no clock: the
// same draft always gives the same answer. An *InputError names the field at fault.
func Evaluate(d *Draft, o Options) (*Answer, error) {
	e := sheets.Get().(*evaluation)
	defer e.putBack()
	e.start(d, o)
	if err := e.prepare(); err != nil {
		return nil, err
	}
	if err := e.plausible(); err != nil {
		return nil, e.withProposal(err)
	}
	if err := e.measure(o); err != nil {
		return nil, err
	}
	e.closing()
	e.stonesSeen()
	if err := e.judge(o); err != nil {
		return nil, err
	}
	e.cautions()
	return e.answer, nil
}

// start lays out an empty answer.
func (e *evaluation) start(d *Draft, o Options) {
	e.draft, e.answer = d, &Answer{ID: d.ID, Program: Program{Version: o.Version, Formulas: FormulasEdition, Tables: TablesEdition}}
	e.answer.NeverExcluded = []string{}
	e.answer.Candidates, e.answer.Doubts, e.answer.Excluded, e.answer.Assumed, e.answer.Cautions = make([]Candidate, 0, 40), []Doubt{}, []Doubt{}, make([]Assumption, 0, 12), []string{}
	if d.Item != nil {
		e.answer.Item = d.Item.Description
	}
	if e.faults == nil {
		e.faults = new(fault.Engine)
	}
}

// putBack clears the sheet for its next use; its lists keep their room.
func (e *evaluation) putBack() {
	*e = evaluation{inputs: e.inputs[:0], members: e.members[:0], leaves: e.leaves[:0], pieces: e.pieces[:0], workspaces: e.workspaces, linear: e.linear,
		faults: e.faults, faultCase: e.faultCase, recipes: e.recipes, figures: e.figures, weighed: e.weighed}
	sheets.Put(e)
}

// plausible refuses readings from which no density follows.
func (e *evaluation) plausible() error {
	x := e.values()
	var out [outputs]float64
	a := e.slots[0].sum(x)
	last := e.sets[len(e.sets)-1]
	switch e.method {
	case "immersion", "comparison":
		lost := e.lost(a, x)
		if !e.standing {
			b := e.slots[1].sum(x)
			if b > a {
				return bad("liquid_g", "Were air_g and liquid_g swapped?", "the item is heavier in the liquid (%.10g g) than in air (%.10g g)", b, a)
			}
			if lost < e.resolution/2 {
				return bad("liquid_g", "The item is too small for this balance: use a finer one, or weigh several like items together.",
					"the item loses no weight in the liquid that this balance can see (scale interval %g g)", e.resolution)
			}
		} else if lost > 0.98*a && a > 0 {
			return bad("gain_g", "Hang the item free of the bottom and the wall; gain_g is the rise of the vessel's reading, not the item's weight.",
				"the gain (%.10g g) is as large as the weight in air (%.10g g): the item rests on the bottom, or floats", lost, a)
		}
		if e.method == "comparison" {
			ra, rl := e.slots[2].sum(x), e.slots[3].sum(x)
			if rl >= ra {
				return bad("reference.liquid_g", "Were the two readings of the reference swapped?", "the reference is not lighter in the liquid (%.10g g) than in air (%.10g g)", rl, ra)
			}
		}
	case "sinker-aided":
		if lost := a - (e.slots[1].sum(x) - e.slots[2].sum(x)); lost <= 0 {
			return bad("sinker_liquid_g", "liquid_g is item and sinker together, sinker_liquid_g the sinker alone.", "item and sinker together are heavier in the liquid than the item in air and the sinker in the liquid")
		}
	case "coated":
		if e.slots[1].sum(x) < a {
			return bad("coated_air_g", "Were the bare and the coated reading swapped?", "the coated item (%.10g g) is lighter than the bare one (%.10g g)", e.slots[1].sum(x), a)
		}
		if e.slots[2].sum(x) >= e.slots[1].sum(x) {
			return bad("liquid_g", "Were the readings swapped?", "the coated item is not lighter in the liquid than in air")
		}
	case "impregnated":
		if e.slots[1].sum(x) < a {
			return bad("impregnated_air_g", "Were the dry and the impregnated reading swapped?", "the impregnated item (%.10g g) is lighter than the dry one (%.10g g)", e.slots[1].sum(x), a)
		}
		if e.slots[2].sum(x) >= e.slots[1].sum(x) {
			return bad("liquid_g", "Were the readings swapped?", "the impregnated item is not lighter in the liquid than in air")
		}
	case "pycnometer":
		empty, sample, both, liquid := e.slots[0].sum(x), e.slots[1].sum(x), e.slots[2].sum(x), e.slots[3].sum(x)
		switch {
		case sample <= empty:
			return bad("with_sample_g", "Were empty_g and with_sample_g swapped?", "the pycnometer with the sample (%.10g g) is not heavier than empty (%.10g g)", sample, empty)
		case liquid <= empty:
			return bad("liquid_only_g", "Were empty_g and liquid_only_g swapped?", "the pycnometer with liquid (%.10g g) is not heavier than empty (%.10g g)", liquid, empty)
		case (liquid-empty)-(both-sample) <= 0:
			return bad("with_sample_and_liquid_g", "Were with_sample_and_liquid_g and another reading swapped?", "the sample displaces no liquid")
		}
	}
	e.model(x, out[:])
	rho := 1 / out[outV20]
	if math.IsNaN(rho) || math.IsInf(rho, 0) || rho <= 0 {
		return bad(last.field, "Check each reading and its unit.", "no density follows from these readings")
	}
	if err := hydrostatic.CheckDensity(quantity.GramsPerCm3(rho)); err != nil {
		hint := "Check each reading, its unit, and which liquid it was."
		var w *hydrostatic.WeighingError
		if errors.As(err, &w) {
			return &InputError{Path: last.field, Reason: w.Reason, Hint: w.Hint}
		}
		return bad(last.field, hint, "%v", err)
	}
	return nil
}

func (e *evaluation) values() []float64 {
	x := make([]float64, len(e.inputs))
	for i, in := range e.inputs {
		x[i] = in.Value
	}
	return x
}

// measure propagates the inputs to the density and its companions.
func (e *evaluation) measure(o Options) error {
	p := &e.linear
	if err := p.Linearise(e.inputs, e.model, outputs); err != nil {
		return err
	}
	a := e.answer
	at20, err := p.Budget(outV20, coverage)
	if err != nil {
		return err
	}
	a.LiquidDensityKgM3, a.LiquidDensityUKgM3 = p.Y(outLiquid), p.U(outLiquid)
	a.AirDensityKgM3 = e.inputs[e.airRho].Value
	a.VolumeCm3, a.VolumeUCm3 = p.Y(outVolume), p.U(outVolume)
	a.TrueMassG, a.TrueMassUG = p.Y(outMass), p.U(outMass)
	if e.method == "impregnated" {
		porosity := p.Y(outPorosity)
		a.OpenPorosity = &porosity
	}
	first := uncertainty.Budget{Y: p.Y(outV), U: p.U(outV), Dof: p.Dof(outV)}
	first.K = at20.K
	if first.Dof != at20.Dof {
		first.K = uncertainty.StudentQuantile((1+coverage)/2, first.Dof)
	}
	first.Expanded = first.K * first.U
	a.Density, a.Density20C = density(first, e.liquidC), density(at20, 20)
	e.v20 = at20
	e.budget(at20)
	if o.NumbersOnly || o.MonteCarlo == WhereNeeded && e.nearlyLinear(at20) {
		return nil
	}
	return e.propagate(at20, o)
}

// nearlyLinear is true where the first-order interval is sure to hold: a small uncertainty that is
// well known, of inputs none of which is flat and large, and a temperature known so well that the
// bend of the liquid's density does not matter.
func (e *evaluation) nearlyLinear(b uncertainty.Budget) bool {
	if b.U > 0.01*b.Y || b.Dof < 50 {
		return false
	}
	flat := 0.0
	for _, r := range b.Rows {
		if r.Dist == uncertainty.Rectangular || r.Dist == uncertainty.Triangular {
			flat += r.Share
		}
	}
	swing := 2 * e.inputs[e.liquidT].U
	bend := math.Abs(e.rho2) * swing * swing / e.rho0
	return flat < 0.3 && bend < 0.02*b.U/b.Y
}

// density writes a budget of specific volume as a density.
func density(b uncertainty.Budget, celsius float64) Density {
	rho := 1000 / b.Y
	d := Density{KgM3: rho, UKgM3: rho * b.U / b.Y, K: b.K, Dof: finite(b.Dof), IntervalBy: "first-order", TemperatureC: celsius}
	d.UExpanded = d.K * d.UKgM3
	d.LowKgM3 = 1000 / (b.Y + b.Expanded)
	d.HighKgM3 = upper(b.Y - b.Expanded)
	return d
}

// upper is the density at the lower end of an interval of specific volume, nil where that end is
// beyond everything that exists.
func upper(v float64) *float64 {
	if v*densestKnown < 0.5 {
		return nil
	}
	high := 1000 / v
	return &high
}

func finite(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	return &x
}

func (e *evaluation) budget(b uncertainty.Budget) {
	rho := 1000 / b.Y
	rows := make([]BudgetRow, 0, len(b.Rows))
	for _, r := range b.Rows {
		rows = append(rows, BudgetRow{
			Input: r.Name, Value: r.Value, U: r.U, Unit: r.Unit, Distribution: r.Dist.String(), Dof: finite(r.Nu()),
			Sensitivity: r.Sensitivity, Contribution: math.Abs(r.Sensitivity*r.U) * rho / b.Y, Share: r.Share,
		})
	}
	slices.SortStableFunc(rows, func(a, b BudgetRow) int {
		switch {
		case a.Share > b.Share:
			return -1
		case a.Share < b.Share:
			return 1
		}
		return 0
	})
	e.answer.Budget = rows
}

// propagate puts the Monte Carlo interval beside the first-order one, and in its place where the
// two disagree (JCGM 101:2008 8.1).
func (e *evaluation) propagate(b uncertainty.Budget, o Options) error {
	points := 0 // the usual number
	if o.MonteCarlo == WhereNeeded {
		points = 256
	}
	r, err := uncertainty.Propagate(e.inputs, e.specificVolume, uncertainty.Options{P: coverage, Points: points})
	if err != nil {
		// Some inputs can take values for which there is no density: the lost weight may be nothing.
		e.suspend("the weighing says next to nothing", "Use a finer balance, a larger item, or find out why the readings differ.",
			"the uncertainty of the readings is as large as the weight lost in the liquid")
		return nil
	}
	d := &e.answer.Density20C
	mc := &MonteCarlo{LowKgM3: 1000 / r.High, HighKgM3: upper(r.Low), Points: r.Points}
	if !math.IsInf(r.U, 0) && !math.IsNaN(r.U) {
		u := 1000 * r.U / (b.Y * b.Y)
		mc.UKgM3 = &u
	}
	e.answer.MonteCarlo = mc
	if mc.HighKgM3 == nil || d.HighKgM3 == nil {
		mc.Validated = mc.HighKgM3 == d.HighKgM3
	} else {
		mc.Validated = uncertainty.Validate(b, r, 1).OK
	}
	if mc.Validated {
		return nil
	}
	for _, d := range []*Density{&e.answer.Density, &e.answer.Density20C} {
		// Both temperatures share the shape; the ends move in proportion.
		scale := d.KgM3 * b.Y / 1000
		d.IntervalBy = "monte-carlo"
		d.LowKgM3 = scale * mc.LowKgM3
		d.HighKgM3 = nil
		if mc.HighKgM3 != nil {
			high := scale * *mc.HighKgM3
			d.HighKgM3 = &high
			d.UExpanded = (high - d.LowKgM3) / 2
			d.K = d.UExpanded / d.UKgM3
		}
	}
	return nil
}

func (e *evaluation) specificVolume(x []float64) float64 {
	var out [outputs]float64
	e.model(x, out[:])
	return out[outV20]
}

// stonesSeen holds every finding on a metal back when stones are set in it: the density is that of
// the whole, and the fineness that of nothing.
func (e *evaluation) stonesSeen() {
	item, claim := e.draft.Item, e.draft.Claim
	if item == nil || item.Stones == nil || !*item.Stones || claim != nil && claim.Stone != "" || item.stonesKnown() {
		return
	}
	e.suspendStones()
}

// closing compares the closing weighing in air with the first.
func (e *evaluation) closing() {
	if len(e.draft.ClosingAirG) == 0 || len(e.draft.AirG) == 0 {
		return
	}
	first, s1 := mean(e.draft.AirG)
	last, s2 := mean(e.draft.ClosingAirG)
	u1, _, _ := e.repeatability("air reading", len(e.draft.AirG), s1, false)
	u2, _, _ := e.repeatability("closing reading in air", len(e.draft.ClosingAirG), s2, false)
	u := math.Sqrt(u1*u1 + u2*u2 + e.resolution*e.resolution/3)
	switch {
	case math.Abs(last-first) <= 3*u:
	case last > first:
		e.suspend(causeUptake, "Dry the item and weigh it in air again.",
			"the closing weighing in air is %s g heavier than the first (3 u is %s g)", plain(last-first, 2), plain(3*u, 2))
	default:
		e.suspend(causeLighter, "Set the balance to zero and weigh the dry item again.",
			"the closing weighing in air is %s g lighter than the first (3 u is %s g)", plain(first-last, 2), plain(3*u, 2))
	}
}
