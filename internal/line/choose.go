package line

import (
	"math"
	"slices"
	"strings"
)

// agrees compares a number of a line with what was said of it.
func (l *learner) agrees(g *group, i, k int) bool {
	told := g.lines[i].said
	c := &g.columns[k]
	v, interval, scale := g.value(i, k), c.interval(), 1.0
	if told.hasUnit {
		scale = told.unit.scale
		if at, _, ok := g.unitColumn(k); ok {
			if u, ok := unitSaid(g.columns[at].pieces[i]); ok && u != told.unit {
				if u.kind != told.unit.kind {
					return false
				}
				v = (v*u.scale + u.offset - told.unit.offset) / told.unit.scale
				interval *= u.scale / told.unit.scale
			}
		}
	} else if at, _, ok := g.unitColumn(k); ok {
		if u, ok := unitSaid(g.columns[at].pieces[i]); ok {
			scale = u.scale
		}
	} else if l.hasUnit {
		scale = l.unit.scale
	}
	return near(v, told.value, l.tolerance(told, interval, scale))
}

// told is true of a line whose number was said and may be expected to agree.
func told(s *sample) bool { return s.said.number && (s.settled == nil || *s.settled) }

// prove finds the number of a group that is what was shown.
func (l *learner) prove(g *group) {
	n := 0
	for _, s := range g.lines {
		if told(s) {
			n++
		}
	}
	if n == 0 {
		return
	}
	best, ties := l.closest(g, otherRole)
	for _, r := range []role{wordRole, digitsRole} { // what looked like a flag or a counter may be the reading
		if best < 0 {
			best, ties = l.closest(g, r)
		}
	}
	if best < 0 {
		if len(g.numberKeys()) > 0 {
			l.doubt(0.8, "Lines like %q were shown other values than any of their numbers. Check what was typed, and whether the unit is right.", g.lines[0].text)
		}
		return
	}
	c := &g.columns[best]
	if c.misses > 0 {
		if w := l.split(g, best); w >= 0 {
			g.channel = w
		} else if c.hits < 4*c.misses {
			l.doubt(0.8, "Lines like %q were shown other values than any of their numbers. Check what was typed, and whether the unit is right.", g.lines[0].text)
			return
		} else {
			l.doubt(0.9, "%d of %d lines differ from what was shown. Check what was typed.", c.misses, n)
		}
	}
	if len(ties) > 1 {
		if free := l.alike(g, ties); free != "" {
			l.doubt(0.5, "%s agree with what was shown in every line (%q). Set a tare, so that net and gross differ.", free, g.lines[0].text)
		}
	}
	g.main, g.proved = best, true
	c.role = readingRole
	for i, s := range g.lines {
		if told(s) && s.said.value != 0 && l.agrees(g, i, best) {
			l.proofs[s.said.value] = true
		}
	}
}

// closest finds the numbers of one role that agree most often with what was shown.
func (l *learner) closest(g *group, r role) (best int, ties []int) {
	best = -1
	for k := range g.columns {
		c := &g.columns[k]
		if c.class != numberToken || c.role != r {
			continue
		}
		for i, s := range g.lines {
			switch {
			case !told(s):
			case l.agrees(g, i, k):
				c.hits++
			default:
				c.misses++
			}
		}
		switch {
		case c.hits == 0:
		case best < 0 || c.hits > g.columns[best].hits:
			best, ties = k, []int{k}
		case c.hits == g.columns[best].hits:
			ties = append(ties, k)
		}
	}
	return best, ties
}

// alike says which numbers of a group can't be told from the reading; "" when the units tell them.
func (l *learner) alike(g *group, ties []int) string {
	same := 0
	for _, k := range ties[1:] {
		if slices.Equal(g.columns[k].pieces, g.columns[ties[0]].pieces) {
			same++
		}
	}
	if same == len(ties)-1 {
		return "Two or more numbers are always equal and"
	}
	return "Two or more numbers"
}

