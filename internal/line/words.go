package line

import "slices"

// wordsOf lists the words of a column with what they say.
func (l *learner) wordsOf(g *group, k int) []Word {
	c := &g.columns[k]
	var list []Word
	have := map[string]bool{}
	p := place{at: -1}
	if g.main >= 0 {
		p = g.placeOf(k)
	}
	add := func(w string) {
		if have[w] || w == "" {
			return
		}
		have[w] = true
		word := Word{Word: w}
		for _, r := range l.carriers {
			if r.place == p {
				// The unit that a person said is that of the reading, not that of another channel.
				if l.main != "" && r.channels != nil && g.columns[g.main].said && w != l.main {
					return
				}
				word.Mark, word.Channel = r.marks[w], r.channels[w]
			}
		}
		list = append(list, word)
	}
	for _, w := range c.words {
		add(w)
	}
	if c.class == wordToken && g.main >= 0 {
		for _, r := range l.carriers {
			if r.place != p || r.marks == nil {
				continue
			}
			for _, w := range sortedMarks(r.marks) {
				if wordLength([]byte(w)) == len(w) {
					add(w)
				}
			}
		}
	}
	for i := range list {
		list[i].State = l.stateOf(g, k, list[i].Word)
	}
	return list
}

func sortedMarks(m map[string]string) []string {
	var words []string
	for w := range m {
		words = append(words, w)
	}
	slices.Sort(words)
	return words
}

// stateOf is the state that a person said of every line with a word, "" when there is none.
func (l *learner) stateOf(g *group, k int, word string) string {
	if len(g.columns[k].words) < 2 {
		return ""
	}
	state := ""
	for i, s := range g.lines {
		if g.columns[k].pieces[i] != word {
			continue
		}
		if s.said.state == "" || state != "" && s.said.state != state {
			return ""
		}
		state = s.said.state
	}
	return state
}
