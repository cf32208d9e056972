package determination

// Draft is one determination as it is given: readings as typed or received, what is claimed,
// and the conditions. Fields carry their unit in their name. What is left out is assumed, and
// the answer says so.
type Draft struct {
	ID   string `json:"id" doc:"your own mark for this determination; comes back in the answer"`
	Note string `json:"note" doc:"anything worth keeping; not used in the calculation"`

	Item      *Item  `json:"item" doc:"the item as seen"`
	Claim     *Claim `json:"claim" doc:"what the item is said to be"`
	HouseRule string `json:"house_rule" doc:"key of the house rule that the finding follows; wreath materials house-rules lists them"`

	StopRule *StopRule `json:"stop_rule" doc:"when to stop repeating, agreed before the first reading; follows from claim and house rule unless said"`

	Arrangement string `json:"arrangement" doc:"hanging (item hangs from the balance) or standing (vessel stands on the pan)"`
	Method      string `json:"method" doc:"immersion, sinker-aided, coated, impregnated, pycnometer or comparison; immersion unless said"`

	AirG        []Reading `json:"air_g" doc:"net readings of the item in air; for coated: bare, for impregnated: dry"`
	LiquidG     []Reading `json:"liquid_g" doc:"hanging: net readings of the item in the liquid"`
	GainG       []Reading `json:"gain_g" doc:"standing: gain of the vessel's reading when the item hangs in it"`
	ClosingAirG []Reading `json:"closing_air_g" doc:"the item weighed in air once more at the end"`

	ClosingZeroG []Reading `json:"closing_zero_g" doc:"the empty hanger in the liquid after the last immersion, before the balance is set to zero again; 0 when the zero stayed"`
	Done         []Done    `json:"done" doc:"what was done between the weighings, and what was seen: it tells what was wrong with a reading that came right"`

	SinkerLiquidG        []Reading `json:"sinker_liquid_g" doc:"sinker-aided: the sinker alone in the liquid; liquid_g then holds sinker and item together"`
	CoatedAirG           []Reading `json:"coated_air_g" doc:"coated: the coated item in air"`
	ImpregnatedAirG      []Reading `json:"impregnated_air_g" doc:"impregnated: the item full of oil, in air"`
	EmptyG               []Reading `json:"empty_g" doc:"pycnometer: empty and dry"`
	WithSampleG          []Reading `json:"with_sample_g" doc:"pycnometer: with the sample"`
	WithSampleAndLiquidG []Reading `json:"with_sample_and_liquid_g" doc:"pycnometer: with the sample, filled to the mark with liquid"`
	LiquidOnlyG          []Reading `json:"liquid_only_g" doc:"pycnometer: filled to the mark with liquid only"`

	Liquid *Liquid `json:"liquid" doc:"the immersion liquid"`

	SecondLiquid *SecondLiquid `json:"second_liquid" doc:"the same item weighed in another liquid, to tell what lies in the item from what lies in the weighing"`

	Air       *Air       `json:"air" doc:"the air at the balance"`
	Balance   *Balance   `json:"balance" doc:"the balance"`
	Hanger    *Hanger    `json:"hanger" doc:"what carries the item in the liquid"`
	Coating   *Filler    `json:"coating" doc:"coated: the wax or lacquer; impregnated: the oil"`
	Reference *Reference `json:"reference" doc:"comparison: the solid of known density weighed in the same liquid"`

	Evidence []Evidence `json:"evidence" doc:"further evidence: size, magnet, conductivity, sound, surface, touchstone, refraction"`
	Weights  *Weights   `json:"weights" doc:"weighting that the shares of the candidates rest on; counter unless said"`

	AtHand []string  `json:"at_hand" doc:"what is at hand for a next step, as wreath materials actions lists them; everything that needs no equipment unless said"`
	Acts   []ActCost `json:"acts" doc:"what acts take here, in place of what the table of next steps says; the next step goes by it"`

	ExpansionPerK  *float64 `json:"expansion_per_k" doc:"cubic expansion of the item per kelvin"`
	ExpansionUPerK *float64 `json:"expansion_u_per_k" doc:"its standard uncertainty"`
}

