package uncertainty

import (
	"math"
	"math/rand/v2"
)

// draw says how one input is drawn: value + scale × a standard number of the shape (JCGM
// 101:2008 6.4).
type draw struct {
	value, scale float64
	shape        Distribution
	nu           float64
}

func newDraw(in *Input) draw {
	d := draw{value: in.Value, scale: in.U, shape: in.shape(), nu: in.Dof}
	switch d.shape {
	case Rectangular:
		d.scale *= 2 * math.Sqrt(3)
	case Triangular:
		d.scale *= math.Sqrt(6)
	case Arcsine:
		d.scale *= math.Sqrt2
	}
	return d
}

// column draws the input for at most len(words) trials, whose inputs stand one after the other
// in x, n to a trial; the input is the first of each. words is room to work in.
func (d *draw) column(x []float64, n int, words []uint32, g *rand.PCG) {
	words = words[:(len(x)+n-1)/n]
	if d.scale == 0 {
		for k := 0; k < len(x); k += n {
			x[k] = d.value
		}
		return
	}
	switch d.shape {
	case Normal:
		randomWords(words, g)
		d.normalColumn(x, n, words, g)
	case Rectangular:
		randomWords(words, g)
		value, scale := d.value, d.scale/(1<<32)
		for i, u := range words {
			x[i*n] = value + scale*float64(int32(u))
		}
	case Triangular:
		for k := 0; k < len(x); k += n {
			x[k] = d.value + d.scale*(unit(g.Uint64())-unit(g.Uint64()))
		}
	case Arcsine:
		for k := 0; k < len(x); k += n {
			x[k] = d.value + d.scale*math.Sin(2*math.Pi*unit(g.Uint64()))
		}
	case StudentT:
		for k := 0; k < len(x); k += n {
			x[k] = d.value + d.scale*drawStudent(d.nu, g)
		}
	}
}

// unit makes a number from 0 to 1, 1 left out, of random bits.
func unit(bits uint64) float64 {
	return float64(int64(bits>>11)) * (1.0 / (1 << 53))
}

// drawStudent draws from Student's t: R. W. Bailey, Polar generation of random variates with
// the t-distribution, Math. Comp. 62 (1994) 779.
func drawStudent(nu float64, g *rand.PCG) float64 {
	u, v := 1-unit(g.Uint64()), unit(g.Uint64())
	return math.Sqrt(nu*math.Expm1(-2/nu*math.Log(u))) * math.Cos(2*math.Pi*v)
}

// normalColumn draws normal inputs: G. Marsaglia and W. W. Tsang, The ziggurat method for
// generating random variables, J. Stat. Softw. 5 (2000) 8, with 8 bits for the layer and 24
// others for the place in it: places are at most 5e-7 standard deviations apart.
func (d *draw) normalColumn(x []float64, n int, words []uint32, g *rand.PCG) {
	value, scale := d.value, d.scale
	for i, u := range words {
		layer := &ziggurat[u%layers]
		place := int32(u) >> 8
		z := float64(place) * layer.width
		if place >= layer.inside || place <= -layer.inside {
			z = drawOutside(z, layer, g)
		}
		x[i*n] = value + scale*z
	}
}

// randomWords fills words with random bits, two from each number of g.
func randomWords(words []uint32, g *rand.PCG) {
	for i := 0; i+1 < len(words); i += 2 {
		u := g.Uint64()
		words[i], words[i+1] = uint32(u), uint32(u>>32)
	}
	if len(words)%2 == 1 {
		words[len(words)-1] = uint32(g.Uint64())
	}
}

// drawOutside settles a place outside the part of its layer that is wholly under the curve.
func drawOutside(z float64, layer *zigguratLayer, g *rand.PCG) float64 {
	if layer == &ziggurat[0] {
		// The tail, by Marsaglia's method.
		for {
			x := -math.Log(1-unit(g.Uint64())) / tailStart
			y := -math.Log(1 - unit(g.Uint64()))
			if 2*y > x*x {
				return math.Copysign(tailStart+x, z)
			}
		}
	}
	if layer.height+unit(g.Uint64())*(layer.top-layer.height) < math.Exp(-0.5*z*z) {
		return z
	}
	var again [1]float64
	(&draw{scale: 1}).normalColumn(again[:], 1, []uint32{uint32(g.Uint64())}, g)
	return again[0]
}

// The layers of equal area under exp(-x²/2), their number, the start of the tail and the area
// of each from Marsaglia and Tsang (2000).
const (
	layers    = 256
	tailStart = 3.6541528853610088
	layerArea = 0.00492867323399
)

type zigguratLayer struct {
	width       float64 // of the layer, over 2^23
	inside      int32   // places below it are under the curve
	height, top float64 // of the curve at the layer's edges
}

var ziggurat = newZiggurat()

func newZiggurat() (z [layers]zigguratLayer) {
	const half = 1 << 23
	curve := func(x float64) float64 { return math.Exp(-0.5 * x * x) }
	// The lowest layer is the widest: it holds the tail as well.
	edge := layerArea / curve(tailStart)
	next := tailStart
	for i := range z {
		z[i].width = edge / half
		z[i].inside = int32(next / edge * half)
		z[i].height = curve(edge)
		z[i].top = curve(next)
		edge = next
		next = math.Sqrt(-2 * math.Log(min(layerArea/edge+curve(edge), 1)))
	}
	return z
}
