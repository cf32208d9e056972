package line

import "errors"

// Kind is what a number is a number of.
type Kind int

const (
	Other       Kind = iota // not a mass and not a temperature; never a reading of the bench
	Mass                    // grams
	Temperature             // degrees Celsius
)

func (k Kind) String() string { return [...]string{"other", "mass", "temperature"}[k] }

// Mark is what the instrument itself says of its rest.
type Mark int

const (
	Unsaid  Mark = iota // the line does not say, or it is not known how it does
	Settled             // the instrument says that the value stands
	Moving              // the instrument says that the value still moves
)

func (m Mark) String() string { return [...]string{"unsaid", "settled", "moving"}[m] }

// State says whether a line carries a number.
type State int

const (
	Reading   State = iota // Number holds
	Overload               // above the range; no number
	Underload              // below the range; no number
	Fault                  // the instrument reports an error; no number
)

func (s State) String() string { return [...]string{"reading", "overload", "underload", "fault"}[s] }

// Value is what one line says. Text, Unit, Number and Interval hold only when State is Reading.
type Value struct {
	Channel  string  // as the line names it; "" when the line names none
	Text     string  // the number as it stood, its sign in front and without padding: "-12.3456"
	Unit     string  // the unit's usual symbol: "g", "ct", "°C"
	Kind     Kind    // what Number is
	Number   float64 // grams or degrees Celsius
	Interval float64 // one unit of the last digit, in grams or kelvins
	Mark     Mark
	State    State
}

// Words is the value for people, such as "net: -12.3456 g, settled" or "overload".
func (v Value) Words() string {
	text := v.State.String()
	if v.State == Reading {
		text = v.Text + " " + v.Unit
	}
	if v.Mark != Unsaid {
		text += ", " + v.Mark.String()
	}
	if v.Channel != "" {
		text = v.Channel + ": " + text
	}
	return text
}

// ErrNoReading is wrapped by the error of Read for a line that the pattern knows and that carries
// no reading: a heading, an echo, a line of a print-out.
var ErrNoReading = errors.New("the line is known and carries no reading")

// ReadError says why a line is not read. Every error of Read is one, or wraps ErrNoReading.
type ReadError struct {
	At     int    // the byte of the line where it stops to fit, from 0
	Reason string // what is wrong there
	Hint   string // how to mend it
}

func (e *ReadError) Error() string { return e.Reason }