// Item is the item as seen, apart from what is claimed of it.
type Item struct {
	Description string `json:"description" doc:"what it is, in words"`
	Colour      string `json:"colour" doc:"colour as seen: yellow, red, pink, green or white; leave out when not judged"`
	Stones      *bool  `json:"stones" doc:"true when stones are seen in it, false when looked for and none seen"`
	Hollow      *bool  `json:"hollow" doc:"true when it may be hollow or filled, false when known to be solid"`

	Core *bool `json:"core" doc:"true when another metal was seen inside (a cut, a filed edge, sound), false when looked for and none seen"`

	Type string `json:"type" doc:"type of coin or bar, as wreath materials types lists them; the claim is taken from it where none is made"`
	Worn *bool  `json:"worn" doc:"coin: true when worn, false when as struck; a little wear is allowed unless said"`

	IntakeMassG *float64 `json:"intake_mass_g" doc:"mass written down when the item was taken in, to notice an exchanged item"`

	StonesSet []StonesSet `json:"stones_set" doc:"the stones set in the metal: a row for each kind and size"`
	Layers    *Layers     `json:"layers" doc:"a core under a plate of another metal"`
	Quartz    *Quartz     `json:"quartz" doc:"native gold in quartz"`
	Heap      *bool       `json:"heap" doc:"true when several unlike items were weighed together: no fineness follows from it"`
}

// Claim is what the item is said to be. It selects the question; it never moves the interval.
type Claim struct {
	Metal        string    `json:"metal" doc:"gold, silver, platinum or palladium"`
	Fineness     *float64  `json:"fineness" doc:"parts per thousand by mass (ISO 9202)"`
	Carat        *float64  `json:"carat" doc:"gold only, instead of fineness: 24 carat is fine"`
	Family       string    `json:"family" doc:"alloy family, as wreath materials families lists them"`
	TolerancePpt *float64  `json:"tolerance_ppt" doc:"minus tolerance that the law allows, in parts per thousand; none unless said"`
	Standards    string    `json:"standards" doc:"list of legal finenesses to hold the claim against, as wreath materials standards lists them"`
	StandardsPpt []float64 `json:"standards_ppt" doc:"instead of a list by name: the finenesses themselves"`
	Stone        string    `json:"stone" doc:"instead of a metal: a stone, as wreath materials stones lists them"`
	MadeBy       string    `json:"made_by" doc:"who says so: stamp, seller, list, certificate"`
}

// Liquid is the immersion liquid.
type Liquid struct {
	Kind                   string   `json:"kind" doc:"water, ethanol-water or measured"`
	TemperatureC           *float64 `json:"temperature_c" doc:"temperature in the liquid at the item, °C"`
	TemperatureUC          *float64 `json:"temperature_u_c" doc:"its standard uncertainty, K"`
	EthanolMassPercent     *float64 `json:"ethanol_mass_percent" doc:"ethanol-water: strength by mass"`
	EthanolVolumePercent20 *float64 `json:"ethanol_volume_percent_20c" doc:"ethanol-water: strength by volume at 20 °C, as labels give it"`
	EthanolUPercent        *float64 `json:"ethanol_u_percent" doc:"standard uncertainty of the strength, in the percent it is given in"`
	DensityKgM3            *float64 `json:"density_kg_m3" doc:"measured: density"`
	DensityUKgM3           *float64 `json:"density_u_kg_m3" doc:"its standard uncertainty; for water and ethanol-water what salts and dirt may add"`
	DensityTemperatureC    *float64 `json:"density_temperature_c" doc:"measured: the temperature it holds at; the liquid's own unless said"`
	ExpansionPerK          *float64 `json:"expansion_per_k" doc:"measured: cubic expansion of the liquid per kelvin"`
	ExpansionUPerK         *float64 `json:"expansion_u_per_k" doc:"measured: its standard uncertainty"`
	AirSaturation          *float64 `json:"air_saturation" doc:"water: dissolved air, 0 (boiled) to 1 (saturated); 0.5 with all of the span as uncertainty unless said"`
	Name                   string   `json:"name" doc:"measured: which liquid it is, for the cautions, as wreath materials liquids lists them"`
	Proof                  *Proof   `json:"proof" doc:"a check piece weighed in this liquid in this session"`
}

