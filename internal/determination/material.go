package determination

import (
	"cmp"
	"math"
	"strconv"
	"strings"

	"wreath/alloy"
	"wreath/internal/nearest"
)

// Asked is the question that a draft's claim asks, resolved against the tables.
type Asked struct {
	Metal    string // "" where no metal is claimed
	Words    string // "gold 750, trade yellow"
	Fineness float64
	Next     float64 // next lower standard; 0 where no fineness is claimed
	Rule     HouseRule

	Standards []float64 // the list that the claim is held against, ascending

	families []*alloy.Family
}

// Ask resolves the claim of a draft. An *InputError names the field at fault.
func Ask(d *Draft) (Asked, error) {
	e := &evaluation{draft: d, answer: &Answer{}}
	c, err := e.resolveClaim()
	if err != nil {
		return Asked{}, err
	}
	return e.asked(c), nil
}

func (e *evaluation) asked(c claim) Asked {
	a := Asked{Metal: c.metal, Words: c.words, Fineness: c.fineness, Next: c.next, Rule: c.rule, Standards: c.standards}
	if a.Words == "" {
		a.Words = cmp.Or(c.metal, c.stone)
	}
	named := c.namedFamilies()
	for _, f := range alloy.FamiliesOf(c.metal) {
		if p := e.prior(f, c, named); p > 0 && (len(named) == 0 || p >= colourTrust/float64(len(named))) {
			a.families = append(a.families, f)
		}
	}
	return a
}

// Material is something that an item can be made of, with what is known of its specific volume.
type Material struct {
	Name string

	fineness  float64
	families  []*alloy.Family // that are made at the fineness; none for a plain range
	low, high float64         // range of the specific volume, cm³/g
	relU      float64         // standard uncertainty of the ends of a plain range, relative

	reachLow, reachHigh float64 // specific volumes that it can be made to; 0 where it can't be tuned
}

// At is the claimed metal at a fineness, in the families that claim and colour point to.
func (a Asked) At(fineness float64) (Material, error) {
	return alloyed(a.Metal+" "+strconv.FormatFloat(1000*fineness, 'g', 4, 64), fineness, a.families)
}

// Claimed is the material that is claimed.
func (a Asked) Claimed() (Material, error) {
	m, err := a.At(a.Fineness)
	m.Name = a.Words
	return m, err
}

func alloyed(name string, fineness float64, families []*alloy.Family) (Material, error) {
	m := Material{Name: name, fineness: fineness, low: math.Inf(1)}
	for _, f := range families {
		low, high, ok := f.Band(fineness, false)
		if !ok || !made(f, fineness) && len(families) > 1 {
			continue
		}
		m.families = append(m.families, f)
		m.low, m.high = math.Min(m.low, low), math.Max(m.high, high)
		m.relU = math.Max(m.relU, f.ModelU)
	}
	if len(m.families) == 0 {
		return m, bad("against", "wreath materials families lists the families with their finenesses.", "the tables hold no alloy that is %s", name)
	}
	return m, nil
}

// Named finds a material by words: a fineness of the claimed metal ("585"), a metal with its
// fineness ("silver 925", "gold 14 ct"), or a look-alike by its key or the beginning of it
// ("tungsten").
func (a Asked) Named(words string) (Material, error) {
	text := strings.ToLower(strings.TrimSpace(words))
	if f, ok := finenessOf(text); ok {
		if a.Metal == "" {
			return Material{}, bad("against", "Write the metal before it: gold 585.", "%q names no metal, and none is claimed", words)
		}
		return a.At(f)
	}
	metal, rest, _ := strings.Cut(text, " ")
	if f, ok := finenessOf(rest); ok {
		if metal == a.Metal {
			return a.At(f)
		}
		var families []*alloy.Family
		for _, family := range alloy.FamiliesOf(metal) {
			if family.Role == alloy.Candidate {
				families = append(families, family)
			}
		}
		if len(families) == 0 {
			return Material{}, oneOf("against", metal, "gold", "silver", "platinum", "palladium")
		}
		return alloyed(text, f, families)
	}
	return lookalike(text, words)
}

func lookalike(text, words string) (Material, error) {
	key := strings.ReplaceAll(text, " ", "-")
	var keys []string
	for _, l := range alloy.Lookalikes() {
		if l.Typical > 0 && (l.Key == key || strings.HasPrefix(l.Key, key+"-")) {
			m := Material{Name: l.Name}
			m.low, m.high = l.Band()
			if l.Tunable() {
				m.reachLow, m.reachHigh = 1/l.ReachHigh.GramPerCm3(), 1/l.ReachLow.GramPerCm3()
			}
			return m, nil
		}
		keys = append(keys, l.Key)
	}
	hint := "Write a fineness (585), a metal with its fineness (silver 925), or a key of wreath materials lookalikes."
	if n := nearest.Word(key, keys); n != "" {
		hint = "Did you mean " + n + "? " + hint
	}
	return Material{}, bad("against", hint, "there is no material %q", words)
}

