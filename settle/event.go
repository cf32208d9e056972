package settle

// Mark is what the instrument itself says of a reading.
type Mark uint8

// The marks. An instrument without marks sends MarkUnsaid.
const (
	MarkUnsaid Mark = iota
	MarkMoving
	MarkSettled
)

// Sample is one number from the instrument.
type Sample struct {
	Seconds float64 // when its last byte came, on any scale that grows
	Value   float64 // as sent, in the unit of Options.Interval
	Mark    Mark
}

// Place is where the load is, as far as the caller knows. It decides which troubles are possible and
// which way they go: water that enters a pore raises a hanging item's reading and lowers that of a
// vessel on the pan.
type Place uint8

// The places. With PlaceUnknown a trouble that depends on the place is named with its alternative.
const (
	PlaceUnknown  Place = iota
	PlaceAir            // on the pan or in the hanger, in air
	PlaceHanging        // in the liquid, hanging from the balance
	PlaceStanding       // in the liquid, hanging from a stand; the vessel stands on the pan
)

// Phase says how far the reading has come.
type Phase uint8

// The phases, in the usual order of a weighing.
const (
	Moving   Phase = iota // the load changes, or too little has been seen since
	Settling              // the load rests and the reading still creeps
	Settled               // Value and U may be used
	Silent                // nothing new came for longer than Options.Silence; Value is the last one
)

// String gives the phase in one English word.
func (p Phase) String() string {
	switch p {
	case Moving:
		return "moving"
	case Settling:
		return "settling"
	case Settled:
		return "settled"
	case Silent:
		return "silent"
	}
	return "unknown"
}

// Event is the state after a sample, or at a time without one.
type Event struct {
	Phase   Phase
	Seconds float64 // of the sample or of the time asked about
	// Value is the best estimate of what the reading comes to: the last reading while Moving, the
	// estimate with the rest of the creep taken off while Settling and Settled.
	Value float64
	// U is the standard uncertainty of Value as an estimate of the reading at rest: scatter with its
	// autocorrelation, rounding, what is left of the creep, drift. Value ± 1.96 U holds in 95 of 100
	// cases; where few readings stand behind it U is larger for that reason. It does not hold what
	// differs from one placing of the load to the next. While Moving it is the size of the movement.
	U float64
	// N is the number of readings behind Value. It is 1 for a line that the balance marks as settled and
	// sent alone, as at the press of its print key: Settled on the balance's word, with a U that holds an
	// interval either way and the repeatability.
	N int
	// From and Began are times: of the first reading behind Value, and of the change of load that led
	// to it (of the first sample, before any change).
	From, Began float64
	// Took is the time from Began to the first Settled event of this load, 0 until then.
	Took float64
	// Wait is the expected time until Settled, 0 when it is, -1 where nothing can be said.
	Wait float64
	// Load counts the changes of load: two events with equal Load belong to one act.
	Load int
	// Noise is the standard deviation of single readings, TimeConstant the seconds in which what is
	// left of a change falls to 1/e (0 until a change was seen).
	Noise, TimeConstant float64
	// Age is how long ago the last sample came; Same how long the value has not changed in any digit.
	// A line that is frozen and repeats an old value shows in Same alone.
	Age, Same float64
	// Marked says that the instrument marks the last sample as settled.
	Marked bool
	// Troubles is shared between events and not to be changed by the caller.
	Troubles []Trouble
	// Refused says why the sample was not used (no number, time that goes backwards), or is empty.
	Refused string
}

// The keys of troubles.
const (
	Draught       = "draught"        // white scatter: moving air, vibration
	Drift         = "drift"          // steady, monotone
	Uptake        = "uptake"         // liquid enters pores: about the square root of time
	BubbleRelease = "bubble-release" // a sudden step of a bubble's size in the liquid
	Touching      = "touching"       // sticks: rests without scatter and moves in jumps
	Warm          = "warm"           // exponential creep in air
	Frozen        = "frozen"         // digits that ought to flicker have stopped
)

// Trouble is one named disturbance of the stream.
type Trouble struct {
	Key string // the likelier
	// Or is the key of another that this stream can't tell from Key, or empty.
	Or   string
	Size float64
	// Unit of Size: "" is the unit of the values, "/s" the same per second, "s" seconds.
	Unit string
	// Sentence says it in plain English, present tense, with the size where the unit is known.
	Sentence string
}
