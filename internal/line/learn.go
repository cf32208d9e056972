package line

// Sample is one line that was seen while a pattern is learned.
type Sample struct {
	Line    []byte
	Seconds float64
	// Shown is what a person says of this line: the number on the display ("12.3456 g", "12,35"), the
	// weight that was put on ("100 g"), or "overload", "underload", "fault". Empty when nothing was said.
	Shown string
	// Settled is what the display's own sign of rest showed; nil when nothing was said.
	Settled *bool
}

// LearnOptions says what the person who teaches knows beforehand. The zero value knows nothing.
type LearnOptions struct {
	Name    string
	Framing Framing // how the samples were cut; stored in the pattern
	Request string  // what was sent to get the lines; stored in the pattern
	EveryS  float64
	// ToleranceG is by how much a number may differ from Shown, in grams (kelvins for a thermometer). 0 stands for
	// five of the last digit: a weight that was put on is never exactly its nominal value. (Chosen here.)
	ToleranceG float64
	// Unit is the unit that a person says the lines are in when they name none; "" when nobody says.
	Unit string
}

// Learned is what came of learning.
type Learned struct {
	// Pattern is nil when no number could be read with reason; Doubts then say why.
	Pattern *Pattern
	// Certainty is the estimated probability that further lines are read as they are meant, 0 to 1.
	Certainty float64
	// Doubts says what the samples did not show, each with what would show it. Most important first.
	Doubts []string
	// Blind says what no pattern could notice on lines of this kind, such as a changed digit where there is
	// no check. It does not lower Certainty.
	Blind []string
	// Used, Read and HeldOut count the samples that were whole, those of them that gave a reading, and the
	// lines that were kept back and read rightly by what the others had taught.
	Used, Read, HeldOut int
}

// SureAt is the certainty from which a pattern counts as sure.
const SureAt = 0.95

// Sure is true of a pattern that can be used without a further look.
func (l *Learned) Sure() bool { return l.Pattern != nil && l.Certainty >= SureAt }

// Learn infers a pattern from samples in the order in which they came. The error says what is
// wrong with the samples as a whole (none, too many); what could not be told is in Doubts.
func Learn(samples []Sample, o LearnOptions) (*Learned, error) { return nil, nil }
