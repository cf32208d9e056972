package uncertainty

import (
	"math"
	"slices"
	"sync"
)

// tails returns the k smallest and the k greatest of y, each in order, without sorting what
// lies between. A part of y tells where the tails begin.
func tails(y []float64, k int) (low, high []float64) {
	const stride = 64
	part := make([]float64, 0, len(y)/stride+1)
	for i := 0; i < len(y); i += stride {
		part = append(part, y[i])
	}
	part = bucketSort(part)
	// The share wanted, and five standard deviations of it as a margin.
	share := float64(k) / float64(len(y))
	n := float64(len(part))
	rank := int(n*share + 5*math.Sqrt(n*share) + 1)
	if 2*rank < len(part) {
		var wait sync.WaitGroup
		wait.Go(func() { low = bucketSort(atMost(y, part[rank], k+k/4)) })
		high = bucketSort(atLeast(y, part[len(part)-1-rank], k+k/4))
		wait.Wait()
	}
	if len(low) < k || len(high) < k {
		low = bucketSort(slices.Clone(y))
		return low[:k], low[len(low)-k:]
	}
	return low[:k], high[len(high)-k:]
}

func atMost(y []float64, limit float64, expected int) []float64 {
	kept := make([]float64, 0, expected)
	for _, v := range y {
		if v <= limit {
			kept = append(kept, v)
		}
	}
	return kept
}

func atLeast(y []float64, limit float64, expected int) []float64 {
	kept := make([]float64, 0, expected)
	for _, v := range y {
		if v >= limit {
			kept = append(kept, v)
		}
	}
	return kept
}

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
