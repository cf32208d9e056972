package alloy

import (
	"cmp"
	"math"
	"slices"
)

// How finely the tables are built. A change here needs go generate.
const (
	usualNodes = 24 // Gauss-Legendre nodes in the quantile of v over the usual recipes
	outerNodes = 8  // the same over the outer recipes

	// recipes at each fineness, by the dimension of the box
	fewRecipes  = 1 << 14 // one or two
	someRecipes = 1 << 16 // three
	manyRecipes = 1 << 18 // four and more, where many corners are dropped
)

// buildOptions vary a table for tests; the zero value is what is shipped.
type buildOptions struct {
	zincMolarVolume float64 // cm³/mol, 0: by surrounding
	low, high       float64 // span of fineness, 0: the family's
	usualOnly       bool    // leave the outer recipes out
	withoutCorners  bool    // the extremes of the usual recipes are those of the samples
	grid            []float64
	recipes         int // at each fineness, 0: by the dimension of the box
}

// fineGrid is the lowest fineness of a family for which the grid is fine throughout.
const fineGrid = 0.970

// finenessGrid returns the finenesses of a table: every 2 ppt, every 0.5 ppt above 980, every
// 0.25 ppt for a fine metal, and each fineness for which bounds are printed.
func (f *Family) finenessGrid(low, high float64) []float64 {
	var grid []float64
	step := func(from, to, by float64) {
		n := int(math.Round((to - from) / by))
		for i := 0; i <= n; i++ {
			grid = append(grid, math.Round((from+float64(i)*by)*1e5)/1e5)
		}
	}
	if low >= fineGrid {
		step(low, high, 0.00025)
	} else {
		step(low, min(high, 0.980), 0.002)
		if high > 0.980 {
			step(0.980, high, 0.0005)
		}
	}
	for _, region := range []Region{f.Usual, f.Outer} {
		for _, box := range region {
			for _, bounds := range box {
				if bounds.Fineness > low && bounds.Fineness < high {
					grid = append(grid, bounds.Fineness)
				}
			}
		}
	}
	slices.Sort(grid)
	return slices.Compact(grid)
}

// build makes the table of a family.
func (f *Family) build(o buildOptions) *table {
	low, high := f.Low, f.High
	if o.high > 0 {
		low, high = o.low, o.high
	}
	grid := o.grid
	if grid == nil {
		grid = f.finenessGrid(low, high)
	}
	outer := f.Outer
	if o.usualOnly {
		outer = nil
	}
	t := newTable(grid, f.Usual, outer)
	s := newSolution(f.metals, o.zincMolarVolume)
	usual := newSampler(f.Usual, s, o.recipes)
	rare := newSampler(outer, s, o.recipes)
	for i, fineness := range grid {
		row := t.row(i)
		usual.quantiles(fineness, row[:t.usual])
		low, high := usual.extremes(fineness)
		if o.withoutCorners {
			low, high = usual.samples[0].v, usual.samples[len(usual.samples)-1].v
		}
		row[t.usual+t.outer] = float32(low)
		row[t.usual+t.outer+1] = float32(high)
		if t.outer > 0 {
			rare.quantiles(fineness, row[t.usual:t.usual+t.outer])
			l, h := rare.extremes(fineness)
			low, high = min(l, low), max(h, high)
		}
		row[t.usual+t.outer+2] = float32(low)
		row[t.usual+t.outer+3] = float32(high)
	}
	t.finish()
	return t
}

// sampler computes the specific volumes of a region's recipes.
type sampler struct {
	solution *solution
	boxes    []*recipeBox
	samples  []sample
}

type sample struct{ v, weight float64 }

func newSampler(region Region, s *solution, recipes int) *sampler {
	sm := &sampler{solution: s}
	for _, box := range region {
		b := newRecipeBox(box, s)
		b.recipes = recipes
		sm.boxes = append(sm.boxes, b)
	}
	return sm
}

// quantiles fills nodes with the specific volumes at the Gauss-Legendre nodes of the quantile.
func (sm *sampler) quantiles(fineness float64, nodes []float32) {
	sm.samples = sm.samples[:0]
	for _, box := range sm.boxes {
		sm.samples = box.appendSamples(sm.samples, fineness, 1/float64(len(sm.boxes)))
	}
	slices.SortFunc(sm.samples, func(a, b sample) int { return cmp.Compare(a.v, b.v) })
	q, _ := gaussLegendre(len(nodes))
	i, before := 0, 0.0 // weight of the samples before i
	for k := range nodes {
		for i < len(sm.samples)-1 && before+sm.samples[i].weight/2 < q[k] {
			before += sm.samples[i].weight
			i++
		}
		nodes[k] = float32(quantileAt(sm.samples, i, before, q[k]))
	}
}

