package determination

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"wreath/conformity"
	"wreath/fault"
)

// line is one doubt in the making: a fault, or several that these readings can't tell apart.
type line struct {
	kinds []fault.Kind // likeliest first
	share float64
	sign  *Doubt // what the readings show by themselves
}

// writeDoubts puts the verdict of the engine into the answer, beside what the readings show by
// themselves.
func (e *evaluation) writeDoubts(c claim, v *fault.Verdict, inDoubt bool) {
	signs := e.answer.Doubts
	lines := e.group(v)
	var left []Doubt
	for i := range signs {
		if l := explains(lines, &signs[i]); l != nil && l.sign == nil {
			l.sign = &signs[i]
		} else {
			left = append(left, signs[i])
		}
	}
	weighing := 0.0
	for k := range fault.Kinds {
		if ofTheWeighing(k) {
			weighing += v.Posterior[k]
		}
	}
	claimed := reachOf(e.faultCase.Claimed)
	nearest, hasNearest := e.nearestStandard(c)
	doubts := make([]Doubt, 0, mostLines)
	suspended := false
	// Denser than the claim and perhaps not of its metal: a figure to pay by would be more than is claimed.
	foreign := c.metal != "" && c.fineness > 0 && e.observation.V < claimed.low && !e.denserThanMetal(c.metal)
	for i, l := range lines {
		shown := inDoubt && (l.share >= worthALine || len(doubts) < 3 && l.share >= atLeast3) || l.sign != nil
		if !shown || i >= mostLines && l.sign == nil {
			continue
		}
		d := e.describeDoubt(c, v, l, claimed, nearest, hasNearest)
		first := l.kinds[0]
		if inDoubt && ofTheWeighing(first) && weighing > 0.5 && !suspended {
			d.Suspends, suspended = true, true // one reason is enough, the likeliest
		}
		d.Suspends = d.Suspends || inDoubt && foreign && first != fault.Clean && !ofTheWeighing(first) && l.share > 0.5
		d.Suspends = d.Suspends || inDoubt && (first == fault.Hollow || first == fault.Stones) && v.Posterior[first] > 0.5
		doubts = append(doubts, d)
	}
	e.answer.Doubts = append(left, doubts...)
	slices.SortStableFunc(e.answer.Doubts, func(a, b Doubt) int { return cmp.Compare(b.Share, a.Share) })
	if inDoubt && !e.blind {
		e.exclude(c, v, claimed, nearest, hasNearest)
	}
}

// ofTheWeighing is true for a fault of the weighing, false for one of the item itself.
func ofTheWeighing(k fault.Kind) bool {
	switch k {
	case fault.Clean, fault.LowerStandard, fault.FinerStandard, fault.LookAlike, fault.Hollow, fault.Stones, fault.Core:
		return false
	}
	return true
}

// explains finds the likeliest line that a sign in the readings points to; nil where it points to
// none in particular.
func explains(lines []line, d *Doubt) *line {
	points, ok := signPoints[d.Cause]
	if !ok {
		return nil
	}
	for i := range lines {
		if lines[i].share >= 0.02 && slices.Contains(points, lines[i].kinds[0]) {
			return &lines[i]
		}
	}
	return nil
}

// The causes of signs that the readings show by themselves, and the faults they point to.
const (
	causeUptake  = "the item took up liquid, or was not dry"
	causeLighter = "the zero moved, or the item was wet at first"
	causeScatter = "the readings scatter"
	causeLiquid  = "the liquid is not what it is said to be"
	causeStones  = "stones are weighed with the metal"

	causeInterval = "the scale interval is not that of this balance"
	causeUnits    = "the readings are not in grams, or of another balance"

	causeHeap   = "several unlike items were weighed together"
	causePlate  = "a plate on a core"
	causeRock   = "gold in its rock"
	causeWeak   = "the check piece proves nothing"
	causeColour = "the colour seen is not the colour claimed"
)

