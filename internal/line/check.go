package line

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"wreath/internal/strictjson"
)

// Bounds of a pattern, chosen here: far above what instruments send, small enough to be read fast.
const (
	mostShapes = 200
	mostParts  = 64
	mostWords  = 64
	mostTests  = 1000
	mostTries  = 4000 // parts of all shapes together
)

// Check holds the pattern against itself: names and ranges of its fields, and every one of its
// tests. It must have passed before Read is used; DecodePattern and Learn call it. The error is a
// *strictjson.FieldError.
func (p *Pattern) Check() error {
	p.words = nil
	if p.Format != Format {
		return wrong("format", fmt.Sprintf("is %q", p.Format), fmt.Sprintf("Give %q.", Format))
	}
	if err := p.Framing.Check(); err != nil {
		return err
	}
	if math.IsNaN(p.EveryS) || p.EveryS < 0 || p.EveryS > 3600 {
		return wrong("every_s", "is not a time of 0 to 3600 seconds", "Give the seconds between two requests.")
	}
	if len(p.Request) > usualLongest {
		return wrong("request", "is too long", fmt.Sprintf("Give at most %d bytes.", usualLongest))
	}
	words, err := p.unitWords()
	if err != nil {
		return err
	}
	if c := p.Checksum; c != nil {
		switch _, ok := checkNamed(c.Kind); {
		case !ok:
			return wrong("checksum.kind", fmt.Sprintf("is %q, which is not known", c.Kind), "Give one of: "+checkNames()+".")
		case c.From < 0 || c.From > usualLongest:
			return wrong("checksum.from", "is out of range", "Give the first byte that counts, from 0.")
		case p.Framing.Text == "latin-1":
			return wrong("checksum", "can't be computed over Latin-1 text", "Leave it out, or let the instrument send ASCII.")
		}
	}
	if err := p.checkShapes(); err != nil {
		return err
	}
	p.words = words
	if err := p.runTests(); err != nil {
		p.words = nil
		return err
	}
	return nil
}

func wrong(path, reason, hint string) error {
	return &strictjson.FieldError{Path: path, Reason: reason, Hint: hint}
}

func checkNames() string {
	var names []string
	for _, k := range checkKinds {
		names = append(names, k.name)
	}
	return strings.Join(names, ", ")
}

// unitWords joins the usual unit words and those of the pattern.
func (p *Pattern) unitWords() (map[string]unit, error) {
	words := map[string]unit{}
	for word, symbol := range usualWords {
		words[word], _ = unitNamed(symbol)
	}
	if len(p.Units) > mostWords {
		return nil, wrong("units", "are too many", fmt.Sprintf("Give at most %d.", mostWords))
	}
	for i, w := range p.Units {
		at := fmt.Sprintf("units[%d]", i)
		u, ok := unitNamed(w.Unit)
		switch {
		case w.Word == "" || strings.TrimSpace(w.Word) != w.Word || len(w.Word) > 16:
			return nil, wrong(at+".word", "is not a word", "Give the unit as it stands in the line, without spaces.")
		case !ok:
			return nil, wrong(at+".unit", fmt.Sprintf("is %q, which is not known", w.Unit), "Units known: "+unitSymbols()+".")
		}
		words[w.Word] = u
	}
	return words, nil
}

func (p *Pattern) checkShapes() error {
	if len(p.Lines) == 0 {
		return wrong("lines", "are missing", "Give at least one kind of line.")
	}
	if len(p.Lines) > mostShapes {
		return wrong("lines", "are too many", fmt.Sprintf("Give at most %d kinds of line.", mostShapes))
	}
	parts, readings := 0, 0
	for i := range p.Lines {
		s := &p.Lines[i]
		at := fmt.Sprintf("lines[%d]", i)
		numbers, err := s.check(at)
		if err != nil {
			return err
		}
		if s.Means == "reading" {
			readings++
			if numbers == 0 {
				return wrong(at+".parts", "hold no number", "Give a number among the parts, or say what the line means.")
			}
		}
		parts += len(s.Parts)
	}
	if readings == 0 {
		return wrong("lines", "hold no reading", "Give at least one kind of line that means reading.")
	}
	if parts > mostTries {
		return wrong("lines", "have too many parts", fmt.Sprintf("Give at most %d parts in all.", mostTries))
	}
	return nil
}

// check looks at one shape and counts its numbers.
func (s *Shape) check(at string) (numbers int, err error) {
	if !slices.Contains([]string{"reading", "overload", "underload", "fault", "nothing"}, s.Means) {
		return 0, wrong(at+".means", fmt.Sprintf("is %q", s.Means), "Give reading, overload, underload, fault or nothing.")
	}
	if _, ok := marks[s.Mark]; !ok {
		return 0, wrong(at+".mark", fmt.Sprintf("is %q", s.Mark), "Give settled or moving, or leave it out.")
	}
	if _, ok := unitNamed(s.Unit); s.Unit != "" && !ok {
		return 0, wrong(at+".unit", fmt.Sprintf("is %q, which is not known", s.Unit), "Units known: "+unitSymbols()+".")
	}
	if s.Unchecked && s.Means == "reading" {
		return 0, wrong(at+".unchecked", "stands at a reading", "Where lines carry a check, a reading without one is damaged.")
	}
	if len(s.Parts) == 0 || len(s.Parts) > mostParts {
		return 0, wrong(at+".parts", "are none or too many", fmt.Sprintf("Give 1 to %d parts.", mostParts))
	}
	waiting := false
	for i := range s.Parts {
		part := &s.Parts[i]
		path := fmt.Sprintf("%s.parts[%d]", at, i)
		if err := part.check(path); err != nil {
			return 0, err
		}
		switch part.Is {
		case "number":
			numbers++
			waiting = false
		case "unit":
			if part.Before && waiting || !part.Before && numbers == 0 {
				return 0, wrong(path, "is a unit without a number of its own", "Say before for a unit that stands before its number.")
			}
			waiting = part.Before
		}
	}
	switch {
	case waiting:
		return 0, wrong(at+".parts", "end with a unit whose number does not come", "Leave before out for a unit that stands after its number.")
	case numbers > mostNumbers:
		return 0, wrong(at+".parts", "hold too many numbers", fmt.Sprintf("Give at most %d; pass the others over.", mostNumbers))
	}
	return numbers, nil
}

