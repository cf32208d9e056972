package simulated

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"wreath/internal/line"
	"wreath/internal/simulation"
)

// Format is an invented way to write what is displayed as lines of text.
type Format struct {
	Key         string
	Words       string // what is special about it
	Request     string // what must be sent to get a line; empty where it speaks by itself
	Thermometer bool   // it tells temperatures only

	framing  line.Framing
	checksum *line.Checksum
	main     string
	more     int // decimals beyond those of the balance in grams
	// write returns the lines for one change of the display, without framing and check.
	write func(p paper) []string
	// shapes says how they are read.
	shapes func(decimals int) []line.Shape
}

// paper is what a format writes down.
type paper struct {
	simulation.LiveSample
	decimals int
	count    int
}

// Banner is the text of the line by which every conversation begins.
const Banner = "simulated, no real weighing"

// Formats are all of them.
func Formats() []Format {
	return []Format{
		{Key: "columns", Words: "columns of fixed width, the mark as a word in front", framing: crlf, write: writeColumns, shapes: shapeColumns},
		{Key: "letters", Words: "a letter in front, sign and zeros always", framing: line.Framing{End: "CR"}, write: writeLetters, shapes: shapeLetters},
		{Key: "semicolons", Words: "fields between semicolons, with a counter", framing: line.Framing{End: "LF"}, write: writeSemicolons, shapes: shapeSemicolons},
		{Key: "comma", Words: "decimal comma, the mark as punctuation at the end", framing: crlf, write: writeComma, shapes: shapeComma},
		{Key: "checked", Words: "between STX and ETX, with a check", framing: line.Framing{Start: "STX", End: "ETX"},
			checksum: &line.Checksum{Kind: "crc16-xmodem", Before: "*"}, write: writeChecked, shapes: shapeChecked},
		{Key: "asked", Words: "speaks only when it is asked", Request: "value\r", framing: crlf, write: writeAsked, shapes: shapeAsked},
		{Key: "twin", Words: "two channels on lines of their own: pan and bath", framing: crlf, main: "A", write: writeTwin, shapes: shapeTwin},
		{Key: "pair", Words: "pan and bath in one line", framing: crlf, main: "pan", write: writePair, shapes: shapePair},
		{Key: "kilo", Words: "kilograms, no mark of rest", framing: crlf, more: 3, write: writeKilo, shapes: shapeKilo},
		{Key: "bath", Words: "a thermometer by itself", Thermometer: true, framing: line.Framing{End: "LF"}, write: writeBath, shapes: shapeBath},
	}
}

var crlf = line.Framing{End: "CRLF"}

// FormatByKey finds a format.
func FormatByKey(key string) (Format, error) {
	var keys []string
	for _, f := range Formats() {
		if f.Key == key {
			return f, nil
		}
		keys = append(keys, f.Key)
	}
	return Format{}, fmt.Errorf("no invented format is called %q; there are %s", key, strings.Join(keys, ", "))
}

// Decimals of a balance in grams with a scale interval.
func Decimals(interval float64) int { return max(0, int(math.Round(-math.Log10(interval)))) }

// Bytes are the framed lines for one change of the display of a balance that shows so many decimals of a
// gram. The count is that of the lines before.
func (f Format) Bytes(s simulation.LiveSample, decimals, count int) []byte {
	var all []byte
	for _, text := range f.write(paper{s, decimals, count}) {
		all = append(all, f.framed(f.check(text))...)
	}
	return all
}

// BannerBytes is the framed banner. It carries no check.
func (f Format) BannerBytes() []byte { return f.framed(Banner) }

func (f Format) framed(text string) []byte {
	ends := map[string]string{"CR": "\r", "LF": "\n", "CRLF": "\r\n", "ETX": "\x03"}
	starts := map[string]string{"STX": "\x02"}
	return []byte(starts[f.framing.Start] + text + ends[f.framing.End])
}

func (f Format) check(text string) string {
	if f.checksum == nil {
		return text
	}
	// CRC-16/XMODEM: polynomial 0x1021, start 0, no reflection (catalogue of G. Cook).
	sum := uint16(0)
	for _, b := range []byte(text) {
		sum ^= uint16(b) << 8
		for range 8 {
			if sum&0x8000 != 0 {
				sum = sum<<1 ^ 0x1021
			} else {
				sum <<= 1
			}
		}
	}
	return fmt.Sprintf("%s*%04X", text, sum)
}

// Pattern says how the lines of a balance with so many decimals of a gram are read. It is checked
// and carries its tests; as JSON it is the document that a shop stores.
func (f Format) Pattern(decimals int) (*line.Pattern, error) {
	p := &line.Pattern{
		Format: line.Format, Name: "simulated " + f.Key, Note: "invented format: " + f.Words,
		Framing: f.framing, Request: f.Request, Checksum: f.checksum, Main: f.main,
		Lines: append(f.shapes(decimals+f.more), line.Shape{Name: "banner", Means: "nothing", Unchecked: f.checksum != nil, Parts: []line.Part{text(Banner)}}),
		Tests: append(f.tests(decimals), line.LineTest{Line: Banner}),
	}
	if f.Request != "" {
		p.EveryS = 0.2
	}
	return p, p.Check()
}

// tests are lines of the format with what they mean.
func (f Format) tests(decimals int) (tests []line.LineTest) {
	load := math.Round(1234.56789*math.Pow10(decimals)) / math.Pow10(decimals)
	for n, s := range []simulation.LiveSample{
		{Grams: load, Settled: true, TemperatureC: 22.4}, {Grams: -load / 100, TemperatureC: 9.8}, {Overload: true, TemperatureC: 20}, {Underload: true, TemperatureC: -1.5},
	} {
		s.Grams = math.Round(s.Grams*math.Pow10(decimals)) / math.Pow10(decimals)
		for _, body := range f.write(paper{s, decimals, n}) {
			test := line.LineTest{Line: f.check(body)}
			marked := "moving"
			if s.Settled {
				marked = "settled"
			}
			switch {
			case f.Thermometer:
				test.Reads = number(s.TemperatureC, 1) + " °C"
			case f.Key == "twin" && body[0] == 'B':
				test.Reads, test.Channel = number(s.TemperatureC, 1)+" °C", "B"
			case s.Overload:
				test.State = "overload"
			case s.Underload:
				test.State = "underload"
			case f.Key == "kilo":
				test.Reads = number(s.Grams/1000, decimals+3) + " kg"
			default:
				test.Reads, test.Mark = number(s.Grams, decimals)+" g", marked
			}
			switch { // a reading keeps its text as it stands
			case test.Reads != "" && f.Key == "comma":
				test.Reads = strings.Replace(test.Reads, ".", ",", 1)
			case test.Reads != "" && f.Key == "letters":
				test.Reads = strings.TrimPrefix(body[1:], "+")
			}
			switch {
			case f.Key == "twin" && body[0] == 'A':
				test.Channel = "A"
			case f.Key == "pair" && test.State == "":
				test.Channel = "pan"
			}
			tests = append(tests, test)
		}
	}
	return tests
}

func number(x float64, decimals int) string { return strconv.FormatFloat(x+0, 'f', decimals, 64) }