// settleLiquid is what to do with a liquid that is not what it is said to be.
const settleLiquid = "Read the temperature in the liquid, change the liquid, and weigh the check piece again."

var signPoints = map[string][]fault.Kind{
	causeUptake:  {fault.Pores, fault.Wet, fault.Zero, fault.Drift, fault.Draught, fault.WrongItem, fault.Digit, fault.Unit},
	causeLighter: {fault.Wet, fault.Zero, fault.Drift, fault.Draught, fault.WrongItem, fault.Digit, fault.Unit},
	causeScatter: {fault.Bubble, fault.Zero, fault.Touching, fault.Wire, fault.Pores, fault.Drift, fault.Draught, fault.Digit, fault.Unit},
	causeLiquid:  {fault.Liquid, fault.Temperature, fault.Ethanol, fault.Hanger},
	causeStones:  {fault.Stones},
}

// group joins faults that the readings at hand can't tell apart, and puts the lines in order.
func (e *evaluation) group(v *fault.Verdict) []line {
	groups := map[string]int{}
	var lines []line
	for k := fault.Clean + 1; k < fault.Kinds; k++ {
		name := e.groupOf(k)
		i, ok := groups[name]
		if !ok || name == "" {
			i = len(lines)
			lines = append(lines, line{})
			if name != "" {
				groups[name] = i
			}
		}
		lines[i].kinds = append(lines[i].kinds, k)
		lines[i].share += v.Posterior[k]
	}
	byShare := func(a, b fault.Kind) int { return cmp.Compare(v.Posterior[b], v.Posterior[a]) }
	for i := range lines {
		l := &lines[i]
		slices.SortStableFunc(l.kinds, byShare)
		for n, k := range l.kinds {
			if n > 0 && v.Posterior[k] < inGroup*l.share {
				l.kinds = l.kinds[:n]
				break
			}
		}
	}
	slices.SortStableFunc(lines, func(a, b line) int { return cmp.Compare(b.share, a.share) })
	return lines
}

// groupOf is the group of faults that one can't be told apart from by the readings at hand, ""
// where it stands alone. One immersion tells nothing of what lies in the item from what happened
// to it. A second parts the two, and what happened by its size; a check piece parts the liquid and
// the hanger from the item, the look-over hollow and stones from another metal.
func (e *evaluation) groupOf(k fault.Kind) string {
	w := &e.weighed
	name := k.Fault().Group
	switch k {
	case fault.Hanger, fault.Temperature, fault.Liquid, fault.Ethanol:
		if w.Check == nil {
			name = "item" // without a check piece all immersions are off alike, as those of another item are
		} else if k != fault.Hanger && w.Thermometer == nil && w.Strength == nil {
			return "liquid" // a check piece finds the factor of the liquid, not its reason
		}
	case fault.Wet, fault.Drift, fault.Draught:
		if len(w.Closing) == 0 {
			name = "immersion"
		}
	case fault.Pores:
		if len(w.Closing) > 0 {
			return ""
		}
	}
	if len(w.Immersed) == 1 && name != "" {
		return "once" // one immersion can't even tell the item from what happened to it
	}
	switch {
	case name == "immersion":
		return ""
	case k == fault.Hollow && w.HollowSeen != fault.NotLooked || k == fault.Stones && w.StonesSeen != fault.NotLooked ||
		k == fault.Core && w.CoreSeen != fault.NotLooked:
		return ""
	}
	return name
}

