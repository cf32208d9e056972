package determination

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"

	"wreath/alloy"
	"wreath/uncertainty"
)

const (
	colourTrust   = 0.90  // a colour seen is right this often; chosen here
	noticed       = 0.05  // a family or standard holding less is not followed up; chosen here
	negligible    = 1e-4  // a family holding less has no part in a probability of the claim; chosen here
	standardWidth = 0.005 // over-fineness of honest ware, as fraction

	defaultStandards = "iso-9202" // held against unless the claim names another list
)

// member is one alloy family within reach of the density.
type member struct {
	family    *alloy.Family
	posterior *alloy.Posterior

	// The probability of reaching the claim less its tolerance, under each weighting.
	neutral, trade, sceptic float64

	share float64 // of the evidence of all members
}

// judge says what the density means: fineness by family, finding, legal limit, candidates.
func (e *evaluation) judge(o Options) error {
	e.observation = alloy.Observation{V: e.v20.Y, U: e.v20.U, Dof: e.v20.Dof}
	// The same chances as 2.58 and 2 standard uncertainties of a normal distribution, for the
	// degrees of freedom there are.
	e.fits, e.k2 = fitsWithin, 2
	if !math.IsInf(e.v20.Dof, 1) {
		e.fits, e.k2 = uncertainty.StudentQuantile(0.995, e.v20.Dof), uncertainty.StudentQuantile(0.97725, e.v20.Dof)
	}
	c, err := e.resolveClaim()
	if err != nil {
		return err
	}
	if !o.NumbersOnly {
		e.stop(c)
	}
	if err := e.compose(c); err != nil {
		return err
	}
	if c.family != nil && c.colour != "" && !e.colourAgrees(c) {
		e.suspend(causeColour, "Look again in daylight; is the stamp of this item?",
			"the item was seen %s, the claim says %s", c.colour, c.family.Name)
	}
	if c.stone != "" {
		e.judgeFaults(c)
		if err := e.judgeStone(c); err != nil {
			return err
		}
		e.nextStep(c)
		return nil
	}
	e.weigh(c)
	if o.NumbersOnly {
		e.findAny(c)
		return nil
	}
	e.describeFineness(c)
	if err := e.candidates(c); err != nil {
		return err
	}
	e.judgeFaults(c)
	e.findAny(c)
	e.nextStep(c)
	if several := e.answer.Composite; several != nil && several.Kind == "heap" {
		e.answer.Fineness, e.answer.Families = nil, nil // they would be those of no item in it
	}
	return nil
}

// findAny answers what is claimed of a metal, if anything is.
func (e *evaluation) findAny(c claim) {
	switch {
	case c.fineness > 0:
		e.find(c)
	case c.metal != "":
		e.findMetal(c)
	}
}

// colourAgrees is true where the colour seen is that of the family claimed or of one that an eye
// confuses with it.
func (e *evaluation) colourAgrees(c claim) bool {
	if c.family.Colour == c.colour || c.family.Colour == "any" {
		return true
	}
	for _, key := range c.family.Neighbours {
		if n, ok := alloy.FamilyByKey(key); ok && n.Colour == c.colour {
			return true
		}
	}
	return false
}

// claim is what is claimed, resolved against the tables. Fineness as fraction.
type claim struct {
	metal     string
	fineness  float64
	tolerance float64
	standards []float64
	next      float64 // next lower standard, 0 where there is none
	family    *alloy.Family
	colour    string
	stone     string
	rule      HouseRule

	short, words string // "gold 750", and with the family

	neutral, trade, sceptic alloy.Weighting
}

