package station

import (
	"encoding/json"
	"math"
	"strings"
	"unicode/utf8"
)

// Link is how the readings of an instrument reach the program: the line they come by, how it is read,
// and by which weight the instrument at its end is known. It is data of the shop: nothing of any maker is
// built in.
type Link struct {
	Address       string          `json:"address" doc:"where its lines come from, such as serial:///dev/ttyUSB0?speed=9600, tcp://host:port, file:///path, push:name, wedge:name"`
	Pattern       json.RawMessage `json:"pattern,omitempty" doc:"how its lines are read, as learned from samples; without it, lines are shown and not read"`
	Channel       string          `json:"channel,omitempty" doc:"where its lines bring several values: the name of the one that is taken"`
	Request       string          `json:"request,omitempty" doc:"what is sent to ask for a line, with \\r, \\n, \\t and \\x1b written so; absent where it speaks by itself"`
	RequestEveryS *float64        `json:"request_every_s,omitempty" doc:"how often it is asked, seconds"`
	Binding       *Binding        `json:"binding,omitempty" doc:"the check weight by which a swapped cable is noticed"`
}

// Binding ties an instrument to the port at which it was seen: a weight that only the right one shows right.
type Binding struct {
	CheckG     *float64 `json:"check_g" doc:"mass of the check weight"`
	ToleranceG *float64 `json:"tolerance_g" doc:"how far from it the reading may lie"`
	Port       string   `json:"port,omitempty" doc:"what the port was called when the weight was last put on"`
	ReadG      *float64 `json:"read_g,omitempty" doc:"what the instrument showed then"`
	On         Date     `json:"on,omitempty" doc:"the day of that"`
}

// Bounds of a link; chosen here. What is asked for more often than that answers with a backlog, and less
// often than that it is no live reading.
const (
	maxAddress   = 2000
	maxRequest   = 200
	maxPattern   = 64 << 10
	shortestAskS = 0.02
	longestAskS  = 60
)

// linkable are the kinds of instrument that say numbers by themselves.
var linkable = []string{Balance, Thermometer, Barometer, Hygrometer}

func (i *Instrument) checkLink() error {
	l := i.Link
	if l == nil {
		return nil
	}
	switch {
	case l.Address == "":
		return bad("link.address", "Say where its lines come from, such as serial:///dev/ttyUSB0.", "is missing")
	case len(l.Address) > maxAddress || !plainText(l.Address) || !strings.Contains(l.Address, ":"):
		return bad("link.address", "Write the kind, a colon and the place: serial:///dev/ttyUSB0, tcp://host:port, push:name.", "%.40q is no address", l.Address)
	case len(l.Channel) > MaxID || !plainText(l.Channel):
		return bad("link.channel", "Give the name as the lines have it.", "is too long, or no text")
	case l.RequestEveryS != nil && l.Request == "":
		return bad("link.request_every_s", "Give what is sent as well, or leave both out.", "is given, and nothing is asked")
	case l.Request != "" && l.RequestEveryS == nil:
		return bad("link.request_every_s", "Say how often it is asked, in seconds: 0.5.", "is missing")
	case len(l.Pattern) > maxPattern:
		return bad("link.pattern", "Give one pattern with a few lines to test it.", "is larger than %d bytes", maxPattern)
	case l.Pattern != nil && (!json.Valid(l.Pattern) || l.Pattern[0] != '{'):
		return bad("link.pattern", "Give the pattern as it was learned.", "is no group in braces")
	}
	if _, err := l.RequestBytes(); err != nil {
		return err
	}
	if err := within("link.request_every_s", l.RequestEveryS, shortestAskS, longestAskS, "s"); err != nil {
		return err
	}
	return l.checkBinding(i)
}

func (l *Link) checkBinding(i *Instrument) error {
	b := l.Binding
	if b == nil {
		return nil
	}
	switch {
	case i.Kind != Balance:
		return bad("link.binding", "Leave it out, or correct the kind.", "a check weight does not belong to a %s", i.Kind)
	case b.CheckG == nil:
		return bad("link.binding.check_g", "Give the mass of the weight: 100.", "is missing")
	case b.ToleranceG == nil:
		return bad("link.binding.tolerance_g", "Give how far the reading may lie from it: 0.001.", "is missing")
	case len(b.Port) > maxAddress || !plainText(b.Port):
		return bad("link.binding.port", "Leave it out; it is filled in when the weight is put on.", "is too long, or no text")
	}
	return first(
		within("link.binding.check_g", b.CheckG, 1e-4, 1e6, "g"),
		within("link.binding.tolerance_g", b.ToleranceG, 1e-7, *b.CheckG/10, "g"),
		within("link.binding.read_g", b.ReadG, -1e6, 1e6, "g"),
		checkDate("link.binding.on", b.On, false),
	)
}

func plainText(s string) bool {
	return utf8.ValidString(s) && !strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == 0x7f })
}

// Fits is true of a reading, in g, that is the check weight's.
func (b *Binding) Fits(g float64) bool {
	const dust = 1e-9 // of the sums of decimal numbers
	return math.Abs(g-*b.CheckG) <= *b.ToleranceG+dust
}

// RequestBytes is what is sent: the text of Request with its escapes undone. A *FieldError says which
// escape can't be read.
func (l *Link) RequestBytes() ([]byte, error) {
	if len(l.Request) > maxRequest || !plainText(l.Request) {
		return nil, bad("link.request", `Write what can't be printed as \r, \n, \t or \x1b.`, "is too long, or holds what can't be printed")
	}
	var out []byte
	for text := l.Request; text != ""; {
		head, tail, escaped := strings.Cut(text, `\`)
		out = append(out, head...)
		if !escaped {
			break
		}
		b, rest, ok := unescape(tail)
		if !ok {
			return nil, bad("link.request", `Known: \r, \n, \t, \\ and \x with two hexadecimal digits.`, "%.6q can't be read", `\`+tail)
		}
		out, text = append(out, b), rest
	}
	return out, nil
}

// unescape reads what stands after a backslash.
func unescape(text string) (b byte, rest string, ok bool) {
	if text == "" {
		return 0, "", false
	}
	if i := strings.IndexByte(`rnt\`, text[0]); i >= 0 {
		return "\r\n\t\\"[i], text[1:], true
	}
	if text[0] != 'x' || len(text) < 3 {
		return 0, "", false
	}
	const digits = "0123456789abcdef"
	high, low := strings.IndexByte(digits, lower(text[1])), strings.IndexByte(digits, lower(text[2]))
	return byte(high<<4 | low), text[3:], high >= 0 && low >= 0
}

func lower(b byte) byte {
	if b >= 'A' && b <= 'Z' {
		return b + 'a' - 'A'
	}
	return b
}
