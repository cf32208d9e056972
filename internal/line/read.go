package line

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"unicode"
	"unicode/utf8"
)

const (
	mostNumbers = 4  // values in one line
	mostDigits  = 15 // a double holds every decimal number of 15 digits apart from its neighbours
)

// found is a number as it was met, before a text is made of it.
type found struct {
	from, to int // digits with their decimal mark
	negative bool
	part     *Part
	unit     unit
	hasUnit  bool
}

// match is one attempt to read a line by one shape.
type match struct {
	line    []byte
	at      int // next byte
	numbers [mostNumbers]found
	n       int
	before  unit // a unit that stands before its number
	waiting bool
	channel string
	mark    string
	state   string
	// why it failed
	failed *Part
	unitIs string
}

// Read reads one whole line. A line with several numbers gives the one that is the reading. The
// error is a *ReadError, or wraps ErrNoReading. Read may be called by several goroutines at once
// once Check has passed.
func (p *Pattern) Read(line []byte) (Value, error) {
	m, shape, err := p.find(line)
	if err != nil {
		return Value{}, err
	}
	return m.value(shape, 0), nil
}

// ReadAll appends everything a line says to dst: the value of Read first, then further ones such
// as a temperature in the same line.
func (p *Pattern) ReadAll(dst []Value, line []byte) ([]Value, error) {
	m, shape, err := p.find(line)
	if err != nil {
		return dst, err
	}
	dst = append(dst, m.value(shape, 0))
	for i := 1; i < m.n && m.state == ""; i++ {
		dst = append(dst, m.value(shape, i))
	}
	return dst, nil
}

// find returns the match of the one shape that the line fits. Two shapes that fit must say the same.
func (p *Pattern) find(line []byte) (match, *Shape, error) {
	if p.words == nil {
		return match{}, nil, &ReadError{0, "the pattern was not checked", "Load it by DecodePattern, or call Check."}
	}
	body, checked := line, true
	if p.Checksum != nil {
		body, checked = p.Checksum.strip(line)
	}
	var best, m match
	var fits, far *Shape
	for i := range p.Lines {
		shape := &p.Lines[i]
		m.line = body
		if p.Checksum != nil && (shape.Unchecked || !checked) {
			if !shape.Unchecked {
				continue
			}
			m.line = line
		}
		ok := p.try(&m, shape)
		switch {
		case ok && fits == nil:
			best, fits = m, shape
		case ok:
			if !best.equal(fits, &m, shape) {
				return match{}, nil, &ReadError{0, fmt.Sprintf("the line can be read in two ways, as %q and as %q", fits.Name, shape.Name),
					"Learn the pattern again with more lines."}
			}
		case fits == nil && (far == nil || m.at > best.at):
			best, far = m, shape
		}
	}
	if fits == nil {
		if !checked && (far == nil || far.Unchecked) {
			return match{}, nil, &ReadError{len(line), "the check at the end of the line is wrong or missing", "Look at cable and connection; a line was changed on its way."}
		}
		return match{}, nil, p.refuse(&best)
	}
	if fits.Means == "nothing" {
		return match{}, nil, ErrNoReading
	}
	if fits.Means != "reading" {
		best.state = fits.Means
	}
	if best.state == "" && best.n == 0 {
		return match{}, nil, ErrNoReading
	}
	return best, fits, nil
}

// try matches one shape against the whole line.
func (p *Pattern) try(m *match, shape *Shape) bool {
	m.at, m.n, m.waiting = 0, 0, false
	m.channel, m.mark, m.state = shape.Channel, shape.Mark, ""
	m.failed, m.unitIs = nil, ""
	for i := range shape.Parts {
		part := &shape.Parts[i]
		if !p.part(m, part) {
			m.failed = part
			return false
		}
	}
	if m.at != len(m.line) {
		return false
	}
	if m.state != "" {
		return true
	}
	for i := range m.n {
		if i > 0 && m.numbers[0].part.Channel != "" && m.numbers[i].part.Channel == "" {
			m.numbers[0], m.numbers[i] = m.numbers[i], m.numbers[0] // the reading first
		}
	}
	for i := range m.n {
		if !m.numbers[i].hasUnit {
			u, ok := unitNamed(shape.Unit)
			if !ok {
				return false
			}
			m.numbers[i].unit = u
		}
	}
	return true
}

