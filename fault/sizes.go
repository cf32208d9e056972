package fault

import (
	"math"
	"sync"
)

// size is one cell of a fault's law: the size it stands for, its width, its weight.
type size struct{ x, width, weight float64 }

// tail is the weight of sizes beyond the usual ones, up to what can be at all: a law that ends
// calls what lies beyond it impossible. Chosen here, simulated.
const tail = 0.1

// sizesOf divides the law of a fault into cells. Sizes in the table's unit.
func sizesOf(f *Fault, n int) []size {
	switch f.Law {
	case "lognormal":
		return logNormal(f.First, f.Second, n)
	case "log-flat":
		cells := logFlat(f.First, f.Second, n)
		if f.High <= f.Second {
			return cells
		}
		for i := range cells {
			cells[i].weight *= 1 - tail
		}
		// As fine as the law itself; a long tail is cut into twice its cells at most.
		more := int(float64(n)*math.Log(f.High/f.Second)/math.Log(f.Second/f.First)) + 1
		beyond := logFlat(f.Second, f.High, min(more, n))
		for i := range beyond {
			beyond[i].weight *= tail
		}
		return append(cells, beyond...)
	case "normal":
		return normal(f.First, f.Second, n)
	case "flat":
		return evenly(f.First, f.Second, n)
	}
	return nil
}

// logFlat divides low to high into cells of equal ratio and equal weight.
func logFlat(low, high float64, n int) []size {
	return appendLogFlat(make([]size, 0, n), low, high, n, 1)
}

// appendLogFlat adds such cells, of a weight together.
func appendLogFlat(cells []size, low, high float64, n int, weight float64) []size {
	step := math.Log(high/low) / float64(n)
	for i := range n {
		from, to := low*math.Exp(step*float64(i)), low*math.Exp(step*float64(i+1))
		cells = append(cells, size{(to - from) / step, to - from, weight / float64(n)}) // the mean of a log-flat cell
	}
	return cells
}

// evenly divides low to high into cells of equal width and equal weight.
func evenly(low, high float64, n int) []size {
	cells := make([]size, n)
	width := (high - low) / float64(n)
	for i := range cells {
		cells[i] = size{low + width*(float64(i)+0.5), width, 1 / float64(n)}
	}
	return cells
}

func logNormal(median, sd float64, n int) []size {
	cells := normal(math.Log(median), sd, n)
	for i, c := range cells {
		from, to := math.Exp(c.x-c.width/2), math.Exp(c.x+c.width/2)
		cells[i].x, cells[i].width = math.Exp(c.x), to-from
	}
	return cells
}

// normal divides four standard deviations on either side into equal cells.
func normal(mean, sd float64, n int) []size {
	const reach = 4
	cells := make([]size, n)
	width := 2 * reach / float64(n)
	for i := range cells {
		z := -reach + width*(float64(i)+0.5)
		weight := (math.Erfc(-(z+width/2)/math.Sqrt2) - math.Erfc(-(z-width/2)/math.Sqrt2)) / 2
		cells[i] = size{mean + sd*z, sd * width, weight}
	}
	return cells
}

// kernel is the common density of a displacement law at a gap g with standard deviation s: the
// law's cells seen through the readings' own scatter.
func kernel(cells []size, g, s float64) (sum float64) {
	for _, c := range cells {
		variance := s*s + c.width*c.width*cell
		d := g - c.x
		if d*d < cut*variance {
			sum += c.weight * normalAt(d*d, variance)
		}
	}
	return sum
}

// cell is the variance of a cell of width 1 when it is taken as a normal law: twice that of a flat
// one, or neighbours would leave gaps that a sharp reading falls into (a sum over cells then
// ripples by 8 %, with 1/12 it ripples by 40 %).
const cell = 1. / 6

// cut is the squared distance in standard deviations beyond which a density counts as nothing:
// e^-18 is 1e-8.
const cut = 36

// bell is exp(-z2/2) for z2 up to cut, from a table: a thousandth of a per cent is enough here.
func bell(z2 float64) float64 {
	i := int(z2 * bellSteps)
	rest := z2/2 - float64(i)/(2*bellSteps)
	return bellTable[i] * (1 - rest*(1-rest*(1./2)*(1-rest*(1./3))))
}

// normalAt is the density of a normal law at the squared distance d2 from its mean, up to cut times
// its variance. One division serves all: this is where the engine spends its time.
func normalAt(d2, variance float64) float64 {
	inverse := 1 / variance
	return bell(d2*inverse) * math.Sqrt(inverse) * perRoot2Pi
}

const perRoot2Pi = 0.3989422804014327 // 1/√(2π)

const bellSteps = 16

var bellTable = func() (table [cut*bellSteps + 2]float64) {
	for i := range table {
		table[i] = math.Exp(-float64(i) / (2 * bellSteps))
	}
	return table
}()

// lift turns a cell of a bubble's diameter in mm into one of the mass that its lift takes away, in
// grams. The cell is moved, not its middle, so that the cube stays exact at its ends.
func (c size) lift(rho float64) size {
	from, to := bubbleLift(c.x-c.width/2, rho), bubbleLift(c.x+c.width/2, rho)
	return size{(from + 4*bubbleLift(c.x, rho) + to) / 6, to - from, c.weight}
}

// bubbleLift is the lift of a bubble of d mm, as a mass in grams; rho is the density of the
// liquid less that of the air.
func bubbleLift(d, rho float64) float64 { return math.Pi / 6000 * d * d * d * rho }

// bubbleDiameter is its inverse, in mm; 0 for no lift.
func bubbleDiameter(lift, rho float64) float64 {
	if lift <= 0 {
		return 0
	}
	return math.Cbrt(6000 * lift / (math.Pi * rho))
}

// The laws that do not depend on the weighing, in the units of the table.
var laws = sync.OnceValue(func() (cells [Kinds][]size) {
	counts := map[Kind]int{
		Bubble: 48, Zero: 24, Touching: 32, Temperature: 24, Ethanol: 24, Hollow: 48, Stones: 32, Core: 24, Pores: 20,
		Drift: 16, Draught: 10, WrongItem: 24, Hanger: 32,
	}
	for k, n := range counts {
		cells[k] = sizesOf(k.Fault(), n)
	}
	return cells
})

// dirt is what salts, soap or a trace of another liquid change of a density, as a share; chosen
// here.
var dirt = sync.OnceValue(func() []size { return logFlat(0.001, 0.05, 20) })
