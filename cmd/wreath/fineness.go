package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"wreath/alloy"
	"wreath/conformity"
	"wreath/hydrostatic"
	"wreath/quantity"
	"wreath/uncertainty"
)

type finenessCmd struct {
	DensityGCm3  decimal      `name:"density-g-cm3" required:"" placeholder:"N" help:"Density at 20 °C, g/cm³."`
	UGCm3        decimal      `name:"u-g-cm3" required:"" placeholder:"N" help:"Its standard uncertainty, g/cm³."`
	Dof          decimal      `placeholder:"N" help:"Degrees of freedom of the uncertainty; taken as well known unless said."`
	Family       familyKey    `placeholder:"KEY" help:"Alloy family, as wreath materials families lists them; every family that fits unless said."`
	Metal        metalName    `placeholder:"NAME" help:"Only families of this metal: gold, silver, platinum or palladium."`
	Claim        decimal      `placeholder:"PPT" help:"Fineness claimed, parts per thousand."`
	ClaimCarat   decimal      `placeholder:"N" help:"Instead, for gold: carat claimed."`
	TolerancePpt decimal      `placeholder:"PPT" help:"Minus tolerance that the law allows; none unless said."`
	Standards    standardsKey `default:"iso-9202" placeholder:"LIST" help:"Legal finenesses to hold the claim against, as wreath materials standards lists them; ${default} unless said."`
	Format       string       `enum:"text,json" default:"text" help:"text for people, json for programs."`
}

func (finenessCmd) Help() string {
	return `Examples:

  wreath fineness --density-g-cm3 15.44 --u-g-cm3 0.015 --family gold-2n-3n --claim 750
  wreath fineness --density-g-cm3 13.3 --u-g-cm3 0.03 --metal gold --claim-carat 14
  wreath fineness --density-g-cm3 10.36 --u-g-cm3 0.02 --dof 4 --format json

The uncertainty is taken as symmetric in the specific volume 1/ρ, as it is for a weighing in a liquid.`
}

// familyKey is the key of an alloy family.
type familyKey string

// Choices lists the keys, for completion.
func (familyKey) Choices() []string {
	var keys []string
	for _, f := range alloy.Families() {
		keys = append(keys, f.Key)
	}
	return keys
}

// metalName is a precious metal in words.
type metalName string

// Choices lists the names, for completion.
func (metalName) Choices() []string { return []string{"gold", "silver", "platinum", "palladium"} }

// standardsKey is the name of a list of legal finenesses.
type standardsKey string

// Choices lists the names, for completion.
func (standardsKey) Choices() []string { return alloy.StandardLists() }

// finenessAnswer is what a density says of the fineness; finenesses in parts per thousand.
type finenessAnswer struct {
	DensityGCm3         float64          `json:"density_g_cm3"`
	UGCm3               float64          `json:"u_g_cm3"`
	Dof                 *float64         `json:"dof"` // null: well known
	SpecificVolumeCm3G  float64          `json:"specific_volume_cm3_g"`
	SpecificVolumeUCm3G float64          `json:"specific_volume_u_cm3_g"`
	Claim               *finenessClaim   `json:"claim"`
	Families            []finenessFamily `json:"families"`
	LookAlikes          []string         `json:"look_alikes"` // everything else that fits the density
	Assumed             []string         `json:"assumed"`
	Cautions            []string         `json:"cautions"`
}

type finenessClaim struct {
	Metal     string   `json:"metal"`
	Ppt       float64  `json:"ppt"`
	LimitPpt  float64  `json:"limit_ppt"`      // the claim less the tolerance
	NextPpt   *float64 `json:"next_lower_ppt"` // the standard that it is held against
	Standards string   `json:"standards"`

	finenesses []float64
}

type finenessFamily struct {
	Family       string          `json:"family"`
	Name         string          `json:"name"`
	Metal        string          `json:"metal"`
	LowPpt       float64         `json:"low_ppt"`       // exceeded with 97.5 %
	SafePpt      float64         `json:"safe_ppt"`      // exceeded with 95 %
	MedianPpt    float64         `json:"median_ppt"`    // exceeded with 50 %
	HighPpt      float64         `json:"high_ppt"`      // exceeded with 2.5 %
	RangeLowPpt  *float64        `json:"range_low_ppt"` // usual recipes, k = 2; null: none fits
	RangeHighPpt *float64        `json:"range_high_ppt"`
	OuterLowPpt  *float64        `json:"outer_low_ppt"` // rare recipes too
	OuterHighPpt *float64        `json:"outer_high_ppt"`
	Reach        []finenessReach `json:"reach,omitempty"`
	NearerClaim  *float64        `json:"p_nearer_claim_than_next_lower,omitempty"`
	Fits         []finenessFit   `json:"fits"`
}

