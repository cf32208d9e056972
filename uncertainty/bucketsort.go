package uncertainty

import "slices"

// bucketSort returns v in order, spoiling v: it lays the values into equal intervals and sorts
// within each.
func bucketSort(v []float64) []float64 {
	const each = 2
	least, greatest := slices.Min(v), slices.Max(v)
	buckets := len(v)/each + 1
	scale := float64(buckets) / (greatest - least)
	if !finite(scale) || !finite(greatest-least) {
		slices.Sort(v)
		return v
	}
	bucket := func(x float64) int { return min(int((x-least)*scale), buckets-1) }
	end := make([]int, buckets+1)
	for _, x := range v {
		end[bucket(x)+1]++
	}
	for b := range buckets {
		end[b+1] += end[b]
	}
	sorted := make([]float64, len(v))
	for _, x := range v {
		b := bucket(x)
		sorted[end[b]] = x
		end[b]++
	}
	start := 0
	for b := range buckets {
		slices.Sort(sorted[start:end[b]])
		start = end[b]
	}
	return sorted
}
