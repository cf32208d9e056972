package line

import (
	"slices"
	"strconv"
	"strings"
)

// role is what a piece of a kind of line turned out to be.
type role int

const (
	textRole    role = iota // always the same
	wordRole                // one of a few words
	unitRole                // the unit of a number
	readingRole             // a number that is given as a value
	otherRole               // a number that is passed over
	digitsRole              // a date, a time, a counter
	unknownRole             // varies too much to be known
)

// columnInfo is one piece of a kind of line over all its lines.
type columnInfo struct {
	class   class
	role    role
	pieces  []string // one a line
	words   []string // the different pieces, sorted
	unitOf  int      // for unitRole: the number it belongs to
	channel string   // for readingRole: its own channel
	unit    unit     // for readingRole: unit said by a person, where no unit stands
	said    bool
	hits    int // lines whose number is what was said
	misses  int
}

// group is one kind of line.
type group struct {
	key     string
	lines   []*sample
	columns []columnInfo
	main    int // the reading, -1 when there is none
	proved  bool
	channel int // the column that names the channel, -1
}

const mostDifferent = 12 // words that a column may hold; more is text that is not known

// makeGroups splits the lines into kinds.
func makeGroups(list []*sample) []*group {
	byKey := map[string]*group{}
	var groups []*group
	for _, s := range list {
		key := skeleton(s.body, s.tokens)
		if !s.checked {
			key = "unchecked" + key
		}
		g := byKey[key]
		if g == nil {
			g = &group{key: key, main: -1, channel: -1}
			byKey[key] = g
			groups = append(groups, g)
		}
		s.hard = s.hard[:0]
		for _, t := range s.tokens {
			if t.class != blankToken && t.class != signToken {
				s.hard = append(s.hard, t)
			}
		}
		g.lines = append(g.lines, s)
	}
	for _, g := range groups {
		g.fill()
	}
	return groups
}

// fill collects the columns.
func (g *group) fill() {
	g.columns = make([]columnInfo, len(g.lines[0].hard))
	for k := range g.columns {
		c := &g.columns[k]
		c.class = g.lines[0].hard[k].class
		for _, s := range g.lines {
			c.pieces = append(c.pieces, s.piece(k))
		}
		c.words = slices.Clone(c.pieces)
		slices.Sort(c.words)
		c.words = slices.Compact(c.words)
		switch {
		case c.class == dateToken:
			c.role = digitsRole
		case c.class == numberToken && g.counts(k):
			c.role = digitsRole
		case c.class == numberToken && fewWholes(c, len(g.lines)) && !g.unitFollows(k):
			c.role = wordRole
		case c.class == numberToken:
			c.role = otherRole
		case len(c.words) == 1:
			c.role = textRole
		case len(c.words) <= mostDifferent:
			c.role = wordRole
		default:
			c.role = unknownRole
		}
	}
}

// counts is true of whole numbers that go up from line to line by no more than the lines between, but for
// starting anew.
func (g *group) counts(k int) bool {
	if len(g.lines) < 4 {
		return false
	}
	up, anew := 0, 0
	for i := 1; i < len(g.lines); i++ {
		a, errA := strconv.Atoi(g.columns[k].pieces[i-1])
		b, errB := strconv.Atoi(g.columns[k].pieces[i])
		if errA != nil || errB != nil {
			return false
		}
		switch gap := g.lines[i].index - g.lines[i-1].index; {
		case b < a:
			anew++
		case b > a && b <= a+gap:
			up++
		default:
			return false
		}
	}
	return up >= 3 && anew <= 1+up/8
}

func (g *group) unitFollows(k int) bool {
	if k+1 >= len(g.columns) {
		return false
	}
	for _, s := range g.lines {
		if s.hard[k+1].class != wordToken || !looksLikeUnit(s.piece(k+1)) ||
			k+2 < len(s.hard) && s.hard[k+2].class == numberToken {
			return false // no unit, or that of a number behind it
		}
	}
	return true
}

