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
