package determination

// Answer is what a draft comes to. Every number names its unit; everything that was taken for
// granted stands in Assumed.
type Answer struct {
	ID      string  `json:"id,omitempty" doc:"the draft's own mark"`
	Item    string  `json:"item,omitempty" doc:"the item's description"`
	Program Program `json:"program" doc:"what computed this"`
	Method  string  `json:"method" doc:"method and arrangement"`

	Density    Density `json:"density" doc:"density at the liquid's temperature"`
	Density20C Density `json:"density_20c" doc:"density referred to 20 °C with the item's expansion"`

	SecondLiquid *SecondDensity `json:"second_liquid,omitempty" doc:"what the weighing in the second liquid finds by itself"`

	LiquidDensityKgM3  float64  `json:"liquid_density_kg_m3" doc:"density of the liquid at its temperature"`
	LiquidDensityUKgM3 float64  `json:"liquid_density_u_kg_m3" doc:"its standard uncertainty"`
	AirDensityKgM3     float64  `json:"air_density_kg_m3" doc:"density of the air"`
	VolumeCm3          float64  `json:"volume_cm3" doc:"volume of the item at the liquid's temperature"`
	VolumeUCm3         float64  `json:"volume_u_cm3" doc:"its standard uncertainty"`
	TrueMassG          float64  `json:"true_mass_g" doc:"mass free of the buoyancy of the air (not the price weight)"`
	TrueMassUG         float64  `json:"true_mass_u_g" doc:"its standard uncertainty"`
	OpenPorosity       *float64 `json:"open_porosity,omitempty" doc:"impregnated: share of the volume that is open pores, 0 to 1"`

	Budget     []BudgetRow `json:"budget" doc:"where the uncertainty of the density at 20 °C comes from, in specific volume; largest share first"`
	MonteCarlo *MonteCarlo `json:"monte_carlo,omitempty" doc:"the same model by propagation of distributions (JCGM 101)"`

	Fineness    *Fineness   `json:"fineness,omitempty" doc:"fineness of the claimed metal, or of the likeliest"`
	OtherMetals []string    `json:"other_metals,omitempty" doc:"metals that the density allows as well, where none is claimed; fineness is then that of the likeliest only"`
	Families    []Fineness  `json:"families,omitempty" doc:"the same for every alloy family within reach, apart"`
	Finding     *Finding    `json:"finding,omitempty" doc:"which standard is it: the answer to the claim"`
	LegalLimit  *LegalLimit `json:"legal_limit,omitempty" doc:"is the legal limit kept: a second question with its own answer"`
	Candidates  []Candidate `json:"candidates" doc:"everything in the tables that fits the density, the claim's twins first"`
	Weighting   string      `json:"weighting,omitempty" doc:"the named weighting that the shares of the candidates rest on, with what the draft changed"`

	NeverExcluded []string         `json:"never_excluded" doc:"what density can never exclude here, in words"`
	Evidence      []EvidenceEffect `json:"evidence,omitempty" doc:"what each piece of further evidence says, and what it changes; in the order of the draft"`
	Type          *TypeCheck       `json:"type,omitempty" doc:"the item held against its type of coin or bar: mass, size and density together"`

	Doubts    []Doubt   `json:"doubts" doc:"signs that the weighing itself is at fault, and what may be wrong where the item does not look like what it is said to be; likeliest first"`
	Clean     *float64  `json:"clean" doc:"probability that nothing is wrong: sound weighing, and the item is what is claimed or a standard material; null where it is not judged"`
	NotJudged string    `json:"not_judged,omitempty" doc:"which faults could not be judged, and why; left out where all were"`
	Excluded  []Doubt   `json:"excluded" doc:"faults that were looked at and can't be it, with the sizes that can be; only where something is in doubt"`
	Next      *NextStep `json:"next,omitempty" doc:"the one act that settles most for its cost"`

	Stop      *Stop      `json:"stop,omitempty" doc:"between repeats: whether enough was weighed, by the stop rule"`
	Composite *Composite `json:"composite,omitempty" doc:"an item of several materials: its parts"`

	Assumed  []Assumption `json:"assumed" doc:"what was taken for granted because the draft did not say"`
	Cautions []string     `json:"cautions" doc:"hazards, and what density cannot see"`
}

// Program names what computed an answer, so that it can be computed again.
type Program struct {
	Version  string `json:"version" doc:"of the program"`
	Formulas string `json:"formulas" doc:"edition of the formulas; answers of one edition and one edition of the tables agree"`
	Tables   string `json:"tables" doc:"edition of the tables of materials, alloys and rules"`
}

