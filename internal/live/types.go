package live

import (
	"time"

	"wreath/internal/line"
	"wreath/internal/source"
	"wreath/settle"
)

// Config is one instrument and the way its readings come.
type Config struct {
	ID, Name string // of the instrument
	Address  source.Address
	Pattern  *line.Pattern // as line.DecodePattern or line.Learn gave it; both have checked it
	// Request is sent each Every; see source.Options. Nil and zero take what the pattern says; a request of no
	// bytes asks for nothing, whatever the pattern says.
	Request []byte
	Every   time.Duration
	// Silent is after how long without a byte the instrument counts as silent; 0 stands for 10 s, and
	// for never where readings are pushed, typed or written to a file.
	Silent time.Duration
	// Channel is the channel of the pattern that is followed as the balance. Empty takes the first
	// channel that brings a mass.
	Channel string
	// Settle describes the balance. An Interval of zero is taken from the readings.
	Settle settle.Options
	// Capacity in grams; a value beyond it is suspicious. 0 for unknown.
	Capacity float64
	// Binding ties the instrument to its port; nil leaves it unbound.
	Binding *Binding
}

// Binding is the proof that an instrument stands behind a port: a mass that it showed.
type Binding struct {
	// Identity is Snapshot.Identity at the time of binding.
	Identity string
	// MassG is what the balance shows with the check weight on it, ToleranceG how far a reading may
	// lie from that, both in grams. The check weight proves nothing while MassG is zero.
	MassG, ToleranceG float64
	// Unit is the unit that the instrument sent at the time of binding; empty accepts any.
	Unit string
}

// Origin says what kind of thing speaks.
type Origin string

// The origins. Only Real may enter a record that isn't marked.
const (
	Real      Origin = "real"
	Simulated Origin = "simulated" // an invented instrument
	Playback  Origin = "playback"  // a recording
	// Pseudo is a pseudo-terminal: a program speaks, and what stands behind it is not known.
	Pseudo Origin = "pseudo-terminal"
)

// The keys of State.
const (
	NotConnected  = "not-connected"
	Connecting    = "connecting"
	Waiting       = "waiting"  // connected, nothing heard yet
	Silent        = "silent"   // connected, nothing heard since Since
	NotUnderstood = "unread"   // lines come and none can be read; Shown holds the last
	Overload      = "overload" // State of the last line
	Underload     = "underload"
	Fault         = "fault"
	Moving        = "moving"
	Settling      = "settling"
	Still         = "still"
	Ended         = "ended" // a playback is over, or the feed was closed
)

// State says how an instrument stands.
type State struct {
	Key      string
	Since    time.Time
	Shown    string // NotUnderstood: the last line, with what can't be printed as escapes
	Why      string // NotConnected, NotUnderstood: the reason in English
	Sentence string // the state in one English sentence without the time
}

// Proof says whether the instrument is known to stand behind its port.
type Proof struct {
	Key string // Unbound, Unproved or Proved
	Why string // of Unproved: WhyNew, WhyReconnected or WhyIdentity
	// By is who confirmed, or ByCheckWeight; At when.
	By string
	At time.Time
}

// The words of Proof.
const (
	Unbound  = "unbound" // nothing was asked for
	Unproved = "unproved"
	Proved   = "proved"

	WhyNew         = "new"         // first connection since the feed began
	WhyReconnected = "reconnected" // it was gone in between
	WhyIdentity    = "identity"    // the port has another name than at the binding

	ByCheckWeight = "check weight"
)

// Reading is the latest value of one channel.
type Reading struct {
	Value   line.Value
	Seconds float64
	At      time.Time
	Age     time.Duration // at the time of the snapshot
}

// Point is one point of the curve of the last 30 s.
type Point struct {
	Ago   float64 // seconds before the snapshot
	Value float64 // grams
}

// Mistakes counts lines that were not read.
type Mistakes struct {
	Count uint64
	Shown string // the last, with what can't be printed as escapes, at most 120 characters
	Why   string
	At    time.Time
}

// Snapshot is how a feed stands at one moment. It shares nothing with the feed.
type Snapshot struct {
	ID, Name string
	Address  string
	Identity string // of the port, empty before the first connection
	Origin   Origin
	State    State
	Proof    Proof
	// Balance and Thermometer are nil before the first value of their kind. Other holds the latest
	// value of each further channel, by the channel's name, at most 8.
	Balance, Thermometer *Reading
	Other                []Reading
	Settle               settle.Event // of the balance, with its age as it is now
	Temperature          settle.Temperature
	Suspicions           []Suspicion // of the latest value of the balance
	Spark                []Point     // last 30 s of the balance, oldest first, at most 300
	Lines, Bytes         uint64
	Mistakes             Mistakes
	Connections          uint64
}

// EventKind tells what an event is about.
type EventKind int

// The kinds of events.
const (
	// ValueRead is a line with a value while nothing else changes. Only these are lost when a
	// subscriber is slow.
	ValueRead EventKind = iota
	// PhaseChanged is a value with which the phase or the load of the settle estimator changed;
	// Settled is among them.
	PhaseChanged
	// StateChanged is a change of Snapshot.State to a key outside moving, settling and still, or back.
	StateChanged
	// ProofChanged is a change of Snapshot.Proof.
	ProofChanged
	// LineFailed is a line that could not be read. It is lost like ValueRead.
	LineFailed
)

// Event is one thing that happened to a feed.
type Event struct {
	Feed    string // Config.ID
	Kind    EventKind
	Number  uint64 // grows by one with every event of the feed, so that a gap shows what was lost
	Seconds float64
	At      time.Time

	Value       line.Value         // ValueRead, PhaseChanged
	Settle      settle.Event       // as of this value, for the channel of the balance
	Temperature settle.Temperature // for a thermometer's channel
	Suspicions  []Suspicion        // ValueRead, PhaseChanged: what speaks against the value
	State       State              // StateChanged
	Proof       Proof              // ProofChanged
	Mistake     Mistakes           // LineFailed
	Origin      Origin
}

// The keys of suspicions.
const (
	SuspectUnproved = "unproved" // the instrument was not proved since it was connected
	SuspectUnit     = "unit"     // another unit than before
	SuspectDigits   = "digits"   // the last digit stands for another amount than before
	SuspectJump     = "jump"     // two readings marked settled, far apart, too soon after each other
	SuspectCapacity = "capacity" // more than the balance can carry
	SuspectSame     = "same"     // the value of the item before, to the last digit
)

// Suspicion is something that speaks against a value although its line is in order.
type Suspicion struct {
	Key      string
	Sentence string // plain English, present tense
}

// Evidence is what was heard over a span of the stream.
type Evidence struct {
	Bytes    []byte  // at most 4096: the last ones of the span
	SHA256   string  // of Bytes, lower-case hexadecimal
	From, To float64 // seconds of the first and the last byte
	Cut      bool    // the span held more than is here
	// Recording is the same as a recording of package source: each line with the time at which it was whole.
	// It is at most 4096 bytes too, and begins later than Bytes where the times need the room. Nil where
	// nothing was heard.
	Recording []byte

	lines []timed
}
