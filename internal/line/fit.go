package line

import "strings"

// signStyle is where an instrument puts its signs.
type signStyle struct {
	sign, plus string
	gap        int
}

// fitted is a number's part with the spaces around it.
type fitted struct {
	lead, trail int
	part        Part
	form        string // right, left or free
}

// fitNumber finds the descriptions that fit every segment (spaces, sign, digits, spaces) and read its
// sign as it stands. Several may fit when the samples did not vary enough; they read a number in the
// same way and differ in what else they take. Style is that of other lines, nil when it is not known.
func fitNumber(segments []string, part Part, style *signStyle) []fitted {
	st := statsOf(segments)
	if st.mixed {
		return nil
	}
	part.Zeros = st.zeros
	var fits []fitted
	for _, s := range st.styles(style) {
		if n := len(fits); n > 0 && (fits[n-1].part.Sign == s.sign || s.sign == "" && fits[0].part.Sign == "beside") {
			continue
		}
		for _, form := range []string{"right", "left", "free"} {
			if form != "free" && !st.sameLength {
				continue
			}
			if f, ok := st.fit(segments, part, s, form); ok {
				f.form = form
				fits = append(fits, f)
			}
		}
	}
	return fits
}

// stats is what a set of segments has in common.
type stats struct {
	minus, plus         bool // before the digits
	minusAfter, plusEnd bool // after them
	mixed               bool
	sameLength, zeros   bool
	length              int
	lead, trail         int // fewest spaces before sign or digits, and at the end
	gap                 int // fewest spaces between sign and digits
	whole               int // most digits before the decimal mark
}

func statsOf(segments []string) *stats {
	st := &stats{sameLength: true, length: len(segments[0]), lead: 1 << 20, trail: 1 << 20, gap: 1 << 20}
	for _, seg := range segments {
		st.sameLength = st.sameLength && len(seg) == st.length
		from := strings.IndexAny(seg, "0123456789")
		to := strings.LastIndexAny(seg, "0123456789") + 1
		if from < 0 {
			st.mixed = true
			return st
		}
		before, digits, after := seg[:from], seg[from:to], seg[to:]
		st.lead = min(st.lead, len(before)-len(strings.TrimLeft(before, " ")))
		st.trail = min(st.trail, len(after)-len(strings.TrimRight(after, " ")))
		switch sign := strings.TrimSpace(before); sign {
		case "-", "+":
			st.minus, st.plus = st.minus || sign == "-", st.plus || sign == "+"
			st.gap = min(st.gap, len(before)-strings.Index(before, sign)-1)
		case "":
		default:
			st.mixed = true
		}
		switch sign := strings.TrimSpace(after); sign {
		case "-", "+":
			st.minusAfter, st.plusEnd = st.minusAfter || sign == "-", st.plusEnd || sign == "+"
			st.gap = min(st.gap, strings.Index(after, sign))
		case "":
		default:
			st.mixed = true
		}
		whole := digits
		if i := strings.IndexAny(digits, ".,"); i >= 0 {
			whole = digits[:i]
		}
		st.whole = max(st.whole, len(whole))
		st.zeros = st.zeros || len(whole) > 1 && whole[0] == '0'
	}
	if (st.minus || st.plus) && (st.minusAfter || st.plusEnd) {
		st.mixed = true
	}
	if st.gap == 1<<20 {
		st.gap = 0
	}
	return st
}

// styles lists what the signs allow, the likeliest first.
func (st *stats) styles(known *signStyle) []signStyle {
	switch {
	case st.minusAfter || st.plusEnd:
		if st.plusEnd {
			return []signStyle{{"after", "+", st.gap}}
		}
		return []signStyle{{"after", " ", st.gap}, {"after", "", st.gap}}
	case st.plus:
		return []signStyle{{"beside", "+", st.gap}, {"first", "+", st.gap}}
	case st.minus:
		return []signStyle{{"beside", " ", st.gap}, {"beside", "", st.gap}, {"first", " ", st.gap}, {"first", "", st.gap}}
	case known != nil && known.sign != "":
		return []signStyle{*known, {}}
	}
	return []signStyle{{}}
}

// fit tries one style and one way to fill.
func (st *stats) fit(segments []string, part Part, s signStyle, form string) (fitted, bool) {
	part.Sign, part.Plus, part.Gap = s.sign, s.plus, s.gap
	part.Whole = mostDigits - part.Decimals
	if form == "free" {
		part.Whole = min(part.Whole, max(st.whole, 7))
		if part.Zeros {
			part.Whole = st.whole
		}
	}
	if form == "left" {
		part.Align = "left"
	}
	for lead := st.lead; lead >= max(0, st.lead-1-s.gap); lead-- {
		for trail := st.trail; trail >= max(0, st.trail-1-s.gap); trail-- {
			f := fitted{lead: lead, trail: trail, part: part}
			switch form {
			case "right":
				if s.sign == "first" {
					f.part.Width = st.length - lead - trail
				} else {
					f.lead, f.part.Width = 0, st.length-trail
				}
			case "left":
				f.trail, f.part.Width = 0, st.length-lead
			}
			if f.part.Width < 0 || form != "free" && f.part.Width == 0 {
				continue
			}
			if f.fitsAll(segments) {
				return f, true
			}
		}
	}
	return fitted{}, false
}

func (f *fitted) fitsAll(segments []string) bool {
	for _, seg := range segments {
		if blanks([]byte(seg)) < f.lead {
			return false
		}
		rest := []byte(seg[f.lead:])
		n, used, ok := number(&f.part, rest)
		if !ok || len(rest)-used != f.trail || blanks(rest[used:]) != f.trail || n.negative != strings.Contains(seg, "-") {
			return false
		}
	}
	return true
}