// split finds a column of words that tells the lines which agree with what was shown from those
// which do not: net and tare, or two instruments on one line.
func (l *learner) split(g *group, k int) int {
	for w := range g.columns {
		c := &g.columns[w]
		if c.role != wordRole || w == k {
			continue
		}
		hit, miss := map[string]bool{}, map[string]bool{}
		for i, s := range g.lines {
			if !told(s) {
				continue
			}
			if l.agrees(g, i, k) {
				hit[c.pieces[i]] = true
			} else {
				miss[c.pieces[i]] = true
			}
		}
		pure := len(hit) == 1
		for word := range miss {
			pure = pure && !hit[word]
		}
		if pure {
			return w
		}
	}
	return -1
}

// numberKeys lists how the numbers of a group are written: "4." for four digits behind a point.
func (g *group) numberKeys() []string {
	var keys []string
	for k := range g.columns {
		if c := &g.columns[k]; c.class == numberToken && c.role != digitsRole && c.role != wordRole {
			keys = append(keys, c.numberKey())
		}
	}
	return keys
}

func (c *columnInfo) numberKey() string {
	return string(rune('0'+min(c.decimals(), 40))) + string(rune(max(c.mark(), '_')))
}

// ordinal is the place of a column among the numbers of its group.
func (g *group) ordinal(at int) int {
	n := 0
	for k := range at {
		if c := &g.columns[k]; c.class == numberToken && c.role != digitsRole && c.role != wordRole {
			n++
		}
	}
	return n
}

// plainWords are the words of a group that are no units.
func (g *group) plainWords() map[string]bool {
	words := map[string]bool{}
	for k := range g.columns {
		if c := &g.columns[k]; c.class == wordToken && !allUnits(c.words) {
			for _, w := range c.words {
				words[w] = true
			}
		}
	}
	return words
}

// adopt gives a group of which nothing was shown the reading of its like, or of its unit.
func (l *learner) adopt(g *group) {
	if slices.ContainsFunc(g.lines, func(s *sample) bool { return told(s) || s.said.state != "" }) {
		return // it was held against what was shown, and failed
	}
	keys, words := g.numberKeys(), g.plainWords()
	if len(keys) == 0 {
		return
	}
	anyProved := false
	for _, other := range l.groups {
		if !other.proved {
			continue
		}
		anyProved = true
		if !slices.Equal(other.numberKeys(), keys) || !overlap(words, other.plainWords()) {
			continue
		}
		at := other.ordinal(other.main)
		for k := range g.columns {
			if c := &g.columns[k]; c.role == otherRole && g.ordinal(k) == at && l.sameUnit(g, k, other) {
				g.main = k
				c.role = readingRole
				return
			}
		}
	}
	// A thermometer is told by its unit; a mass without proof only where nothing was shown at all.
	numbers := g.numbers()
	for _, k := range numbers {
		at, _, ok := g.unitColumn(k)
		if !ok || g.columns[k].decimals() == 0 {
			continue
		}
		u, ok := unitSaid(g.columns[at].words[0])
		if ok && (u.kind == Temperature || !anyProved) && len(numbers) == 1 {
			g.main = k
			g.columns[k].role = readingRole
			return
		}
	}
	for _, k := range numbers {
		if at, _, ok := g.unitColumn(k); ok {
			if why, other := otherWords[g.columns[at].words[0]]; other {
				l.doubt(0.7, "The unit %q %s. Set the instrument to grams, or say the unit.", g.columns[at].words[0], why)
			}
		}
	}
	if slices.ContainsFunc(numbers, func(k int) bool { return g.columns[k].decimals() > 0 }) {
		l.doubt(0.93, "It is not known which number of lines like %q is the reading; they are not read. Type what the display shows for some of them.", g.lines[0].text)
	}
}

// sameUnit is true when a number has the unit of a proved reading, or none, or another known mass.
func (l *learner) sameUnit(g *group, k int, other *group) bool {
	at, _, ok := g.unitColumn(k)
	if !ok {
		return true
	}
	u, known := unitSaid(g.columns[at].words[0])
	oat, _, ok := other.unitColumn(other.main)
	if !ok {
		return !known || !l.hasUnit || u.kind == l.unit.kind
	}
	if slices.Equal(g.columns[at].words, other.columns[oat].words) {
		return true
	}
	v, otherKnown := unitSaid(other.columns[oat].words[0])
	return known && otherKnown && u.kind == v.kind
}

