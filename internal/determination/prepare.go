package determination

import (
	"math"

	"wreath/alloy"
	"wreath/fault"
	"wreath/fluid"
	"wreath/hydrostatic"
	"wreath/mint"
	"wreath/quantity"
	"wreath/uncertainty"
)

// evaluation is the work sheet of one determination: the draft, the model's inputs in order,
// and the answer as it grows.
type evaluation struct {
	draft  *Draft
	answer *Answer

	method   string
	standing bool

	inputs []uncertainty.Input
	sets   []readingSet
	slots  [4]slot // the inputs of each set

	liquidC          float64 // temperature of the liquid, °C
	rho0, rho1, rho2 float64 // its density near there: a parabola in the temperature, kg/m³
	liquidErrors     [8]int
	nLiquidErrors    int
	pressure         quantity.Pressure

	liquidT, airRho, rise, expansion, filler, span int // places of inputs, -1 where there is none
	referenceExpansion                             float64
	adjustmentAir                                  float64 // kg/m³

	balance              Balance
	resolution           float64
	zeroRead             bool
	linearity            float64
	surfaceU             float64
	repeatabilityAssumed bool
	proof                proofState
	parted               bool // the whole is of several materials: faults are not sought in its density
	check                checked
	faults               *fault.Engine
	faultCase            fault.Case
	recipes              map[recipe][]fault.Node
	weighed              fault.Weighing
	second               fault.Another
	secondRho, secondU   float64 // density of the second liquid and its standard uncertainty, g/cm³
	judged               bool    // the faults were weighed against the readings
	blind                bool    // and only the readings: their density is that of nothing in the tables
	sound                float64 // the chance that nothing is wrong with what was weighed
	unsure               bool    // the finding is held back because something may be wrong
	lenient              bool    // readings that can't be are let pass, to find out what was meant
	v20                  uncertainty.Budget
	fits, k2             float64 // what fits, and the range, in standard uncertainties
	observation          alloy.Observation
	members              []member
	leaves               []leaf
	figures              []float64 // of the leaves, while they are shared out
	pieces               []piece
	coinType             *mint.Type
	workspaces           []*alloy.Workspace
	linear               uncertainty.Linear
}

// prepare checks the draft and lays out the model's inputs.
func (e *evaluation) prepare() error {
	d := e.draft
	if err := firstError(d.checkConditions(), d.checkItem(), d.checkStopRule(), d.checkAtHand(), d.checkActs(), d.checkDone(), d.checkSecondLiquid()); err != nil {
		return err
	}
	e.method = d.Method
	if e.method == "" {
		e.method = "immersion"
	}
	e.standing = d.Arrangement == "standing"
	if e.standing && e.method != "immersion" {
		return bad("arrangement", "Leave the arrangement out, or weigh by plain immersion.", "%s is weighed with the item hanging, not standing", e.method)
	}
	if len(d.ClosingAirG) > 0 && !e.closable() {
		return bad("closing_air_g", "Leave it out.", "the item is not as it was at first once it is %s", map[string]string{"coated": "coated", "impregnated": "full of oil", "pycnometer": "wet in the pycnometer"}[e.method])
	}
	if d.Arrangement == "" {
		switch {
		case e.method == "immersion" && len(d.GainG) > 0 && len(d.LiquidG) == 0:
			e.standing = true
		case e.method == "immersion" || e.method == "comparison":
			e.assume("arrangement", "readings named liquid_g are of an item that hangs from the balance", "hanging")
		}
	}
	e.answer.Method = e.method
	if e.method == "immersion" || e.method == "comparison" {
		e.answer.Method += ", hanging"
		if e.standing {
			e.answer.Method = e.method + ", standing"
		}
	}
	e.pressure = 101325
	e.liquidT, e.airRho, e.rise, e.expansion, e.filler, e.span = -1, -1, -1, -1, -1, -1
	if d.Balance != nil {
		e.balance = *d.Balance
	}
	e.sets = e.readingSets()
	if err := e.checkAllReadings(); err != nil {
		return err
	}
	if err := e.checkGroups(); err != nil {
		return err
	}
	e.describeBalance()
	e.doubtDigits()
	if err := e.air(); err != nil {
		return err
	}
	if err := e.liquid(); err != nil {
		return err
	}
	if err := e.describeSurface(); err != nil {
		return err
	}
	if err := e.proveLiquid(); err != nil {
		return err
	}
	e.layOutReadings()
	if err := e.describeFiller(); err != nil {
		return err
	}
	if err := e.describeRise(); err != nil {
		return err
	}
	e.describeExpansion()
	return nil
}