func (e *evaluation) resolveClaim() (c claim, err error) {
	if c.rule, err = HouseRuleByKey(e.draft.HouseRule); err != nil {
		return c, err
	}
	if item := e.draft.Item; item != nil {
		if err := oneOf("item.colour", item.Colour, "yellow", "red", "pink", "green", "white"); err != nil {
			return c, err
		}
		c.colour = item.Colour
	}
	d, err := e.claimOfType()
	if err != nil || d == nil {
		return c, err
	}
	c.stone = d.Stone
	if d.Family != "" {
		f, ok := alloy.FamilyByKey(d.Family)
		if !ok {
			return c, oneOf("claim.family", d.Family, familyKeys()...)
		}
		c.family, c.metal = f, f.Metal
	}
	if err := oneOf("claim.metal", d.Metal, "gold", "silver", "platinum", "palladium"); err != nil {
		return c, err
	}
	switch {
	case c.stone != "" && (d.Metal != "" || c.family != nil || d.Fineness != nil || d.Carat != nil):
		return c, bad("claim.stone", "Claim a stone or a metal; a stone set in metal is judged otherwise.", "is given together with a metal")
	case d.Metal != "" && c.family != nil && d.Metal != c.family.Metal:
		return c, bad("claim.family", "Name a family of the metal claimed.", "%s is %s, the metal claimed is %s", d.Family, c.family.Metal, d.Metal)
	case d.Metal != "":
		c.metal = d.Metal
	}
	if c.fineness, err = d.fineness(c.metal); err != nil {
		return c, err
	}
	if c.fineness > 0 && c.metal == "" {
		return c, bad("claim.metal", "Say which metal: gold, silver, platinum or palladium.", "is missing")
	}
	if err := within("claim.tolerance_ppt", d.TolerancePpt, 0, 100, "parts per thousand"); err != nil {
		return c, err
	}
	c.tolerance = or(d.TolerancePpt, 0) / 1000
	if err := e.resolveStandards(&c, d); err != nil {
		return c, err
	}
	c.neutral, c.trade = alloy.Neutral(), alloy.Trade(c.standards)
	if c.fineness > 0 {
		c.short = c.metal + " " + strconv.FormatFloat(1000*c.fineness, 'g', 4, 64)
		c.words = c.short
		if c.family != nil {
			c.words += ", " + c.family.Name
		}
		c.sceptic = alloy.Sceptic(c.fineness, c.standards)
	}
	return c, nil
}

// fineness returns the fineness claimed as a fraction, 0 where none is.
func (d *Claim) fineness(metal string) (float64, error) {
	switch {
	case d.Fineness != nil && d.Carat != nil:
		return 0, bad("claim.carat", "Give fineness or carat, one of the two.", "is given together with fineness")
	case d.Carat != nil:
		if metal != "gold" && metal != "" {
			return 0, bad("claim.carat", "Give the fineness in parts per thousand.", "carat is a measure of gold, the metal claimed is %s", metal)
		}
		if !(*d.Carat >= 2.4 && *d.Carat <= 24) {
			return 0, bad("claim.carat", "Fine gold is 24 carat; was a digit lost? For parts per thousand use fineness.", "%g carat cannot be right", *d.Carat)
		}
		return caratFineness(*d.Carat), nil
	case d.Fineness == nil:
		return 0, nil
	}
	f := *d.Fineness
	switch {
	case f > 0 && f <= 1:
		return 0, bad("claim.fineness", fmt.Sprintf("Did you mean %g parts per thousand?", f*1000), "%g is not in parts per thousand", f)
	case f > 1 && f <= 24 && (metal == "gold" || metal == ""):
		return 0, bad("claim.fineness", fmt.Sprintf("Is it carat? Then write \"carat\": %g, which is %.4g parts per thousand.", f, caratFineness(f)*1000),
			"%g is too low for parts per thousand", f)
	case !(f >= 100 && f <= 1000):
		return 0, bad("claim.fineness", "Fineness lies between 100 and 1000 parts per thousand (18 carat is 750).", "%g cannot be right", f)
	}
	return f / 1000, nil
}

// caratFineness turns carat into the fineness that the trade marks for it: 14 carat is marked
// 585, not 583.3 (ISO 9202).
func caratFineness(carat float64) float64 {
	switch carat {
	case 8:
		return 0.333
	case 10:
		return 0.417
	case 14:
		return 0.585
	case 22:
		return 0.916
	case 24:
		return 0.999
	}
	return carat / 24
}