// quantileAt interpolates between the middles of samples i-1 and i, the first at or beyond q.
func quantileAt(samples []sample, i int, before, q float64) float64 {
	middle := before + samples[i].weight/2
	if i == 0 || q >= middle {
		return samples[i].v
	}
	earlier := before - samples[i-1].weight/2
	t := (q - earlier) / (middle - earlier)
	return samples[i-1].v + t*(samples[i].v-samples[i-1].v)
}

// extremes returns the least and the largest specific volume over the region.
func (sm *sampler) extremes(fineness float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, box := range sm.boxes {
		low = min(low, box.extreme(fineness, 1))
		high = max(high, -box.extreme(fineness, -1))
	}
	return low, high
}

// recipeBox is a box of recipes with the metals of a solution.
type recipeBox struct {
	solution  *solution
	box       Box
	free      []int // metals with a coordinate of their own
	rest      int
	stateFree bool
	recipes   int // to sample, 0: by the dimension

	// at one fineness, by metal
	low, high         []float64
	stateLow, stateUp float64

	// one recipe
	w []float64
}

func newRecipeBox(box Box, s *solution) *recipeBox {
	n := len(s.metals)
	b := &recipeBox{
		solution: s, box: box,
		low: make([]float64, n), high: make([]float64, n), w: make([]float64, n),
	}
	for i, metal := range s.metals {
		if i > 0 && metal.Symbol == box[0].Rest {
			b.rest = i
			continue
		}
		for _, bounds := range box {
			share := bounds.share(metal.Symbol)
			if i > 0 && share.High > share.Low && !slices.Contains(b.free, i) {
				b.free = append(b.free, i)
			}
		}
	}
	for _, bounds := range box {
		b.stateFree = b.stateFree || bounds.Unmixed.High > bounds.Unmixed.Low
	}
	return b
}

// share returns the bounds of one metal, 0 to 0 when it is absent.
func (b Bounds) share(symbol string) Share {
	for _, s := range b.Shares {
		if s.Symbol == symbol {
			return s
		}
	}
	return Share{Symbol: symbol}
}

func (b *recipeBox) dimension() int {
	n := len(b.free)
	if b.stateFree {
		n++
	}
	return n
}

// at sets the bounds for one fineness. Zinc is held below what dissolves.
func (b *recipeBox) at(fineness float64) {
	i, t := 0, 0.0
	for i < len(b.box)-1 && b.box[i+1].Fineness <= fineness {
		i++
	}
	j := i
	if i < len(b.box)-1 && fineness > b.box[i].Fineness {
		j = i + 1
		t = (fineness - b.box[i].Fineness) / (b.box[j].Fineness - b.box[i].Fineness)
	}
	left, right := b.box[i], b.box[j]
	between := func(x, y float64) float64 { return x + t*(y-x) }
	for k := 1; k < len(b.solution.metals); k++ {
		symbol := b.solution.metals[k].Symbol
		x, y := left.share(symbol), right.share(symbol)
		b.low[k], b.high[k] = between(x.Low, y.Low), between(x.High, y.High)
		if k == b.solution.zinc && fineness < 1 {
			most := MostZinc / (1 - fineness)
			b.low[k], b.high[k] = min(b.low[k], most), min(b.high[k], most)
		}
	}
	b.stateLow = between(left.Unmixed.Low, right.Unmixed.Low)
	b.stateUp = between(left.Unmixed.High, right.Unmixed.High)
}

// slack forgives rounding where shares meet their bounds.
const slack = 1e-12

// specificVolume returns the specific volume for the shares in b.w (1 and up), after the rest
// has taken what is left; false when it does not fit.
func (b *recipeBox) specificVolume(fineness float64, share []float64, unmixed float64) (float64, bool) {
	left := 1.0
	for k := 1; k < len(share); k++ {
		if k == b.rest {
			continue
		}
		if share[k] < b.low[k]-slack || share[k] > b.high[k]+slack {
			return 0, false
		}
		left -= share[k]
		b.w[k] = (1 - fineness) * share[k]
	}
	if left < b.low[b.rest]-slack || left > b.high[b.rest]+slack {
		return 0, false
	}
	b.w[0] = fineness
	b.w[b.rest] = (1 - fineness) * max(left, 0)
	return b.solution.specificVolume(b.w, unmixed), true
}