// finenessReach is the probability of at least the limit under one weighting of fineness.
type finenessReach struct {
	Weighting   string  `json:"weighting"`
	Probability float64 `json:"p"`
}

// finenessFit is how far the density lies from the band of one legal fineness.
type finenessFit struct {
	Ppt  float64 `json:"ppt"`
	Z    float64 `json:"z"` // standard uncertainties; 0 inside the band, rare recipes included
	Fits bool    `json:"fits"`
}

// fitsWithin is the distance in standard uncertainties up to which something fits: 99 % of a
// normal distribution.
const fitsWithin = 2.58

// Run answers with the fineness.
func (c *finenessCmd) Run(s *streams) error {
	o, err := c.observation()
	if err != nil {
		return err
	}
	families, err := c.families()
	if err != nil {
		return err
	}
	claim, err := c.claim()
	if err != nil {
		return err
	}
	answer := finenessAnswer{
		DensityGCm3: c.DensityGCm3.value, UGCm3: c.UGCm3.value,
		SpecificVolumeCm3G: significant(o.V, 7), SpecificVolumeUCm3G: significant(o.U, 4),
		Claim: claim, Families: []finenessFamily{}, LookAlikes: lookAlikes(o),
		Assumed:  []string{"the item is one sound piece of metal, its density at 20 °C"},
		Cautions: []string{"Density does not determine the fineness, and can't see a core of the same density.", "Not a hallmark, not an assay."},
	}
	if c.Family == "" {
		answer.Assumed = append(answer.Assumed, "nothing is known of colour or recipe: each family stands for itself (--family)")
	}
	if c.Dof.given() {
		answer.Dof = &c.Dof.value
	}
	if claim != nil && claim.Standards != "" {
		answer.Assumed = append(answer.Assumed, fmt.Sprintf("the claim is held against the list %q", claim.Standards))
	}
	for _, f := range families {
		if out, ok := c.judge(f, o, claim); ok {
			answer.Families = append(answer.Families, out)
		}
	}
	if c.Format == "json" {
		return writeJSON(s.Out, answer)
	}
	return answer.text(s.Out, c.DensityGCm3.text, c.UGCm3.text)
}

// observation turns the density into the specific volume that is judged: u(v) = u(ρ)/ρ².
func (c *finenessCmd) observation() (alloy.Observation, error) {
	rho := c.DensityGCm3.value
	if err := hydrostatic.CheckDensity(quantity.GramsPerCm3(rho)); err != nil {
		return alloy.Observation{}, fromFormula(err)
	}
	if err := firstError(
		positive("u-g-cm3", c.UGCm3),
		within("u-g-cm3", c.UGCm3, 0, rho/5, "g/cm³", "Give a standard uncertainty in g/cm³; one of more than a fifth of the density says nothing."),
		within("dof", c.Dof, 1, 1e9, "", "Degrees of freedom are the number of repeats less one; leave it out when the uncertainty is well known."),
	); err != nil {
		return alloy.Observation{}, err
	}
	return alloy.Observation{V: 1 / rho, U: c.UGCm3.value / (rho * rho), Dof: c.Dof.or(0)}, nil
}

// families are those to judge by.
func (c *finenessCmd) families() ([]*alloy.Family, error) {
	if c.Metal != "" {
		if err := oneOf("--metal", string(c.Metal), c.Metal.Choices()); err != nil {
			return nil, err
		}
	}
	if c.Family != "" {
		if err := oneOf("--family", string(c.Family), c.Family.Choices()); err != nil {
			return nil, err
		}
		f, _ := alloy.FamilyByKey(string(c.Family))
		if c.Metal != "" && string(c.Metal) != f.Metal {
			return nil, wrong("Leave --metal out, or name a family of that metal.", "--family %s is %s, not %s", f.Key, f.Metal, c.Metal)
		}
		return []*alloy.Family{f}, nil
	}
	return slices.DeleteFunc(alloy.Families(), func(f *alloy.Family) bool {
		return f.Role != alloy.Candidate || c.Metal != "" && f.Metal != string(c.Metal)
	}), nil
}

