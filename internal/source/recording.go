package source

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
)

// The first line of every recording.
const recordingFormat = "wreath recording 1"

// UsualRecording is the size in bytes at which a recording ends when nothing else is asked for: a
// balance with ten lines a second fills it in about three weeks.
const UsualRecording = 512 << 20

// Header says what a recording is of.
type Header struct {
	Address   Address
	Made      time.Time // when it began
	Simulated bool      // an invented instrument spoke
	Note      string    // one line, by whoever made it
}

// Recorder writes what a source says to a file of text that a person can read and shorten:
//
//	wreath recording 1
//	made 2026-03-01T09:00:00Z
//	address serial:///dev/ttyUSB0?speed=9600
//	note invented, for a test
//
//	0.000000 = connecting
//	0.001200 = joined pseudo-terminal
//	0.250000 > Q\r\n
//	0.312000 < 12.3456 g\r\n
//	9.000000 = connecting the link was cut; plug it in again
//
// After the header and an empty line each line is an event: seconds since the start, a sign (< heard,
// > sent, = the link), and the bytes. Printable ASCII stands for itself, \\ for a backslash, \r
// \n \t as usual, and \x with two hexadecimal digits for every other byte. After = stands the
// state and the port or the reason: connecting, waiting (to be called), connected (what comes first starts a
// line), joined (it need not), silent, ended.
// "simulated yes" stands in the header of what an invented instrument said.
//
// When the file reaches its bound, the last line says "= full" and nothing more is written.
type Recorder struct {
	w    io.Writer
	left int64
	full bool
	err  error
	line []byte
}

// fullLine ends a recording that reached its bound.
const fullLine = "= full: the recording reached its bound, and what follows is missing\n"

// NewRecorder writes the header to w. Limit bounds the file in bytes; 0 stands for UsualRecording.
func NewRecorder(w io.Writer, h Header, limit int64) (*Recorder, error) {
	if limit <= 0 {
		limit = UsualRecording
	}
	text := fmt.Sprintf("%s\nmade %s\n", recordingFormat, h.Made.UTC().Format(time.RFC3339))
	if h.Address != (Address{}) {
		text += "address " + h.Address.String() + "\n"
	}
	if h.Simulated {
		text += "simulated yes\n"
	}
	if h.Note != "" {
		text += "note " + string(appendEscaped(nil, []byte(h.Note))) + "\n"
	}
	text += "\n"
	r := &Recorder{w: w, left: limit - int64(len(text)+len(fullLine)+20)}
	if r.left < 0 {
		return nil, fmt.Errorf("start recording: a bound of %d bytes does not even hold the header", limit)
	}
	if _, err := io.WriteString(w, text); err != nil {
		return nil, fmt.Errorf("start recording: %w", err)
	}
	return r, nil
}

// Sink returns a sink that records each event and hands it on to next, which may be nil. A recording that
// can't be written never holds up the reading; Err tells.
func (r *Recorder) Sink(next Sink) Sink {
	return func(e Event) {
		r.record(e)
		if next != nil {
			next(e)
		}
	}
}

// Err returns why the recording is not whole, or nil. It may be asked when no event is under way.
func (r *Recorder) Err() error {
	if r.err == nil && r.full {
		return errors.New("the recording reached its bound, and what follows is missing")
	}
	return r.err
}

func (r *Recorder) record(e Event) {
	if r.full || r.err != nil {
		return
	}
	line := strconv.AppendFloat(r.line[:0], e.Seconds, 'f', 6, 64)
	switch e.Kind {
	case Heard:
		line = appendEscaped(append(line, " < "...), e.Bytes)
	case Sent:
		line = appendEscaped(append(line, " > "...), e.Bytes)
	case LinkChanged:
		line = appendEscaped(append(line, " = "...), []byte(linkText(e)))
	}
	line = append(line, '\n')
	r.line = line[:0]
	if int64(len(line)) > r.left {
		r.full = true
		line = append(strconv.AppendFloat(line[:0], e.Seconds, 'f', 6, 64), " "+fullLine...)
	}
	r.left -= int64(len(line))
	if _, err := r.w.Write(line); err != nil {
		r.err = fmt.Errorf("record: %w", err)
	}
}

// linkText writes a change of the link as readLink reads it.
func linkText(e Event) string {
	word := e.Link.String()
	switch {
	case e.Link == Connected && !e.Whole:
		word = "joined"
	case e.Link == Connecting && e.Identity != "":
		word = "waiting"
	}
	return strings.TrimRight(word+" "+strings.TrimLeft(e.Identity+" "+text(e.Err), " "), " ")
}

// appendEscaped appends p as printable ASCII without line ends.
func appendEscaped(dst, p []byte) []byte {
	for _, b := range p {
		switch {
		case b == '\\':
			dst = append(dst, `\\`...)
		case b == '\r':
			dst = append(dst, `\r`...)
		case b == '\n':
			dst = append(dst, `\n`...)
		case b == '\t':
			dst = append(dst, `\t`...)
		case b >= ' ' && b < 0x7f:
			dst = append(dst, b)
		default:
			const digits = "0123456789abcdef"
			dst = append(dst, '\\', 'x', digits[b>>4], digits[b&15])
		}
	}
	return dst
}

// Escape returns bytes as a person can read them, in the way of a recording.
func Escape(p []byte) string { return string(appendEscaped(nil, p)) }

