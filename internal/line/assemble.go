package line

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// findStyle learns where the signs stand from the kinds of line that showed one.
func (l *learner) findStyle() {
	votes := map[signStyle]int{}
	for _, g := range l.groups {
		if g.main < 0 {
			continue
		}
		options, _ := g.build(nil, func(k int) []Word { return l.wordsOf(g, k) })
		if len(options) == 0 {
			continue
		}
		for _, part := range options[0].parts {
			if part.Is == "number" && part.Channel == "" && part.Sign != "" {
				votes[signStyle{part.Sign, part.Plus, part.Gap}] += len(g.lines)
			}
		}
	}
	most := 0
	for _, s := range []string{"beside", "first", "after"} {
		for style, n := range votes {
			if style.sign == s && n > most {
				most = n
			}
		}
	}
	for style, n := range votes {
		if n == most && (l.style == nil || less(style, *l.style)) {
			l.style = &signStyle{style.sign, style.plus, style.gap}
		}
	}
}

// less orders styles so that equal votes give one answer.
func less(a, b signStyle) bool {
	if a.sign != b.sign {
		return a.sign < b.sign
	}
	if a.plus != b.plus {
		return a.plus < b.plus
	}
	return a.gap < b.gap
}

// assemble makes the pattern; nil when it would not pass its own check.
func (l *learner) assemble() *Pattern {
	p := &Pattern{Format: Format, Name: l.o.Name, Framing: l.o.Framing, Request: l.o.Request, EveryS: l.o.EveryS,
		Main: l.main, Units: l.units, Checksum: l.check}
	number := 0
	for _, g := range l.groups {
		if g.main < 0 {
			continue
		}
		if l.silent(g) {
			l.doubt(1, "Lines like %q name no unit, and they are not of the channel whose unit was said; they are not read.", g.lines[0].text)
			continue
		}
		options, loose := g.build(l.style, func(k int) []Word { return l.wordsOf(g, k) })
		if len(options) == 0 {
			l.doubt(0.9, "Lines like %q are laid out in a way that was not understood; they are not read.", g.lines[0].text)
			continue
		}
		if loose {
			l.doubt(0.97, "In lines like %q the spaces vary in a way that nothing explains.", g.lines[0].text)
		}
		if l.style != nil && !signed(options) {
			l.doubt(0.94, "Lines like %q were seen with positive values only, and a minus has no place in them; with one they will be refused. Give more lines of them.", g.lines[0].text)
		}
		number++
		for i, o := range options {
			s := Shape{Name: fmt.Sprintf("reading %d", number), Means: "reading", Parts: o.parts}
			if i > 0 {
				s.Name += string(rune('a' + i - 1))
			}
			if c := &g.columns[g.main]; c.said {
				s.Unit = c.unit.symbol
			}
			s.Mark = l.markOf(g)
			p.Lines = append(p.Lines, s)
		}
	}
	if len(p.Lines) == 0 {
		return nil
	}
	for _, g := range l.groups {
		if g.main < 0 {
			p.Lines = append(p.Lines, l.withoutReading(g)...)
		}
	}
	if len(p.Lines) > mostShapes {
		l.doubt(0.5, "There are more than %d kinds of line; only so many are kept.", mostShapes)
		p.Lines = p.Lines[:mostShapes]
	}
	p.Tests = []LineTest{{Line: "", Refused: true}}
	if err := p.Check(); err != nil {
		l.doubt(0, "The lines do not make a pattern that can be used: %v.", err)
		return nil
	}
	p.Tests = l.tests(p)
	if err := p.Check(); err != nil {
		l.doubt(0, "The lines do not make a pattern that can be used: %v.", err)
		return nil
	}
	return p
}

// signed is true when some description of a kind of line takes a minus.
func signed(options []option) bool {
	for _, o := range options {
		for _, part := range o.parts {
			if part.Is == "number" && part.Channel == "" && part.Sign != "" {
				return true
			}
		}
	}
	return false
}

// silent is true of a kind of line of which no word of the channel may be read.
func (l *learner) silent(g *group) bool {
	for _, r := range l.carriers {
		if k := g.columnAt(r.place); r.channels != nil && k >= 0 && len(l.wordsOf(g, k)) == 0 {
			return true
		}
	}
	return false
}

// markOf is the mark that a kind of line says as a whole.
func (l *learner) markOf(g *group) string {
	for _, c := range l.carriers {
		switch {
		case c.marks == nil:
		case c.place.kind:
			return c.marks[g.key]
		case g.columnAt(c.place) < 0:
			return c.marks[""]
		}
	}
	return ""
}

