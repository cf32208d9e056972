package picture

import (
	"math"
	"slices"
)

// Window is the part of the density scale that is shown, in g/cm³.
type Window struct{ Low, High float64 }

const (
	leastWindow   = 0.2  // g/cm³
	wideInterval  = 0.1  // share of the window from which the interval needs no close-up
	closeInterval = 20.0 // width of the close-up in expanded uncertainties
)

// window holds the interval, the claim's band, whatever fits, and the nearest band on each side;
// at least 12 u wide and at most the whole scale.
func window(m measured, weighed bool, lanes []lane) Window {
	low, high := math.Inf(1), math.Inf(-1)
	take := func(a, b float64) { low, high = math.Min(low, a), math.Max(high, b) }
	if weighed {
		take(m.low, m.high)
		take(m.rho-6*m.u, m.rho+6*m.u)
		for _, v := range m.beside {
			take(v, v)
		}
	}
	for _, l := range lanes {
		for _, b := range l.bands {
			switch {
			case b.claimed:
				take(b.low, b.high)
			case b.fits:
				at := math.Min(math.Max(m.rho, b.low), b.high) // the point of it that is nearest
				take(at, at)
			}
		}
	}
	if !weighed && math.IsInf(low, 0) {
		for _, l := range lanes {
			for _, b := range l.bands {
				take(b.low, b.high)
			}
		}
		if math.IsInf(low, 0) {
			return Window{lightest, densest}
		}
	}
	centre := m.rho
	if !weighed {
		centre = (low + high) / 2
	}
	left, right := neighbours(centre, lanes)
	if left != nil {
		take(left.inner())
	}
	if right != nil {
		take(right.inner())
	}
	// Of what fits, the usual recipes are shown whole where that costs little.
	if spare := 0.15 * (high - low); weighed {
		from, to := low-spare, high+spare
		for _, l := range lanes {
			for i := range l.bands {
				b := &l.bands[i]
				if !b.fits || b.kind != ofAlloy {
					continue
				}
				if b.usualLow >= from {
					low = math.Min(low, b.usualLow)
				}
				if b.usualHigh <= to {
					high = math.Max(high, b.usualHigh)
				}
			}
		}
	}
	return roundedOut(low, high, m.rho, weighed)
}

// inner is the range of the usual recipes, or the whole where there are no others.
func (b *band) inner() (low, high float64) {
	if b.kind == ofAlloy {
		return b.usualLow, b.usualHigh
	}
	return b.low, b.high
}

// neighbours are the nearest bands below and above a density, within the lane of the claim or else
// in that of the nearest alloy or stone.
func neighbours(at float64, lanes []lane) (left, right *band) {
	best, bestRank := -1, math.Inf(1)
	for i, l := range lanes {
		for _, b := range l.bands {
			rank := b.z
			switch {
			case b.claimed:
				rank = -1
			case b.kind == lookalike || b.kind == matched:
				rank += 1000
			}
			if rank < bestRank {
				best, bestRank = i, rank
			}
		}
	}
	if best < 0 {
		return nil, nil
	}
	leftEnd, rightEnd := math.Inf(-1), math.Inf(1)
	for i := range lanes[best].bands {
		b := &lanes[best].bands[i]
		low, high := b.inner()
		if b.claimed {
			continue
		}
		if high < at && high > leftEnd {
			left, leftEnd = b, high
		}
		if low > at && low < rightEnd {
			right, rightEnd = b, low
		}
	}
	return left, right
}

// roundedOut gives a window air at its sides and round ends.
func roundedOut(low, high, rho float64, weighed bool) Window {
	air := 0.04 * (high - low)
	if short := leastWindow - (high - low); short > 0 {
		air = math.Max(air, short/2)
	}
	least, most := lightest, densest
	if weighed {
		// A light item is shown even where the scale does not begin yet.
		least = math.Min(least, math.Floor(math.Max(rho, 0.01)*2)/2)
		most = math.Max(most, math.Ceil(rho+0.1))
	}
	low = math.Max(least, math.Floor((low-air)*10+1e-9)/10)
	high = math.Min(most, math.Ceil((high+air)*10-1e-9)/10)
	if !(high-low >= leastWindow) { // against an end of the scale
		low, high = math.Max(least, math.Min(low, most-leastWindow)), math.Min(most, math.Max(high, least+leastWindow))
	}
	return Window{low, high}
}

// CloseWindow is the window of the close-up; false where the interval is so wide that the picture
// needs none, and where nothing is weighed.
func (s Subject) CloseWindow() (Window, bool) {
	m, weighed := s.reading()
	if !weighed {
		return Window{}, false
	}
	return closeWindow(m, window(m, weighed, s.lanes()))
}

func closeWindow(m measured, w Window) (Window, bool) {
	half := closeInterval / 2 * m.expanded
	if m.open || 2*m.expanded > wideInterval*(w.High-w.Low) || 2*half >= w.High-w.Low {
		return Window{}, false
	}
	return Window{m.rho - half, m.rho + half}, true
}

// of are the bands of a lane that a window shows, the claim first, then what fits.
func (w Window) of(bands []band) []band {
	var out []band
	for _, b := range bands {
		low, high := b.low, b.high
		if b.kind == ofAlloy && !b.fits && !b.claimed {
			// A sliver at the edge that does not fit says nothing.
			low = (b.usualLow + b.usualHigh) / 2
			high = low
		}
		if low <= w.High && high >= w.Low {
			out = append(out, b)
		}
	}
	out = w.few(out)
	rank := func(b band) int {
		switch {
		case b.claimed && b.fits:
			return 0
		case b.claimed:
			return 1
		case b.fits:
			return 2
		}
		return 3
	}
	slices.SortStableFunc(out, func(a, b band) int {
		if ra, rb := rank(a), rank(b); ra != rb {
			return ra - rb
		}
		switch {
		case a.low < b.low:
			return -1
		case a.low > b.low:
			return 1
		}
		return 0
	})
	return out
}

// few leaves out what says little: in a lane where some alloy fits and none is claimed, of those
// that do not fit only the nearest on each side stays.
func (w Window) few(bands []band) []band {
	fits := slices.ContainsFunc(bands, func(b band) bool { return b.kind == ofAlloy && b.fits })
	if !fits || slices.ContainsFunc(bands, func(b band) bool { return b.claimed }) {
		return bands
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, b := range bands {
		if b.fits {
			low, high = math.Min(low, b.usualLow), math.Max(high, b.usualHigh)
		}
	}
	below, above := -1, -1
	for i, b := range bands {
		switch {
		case b.fits:
		case b.usualLow < low && (below < 0 || b.z < bands[below].z):
			below = i
		case b.usualLow >= low && b.usualHigh > high && (above < 0 || b.z < bands[above].z):
			above = i
		}
	}
	var out []band
	for i, b := range bands {
		if b.fits || i == below || i == above {
			out = append(out, b)
		}
	}
	return out
}
