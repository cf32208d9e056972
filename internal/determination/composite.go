package determination

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"wreath/alloy"
	"wreath/composite"
	"wreath/gem"
	"wreath/uncertainty"
)

// StonesSet are stones of one kind and size that are set in the metal.
type StonesSet struct {
	Number     *int     `json:"number" doc:"how many; 1 unless said"`
	Species    string   `json:"species" doc:"which stone, as wreath materials stones lists them"`
	DiameterMM *float64 `json:"diameter_mm" doc:"diameter of a round stone in a brilliant cut"`
	DepthMM    *float64 `json:"depth_mm" doc:"its depth from table to culet; 0.61 of the diameter unless said"`
	SizeUMM    *float64 `json:"size_u_mm" doc:"standard uncertainty of diameter and depth; 0.05 mm unless said"`
	CaratEach  *float64 `json:"carat_each" doc:"instead of a size: mass of one stone in carats (0.2 g)"`
	CaratUEach *float64 `json:"carat_u_each" doc:"its standard uncertainty; a twentieth unless said"`
}

// Layers are a core under a plate of another metal.
type Layers struct {
	Core              string   `json:"core" doc:"material of the core: a metal, an alloy such as silver 925, or a look-alike"`
	CoreDensityKgM3   *float64 `json:"core_density_kg_m3" doc:"instead of a material: density of the core"`
	CoreDensityUKgM3  *float64 `json:"core_density_u_kg_m3" doc:"standard uncertainty of the core's density"`
	Plate             string   `json:"plate" doc:"material of the plate; what is claimed unless said"`
	PlateDensityKgM3  *float64 `json:"plate_density_kg_m3" doc:"instead of a material: density of the plate"`
	PlateDensityUKgM3 *float64 `json:"plate_density_u_kg_m3" doc:"standard uncertainty of the plate's density"`
	AreaCm2           *float64 `json:"area_cm2" doc:"whole surface, for the mean thickness of the plate"`
	AreaUCm2          *float64 `json:"area_u_cm2" doc:"its standard uncertainty; a twentieth unless said"`
}

// Quartz is native gold in quartz.
type Quartz struct {
	DensityKgM3      *float64 `json:"density_kg_m3" doc:"density of the rock; quartz, 2650, unless said"`
	DensityUKgM3     *float64 `json:"density_u_kg_m3" doc:"its standard uncertainty; 20 unless said"`
	GoldDensityKgM3  *float64 `json:"gold_density_kg_m3" doc:"density of the native gold; 17 500 unless said"`
	GoldDensityUKgM3 *float64 `json:"gold_density_u_kg_m3" doc:"its standard uncertainty; 900 unless said"`
}

// Composite is an item of several materials, or the reason why it can't be told apart.
type Composite struct {
	Kind     string          `json:"kind" doc:"stones, hollow, layers, quartz or heap"`
	Refused  string          `json:"refused,omitempty" doc:"why no parts are given"`
	Parts    []CompositePart `json:"parts,omitempty" doc:"mass and volume of each part"`
	Curve    []TradeOff      `json:"curve,omitempty" doc:"stones of unknown mass: what the metal is for each mass of stones"`
	Sentence string          `json:"sentence" doc:"in words"`
}

// CompositePart is one part of a composite item.
type CompositePart struct {
	Name        string  `json:"name" doc:"what it is"`
	MassG       float64 `json:"mass_g" doc:"mass"`
	MassUG      float64 `json:"mass_u_g" doc:"its standard uncertainty"`
	VolumeCm3   float64 `json:"volume_cm3" doc:"volume"`
	VolumeUCm3  float64 `json:"volume_u_cm3" doc:"its standard uncertainty"`
	DensityKgM3 float64 `json:"density_kg_m3" doc:"density; 0 for a void"`
	Share       float64 `json:"share" doc:"share of the whole mass, 0 to 1; of the volume for a void"`
	Thickness   float64 `json:"thickness_um,omitempty" doc:"plate: mean thickness in µm"`
	ThicknessU  float64 `json:"thickness_u_um,omitempty" doc:"plate: standard uncertainty of the mean thickness in µm"`
}

