package alloy

// Pair is what is known of the excess volume of two metals in one disordered phase,
// V_E = x_A x_B (L0 + L1 (x_A - x_B)).
type Pair struct {
	A, B   string  // symbols; both "other" for every pair that is not listed
	L0, L1 float64 // cm³/mol, 0 where there are no data
	U      float64 // relative standard uncertainty of the mixture's volume at x = 0.5
	Source string
}

// Pairs returns all pairs in the order of the table, that of all others last.
func Pairs() []Pair {
	table := loadPairs()
	pairs := make([]Pair, 0, len(table.list)+1)
	for _, p := range append(table.list[:len(table.list):len(table.list)], table.other) {
		pairs = append(pairs, Pair{p.a, p.b, p.l0, p.l1, p.u, p.source})
	}
	return pairs
}
