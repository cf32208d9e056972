package alloy

// EvidenceUnder returns the density of the observation per unit of ln v for this family under a
// weighting of fineness. It is what families are held against each other with; what the
// weighting gives to finenesses outside the family's span counts as not found.
func (p *Posterior) EvidenceUnder(w Weighting) float64 {
	sum := 0.0
	for _, piece := range w.pieces {
		sum += p.underPiece(piece, piece.low)
	}
	return p.Observation.V * sum
}

// Mass returns the unnormalised probability, under a weighting, that the fineness lies from low
// to high; EvidenceUnder divided by v is the whole of it.
func (p *Posterior) Mass(w Weighting, low, high float64) float64 {
	sum := 0.0
	for _, piece := range w.pieces {
		if piece.high <= low || piece.low >= high {
			continue
		}
		sum += p.underPiece(piece, max(piece.low, low))
		if high < piece.high {
			sum -= p.underPiece(piece, high)
		}
	}
	return sum
}