// TradeOff is one point of the curve of stones against metal.
type TradeOff struct {
	StonesCt         float64 `json:"stones_ct" doc:"mass of the stones in carats"`
	MetalDensityKgM3 float64 `json:"metal_density_kg_m3" doc:"density that the metal then has"`
	MetalUKgM3       float64 `json:"metal_u_kg_m3" doc:"its standard uncertainty"`
}

// The least standard uncertainties of a stone: a thousandth of a millimetre and 20 µg. Nobody measures a
// set stone better; chosen here.
const (
	leastSizeU  = 0.001
	leastCaratU = 0.0001
)

// airGCm3 is what an empty hollow holds, in g/cm³.
const airGCm3 = 0.0012

// severalMaterials is the kind of composite that the item is said to be, "" for none.
func (i *Item) severalMaterials() (kind string, err error) {
	for _, k := range []struct {
		kind, field string
		given       bool
	}{
		{"stones", "item.stones_set", len(i.StonesSet) > 0}, {"layers", "item.layers", i.Layers != nil},
		{"quartz", "item.quartz", i.Quartz != nil}, {"heap", "item.heap", i.Heap != nil && *i.Heap},
	} {
		switch {
		case !k.given:
		case kind != "":
			return "", bad(k.field, "Density gives one equation: describe the item as one kind of composite.", "is given together with %s", kind)
		default:
			kind = k.kind
		}
	}
	if kind == "stones" && i.Stones != nil && !*i.Stones {
		return "", bad("item.stones_set", "Say \"stones\": true, or leave the stones out.", "is given although no stones were seen")
	}
	return kind, nil
}

// stonesKnown is true where number and size of every stone are given, so that they can be taken off.
func (i *Item) stonesKnown() bool {
	for _, s := range i.StonesSet {
		if s.DiameterMM == nil && s.CaratEach == nil {
			return false
		}
	}
	return len(i.StonesSet) > 0
}

// compose takes an item of several materials apart, and judges the metal where the rest is known.
func (e *evaluation) compose(c claim) error {
	item := e.draft.Item
	if item == nil {
		return nil
	}
	kind, err := item.severalMaterials()
	if err != nil {
		return err
	}
	if kind != "" && c.stone != "" {
		return bad("claim.stone", "Claim the metal, or weigh the stone alone.", "is claimed of an item of several materials")
	}
	w := composite.Whole{Mass: e.answer.TrueMassG, SpecificVolume: composite.Estimate{Value: e.v20.Y, U: e.v20.U}}
	switch kind {
	case "stones":
		return e.composeStones(c, w)
	case "layers":
		e.parted = true
		return e.composeLayers(c, w)
	case "quartz":
		e.parted = true
		return e.composeQuartz(w)
	case "heap":
		e.parted = true
		e.suspend(causeHeap, "Weigh each item by itself, or sort them by density first.",
			"the density of a heap is that of no item in it: half 917 and half 375 gold has the density of 585")
		e.answer.Composite = &Composite{Kind: kind, Refused: "the fineness of a heap does not follow from its density",
			Sentence: "Several items were weighed together. Their mean density says nothing of the fineness of any of them."}
		return nil
	}
	if item.Hollow != nil && *item.Hollow && c.fineness > 0 {
		return e.composeHollow(c, w)
	}
	return nil
}