// overlap is true of two sets that share a word, or of which one is empty.
func overlap(a, b map[string]bool) bool {
	if len(a) == 0 || len(b) == 0 {
		return true
	}
	for w := range a {
		if b[w] {
			return true
		}
	}
	return false
}

// unitsOfReadings finds the unit of every reading, and the temperatures beside it.
func (l *learner) unitsOfReadings() {
	several := map[string]bool{}
	var bare []*group
	for _, g := range l.groups {
		if g.main < 0 {
			continue
		}
		for _, k := range g.numbers() {
			at, _, ok := g.unitColumn(k)
			if k == g.main {
				if !ok {
					bare = append(bare, g)
					continue
				}
				l.learnUnitWords(g, at, k)
				for _, w := range g.columns[at].words {
					if u, ok := unitSaid(w); !ok || u.kind == Mass {
						several[w] = true
					}
				}
				g.columns[at].role, g.columns[at].unitOf = unitRole, k
				continue
			}
			if !ok || g.columns[at].role == unitRole {
				continue
			}
			if u, ok := unitSaid(g.columns[at].words[0]); ok && len(g.columns[at].words) == 1 && u.kind == Temperature {
				g.columns[at].role, g.columns[at].unitOf = unitRole, k
				g.columns[k].role, g.columns[k].channel = readingRole, "temperature"
			}
		}
	}
	for _, g := range bare {
		l.bareUnit(g, several)
	}
}

// learnUnitWords notes what a unit word of this instrument means, when a person said it and it is not
// one of the usual ones.
func (l *learner) learnUnitWords(g *group, at, k int) {
	for _, w := range g.columns[at].words {
		if _, ok := usualWords[w]; ok || slices.ContainsFunc(l.units, func(u UnitWord) bool { return u.Word == w }) {
			continue
		}
		if l.hasUnit && len(g.columns[at].words) == 1 {
			l.units = append(l.units, UnitWord{w, l.unit.symbol})
			continue
		}
		l.doubt(0.7, "The unit %q %s. Set the instrument to grams, or say the unit.", w, otherWords[w])
	}
}

// bareUnit settles the unit of lines that name none.
func (l *learner) bareUnit(g *group, named map[string]bool) {
	c := &g.columns[g.main]
	switch {
	case !l.hasUnit:
		l.doubt(0.7, "Lines like %q name no unit, and nobody said it. Say the unit, or let the instrument send it.", g.lines[0].text)
		g.main = -1
		c.role = otherRole
	case len(named) > 1:
		l.doubt(0.7, "Lines like %q name no unit while others come in several (%s); they are not read. Let the instrument always send its unit.",
			g.lines[0].text, strings.Join(sortedKeys(named), ", "))
		g.main = -1
		c.role = otherRole
	default:
		c.unit, c.said = l.unit, true
		l.doubt(1, "Lines like %q name no unit; they are taken in %s because a person said so. If the instrument is set to another unit, nothing in such a line tells.",
			g.lines[0].text, l.unit.symbol)
	}
}

func sortedKeys(m map[string]bool) []string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// readingUnit is the unit of a line's reading.
func (l *learner) readingUnit(g *group, i int) (unit, bool) {
	if g.columns[g.main].said {
		return g.columns[g.main].unit, true
	}
	at, _, ok := g.unitColumn(g.main)
	if !ok {
		return unit{}, false
	}
	w := g.columns[at].pieces[i]
	for _, u := range l.units {
		if u.Word == w {
			return unitNamed(u.Unit)
		}
	}
	return unitSaid(w)
}

// grams is the reading of a line in its base unit.
func (l *learner) grams(g *group, i int) float64 {
	u, ok := l.readingUnit(g, i)
	if !ok {
		return math.NaN()
	}
	return g.value(i, g.main)*u.scale + u.offset
}