func (e *evaluation) describeDoubt(c claim, v *fault.Verdict, l line, claimed, nearest namedMaterial, hasNearest bool) Doubt {
	k := l.kinds[0]
	f := k.Fault()
	d := Doubt{Cause: f.Cause, Settles: f.Settles, Key: f.Key, Verdict: "possible", Share: l.share, Sign: e.oddness(c, claimed)}
	if l.share > 0.5 {
		d.Verdict = "favoured"
	}
	if k == fault.Liquid && e.proof == disproved {
		d.Settles = settleLiquid // the check piece was weighed already
	}
	if l.sign != nil {
		d.Sign = l.sign.Cause + ": " + l.sign.Sign
		d.Suspends = l.sign.Suspends
	}
	if len(l.kinds) > 1 {
		var causes []string
		for _, k := range l.kinds {
			d.Group = append(d.Group, k.Key())
			causes = append(causes, k.Fault().Cause)
		}
		d.Cause = oneOfThese(causes)
	}
	d.Size = e.sizeOf(k, claimed, nearest, hasNearest)
	if k >= fault.Digit && k <= fault.Displaced {
		d.Proposal = e.proposal(k, v.Reread[k])
	}
	d.Sentence = e.sentenceOf(c, v, l, &d, claimed)
	return d
}

func oneOfThese(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}

// claimWords name what the item is held against.
func (c claim) claimWords() string {
	switch {
	case c.stone != "":
		return c.stone
	case c.fineness > 0:
		return c.short
	case c.metal != "":
		return "alloys of " + c.metal
	}
	return "the standard materials"
}

// oddness says in numbers what does not look as it should.
func (e *evaluation) oddness(c claim, claimed namedMaterial) string {
	v := e.observation.V
	switch {
	case e.blind:
		return "the readings do not agree with each other"
	case v > claimed.high:
		return fmt.Sprintf("%.4g g/cm³ is lighter than %s (down to %.4g)", 1/v, c.claimWords(), 1/claimed.high)
	case v < claimed.low:
		return fmt.Sprintf("%.4g g/cm³ is denser than %s (up to %.4g)", 1/v, c.claimWords(), 1/claimed.low)
	}
	return fmt.Sprintf("%.4g g/cm³ lies within %s; the readings do not agree with each other", 1/v, c.claimWords())
}

// sizeOf is how large a fault would have to be, nil for one without a size.
func (e *evaluation) sizeOf(k fault.Kind, claimed, nearest namedMaterial, hasNearest bool) *FaultSize {
	f := k.Fault()
	if !k.Sized() || e.blind {
		return nil
	}
	low, high := e.faults.Bounds(k)
	s := &FaultSize{Quantity: f.Quantity, Unit: f.Unit, Low: low, High: high}
	if f.Unit == "1" {
		s.Unit = ""
	}
	if x, ok := e.neededWithin(k, claimed); ok {
		s.ForClaim = &x
	}
	if hasNearest {
		if x, ok := e.neededWithin(k, nearest); ok {
			s.ForNearest, s.Nearest = &x, nearest.name
		}
	}
	return s
}

// neededWithin is the size that makes the item, as weighed, one of a material: of its middle, or of its
// edges where only those are within what can be. False where none is.
func (e *evaluation) neededWithin(k fault.Kind, m namedMaterial) (float64, bool) {
	low, high := e.faults.Bounds(k)
	for _, v := range [...]float64{m.v, m.low, m.high} {
		if x, ok := e.faults.Needed(k, v); ok && x >= low && x <= high {
			return x, true
		}
	}
	return 0, false
}

// cannotExplain says in words why no size of a fault explains what was weighed: it works the other way,
// or what can be of it is too little.
func (e *evaluation) cannotExplain(k fault.Kind, s *FaultSize, claimed namedMaterial) string {
	if k >= fault.Digit && k <= fault.Displaced {
		return "No other reading of what was typed fits."
	}
	if k == fault.Ethanol && !e.weighed.Ethanol {
		return "The liquid holds no ethanol."
	}
	for _, v := range [...]float64{claimed.v, claimed.low, claimed.high} {
		if _, ok := e.faults.Needed(k, v); ok {
			return fmt.Sprintf("It can be %s to %s (%s); that does not explain it.", s.Figures(s.Low), s.Figures(s.High), s.Quantity)
		}
	}
	return "It works the other way."
}