func (e *evaluation) resolveStandards(c *claim, d *Claim) error {
	if c.metal == "" {
		return nil
	}
	switch {
	case d.StandardsPpt != nil:
		for _, s := range d.StandardsPpt {
			if !(s >= 100 && s <= 1000) {
				return bad("claim.standards_ppt", "Give finenesses in parts per thousand, such as [585, 750].", "%g cannot be right", s)
			}
			c.standards = append(c.standards, s/1000)
		}
	default:
		key := d.Standards
		if key == "" {
			key = defaultStandards
		}
		if err := oneOf("claim.standards", key, alloy.StandardLists()...); err != nil {
			return err
		}
		c.standards = slices.Clone(alloy.Standards(key, c.metal)) // the table's own is shared
		if d.Standards == "" && c.fineness > 0 {
			e.assume("claim.standards", "the international list", "held against the finenesses of the list %q", key)
		}
	}
	if c.fineness > 0 {
		// 916 and 916.7 are two prints of one standard; the claim's own print is kept.
		c.standards = slices.DeleteFunc(c.standards, func(s float64) bool { return alloy.SameStandard(s, c.fineness) })
		c.standards = append(c.standards, c.fineness)
	}
	slices.Sort(c.standards)
	c.standards = slices.Compact(c.standards)
	if c.fineness > 0 {
		c.next = nextLower(c.standards, c.metal, c.fineness)
	}
	return nil
}

// nextLower is the next lower standard of the list. Below the lowest of a list it is that of the
// trade, and below that 133 ppt less (200 for 333; chosen here): a claim is never held against
// nothing.
func nextLower(standards []float64, metal string, claim float64) float64 {
	if next, ok := alloy.NextLower(standards, claim); ok {
		return next
	}
	if next, ok := alloy.NextLower(alloy.Standards(alloy.TradeWide, metal), claim); ok {
		return next
	}
	return claim - 0.133
}

func familyKeys() []string {
	var keys []string
	for _, f := range alloy.Families() {
		keys = append(keys, f.Key)
	}
	return keys
}

// weigh finds the families within reach and shares the evidence out among them. The colour seen
// (or, without one, the colour that the claimed family implies) gives 0.90 to its families and
// 0.10 to those an eye confuses with it; the fineness claimed plays no part.
func (e *evaluation) weigh(c claim) {
	named := c.namedFamilies()
	total := 0.0
	for _, f := range alloy.Families() {
		prior := e.prior(f, c, named)
		if prior == 0 {
			continue
		}
		if len(e.members) == len(e.workspaces) {
			e.workspaces = append(e.workspaces, new(alloy.Workspace))
		}
		posterior, ok := f.Posterior(e.observation, e.workspaces[len(e.members)])
		if !ok {
			continue
		}
		if !e.reaches(f) {
			continue
		}
		m := member{family: f, posterior: posterior}
		evidence := posterior.EvidenceUnder(usualTrade(f))
		m.share = prior * evidence
		total += m.share
		e.members = append(e.members, m)
	}
	for i := range e.members {
		m := &e.members[i]
		if total > 0 {
			m.share /= total
		}
		if limit := c.fineness - c.tolerance; c.fineness > 0 {
			m.neutral = m.posterior.AtLeast(limit)
			if m.share >= negligible {
				m.trade, _ = m.posterior.Weighted(c.trade, limit)
				m.sceptic, _ = m.posterior.Weighted(c.sceptic, limit)
			}
		}
	}
	ofMetal := map[string]float64{}
	for _, m := range e.members {
		ofMetal[m.family.Metal] += m.share
	}
	slices.SortFunc(e.members, func(a, b member) int {
		return cmp.Or(
			cmp.Compare(ofMetal[b.family.Metal], ofMetal[a.family.Metal]), // the likeliest metal first
			cmp.Compare(b.share, a.share),
			strings.Compare(a.family.Key, b.family.Key),
		)
	})
}

// reaches is true where some recipe of the family, a rare one too, fits the density at all.
func (e *evaluation) reaches(f *alloy.Family) bool {
	low, high := f.Reach()
	near := e.fits * math.Hypot(e.observation.U, f.ModelU*e.observation.V)
	return e.observation.V >= low-near && e.observation.V <= high+near
}

// usualTrade is the trade weighting of those standards of the default list that are made of a
// family. Families are held against each other under it, so that no claim can move their shares.
func usualTrade(f *alloy.Family) alloy.Weighting { return usualTrades()[f] }

var usualTrades = sync.OnceValue(func() map[*alloy.Family]alloy.Weighting {
	all := map[*alloy.Family]alloy.Weighting{}
	for _, f := range alloy.Families() {
		standards := alloy.Standards(defaultStandards, f.Metal)
		all[f] = alloy.Trade(slices.DeleteFunc(slices.Clone(standards), func(s float64) bool { return !made(f, s) }))
	}
	return all
})