// fewWholes is true of short whole numbers of which few differ: the number of a channel, a flag.
func fewWholes(c *columnInfo, lines int) bool {
	for _, w := range c.words {
		if len(w) > 2 || strings.ContainsAny(w, ".,") {
			return false
		}
	}
	return len(c.words) <= 4 && (lines >= 4*len(c.words) || len(c.words) == 1)
}

// segment is the text between the piece before and the piece after a number: spaces, sign, digits.
func (g *group) segment(line, k int) string {
	s := g.lines[line]
	from, to := 0, len(s.body)
	if k > 0 {
		from = s.hard[k-1].to
	}
	if k+1 < len(s.hard) {
		to = s.hard[k+1].from
	}
	return s.body[from:to]
}

// negative is true when a minus stands beside the number, on either side.
func (g *group) negative(line, k int) bool {
	seg := g.segment(line, k)
	if k+1 < len(g.columns) && g.columns[k+1].class == numberToken {
		// the sign behind belongs to the next number unless it touches this one
		s := g.lines[line]
		at := s.hard[k].to
		if at < len(s.body) && s.body[at] == '-' && (at+1 == len(s.body) || s.body[at+1] == ' ') {
			return true
		}
		from := 0
		if k > 0 {
			from = s.hard[k-1].to
		}
		seg = s.body[from:s.hard[k].to]
	}
	return strings.Contains(seg, "-")
}

// value is the number of a line, as a decimal number whatever its mark.
func (g *group) value(line, k int) float64 {
	v := decimal([]byte(g.columns[k].pieces[line]))
	if g.negative(line, k) {
		v = -v
	}
	return v
}

// interval is one unit of the last digit.
func (c *columnInfo) interval() float64 {
	p := c.pieces[0]
	i := strings.IndexAny(p, ".,")
	if i < 0 {
		return 1
	}
	f := 1.0
	for range len(p) - 1 - i {
		f /= 10
	}
	return f
}

func (c *columnInfo) mark() byte {
	if i := strings.IndexAny(c.pieces[0], ".,"); i >= 0 {
		return c.pieces[0][i]
	}
	return 0
}

func (c *columnInfo) decimals() int {
	if i := strings.IndexAny(c.pieces[0], ".,"); i >= 0 {
		return len(c.pieces[0]) - 1 - i
	}
	return 0
}

// numbers lists the columns that may be a reading.
func (g *group) numbers() []int {
	var list []int
	for k := range g.columns {
		if r := g.columns[k].role; r == otherRole || r == readingRole {
			list = append(list, k)
		}
	}
	return list
}

// unitColumn finds the column of words that stands beside a number and looks like its unit.
func (g *group) unitColumn(k int) (at int, before, ok bool) {
	if n := k + 1; n < len(g.columns) && g.columns[n].class == wordToken && allUnits(g.columns[n].words) {
		return n, false, true
	}
	if n := k - 1; n >= 0 && g.columns[n].class == wordToken && allUnits(g.columns[n].words) && !g.columns[n].isCapital() {
		if n == 0 || g.columns[n-1].role != otherRole && g.columns[n-1].role != readingRole {
			return n, true, true
		}
	}
	// Net, tare and gross may share one unit behind the last of them.
	key := g.columns[k].numberKey()
	for n := k + 1; n < len(g.columns); n++ {
		c := &g.columns[n]
		switch {
		case c.class == numberToken && c.numberKey() == key, c.class == punctToken && len(c.words) == 1:
		case c.class == wordToken && allUnits(c.words) && g.columns[n-1].class == numberToken:
			u, ok := unitSaid(c.words[0])
			return n, false, !ok || u.kind == Mass
		default:
			return 0, false, false
		}
	}
	return 0, false, false
}

// isCapital is true of a single capital letter, which before a number is rather a mark than a unit.
func (c *columnInfo) isCapital() bool {
	for _, w := range c.words {
		if len(w) == 1 && w[0] >= 'A' && w[0] <= 'Z' {
			return true
		}
	}
	return false
}

func allUnits(words []string) bool {
	for _, w := range words {
		if !looksLikeUnit(w) {
			return false
		}
	}
	return true
}
