package alloy

import (
	"math"
	"strconv"
)

// Weighting is a distribution of fineness that a probability refers to. Each is a sum of flat and
// exponential pieces, so its answers are read off the flat posterior.
type Weighting struct {
	Name   string // printed beside every probability
	pieces []piece
}

// piece is flat on low to high, or with a scale exponential, falling downwards from high.
type piece struct {
	weight, low, high float64
	scale             float64 // 0: flat
}

// Figures of the weightings, in fineness (chosen here; edition 1).
const (
	lowestFineness = 0.300 // of the flat and of the exponential part
	overFineness   = 0.005 // alloys are made a little finer than the standard
	shortfall      = 0.020 // scale of what an under-caratted alloy lacks
)

// Neutral weights every fineness equally.
func Neutral() Weighting {
	return Weighting{"neutral", []piece{{1, lowestFineness, 1, 0}}}
}

// Trade gives 0.90 to the standards, each with up to 5 ppt over-fineness, and 0.10 to any
// fineness. It answers "which standard fits best", never whether a limit is kept. Standards are
// finenesses from 0 to 1.
func Trade(standards []float64) Weighting {
	w := Weighting{Name: "trade", pieces: append(make([]piece, 0, 1+len(standards)), piece{0.10, lowestFineness, 1, 0})}
	w.addStandards(0.90, standards)
	return w
}

// Sceptic gives 0.50 to the claim with up to 5 ppt over-fineness, 0.20 to the standards, 0.15 to
// alloys short of the claim (exponential, mean 20 ppt) and 0.15 to any fineness.
func Sceptic(claim float64, standards []float64) Weighting {
	w := Weighting{Name: "sceptic of " + strconv.FormatFloat(claim*1000, 'g', 4, 64) + " ppt"}
	w.pieces = append(make([]piece, 0, 3+len(standards)),
		piece{0.50, claim, min(claim+overFineness, 1), 0},
		piece{0.15, min(lowestFineness, claim-shortfall), claim, shortfall},
		piece{0.15, lowestFineness, 1, 0},
	)
	w.addStandards(0.20, standards)
	return w
}

func (w *Weighting) addStandards(weight float64, standards []float64) {
	for _, s := range standards {
		w.pieces = append(w.pieces, piece{weight / float64(len(standards)), s, min(s+overFineness, 1), 0})
	}
}

// Weighted returns the probability, under a weighting, that the fineness is at least f. What the
// weighting gives to finenesses outside the family's span counts for nothing. False when it gives
// nothing to the finenesses that are in reach.
func (p *Posterior) Weighted(w Weighting, f float64) (float64, bool) {
	above, all := 0.0, 0.0
	for _, piece := range w.pieces {
		whole := p.underPiece(piece, piece.low)
		all += whole
		if f <= piece.low {
			above += whole
		} else if f < piece.high {
			above += p.underPiece(piece, f)
		}
	}
	if !(all > 0) {
		return 0, false
	}
	return min(above/all, 1), true
}

// gauss2 is the distance of the two Gauss-Legendre points from the middle, in widths of the cell
// (Abramowitz and Stegun, table 25.4).
const gauss2 = 0.28867513459481288

// decay returns exp(-t) for t of at least 0; 0 from 32 on.
func decay(t float64) float64 {
	if t >= 32 {
		return 0
	}
	return bell(2 * t)
}

// underPiece returns the integral of p times the piece from a fineness up.
func (p *Posterior) underPiece(piece piece, from float64) float64 {
	if !(piece.high > piece.low) {
		return 0
	}
	if piece.scale == 0 {
		return piece.weight / (piece.high - piece.low) * (p.below(piece.high) - p.below(from))
	}
	// The exponential is integrated with the spline, two points a cell.
	norm := piece.scale * -math.Expm1(-(piece.high-piece.low)/piece.scale)
	sum := 0.0
	for i := range len(p.f) - 1 {
		low, high := max(p.f[i], from), min(p.f[i+1], piece.high)
		if high <= low || piece.high-high > 31*piece.scale {
			continue
		}
		h := p.f[i+1] - p.f[i]
		// Cells wider than half the scale are cut, so that two points and a short series of the
		// exponential about the middle are enough.
		cuts := math.Ceil((high - low) / (piece.scale / 2))
		width := (high - low) / cuts
		for k := 0.0; k < cuts; k++ {
			middle := low + (k+0.5)*width
			step := gauss2 * width
			d := step / piece.scale
			even, odd := 1+d*d*(1./2+d*d/24), d*(1+d*d*(1./6+d*d/120))
			above := max(p.density(i, (middle+step-p.f[i])/h), 0)
			below := max(p.density(i, (middle-step-p.f[i])/h), 0)
			sum += width / 2 * decay((piece.high-middle)/piece.scale) * (even*(above+below) + odd*(above-below))
		}
	}
	return piece.weight / norm * sum
}
