package determination

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"wreath/alloy"
	"wreath/internal/nearest"
	"wreath/mint"
)

// claimOfType returns the claim of the draft; where a type of coin or bar is named, the claim is
// taken from it, or must agree with it.
func (e *evaluation) claimOfType() (*Claim, error) {
	d, item := e.draft.Claim, e.draft.Item
	if item == nil || item.Type == "" {
		if item != nil && item.Worn != nil {
			return d, bad("item.worn", "Name the type of coin (item.type), or leave it out.", "is given without a type")
		}
		return d, nil
	}
	t, ok := mint.ByKey(item.Type)
	if !ok {
		hint := "wreath materials types lists those that are known."
		if n := nearest.Word(item.Type, typeKeys()); n != "" {
			hint = "Did you mean " + n + "? " + hint
		}
		return d, bad("item.type", hint, "there is no type %q in the tables", item.Type)
	}
	e.coinType = t
	if t.Kind == mint.Bar && item.Worn != nil && *item.Worn {
		return d, bad("item.worn", "Leave it out: a bar that has lost metal is not what its mark says.", "a bar does not wear within its mark")
	}
	given := Claim{}
	if d != nil {
		given = *d
	}
	if given.Stone != "" {
		return d, bad("claim.stone", "Name a type or a stone.", "is given together with a type of %s", t.Kind)
	}
	if given.Metal != "" && given.Metal != t.Metal {
		return d, bad("claim.metal", "Correct one of the two, or leave the claim out.", "is %s, the type %s is %s", given.Metal, t.Key, t.Metal)
	}
	fineness, err := given.fineness(t.Metal)
	if err != nil {
		return d, err
	}
	if fineness > 0 && !alloy.SameStandard(fineness, t.Fineness) {
		return d, bad("claim.fineness", "Correct one of the two, or leave the claim out.", "is %.4g, the type %s is %.4g", 1000*fineness, t.Key, 1000*t.Fineness)
	}
	given.Metal = t.Metal
	if fineness == 0 {
		ppt, _ := strconv.ParseFloat(strconv.FormatFloat(1000*t.Fineness, 'g', 6, 64), 64)
		given.Fineness = &ppt
		e.assume("claim", "the type of "+string(t.Kind), "%s %.4g", t.Metal, ppt)
	}
	if given.Family == "" && !strings.HasSuffix(t.Family, "-any") {
		given.Family = t.Family
	}
	return &given, nil
}

func typeKeys() (keys []string) {
	for _, t := range mint.Types() {
		keys = append(keys, t.Key)
	}
	return keys
}

// checkType holds mass, size, density and volume against the type, each with its own tolerance, and
// names the one that disagrees. Wear takes metal away and adds none, so it widens the light side
// only.
func (e *evaluation) checkType() {
	t := e.coinType
	wear := mint.WearUnknown
	if item := e.draft.Item; item.Worn != nil {
		wear = mint.Unworn
		if *item.Worn {
			wear = mint.Worn
		}
	}
	out := &TypeCheck{Key: t.Key, Name: t.Name, Law: t.Law, Source: t.Source, Disagree: []string{}}
	if t.Kind == mint.Coin {
		out.Name = t.Country + " " + t.Name
	}
	if v := t.Volume(); v > 0 {
		out.VolumeCm3 = &v
	}
	if d := t.MeanThickness(); d > 0 {
		out.DiscMM = &d
	}
	e.answer.Type = out
	wearWords := ""
	if t.Kind == mint.Coin {
		wearWords = map[mint.Wear]string{mint.WearUnknown: "; a little wear allowed", mint.Unworn: "; no wear", mint.Worn: "; worn"}[wear]
	}

	add := func(r TypeRow) {
		z := math.Max(0, math.Max(r.Low-r.Measured, r.Measured-r.High))
		switch {
		case z > e.fits*r.U && r.Measured < r.Low:
			r.Verdict = "too low"
		case z > e.fits*r.U:
			r.Verdict = "too high"
		case 2*r.U > r.High-r.Low:
			r.Verdict = "open"
		default:
			r.Verdict = "agrees"
		}
		if strings.HasPrefix(r.Verdict, "too") {
			out.Disagree = append(out.Disagree, r.Property)
		}
		out.Rows = append(out.Rows, r)
	}

	// Laws and marks speak of the mass that a balance shows in air against weights of 8000 kg/m³.
	rho := e.answer.Density20C.KgM3
	mass := e.answer.TrueMassG * (1 - 1.2/rho) / (1 - 1.2/8000)
	leastMass, mostMass := t.Masses(wear)
	rule := t.ToleranceSource
	if !t.TolerancesByLaw() {
		rule = "no remedy at hand: common practice"
	}
	add(TypeRow{Property: "mass", Unit: "g", Nominal: t.Mass, Low: leastMass, High: mostMass, Measured: mass, U: e.answer.TrueMassUG, Rule: rule + wearWords})

	diameter, thickness, u := e.coinSizes()
	if least, most, ok := t.Diameters(wear); ok {
		if diameter > 0 {
			add(TypeRow{Property: "diameter", Unit: "mm", Nominal: t.Diameter, Low: least, High: most, Measured: diameter, U: u, Rule: "chosen here" + wearWords})
		} else {
			out.Missing = append(out.Missing, "diameter")
		}
	}
	if least, most, ok := t.Thicknesses(wear); ok {
		nominal, rule := t.Thickness, "7 % of the printed thickness over the rim, chosen here"
		if nominal == 0 {
			nominal, rule = t.MeanThickness(), "no less than a plain disc of the nominal volume (computed)"
		}
		if thickness > 0 {
			add(TypeRow{Property: "thickness", Unit: "mm", Nominal: nominal, Low: least, High: most, Measured: thickness, U: u, Rule: rule + wearWords})
		} else {
			out.Missing = append(out.Missing, "thickness")
		}
	}
	if low, high, ok := e.typeDensities(t); ok {
		add(TypeRow{Property: "density", Unit: "kg/m³", Nominal: (low + high) / 2, Low: low, High: high, Measured: rho, U: e.answer.Density20C.UKgM3,
			Rule: "the alloy named, the tolerance of its fineness, and the model's uncertainty"})
		// The mass is the reading less the buoyancy; for a volume the true mass counts, and the two
		// differ by less than a ten-thousandth.
		add(TypeRow{Property: "volume", Unit: "cm³", Nominal: t.Mass / ((low + high) / 2) * 1000, Low: leastMass / high * 1000, High: mostMass / low * 1000,
			Measured: e.answer.VolumeCm3, U: e.answer.VolumeUCm3, Rule: "from mass and density of a solid piece"})
	}
	e.typeResult(out, wear)
}

