// Package nearest finds the known word that a mistyped one most likely stands for.
package nearest

// Word returns the word of known with the smallest edit distance to got, or "" when none is
// near enough to be a slip of the fingers (more than two edits, or more than a third of the word).
func Word(got string, known []string) string {
	best, bestDistance := "", 1+max(2, len(got)/3)
	for _, k := range known {
		if d := distance(got, k); d < bestDistance {
			best, bestDistance = k, d
		}
	}
	return best
}

// distance is the edit distance of Damerau and Levenshtein with adjacent transpositions.
func distance(a, b string) int {
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}