// Proof is the weighing of a check piece that proves the liquid's density in this session.
type Proof struct {
	AirG         []Reading `json:"air_g" doc:"the check piece in air"`
	LiquidG      []Reading `json:"liquid_g" doc:"hanging: the check piece in the liquid"`
	GainG        []Reading `json:"gain_g" doc:"standing: gain when it hangs in the liquid"`
	VolumeCm3    *float64  `json:"volume_cm3" doc:"its volume at 20 °C"`
	VolumeUCm3   *float64  `json:"volume_u_cm3" doc:"standard uncertainty of the volume"`
	DensityKgM3  *float64  `json:"density_kg_m3" doc:"instead of the volume: its density at 20 °C"`
	DensityUKgM3 *float64  `json:"density_u_kg_m3" doc:"standard uncertainty of the density"`
	ExpansionK   *float64  `json:"expansion_per_k" doc:"its cubic expansion per kelvin; steel, 48e-6, unless said"`
}

// Air is the air at the balance. With nothing given, sea level and an ordinary room are assumed.
type Air struct {
	TemperatureC    *float64 `json:"temperature_c" doc:"°C"`
	PressureHPa     *float64 `json:"pressure_hpa" doc:"absolute pressure at the bench, not reduced to sea level"`
	HumidityPercent *float64 `json:"humidity_percent" doc:"relative humidity, 0 to 100"`
	AltitudeM       *float64 `json:"altitude_m" doc:"height above sea level when there is no barometer"`
	DensityKgM3     *float64 `json:"density_kg_m3" doc:"instead of the rest: the density of the air"`
	DensityUKgM3    *float64 `json:"density_u_kg_m3" doc:"its standard uncertainty"`
}

// Balance is what is known of the balance.
type Balance struct {
	ResolutionG          *float64 `json:"resolution_g" doc:"scale interval; taken from the digits of the readings when left out"`
	RepeatabilityG       *float64 `json:"repeatability_g" doc:"standard deviation of one net reading"`
	RepeatabilityLiquidG *float64 `json:"repeatability_liquid_g" doc:"the same for the immersed reading, surface forces included, where it is known apart"`
	RepeatabilityDof     *float64 `json:"repeatability_dof" doc:"degrees of freedom of the repeatability: weighings behind it less one; taken as well known unless said"`
	LinearityG           *float64 `json:"linearity_g" doc:"largest deviation from linearity, as a half-width; none unless said"`
	Zero                 string   `json:"zero" doc:"tared (set to zero before each load, unless said) or read (a zero reading is subtracted)"`
	SpanUPpm             *float64 `json:"span_u_ppm" doc:"standard uncertainty of the span, in parts per million; cancels in the density, not in the mass"`
	CapacityG            *float64 `json:"capacity_g" doc:"largest load; readings above it are refused"`
	AdjustmentAirKgM3    *float64 `json:"adjustment_air_kg_m3" doc:"density of the air when the balance was last adjusted; 1.2 unless said"`
}

// Hanger is what carries the item in the liquid.
type Hanger struct {
	WireDiameterMM   *float64 `json:"wire_diameter_mm" doc:"diameter of one wire where it passes the surface"`
	Wires            *int     `json:"wires" doc:"number of wires through the surface; 1 unless said"`
	VesselDiameterMM *float64 `json:"vessel_diameter_mm" doc:"inner diameter of the vessel at the surface"`
	MassG            *float64 `json:"mass_g" doc:"mass of the hanger, to recognise it in a reading where it was not tared"`
	UnderFloor       *bool    `json:"under_floor" doc:"true when the item hangs below the balance in air as well, on the hanger; used to recognise weighings, not in the calculation"`
	SurfaceUG        *float64 `json:"surface_u_g" doc:"standard uncertainty of the surface force on the wires, in grams; 0 when the immersed repeatability holds it"`
}

// Filler is the coating of a sealed item, or the oil in a porous one.
type Filler struct {
	DensityKgM3  *float64 `json:"density_kg_m3" doc:"density"`
	DensityUKgM3 *float64 `json:"density_u_kg_m3" doc:"its standard uncertainty"`
}

// Reference is a solid of known density weighed in the same liquid as the item.
type Reference struct {
	AirG         []Reading `json:"air_g" doc:"the reference solid in air"`
	LiquidG      []Reading `json:"liquid_g" doc:"the reference solid in the liquid"`
	DensityKgM3  *float64  `json:"density_kg_m3" doc:"its density at 20 °C"`
	DensityUKgM3 *float64  `json:"density_u_kg_m3" doc:"its standard uncertainty"`
	ExpansionK   *float64  `json:"expansion_per_k" doc:"its cubic expansion per kelvin; steel, 48e-6, unless said"`
}