// composeStones takes the stones off; where one kind has no size, it is solved for instead.
func (e *evaluation) composeStones(c claim, w composite.Whole) error {
	item := e.draft.Item
	out := &Composite{Kind: "stones"}
	e.answer.Composite = out
	var known []composite.Stones
	unknown := -1
	for i, row := range item.StonesSet {
		s, sized, err := row.stones(fmt.Sprintf("item.stones_set[%d]", i))
		switch {
		case err != nil:
			return err
		case sized:
			known = append(known, s)
			out.Parts = append(out.Parts, partOf(row.name(), w, s.Mass, s.MassU(), s.Volume, s.VolumeU()))
		case unknown >= 0:
			return bad(fmt.Sprintf("item.stones_set[%d].diameter_mm", i), "Measure the stones of all kinds but one.", "is missing, as it is for another kind")
		default:
			unknown = i
		}
	}
	mass, v, err := composite.Metal(w, known...)
	if err == nil && v.Value < 1/densestKnown {
		err = composite.ErrNothingLeft
	}
	if err != nil {
		return bad("item.stones_set", "Check number, size and unit (carats of 0.2 g, millimetres).",
			"the stones can't be so large: they leave no metal, or metal denser than any (%.4g g of %.4g g)", math.Max(mass.Value, 0), w.Mass)
	}
	if unknown >= 0 {
		return e.solveStones(c, composite.Whole{Mass: mass.Value, SpecificVolume: v}, item.StonesSet[unknown])
	}
	out.Parts = append(out.Parts, partOf("metal", w, mass.Value, mass.U, mass.Value*v.Value, mass.Value*v.U))
	own := w.Mass * w.SpecificVolume.U / mass.Value
	perVolume := v.Value * v.Value
	grams, gramsU := e.printed95(mass.Value, mass.U, 0)
	rho, rhoU := e.printed95(1/v.Value, v.U/perVolume, own/perVolume)
	out.Sentence = fmt.Sprintf("Without its stones the metal weighs %s ± %s g and has %s ± %s g/cm³ (95 %%); the finding is on the metal alone.", grams, gramsU, rho, rhoU)
	e.parted = true
	e.observe(alloy.Observation{V: v.Value, U: v.U, Dof: e.dofOf(v.U, own)})
	return nil
}

// observe judges by another specific volume than that of the whole.
func (e *evaluation) observe(o alloy.Observation) {
	e.observation, e.fits, e.k2 = o, fitsWithin, 2
	if !math.IsInf(o.Dof, 1) {
		e.fits, e.k2 = uncertainty.StudentQuantile(0.995, o.Dof), uncertainty.StudentQuantile(0.97725, o.Dof)
	}
}

// stones reads one row; false where their size is not given.
func (s *StonesSet) stones(at string) (composite.Stones, bool, error) {
	species, ok := gem.ByKey(s.Species)
	if !ok {
		var keys []string
		for _, g := range gem.All() {
			keys = append(keys, g.Key)
		}
		if s.Species == "" {
			return composite.Stones{}, false, bad(at+".species", "wreath materials stones lists them.", "is missing")
		}
		return composite.Stones{}, false, oneOf(at+".species", s.Species, keys...)
	}
	n := 1
	if s.Number != nil {
		n = *s.Number
	}
	if n < 1 || n > 10000 {
		return composite.Stones{}, false, bad(at+".number", "Count the stones of this kind and size.", "%d stones cannot be right", n)
	}
	if s.DiameterMM != nil && s.CaratEach != nil {
		return composite.Stones{}, false, bad(at+".carat_each", "Give the size or the mass of one stone, one of the two.", "is given together with diameter_mm")
	}
	if err := firstError(within(at+".diameter_mm", s.DiameterMM, 0.3, 60, "mm"), within(at+".depth_mm", s.DepthMM, 0.1, 60, "mm"), within(at+".size_u_mm", s.SizeUMM, leastSizeU, 5, "mm"),
		within(at+".carat_each", s.CaratEach, 0.0005, 1000, "ct"), within(at+".carat_u_each", s.CaratUEach, leastCaratU, 200, "ct")); err != nil {
		return composite.Stones{}, false, err
	}
	density := composite.Estimate{Value: species.Typical.GramPerCm3(), U: (species.High.GramPerCm3() - species.Low.GramPerCm3()) / (2 * math.Sqrt(3))}
	count := float64(n)
	switch {
	case s.CaratEach != nil:
		return composite.OfMass(count**s.CaratEach*0.2, or(s.CaratUEach, 0.05**s.CaratEach) / *s.CaratEach, density), true, nil
	case s.DiameterMM != nil:
		d := *s.DiameterMM
		depth, u := or(s.DepthMM, composite.BrilliantDepth*d), or(s.SizeUMM, 0.05)
		volume, shape := composite.Brilliant(d, depth)
		own := math.Hypot(2*u/d, u/depth)
		if s.DepthMM == nil {
			own = math.Hypot(3*u/d, 0.05) // usual depths differ by a twentieth; chosen here
		}
		return composite.OfVolume(count*volume, math.Hypot(shape, own), density), true, nil
	}
	return composite.Stones{}, false, nil
}

