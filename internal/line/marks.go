package line

import (
	"cmp"
	"math"
	"slices"
	"strings"
)

// place names a column across kinds of line: counted from the left before the reading, or from the
// reading to the right without units. The kind of line itself is a place too.
type place struct {
	right bool
	at    int
	kind  bool
}

// carrier is a place whose words say something.
type carrier struct {
	place    place
	marks    map[string]string // word to settled or moving; "" is the absent word
	channels map[string]string
	plain    bool // its words differ and say nothing that is known
}

// entry is one reading in the order of the stream.
type entry struct {
	g        *group
	i        int
	s        *sample
	value    float64
	interval float64
	kind     Kind
	channel  string
	moved    float64 // change since the line before of the same channel, in last digits; -1 when unknown
}

// placeOf names a column of a group that has a reading.
func (g *group) placeOf(k int) place {
	if k < g.main {
		return place{at: k}
	}
	n := 0
	for j := g.main + 1; j <= k; j++ {
		if g.columns[j].role != unitRole {
			n++
		}
	}
	return place{right: true, at: n}
}

// columnAt finds the column at a place; -1 when the group has none.
func (g *group) columnAt(p place) int {
	for k := range g.columns {
		if k == g.main {
			continue
		}
		if r := g.columns[k].role; (r == textRole || r == wordRole) && g.placeOf(k) == p {
			return k
		}
	}
	return -1
}

func (e *entry) word(p place) string {
	if p.kind {
		return e.g.key
	}
	k := e.g.columnAt(p)
	if k < 0 {
		return ""
	}
	return e.g.columns[k].pieces[e.i]
}

// entries lists all readings.
func (l *learner) entries() []entry {
	var list []entry
	for _, g := range l.groups {
		if g.main < 0 {
			continue
		}
		for i, s := range g.lines {
			u, ok := l.readingUnit(g, i)
			if !ok {
				continue
			}
			list = append(list, entry{g: g, i: i, s: s, value: l.grams(g, i), kind: u.kind,
				interval: g.columns[g.main].interval() * u.scale, moved: -1})
		}
	}
	slices.SortFunc(list, func(a, b entry) int { return cmp.Compare(a.s.index, b.s.index) })
	return list
}

// carry finds which words name channels and which are marks of rest.
func (l *learner) carry() {
	list := l.entries()
	var places []place
	for _, g := range l.groups {
		if g.main < 0 {
			continue
		}
		for k := range g.columns {
			if p := g.placeOf(k); k != g.main && g.columnAt(p) == k && !slices.Contains(places, p) {
				places = append(places, p)
			}
		}
	}
	slices.SortFunc(places, func(a, b place) int {
		if a.right != b.right {
			if a.right {
				return 1
			}
			return -1
		}
		return a.at - b.at
	})
	words := map[place][]string{}
	for _, p := range append(slices.Clone(places), place{kind: true}) {
		var w []string
		for i := range list {
			w = append(w, list[i].word(p))
		}
		slices.Sort(w)
		words[p] = slices.Compact(w)
	}
	places = slices.DeleteFunc(places, func(p place) bool { return len(words[p]) < 2 })
	channel, found := l.channels(list, places, words)
	if found {
		places = slices.DeleteFunc(places, func(p place) bool { return p == channel })
	}
	var mass []entry
	thermometer := !slices.ContainsFunc(list, func(e entry) bool { return e.kind == Mass })
	last := map[string]*entry{}
	for i := range list {
		e := &list[i]
		if e.kind != Mass && !thermometer {
			continue
		}
		if found {
			e.channel = e.word(channel)
		}
		if before := last[e.channel]; before != nil {
			e.moved = math.Abs(e.value-before.value) / e.interval
		}
		last[e.channel] = e
		if !found || l.main == "" || e.channel == l.main {
			mass = append(mass, *e)
		}
	}
	l.alternation(mass)
	marked, ok := l.marks(mass, append(slices.Clone(places), place{kind: true}), words)
	if ok {
		places = slices.DeleteFunc(places, func(p place) bool { return p == marked })
	}
	for _, p := range places {
		if !l.variesWithin(p) {
			continue
		}
		l.carriers = append(l.carriers, carrier{place: p, plain: true})
		l.doubt(0.9, "It is not known what %s mean; they are read over. Say for more lines what the display shows, and whether its sign of rest is on.", quoteAll(words[p]))
	}
	if !ok {
		l.noMark(mass)
	}
}