// withoutReading describes the lines of a kind that gives no reading, each of its texts apart.
func (l *learner) withoutReading(g *group) []Shape {
	for k := range g.columns {
		switch c := &g.columns[k]; {
		case c.class == numberToken && c.decimals() > 0:
			return nil // it may be a reading that was not understood
		case c.class == dateToken && strings.Contains(c.words[0], ",") && strings.Contains(c.words[0], "."):
			l.doubt(0.9, "In lines like %q it is not known what points and commas part; they are not read. Let the instrument leave out marks of thousands.", g.lines[0].text)
			return nil
		}
	}
	byText := map[string]*group{}
	var kinds []*group
	for i, s := range g.lines {
		var words []string
		for k := range g.columns {
			if g.columns[k].class == wordToken {
				words = append(words, g.columns[k].pieces[i])
			}
		}
		key := strings.Join(words, "\x00")
		one := byText[key]
		if one == nil {
			if len(kinds) == mostDifferent {
				l.doubt(0.97, "Lines like %q differ too much from each other to be known; they are not read.", s.text)
				return nil
			}
			one = &group{key: g.key + key, main: -1, channel: -1}
			byText[key] = one
			kinds = append(kinds, one)
		}
		one.lines = append(one.lines, s)
	}
	var shapes []Shape
	for _, one := range kinds {
		one.fill()
		for k := range one.columns {
			if c := &one.columns[k]; c.class == numberToken && len(c.words) > 1 {
				c.role = digitsRole
			} else if c.class == numberToken {
				c.role = textRole
			}
		}
		options, _ := one.build(nil, func(k int) []Word { return l.wordsOf(one, k) })
		if len(options) == 0 {
			continue
		}
		means := l.meaningOf(one)
		s := Shape{Name: "without a reading: " + strings.TrimSpace(one.lines[0].body), Means: means, Parts: options[0].parts}
		s.Unchecked = l.check != nil && !one.lines[0].checked
		shapes = append(shapes, s)
	}
	return shapes
}

// meaningOf is what a person said of lines without a number; without that, what plain words say.
func (l *learner) meaningOf(g *group) string {
	state := ""
	for _, s := range g.lines {
		if s.said.state == "" {
			continue
		}
		if state != "" && state != s.said.state {
			l.doubt(0.9, "Lines like %q were said to be %s and %s.", g.lines[0].text, state, s.said.state)
			return "fault"
		}
		state = s.said.state
	}
	if state != "" {
		return state
	}
	for k := range g.columns {
		switch w := strings.ToLower(g.columns[k].words[0]); {
		case g.columns[k].class != wordToken:
		case w == "over" || w == "overload" || w == "ol":
			state = "overload"
		case w == "under" || w == "underload" || w == "ul":
			state = "underload"
		case w == "err" || w == "error" || w == "fault":
			state = "fault"
		default:
			continue
		}
		if state != "" {
			l.doubt(1, "Lines like %q are taken as %s by their word; nobody said so.", g.lines[0].text, state)
			return state
		}
	}
	l.doubt(1, "Lines like %q carry no number, and nobody said what they mean; they are read over.", g.lines[0].text)
	return "nothing"
}

const testsOfAKind = 3

// tests picks lines that show every kind of line, a minus, both marks and a line cut short.
func (l *learner) tests(p *Pattern) []LineTest {
	var tests []LineTest
	count := map[string]int{}
	have := map[string]bool{}
	for _, g := range l.groups {
		for _, s := range g.lines {
			v, err := p.Read([]byte(s.text))
			t := testOf(s.text, v, err)
			kind := g.key + "|" + t.Mark + t.State + t.Channel + fmt.Sprint(math.Signbit(v.Number), len(v.Text), t.Refused)
			if have[s.text] || count[kind] >= 1 || count[g.key] >= 2*testsOfAKind || len(tests) >= mostTests/4 {
				continue
			}
			if err != nil && t.Refused && g.main >= 0 {
				continue
			}
			have[s.text] = true
			count[kind]++
			count[g.key]++
			tests = append(tests, t)
		}
	}
	for _, t := range slices.Clone(tests) {
		if t.Reads == "" || len(t.Line) < 4 {
			continue
		}
		cut := t.Line[:len(t.Line)-1]
		if _, err := p.Read([]byte(cut)); err != nil {
			tests = append(tests, LineTest{Line: cut, Refused: true})
			break
		}
	}
	return tests
}