func (s *StonesSet) name() string {
	species, _ := gem.ByKey(s.Species)
	if s.Number != nil && *s.Number > 1 {
		return fmt.Sprintf("%d × %s", *s.Number, species.FullName())
	}
	return species.FullName()
}

// solveStones finds how heavy stones of unknown size are should the metal be what is claimed; without a
// claim, what the metal is for each mass of them.
func (e *evaluation) solveStones(c claim, w composite.Whole, row StonesSet) error {
	out := e.answer.Composite
	species, _ := gem.ByKey(row.Species)
	e.suspendStones()
	stone := composite.Estimate{Value: 1 / species.Typical.GramPerCm3()}
	stone.U = stone.Value * (species.High.GramPerCm3() - species.Low.GramPerCm3()) / (2 * math.Sqrt(3) * species.Typical.GramPerCm3())
	if c.fineness > 0 {
		metal, err := e.claimedMetal(c)
		if err != nil {
			return err
		}
		share, err := composite.Share(w, stone, metal, fitsWithin)
		switch {
		case errors.As(err, new(*composite.PartsError)):
			out.Refused = fmt.Sprintf("no %s of any size makes the metal %s: the whole is denser than that, or lighter than the stone", species.FullName(), c.short)
			out.Sentence = "With stones of this kind the metal is not what is claimed, whatever their size."
			return nil
		case err != nil:
			return bad("item.stones_set", "Measure the stones.", "%v", err)
		}
		m, u := share.Value*w.Mass, share.U*w.Mass
		out.Parts = append(out.Parts, partOf(row.name(), w, m, u, m*stone.Value, u*stone.Value),
			partOf(c.short, w, w.Mass-m, u, (w.Mass-m)*metal.Value, u*metal.Value))
		carats, caratsU := e.printed95(m/0.2, u/0.2, e.answer.TrueMassG*e.v20.U/math.Abs(stone.Value-metal.Value)/0.2)
		out.Sentence = fmt.Sprintf("If the metal is %s, the stones weigh %s ± %s ct together (95 %%). Compare that with what their size says.", c.short, carats, caratsU)
		return nil
	}
	for i := range 13 {
		m := w.Mass * 0.03 * float64(i)
		rest, v, err := composite.Metal(w, composite.OfMass(m, 0, composite.Estimate{Value: 1 / stone.Value, U: stone.U / (stone.Value * stone.Value)}))
		if err != nil || v.Value < 1/densestKnown || rest.Value <= 0 {
			break
		}
		out.Curve = append(out.Curve, TradeOff{StonesCt: m / 0.2, MetalDensityKgM3: 1000 / v.Value, MetalUKgM3: 1000 * v.U / (v.Value * v.Value)})
	}
	out.Sentence = "Neither the metal nor the size of the stones is known: the heavier the stones, the denser the metal. Measure the stones, or claim a metal."
	return nil
}

// suspendStones holds the finding back because of stones whose size is not known.
func (e *evaluation) suspendStones() {
	e.suspend(causeStones, "Unset them, measure them, or weigh a part without stones.",
		"stones were seen in the item; 0.5 ct of diamond lowers 5 g of 750 gold by 6 %%")
}