// Density is a density with its uncertainty.
type Density struct {
	KgM3         float64  `json:"kg_m3" doc:"value"`
	UKgM3        float64  `json:"u_kg_m3" doc:"standard uncertainty"`
	UExpanded    float64  `json:"U_kg_m3" doc:"expanded uncertainty, k times u"`
	K            float64  `json:"k" doc:"coverage factor for 95 %"`
	Dof          *float64 `json:"dof" doc:"effective degrees of freedom (Welch-Satterthwaite); null where unbounded"`
	LowKgM3      float64  `json:"low_kg_m3" doc:"lower end of the 95 % interval, symmetric in specific volume"`
	HighKgM3     *float64 `json:"high_kg_m3" doc:"upper end; null where the weighing sets none"`
	IntervalBy   string   `json:"interval_by" doc:"first-order or monte-carlo"`
	TemperatureC float64  `json:"temperature_c" doc:"the temperature it holds at"`
}

// BudgetRow is one input of the uncertainty budget.
type BudgetRow struct {
	Input        string   `json:"input" doc:"name of the input"`
	Value        float64  `json:"value" doc:"its value"`
	U            float64  `json:"u" doc:"its standard uncertainty"`
	Unit         string   `json:"unit" doc:"unit of value and u"`
	Distribution string   `json:"distribution" doc:"shape assigned to it"`
	Dof          *float64 `json:"dof" doc:"degrees of freedom of u; null where unbounded"`
	Sensitivity  float64  `json:"sensitivity_cm3_g" doc:"change of the specific volume per unit of the input"`
	Contribution float64  `json:"contribution_kg_m3" doc:"what it contributes to u of the density"`
	Share        float64  `json:"share" doc:"share of the variance, 0 to 1"`
}

// MonteCarlo is the propagation of distributions beside the first-order budget.
type MonteCarlo struct {
	LowKgM3   float64  `json:"low_kg_m3" doc:"lower end of the probabilistically symmetric 95 % interval at 20 °C"`
	HighKgM3  *float64 `json:"high_kg_m3" doc:"its upper end; null where there is none"`
	UKgM3     *float64 `json:"u_kg_m3" doc:"standard deviation; null where the distribution has none"`
	Points    int      `json:"points" doc:"evaluation points (deterministic, one input integrated analytically)"`
	Validated bool     `json:"validated" doc:"true when the first-order interval agrees within half a last digit of u (JCGM 101 8.1, one significant digit)"`
}

// Fineness is what density says of the fineness, in parts per thousand by mass.
type Fineness struct {
	Family    string       `json:"family" doc:"alloy family, or several joined by +"`
	Metal     string       `json:"metal" doc:"the precious metal"`
	Median    float64      `json:"median" doc:"half of the probability lies below"`
	Low       float64      `json:"low" doc:"lower end of the 95 % interval, recipes weighted evenly"`
	High      float64      `json:"high" doc:"upper end"`
	RangeLow  float64      `json:"range_low" doc:"lowest fineness that any usual recipe allows, k = 2"`
	RangeHigh float64      `json:"range_high" doc:"highest"`
	OuterLow  float64      `json:"outer_low" doc:"the same with the rare recipes too"`
	OuterHigh float64      `json:"outer_high" doc:"highest"`
	Safe      float64      `json:"safe" doc:"exceeded with 95 % probability; the figure to pay by"`
	Share     float64      `json:"share" doc:"of the evidence among the families of this metal, given the colour seen"`
	Fits      []LegalFit   `json:"fits,omitempty" doc:"how well each legal fineness fits"`
	Reach     []ClaimReach `json:"reach,omitempty" doc:"probability of reaching the claim under each named weighting; left out for a family that holds under a ten-thousandth"`
}

// LegalFit is the fit of one legal fineness in one family.
type LegalFit struct {
	Fineness float64 `json:"fineness" doc:"legal fineness"`
	Z        float64 `json:"z" doc:"distance of the density from its band in standard uncertainties; 0 inside"`
	Fits     bool    `json:"fits" doc:"true when z is at most 2.58"`
}

// ClaimReach is the probability of reaching the claim under one weighting of fineness.
type ClaimReach struct {
	Weighting   string  `json:"weighting" doc:"neutral, trade or sceptic"`
	Probability float64 `json:"probability" doc:"that the fineness is at least the claim less the tolerance"`
}

