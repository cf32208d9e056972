package fault

// Node is a specific volume in cm³/g at 20 °C that a material can have: its standard uncertainty
// (the model's, and the width of the cell that the node stands for) and its weight.
type Node struct{ V, SD, Weight float64 }

// Material is a named set of nodes, such as one standard fineness. Weights of its nodes add up
// to 1; Weight is that of the material among those of its list.
type Material struct {
	Name   string
	Weight float64
	Nodes  []Node
}

// Reading is a reading as it was typed.
type Reading struct {
	Gram  float64
	Digit float64 // size of its last digit in grams; 0 when it is not known
}

// Seen is the answer to a question of the look-over.
type Seen uint8

// The answers.
const (
	NotLooked Seen = iota
	Yes
	No
)

// Check is what a check piece says of the liquid.
type Check struct {
	Ratio float64 // density found over density stated, less 1
	U     float64 // standard uncertainty of Ratio, without that of the liquid as stated
	LostG float64 // weight that the check piece loses
}

// Weighing is what is known of one weighing. Masses in grams, densities in g/cm³. Standard
// deviations are of one reading, the scale interval included.
type Weighing struct {
	Standing bool
	Air      []Reading // the item in air
	Immersed []Reading // hanging: readings in the liquid; standing: gains
	Closing  []Reading // in air once more, empty where it was not done

	Interval      float64 // scale interval
	AirS          float64
	ImmersedS     float64
	CommonU       float64 // relative standard uncertainty that all immersions share, liquid and air reading left out
	SurfaceBoundG float64 // most that the force of the surface on the wires can change

	LiquidRho float64 // as stated
	LiquidU   float64 // its relative standard uncertainty as stated
	AirRho    float64
	PerKelvin float64 // relative change of the liquid's density per kelvin
	Ethanol   bool    // the liquid holds ethanol
	Scale     float64 // displaced mass over that of a solid at 20 °C: its expansion, the rise of the liquid

	OtherLiquids []float64 // densities of other liquids that may be in the vessel
	Check        *Check    // nil: no check piece
	IntakeG      float64   // mass at the intake; 0: not known
	IntakeDigit  float64   // its last digit that was written down
	HangerG      float64   // mass of the hanger; 0: not known

	StonesSeen, HollowSeen, CoreSeen Seen

	Done  []Done        // what was done between the weighings
	Zeros []ZeroReading // readings of the empty hanger after it had been set to zero

	Thermometer *Second // a second thermometer, kelvin; nil: none
	Strength    *Second // the strength of the ethanol measured, as a share of the liquid's density; nil: not

	Another *Another // the item weighed in another liquid; nil: not

	// Volume is the likelihood of what other means found of the item's volume, all of them much coarser
	// than the weighing, when its specific volume is v (cm³/g) and its mass in air as many grams; nil:
	// nothing was measured.
	Volume func(v, air float64) float64
}

// displaced is the displaced mass of mass air (grams in air) of a solid of specific volume v.
func (w *Weighing) displaced(air, v float64) float64 {
	return air * (w.LiquidRho - w.AirRho) * w.Scale * v / (1 - w.AirRho*v)
}

// specific is the inverse of displaced: the specific volume from a displaced mass.
func (w *Weighing) specific(air, displaced float64) float64 {
	x := displaced / (air * (w.LiquidRho - w.AirRho) * w.Scale)
	return x / (1 + x*w.AirRho)
}

// Density is that of an item of mass air (grams in air) that displaces a mass of liquid, at
// 20 °C in g/cm³.
func (w *Weighing) Density(air, displaced float64) float64 { return 1 / w.specific(air, displaced) }

// displacedBy is the displaced mass that an immersed reading means.
func (w *Weighing) displacedBy(air, reading float64) float64 {
	if w.Standing {
		return reading
	}
	return air - reading
}

func meanOf(readings []Reading) (mean float64) {
	for _, r := range readings {
		mean += r.Gram / float64(len(readings))
	}
	return mean
}

// squares is the sum of squared deviations from the mean.
func squares(readings []Reading, mean float64) (sum float64) {
	for _, r := range readings {
		sum += (r.Gram - mean) * (r.Gram - mean)
	}
	return sum
}