// unescape is the way back. It refuses what appendEscaped does not write.
func unescape(text []byte) ([]byte, error) {
	out := make([]byte, 0, len(text))
	for i := 0; i < len(text); i++ {
		b := text[i]
		if b < ' ' || b >= 0x7f {
			return nil, fmt.Errorf("byte %d is not printable", i+1)
		}
		if b != '\\' {
			out = append(out, b)
			continue
		}
		i++
		if i == len(text) {
			return nil, errors.New("it ends in a backslash")
		}
		switch text[i] {
		case '\\':
			out = append(out, '\\')
		case 'r':
			out = append(out, '\r')
		case 'n':
			out = append(out, '\n')
		case 't':
			out = append(out, '\t')
		case 'x':
			if i+3 > len(text) {
				return nil, errors.New(`\x is not followed by two digits`)
			}
			n, err := strconv.ParseUint(string(text[i+1:i+3]), 16, 8)
			if err != nil {
				return nil, errors.New(`\x is not followed by two hexadecimal digits`)
			}
			out = append(out, byte(n))
			i += 2
		default:
			return nil, fmt.Errorf(`\%c has no meaning`, text[i])
		}
	}
	return out, nil
}

// RecordingError says which line of a recording can't be read.
type RecordingError struct {
	Line   int // from 1
	Reason string
}

func (e *RecordingError) Error() string { return fmt.Sprintf("line %d: %s", e.Line, e.Reason) }

// longestRecorded bounds a line of a recording: MaxPush bytes, each as four characters.
const longestRecorded = 4*MaxPush + 200

// ReadRecording reads a recording and calls yield for each event until it returns false. The error is a
// *RecordingError or one of reading.
func ReadRecording(r io.Reader, yield func(Event) bool) (Header, error) {
	lines := bufio.NewScanner(r)
	lines.Buffer(make([]byte, 0, 4096), longestRecorded)
	n := 0
	next := func() bool { n++; return lines.Scan() }
	bad := func(reason string, args ...any) error { return &RecordingError{n, fmt.Sprintf(reason, args...)} }
	var h Header
	if !next() || lines.Text() != recordingFormat {
		return h, errors.Join(lines.Err(), bad("it is not %q; this is no recording", recordingFormat))
	}
	for {
		if !next() {
			return h, errors.Join(lines.Err(), bad("the empty line after the header is missing"))
		}
		if len(lines.Bytes()) == 0 {
			break
		}
		name, value, _ := strings.Cut(lines.Text(), " ")
		var err error
		switch name {
		case "address":
			h.Address, err = ParseAddress(value)
		case "made":
			h.Made, err = time.Parse(time.RFC3339, value)
		case "simulated":
			if h.Simulated = value == "yes"; !h.Simulated {
				err = errors.New(`simulated is not "yes"`)
			}
		case "note":
			var note []byte
			note, err = unescape([]byte(value))
			h.Note = string(note)
		default:
			err = fmt.Errorf("%q is not known in a header", shorten(name))
		}
		if err != nil {
			return h, bad("%v", err)
		}
	}
	var last float64
	for next() {
		e, err := readEvent(lines.Bytes(), last)
		if err != nil {
			return h, bad("%v", err)
		}
		last = e.Seconds
		if e.Kind == LinkChanged && e.Link == Ended && e.Err != nil {
			return h, bad("%v", e.Err)
		}
		if !yield(e) {
			return h, nil
		}
	}
	if err := lines.Err(); err != nil {
		return h, fmt.Errorf("line %d: %w", n, err)
	}
	return h, nil
}

func readEvent(line []byte, last float64) (e Event, err error) {
	number, rest, found := bytes.Cut(line, []byte(" "))
	if !found || len(rest) == 0 {
		return e, errors.New("it is not seconds, a sign and bytes")
	}
	e.Seconds, err = strconv.ParseFloat(string(number), 64)
	if err != nil || math.IsNaN(e.Seconds) || math.IsInf(e.Seconds, 0) || e.Seconds > 1e9 {
		return e, errors.New("the seconds are no number")
	}
	if e.Seconds < last {
		return e, errors.New("the seconds run backwards")
	}
	sign, body, _ := bytes.Cut(rest, []byte(" "))
	e.Bytes, err = unescape(body)
	if err != nil {
		return e, err
	}
	switch string(sign) {
	case "<":
		e.Kind = Heard
		return e, nil
	case ">":
		e.Kind = Sent
		return e, nil
	case "=":
		e.Kind = LinkChanged
		said := string(e.Bytes)
		e.Bytes = nil
		return e, e.readLink(said)
	}
	return e, errors.New("the sign is none of <, > and =")
}

func (e *Event) readLink(said string) error {
	word, rest, _ := strings.Cut(said, " ")
	switch word {
	case "waiting":
		e.Identity, rest, _ = strings.Cut(rest, " ")
		fallthrough
	case "connecting":
		e.Link = Connecting
		if rest != "" {
			e.Err = errors.New(rest)
		}
	case "connected", "joined":
		e.Link, e.Identity, e.Whole = Connected, rest, word == "connected"
	case "silent":
		e.Link, e.Identity = Quiet, rest
	case "ended":
		e.Link = Ended
	case "full:":
		e.Link, e.Err = Ended, errors.New("the recording reached its bound here, and what follows is missing")
	default:
		return fmt.Errorf("the state %q is not known", shorten(word))
	}
	return nil
}
