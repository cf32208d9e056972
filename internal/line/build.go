package line

import (
	"fmt"
	"slices"
)

// option is one description of a kind of line.
type option struct {
	parts []Part
}

const mostOptions = 8 // descriptions kept of one kind of line

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
func (g *group) between(k int, fills []int) (gaps []string, ok bool) {
	for i, s := range g.lines {
		from, to := 0, len(s.body)
		if k > 0 {
			_, from = g.bounds(i, k-1, fills)
			if g.isNumber(k-1) && g.isNumber(k) && from < len(s.body) && s.body[from] == '-' && from+1 < len(s.body) && s.body[from+1] == ' ' {
				from++ // the sign behind the number before
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

// describe tries one way of filling.
func (g *group) describe(fills []int, style *signStyle, words func(k int) []Word) (options []option, loose bool) {
	options = []option{{}}
	add := func(parts ...Part) {
		for i := range options {
			options[i].parts = append(slices.Clip(options[i].parts), parts...)
		}
	}
	for k := range len(g.columns) + 1 {
		gaps, ok := g.between(k, fills)
		if !ok {
			return nil, false
		}
		switch {
		case g.isNumber(k):
			segments := gaps
			last := !g.isNumber(k + 1)
			if last {
				behind, ok := g.between(k+1, fills)
				if !ok {
					return nil, false
				}
				for i := range segments {
					segments[i] += g.columns[k].pieces[i] + behind[i]
				}
			} else {
				for i := range segments {
					segments[i] += g.columns[k].pieces[i]
					s := g.lines[i]
					if at := s.hard[k].to; at+1 < len(s.body) && s.body[at] == '-' && s.body[at+1] == ' ' {
						segments[i] += "-"
					}
				}
			}
			fits := fitNumber(segments, g.columns[k].part(), style)
			if len(fits) == 0 {
				return nil, false
			}
			options = multiply(options, fits)
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
	for i := range options {
		options[i].parts = joinTexts(options[i].parts)
	}
	return options, loose
}

// part is the number that a column holds, without its spaces and signs.
func (c *columnInfo) part() Part {
	p := Part{Is: "other", Decimals: c.decimals(), Comma: c.mark() == ','}
	if c.role == readingRole {
		p.Is, p.Channel = "number", c.channel
	}
	return p
}

func multiply(options []option, fits []fitted) []option {
	var all []option
	for _, f := range fits {
		for _, o := range options {
			parts := slices.Clone(o.parts)
			if f.lead > 0 {
				parts = append(parts, Part{Is: "blank", Min: f.lead, Max: f.lead})
			}
			parts = append(parts, f.part)
			if f.trail > 0 {
				parts = append(parts, Part{Is: "blank", Min: f.trail, Max: f.trail})
			}
			all = append(all, option{parts})
		}
	}
	return all[:min(len(all), mostOptions)]
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
		if w := words(k); len(w) > 1 || w[0] != (Word{Word: c.words[0]}) {
			return Part{Is: "word", Words: w}, true // it says something in lines of another kind
		}
		return Part{Is: "text", Text: c.words[0]}, true
	case unitRole:
		part.Is, part.Before = "unit", c.unitOf > k
		return part, true
	case wordRole:
		part.Is, part.Words = "word", words(k)
		if fill == asIs && len(part.Words) == 1 && part.Words[0] == (Word{Word: c.words[0]}) {
			return Part{Is: "text", Text: c.words[0]}, true
		}
		return part, true
	case digitsRole:
		if c.class == dateToken || sameLengths(c.words) {
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
