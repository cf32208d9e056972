package determination

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
}

// TradeOff is one point of the curve of stones against metal.
type TradeOff struct {
	StonesCt         float64 `json:"stones_ct" doc:"mass of the stones in carats"`
	MetalDensityKgM3 float64 `json:"metal_density_kg_m3" doc:"density that the metal then has"`
	MetalUKgM3       float64 `json:"metal_u_kg_m3" doc:"its standard uncertainty"`
}
