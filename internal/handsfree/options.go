package handsfree

// Options say what is known before the first event. Only IntervalG is needed; everything else makes
// captures surer.
type Options struct {
	// Standing: the vessel stands on the pan and the item hangs from a stand (draft.arrangement).
	// Otherwise the item hangs from the balance.
	Standing bool
	// ZeroRead is balance.zero "read" of the draft: the balance is not set to zero for the hanger, the
	// hanger's own reading is subtracted. Otherwise ("tared") it is set to zero with the hanger in the
	// liquid. Either way Capture.Value is net, as the draft wants it; where a person forgets to set the
	// zero, the hanger's reading is subtracted all the same, and Capture.Why says so.
	ZeroRead bool
	// UnderFloor: the item hangs from the hook below the balance in air as well, on its hanger.
	UnderFloor bool

	IntervalG            float64 // scale interval, g
	RepeatabilityG       float64 // standard deviation of one reading in air, g; 0: not known
	RepeatabilityLiquidG float64 // the same immersed; 0: not known
	CapacityG            float64 // largest load, g; 0: not known

	LiquidGCm3 float64 // density of the immersion liquid, g/cm³; 0 takes 1, of water
	HangerG    float64 // mass of the hanger (draft.hanger.mass_g), g; 0: not known

	// ItemG is what the item is known to weigh from the intake, g, and ItemUG how well (0: a hundredth
	// of a per cent and three intervals). 0: not known.
	ItemG, ItemUG float64
	// DensityLow and DensityHigh are what the claim lets expect, g/cm³. They make a capture surer and
	// never decide alone: an item that is not what it is said to be is weighed as well. 0: not known.
	DensityLow, DensityHigh float64
	// Check is the check piece of the station; nil: there is none.
	Check *Check
	// SecondLiquid: immersed readings of the item go to second_liquid.*.
	SecondLiquid bool

	// Held are the readings that the sheet already holds and that count.
	Held []Held
	// Wanted are the slots that the sheet still wants, in its order, one entry a reading. They give
	// Phase its words. Empty: air, two immersions, closing.
	Wanted []string

	HoldSeconds float64 // how long a rest lasts before it is taken; 0 takes 2 s
	// OnTake: nothing is taken by itself; Take takes.
	OnTake bool
}

// Check is a solid whose mass and volume are known.
type Check struct {
	AirG, AirUG float64 // its reading in air, g; 0: not known
	VolumeCm3   float64 // 0: not known
}

// Held is a reading that counts on the sheet.
type Held struct {
	Slot  string // the draft's field
	Value float64
}

// Slots of captures. They are named as the draft's fields; ZeroAir and ZeroLiquid are no fields of a
// draft: they tell the page that a zero was seen, and are evidence.
const (
	ZeroAir     = "zero_air"
	ZeroLiquid  = "zero_liquid"
	Air         = "air_g"
	Liquid      = "liquid_g"
	Gain        = "gain_g"
	ClosingAir  = "closing_air_g"
	ClosingZero = "closing_zero_g"
	CheckAir    = "liquid.proof.air_g"
	CheckLiquid = "liquid.proof.liquid_g"
	CheckGain   = "liquid.proof.gain_g"
	OtherLiquid = "second_liquid.liquid_g"
	OtherGain   = "second_liquid.gain_g"
)

// Load is what is on the balance while it rests.
type Load string

// The loads. A person may Say any of them but Unknown.
const (
	Unknown      Load = ""
	EmptyAir     Load = "empty"          // nothing; under the floor, the hanger in air
	EmptyLiquid  Load = "hanger"         // the hanger alone in the liquid; standing, the vessel without item
	ItemAir      Load = "item-air"       // the item in air
	ItemLiquid   Load = "item-liquid"    // the item in the liquid
	CheckInAir   Load = "check-air"      // the check piece in air
	CheckImmerse Load = "check-liquid"   // the check piece in the liquid
	Same         Load = "same"           // what was there before, touched and come to rest again
	Other        Load = "something-else" // a hand, another thing, an item half in
)
