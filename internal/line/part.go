package line

import "slices"

// partGroups parts kinds of line that can't be described as one: a word may bring its own spaces.
func (l *learner) partGroups() {
	var groups []*group
	for _, g := range l.groups {
		groups = append(groups, g.parted()...)
	}
	l.groups = groups
}

// parted returns the group, or one group for each word of a column when only those can be described.
func (g *group) parted() []*group {
	bare := func(h *group) func(k int) []Word {
		return func(k int) []Word {
			var list []Word
			for _, w := range h.columns[k].words {
				list = append(list, Word{Word: w})
			}
			return list
		}
	}
	if g.main < 0 {
		return []*group{g}
	}
	if options, loose := g.build(nil, bare(g)); len(options) > 0 && !loose {
		return []*group{g}
	}
	for k := range g.columns {
		if g.columns[k].role != wordRole && g.columns[k].role != unitRole || len(g.columns[k].words) < 2 {
			continue
		}
		var parts []*group
		fine := true
		for _, w := range g.columns[k].words {
			part := g.only(k, w)
			options, loose := part.build(nil, bare(part))
			fine = fine && len(options) > 0 && !loose
			parts = append(parts, part)
		}
		if fine {
			return parts
		}
	}
	return []*group{g}
}

// only is the group of the lines that have a word in a column.
func (g *group) only(k int, word string) *group {
	part := *g
	part.key += "\x00" + word
	part.lines, part.columns = nil, slices.Clone(g.columns)
	for j := range part.columns {
		part.columns[j].pieces = nil
	}
	for i, s := range g.lines {
		if g.columns[k].pieces[i] != word {
			continue
		}
		part.lines = append(part.lines, s)
		for j := range part.columns {
			part.columns[j].pieces = append(part.columns[j].pieces, g.columns[j].pieces[i])
		}
	}
	for j := range part.columns {
		c := &part.columns[j]
		c.words = slices.Clone(c.pieces)
		slices.Sort(c.words)
		c.words = slices.Compact(c.words)
		if c.role == wordRole && len(c.words) == 1 {
			c.role = textRole
		}
	}
	return &part
}
