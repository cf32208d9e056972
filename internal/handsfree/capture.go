package handsfree

// Change says what a capture does to the sheet.
type Change uint8

// The changes. No stays the same through all changes of one reading.
const (
	Taken     Change = iota // a new reading
	Moved                   // reading No was something else: set the old one aside, enter this
	Aside                   // reading No was no reading at all: set it aside
	Confirmed               // reading No stands and is sure now
	Doubted                 // reading No stands and is not sure any more
)

// String gives the change in one English word.
func (c Change) String() string {
	return [...]string{"taken", "moved", "aside", "confirmed", "doubted"}[min(c, Doubted)]
}

// SureEnough is the certainty from which a capture needs no question. Chosen here.
const SureEnough = 0.95

// Capture is one proposed reading, or what has become of one.
type Capture struct {
	No     int // counted from 1 in this recogniser
	Change Change

	Slot string // where it belongs; ZeroAir and ZeroLiquid are not for the sheet
	Was  string // Moved, Aside: the slot that it was given first
	Load Load

	Value float64 // net, g: what the draft's field holds
	U     float64 // standard uncertainty of Value as settled, g; of both where a zero is subtracted
	Shown float64 // what the balance showed, g
	Zero  float64 // what was subtracted, g; 0 where the balance stood at zero

	Seconds  float64 // when it was taken, on the stream's scale
	Took     float64 // s from the change of load until settled
	From, To float64 // span of the stream that is its evidence, s

	Sure  float64 // probability that the slot and the zero are right, 0 to 1
	Doubt string  // a sentence that says why a person should look; empty: none
	Why   string  // a sentence that says why it was taken for this
}

// IsReading is false of zeros, which a sheet does not hold.
func (c Capture) IsReading() bool { return c.Slot != ZeroAir && c.Slot != ZeroLiquid && c.Slot != "" }

// Doubtful is true where a person should look before the reading counts.
func (c Capture) Doubtful() bool { return c.Sure < SureEnough || c.Doubt != "" }

// Sound is an event that the page can play.
type Sound string

// The sounds. Each is also seen.
const (
	SoundStill Sound = "still" // it rests and will be taken
	SoundTaken Sound = "taken"
	SoundDoubt Sound = "doubt" // a capture is doubtful, or something is asked
	SoundStop  Sound = "stop"  // overload, or no reading can be had
)

// PhaseKey says what the stream does, for the page to draw.
type PhaseKey string

// The phases.
const (
	PhaseWaiting  PhaseKey = "waiting"  // at rest, and what rests was taken or is not wanted
	PhaseMoving   PhaseKey = "moving"   // the load changes
	PhaseSettling PhaseKey = "settling" // it creeps
	PhaseStill    PhaseKey = "still"    // it rests and will be taken in Wait seconds
	PhaseTaken    PhaseKey = "taken"    // just taken
	PhaseAsk      PhaseKey = "ask"      // a Question is open
	PhaseStop     PhaseKey = "stop"     // no number: overload, fault
	PhaseSilent   PhaseKey = "silent"   // nothing comes
)

// Phase is the state in words.
type Phase struct {
	Key   PhaseKey
	Words string  // one plain English line
	Wait  float64 // s until it is taken; -1 where nothing can be said
	Load  Load    // the likeliest load, Unknown while it moves
	Next  string  // slot that is wanted next, empty when nothing is missing
}

// Question is asked where the numbers leave open what a rest was. Say answers it. It goes away by
// itself when later weighings answer it.
type Question struct {
	No      int    // of the capture it is about; 0 where nothing was captured
	Text    string // one sentence
	Choices []Load // the likeliest first
}

// Outcome is what one event led to.
type Outcome struct {
	Captures []Capture
	Sounds   []Sound
	Phase    Phase
	Question *Question // the open question; nil: none
}