// readingSet is one set of readings that a method needs.
type readingSet struct {
	field    string
	name     string // as its rows in the budget are called
	readings []Reading
	immersed bool
	negative bool // may be negative: an item that floats
}

// readingSets lists the readings of the method in the order of its slots.
func (e *evaluation) readingSets() []readingSet {
	d := e.draft
	immersed := readingSet{"liquid_g", "immersed reading", d.LiquidG, true, false}
	if e.standing {
		immersed = readingSet{"gain_g", "gain reading", d.GainG, true, false}
	}
	air := readingSet{"air_g", "air reading", d.AirG, false, false}
	switch e.method {
	case "sinker-aided":
		return []readingSet{air, {"liquid_g", "item and sinker immersed", d.LiquidG, true, true}, {"sinker_liquid_g", "sinker immersed", d.SinkerLiquidG, true, true}}
	case "coated":
		return []readingSet{air, {"coated_air_g", "coated reading in air", d.CoatedAirG, false, false}, {"liquid_g", "coated reading immersed", d.LiquidG, true, true}}
	case "impregnated":
		return []readingSet{air, {"impregnated_air_g", "impregnated reading in air", d.ImpregnatedAirG, false, false}, {"liquid_g", "impregnated reading immersed", d.LiquidG, true, false}}
	case "pycnometer":
		return []readingSet{
			{"empty_g", "pycnometer empty", d.EmptyG, false, false}, {"with_sample_g", "pycnometer with sample", d.WithSampleG, false, false},
			{"with_sample_and_liquid_g", "pycnometer with sample and liquid", d.WithSampleAndLiquidG, true, false}, {"liquid_only_g", "pycnometer with liquid", d.LiquidOnlyG, true, false},
		}
	case "comparison":
		r := d.Reference
		if r == nil {
			r = &Reference{}
		}
		return []readingSet{air, immersed, {"reference.air_g", "reference in air", r.AirG, false, false}, {"reference.liquid_g", "reference immersed", r.LiquidG, true, false}}
	}
	return []readingSet{air, immersed}
}

func (e *evaluation) checkAllReadings() error {
	for _, other := range [...]readingSet{
		{field: "gain_g", readings: e.draft.GainG}, {field: "liquid_g", readings: e.draft.LiquidG}, {field: "air_g", readings: e.draft.AirG},
		{field: "sinker_liquid_g", readings: e.draft.SinkerLiquidG}, {field: "coated_air_g", readings: e.draft.CoatedAirG},
		{field: "impregnated_air_g", readings: e.draft.ImpregnatedAirG}, {field: "empty_g", readings: e.draft.EmptyG},
		{field: "with_sample_g", readings: e.draft.WithSampleG}, {field: "with_sample_and_liquid_g", readings: e.draft.WithSampleAndLiquidG}, {field: "liquid_only_g", readings: e.draft.LiquidOnlyG},
	} {
		if len(other.readings) > 0 && !e.uses(other.field) {
			return bad(other.field, "Leave it out, or name the method and arrangement that it belongs to.",
				"does not belong to %s", e.answer.Method)
		}
	}
	for _, s := range e.sets {
		if e.lenient && len(s.readings) > 0 {
			continue
		}
		if err := checkReadings(s.field, s.readings, e.balance.CapacityG, s.negative); err != nil {
			return err
		}
	}
	if e.draft.ClosingAirG != nil && !e.lenient {
		return checkReadings("closing_air_g", e.draft.ClosingAirG, e.balance.CapacityG, false)
	}
	return nil
}