// Finding is the answer to the claim.
type Finding struct {
	Result      string   `json:"result" doc:"met, not met or undecided"`
	WouldBe     string   `json:"would_be,omitempty" doc:"what the numbers alone say where the house rule holds the finding back"`
	Claim       string   `json:"claim" doc:"the claim in words"`
	Against     *float64 `json:"against_ppt,omitempty" doc:"the next lower legal fineness that the claim is held against"`
	Probability *float64 `json:"probability,omitempty" doc:"that the fineness is nearer the claim than the next lower standard, no weighting"`
	Rule        string   `json:"rule" doc:"house rule and decision rule by name"`
	Reasons     []string `json:"reasons,omitempty" doc:"why it is undecided or not met"`
	Missing     []string `json:"missing,omitempty" doc:"what the house rule still asks for"`
	Sentence    string   `json:"sentence" doc:"for the customer"`
}

// LegalLimit is whether the legal limit itself is kept.
type LegalLimit struct {
	Result      string  `json:"result" doc:"met, not met or undecided"`
	LimitPpt    float64 `json:"limit_ppt" doc:"claim less the tolerance that the law allows"`
	Probability float64 `json:"probability" doc:"that the fineness is at least the limit"`
	Weighting   string  `json:"weighting" doc:"weighting of fineness that the probability rests on"`
	Sentence    string  `json:"sentence" doc:"in words"`
}

// Candidate is something that the item can be, by density alone.
type Candidate struct {
	Name     string  `json:"name" doc:"material"`
	Kind     string  `json:"kind" doc:"alloy, look-alike or stone"`
	Family   string  `json:"family,omitempty" doc:"alloy family"`
	Fineness float64 `json:"fineness,omitempty" doc:"parts per thousand"`
	LowKgM3  float64 `json:"low_kg_m3" doc:"lowest density it may have"`
	HighKgM3 float64 `json:"high_kg_m3" doc:"highest"`
	Z        float64 `json:"z" doc:"distance in standard uncertainties; 0 inside its range"`
	Fits     bool    `json:"fits" doc:"true when z is at most 2.58"`
	Why      string  `json:"why,omitempty" doc:"why it matters, for a twin of the claim"`
	Share    float64 `json:"share" doc:"how likely among what fits, by density under the weighting; a small share hides nothing"`

	ShareWithEvidence *float64 `json:"share_with_evidence,omitempty" doc:"the same with the further evidence that is switched on; left out where there is none"`
}

// EvidenceEffect is what one piece of further evidence says.
type EvidenceEffect struct {
	Kind          string        `json:"kind" doc:"kind of test"`
	Off           bool          `json:"off" doc:"true when it is switched off: it then changes nothing, and the shares with it say what it would do"`
	Says          string        `json:"says" doc:"in words"`
	Sees          string        `json:"sees" doc:"how deep the test looks"`
	ErrorRate     float64       `json:"error_rate" doc:"how often such a finding misleads, taken into account; no single finding weighs more than 1 to this"`
	Against       []string      `json:"against" doc:"candidates that fit the density and that this speaks against, twenty to one or more (or to its error rate)"`
	NothingOf     int           `json:"nothing_of" doc:"number of candidates that fit of which it says nothing"`
	Shares        []ShareChange `json:"shares" doc:"candidates whose share it moves by one percent or more, largest change first, at most eight"`
	Contradicts   []string      `json:"contradicts,omitempty" doc:"what it contradicts: claim, density, or another kind of evidence"`
	Contradiction string        `json:"contradiction,omitempty" doc:"the contradiction in words; it is never averaged away, and no finding is given until it is settled"`
}

// ShareChange is the share of one candidate without and with one piece of evidence, all others as
// they are.
type ShareChange struct {
	Name    string  `json:"name" doc:"candidate"`
	Without float64 `json:"without" doc:"share without this piece"`
	With    float64 `json:"with" doc:"share with it"`
}

// TypeCheck holds an item against its type of coin or bar.
type TypeCheck struct {
	Key       string    `json:"key" doc:"the type, as wreath materials types lists them"`
	Name      string    `json:"name" doc:"in words"`
	Law       string    `json:"law" doc:"law or mark that fixes it"`
	Source    string    `json:"source" doc:"where the facts are from"`
	VolumeCm3 *float64  `json:"volume_cm3,omitempty" doc:"volume that a solid piece of the nominal mass and right alloy has; left out where the alloy is not named"`
	DiscMM    *float64  `json:"disc_thickness_mm,omitempty" doc:"thickness of a plain disc of that volume and the nominal diameter: a solid piece measures no less over its rim"`
	Rows      []TypeRow `json:"rows" doc:"mass, sizes, density and volume, each with what a true piece has"`
	Disagree  []string  `json:"disagree" doc:"properties that do not agree with the type"`
	Missing   []string  `json:"missing,omitempty" doc:"properties that were not measured and would tell more"`
	Result    string    `json:"result" doc:"agrees, disagrees or incomplete"`
	Sentence  string    `json:"sentence" doc:"in words"`
}