// finenessOf reads "585", "18 ct", "18k" or "14 carat"; false for anything else.
func finenessOf(text string) (float64, bool) {
	number := strings.TrimRight(text, "abcdefghijklmnopqrstuvwxyz ")
	x, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return 0, false
	}
	switch strings.TrimSpace(strings.TrimPrefix(text, number)) {
	case "":
		return x / 1000, x >= 100 && x <= 1000
	case "k", "kt", "ct", "carat", "karat":
		return caratFineness(x), x >= 2.4 && x <= 24
	}
	return 0, false
}

// ClaimOf reads a claim from words: "gold 750", "gold 18 ct", "silver 925", "gold-yellow 750", and
// a colour after it ("gold 750 yellow"), which is that of the item as seen.
func ClaimOf(words string) (*Claim, string, error) {
	text := strings.Fields(strings.ToLower(words))
	colour := ""
	if n := len(text); n > 1 {
		switch last := text[n-1]; last {
		case "yellow", "red", "pink", "green", "white":
			colour, text = last, text[:n-1]
		}
	}
	const hint = `Write a metal and its fineness: "gold 750", "gold 18 ct yellow", "silver 925".`
	if len(text) == 0 {
		return nil, "", bad("claim", hint, "is empty")
	}
	c := &Claim{}
	if f, ok := alloy.FamilyByKey(text[0]); ok {
		c.Metal, c.Family = f.Metal, f.Key
	} else if err := oneOf("claim", text[0], "gold", "silver", "platinum", "palladium"); err != nil {
		return nil, "", err
	} else {
		c.Metal = text[0]
	}
	if len(text) == 1 {
		return c, colour, nil
	}
	f, ok := finenessOf(strings.Join(text[1:], " "))
	if !ok {
		return nil, "", bad("claim", hint, "%q is no fineness", strings.Join(text[1:], " "))
	}
	ppt := math.Round(1e5*f) / 100
	c.Fineness = &ppt
	return c, colour, nil
}

// Band returns the least and the largest specific volume in cm³/g of the usual recipes.
func (m Material) Band() (low, high float64) { return m.low, m.high }

// Middle returns the specific volume in the middle of the band, and a standard uncertainty that
// holds the recipes and the mixing model.
func (m Material) Middle() (v, u float64) {
	v = (m.low + m.high) / 2
	return v, math.Hypot((m.high-m.low)/(2*math.Sqrt(3)), m.relU*v)
}

// ModelU returns the relative standard uncertainty of the mixing model.
func (m Material) ModelU() float64 { return m.relU }

// Tuned is true of a material that can be made to any density of the other, so that density can't
// tell them apart.
func (m Material) Tuned(other Material) bool {
	return m.reachHigh > 0 && m.reachLow <= other.low && other.high <= m.reachHigh
}

// Observed returns the probability density, per cm³/g, of observing v on an item of the material
// with a standard uncertainty u of the weighing. Recipes and the mixing model are in it.
func (m Material) Observed(v, u float64) float64 {
	o := alloy.Observation{V: v, U: u}
	if len(m.families) == 0 {
		p, ok := alloy.RangeEvidence(o, m.low, m.high, m.relU)
		if !ok {
			return 0
		}
		return p / v
	}
	sum := 0.0
	for _, f := range m.families {
		if p, ok := f.Evidence(o, m.fineness); ok {
			sum += p / v
		}
	}
	return sum / float64(len(m.families))
}

// Measure turns a draft into an answer without judging it: density, uncertainty, budget and what
// was assumed, by the first-order law.
func Measure(d *Draft) (*Answer, error) {
	e := &evaluation{draft: d, answer: &Answer{}}
	if err := firstStep(e.prepare, e.plausible); err != nil {
		return nil, err
	}
	p := &e.linear
	if err := p.Linearise(e.inputs, e.model, outputs); err != nil {
		return nil, err
	}
	at20, err := p.Budget(outV20, coverage)
	if err != nil {
		return nil, err
	}
	a := e.answer
	a.LiquidDensityKgM3, a.AirDensityKgM3 = p.Y(outLiquid), e.inputs[e.airRho].Value
	a.Density20C = density(at20, 20)
	a.Density = a.Density20C
	a.Density.KgM3, a.Density.TemperatureC = 1000/p.Y(outV), e.liquidC
	e.budget(at20)
	return a, nil
}

// firstStep runs steps until one fails.
func firstStep(steps ...func() error) error {
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// StatedRepeatability is the standard deviation of one reading in air and of one in the liquid, in
// grams, that a draft states of its balance, or that is taken for its scale interval.
func StatedRepeatability(d *Draft) (inAir, immersed float64) {
	e := &evaluation{draft: d, answer: &Answer{}}
	if d.Balance != nil {
		e.balance = *d.Balance
	}
	e.resolution = or(e.balance.ResolutionG, 0.01)
	inAir, _ = e.statedRepeatability(false)
	immersed, _ = e.statedRepeatability(true)
	return inAir, immersed
}