// checkGroups refuses groups of fields that belong to another method.
func (e *evaluation) checkGroups() error {
	if e.draft.Coating != nil && e.method != "coated" && e.method != "impregnated" {
		return bad("coating", "Leave it out, or name the method: coated or impregnated.", "does not belong to %s", e.answer.Method)
	}
	if e.draft.Reference != nil && e.method != "comparison" {
		return bad("reference", "Leave it out, or name the method: comparison.", "does not belong to %s", e.answer.Method)
	}
	return nil
}

func (e *evaluation) uses(field string) bool {
	for _, s := range e.sets {
		if s.field == field {
			return true
		}
	}
	return false
}

// describeBalance fills in what the draft does not say of the balance.
func (e *evaluation) describeBalance() {
	b := e.balance
	e.resolution = or(b.ResolutionG, 0)
	if b.ResolutionG == nil {
		for _, s := range e.sets {
			for _, r := range s.readings {
				if r.Interval > 0 && (e.resolution == 0 || r.Interval < e.resolution) {
					e.resolution = r.Interval
				}
			}
		}
		if e.resolution == 0 {
			e.resolution = 0.01
		}
		e.assume("balance.resolution_g", "the digits of the readings", "scale interval %g g", e.resolution)
	}
	if b.RepeatabilityG == nil {
		e.repeatabilityAssumed = true
		e.assume("balance.repeatability_g", "common practice, known to a third of itself; weigh one item ten times to have your own",
			"standard deviation %.2g g in air, %.2g g immersed", defaultRepeatability(e.resolution, false), defaultRepeatability(e.resolution, true))
	}
	e.zeroRead = b.Zero == "read"
	e.linearity = or(b.LinearityG, 0)
	e.adjustmentAir = or(b.AdjustmentAirKgM3, 1.2)
	if b.SpanUPpm != nil && *b.SpanUPpm > 0 {
		e.span = e.input("balance: span, common to all readings", "1", 1, *b.SpanUPpm*1e-6, uncertainty.Normal, 0)
	}
}

// doubtDigits notes readings that the balance named can't have shown.
func (e *evaluation) doubtDigits() {
	for _, s := range e.sets {
		for _, r := range s.readings {
			if r.Interval > 0 && r.Interval < 0.5*e.resolution {
				e.doubt(causeInterval, "Check balance.resolution_g against the display.",
					"%s %s has finer digits than the scale interval of %g g", s.field, r.Text, e.resolution)
				return
			}
			if math.Abs(r.Gram) > 2e7*e.resolution {
				e.doubt(causeUnits, "Check the unit of the readings and balance.resolution_g.",
					"%s of %g g on a scale interval of %g g: no balance has such a range", s.field, r.Gram, e.resolution)
				return
			}
		}
	}
}

// describeSurface sets the standard uncertainty of the force of the surface on the wires.
func (e *evaluation) describeSurface() error {
	h := e.draft.Hanger
	switch {
	case e.method == "pycnometer":
	case h != nil && h.SurfaceUG != nil:
		e.surfaceU = *h.SurfaceUG
	case h != nil && h.WireDiameterMM != nil:
		wires := 1
		if h.Wires != nil {
			wires = *h.Wires
		}
		one, err := hydrostatic.MeniscusPull(quantity.Length(*h.WireDiameterMM), e.surfaceTension(), 0)
		if err != nil {
			return at("hanger.wire_diameter_mm", err)
		}
		pull := one.Gram() * float64(wires)
		e.surfaceU = 0.05 * pull / math.Sqrt(3)
		e.assume("hanger.surface_u_g", "a wire tared wet; the meniscus changes by 5 to 20 % of its pull where it is not; common practice",
			"surface force on the wire changes by up to ±%.2g mg (5 %% of its pull)", 50*pull)
	case e.balance.RepeatabilityLiquidG != nil || e.repeatabilityAssumed:
		// The immersed repeatability holds it.
	default:
		e.surfaceU = 0.00025 / math.Sqrt(3)
		e.assume("hanger.wire_diameter_mm", "5 % of the pull on a wire of 0.2 mm in water", "surface force on the wire changes by up to ±0.25 mg")
	}
	return nil
}

// surfaceTension is that of the liquid in mN/m, roughly: it sets the size of a small term.
func (e *evaluation) surfaceTension() float64 {
	if e.draft.Liquid != nil && e.draft.Liquid.Kind == "ethanol-water" {
		return 30
	}
	if gamma, err := fluid.WaterSurfaceTension(quantity.Temperature(e.liquidC)); err == nil {
		return gamma
	}
	return 73
}