func (part *Part) check(at string) error {
	inRange := func(n int) bool { return n >= 0 && n <= usualLongest }
	if !inRange(part.Min) || !inRange(part.Max) || !inRange(part.Width) || !inRange(part.Gap) {
		return wrong(at, "has a count out of range", fmt.Sprintf("Give 0 to %d.", usualLongest))
	}
	if part.Align != "" && part.Align != "left" && part.Align != "right" {
		return wrong(at+".align", fmt.Sprintf("is %q", part.Align), "Give left or right.")
	}
	switch part.Is {
	case "text":
		if part.Text == "" {
			return wrong(at+".text", "is missing", "Give the text that stands there.")
		}
	case "blank":
		if part.Max < part.Min || part.Max == 0 {
			return wrong(at+".max", "is less than min, or nothing", "Give the fewest and the most spaces.")
		}
	case "digits":
		if part.Text == "" && (part.Min == 0 || part.Max < part.Min) {
			return wrong(at, "says neither text nor min and max", "Give # for each digit, or the fewest and the most digits.")
		}
	case "word":
		return part.checkWords(at)
	case "unit":
	case "number", "other":
		switch {
		case part.Decimals < 0 || part.Whole < 1 || part.Decimals+part.Whole > mostDigits:
			return wrong(at, "has too many digits, or none", fmt.Sprintf("Give whole from 1, and at most %d digits in all.", mostDigits))
		case !slices.Contains([]string{"", "beside", "first", "after"}, part.Sign):
			return wrong(at+".sign", fmt.Sprintf("is %q", part.Sign), "Give beside, first or after, or leave it out.")
		case !slices.Contains([]string{"", "+", " "}, part.Plus) || part.Plus != "" && part.Sign == "":
			return wrong(at+".plus", fmt.Sprintf("is %q", part.Plus), "Give + or a space, and where the sign stands.")
		}
	default:
		return wrong(at+".is", fmt.Sprintf("is %q", part.Is), "Give text, blank, word, number, other, unit or digits.")
	}
	return nil
}

func (part *Part) checkWords(at string) error {
	if len(part.Words) == 0 || len(part.Words) > mostWords {
		return wrong(at+".words", "are none or too many", fmt.Sprintf("Give 1 to %d.", mostWords))
	}
	seen := map[string]bool{}
	for i, w := range part.Words {
		path := at + ".words[" + strconv.Itoa(i) + "]"
		_, mark := marks[w.Mark]
		_, state := states[w.State]
		switch {
		case w.Word == "" && part.Width == 0:
			return wrong(path+".word", "is empty", "Give the word, or a width with it.")
		case seen[w.Word]:
			return wrong(path+".word", fmt.Sprintf("is %q a second time", w.Word), "Keep one of them.")
		case !mark:
			return wrong(path+".mark", fmt.Sprintf("is %q", w.Mark), "Give settled or moving, or leave it out.")
		case !state:
			return wrong(path+".state", fmt.Sprintf("is %q", w.State), "Give overload, underload or fault, or leave it out.")
		}
		seen[w.Word] = true
	}
	return nil
}

// runTests reads the pattern's own tests.
func (p *Pattern) runTests() error {
	if len(p.Tests) == 0 {
		return wrong("tests", "are missing", "Give at least one line and what it means.")
	}
	if len(p.Tests) > mostTests {
		return wrong("tests", "are too many", fmt.Sprintf("Give at most %d.", mostTests))
	}
	for i, t := range p.Tests {
		v, err := p.Read([]byte(t.Line))
		if got, want := meaning(v, err), t.meaning(); got != want {
			why := ""
			if err != nil {
				why = " (" + err.Error() + ")"
			}
			return wrong(fmt.Sprintf("tests[%d]", i), fmt.Sprintf("the line %q means %s and is read as %s%s", t.Line, want, got, why),
				"Mend the pattern or the test; until then it is not used.")
		}
	}
	return nil
}

func (t *LineTest) meaning() string {
	switch {
	case t.Refused:
		return "refused"
	case t.State != "":
		return strings.Join([]string{t.State, t.Channel, t.Mark}, "|")
	case t.Reads == "":
		return "nothing"
	}
	return strings.Join([]string{t.Reads, t.Channel, t.Mark}, "|")
}

// meaning writes what a line was read as in the way of a test.
func meaning(v Value, err error) string {
	t := testOf("", v, err)
	return t.meaning()
}

// testOf makes the test that a line's reading passes.
func testOf(line string, v Value, err error) LineTest {
	t := LineTest{Line: line, Channel: v.Channel}
	switch {
	case err == ErrNoReading:
		return LineTest{Line: line}
	case err != nil:
		return LineTest{Line: line, Refused: true}
	case v.State == Reading:
		t.Reads = v.Text + " " + v.Unit
	default:
		t.State = v.State.String()
	}
	if v.Mark != Unsaid {
		t.Mark = v.Mark.String()
	}
	return t
}