// claim resolves what is claimed; nil when nothing is.
func (c *finenessCmd) claim() (*finenessClaim, error) {
	if err := oneOf("--standards", string(c.Standards), c.Standards.Choices()); err != nil {
		return nil, err
	}
	if err := within("tolerance-ppt", c.TolerancePpt, 0, 100, "parts per thousand", "A minus tolerance is a few parts per thousand, written without a sign."); err != nil {
		return nil, err
	}
	if !c.Claim.given() && !c.ClaimCarat.given() {
		if c.TolerancePpt.given() {
			return nil, wrong("Give --claim, or leave the tolerance out.", "--tolerance-ppt is given without a claim")
		}
		return nil, nil
	}
	metal := string(c.Metal)
	if f, ok := alloy.FamilyByKey(string(c.Family)); ok {
		metal = f.Metal
	}
	if metal == "" && c.ClaimCarat.given() {
		metal = "gold"
	}
	if metal == "" {
		return nil, wrong("Give --metal, or --family.", "--claim %s: of which metal", c.Claim.text)
	}
	standards := alloy.StandardsOf(string(c.Standards), metal)
	fineness, err := c.claimedFineness(metal, standards)
	if err != nil {
		return nil, err
	}
	// 916 and 916.7 are two prints of one standard; the claim's own print is kept.
	finenesses := []float64{fineness}
	for _, s := range standards {
		if !alloy.SameStandard(s.Fineness, fineness) {
			finenesses = append(finenesses, s.Fineness)
		}
	}
	slices.Sort(finenesses)
	claim := &finenessClaim{Metal: metal, Ppt: rounded(1000*fineness, 3), LimitPpt: rounded(1000*fineness-c.TolerancePpt.value, 3), Standards: string(c.Standards), finenesses: slices.Compact(finenesses)}
	if next, ok := alloy.NextLower(finenesses, fineness); ok {
		ppt := rounded(1000*next, 3)
		claim.NextPpt = &ppt
	}
	return claim, nil
}

// claimedFineness is the fineness claimed, from 0 to 1.
func (c *finenessCmd) claimedFineness(metal string, standards []alloy.Standard) (float64, error) {
	if c.Claim.given() && c.ClaimCarat.given() {
		return 0, wrong("Give one of the two.", "--claim-carat is given together with --claim")
	}
	if c.ClaimCarat.given() {
		carat := c.ClaimCarat.value
		if metal != "gold" {
			return 0, wrong("Give --claim in parts per thousand.", "--claim-carat: carat is a measure of gold, not of %s", metal)
		}
		if !(carat > 2 && carat <= 24) {
			return 0, wrong("Fine gold is 24 carat; for parts per thousand use --claim.", "--claim-carat %s cannot be right", c.ClaimCarat.text)
		}
		return caratFineness(carat, standards), nil
	}
	ppt, text := c.Claim.value, c.Claim.text
	switch {
	case ppt > 0 && ppt <= 1:
		return 0, wrong(fmt.Sprintf("Did you mean %g?", rounded(1000*ppt, 6)), "--claim %s is not in parts per thousand", text)
	case ppt > 1 && ppt <= 24 && metal == "gold":
		return 0, wrong(fmt.Sprintf("Is it carat? Then --claim-carat %s, which is %.4g parts per thousand.", text, 1000*caratFineness(ppt, standards)), "--claim %s is too low for parts per thousand", text)
	case !(ppt >= 100 && ppt <= 1000):
		return 0, wrong("Fineness lies between 100 and 1000 parts per thousand; 18 carat is 750.", "--claim %s cannot be right", text)
	}
	return ppt / 1000, nil
}

// caratFineness is the fineness that the list gives for a number of carat, else 24ths: 14 carat
// is marked 585, not 583.3 (ISO 9202).
func caratFineness(carat float64, standards []alloy.Standard) float64 {
	for _, s := range standards {
		if c, err := strconv.ParseFloat(s.Carat, 64); err == nil && c == carat {
			return s.Fineness
		}
	}
	return carat / 24
}

// judge says what the density means in one family; false when the family is out of reach, or no
// recipe of it fits and it was not asked for by name.
func (c *finenessCmd) judge(f *alloy.Family, o alloy.Observation, claim *finenessClaim) (finenessFamily, bool) {
	p, ok := f.Posterior(o, nil)
	if !ok {
		return finenessFamily{}, false
	}
	if _, _, fits := f.Range(o, fitsWithin, true); !fits && c.Family == "" {
		return finenessFamily{}, false
	}
	ppt := func(x float64) float64 { return rounded(1000*x, 2) }
	out := finenessFamily{
		Family: f.Key, Name: f.Name, Metal: f.Metal,
		LowPpt: ppt(p.Quantile(0.025)), SafePpt: ppt(p.Quantile(0.05)), MedianPpt: ppt(p.Quantile(0.5)), HighPpt: ppt(p.Quantile(0.975)),
		Fits: []finenessFit{},
	}
	pair := func(low, high float64, ok bool) (l, h *float64) {
		if !ok {
			return nil, nil
		}
		low, high = ppt(low), ppt(high)
		return &low, &high
	}
	out.RangeLowPpt, out.RangeHighPpt = pair(f.Range(o, 2, false))
	out.OuterLowPpt, out.OuterHighPpt = pair(f.Range(o, 2, true))
	finenesses := alloy.Standards(string(c.Standards), f.Metal)
	claimed := claim != nil && claim.Metal == f.Metal
	if claimed {
		finenesses = claim.finenesses
		out.Reach, out.NearerClaim = reach(p, claim)
	}
	for _, x := range finenesses {
		z, ok := f.Distance(o, x, true)
		if ok && (math.Abs(z) <= 2*fitsWithin || claimed && rounded(1000*x, 3) == claim.Ppt) {
			out.Fits = append(out.Fits, finenessFit{rounded(1000*x, 3), rounded(z, 2), math.Abs(z) <= fitsWithin})
		}
	}
	return out, true
}

