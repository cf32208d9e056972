package picture

import (
	"wreath/internal/determination"
)

// Finding is what the sign beside the word of a finding shows.
type Finding string

// The findings. The first three are the words of determination.Finding.
const (
	Met         Finding = "met"
	NotMet      Finding = "not met"
	Undecided   Finding = "undecided"
	InDoubt     Finding = "undecided, weighing doubtful"
	Contradicts Finding = "undecided, evidence contradicts"
	Held        Finding = "held"
	NoneYet     Finding = "none yet"
)

// FindingOf reads the finding of an answer, nil for nothing weighed. A doubt that holds the finding
// back makes it doubtful, whatever the numbers alone would say.
func FindingOf(a *determination.Answer) Finding {
	switch {
	case a == nil || a.Finding == nil:
		return NoneYet
	case Doubtful(a):
		return InDoubt
	}
	switch f := Finding(a.Finding.Result); f {
	case Met, NotMet:
		return f
	}
	return Undecided
}

// Sign draws a finding as the interval against the limit: right of it, left of it, across it.
// It is 64 by 34 px.
func (l Language) Sign(f Finding) Picture {
	c := canvas{width: 64, in: l.Book}
	limit := 32.0
	bar := func(class string, from, to, y float64) { c.line("ink thick"+class, from, y, to, y) }
	title := "Finding: " + string(f) + "; the interval lies "
	switch f {
	case Met:
		limit = 16
		bar("", 24, 56, 17)
		title += "above the limit."
	case NotMet:
		limit = 48
		bar("", 8, 40, 17)
		title += "below the limit."
	case InDoubt:
		bar(" weak", 4, 60, 17)
		title = "Finding: undecided while the weighing is doubtful."
	case Contradicts:
		bar("", 4, 28, 9)
		bar("", 36, 60, 25)
		title = "Finding: undecided; the evidence contradicts itself."
	case Undecided:
		bar("", 10, 54, 17)
		title += "across the limit."
	default:
		c.line("soft", limit, 2, limit, 32)
		return c.finish("sign", "Finding: "+string(f)+".", 34)
	}
	if f == Undecided || f == InDoubt {
		c.line("gap", limit, 10, limit, 24)
	}
	c.line("ink limitline", limit, 2, limit, 32)
	return c.finish("sign", title, 34)
}