// generalDoubts says what the samples as a whole did not show.
func (l *learner) generalDoubts() {
	switch len(l.proofs) {
	case 0:
		l.doubt(0.7, "Nothing that was shown proves a reading. Put known weights on, or type what the display shows.")
	case 1:
		l.doubt(0.93, "Only one value was shown. Show two or more that differ.")
	}
	signs, thermometer := false, true
	for _, g := range l.groups {
		if g.main < 0 {
			continue
		}
		c := &g.columns[g.main]
		plus, minus := 0, 0
		for i := range g.lines {
			if u, ok := l.readingUnit(g, i); ok && u.kind == Mass {
				thermometer = false
			}
			if g.negative(i, g.main) {
				minus++
			} else {
				plus++
			}
			signs = signs || strings.Contains(g.segment(i, g.main), "+")
		}
		if minus > 0 {
			signs = true
		}
		if len(g.lines) >= 3 && plus == 0 && !l.minusShown(g) {
			l.doubt(0.6, "All lines like %q have a minus, which may be a separator. Show a positive value.", g.lines[0].text)
		}
		if next := g.main + 1; next < len(g.columns) && strings.HasPrefix(g.columns[next].words[0], "-") && g.lines[0].hard[next].from == g.lines[0].hard[g.main].to {
			l.doubt(0.8, "In lines like %q dashes touch the number, and one of them may be a minus.", g.lines[0].text)
		}
		if c.decimals() == 3 && !l.decimalProved(g) {
			mark := "point"
			if c.mark() == ',' {
				mark = "comma"
			}
			l.doubt(0.5, "The %s in %q may part thousands. Type what the display shows, or show a value below one.", mark, c.pieces[0])
		}
	}
	switch {
	case signs:
	case thermometer:
		l.doubt(0.99, "Only positive values were seen, so the minus sign's place is not known; a line with a minus will be refused.")
	default:
		l.doubt(0.93, "Only positive values were seen, so the minus sign's place is not known; a line with a minus will be refused. Tare a weight and lift it off.")
	}
	l.doubtDigits()
}

// doubtDigits says when numbers had the same number of digits everywhere. Each way to fill that fits is
// kept, so one number alone is read whatever it is; several side by side may be filled each in its way.
func (l *learner) doubtDigits() {
	same, several := true, false
	for _, g := range l.groups {
		if g.main < 0 {
			continue
		}
		c := &g.columns[g.main]
		filled := slices.ContainsFunc(c.words, func(w string) bool { return len(w) > 1 && w[0] == '0' && isDigit(w[1]) })
		same = same && sameLengths(c.words) && !filled
		alike := 0
		for _, key := range g.numberKeys() {
			if key == c.numberKey() {
				alike++
			}
		}
		several = several || alike > 1
	}
	if same {
		factor := 0.97
		if several {
			factor = 0.95
		}
		l.doubt(factor, "All numbers had the same number of digits, so it is not known how shorter and longer ones are filled. Show a small and a large weight.")
	}
}

// minusShown is true when a negative value was shown for a line of the group.
func (l *learner) minusShown(g *group) bool {
	return slices.ContainsFunc(g.lines, func(s *sample) bool { return s.said.number && s.said.value < 0 })
}

// decimalProved is true when a number of three digits behind its mark can't be a whole number with a
// mark of thousands: it begins with a lone zero, or what was shown says so.
func (l *learner) decimalProved(g *group) bool {
	c := &g.columns[g.main]
	for i, s := range g.lines {
		if strings.HasPrefix(c.pieces[i], "0") || told(s) && s.said.value != 0 && l.agrees(g, i, g.main) {
			return true
		}
	}
	for _, other := range l.groups {
		if other.main >= 0 && other != g && other.columns[other.main].mark() == c.mark() && (other.columns[other.main].decimals() != 3) {
			return true
		}
	}
	return false
}

const mostTried = 60 // lines that damage is tried on

// blindSpots tries damage on the lines and says which of it the pattern does not notice.
func blindSpots(p *Pattern, list []*sample) []string {
	var front, back, middle string
	tried := 0
	for _, s := range list {
		v, err := p.Read([]byte(s.text))
		if err != nil || v.State != Reading || tried == mostTried {
			continue
		}
		tried++
		differs := func(cut string) bool {
			w, err := p.Read([]byte(cut))
			return err == nil && w.State == Reading && (w.Number != v.Number || w.Kind != v.Kind)
		}
		if front == "" && isDigit(s.text[0]) && differs("1"+s.text) {
			front = s.text
		}
		if back == "" && isDigit(s.text[len(s.text)-1]) && differs(s.text+"1") {
			back = s.text
		}
		for n := 1; n < len(s.text); n++ {
			if front == "" && differs(s.text[n:]) {
				front = s.text[n:]
			}
			if back == "" && differs(s.text[:n]) {
				back = s.text[:n]
			}
			// A digit too many shows what a line with a larger number would lose unnoticed.
			if more := s.text[:n] + "1" + s.text[n:]; middle == "" && isDigit(s.text[n]) && differs(more) {
				middle = s.text
			}
			if middle == "" && differs(s.text[:n]+s.text[n+1:]) {
				middle = s.text[:n] + s.text[n+1:]
			}
		}
	}
	var said []string
	if front != "" {
		said = append(said, fmt.Sprintf("A line that lost its beginning can look whole, such as %q; only the line's end before it tells.", front))
	}
	if back != "" {
		said = append(said, fmt.Sprintf("A line that lost its end can look whole, such as %q.", back))
	}
	if middle != "" {
		said = append(said, fmt.Sprintf("A line that lost a character can look whole, such as %q.", middle))
	}
	if p.Checksum == nil {
		said = append(said, "The lines carry no check, so a digit that changed on its way can't be noticed.")
	}
	return said
}