func (e *evaluation) layOutReadings() {
	for i, s := range e.sets {
		e.slots[i] = e.readings(s.name, s.readings, s.immersed)
	}
}

// describeFiller adds the density of what the method needs beside the liquid.
func (e *evaluation) describeFiller() error {
	field, name := "coating", "density of the coating"
	var rho, u *float64
	switch e.method {
	case "coated", "impregnated":
		if e.method == "impregnated" {
			name = "density of the oil"
		}
		if c := e.draft.Coating; c != nil {
			rho, u = c.DensityKgM3, c.DensityUKgM3
		}
	case "comparison":
		field, name = "reference", "density of the reference solid"
		e.referenceExpansion = 48e-6
		if r := e.draft.Reference; r != nil {
			rho, u = r.DensityKgM3, r.DensityUKgM3
			e.referenceExpansion = or(r.ExpansionK, 48e-6)
			if r.ExpansionK == nil {
				e.assume("reference.expansion_per_k", "austenitic steel", "48e-6 per K")
			}
		}
	default:
		return nil
	}
	if rho == nil {
		return bad(field+".density_kg_m3", "Give its density in kg/m³.", "is missing")
	}
	if u == nil {
		half := 0.01 * *rho
		u = &half
		e.assume(field+".density_u_kg_m3", "chosen here: a hundredth of the density", "standard uncertainty %.3g kg/m³", half)
	}
	if err := firstError(within(field+".density_kg_m3", rho, 100, 23000, "kg/m³"), within(field+".density_u_kg_m3", u, 0, 5000, "kg/m³")); err != nil {
		return err
	}
	e.filler = e.input(name, "kg/m³", *rho, *u, uncertainty.Normal, 0)
	return nil
}

// describeRise adds the rise of the liquid along the wires.
func (e *evaluation) describeRise() error {
	if e.method == "pycnometer" || e.method == "comparison" {
		return nil
	}
	h := e.draft.Hanger
	if h == nil || h.WireDiameterMM == nil || h.VesselDiameterMM == nil {
		// Between nothing and one 0.5 mm wire in a 60 mm beaker.
		e.rise = e.input("rise of the liquid along the wires", "1", 3.5e-5, 2e-5, uncertainty.Rectangular, 0)
		e.assume("hanger.vessel_diameter_mm", "a wire of up to 0.5 mm in a beaker of 60 mm", "the liquid rises along the wire by 35 ± 35 ppm of the item's volume")
		return nil
	}
	wires := 1
	if h.Wires != nil {
		wires = *h.Wires
	}
	kappa, err := hydrostatic.WireRise(quantity.Length(*h.WireDiameterMM), wires, quantity.Length(*h.VesselDiameterMM))
	if err != nil {
		return at("hanger.wire_diameter_mm", err)
	}
	// Standard uncertainties of 0.02 mm in the wire and 0.5 mm in the vessel; chosen here.
	u := kappa * math.Hypot(2*0.02/math.Max(*h.WireDiameterMM, 0.02), 2*0.5 / *h.VesselDiameterMM)
	e.rise = e.input("rise of the liquid along the wires", "1", kappa, u, uncertainty.Normal, 0)
	return nil
}

// describeExpansion adds the cubic expansion of the item.
func (e *evaluation) describeExpansion() {
	d := e.draft
	gamma, u := 45e-6, 10e-6
	switch {
	case d.ExpansionPerK != nil:
		gamma, u = *d.ExpansionPerK, or(d.ExpansionUPerK, 0.1**d.ExpansionPerK)
	case d.Claim != nil && d.Claim.Stone != "":
		gamma, u = 20e-6, 12e-6
		e.assume("expansion_per_k", "between diamond and quartz", "20e-6 ± 12e-6 per K")
	default:
		e.assume("expansion_per_k", "between platinum (26e-6) and silver (57e-6)", "45e-6 ± 10e-6 per K")
	}
	e.expansion = e.input("expansion of the item", "1/K", gamma, u, uncertainty.Normal, 0)
}
