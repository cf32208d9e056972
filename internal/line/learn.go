package line

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Sample is one line that was seen while a pattern is learned.
type Sample struct {
	Line    []byte // as a Framer gives it; damaged lines are left out by the caller
	Seconds float64
	// Shown is what a person says of this line: the number on the display ("12.3456 g", "12,35"), the
	// weight that was put on ("100 g"), or "overload", "underload", "fault". Empty when nothing was said.
	Shown string
	// Settled is what the display's own sign of rest showed; nil when nothing was said.
	Settled *bool
}

// LearnOptions says what the person who teaches knows beforehand. The zero value knows nothing.
type LearnOptions struct {
	Name    string  // stored in the pattern
	Framing Framing // how the samples were cut; stored in the pattern. The zero value stands for lines that end in CR, LF or both
	Request string  // what was sent to get the lines; stored in the pattern
	EveryS  float64 // seconds between two requests; stored in the pattern
	// ToleranceG is by how much a number may differ from what was shown, in grams (kelvins for a thermometer);
	// half of the last digit shown is added. 0 stands for five of the line's last digit (chosen here).
	ToleranceG float64
	// Unit is the unit that a person says the lines are in when they name none; "" when nobody says. A unit
	// beside what was shown says it as well.
	Unit string
}

// Learned is what came of learning.
type Learned struct {
	// Pattern is nil when no number could be read with reason; Doubts then say why.
	Pattern *Pattern
	// Certainty is the estimated probability that a further line is read as it is meant, 0 to 1. It is the
	// share of lines that were read rightly when they were held back (with Laplace's rule of succession), less
	// something for each doubt (chosen here; the tests count how often a sure pattern is wrong).
	Certainty float64
	// Doubts says what the samples did not show, each with what would show it. Most important first.
	Doubts []string
	// Blind says what no pattern could notice on lines of this kind, such as a changed digit where there is
	// no check. It does not lower Certainty.
	Blind []string
	// Used is how many samples were usable, Read how many of them give a reading, HeldOut how many of those were
	// read in the same way by a pattern that had not seen them.
	Used, Read, HeldOut int
}

// SureAt is the certainty from which a pattern counts as sure.
const SureAt = 0.95

// Sure is true of a pattern that can be used without a further look.
func (l *Learned) Sure() bool { return l.Pattern != nil && l.Certainty >= SureAt }

// mostSamples bounds the work of Learn.
const mostSamples = 5000

// Learn infers a pattern from samples in the order in which they came. The error says what is wrong
// with the samples as a whole (none, too many, something shown that is no number); what could not
// be told is in Doubts.
func Learn(samples []Sample, o LearnOptions) (*Learned, error) {
	if o.Framing == (Framing{}) {
		o.Framing = Framing{End: "any"}
	}
	if err := o.Framing.Check(); err != nil {
		return nil, err
	}
	if o.Unit != "" {
		if _, ok := unitSaid(o.Unit); !ok {
			return nil, fmt.Errorf("the unit %q is not known; units known: %s", o.Unit, unitSymbols())
		}
	}
	switch {
	case len(samples) == 0:
		return nil, errors.New("there are no lines to learn from; put a weight on and let the instrument send")
	case len(samples) > mostSamples:
		return nil, fmt.Errorf("%d lines are too many to learn from; give at most %d", len(samples), mostSamples)
	}
	longest := o.Framing.Longest
	if longest == 0 {
		longest = usualLongest
	}
	list, err := readSamples(samples, 2*longest)
	if err != nil {
		return nil, err
	}
	if len(list) == 0 {
		return nil, errors.New("no line is readable text; check the speed, data bits and parity of the connection")
	}
	l := newLearner(list, o)
	p := l.learn()
	learned := &Learned{Pattern: p, Used: len(list)}
	if p == nil {
		learned.Doubts = l.words()
		return learned, nil
	}
	l.holdOut(p, learned)
	learned.Certainty *= l.factor()
	learned.Doubts = l.words()
	learned.Blind = blindSpots(p, list)
	return learned, nil
}

// doubt is what the samples did not show, with what it takes off the certainty.
type doubt struct {
	factor float64
	text   string
}

// learner holds what is known while a pattern is learned.
type learner struct {
	o        LearnOptions
	list     []*sample
	groups   []*group
	check    *Checksum
	style    *signStyle
	unit     unit // said by a person
	hasUnit  bool
	units    []UnitWord
	main     string
	carriers []carrier
	doubts   []doubt
	proofs   map[float64]bool // different values, not zero, that were shown and read
}

func newLearner(list []*sample, o LearnOptions) *learner {
	return &learner{o: o, list: list, proofs: map[float64]bool{}}
}

func (l *learner) doubt(factor float64, format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	if !slices.ContainsFunc(l.doubts, func(d doubt) bool { return d.text == text }) {
		l.doubts = append(l.doubts, doubt{factor, text})
	}
}

func (l *learner) factor() float64 {
	f := 1.0
	for _, d := range l.doubts {
		f *= d.factor
	}
	return f
}