// coinSizes are the diameter and the thickness that were measured, 0 where they were not.
func (e *evaluation) coinSizes() (diameter, thickness, u float64) {
	for k := range e.pieces {
		p := &e.pieces[k]
		if p.off || p.kind != "size" {
			continue
		}
		if p.diameter > 0 {
			diameter, u = p.diameter, math.Max(u, p.u)
		}
		if p.thickness > 0 {
			thickness, u = p.thickness, math.Max(u, p.u)
		}
	}
	return diameter, thickness, u
}

// typeDensities is the range of density of a true piece in kg/m³: of the alloy named, or of every
// recipe where none is.
func (e *evaluation) typeDensities(t *mint.Type) (low, high float64, ok bool) {
	if low, high, ok := t.Densities(); ok {
		return low.KgPerM3(), high.KgPerM3(), true
	}
	f, ok := alloy.FamilyByKey(t.Family)
	if !ok {
		return 0, 0, false
	}
	least, most := t.Finenesses()
	_, v1, ok1 := f.Band(math.Max(least, f.Low), false)
	v2, _, ok2 := f.Band(math.Min(most, f.High), false)
	return 1000 / v1 * (1 - 2*f.ModelU), 1000 / v2 * (1 + 2*f.ModelU), ok1 && ok2
}

// typeResult puts the rows into words, and holds the finding back where mass or size disagree.
func (e *evaluation) typeResult(out *TypeCheck, wear mint.Wear) {
	var agree, open []string
	for _, r := range out.Rows {
		switch r.Verdict {
		case "agrees":
			agree = append(agree, r.Property)
		case "open":
			open = append(open, r.Property)
		}
	}
	bad, sign := out.Disagree, ""
	switch {
	case len(bad) > 0:
		out.Result = "disagrees"
		what := "does"
		if len(bad) > 1 {
			what = "do"
		}
		out.Sentence = fmt.Sprintf("The %s %s not agree with the type", joinAnd(bad), what)
		if len(agree) > 0 {
			out.Sentence += fmt.Sprintf(" (%s: within its limits)", joinAnd(agree))
		}
		sign = out.Sentence
		out.Sentence += ": " + typeAdvice(out, wear) + "."
	case len(out.Missing) > 0 || len(open) > 0:
		out.Result = "incomplete"
		out.Sentence = fmt.Sprintf("What was measured agrees with the type: %s.", joinAnd(agree))
		if len(agree) == 0 {
			out.Sentence = "Nothing that was measured decides it."
		}
		if len(open) > 0 {
			out.Sentence += fmt.Sprintf(" The uncertainty of the %s is too large to tell.", joinAnd(open))
		}
		if len(out.Missing) > 0 {
			out.Sentence += fmt.Sprintf(" Measure the %s too.", joinAnd(out.Missing))
		}
	default:
		out.Result = "agrees"
		out.Sentence = fmt.Sprintf("%s agree with the type. A piece of another metal of the same density would agree too.", capital(joinAnd(agree)))
	}
	for _, property := range []string{"mass", "diameter", "thickness"} {
		if slices.Contains(bad, property) {
			e.suspend("the "+property+" is not that of the type", capital(typeAdvice(out, wear))+".", "%s", sign)
			break
		}
	}
}

// typeAdvice is what a disagreement may mean.
func typeAdvice(out *TypeCheck, wear mint.Wear) string {
	verdict := map[string]string{}
	for _, r := range out.Rows {
		verdict[r.Property] = r.Verdict
	}
	has := func(property, word string) bool { return verdict[property] == word }
	density := has("density", "too low") || has("density", "too high")
	switch {
	case density && len(out.Disagree) <= 2 && (has("mass", "agrees") || has("mass", "open")):
		return "another metal made to the right mass, or a hollow; or a fault of the weighing in the liquid"
	case density:
		return "another metal, or another type; look at the coin again"
	case has("mass", "too low") && wear != mint.Worn:
		return "lighter than the law lets pass: worn, clipped or filed (say item.worn when it is), or another type"
	case has("mass", "too low"):
		return "lighter than wear explains: clipped, filed, or another type"
	case has("mass", "too high"):
		return "wear can't add metal: another type, or a mount, solder or dirt on it"
	case has("thickness", "too high") || has("diameter", "too high"):
		return "larger than a solid piece of this mass and density: hollow, not flat, or another type"
	}
	return "measure it again at three places, and see that it is this type"
}

func joinAnd(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