func (e *evaluation) claimedMetal(c claim) (composite.Estimate, error) {
	m, err := e.asked(c).Claimed()
	if err != nil {
		return composite.Estimate{}, bad("claim.fineness", "Name a family that is made at this fineness.", "the tables hold no alloy that is %s", c.short)
	}
	v, u := m.Middle()
	return composite.Estimate{Value: v, U: u}, nil
}

// printed95 prints a value and its expanded uncertainty of 95 %. Own is the part of u that the
// weighing gives: where few readings tell it, the t distribution of the degrees of freedom that are
// left counts, as it does for the density of the whole.
func (e *evaluation) printed95(value, u, own float64) (string, string) {
	k := uncertainty.NormalQuantile((1 + coverage) / 2)
	if dof := e.dofOf(u, own); !math.IsInf(dof, 1) {
		k = uncertainty.StudentQuantile((1+coverage)/2, dof)
	}
	return uncertainty.Round(value, k*u)
}

// dofOf is the degrees of freedom of an uncertainty u of which the weighing gives own, all else being
// well known (Welch and Satterthwaite; GUM G.4.1).
func (e *evaluation) dofOf(u, own float64) float64 {
	if math.IsInf(e.v20.Dof, 1) || !(own > 0) {
		return math.Inf(1)
	}
	return e.v20.Dof * math.Pow(u/own, 4)
}

func partOf(name string, w composite.Whole, mass, massU, volume, volumeU float64) CompositePart {
	p := CompositePart{Name: name, MassG: mass, MassUG: massU, VolumeCm3: volume, VolumeUCm3: volumeU, Share: mass / w.Mass}
	if mass > 0 && volume > 0 {
		p.DensityKgM3 = 1000 * mass / volume
	}
	return p
}

// composeHollow says how large a hollow would be in solid metal of the claim.
func (e *evaluation) composeHollow(c claim, w composite.Whole) error {
	metal, err := e.claimedMetal(c)
	if err != nil {
		return err
	}
	void := composite.Void(w, metal, airGCm3)
	out := &Composite{Kind: "hollow"}
	e.answer.Composite = out
	if void.Value < -fitsWithin*void.U {
		out.Refused = fmt.Sprintf("the item is denser than %s: an empty hollow would make it lighter", c.short)
		out.Sentence = "There is no empty hollow in it, if the metal is what is claimed; a dense filling is not excluded."
		return nil
	}
	volume := math.Max(void.Value, 0)
	p := partOf("hollow", w, 0, 0, volume, void.U)
	p.Share = volume / w.Volume()
	out.Parts = []CompositePart{partOf(c.short, w, w.Mass, 0, w.Volume()-volume, void.U), p}
	size, sizeU := e.printed95(volume, void.U, w.Mass*w.SpecificVolume.U)
	out.Sentence = fmt.Sprintf("If the metal is %s, %s ± %s cm³ of the item is empty (95 %%), %.1f %% of its outline.", c.short, size, sizeU, 100*p.Share)
	return nil
}