// namedFamilies are the families that the colour seen or the family claimed points to.
func (c claim) namedFamilies() []string {
	if c.colour != "" {
		if c.family != nil && c.family.Colour == c.colour {
			return []string{c.family.Key}
		}
		var keys []string
		for _, f := range alloy.Families() {
			if f.Role == alloy.Candidate && f.Colour == c.colour {
				keys = append(keys, f.Key)
			}
		}
		return keys
	}
	if c.family != nil {
		return []string{c.family.Key}
	}
	return nil
}

// metalPrior is how often each metal comes to a counter, where none is claimed; chosen here.
var metalPrior = map[string]float64{"gold": 0.45, "silver": 0.45, "platinum": 0.06, "palladium": 0.04}

// candidatesOf counts the families of each metal that compete, so that a metal with many does not
// weigh more.
var candidatesOf = sync.OnceValue(func() map[string]int {
	n := map[string]int{}
	for _, f := range alloy.Families() {
		if f.Role == alloy.Candidate {
			n[f.Metal]++
		}
	}
	return n
})

// prior is the weight of a family before the density is known.
func (e *evaluation) prior(f *alloy.Family, c claim, named []string) float64 {
	if c.metal != "" && f.Metal != c.metal {
		return 0
	}
	if slices.Contains(named, f.Key) {
		return colourTrust / float64(len(named))
	}
	if f.Role != alloy.Candidate {
		return 0
	}
	if len(named) == 0 {
		return metalPrior[f.Metal] / float64(candidatesOf()[f.Metal])
	}
	// A tenth is shared among the neighbours of each named family.
	weight := 0.0
	for _, key := range named {
		n, _ := alloy.FamilyByKey(key)
		if slices.Contains(n.Neighbours, f.Key) {
			weight += (1 - colourTrust) / float64(len(n.Neighbours)*len(named))
		}
	}
	return weight
}

// kept are the families that hold at least a twentieth of the evidence. Where no metal is claimed,
// they are those of the likeliest metal: a fineness of several metals together means nothing.
func (e *evaluation) kept() []member {
	n := 0
	for n < len(e.members) && e.members[n].share >= noticed && e.members[n].family.Metal == e.members[0].family.Metal {
		n++
	}
	return e.members[:n]
}

// describeFineness writes the figures of each family apart, and of those that count together.
func (e *evaluation) describeFineness(c claim) {
	e.answer.Families = make([]Fineness, len(e.members))
	for i, m := range e.members {
		e.answer.Families[i] = e.fineness(m, c)
	}
	e.otherMetals()
	kept := e.kept()
	switch len(kept) {
	case 0:
	case 1:
		f := e.answer.Families[0]
		e.answer.Fineness = &f
	default:
		f := e.mixture(kept, c)
		e.answer.Fineness = &f
	}
	if f := e.answer.Fineness; f != nil && c.family != nil && c.colour == "" {
		// The family is only claimed: it must not raise the figure to pay by.
		f.Safe = math.Min(f.Safe, e.safeOfAnyFamily(c.metal))
	}
}

// safeOfAnyFamily is the lowest safe figure of the families that count when nothing is known of
// the family, in parts per thousand.
func (e *evaluation) safeOfAnyFamily(metal string) float64 {
	type figure struct{ evidence, safe float64 }
	var figures []figure
	total := 0.0
	ws := new(alloy.Workspace)
	for _, f := range alloy.FamiliesOf(metal) {
		if f.Role != alloy.Candidate || !e.reaches(f) {
			continue
		}
		if p, ok := f.Posterior(e.observation, ws); ok {
			evidence := p.EvidenceUnder(usualTrade(f))
			total += evidence
			figures = append(figures, figure{evidence, 1000 * p.Quantile(0.05)})
		}
	}
	safe := 1000.0
	for _, f := range figures {
		if f.evidence >= noticed*total {
			safe = math.Min(safe, f.safe)
		}
	}
	return safe
}

// otherMetals notes the metals beside the likeliest that hold a twentieth of the evidence.
func (e *evaluation) otherMetals() {
	shares := map[string]float64{}
	for _, m := range e.members {
		if shares[m.family.Metal] += m.share; m.family.Metal != e.members[0].family.Metal && shares[m.family.Metal] >= noticed &&
			!slices.Contains(e.answer.OtherMetals, m.family.Metal) {
			e.answer.OtherMetals = append(e.answer.OtherMetals, m.family.Metal)
		}
	}
}