func (p *Pattern) part(m *match, part *Part) bool {
	rest := m.line[m.at:]
	switch part.Is {
	case "text":
		if len(rest) < len(part.Text) || string(rest[:len(part.Text)]) != part.Text {
			return false
		}
		m.at += len(part.Text)
		return true
	case "blank":
		n := min(blanks(rest), part.Max) // what is left belongs to the next part, or does not fit
		if n < part.Min {
			return false
		}
		m.at += n
		return true
	case "word":
		return m.word(part, rest)
	case "digits":
		return m.digits(part, rest)
	case "unit":
		return p.unitWord(m, part, rest)
	}
	f, n, ok := number(part, rest)
	if !ok {
		return false
	}
	f.from, f.to = f.from+m.at, f.to+m.at
	m.at += n
	if part.Is == "number" {
		f.part = part
		if m.waiting {
			f.unit, f.hasUnit, m.waiting = m.before, true, false
		}
		if m.n == mostNumbers {
			return false
		}
		m.numbers[m.n] = f
		m.n++
	}
	return true
}

// word takes the longest word that stands here.
func (m *match) word(part *Part, rest []byte) bool {
	field, width := rest, 0
	if part.Width > 0 {
		field, width = column(part, rest)
		if width == 0 {
			return false
		}
	}
	best := -1
	for i := range part.Words {
		w := part.Words[i].Word
		switch {
		case part.Width > 0 && string(field) == w:
			best = i
		case part.Width == 0 && len(field) >= len(w) && string(field[:len(w)]) == w && (best < 0 || len(w) > len(part.Words[best].Word)):
			best = i
		}
	}
	if best < 0 {
		return false
	}
	w := &part.Words[best]
	if part.Width == 0 {
		width = len(w.Word)
	}
	m.at += width
	if w.Channel != "" {
		m.channel = w.Channel
	}
	if w.Mark != "" {
		m.mark = w.Mark
	}
	if w.State != "" {
		m.state = w.State
	}
	return true
}

// column cuts a column of fixed width and takes the spaces off the side that is filled.
func column(part *Part, rest []byte) (field []byte, width int) {
	if len(rest) < part.Width {
		return nil, 0
	}
	field = rest[:part.Width]
	if part.Align == "right" {
		return bytes.TrimLeft(field, " "), part.Width
	}
	return bytes.TrimRight(field, " "), part.Width
}

func (m *match) digits(part *Part, rest []byte) bool {
	n := 0
	if part.Text == "" {
		for n < len(rest) && isDigit(rest[n]) {
			n++
		}
		if n < part.Min || n > part.Max {
			return false
		}
		m.at += n
		return true
	}
	if len(rest) < len(part.Text) {
		return false
	}
	for i := range len(part.Text) {
		if c := part.Text[i]; c == '#' && !isDigit(rest[i]) || c != '#' && c != rest[i] {
			return false
		}
	}
	m.at += len(part.Text)
	return true
}

func (p *Pattern) unitWord(m *match, part *Part, rest []byte) bool {
	field, width := rest, 0
	if part.Width > 0 {
		if field, width = column(part, rest); width == 0 {
			return false
		}
	} else {
		width = wordLength(rest)
		field = rest[:width]
	}
	u, ok := p.words[string(field)]
	if !ok {
		if len(field) > 0 {
			m.unitIs = string(field)
		}
		return false
	}
	m.at += width
	switch {
	case part.Before:
		m.before, m.waiting = u, true
	case m.n > 0 && !m.numbers[m.n-1].hasUnit:
		m.numbers[m.n-1].unit, m.numbers[m.n-1].hasUnit = u, true
	}
	return true
}

