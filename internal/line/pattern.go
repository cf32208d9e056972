package line

// Format names the edition of the pattern's document.
const Format = "wreath line pattern 1"

// Pattern says how the lines of one instrument are read. It is a stored document; doc/lines.md
// shows one.
type Pattern struct {
	Format   string     `json:"format" doc:"wreath line pattern 1"`
	Name     string     `json:"name,omitempty" doc:"what the instrument is called here"`
	Note     string     `json:"note,omitempty" doc:"anything worth keeping: who learned it, with which weights"`
	Framing  Framing    `json:"framing" doc:"where a line begins and ends"`
	Request  string     `json:"request,omitempty" doc:"what to send to get a line; none when the instrument sends by itself"`
	EveryS   float64    `json:"every_s,omitempty" doc:"seconds between two requests"`
	Main     string     `json:"main,omitempty" doc:"channel that is the reading, when a line names channels"`
	Units    []UnitWord `json:"units,omitempty" doc:"unit words of this instrument beyond the usual ones"`
	Checksum *Checksum  `json:"checksum,omitempty" doc:"the check at the end of every line"`
	Lines    []Shape    `json:"lines" doc:"the kinds of line"`
	Tests    []LineTest `json:"tests" doc:"lines and what they mean; they are read again whenever the pattern is loaded"`

	ready *reader
}

// UnitWord says what a unit word means on this instrument.
type UnitWord struct {
	Word string `json:"word" doc:"as it stands in the line"`
	Unit string `json:"unit" doc:"what it means: g, kg, mg, ct, ozt, dwt, grain, tola, momme, baht, °C, °F"`
}

// Checksum is a check over a line. It always stands last in the line, in hexadecimal digits.
type Checksum struct {
	Kind   string `json:"kind" doc:"sum, negative-sum, xor, crc16-modbus, crc16-xmodem or crc16-ccitt"`
	Digits string `json:"digits" doc:"upper or lower"`
	From   int    `json:"from,omitempty" doc:"first byte that counts, from 0"`
	Before string `json:"before,omitempty" doc:"text between the last byte that counts and the check"`
	With   string `json:"with,omitempty" doc:"bytes that count as well and do not stand in the line, such as \u0003 for ETX"`
}

// Shape is one kind of line, given part by part from its first byte to its last.
type Shape struct {
	Name    string `json:"name" doc:"what this kind of line is"`
	Means   string `json:"means" doc:"reading, overload, underload, fault or nothing"`
	Mark    string `json:"mark,omitempty" doc:"settled or moving, when this kind of line says so as a whole"`
	Unit    string `json:"unit,omitempty" doc:"unit of a line without one; only because a person said so"`
	Channel string `json:"channel,omitempty" doc:"channel of this kind of line"`
	Parts   []Part `json:"parts" doc:"what stands in the line, from left to right"`
}

// Part is one piece of a line.
type Part struct {
	// Is is one of text, blank, word, number, other, unit, digits.
	Is       string `json:"is" doc:"text, blank, word, number, other (a number that is passed over), unit or digits"`
	Text     string `json:"text,omitempty" doc:"for text: exactly this; for digits: # for each digit"`
	Min, Max int    `json:"-"`
}

// LineTest is a line with what it means.
type LineTest struct {
	Line    string `json:"line" doc:"the line without its start and end"`
	Reads   string `json:"reads,omitempty" doc:"number and unit: -12.3456 g"`
	Channel string `json:"channel,omitempty" doc:"channel that is named"`
	Mark    string `json:"mark,omitempty" doc:"settled or moving"`
	State   string `json:"state,omitempty" doc:"overload, underload or fault"`
	Refused bool   `json:"refused,omitempty" doc:"true of a line that must not be read"`
}

type reader struct{}

// DecodePattern reads a pattern's document, strictly, and checks it.
func DecodePattern(data []byte) (*Pattern, error) { return nil, nil }

// Encode writes the document, indented for people.
func (p *Pattern) Encode() ([]byte, error) { return nil, nil }

// Check holds the pattern against itself: names and ranges of its fields, and every one of its
// tests. It must have passed before Read is used; DecodePattern and Learn call it.
func (p *Pattern) Check() error { return nil }

// Read reads one whole line. A line with several numbers gives the one that is the reading. The
// error is a *ReadError, or wraps ErrNoReading. Read may be called by several goroutines at once.
func (p *Pattern) Read(line []byte) (Value, error) { return Value{}, nil }

// ReadAll appends everything a line says to dst: the value of Read first, then further ones such
// as a temperature in the same line.
func (p *Pattern) ReadAll(dst []Value, line []byte) ([]Value, error) { return dst, nil }