// fineness describes one family.
func (e *evaluation) fineness(m member, c claim) Fineness {
	out := Fineness{Family: m.family.Key, Metal: m.family.Metal, Share: m.share}
	if low, high, ok := m.family.Range(e.observation, e.k2, false); ok {
		out.RangeLow, out.RangeHigh = 1000*low, 1000*high
	}
	if low, high, ok := m.family.Range(e.observation, e.k2, true); ok {
		out.OuterLow, out.OuterHigh = 1000*low, 1000*high
	}
	p := m.posterior
	out.Low, out.Safe, out.Median, out.High = 1000*p.Quantile(0.025), 1000*p.Quantile(0.05), 1000*p.Quantile(0.5), 1000*p.Quantile(0.975)
	out.Reach = e.reach([]member{m}, c)
	e.fit(&out, m.family, c)
	return out
}

// mixture describes several families together, weighted by their shares. Its safe figure is the
// lowest of theirs.
func (e *evaluation) mixture(members []member, c claim) Fineness {
	out := e.answer.Families[0]
	out.Fits = nil
	for _, f := range e.answer.Families[1:len(members)] {
		out.Family += " + " + f.Family
		out.Share += f.Share
		out.Safe = math.Min(out.Safe, f.Safe)
		out.RangeLow, out.RangeHigh = hull(out.RangeLow, out.RangeHigh, f.RangeLow, f.RangeHigh)
		out.OuterLow, out.OuterHigh = hull(out.OuterLow, out.OuterHigh, f.OuterLow, f.OuterHigh)
	}
	out.Low, out.Median, out.High = 1000*quantile(members, 0.025), 1000*quantile(members, 0.5), 1000*quantile(members, 0.975)
	out.Reach = e.reach(members, c)
	return out
}

// hull is the least interval that holds two; one that is 0 to 0 is empty.
func hull(low1, high1, low2, high2 float64) (low, high float64) {
	switch {
	case high1 == 0:
		return low2, high2
	case high2 == 0:
		return low1, high1
	}
	return math.Min(low1, low2), math.Max(high1, high2)
}

// reach is the probability of reaching the claim under each weighting.
func (e *evaluation) reach(members []member, c claim) []ClaimReach {
	if c.fineness == 0 || members[0].family.Metal != c.metal || members[0].share < negligible {
		return nil
	}
	return []ClaimReach{
		{c.neutral.Name, shared(members, func(m *member) float64 { return m.neutral })},
		{c.trade.Name, shared(members, func(m *member) float64 { return m.trade })},
		{c.sceptic.Name, sceptic(members)},
	}
}

// fit lists the legal finenesses that come near.
func (e *evaluation) fit(out *Fineness, f *alloy.Family, c claim) {
	standards := c.standards
	if f.Metal != c.metal {
		standards = alloy.Standards(defaultStandards, f.Metal)
	}
	near := 2 * e.near(f)
	for _, s := range standards {
		low, high, ok := f.Band(s, true)
		if !ok || s != c.fineness && (e.observation.V < low-near || e.observation.V > high+near) {
			continue
		}
		if z, ok := f.Distance(e.observation, s, true); ok {
			out.Fits = append(out.Fits, LegalFit{1000 * s, z, math.Abs(z) <= e.fits})
		}
	}
}

// quantile of the mixture of families.
func quantile(members []member, q float64) float64 {
	low, high := 1.0, 0.0
	for _, m := range members {
		own := m.posterior.Quantile(q)
		low, high = math.Min(low, own), math.Max(high, own)
	}
	for high-low > 1e-6 {
		middle := (low + high) / 2
		if 1-atLeast(members, middle) < q {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}

// atLeast is the probability of at least f in the mixture, every fineness weighted alike.
func atLeast(members []member, f float64) float64 {
	return shared(members, func(m *member) float64 { return m.posterior.AtLeast(f) })
}

// sceptic is the probability of reaching the claim under the sceptic weighting.
func sceptic(members []member) float64 {
	return shared(members, func(m *member) float64 { return m.sceptic })
}

// shared is the mean of a figure of the members, weighted by their shares.
func shared(members []member, figure func(*member) float64) float64 {
	sum, total := 0.0, 0.0
	for i := range members {
		if members[i].share < negligible {
			continue
		}
		sum += members[i].share * figure(&members[i])
		total += members[i].share
	}
	if total == 0 {
		return 0
	}
	return sum / total
}
