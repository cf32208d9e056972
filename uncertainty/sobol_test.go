package uncertainty

import "testing"

// Sobol's Property A: of the first 2^d points exactly one lies in each of the 2^d cubes that
// halving every axis makes. Joe and Kuo (2008) chose their numbers to have it; a wrong
// direction number breaks it. Equivalent: the matrix of the leading bits of the first d
// direction numbers of each dimension has an odd determinant.
func TestSobolPropertyA(t *testing.T) {
	for d := 1; d <= sobolDimensions; d++ {
		rows := make([]uint32, d) // one bit for each direction number
		for dimension := range d {
			var v [32]uint32
			for c := range d {
				v[c] = sobolDirection(dimension, c, &v)
				rows[dimension] |= v[c] >> 31 << c
			}
		}
		if !odd(rows) {
			t.Errorf("the first %d dimensions do not have property A", d)
		}
	}
}

// odd tells whether a square matrix of bits has an odd determinant.
func odd(rows []uint32) bool {
	for column := range rows {
		pivot := -1
		for i := column; i < len(rows); i++ {
			if rows[i]>>column&1 == 1 {
				pivot = i
				break
			}
		}
		if pivot < 0 {
			return false
		}
		rows[column], rows[pivot] = rows[pivot], rows[column]
		for i := column + 1; i < len(rows); i++ {
			if rows[i]>>column&1 == 1 {
				rows[i] ^= rows[column]
			}
		}
	}
	return true
}

// In each dimension each coordinate comes once.
func TestSobolCoordinatesComeOnce(t *testing.T) {
	const m = 10
	for dimension := range sobolDimensions {
		var seen [1 << m]int
		sobolColumn(dimension, m, func(_ int, k uint32) { seen[k]++ })
		for k, times := range seen {
			if times != 1 {
				t.Fatalf("dimension %d: coordinate %d came %d times", dimension+1, k, times)
			}
		}
	}
}

// Sobol's two-dimensional points: of the first 2^m every rectangle with sides 2^-a and
// 2^-(m-a) holds exactly one, since the first two dimensions are a (0, 2)-sequence.
func TestSobolFirstPairIsANet(t *testing.T) {
	const m = 8
	var x, y [1 << m]uint32
	sobolColumn(0, m, func(i int, k uint32) { x[i] = k })
	sobolColumn(1, m, func(i int, k uint32) { y[i] = k })
	for a := 0; a <= m; a++ {
		var seen [1 << m]bool
		for i := range x {
			seen[x[i]>>(m-a)<<(m-a)|y[i]>>a] = true
		}
		for cell, hit := range seen {
			if !hit {
				t.Fatalf("rectangles of 2^-%d by 2^-%d: number %d is empty", a, m-a, cell)
			}
		}
	}
}