// alternation notices values that jump to and fro line by line, as those of two instruments do.
func (l *learner) alternation(list []entry) {
	jumps := 0
	for i := 2; i < len(list); i++ {
		a, b, c := list[i-2].value, list[i-1].value, list[i].value
		least := math.Min(math.Abs(b-a), math.Abs(c-b))
		if least > 5*math.Abs(c-a) && least > 5*list[i].interval {
			jumps++
		}
	}
	if len(list) > 5 && jumps*4 > len(list) {
		l.doubt(0.6, "The values jump to and fro from line to line as if two instruments spoke, and nothing in the lines tells them apart. Let one of them be silent.")
	}
}

func quoteAll(words []string) string {
	var list []string
	for _, w := range words {
		if w != "" {
			list = append(list, `"`+w+`"`)
		}
	}
	return strings.Join(list, ", ")
}

// variesWithin is true of a place that holds several words in one kind of line.
func (l *learner) variesWithin(p place) bool {
	return slices.ContainsFunc(l.groups, func(g *group) bool {
		if g.main < 0 {
			return false
		}
		k := g.columnAt(p)
		return k >= 0 && len(g.columns[k].words) > 1
	})
}

// channels finds the place that names the channel.
func (l *learner) channels(list []entry, places []place, words map[place][]string) (place, bool) {
	take := func(p place) {
		c := carrier{place: p, channels: map[string]string{}}
		for _, w := range words[p] {
			if w != "" {
				c.channels[w] = w
			}
		}
		l.carriers = append(l.carriers, c)
	}
	// Words that part the lines that agree with what was shown from those that do not.
	for _, g := range l.groups {
		if g.main < 0 || g.channel < 0 {
			continue
		}
		p := g.placeOf(g.channel)
		for i, s := range g.lines {
			if told(s) && l.agrees(g, i, g.main) {
				l.main = g.columns[g.channel].pieces[i]
			}
		}
		take(p)
		return p, true
	}
	for _, p := range places {
		if len(words[p]) > 8 || slices.Contains(words[p], "") {
			continue
		}
		if kinds := kindsOf(list, p); kinds != nil {
			for w, k := range kinds {
				if k == Mass {
					l.main = w
				}
			}
			take(p)
			return p, true
		}
	}
	for _, p := range places {
		if len(words[p]) > 4 || slices.Contains(words[p], "") || !interleaved(list, p) {
			continue
		}
		shown := map[string]bool{}
		for i := range list {
			if e := &list[i]; told(e.s) {
				shown[e.word(p)] = true
			}
		}
		if len(shown) == 1 {
			l.main = sortedKeys(shown)[0]
		} else {
			l.doubt(1, "The lines come from several channels (%s), and nothing says which of them is meant; choose one.", quoteAll(words[p]))
		}
		take(p)
		return p, true
	}
	return place{}, false
}

// kindsOf gives the kind of every word at a place, or nil when they do not part masses from temperatures.
func kindsOf(list []entry, p place) map[string]Kind {
	kinds := map[string]Kind{}
	different, mass := false, 0
	for i := range list {
		w := list[i].word(p)
		k, seen := kinds[w]
		if seen && k != list[i].kind {
			return nil
		}
		if !seen && list[i].kind == Mass {
			mass++
		}
		kinds[w] = list[i].kind
		different = different || list[i].kind != list[0].kind
	}
	if !different || mass != 1 {
		return nil
	}
	return kinds
}

