package line

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
)

// option is one description of a kind of line.
type option struct {
	parts []Part
}

// fills are the ways in which spaces may stand beside a word of a column.
const (
	asIs = iota
	fillBehind
	fillBefore
)

// build describes a group part by part. Several options read the same and differ in how spaces may
// fill. Loose is true when spaces varied in a way that nothing explains.
func (g *group) build(style *signStyle, words func(k int) []Word) (options []option, loose bool) {
	var varying []int
	for k := range g.columns {
		if c := &g.columns[k]; (c.role == wordRole || c.role == unitRole) && !sameLengths(c.words) {
			varying = append(varying, k)
		}
	}
	if len(varying) > 4 {
		return nil, false
	}
	fills := make([]int, len(g.columns))
	var bestLoose []option
	for code := range power(3, len(varying)) {
		for _, k := range varying {
			fills[k] = code % 3
			code /= 3
		}
		options, loose := g.describe(fills, style, words)
		if len(options) == 0 {
			continue
		}
		if !loose {
			return options, false
		}
		if bestLoose == nil {
			bestLoose = options
		}
	}
	return bestLoose, bestLoose != nil
}

func power(base, n int) int {
	p := 1
	for range n {
		p *= base
	}
	return p
}

func sameLengths(words []string) bool {
	for _, w := range words {
		if len(w) != len(words[0]) {
			return false
		}
	}
	return true
}

func longest(words []string) int {
	n := 0
	for _, w := range words {
		n = max(n, len(w))
	}
	return n
}

// bounds is where a column begins and ends in a line, its spaces included.
func (g *group) bounds(line, k int, fills []int) (from, to int) {
	t := g.lines[line].hard[k]
	width := longest(g.columns[k].words)
	switch fills[k] {
	case fillBehind:
		return t.from, t.from + width
	case fillBefore:
		return t.to - width, t.to
	}
	return t.from, t.to
}

func (g *group) isNumber(k int) bool {
	return k >= 0 && k < len(g.columns) && (g.columns[k].role == readingRole || g.columns[k].role == otherRole)
}

// between cuts the text between two columns, or false when a column reaches into it.
func (g *group) between(k int, fills []int, split []int) (gaps []string, ok bool) {
	for i, s := range g.lines {
		from, to := 0, len(s.body)
		if k > 0 && k < len(g.columns) && split[k-1] != 0 {
			from = g.signStart(i, k, split[k-1])
		} else if k > 0 {
			_, from = g.bounds(i, k-1, fills)
			if g.isNumber(k-1) && g.isNumber(k) {
				from += g.signBehind(k - 1)
			}
		}
		if k < len(g.columns) {
			to, _ = g.bounds(i, k, fills)
		}
		if from < 0 || to > len(s.body) || from > to {
			return nil, false
		}
		gaps = append(gaps, s.body[from:to])
	}
	// A column's own fill must be spaces.
	if k < len(g.columns) && fills[k] != asIs {
		for i, s := range g.lines {
			from, to := g.bounds(i, k, fills)
			if from < 0 || to > len(s.body) || trimmed(s.body[from:to]) != g.columns[k].pieces[i] {
				return nil, false
			}
		}
	}
	return gaps, true
}

func trimmed(s string) string {
	for len(s) > 0 && s[0] == ' ' {
		s = s[1:]
	}
	for len(s) > 0 && s[len(s)-1] == ' ' {
		s = s[:len(s)-1]
	}
	return s
}

// leftSplit tells whether a number that stands before another fills its column to the right: from its
// start to the start of the next number, its sign included, is always as far, and from one number to
// the next is not. The sign of the next number may be a space: then it is splitSpace.
func (g *group) leftSplit(k int, fills, split []int) int {
	if !g.isNumber(k) || !g.isNumber(k+1) {
		return 0
	}
	for _, how := range []int{splitSign, splitSpace} {
		wholes, gaps := map[int]bool{}, map[int]bool{}
		for i, s := range g.lines {
			from := 0
			if k > 0 {
				_, from = g.bounds(i, k-1, fills)
				if split[k-1] != 0 {
					from = g.signStart(i, k, split[k-1])
				}
			}
			wholes[g.signStart(i, k+1, how)-from] = true
			gaps[s.hard[k+1].to-s.hard[k].to] = true
		}
		if len(wholes) == 1 && len(gaps) > 1 {
			return how
		}
	}
	return 0
}

