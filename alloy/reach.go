package alloy

import "math"

// Band returns the least and the largest specific volume in cm³/g that the family's recipes have
// at a fineness; with outer, also the rare recipes. False outside the family's span.
func (f *Family) Band(fineness float64, outer bool) (low, high float64, ok bool) {
	t := f.table
	i, part, ok := t.place(fineness)
	if !ok {
		return 0, 0, false
	}
	low1, high1 := t.band(i, outer)
	low2, high2 := t.band(i+1, outer)
	return low1 + part*(low2-low1), high1 + part*(high2-high1), true
}

// Range returns the lowest and the highest fineness for which some recipe lies within k standard
// uncertainties of the observation, the model's among them. No weighting enters. It is cut at
// the family's span; false when no fineness of the span fits.
func (f *Family) Range(o Observation, k float64, outer bool) (low, high float64, ok bool) {
	if !o.valid() || !(k >= 0) {
		return 0, 0, false
	}
	l := shapeOf(o, f.ModelU)
	t := f.table
	// The model's uncertainty changes by less than a tenth over the reach of k, so rows farther
	// away than this need no closer look.
	near := 1.1 * k * math.Sqrt(l.variance(l.v))
	b := &t.bands[0]
	if outer {
		b = &t.bands[1]
	}
	first, last := b.overlap(l.v-near, l.v+near)
	first, last = max(first-1, 0), min(last+1, len(t.grid)-1)
	for i := first; i < last && !ok; i++ {
		if from, to := l.within(t, i, k, outer); from <= to {
			low, ok = t.grid[i]+from*(t.grid[i+1]-t.grid[i]), true
		}
	}
	if !ok {
		return 0, 0, false
	}
	for i := last - 1; ; i-- {
		if from, to := l.within(t, i, k, outer); from <= to {
			return low, t.grid[i] + to*(t.grid[i+1]-t.grid[i]), true
		}
	}
}

// within returns the part of the cell between rows i and i+1, from 0 to 1, where the observation
// lies within k standard uncertainties of the band; from > to when there is none.
func (l *likelihood) within(t *table, i int, k float64, outer bool) (from, to float64) {
	d1, l1 := l.misses(t, i, k, outer)
	d2, l2 := l.misses(t, i+1, k, outer)
	from, to = notPositive(d1, d2)
	from2, to2 := notPositive(l1, l2)
	return max(from, from2), min(to, to2)
}

// misses returns by how much the observation lies below the band of row i (too dense) and above
// it (too light), the band widened by k standard uncertainties. Not positive: it does not.
func (l *likelihood) misses(t *table, i int, k float64, outer bool) (tooDense, tooLight float64) {
	low, high := t.band(i, outer)
	return low - k*math.Sqrt(l.variance(low)) - l.v, l.v - high - k*math.Sqrt(l.variance(high))
}

// notPositive returns the part of 0 to 1 where the line from a to b is at most 0; from > to when
// there is none.
func notPositive(a, b float64) (from, to float64) {
	switch {
	case a <= 0 && b <= 0:
		return 0, 1
	case a <= 0:
		return 0, a / (a - b)
	case b <= 0:
		return a / (a - b), 1
	}
	return 1, 0
}

// Distance returns how many standard uncertainties the observation lies outside the band of a
// fineness, the model's among them: 0 inside, positive when the item is less dense than every
// recipe, negative when it is denser. False outside the family's span.
func (f *Family) Distance(o Observation, fineness float64, outer bool) (z float64, ok bool) {
	low, high, ok := f.Band(fineness, outer)
	if !ok || !o.valid() {
		return 0, false
	}
	l := shapeOf(o, f.ModelU)
	switch {
	case o.V > high:
		return (o.V - high) / math.Sqrt(l.variance(high)), true
	case o.V < low:
		return (o.V - low) / math.Sqrt(l.variance(low)), true
	}
	return 0, true
}

// Reach returns the least and the largest specific volume in cm³/g of all recipes at all
// finenesses of the family.
func (f *Family) Reach() (low, high float64) { return f.table.low, f.table.high }

// Slope returns |df/dln v| at a fineness for the recipe in the middle of the usual ones: how much
// fineness a relative change of density is worth. False outside the family's span, or where the
// density hardly depends on the fineness.
func (f *Family) Slope(fineness float64) (float64, bool) {
	t := f.table
	i, _, ok := t.place(fineness)
	if !ok {
		return 0, false
	}
	i, j := max(i-1, 0), min(i+2, len(t.grid)-1)
	middle := t.usual / 2
	a, b := float64(t.row(i)[middle]), float64(t.row(j)[middle])
	dlnv := math.Abs(math.Log(b / a))
	if dlnv < 1e-6 {
		return 0, false
	}
	return (t.grid[j] - t.grid[i]) / dlnv, true
}