// Evidence is one finding of a further test. Each kind takes its own fields.
type Evidence struct {
	Kind string `json:"kind" doc:"size, magnet, conductivity, sound, surface, touchstone or refraction"`
	Off  bool   `json:"off" doc:"true to leave it out and see what it would do"`

	Shape       string   `json:"shape" doc:"size: coin (diameter and thickness) or bar (three sides); taken from what is given unless said"`
	DiameterMM  *float64 `json:"diameter_mm" doc:"size: diameter of a coin"`
	ThicknessMM *float64 `json:"thickness_mm" doc:"size: thickness of a coin over the rim, or the third side of a bar; sound: thickness under the probe"`
	LengthMM    *float64 `json:"length_mm" doc:"size: length of a bar"`
	WidthMM     *float64 `json:"width_mm" doc:"size: width of a bar"`
	UMM         *float64 `json:"u_mm" doc:"standard uncertainty of each length; 0.02 unless said"`

	Result string `json:"result" doc:"magnet: none, weak or strong"`

	PercentIACS *float64 `json:"percent_iacs" doc:"conductivity: in percent of the annealed copper standard"`
	MSPerM      *float64 `json:"ms_per_m" doc:"conductivity: in megasiemens per metre, instead"`
	UPercent    *float64 `json:"u_percent" doc:"conductivity, sound: standard uncertainty in percent of the reading; 3 and 1 unless said"`

	VelocityMPerS *float64 `json:"velocity_m_per_s" doc:"sound: velocity of longitudinal sound"`
	EchoUs        *float64 `json:"echo_us" doc:"sound: time between two echoes of the back wall in microseconds, with thickness_mm, instead"`
	UEchoUs       *float64 `json:"u_echo_us" doc:"sound: standard uncertainty of that time; 0.01 unless said"`

	Metal       string   `json:"metal" doc:"touchstone: gold, silver, platinum or palladium; the metal claimed unless said"`
	FinenessPpt *float64 `json:"fineness_ppt" doc:"touchstone: fineness read, in parts per thousand"`
	UPpt        *float64 `json:"u_ppt" doc:"surface, touchstone: standard uncertainty in parts per thousand; 5 and 20 unless said"`

	Parts []SurfacePart `json:"parts" doc:"surface: what the analysis read"`

	Index          []float64 `json:"index" doc:"refraction: index read at 589 nm, or the lowest and the highest"`
	IndexAbove     *float64  `json:"index_above" doc:"refraction: nothing seen up to here, the end of the scale, instead"`
	UIndex         *float64  `json:"u_index" doc:"refraction: standard uncertainty of one reading; 0.002 unless said"`
	Birefringence  *float64  `json:"birefringence" doc:"refraction: largest difference of the two indices while the stone is turned; 0 for one edge that stays"`
	UBirefringence *float64  `json:"u_birefringence" doc:"refraction: its standard uncertainty; 0.001 unless said"`
}

// SurfacePart is one metal of a surface analysis.
type SurfacePart struct {
	Metal string   `json:"metal" doc:"name of the metal: gold, silver, copper, zinc, nickel, palladium, platinum, ..."`
	Ppt   *float64 `json:"ppt" doc:"mass fraction in parts per thousand"`
}

// ActCost is what one act of the table of next steps takes at this bench.
type ActCost struct {
	Key     string   `json:"key" doc:"the act, as wreath materials actions lists them"`
	Minutes *float64 `json:"minutes" doc:"minutes that it takes"`
	Cost    *float64 `json:"cost" doc:"what it costs beyond the time, in minutes of work"`
}

// Weights is a weighting of candidates: one of the table, and what is changed of it. Weights of one
// level need not add up to 1.
type Weights struct {
	Use       string   `json:"use" doc:"named weighting to start from, as wreath materials weightings lists them"`
	Precious  *float64 `json:"precious" doc:"class: alloys of precious metals"`
	LookAlike *float64 `json:"look_alike" doc:"class: look-alikes and plated cores"`
	Stone     *float64 `json:"stone" doc:"class: stones"`
	AsClaimed *float64 `json:"as_claimed" doc:"share of the precious class that is what it is said to be, 0 to 1"`
	Colour    *float64 `json:"colour" doc:"how often a colour seen is right, 0 to 1"`
}