const (
	splitSign  = 1 // the next number begins with its sign or its digits
	splitSpace = 2 // the next number begins with its sign or a space
)

// signBehind is 1 when a sign, or the space that stands for one, touches the digits of a number from behind.
func (g *group) signBehind(k int) int {
	seen := false
	for _, s := range g.lines {
		at := s.hard[k].to
		if at+1 >= len(s.body) || isDigit(s.body[at+1]) || strings.IndexByte("-+ ", s.body[at]) < 0 {
			return 0
		}
		seen = seen || s.body[at] != ' '
	}
	if !seen {
		return 0
	}
	return 1
}

// signStart is where a number begins with its sign.
func (g *group) signStart(line, k, how int) int {
	s := g.lines[line]
	for i, t := range s.tokens {
		if t == s.hard[k] {
			for j := i - 1; j >= 0 && j >= i-2 && s.tokens[j].class != numberToken; j-- {
				if s.tokens[j].class == signToken && (j == i-1 || s.tokens[j+1].class == blankToken) && (j == 0 || s.tokens[j-1].class != numberToken) {
					return s.tokens[j].from
				}
			}
		}
	}
	if from := s.hard[k].from; how == splitSpace && from > 0 && s.body[from-1] == ' ' {
		return from - 1
	}
	return s.hard[k].from
}

// describe tries one way of filling.
func (g *group) describe(fills []int, style *signStyle, words func(k int) []Word) (options []option, loose bool) {
	options = make([]option, len(profiles))
	split := make([]int, len(g.columns))
	for k := range split {
		split[k] = g.leftSplit(k, fills, split)
	}
	add := func(parts ...Part) {
		for i := range options {
			options[i].parts = append(slices.Clip(options[i].parts), parts...)
		}
	}
	for k := range len(g.columns) + 1 {
		gaps, ok := g.between(k, fills, split)
		if !ok {
			return nil, false
		}
		switch {
		case g.isNumber(k):
			segments := gaps
			last := !g.isNumber(k + 1)
			if split[k] != 0 {
				for i, s := range g.lines {
					segments[i] += s.body[s.hard[k].from:g.signStart(i, k+1, split[k])]
				}
			} else if last {
				behind, ok := g.between(k+1, fills, split)
				if !ok {
					return nil, false
				}
				for i := range segments {
					segments[i] += g.columns[k].pieces[i] + behind[i]
				}
			} else {
				for i := range segments {
					segments[i] += g.columns[k].pieces[i]
					at := g.lines[i].hard[k].to
					segments[i] += g.lines[i].body[at : at+g.signBehind(k)]
				}
			}
			fits := fitNumber(segments, g.columns[k].part(), style)
			if len(fits) == 0 {
				return nil, false
			}
			for i, p := range profiles {
				options[i].parts = append(options[i].parts, p.choose(fits).parts()...)
			}
			continue
		case g.isNumber(k - 1): // the number took the gap
		default:
			part, varies, ok := gapPart(gaps)
			if !ok {
				return nil, false
			}
			loose = loose || varies
			if part.Is != "" {
				add(part)
			}
		}
		if k == len(g.columns) {
			break
		}
		part, ok := g.columnPart(k, fills[k], words)
		if !ok {
			return nil, false
		}
		add(part)
	}
	var different []option
	for i := range options {
		parts := joinTexts(options[i].parts)
		if !slices.ContainsFunc(different, func(o option) bool { return reflect.DeepEqual(o.parts, parts) }) {
			different = append(different, option{parts})
		}
	}
	return different, loose
}

// part is the number that a column holds, without its spaces and signs.
func (c *columnInfo) part() Part {
	p := Part{Is: "other", Decimals: c.decimals(), Comma: c.mark() == ','}
	if c.role == readingRole {
		p.Is, p.Channel = "number", c.channel
	}
	return p
}

// profile is one way in which all numbers of a line may be filled; where the samples did not vary
// enough to tell, each way that fits is kept.
type profile struct {
	form string
	sign string
}