// words lists the doubts, the heaviest first.
func (l *learner) words() []string {
	slices.SortStableFunc(l.doubts, func(a, b doubt) int {
		switch {
		case a.factor < b.factor:
			return -1
		case a.factor > b.factor:
			return 1
		}
		return 0
	})
	var list []string
	for _, d := range l.doubts {
		list = append(list, d.text)
	}
	return list
}

// learn goes from lines to a pattern; nil when there is none.
func (l *learner) learn() *Pattern {
	l.saidUnit()
	l.check = findChecksum(l.list)
	var usable []*sample
	for _, s := range l.list {
		if l.check != nil {
			body, ok := l.check.strip([]byte(s.text))
			s.checked = ok
			s.body = s.text
			if ok {
				s.body = string(body)
			}
		}
		var ok bool
		if s.tokens, ok = tokenize(s.body); ok && (s.checked || !strings.ContainsAny(s.body, "0123456789")) {
			usable = append(usable, s)
		}
	}
	if len(usable) == 0 {
		l.doubt(0, "No line could be split into words and numbers.")
		return nil
	}
	l.groups = makeGroups(usable)
	if l.separators() {
		l.groups = makeGroups(usable)
	}
	for _, g := range l.groups {
		l.prove(g)
	}
	for _, g := range l.groups {
		if g.main < 0 {
			l.adopt(g)
		}
	}
	if !slices.ContainsFunc(l.groups, func(g *group) bool { return g.main >= 0 }) {
		l.doubt(0, "No number could be told to be the reading. Put known weights on, or type what the display shows, for several lines.")
		return nil
	}
	l.unitsOfReadings()
	l.partGroups()
	l.carry()
	l.findStyle()
	p := l.assemble()
	l.generalDoubts()
	return p
}

// saidUnit finds the one unit that a person said.
func (l *learner) saidUnit() {
	if u, ok := unitSaid(l.o.Unit); ok {
		l.unit, l.hasUnit = u, true
		return
	}
	for _, s := range l.list {
		if !s.said.hasUnit {
			continue
		}
		if l.hasUnit && l.unit != s.said.unit {
			l.hasUnit = false
			return
		}
		l.unit, l.hasUnit = s.said.unit, true
	}
}

// separators finds a minus that stands before the number of every line and is a separator, because
// what was shown was positive. It reports whether anything changed.
func (l *learner) separators() bool {
	changed := false
	for _, g := range l.groups {
		for k := range g.columns {
			if k == 0 || g.columns[k].class != numberToken {
				continue
			}
			positive, negative, all := 0, 0, true
			for i, s := range g.lines {
				seg := g.segment(i, k)
				all = all && len(seg) > 0 && seg[0] == '-'
				if !s.said.number || s.said.value == 0 {
					continue
				}
				v := decimal([]byte(g.columns[k].pieces[i]))
				interval := g.columns[k].interval()
				switch tol := l.tolerance(s.said, interval, 1); {
				case near(v, s.said.value, tol):
					positive++
				case near(-v, s.said.value, tol):
					negative++
				}
			}
			if !all || positive == 0 || negative > 0 {
				continue
			}
			for _, s := range g.lines {
				for i := range s.tokens {
					if s.tokens[i].from == s.hard[k-1].to && s.tokens[i].class == signToken {
						s.tokens[i].class = punctToken
						changed = true
					}
				}
			}
		}
	}
	return changed
}

func near(a, b, tolerance float64) bool { return a-b <= tolerance && b-a <= tolerance }

// holdOut learns three times from two thirds of the lines and reads the others.
func (l *learner) holdOut(p *Pattern, learned *Learned) {
	const folds = 3
	wrong := ""
	for fold := range folds {
		var train []*sample
		for i, s := range l.list {
			if i%folds != fold {
				c := *s
				c.tokens, c.hard = nil, nil
				train = append(train, &c)
			}
		}
		var q *Pattern
		if len(train) > 0 {
			q = newLearner(train, l.o).learn()
		}
		for i, s := range l.list {
			if i%folds != fold {
				continue
			}
			v, err := p.Read([]byte(s.text))
			if err != nil || v.State != Reading {
				continue
			}
			learned.Read++
			if q == nil {
				continue
			}
			w, err := q.Read([]byte(s.text))
			if err != nil {
				continue
			}
			if v.Number != w.Number || v.Kind != w.Kind || v.State != w.State || v.Mark != w.Mark && v.Mark != Unsaid && w.Mark != Unsaid {
				wrong = s.text
				continue
			}
			learned.HeldOut++
		}
	}
	learned.Certainty = float64(learned.HeldOut+1) / float64(learned.Read+2)
	if wrong != "" {
		l.doubt(0.5, "The line %q is read otherwise when it is not among the samples. Give more lines with other weights.", wrong)
	}
	if learned.Certainty < SureAt {
		l.doubt(1, "Only %d of %d readings were read rightly by a pattern that had not seen them. Give more lines: different weights, empty, tared and lifted, moving and still.",
			learned.HeldOut, learned.Read)
	}
}