// wordLength is the length of the word at the start of a text: letters, and the signs of units.
func wordLength(rest []byte) int {
	n := 0
	for n < len(rest) {
		if c := rest[n]; c < utf8.RuneSelf {
			if c|0x20 < 'a' || c|0x20 > 'z' {
				if c != '%' {
					return n
				}
			}
			n++
			continue
		}
		r, size := utf8.DecodeRune(rest[n:])
		if r == utf8.RuneError || !unicode.IsLetter(r) && r != '°' {
			return n
		}
		n += size
	}
	return n
}

func blanks(rest []byte) int {
	n := 0
	for n < len(rest) && rest[n] == ' ' {
		n++
	}
	return n
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// equal is true when two matches say the same of the line.
func (m *match) equal(shape *Shape, o *match, other *Shape) bool {
	if shape.Means != other.Means || m.channel != o.channel || m.mark != o.mark || m.state != o.state || m.n != o.n {
		return false
	}
	for i := range m.n {
		a, b := &m.numbers[i], &o.numbers[i]
		if a.negative != b.negative || a.from != b.from || a.to != b.to || a.unit != b.unit || a.part.Comma != b.part.Comma ||
			a.part.Channel != b.part.Channel {
			return false
		}
	}
	return true
}

// value makes the value of the i-th number.
func (m *match) value(shape *Shape, i int) Value {
	v := Value{Channel: m.channel, Mark: marks[m.mark]}
	if m.state != "" {
		v.State = states[m.state]
		return v
	}
	f := &m.numbers[i]
	if f.part.Channel != "" {
		v.Channel = f.part.Channel
	}
	digits := m.line[f.from:f.to]
	v.Text = text(digits, f.negative)
	v.Unit, v.Kind = f.unit.symbol, f.unit.kind
	v.Number = decimal(digits)
	if f.negative && v.Number != 0 {
		v.Number = -v.Number
	}
	v.Number = v.Number*f.unit.scale + f.unit.offset
	v.Interval = math.Pow10(-f.part.Decimals) * f.unit.scale
	return v
}

// text puts the sign in front of the digits.
func text(digits []byte, negative bool) string {
	if !negative {
		return string(digits)
	}
	var room [32]byte
	return string(append(append(room[:0], '-'), digits...))
}

// decimal is the number that digits with at most one decimal mark write. Both the digits as a whole
// number and the power of ten are exact, so their quotient is rounded once (mostDigits sees to it).
func decimal(digits []byte) float64 {
	var whole uint64
	decimals := 0
	for i, c := range digits {
		if isDigit(c) {
			whole = whole*10 + uint64(c-'0')
		} else {
			decimals = len(digits) - 1 - i
		}
	}
	return float64(whole) / math.Pow10(decimals)
}

var (
	marks  = map[string]Mark{"": Unsaid, "settled": Settled, "moving": Moving}
	states = map[string]State{"": Reading, "overload": Overload, "underload": Underload, "fault": Fault}
)

// refuse says why the shape that went furthest does not fit.
func (p *Pattern) refuse(m *match) error {
	rest := m.line[min(m.at, len(m.line)):]
	there := "the line ends there"
	if len(rest) > 0 {
		there = strconv.Quote(string(rest[:min(len(rest), 24)])) + " stands there"
	}
	e := &ReadError{At: m.at, Hint: "Look at the line; if it is as the instrument means it, learn the pattern again with this line among the samples."}
	switch {
	case m.unitIs != "":
		e.Reason = fmt.Sprintf("the unit %q at byte %d is not known", m.unitIs, m.at)
		if why, ok := otherWords[m.unitIs]; ok {
			e.Reason = fmt.Sprintf("the unit %q at byte %d %s", m.unitIs, m.at, why)
		}
		e.Hint = "Set the instrument to grams, or say in the pattern's units what the word means."
	case m.failed == nil && len(rest) == 0:
		e.Reason = "the line names no unit"
		e.Hint = "Let the instrument send its unit, or say the unit when the pattern is learned."
	case m.failed == nil:
		e.Reason = fmt.Sprintf("the line should end at byte %d, and %s", m.at, there)
	default:
		e.Reason = fmt.Sprintf("%s is meant at byte %d, and %s", m.failed.say(), m.at, there)
	}
	return e
}