// appendSamples adds the specific volumes of the recipes of this box at one fineness: the same
// low-discrepancy set of recipes at every fineness, uniform over the box.
func (b *recipeBox) appendSamples(samples []sample, fineness, weight float64) []sample {
	b.at(fineness)
	d := b.dimension()
	n := manyRecipes
	switch {
	case d == 0:
		n = 1
	case b.recipes > 0:
		n = b.recipes
	case d <= 2:
		n = fewRecipes
	case d == 3:
		n = someRecipes
	}
	step := additiveSteps(d)
	share := make([]float64, len(b.solution.metals))
	copy(share, b.low)
	coordinate := make([]float64, d)
	for k := range coordinate {
		coordinate[k] = 0.5
	}
	first := len(samples)
	for range n {
		for k := range coordinate {
			coordinate[k] += step[k]
			coordinate[k] -= math.Floor(coordinate[k])
		}
		for k, i := range b.free {
			share[i] = b.low[i] + coordinate[k]*(b.high[i]-b.low[i])
		}
		unmixed := b.stateLow
		if b.stateFree {
			unmixed += coordinate[d-1] * (b.stateUp - b.stateLow)
		}
		if v, ok := b.specificVolume(fineness, share, unmixed); ok {
			samples = append(samples, sample{v: v})
		}
	}
	for i := first; i < len(samples); i++ {
		samples[i].weight = weight / float64(len(samples)-first)
	}
	return samples
}

// additiveSteps returns the steps of an additive low-discrepancy sequence in d dimensions: the
// powers of 1/g, g the root of g^(d+1) = g + 1 (the golden ratio for one dimension).
func additiveSteps(d int) []float64 {
	g := 1.5
	for range 64 {
		g = math.Pow(1+g, 1/float64(d+1))
	}
	steps := make([]float64, d)
	for k := range steps {
		steps[k] = math.Pow(g, -float64(k+1))
	}
	return steps
}

// extreme returns the least of sign·v over the box: the best corner, then improved by steps
// along the edges and the coordinates until they are tiny. The corners make sure that a wider
// box never has a narrower range.
func (b *recipeBox) extreme(fineness float64, sign float64) float64 {
	b.at(fineness)
	best := math.Inf(1)
	var bestShare []float64
	var bestState float64
	try := func(share []float64, state float64) bool {
		v, ok := b.specificVolume(fineness, share, state)
		if !ok || !(sign*v < best) {
			return false
		}
		best, bestState = sign*v, state
		bestShare = append(bestShare[:0], share...)
		return true
	}
	b.corners(func(share []float64) {
		try(share, b.stateLow)
		try(share, b.stateUp)
	})
	if bestShare == nil {
		return best // no recipe fits
	}
	share := make([]float64, len(bestShare))
	for size := 0.25; size > 1e-7; {
		improved := false
		for _, i := range b.free {
			for _, j := range append([]int{b.rest}, b.free...) {
				for _, d := range []float64{size, -size} {
					if i == j {
						continue
					}
					copy(share, bestShare)
					share[i] += d
					share[j] -= d
					improved = try(share, bestState) || improved
				}
			}
		}
		if b.stateFree {
			improved = try(bestShare, min(bestState+size, b.stateUp)) || improved
			improved = try(bestShare, max(bestState-size, b.stateLow)) || improved
		}
		if !improved {
			size /= 2
		}
	}
	return best
}

// corners calls visit for each corner of the box cut by the condition that the shares add up to
// 1: all metals but one at a bound, that one taking what is left.
func (b *recipeBox) corners(visit func(share []float64)) {
	n := len(b.solution.metals)
	share := make([]float64, n)
	for left := 1; left < n; left++ {
		for mask := range 1 << (n - 1) {
			sum := 0.0
			for k := 1; k < n; k++ {
				if k == left {
					continue
				}
				share[k] = b.low[k]
				if mask>>(k-1)&1 == 1 {
					share[k] = b.high[k]
				}
				sum += share[k]
			}
			share[left] = 1 - sum
			if mask>>(left-1)&1 == 0 && share[left] >= b.low[left]-slack && share[left] <= b.high[left]+slack {
				visit(share)
			}
		}
	}
}

// gaussLegendre returns the nodes and weights of n-point Gauss-Legendre quadrature on 0 to 1.
func gaussLegendre(n int) (nodes, weights []float64) {
	nodes, weights = make([]float64, n), make([]float64, n)
	for i := range n {
		x := -math.Cos(math.Pi * (float64(i) + 0.75) / (float64(n) + 0.5))
		slope := 1.0
		for range 100 {
			p, before := 1.0, 0.0
			for j := range n {
				p, before = (float64(2*j+1)*x*p-float64(j)*before)/float64(j+1), p
			}
			slope = float64(n) * (x*p - before) / (x*x - 1)
			dx := p / slope
			x -= dx
			if math.Abs(dx) < 1e-15 {
				break
			}
		}
		nodes[i] = (1 + x) / 2
		weights[i] = 1 / ((1 - x*x) * slope * slope)
	}
	return nodes, weights
}