// TypeRow is one property of a type beside what was measured.
type TypeRow struct {
	Property string  `json:"property" doc:"mass, diameter, thickness, density or volume"`
	Unit     string  `json:"unit" doc:"unit of all figures of the row"`
	Nominal  float64 `json:"nominal" doc:"what law or mark say, or what follows for a solid piece"`
	Low      float64 `json:"low" doc:"least of a true piece, wear and tolerance included"`
	High     float64 `json:"high" doc:"largest"`
	Measured float64 `json:"measured" doc:"what was measured"`
	U        float64 `json:"u" doc:"its standard uncertainty"`
	Verdict  string  `json:"verdict" doc:"agrees, too low, too high, or open where the uncertainty is larger than what is asked"`
	Rule     string  `json:"rule" doc:"where the tolerance is from"`
}

// Doubt is a likely fault of the weighing or of the item, with what settles it.
type Doubt struct {
	Cause   string `json:"cause" doc:"likely fault"`
	Sign    string `json:"sign" doc:"what in the readings says so"`
	Settles string `json:"settles" doc:"the next thing to do"`

	Suspends bool `json:"suspends,omitempty" doc:"true when no finding is given until it is settled"`

	Key      string     `json:"key,omitempty" doc:"which fault, as wreath materials faults lists them; left out for a sign that points to several"`
	Verdict  string     `json:"verdict,omitempty" doc:"favoured (likelier than all else together), possible or excluded"`
	Share    float64    `json:"share,omitempty" doc:"probability of this fault, or of the whole group, given the readings and the table of faults"`
	Size     *FaultSize `json:"size,omitempty" doc:"how large the fault would have to be"`
	Group    []string   `json:"group,omitempty" doc:"keys of the faults that these readings can't tell apart, this one first"`
	Sentence string     `json:"sentence,omitempty" doc:"in words: the act first, then the reason"`
	Proposal *Proposal  `json:"proposal,omitempty" doc:"another reading of what was typed; a person decides, nothing is corrected"`
}

// FaultSize is how large a fault would have to be to explain the reading.
type FaultSize struct {
	Quantity   string   `json:"quantity" doc:"what is measured, in words"`
	Unit       string   `json:"unit" doc:"its unit; empty for a plain ratio"`
	Low        float64  `json:"low" doc:"smallest size that can be: physical bound, or the range of 0.1 to 99.9 % of the table of faults"`
	High       float64  `json:"high" doc:"largest"`
	ForClaim   *float64 `json:"for_claim,omitempty" doc:"size that would make the item what is claimed; left out where none that can be does"`
	ForNearest *float64 `json:"for_nearest,omitempty" doc:"size that would make it the nearest standard material; left out where none that can be does"`
	Nearest    string   `json:"nearest,omitempty" doc:"that material"`
}

// Proposal is another reading of a typed number, beside the typed one.
type Proposal struct {
	Field       string  `json:"field" doc:"the field of the draft"`
	Typed       string  `json:"typed" doc:"as it was typed"`
	Instead     string  `json:"instead" doc:"what may have been meant"`
	InsteadG    float64 `json:"instead_g" doc:"the same in grams; 0 where it is not a mass"`
	DensityKgM3 float64 `json:"density_kg_m3" doc:"the density that it would give"`
}

// NextStep is the one act that settles most for its cost.
type NextStep struct {
	Key     string  `json:"key" doc:"which act, as wreath materials actions lists them"`
	Act     string  `json:"act" doc:"the act in words"`
	Why     string  `json:"why" doc:"what it settles"`
	Expect  string  `json:"expect,omitempty" doc:"the number to expect, where one can be said"`
	Minutes float64 `json:"minutes" doc:"time it takes, roughly"`
	Settles float64 `json:"settles_bits" doc:"expected drop of uncertainty over what is still in question, in bits"`

	Alternatives []Step `json:"alternatives,omitempty" doc:"other acts, best first"`
}

// Step is an act that would settle something.
type Step struct {
	Key     string  `json:"key" doc:"which act, as wreath materials actions lists them"`
	Act     string  `json:"act" doc:"the act in words"`
	Why     string  `json:"why" doc:"what it settles"`
	Expect  string  `json:"expect,omitempty" doc:"the number to expect, where one can be said"`
	Minutes float64 `json:"minutes" doc:"time it takes, roughly"`
	Settles float64 `json:"settles_bits" doc:"expected drop of uncertainty over what is still in question, in bits"`
}

// Assumption is one thing that was taken for granted.
type Assumption struct {
	Field  string `json:"field" doc:"the field of the draft that would replace it"`
	Taken  string `json:"taken" doc:"what was taken instead, with its uncertainty"`
	Reason string `json:"reason,omitempty" doc:"where the figure comes from"`
}