// Figures writes a size of this quantity for people: three figures and its unit, never with an exponent.
func (s *FaultSize) Figures(x float64) string {
	switch s.Unit {
	case "":
		return plain(100*x, 3) + " %"
	case "d":
		return plain(math.Round(x), 4) + " d"
	}
	return plain(x, 3) + " " + s.Unit
}

// plain writes a number to so many figures, never with an exponent.
func plain(x float64, figures int) string {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', figures, 64), 64)
	if err != nil {
		return strconv.FormatFloat(x, 'f', -1, 64) // a number without digits
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// sizeWords write a size for people.
func sizeWords(k fault.Kind, x float64) string {
	switch k {
	case fault.Bubble:
		return fmt.Sprintf("a bubble of %s mm", plain(x, 2))
	case fault.Zero:
		return fmt.Sprintf("a shift of %s scale intervals", plain(math.Round(x), 6))
	case fault.Touching:
		return fmt.Sprintf("%s %% of the immersed weight carried by the vessel", plain(100*x, 2))
	case fault.Wire:
		return fmt.Sprintf("a force of %s mg on the wire", plain(x, 2))
	case fault.Hanger:
		return fmt.Sprintf("a hanger of %s g", plain(x, 3))
	case fault.Temperature:
		return fmt.Sprintf("%s K of error in the temperature", plain(x, 2))
	case fault.Liquid:
		return fmt.Sprintf("a liquid of %s g/cm³", plain(x, 4))
	case fault.Ethanol:
		return fmt.Sprintf("a density of the liquid that is off by %s %%", plain(100*x, 2))
	case fault.Hollow:
		return fmt.Sprintf("a hollow of %s %% of the outline", plain(100*x, 2))
	case fault.Stones:
		return fmt.Sprintf("stones of %s %% of the mass, as diamond", plain(100*x, 2))
	case fault.Pores:
		return fmt.Sprintf("pores of %s %% of the volume", plain(100*x, 2))
	case fault.Wet:
		return fmt.Sprintf("%s mg of liquid on the item", plain(1000*x, 2))
	}
	return plain(x, 3)
}

// sentenceOf is the doubt in words: the act first, then the reason, then the number to expect.
func (e *evaluation) sentenceOf(c claim, v *fault.Verdict, l line, d *Doubt, claimed namedMaterial) string {
	k := l.kinds[0]
	words := d.Settles
	switch {
	case d.Proposal != nil:
		words += fmt.Sprintf(" Typed is %s; %s would give %.4g g/cm³.", d.Proposal.Typed, d.Proposal.Instead, d.Proposal.DensityKgM3/1000)
	case k == fault.Liquid && v.Liquid > 0 && d.Size != nil && d.Size.ForClaim != nil:
		words += fmt.Sprintf(" A liquid of %.3g g/cm³ comes nearest; %.3g would be exact.", v.Liquid, *d.Size.ForClaim)
	case k == fault.Liquid && v.Liquid > 0:
		words += fmt.Sprintf(" A liquid of %.3g g/cm³ comes nearest.", v.Liquid)
	case d.Size != nil && d.Size.ForClaim != nil:
		words += " It would take " + sizeWords(k, *d.Size.ForClaim)
		if e.faults.Excluded(k, claimed.low, claimed.high) {
			words += ", more than can be from this alone"
		}
		words += "."
	case d.Size != nil:
		words += " Alone it is not enough. " + e.cannotExplain(k, d.Size, claimed)
	}
	words += fmt.Sprintf(" Chance %s", conformity.Chance(l.share))
	if len(l.kinds) > 1 {
		words += " for all of these together; these readings can't tell them apart yet"
	}
	words += "."
	if expected := e.expected(k, claimed); expected != "" {
		words += " " + expected
	}
	return words
}

// expected is the number that would settle it.
func (e *evaluation) expected(k fault.Kind, claimed namedMaterial) string {
	air, _ := mean(e.draft.AirG)
	decimals := max(0, -int(math.Floor(math.Log10(e.resolution)+1e-9)))
	show := func(g float64) string { return strconv.FormatFloat(g, 'f', decimals, 64) + " g" }
	switch k {
	case fault.Bubble, fault.Touching, fault.Zero, fault.Wire, fault.Hanger:
		if e.blind {
			return ""
		}
		b := e.faults.Displaced(claimed.v)
		if reading, ok := e.soundImmersion(k, claimed); ok {
			return show(reading) + " again settles it."
		}
		if e.standing {
			return "About " + show(b) + " of gain then speaks for the claim, the same number as before against it."
		}
		return "About " + show(air-b) + " then speaks for the claim, the same number as before against it."
	case fault.Pores:
		return show(air) + " again means that nothing was taken up and nothing moved."
	case fault.Wet:
		return show(air) + " again settles it: it was dry."
	case fault.WrongItem:
		if e.weighed.IntakeG > 0 {
			return "At the intake it had " + show(e.weighed.IntakeG) + "."
		}
	}
	return ""
}

// soundImmersion is the immersed reading, of several, that is what the claim has. A bubble and a
// vessel that carries only ever lighten the reading, so the heaviest is the sound one; else it is
// the nearest to the claim.
func (e *evaluation) soundImmersion(k fault.Kind, claimed namedMaterial) (reading float64, ok bool) {
	if len(e.weighed.Immersed) < 2 {
		return 0, false
	}
	low, middle, high := e.faults.Displaced(claimed.low), e.faults.Displaced(claimed.v), e.faults.Displaced(claimed.high)
	air, _ := mean(e.draft.AirG)
	best := math.Inf(1)
	for _, r := range e.weighed.Immersed {
		b := r.Gram
		if !e.standing {
			b = air - r.Gram
		}
		far := math.Abs(b - middle)
		if k == fault.Bubble || k == fault.Touching {
			far = b
		}
		if b >= low && b <= high && far < best {
			best, reading, ok = far, r.Gram, true
		}
	}
	return reading, ok
}

// exclude writes down the faults that were looked at and can't be it.
func (e *evaluation) exclude(c claim, v *fault.Verdict, claimed, nearest namedMaterial, hasNearest bool) {
	for k := fault.Bubble; k < fault.SomethingElse; k++ {
		f := k.Fault()
		if f.Quantity == "" || v.Posterior[k] > 0.05 {
			continue
		}
		byBound := e.faults.Excluded(k, claimed.low, claimed.high)
		if !byBound && v.Posterior[k] > 1e-6 {
			continue
		}
		d := Doubt{Cause: f.Cause, Settles: f.Settles, Key: f.Key, Verdict: "excluded", Share: v.Posterior[k], Sign: e.oddness(c, claimed)}
		d.Size = e.sizeOf(k, claimed, nearest, hasNearest)
		switch {
		case byBound:
			d.Sentence = fmt.Sprintf("Can't be: %s. %s", f.Cause, e.cannotExplain(k, d.Size, claimed))
		default:
			d.Sentence = fmt.Sprintf("Can't be: %s. The other readings speak against it.", f.Cause)
		}
		e.answer.Excluded = append(e.answer.Excluded, d)
	}
}

// proposal is another reading of what was typed.
func (e *evaluation) proposal(k fault.Kind, r fault.Reread) *Proposal {
	if !r.Found {
		return nil
	}
	d := e.draft
	immersedField, immersed := "liquid_g", d.LiquidG
	if e.standing {
		immersedField, immersed = "gain_g", d.GainG
	}
	field, readings := "air_g", d.AirG
	switch r.Set {
	case fault.Immersed:
		field, readings = immersedField, immersed
	case fault.AtTheEnd:
		field, readings = "closing_air_g", d.ClosingAirG
	}
	p := &Proposal{Field: field, InsteadG: r.Instead, DensityKgM3: 1000 * r.Density}
	shown := readings[max(r.Index, 0)]
	if r.Index > 0 || r.Index == 0 && len(readings) > 1 {
		p.Field = fmt.Sprintf("%s[%d]", field, r.Index)
	}
	p.Typed = field + " " + shownText(shown) + " g"
	grams := fmt.Sprintf("%.7g g", r.Instead)
	switch k {
	case fault.Swapped:
		p.Typed = fmt.Sprintf("%s %s g, %s %s g", "air_g", shownText(d.AirG[0]), immersedField, shownText(immersed[0]))
		p.Instead = "the two exchanged"
	case fault.Displaced:
		p.Instead = "the weight lost in place of the immersed reading"
		if e.standing {
			p.Instead = "the immersed reading in place of the gain"
		}
	case fault.Unit:
		name, taken := fault.UnitOf(r.Factor)
		p.Instead = fmt.Sprintf("the number in %s, %s", name, grams)
		if taken {
			p.Instead = fmt.Sprintf("grams taken for %s, %s", name, grams)
		}
	default:
		p.Instead = grams
	}
	return p
}

func shownText(r Reading) string {
	if r.Text != "" {
		return strings.TrimSuffix(r.Text, " g")
	}
	return fmt.Sprintf("%.10g", r.Gram)
}

// Reread tries other readings of numbers that Evaluate refuses: swapped, in another unit, a digit
// slipped, one quantity in place of another. Likeliest first; nothing is corrected, a person
// decides. It returns none where the draft can't be read that far.
func Reread(d *Draft) []Doubt {
	e := sheets.Get().(*evaluation)
	defer e.putBack()
	e.start(d, Options{})
	e.lenient = true
	if e.prepare() != nil {
		return nil
	}
	return e.reread()
}

// reread judges the typed numbers alone.
func (e *evaluation) reread() []Doubt {
	c, err := e.resolveClaim()
	if err != nil || e.method != "immersion" {
		return nil
	}
	e.describeWeighing()
	e.describeCase(c)
	if len(e.faultCase.Claimed) == 0 {
		return nil
	}
	v := e.faults.Judge(&e.weighed, &e.faultCase)
	var doubts []Doubt
	for _, l := range e.group(v) {
		if l.share < worthALine && len(doubts) > 0 {
			break // they are in order
		}
		k := l.kinds[0]
		f := k.Fault()
		d := Doubt{
			Cause: f.Cause, Settles: f.Settles, Key: f.Key, Verdict: "possible", Share: l.share, Suspends: true, Proposal: e.proposal(k, v.Reread[k]),
			Sign: "no density of an item follows from these readings", Sentence: f.Settles,
		}
		if l.share > 0.5 {
			d.Verdict = "favoured"
		}
		if len(l.kinds) > 1 {
			for _, k := range l.kinds {
				d.Group = append(d.Group, k.Key())
			}
		}
		if p := d.Proposal; p != nil {
			d.Sentence = fmt.Sprintf("%s Typed is %s; %s would give %.4g g/cm³.", f.Settles, p.Typed, p.Instead, p.DensityKgM3/1000)
		}
		doubts = append(doubts, d)
	}
	return doubts
}

// withProposal adds to an error of the readings what may have been meant.
func (e *evaluation) withProposal(err error) error {
	bad, ok := err.(*InputError)
	if !ok || e.method != "immersion" {
		return err
	}
	if doubts := e.reread(); len(doubts) > 0 && doubts[0].Verdict == "favoured" && doubts[0].Proposal != nil {
		p := doubts[0].Proposal
		with := *bad
		with.Hint = fmt.Sprintf("%s Typed is %s; %s would give %.4g g/cm³.", with.Hint, p.Typed, p.Instead, p.DensityKgM3/1000)
		return &with
	}
	return err
}
