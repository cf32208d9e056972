package simulation

// LiveSample is what a balance and a thermometer show at one moment.
type LiveSample struct {
	Seconds      float64 // since the stream began
	Grams        float64 // as displayed, rounded; 0 where Overload or Underload
	Settled      bool    // the balance's own mark, which may come early
	Overload     bool    // more than the balance carries: it shows no number
	Underload    bool    // the pan is lifted: it shows no number
	TemperatureC float64 // as the thermometer in the liquid shows it
}

// Act is one thing that a hand does at the bench.
type Act string

// The acts of a hand. Those that a bench cannot do as it stands change nothing; the hand is felt
// all the same.
const (
	ActZero      Act = "zero"       // presses the key that sets the display to zero, at any load
	ActPanOn     Act = "pan-on"     // lays the item on the pan
	ActCheckOn   Act = "check-on"   // lays the check piece on the pan
	ActPanOff    Act = "pan-off"    // takes what is there off the pan
	ActVesselOn  Act = "vessel-on"  // stands the vessel on the pan (standing arrangement)
	ActHang      Act = "hang"       // hangs the hanger into the liquid
	ActHangDry   Act = "hang-dry"   // hangs the hanger in the air above the liquid
	ActUnhang    Act = "unhang"     // takes the hanger away
	ActImmerse   Act = "immerse"    // puts the item on the hanger in the liquid
	ActImmerseCk Act = "immerse-ck" // puts the check piece there
	ActLift      Act = "lift"       // takes item or check piece out of the liquid, the hanger stays
	ActSling     Act = "sling"      // puts the item on the hanger that hangs in the air
	ActUnsling   Act = "unsling"    // takes it from there
	ActBrush     Act = "brush"      // brushes bubbles off under the liquid
	ActCentre    Act = "centre"     // lifts and centres what touches the vessel
	ActDry       Act = "dry"        // dries the item, away from the bench
	ActTouch     Act = "touch"      // touches pan or hanger and lets go
	ActLean      Act = "lean"       // leans on it for a while: a steady wrong number
	ActWait      Act = "wait"       // does nothing
)

// Slots are the places of a draft for which a settled reading is taken. They are named as the
// fields of the draft; the zeros stand for the zero before a load.
const (
	SlotZeroAir     = "zero_air"
	SlotAir         = "air_g"
	SlotZeroLiquid  = "zero_liquid"
	SlotLiquid      = "liquid_g"
	SlotGain        = "gain_g"
	SlotClosingZero = "closing_zero_g"
	SlotClosingAir  = "closing_air_g"
	SlotProofAir    = "liquid.proof.air_g"
	SlotProofLiquid = "liquid.proof.liquid_g"
	SlotProofGain   = "liquid.proof.gain_g"
)

// Move is an act at its time, with what a careful person takes down when it has come to rest.
type Move struct {
	Act  Act
	At   float64 // s since the stream began, when the hand arrives
	Hand float64 // s that the hand stays; 0: as long as the act usually takes
	Slot string  // reading to be taken afterwards, empty for none
	N    int     // which reading of the slot, from 0

	natural bool   // the slot follows from the state of the bench
	hook    func() // a seeded fault takes hold
}

// Stretch is a time in which no hand was at the bench, with the truth about it.
type Stretch struct {
	After    Act     // what was done before
	From, To float64 // s: the hand left, the next hand came
	Slot     string  // reading that a careful person takes in it, empty for none
	N        int     // which reading of the slot, from 0
	Again    bool    // the same load was already read before a touch or a brush

	First    float64 // settled display at From, without noise, rounding, swing, draught and warm lift, g
	True     float64 // the same at To, g
	Zero     float64 // settled display of the zero of its kind before it; near 0 when the balance was set to zero, g
	Lift     float64 // what is left at To of the lift of a warm item, g
	Released float64 // s at which a bubble left, 0 for never
	Over     bool    // more than the balance carries
}

// Net is the settled reading less the zero that it is counted from, in grams.
func (s Stretch) Net() float64 { return s.True - s.Zero }

// LiveOptions say how a balance answers to what happens on its pan. Zero values stand for a balance
// of usual habits; Balance draws others.
type LiveOptions struct {
	RateHz       float64 // display changes per second, 1 to 50; 10 unless said
	TimeConstant float64 // s of the weighing cell; 0.15 unless said
	Damping      float64 // 0: first order; below 1: second order that overshoots
	Average      float64 // s of the moving average behind it; none unless said

	Slow    float64 // share of the noise's variance that passes the filter and so is coloured
	Placing float64 // share of the repeatability's variance that is drawn anew at each placing and does not average out

	ZeroTracking float64 // scale intervals around zero within which the display is pulled to zero; 0: never
	MarkBand     float64 // scale intervals within which the display must stay to be marked settled; 1 unless said
	MarkSeconds  float64 // s for which it must stay there; 1 unless said; short ones mark early; negative: never marked

	DraughtSeconds float64 // s for which a gust lasts; 0.7 unless said
	BubbleLeaves   float64 // mean s under liquid until a bubble leaves; 0: it stays
	Warm           float64 // g of convection lift when the item is laid on the pan warm from the hand
	WarmSeconds    float64 // s in which the lift falls to 37 %; 40 unless said
	DryingGPerS    float64 // what a wet item in air loses
	LiquidWarms    float64 // K/s

	ThermometerLag      float64 // s; 5 unless said
	ThermometerInterval float64 // °C; 0.1 unless said
}