// composeLayers parts a plate from its core.
func (e *evaluation) composeLayers(c claim, w composite.Whole) error {
	l := e.draft.Item.Layers
	if err := firstError(within("item.layers.core_density_kg_m3", l.CoreDensityKgM3, 500, 23000, "kg/m³"), within("item.layers.core_density_u_kg_m3", l.CoreDensityUKgM3, 0, 5000, "kg/m³"),
		within("item.layers.plate_density_kg_m3", l.PlateDensityKgM3, 500, 23000, "kg/m³"), within("item.layers.plate_density_u_kg_m3", l.PlateDensityUKgM3, 0, 5000, "kg/m³"),
		within("item.layers.area_cm2", l.AreaCm2, 0.01, 1e5, "cm²"), within("item.layers.area_u_cm2", l.AreaUCm2, 1e-4, 1e5, "cm²")); err != nil {
		return err
	}
	if l.AreaUCm2 != nil && l.AreaCm2 == nil {
		return bad("item.layers.area_cm2", "Give the whole surface, or leave its uncertainty out.", "is missing, its uncertainty is given")
	}
	core, coreName, err := e.layer(c, "core", l.Core, l.CoreDensityKgM3, l.CoreDensityUKgM3)
	if err != nil {
		return err
	}
	plate, plateName, err := e.layer(c, "plate", l.Plate, l.PlateDensityKgM3, l.PlateDensityUKgM3)
	if err != nil {
		return err
	}
	if coreName == plateName {
		return bad("item.layers.plate", "Name what lies over the core, or leave item.layers out: an item of one metal has no layers.", "is %s, and so is the core", plateName)
	}
	e.suspend(causePlate, "Cut or file a spot that does not show, or measure what looks through the plate.",
		"the item is said to have layers; the density of the whole is that of neither")
	out := &Composite{Kind: "layers"}
	e.answer.Composite = out
	share, err := composite.Share(w, plate, core, fitsWithin)
	switch {
	case errors.As(err, new(*composite.PartsError)):
		out.Refused = fmt.Sprintf("excluded: the density lies outside of %s and %s", coreName, plateName)
		out.Sentence = fmt.Sprintf("It is not %s on %s: no thickness gives this density.", plateName, coreName)
		return nil
	case err != nil:
		out.Refused = fmt.Sprintf("%s and %s have the same density", coreName, plateName)
		out.Sentence = fmt.Sprintf("Density can't tell a plate of %s from a core of %s: they are equally dense. Measure what looks through the plate: sound or conductivity.", plateName, coreName)
		return nil
	}
	m, u := share.Value*w.Mass, share.U*w.Mass
	p := partOf("plate of "+plateName, w, m, u, m*plate.Value, u*plate.Value)
	percent, percentU := e.printed95(100*share.Value, 100*share.U, 100*w.SpecificVolume.U/math.Abs(plate.Value-core.Value))
	out.Sentence = fmt.Sprintf("%s on %s: the plate is %s ± %s %% of the mass (95 %%).", plateName, coreName, percent, percentU)
	if l.AreaCm2 != nil {
		area, areaU := *l.AreaCm2, or(l.AreaUCm2, *l.AreaCm2/20)
		if l.AreaUCm2 == nil {
			e.assume("item.layers.area_u_cm2", "chosen here", "a twentieth of the surface")
		}
		p.Thickness = 1e4 * p.VolumeCm3 / area
		p.ThicknessU = 1e4 / area * math.Hypot(p.VolumeUCm3, p.VolumeCm3*areaU/area)
		own := 1e4 / area * w.Mass * plate.Value * w.SpecificVolume.U / math.Abs(plate.Value-core.Value)
		thick, thickU := e.printed95(p.Thickness, p.ThicknessU, own)
		unit := "µm"
		if p.Thickness >= 1000 {
			unit = "mm"
			thick, thickU = e.printed95(p.Thickness/1000, p.ThicknessU/1000, own/1000)
		}
		out.Sentence += fmt.Sprintf(" On %.4g cm² that is %s ± %s %s in the mean.", area, thick, thickU, unit)
	}
	out.Parts = []CompositePart{partOf("core of "+coreName, w, w.Mass-m, u, (w.Mass-m)*core.Value, u*core.Value), p}
	return nil
}