// interleaved is true when the words at a place alternate and each has a value of its own: two
// instruments on one line.
func interleaved(list []entry, p place) bool {
	last := map[string]float64{}
	var within, across []float64
	for i := range list {
		e := &list[i]
		w := e.word(p)
		if v, ok := last[w]; ok {
			within = append(within, math.Abs(e.value-v)/e.interval)
		}
		if i > 0 && list[i-1].word(p) != w {
			across = append(across, math.Abs(e.value-list[i-1].value)/e.interval)
		}
		last[w] = e.value
	}
	if len(across) < 5 || len(across)*10 < 3*len(list) || len(within) < 4 {
		return false
	}
	return middle(across) > 5*(middle(within)+1)
}

func middle(x []float64) float64 {
	slices.Sort(x)
	return x[len(x)/2]
}

// marks finds the place whose words say that the value stands or moves.
func (l *learner) marks(list []entry, places []place, words map[place][]string) (place, bool) {
	var best carrier
	most := 0
	quiet := quietness(list)
	byMovement := func(list []entry, p place, w string) string { return movement(list, p, w, quiet) }
	for _, judge := range []func([]entry, place, string) string{flagged, byMovement} {
		for _, p := range places {
			if len(words[p]) < 2 || len(words[p]) > mostDifferent {
				continue
			}
			c := carrier{place: p, marks: map[string]string{}}
			count := map[string]int{}
			for _, w := range words[p] {
				if m := judge(list, p, w); m != "" {
					c.marks[w] = m
					count[m]++
				}
			}
			if count["settled"] == 0 || count["moving"] == 0 {
				continue
			}
			said := 0
			for i := range list {
				if c.marks[list[i].word(p)] != "" {
					said++
				}
			}
			if said > most {
				best, most = c, said
			}
		}
		if most > 0 {
			break
		}
	}
	if most == 0 {
		return place{}, false
	}
	for _, w := range words[best.place] {
		if best.marks[w] == "" && w != "" && !best.place.kind && l.variesWithin(best.place) {
			l.doubt(0.9, "It is not known whether %q means settled or moving. Give more lines with it.", w)
		}
	}
	l.carriers = append(l.carriers, best)
	return best.place, true
}

const fewestMarks = 4 // lines on which a mark must have been seen before it is believed

// flagged goes by what a person said of the display's sign of rest.
func flagged(list []entry, p place, w string) string {
	settled, moving := 0, 0
	for i := range list {
		if e := &list[i]; e.s.settled != nil && e.word(p) == w {
			if *e.s.settled {
				settled++
			} else {
				moving++
			}
		}
	}
	switch {
	case settled >= fewestMarks && moving*20 <= settled:
		return "settled"
	case moving >= fewestMarks && settled*20 <= moving:
		return "moving"
	}
	return ""
}

// movement goes by what the numbers did: lines that say "moving" follow a change, lines that say
// "settled" hardly ever do.
func movement(list []entry, p place, w string, quiet float64) string {
	still, moved := 0, 0
	for i := range list {
		if e := &list[i]; e.moved >= 0 && e.word(p) == w {
			if e.moved > quiet {
				moved++
			} else {
				still++
			}
		}
	}
	switch n := still + moved; {
	case n < 8:
	case moved*10 <= n:
		return "settled"
	case moved*2 >= n:
		return "moving"
	}
	return ""
}

// quietness is the change, in last digits, below which a line counts as still: three times the
// lower quartile of all changes, and three digits.
func quietness(list []entry) float64 {
	var changes []float64
	for i := range list {
		if list[i].moved >= 0 {
			changes = append(changes, list[i].moved)
		}
	}
	if len(changes) == 0 {
		return 3
	}
	slices.Sort(changes)
	return 3 + 3*changes[len(changes)/4]
}

// noMark says why no mark of rest is known.
func (l *learner) noMark(list []entry) {
	moving := 0
	for i := range list {
		e := &list[i]
		if e.s.settled != nil && !*e.s.settled || i+1 < len(list) && e.moved > 3 && list[i+1].moved > 3 {
			moving++
		}
	}
	if moving < 3 {
		l.doubt(0.93, "No moving line was seen, so it is not known how the instrument marks one. Lift a weight and put it back while lines are taken.")
	}
}