// reach is the probability of keeping the limit under each weighting, and of lying nearer the
// claim than the next lower standard.
func reach(p *alloy.Posterior, claim *finenessClaim) (list []finenessReach, nearer *float64) {
	fineness := claim.Ppt / 1000
	for _, w := range []alloy.Weighting{alloy.Neutral(), alloy.Trade(claim.finenesses), alloy.Sceptic(fineness, claim.finenesses)} {
		if probability, ok := p.Weighted(w, claim.LimitPpt/1000); ok {
			list = append(list, finenessReach{w.Name, rounded(probability, 4)})
		}
	}
	if claim.NextPpt != nil {
		half := rounded(p.AtLeast((claim.Ppt+*claim.NextPpt)/2000), 4)
		nearer = &half
	}
	return list, nearer
}

// lookAlikes names everything in the table of look-alikes that fits the density.
func lookAlikes(o alloy.Observation) []string {
	names := []string{}
	for _, m := range alloy.Lookalikes() {
		low, high := m.Band()
		if m.Reaches(quantity.GramsPerCm3(1/o.V)) || math.Abs(alloy.RangeDistance(o, low, high, 0)) <= fitsWithin {
			names = append(names, m.Name)
		}
	}
	return names
}

func (a *finenessAnswer) text(w io.Writer, density, u string) error {
	page := sheet{label: 16}
	v, uV := uncertainty.Round(a.SpecificVolumeCm3G, a.SpecificVolumeUCm3G)
	page.line("%s g/cm³, standard uncertainty %s g/cm³", density, u)
	page.line("specific volume %s cm³/g, standard uncertainty %s cm³/g", v, uV)
	if len(a.Families) == 0 {
		page.line("\nNo alloy family of those asked for has this density.")
	}
	for i := range a.Families {
		a.Families[i].text(&page, a.Claim)
	}
	page.line("")
	if len(a.LookAlikes) > 0 {
		page.say("fits too", "%s", strings.Join(a.LookAlikes, "; "))
	}
	page.list("assumed", a.Assumed)
	page.list("caution", a.Cautions)
	return page.print(w)
}

func (f *finenessFamily) text(page *sheet, claim *finenessClaim) {
	page.line("\n%s, %s", f.Family, f.Name)
	page.say("  middle", "%.1f ppt, half of the probability lies below", f.MedianPpt)
	page.say("  interval", "%.1f to %.1f ppt, 95 %%, recipes weighted evenly", f.LowPpt, f.HighPpt)
	page.say("  range", "%s, any usual recipe (k = 2)", rangeWords(f.RangeLowPpt, f.RangeHighPpt))
	page.say("", "%s, rare recipes too", rangeWords(f.OuterLowPpt, f.OuterHighPpt))
	page.say("  safe figure", "%.1f ppt, exceeded with 95 %%", f.SafePpt)
	label := ""
	for _, r := range f.Reach {
		if label == "" {
			label = fmt.Sprintf("  at least %g", claim.LimitPpt)
		} else {
			label = " "
		}
		page.say(label, "%s, weighting %s", conformity.Percent(r.Probability), r.Weighting)
	}
	if f.NearerClaim != nil {
		page.say(fmt.Sprintf("  nearer %g", claim.Ppt), "%s, than the next lower standard, %g", conformity.Percent(*f.NearerClaim), *claim.NextPpt)
	}
	fit, not := []string{}, []string{}
	for _, l := range f.Fits {
		if l.Fits {
			fit = append(fit, fmt.Sprintf("%g", l.Ppt))
		} else {
			not = append(not, fmt.Sprintf("%g (%.1f standard uncertainties away)", l.Ppt, math.Abs(l.Z)))
		}
	}
	if len(fit) == 0 {
		fit = []string{"none"}
	}
	page.say("  legal", "fits %s", strings.Join(fit, ", "))
	if len(not) > 0 {
		page.say("", "not %s", strings.Join(not, ", "))
	}
}

func rangeWords(low, high *float64) string {
	if low == nil {
		return "none"
	}
	return fmt.Sprintf("%.1f to %.1f ppt", *low, *high)
}