var profiles = []profile{{"right", "beside"}, {"left", "beside"}, {"free", "beside"}, {"right", "first"}, {"left", "first"}, {"free", "first"}}

// choose takes the fit that is nearest to the profile.
func (p profile) choose(fits []fitted) *fitted {
	best, most := &fits[0], -1
	for i := range fits {
		likeness := 0
		if fits[i].form == p.form {
			likeness += 2
		}
		// Where a sign stands first, a number without one in the samples may begin before it.
		if sign := fits[i].part.Sign; sign == p.sign || sign == "" && p.sign == "beside" {
			likeness++
		}
		if likeness > most {
			best, most = &fits[i], likeness
		}
	}
	return best
}

func (f *fitted) parts() []Part {
	var parts []Part
	if f.lead > 0 {
		parts = append(parts, Part{Is: "blank", Min: f.lead, Max: f.lead})
	}
	parts = append(parts, f.part)
	if f.trail > 0 {
		parts = append(parts, Part{Is: "blank", Min: f.trail, Max: f.trail})
	}
	return parts
}

// gapPart describes what stands between two columns that are no numbers.
func gapPart(gaps []string) (part Part, varies, ok bool) {
	least, most := 1<<20, 0
	for _, gap := range gaps {
		if gap != gaps[0] && (trimmed(gap) != "" || trimmed(gaps[0]) != "") {
			return part, false, false
		}
		least, most = min(least, len(gap)), max(most, len(gap))
	}
	switch {
	case most == 0:
		return part, false, true
	case least == most:
		return Part{Is: "text", Text: gaps[0]}, false, true
	}
	return Part{Is: "blank", Min: least, Max: most}, true, true
}

// columnPart describes a column that is no number.
func (g *group) columnPart(k, fill int, words func(k int) []Word) (Part, bool) {
	c := &g.columns[k]
	part := Part{}
	switch fill {
	case fillBehind:
		part.Width = longest(c.words)
	case fillBefore:
		part.Width, part.Align = longest(c.words), "right"
	}
	switch c.role {
	case textRole:
		if w := words(k); len(w) == 0 {
			return part, false
		} else if len(w) > 1 || w[0] != (Word{Word: c.words[0]}) {
			return Part{Is: "word", Words: w}, true // it says something in lines of another kind
		}
		return Part{Is: "text", Text: c.words[0]}, true
	case unitRole:
		part.Is, part.Before = "unit", c.unitOf > k
		return part, true
	case wordRole:
		if part.Is, part.Words = "word", words(k); len(part.Words) == 0 {
			return part, false
		}
		if fill == asIs && len(part.Words) == 1 && part.Words[0] == (Word{Word: c.words[0]}) {
			return Part{Is: "text", Text: c.words[0]}, true
		}
		return part, true
	case digitsRole:
		filled := slices.ContainsFunc(c.words, func(w string) bool { return len(w) > 1 && w[0] == '0' })
		if c.class == dateToken || filled && sameLengths(c.words) {
			part.Is, part.Text = "digits", digitShape(c.words[0])
			return part, true
		}
		return Part{Is: "digits", Min: 1, Max: 12}, true
	}
	return part, false
}

// joinTexts makes one text of neighbouring texts and fixed spaces.
func joinTexts(parts []Part) []Part {
	var joined []Part
	for _, p := range parts {
		n := len(joined)
		if n > 0 && p.Is == "text" && joined[n-1].Is == "text" {
			joined[n-1].Text += p.Text
			continue
		}
		joined = append(joined, p)
	}
	return joined
}

// say names a part for an error.
func (part *Part) say() string {
	switch part.Is {
	case "text":
		return fmt.Sprintf("the text %q", part.Text)
	case "blank":
		return "space"
	case "word":
		return "one of the known words (" + fmt.Sprintf("%q and %d more", part.Words[0].Word, len(part.Words)-1) + ")"
	case "digits":
		return "a date, a time or a counter"
	case "unit":
		return "a unit"
	}
	mark := "point"
	if part.Comma {
		mark = "comma"
	}
	if part.Decimals == 0 {
		return "a whole number"
	}
	return fmt.Sprintf("a number with %d digits behind a decimal %s", part.Decimals, mark)
}
