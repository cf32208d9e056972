package uncertainty

import "math/bits"

// sobolDimensions is how many dimensions the table below serves, the first included.
const sobolDimensions = 24

// joeKuo holds degree, coefficients and initial values of the direction numbers for
// dimensions 2 to 24 of the table new-joe-kuo-6.21201 of S. Joe and F. Y. Kuo, Constructing
// Sobol sequences with better two-dimensional projections, SIAM J. Sci. Comput. 30 (2008)
// 2635. Dimension 1 is the van der Corput sequence and needs none.
var joeKuo = [sobolDimensions - 1]struct {
	degree, coefficients uint32
	initial              []uint32
}{
	{1, 0, []uint32{1}},
	{2, 1, []uint32{1, 3}},
	{3, 1, []uint32{1, 3, 1}},
	{3, 2, []uint32{1, 1, 1}},
	{4, 1, []uint32{1, 1, 3, 3}},
	{4, 4, []uint32{1, 3, 5, 13}},
	{5, 2, []uint32{1, 1, 5, 5, 17}},
	{5, 4, []uint32{1, 1, 5, 5, 5}},
	{5, 7, []uint32{1, 1, 7, 11, 19}},
	{5, 11, []uint32{1, 1, 5, 1, 1}},
	{5, 13, []uint32{1, 1, 1, 3, 11}},
	{5, 14, []uint32{1, 3, 5, 5, 31}},
	{6, 1, []uint32{1, 3, 3, 9, 7, 49}},
	{6, 13, []uint32{1, 1, 1, 15, 21, 21}},
	{6, 16, []uint32{1, 3, 1, 13, 27, 49}},
	{6, 19, []uint32{1, 1, 1, 15, 7, 5}},
	{6, 22, []uint32{1, 3, 1, 15, 13, 25}},
	{6, 25, []uint32{1, 1, 5, 5, 19, 61}},
	{7, 1, []uint32{1, 3, 7, 11, 23, 15, 103}},
	{7, 4, []uint32{1, 3, 7, 13, 13, 15, 69}},
	{7, 7, []uint32{1, 1, 3, 13, 7, 35, 63}},
	{7, 8, []uint32{1, 3, 5, 9, 1, 25, 53}},
	{7, 14, []uint32{1, 3, 1, 13, 9, 35, 107}},
}

// sobolColumn calls set for each of the 2^m points of one dimension, counted from 0, with the
// coordinate as a whole number from 0 to 2^m-1. Over the points each number comes once. The
// points are those of the Sobol sequence in Gray-code order, each coordinate with every other
// binary digit turned over: without this shift the first point has all coordinates smallest
// at once, a corner so unlikely that it spoils the tails when inputs are many.
func sobolColumn(dimension, m int, set func(point int, coordinate uint32)) {
	var v [32]uint32
	for c := range m {
		v[c] = sobolDirection(dimension, c, &v) // leading bit first
	}
	k := uint32(0)
	for i := range 1 << m {
		set(i, (k^0x55555555)>>(32-m))
		k ^= v[bits.TrailingZeros32(uint32(i)+1)]
	}
}

// sobolDirection returns the direction number of bit c, where v holds those before it.
func sobolDirection(dimension, c int, v *[32]uint32) uint32 {
	if dimension == 0 {
		return 1 << (31 - c)
	}
	t := &joeKuo[dimension-1]
	s := int(t.degree)
	if c < s {
		return t.initial[c] << (31 - c)
	}
	x := v[c-s] ^ v[c-s]>>s
	for k := 1; k < s; k++ {
		if t.coefficients>>(s-1-k)&1 == 1 {
			x ^= v[c-k]
		}
	}
	return x
}
