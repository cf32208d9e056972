package picture

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"wreath/gem"
)

// named is how many fitting bands the sentence names; the table names all.
const named = 6

// Sentence is the density scale in words: what was measured, in which bands it lies, the claim,
// and what else fits.
func Sentence(s Subject) string {
	m, weighed := s.reading()
	return s.In.Say(inWords(m, weighed, s.claim(), s.lanes()))
}

func inWords(m measured, weighed bool, c claimed, lanes []lane) string {
	if !weighed {
		words := "Nothing is weighed yet."
		if c.words() != "" {
			words += " The claim is " + c.words() + "."
		}
		return words
	}
	var all []band
	for _, l := range lanes {
		for _, b := range l.bands {
			if b.fits || b.claimed {
				all = append(all, b)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b band) int {
		if a.claimed != b.claimed {
			return map[bool]int{true: -1, false: 1}[a.claimed]
		}
		return cmp.Compare(a.z, b.z)
	})
	value, expanded := printed(m.rho, m.expanded)
	var out strings.Builder
	fmt.Fprintf(&out, "Measured %s plus or minus %s grams per cubic centimetre.", value, expanded)
	if m.open {
		out.WriteString(" The weighing sets no upper end.")
	}
	if m.doubtful {
		out.WriteString(" The weighing is doubtful.")
	}
	var inside, beside, missed []string
	more := 0
	for _, b := range all {
		words := b.name
		if b.claimed {
			words += ", the claim,"
		}
		if b.claimed || b.fits {
			words += " " + between(b.low, b.high)
		}
		switch {
		case b.fits && len(inside)+len(beside) >= named:
			more++
		case b.fits && b.distance() == "inside":
			inside = append(inside, words)
		case b.fits:
			beside = append(beside, fmt.Sprintf("%s (%.1f standard uncertainties away)", words, b.z))
		case b.claimed:
			side := "above"
			if m.rho < b.low {
				side = "below"
			}
			missed = append(missed, fmt.Sprintf("The density lies %s standard uncertainties %s %s.", strings.TrimSuffix(b.distance(), " u"), side, words))
		}
	}
	// Of a claim without a family, only the nearest of its bands is told, and only if none fits.
	if len(missed) > 0 && !slices.ContainsFunc(all, func(b band) bool { return b.claimed && b.fits }) {
		out.WriteString(" " + missed[0])
	}
	if len(inside) > 0 {
		out.WriteString(" Inside " + list(inside) + ".")
	}
	if len(beside) > 0 {
		out.WriteString(" Fits " + list(beside) + ".")
	}
	switch {
	case more == 1:
		out.WriteString(" One more fits.")
	case more > 1:
		fmt.Fprintf(&out, " %d more fit.", more)
	case len(inside)+len(beside) == 0:
		out.WriteString(" Nothing in the tables fits.")
	default:
		out.WriteString(" Nothing else in the tables fits.")
	}
	return out.String()
}

// words is the claim in words, empty where there is none.
func (c claimed) words() string {
	if c.stone != "" {
		if s, ok := gem.ByKey(c.stone); ok {
			return s.FullName()
		}
		return c.stone
	}
	words := c.metal
	if c.fineness > 0 {
		words += " " + ppt(1000*c.fineness)
	}
	return strings.TrimSpace(words)
}

// Row is one line of the picture as a table.
type Row struct {
	Family   string // or what kind of thing it is
	Band     string
	Range    string // g/cm³
	Distance string // "inside", or standard uncertainties, the model's among them
	Fits     bool
	Claimed  bool
}

// Table is the density scale as rows, the nearest first: the claim, whatever fits, and what lies
// within so many standard uncertainties.
func Table(s Subject, within float64) []Row {
	_, weighed := s.reading()
	var all []band
	for _, l := range s.lanes() {
		for _, b := range l.bands {
			if b.fits || b.claimed || !weighed || b.z <= within {
				all = append(all, b)
			}
		}
	}
	if weighed {
		slices.SortStableFunc(all, func(a, b band) int { return cmp.Compare(a.z, b.z) })
	} else {
		slices.SortStableFunc(all, func(a, b band) int { return cmp.Compare(a.low, b.low) })
	}
	rows := make([]Row, 0, len(all))
	for _, b := range all {
		r := Row{Family: s.In.Say(b.family), Band: s.In.Say(b.name), Range: s.In.Say(between(b.low, b.high)), Fits: b.fits, Claimed: b.claimed}
		if weighed {
			r.Distance = s.In.Say(b.distance())
		}
		rows = append(rows, r)
	}
	return rows
}
