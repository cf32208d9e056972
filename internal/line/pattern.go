package line

import (
	"bytes"
	"encoding/json"

	"wreath/internal/strictjson"
)

// Format names the edition of the pattern's document.
const Format = "wreath line pattern 1"

// Pattern says how the lines of one instrument are read. It is a stored document; doc/lines.md
// shows one. A Pattern that was changed by hand must be checked again.
type Pattern struct {
	Format   string     `json:"format" doc:"wreath line pattern 1"`
	Name     string     `json:"name,omitempty" doc:"what the instrument is called here"`
	Note     string     `json:"note,omitempty" doc:"anything worth keeping: who taught it, with which weights"`
	Framing  Framing    `json:"framing" doc:"where a line begins and ends"`
	Request  string     `json:"request,omitempty" doc:"what to send to get a line; none when the instrument sends by itself"`
	EveryS   float64    `json:"every_s,omitempty" doc:"seconds between two requests"`
	Main     string     `json:"main,omitempty" doc:"channel that is the reading, where lines name channels"`
	Units    []UnitWord `json:"units,omitempty" doc:"unit words of this instrument beyond the usual ones"`
	Checksum *Checksum  `json:"checksum,omitempty" doc:"the check at the end of every line"`
	Lines    []Shape    `json:"lines" doc:"the kinds of line"`
	Tests    []LineTest `json:"tests" doc:"lines and what they mean; read again whenever the pattern is loaded"`

	words map[string]unit // every unit word; set by Check
}

// UnitWord says what a unit word means on this instrument.
type UnitWord struct {
	Word string `json:"word" doc:"as it stands in the line"`
	Unit string `json:"unit" doc:"what it means: g, kg, mg, ct, ozt, dwt, grain, tola, momme, baht, °C, °F"`
}

// Shape is one kind of line, given part by part from its first byte to its last.
type Shape struct {
	Name      string `json:"name" doc:"what this kind of line is"`
	Means     string `json:"means" doc:"reading, overload, underload, fault or nothing"`
	Mark      string `json:"mark,omitempty" doc:"settled or moving, when this kind of line says so as a whole"`
	Channel   string `json:"channel,omitempty" doc:"channel of this kind of line"`
	Unit      string `json:"unit,omitempty" doc:"unit of a line that names none; only because a person said so"`
	Unchecked bool   `json:"unchecked,omitempty" doc:"true of a line without reading that carries no check"`
	Parts     []Part `json:"parts" doc:"what stands in the line, from left to right"`
}

// Part is one piece of a line. Which fields it has depends on what it is:
//
//	text    Text: exactly this
//	blank   Min to Max spaces
//	word    one of Words; with Width, spaces fill the column
//	number  the reading: Width, Align, Decimals, Comma, Whole, Zeros, Sign, Plus, Gap, Channel
//	other   a number that is passed over, described in the same way
//	unit    a unit word; with Width, spaces fill the column
//	digits  Text with # for each digit, or Min to Max digits: date, time, counter
type Part struct {
	Is       string `json:"is" doc:"text, blank, word, number, other (a number that is passed over), unit or digits"`
	Text     string `json:"text,omitempty" doc:"for text: exactly this; for digits: # for each digit"`
	Min      int    `json:"min,omitempty" doc:"fewest spaces or digits"`
	Max      int    `json:"max,omitempty" doc:"most spaces or digits"`
	Words    []Word `json:"words,omitempty" doc:"the words that may stand here"`
	Width    int    `json:"width,omitempty" doc:"columns with the spaces that fill them; left out when nothing is filled"`
	Align    string `json:"align,omitempty" doc:"left or right; numbers stand right and words left when left out"`
	Decimals int    `json:"decimals,omitempty" doc:"digits after the decimal mark, exactly"`
	Comma    bool   `json:"comma,omitempty" doc:"true when the decimal mark is a comma"`
	Whole    int    `json:"whole,omitempty" doc:"most digits before the decimal mark"`
	Zeros    bool   `json:"zeros,omitempty" doc:"true when zeros fill the number in front"`
	Sign     string `json:"sign,omitempty" doc:"where a minus stands: beside the digits, first in the column, after the digits; none when left out"`
	Plus     string `json:"plus,omitempty" doc:"what stands in the place of the minus when there is none: + or a space; nothing when left out"`
	Gap      int    `json:"gap,omitempty" doc:"spaces between sign and digits"`
	Channel  string `json:"channel,omitempty" doc:"channel of this number, where one line carries several"`
	Before   bool   `json:"before,omitempty" doc:"true when the unit stands before its number"`
}

// Word is one of the words of a part, with what it says. One that says nothing is just known.
type Word struct {
	Word    string `json:"word" doc:"as it stands in the line"`
	Mark    string `json:"mark,omitempty" doc:"settled or moving"`
	Channel string `json:"channel,omitempty" doc:"channel that it names"`
	State   string `json:"state,omitempty" doc:"overload, underload or fault"`
}

// LineTest is a line with what it means. Reads, State and Refused exclude each other; with none of
// them the line is known and carries no reading.
type LineTest struct {
	Line    string `json:"line" doc:"the line without its start and end"`
	Reads   string `json:"reads,omitempty" doc:"number and unit: -12.3456 g"`
	Channel string `json:"channel,omitempty" doc:"channel that is named"`
	Mark    string `json:"mark,omitempty" doc:"settled or moving"`
	State   string `json:"state,omitempty" doc:"overload, underload or fault"`
	Refused bool   `json:"refused,omitempty" doc:"true of a line that must not be read"`
}

// DecodePattern reads a pattern's document, strictly, and checks it. The error is a
// *strictjson.FieldError.
func DecodePattern(data []byte) (*Pattern, error) {
	p := new(Pattern)
	if err := strictjson.Unmarshal(data, p); err != nil {
		return nil, err
	}
	if err := p.Check(); err != nil {
		return nil, err
	}
	return p, nil
}

// Encode writes the document, indented for people.
func (p *Pattern) Encode() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(p); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