// layer is the specific volume of a layer.
func (e *evaluation) layer(c claim, which, material string, rho, uRho *float64) (composite.Estimate, string, error) {
	field := "item.layers." + which
	switch {
	case rho != nil && material != "":
		return composite.Estimate{}, "", bad(field, "Name the material, or give its density.", "is given together with its density")
	case rho != nil:
		u := or(uRho, 0.005**rho)
		if uRho == nil {
			e.assume(field+"_density_u_kg_m3", "chosen here", "half a hundredth of the density")
		}
		return composite.Estimate{Value: 1000 / *rho, U: 1000 * u / (*rho * *rho)}, strings.TrimSpace(fmt.Sprintf("a metal of %.4g g/cm³", *rho/1000)), nil
	case material == "" && which == "plate" && c.fineness > 0:
		v, err := e.claimedMetal(c)
		return v, c.short, err
	case material == "":
		return composite.Estimate{}, "", bad(field, `Name the material, such as "copper" or "silver 925", or give its density.`, "is missing")
	}
	for _, m := range alloy.Metals() {
		if strings.EqualFold(m.Name, material) || strings.EqualFold(m.Symbol, material) {
			v := m.SpecificVolume()
			return composite.Estimate{Value: v, U: v * math.Max(m.U.KgPerM3()/m.Density.KgPerM3(), 0.003)}, m.Name, nil // as worked metal, 0.3 %; chosen here
		}
	}
	m, err := e.asked(c).Named(material)
	var f *InputError
	if errors.As(err, &f) {
		return composite.Estimate{}, "", &InputError{Path: field, Reason: f.Reason, Hint: f.Hint}
	}
	v, u := m.Middle()
	return composite.Estimate{Value: v, U: u}, m.Name, err
}

// composeQuartz parts native gold from its rock.
func (e *evaluation) composeQuartz(w composite.Whole) error {
	q := e.draft.Item.Quartz
	if err := firstError(within("item.quartz.density_kg_m3", q.DensityKgM3, 1500, 5500, "kg/m³"), within("item.quartz.density_u_kg_m3", q.DensityUKgM3, 0, 2000, "kg/m³"),
		within("item.quartz.gold_density_kg_m3", q.GoldDensityKgM3, 12000, 19400, "kg/m³"), within("item.quartz.gold_density_u_kg_m3", q.GoldDensityUKgM3, 0, 4000, "kg/m³")); err != nil {
		return err
	}
	if q.DensityKgM3 == nil {
		e.assume("item.quartz.density_kg_m3", "quartz without other minerals", "2650 kg/m³")
	}
	if q.GoldDensityKgM3 == nil {
		e.assume("item.quartz.gold_density_kg_m3", "native gold with 5 to 20 % silver; memory", "17 500 ± 900 kg/m³")
	}
	inverse := func(rho, u float64) composite.Estimate {
		return composite.Estimate{Value: 1000 / rho, U: 1000 * u / (rho * rho)}
	}
	gold := inverse(or(q.GoldDensityKgM3, 17500), or(q.GoldDensityUKgM3, 900))
	rock := inverse(or(q.DensityKgM3, 2650), or(q.DensityUKgM3, 20))
	e.suspend(causeRock, "Free the gold, or take the mass of gold that the density gives.",
		"the item is said to be gold in quartz; the density of the whole is that of neither")
	out := &Composite{Kind: "quartz"}
	e.answer.Composite = out
	share, err := composite.Share(w, gold, rock, fitsWithin)
	if err != nil {
		out.Refused = fmt.Sprintf("the density lies outside of rock (%.4g g/cm³) and gold (%.4g g/cm³)", 1/rock.Value, 1/gold.Value)
		out.Sentence = "It is not gold in this rock: pores, another mineral, or another metal."
		return nil
	}
	m, u := share.Value*w.Mass, share.U*w.Mass
	out.Parts = []CompositePart{partOf("native gold", w, m, u, m*gold.Value, u*gold.Value), partOf("rock", w, w.Mass-m, u, (w.Mass-m)*rock.Value, u*rock.Value)}
	grams, gramsU := e.printed95(m, u, w.Mass*w.SpecificVolume.U/math.Abs(gold.Value-rock.Value))
	out.Sentence = fmt.Sprintf("It holds %s ± %s g of native gold (95 %%), if the rock is sound and of one kind. Pores and heavy minerals such as pyrite move this.", grams, gramsU)
	return nil
}
