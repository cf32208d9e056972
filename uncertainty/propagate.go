package uncertainty

import (
	"cmp"
	"fmt"
	"math"
	"math/bits"
	"slices"
)

// Result is what is known about the output after the distributions of the inputs have been
// propagated (JCGM 101:2008 5.5).
type Result struct {
	Y         float64   // expectation
	U         float64   // standard deviation; +Inf where an input is t with 2 degrees of freedom or fewer
	P         float64   // coverage probability of Low to High
	Low, High float64   // probabilistically symmetric coverage interval
	Points    int       // points or trials evaluated
	Method    string    // how it was done, in words
	Below     []float64 // probability that the output is at most each of Options.Limits
}

// Options chooses what Propagate does. The zero Options is the usual choice.
type Options struct {
	P      float64   // coverage probability; 0: 0.95
	Points int       // number of points, made up to a power of two from 64 to 65536; 0: 1024, or 4096 (see Propagate)
	Limits []float64 // values of the output whose probability is wanted in Result.Below
}

const (
	usualPoints  = 1024
	morePoints   = 4096 // where the direction that is integrated smooths little
	fewestPoints = 64
	mostPoints   = 65536
	sortedPoints = 16384 // where no input can be integrated
)

// Propagate propagates the distributions of the inputs through f (JCGM 101:2008) without
// random numbers, so the answer is the same on every run and machine.
//
// One direction in the space of the inputs is integrated analytically: the normal inputs
// together along the gradient of f, or one input of another shape where it matters more. The
// other inputs take the values of Sobol points, the most important first. For each point the
// place along the direction where f gives y is found by iteration; the distribution function
// of the output at y is the mean of the direction's own distribution function at these
// places. The ends of the interval are found by Newton's method on it. The standard deviation
// is that of the linear part, exact, with the rest of f added from the points.
//
// The points are 1024, or 4096 where the direction is of a shape with a jump or a kink or holds
// less than 0.3 of the variance. Typical errors of an end, in units of U: below 0.0001 where
// normal inputs dominate, 0.001 to 0.004 where others do.
//
// f must be monotone along the direction, not linear. If it is not, along any direction that
// matters, the answer comes from the sorted values at 16384 Sobol points (or Options.Points
// if more), and Method says so. f must have finite values where the inputs can be. At most 24
// inputs can vary beside the direction.
func Propagate(inputs []Input, f Model, opt Options) (Result, error) {
	if opt.P == 0 {
		opt.P = 0.95
	}
	if err := checkCoverage(opt.P); err != nil {
		return Result{}, err
	}
	var w propagation
	if err := w.linear.Linearise(inputs, func(x, out []float64) { out[0] = f(x) }, 1); err != nil {
		return Result{}, err
	}
	w.inputs, w.f = inputs, f
	w.c = w.linear.sensitivities(0)
	w.y0 = w.linear.Y(0)
	w.scale = w.linear.U(0)

	for _, d := range w.directions() {
		points := opt.Points
		if points == 0 {
			points = w.usual(d)
		}
		if err := w.place(d, points); err != nil {
			return Result{}, err
		}
		if w.evaluate() {
			return w.integrated(opt)
		}
	}
	points := max(opt.Points, sortedPoints)
	if w.exact() {
		points = fewestPoints
	}
	if err := w.place(direction{}, points); err != nil {
		return Result{}, err
	}
	return w.sorted(opt)
}

// propagation is the work of one call of Propagate.
type propagation struct {
	inputs []Input
	f      Model
	linear Linear
	c      []float64 // sensitivities
	y0     float64   // f at the input values
	scale  float64   // first-order standard uncertainty

	direction
	bits   int       // 2^bits points
	x      []float64 // inputs of point i from i × len(inputs), the direction at zero
	middle []float64 // f there
	rise   []float64 // s ≈ rise r + bend r², r = y - middle: the inverse of f along the direction
	bend   []float64
	broken bool // f gave no number

	meanR, varR, covLR float64 // moments of f less its linear part, and with that part
}

// direction is what is integrated analytically: s times step is added to the inputs, s being
// of the standard form of a shape.
type direction struct {
	name  string
	step  []float64 // nil: nothing is integrated
	shape Distribution
	nu    float64
	slope float64 // df/ds in first order, above zero
	limit float64 // s beyond it holds less than 1e-7 on each side
	worth float64 // how much it is worth to integrate it
}

// directions lists the directions worth integrating, the best first: the normal inputs
// together along the gradient, or single inputs.
func (w *propagation) directions() []direction {
	n := len(w.inputs)
	memory := make([]float64, n*(n+1))
	list := make([]direction, 0, n+1)
	together := direction{name: "the normal inputs together", shape: Normal}
	members := 0
	for i, in := range w.inputs {
		cu := w.c[i] * in.U
		if cu == 0 {
			continue
		}
		step := memory[i*n : (i+1)*n : (i+1)*n]
		step[i] = math.Copysign(in.U, cu)
		list = append(list, direction{name: inputName(w.inputs, i), step: step, shape: in.shape(), nu: in.Dof, slope: math.Abs(cu)})
		if in.shape() == Normal {
			together.slope = math.Hypot(together.slope, cu)
			members++
		}
	}
	if members > 1 {
		together.step = memory[n*n:]
		for i, in := range w.inputs {
			if in.shape() == Normal {
				together.step[i] = w.c[i] * in.U * in.U / together.slope
			}
		}
		list = append(list, together)
	}
	for i := range list {
		list[i].limit = -list[i].shape.quantile(1e-7, list[i].nu)
		list[i].worth = list[i].halfWidth()
	}
	slices.SortStableFunc(list, func(a, b direction) int { return cmp.Compare(b.worth, a.worth) })
	return list
}

// halfWidth is that of the 95 % interval which the direction alone gives the output, half of
// it where the density has a jump or a kink and so smooths less.
func (d *direction) halfWidth() float64 {
	w := d.slope * d.shape.quantile(0.975, d.nu)
	if d.shape.smooth() {
		return w
	}
	return w / 2
}

// exact tells whether no input has an uncertainty.
func (w *propagation) exact() bool {
	for i := range w.inputs {
		if w.inputs[i].U > 0 {
			return false
		}
	}
	return true
}

// usual returns the number of points that a direction needs.
func (w *propagation) usual(d direction) int {
	if d.shape.smooth() && d.slope*d.slope >= 0.3*w.scale*w.scale {
		return usualPoints
	}
	return morePoints
}

// shape returns the distribution, normal where it is t with no limit of degrees of freedom.
func (in *Input) shape() Distribution {
	if in.Dist == StudentT && math.IsInf(in.Nu(), 1) {
		return Normal
	}
	return in.Dist
}

// place lays the points out for a direction.
func (w *propagation) place(d direction, points int) error {
	points = min(max(points, fewestPoints), mostPoints)
	w.direction = d
	w.bits = bits.Len(uint(points - 1))
	n, count := len(w.inputs), 1<<w.bits
	if len(w.x) != n*count {
		w.x = make([]float64, n*count)
		memory := make([]float64, 3*count)
		w.middle, w.rise, w.bend = memory[:count], memory[count:2*count], memory[2*count:]
	}
	for k := range w.x {
		w.x[k] = w.inputs[k%n].Value
	}
	order := w.order()
	if len(order) > sobolDimensions {
		return fmt.Errorf("%d inputs vary beside the one that is integrated; Propagate takes %d: set the smallest uncertainties to zero, or use Plain", len(order), sobolDimensions)
	}
	var tables tables
	for dimension, i := range order {
		table := tables.get(w.inputs[i].shape(), w.inputs[i].Dof, count)
		u := w.inputs[i].U
		sobolColumn(dimension, w.bits, func(point int, k uint32) {
			w.x[point*n+i] += u * table[k]
		})
	}
	w.flatten()
	return nil
}

// order lists the inputs that take values of the points, the most important first. Normal
// inputs of the direction come last: along the gradient they are integrated, and what they do
// across it is of second order. A single input of the direction takes none.
func (w *propagation) order() []int {
	list := make([]int, 0, len(w.inputs))
	members := 0
	for i := range w.inputs {
		if w.member(i) {
			members++
		}
	}
	for i := range w.inputs {
		if w.inputs[i].U > 0 && !(w.member(i) && members == 1) {
			list = append(list, i)
		}
	}
	slices.SortStableFunc(list, func(a, b int) int {
		ma, mb := w.member(a), w.member(b)
		if ma != mb {
			if ma {
				return 1
			}
			return -1
		}
		// To seven digits, so that rounding does not decide between equals, which then are
		// told apart by what they are and not by their place in the list.
		x, y := &w.inputs[a], &w.inputs[b]
		return cmp.Or(
			cmp.Compare(w.contribution(b), w.contribution(a)),
			cmp.Compare(x.shape(), y.shape()),
			cmp.Compare(x.Dof, y.Dof),
			cmp.Compare(x.Value, y.Value),
		)
	})
	return list
}

func (w *propagation) contribution(i int) float32 {
	return float32(math.Abs(w.c[i] * w.inputs[i].U))
}

func (w *propagation) member(i int) bool { return w.step != nil && w.step[i] != 0 }

// flatten takes from each point its component along the direction, in units of the standard
// uncertainties, so that the direction is independent of the points.
func (w *propagation) flatten() {
	if w.step == nil {
		return
	}
	n := len(w.inputs)
	for i := 0; i < len(w.x); i += n {
		x := w.x[i : i+n]
		s := 0.0
		for j, step := range w.step {
			if step != 0 {
				u := w.inputs[j].U
				s += (x[j] - w.inputs[j].Value) / u * step / u
			}
		}
		for j, step := range w.step {
			x[j] -= s * step
		}
	}
}

// at returns f at a point, moved by s along the direction.
func (w *propagation) at(point int, s float64, x []float64) float64 {
	n := len(w.inputs)
	base := w.x[point*n : (point+1)*n]
	if s == 0 {
		return w.f(base)
	}
	for j, step := range w.step {
		x[j] = base[j] + s*step
	}
	return w.f(x)
}

// evaluate takes f at five places along the direction for each point: enough for the moments
// (a Gauss rule for the shape) and for a first inverse. It returns false if f does not rise
// along the direction everywhere.
func (w *propagation) evaluate() bool {
	rule := w.shape.gauss()
	if w.shape == StudentT {
		// Within reach where the variance is large or infinite: the rule serves the part of f
		// that is not linear, which must not be asked far out.
		sd := math.Sqrt(w.shape.variance(max(w.nu, 3)))
		rule.inner *= sd
		rule.outer *= sd
	}
	h := rule.inner
	var m moments
	x := w.linear.x
	n := len(w.inputs)
	for i := range w.middle {
		lowest, low, middle := w.at(i, -rule.outer, x), w.at(i, -h, x), w.at(i, 0, x)
		high, highest := w.at(i, h, x), w.at(i, rule.outer, x)
		up, down := high-middle, middle-low
		if !(up > 0 && down > 0 && highest > high && low > lowest) {
			return false
		}
		w.middle[i] = middle
		w.bend[i] = 0
		w.rise[i] = 2 * h / (up + down)
		if up < 1.25*down && down < 1.25*up {
			w.bend[i] = h * (down - up) / (up * down * (up + down))
			w.rise[i] = h/up - w.bend[i]*up
		}
		l := w.linearPart(w.x[i*n : (i+1)*n])
		m.add(rule.outerWeight, l-rule.outer*w.slope, lowest-w.y0)
		m.add(rule.innerWeight, l-h*w.slope, low-w.y0)
		m.add(rule.middleWeight, l, middle-w.y0)
		m.add(rule.innerWeight, l+h*w.slope, high-w.y0)
		m.add(rule.outerWeight, l+rule.outer*w.slope, highest-w.y0)
	}
	w.meanR, w.varR, w.covLR = m.finish()
	return true
}

// linearPart returns the first-order change of f at x.
func (w *propagation) linearPart(x []float64) float64 {
	l := 0.0
	for j := range x {
		l += w.c[j] * (x[j] - w.inputs[j].Value)
	}
	return l
}

// moments gathers the linear part l of f and what f has beside it.
type moments struct{ weight, l, r, rr, lr float64 }

func (m *moments) add(weight, l, f float64) {
	r := f - l
	m.weight += weight
	m.l += weight * l
	m.r += weight * r
	m.rr += weight * r * r
	m.lr += weight * l * r
}

func (m *moments) finish() (mean, variance, covariance float64) {
	l, r := m.l/m.weight, m.r/m.weight
	return r, m.rr/m.weight - r*r, m.lr/m.weight - l*r
}

// result starts a Result with the moments.
func (w *propagation) result(opt Options) Result {
	variance := w.varR + 2*w.covLR
	for i, in := range w.inputs {
		if cu := w.c[i] * in.U; cu != 0 {
			variance += cu * cu * in.Dist.variance(in.Nu())
		}
	}
	return Result{
		Y:      w.y0 + w.meanR,
		U:      math.Sqrt(max(variance, 0)),
		P:      opt.P,
		Points: len(w.middle),
	}
}

// integrated finds the interval by the distribution function.
func (w *propagation) integrated(opt Options) (Result, error) {
	r := w.result(opt)
	r.Method = fmt.Sprintf("%d Sobol points, %s integrated analytically", r.Points, w.name)
	k := w.scale * StudentQuantile((1+opt.P)/2, w.linear.Dof(0))
	tail := (1 - opt.P) / 2
	r.Low = w.quantile(tail, w.quantile(tail, r.Y-k, w.roughly), w.exactly)
	r.High = w.quantile(1-tail, w.quantile(1-tail, r.Y+k, w.roughly), w.exactly)
	for _, limit := range opt.Limits {
		p, _ := w.exactly(limit)
		r.Below = append(r.Below, p)
	}
	if w.broken {
		return Result{}, errNotFinite
	}
	return r, nil
}

var errNotFinite = fmt.Errorf("the model has no finite value somewhere within reach of its inputs; check the largest uncertainties against the range in which it holds")

// quantile returns the y with distribution function p, by Newton's method within brackets.
func (w *propagation) quantile(p, y float64, cdf func(y float64) (p, density float64)) float64 {
	low, high := math.Inf(-1), math.Inf(1)
	for range 200 {
		got, density := cdf(y)
		if got < p {
			low = y
		} else {
			high = y
		}
		next := y + (p-got)/density
		next = min(max(next, y-3*w.scale), y+3*w.scale)
		if math.Abs(next-y) <= 1e-4*w.scale {
			return next
		}
		if next <= low || next >= high {
			next = low/2 + high/2
		}
		y = next
	}
	return y
}

// roughly returns the distribution function of the output and its density at y, by the first
// inverse.
func (w *propagation) roughly(y float64) (p, density float64) {
	for i := range w.middle {
		s, slope := w.inverse(i, y)
		g, d := w.shape.cdf(s, w.nu)
		p += g
		density += d * slope
	}
	n := float64(len(w.middle))
	return p / n, density / n
}

// exactly is roughly with the inverse solved for.
func (w *propagation) exactly(y float64) (p, density float64) {
	for i := range w.middle {
		s, slope := w.solve(i, y)
		g, d := w.shape.cdf(s, w.nu)
		p += g
		density += d * slope
	}
	n := float64(len(w.middle))
	return p / n, density / n
}

// inverse gives a first value of the s where f is y, and ds/dy.
func (w *propagation) inverse(i int, y float64) (s, slope float64) {
	r := y - w.middle[i]
	return r * (w.rise[i] + w.bend[i]*r), w.rise[i] + 2*w.bend[i]*r
}

// solve finds the s where f is y, and ds/dy, by secants within brackets. Beyond the limit of
// the direction it returns the limit.
func (w *propagation) solve(i int, y float64) (s, slope float64) {
	x := w.linear.x
	low, high := -w.limit, w.limit
	s, slope = w.inverse(i, y)
	s = min(max(s, low), high)
	last, lastR := 0.0, w.middle[i]-y
	for range 100 {
		r := w.at(i, s, x) - y
		if !finite(r) {
			w.broken = true
			return s, slope
		}
		if math.Abs(r) <= 1e-4*w.scale {
			return s - r*slope, slope
		}
		if r != lastR {
			slope = (s - last) / (r - lastR)
		}
		if r < 0 {
			low = s
		} else {
			high = s
		}
		if high-low < 1e-12*w.limit {
			return s, slope
		}
		last, lastR = s, r
		s -= r * slope
		if s >= high {
			s = w.beyond(high, low, last)
		} else if s <= low {
			s = w.beyond(low, high, last)
		}
	}
	return s, slope
}

// beyond is where to look next when a secant leads to the end of the bracket or past it: the
// limit itself if it was not tried, else the middle.
func (w *propagation) beyond(end, other, tried float64) float64 {
	if math.Abs(end) == w.limit && tried != end {
		return end
	}
	return (end + other) / 2
}

// sorted takes the interval from the sorted values of f at the points.
func (w *propagation) sorted(opt Options) (Result, error) {
	var m moments
	n := len(w.inputs)
	for i := range w.middle {
		x := w.x[i*n : (i+1)*n]
		w.middle[i] = w.f(x)
		m.add(1, w.linearPart(x), w.middle[i]-w.y0)
	}
	if !allFinite(w.middle) {
		return Result{}, errNotFinite
	}
	w.meanR, w.varR, w.covLR = m.finish()
	r := w.result(opt)
	r.Method = fmt.Sprintf("%d Sobol points, sorted", r.Points)
	slices.Sort(w.middle)
	r.Low = orderStatistic(w.middle, (1-opt.P)/2)
	r.High = orderStatistic(w.middle, (1+opt.P)/2)
	for _, limit := range opt.Limits {
		k, _ := slices.BinarySearch(w.middle, math.Nextafter(limit, math.Inf(1)))
		r.Below = append(r.Below, float64(k)/float64(len(w.middle)))
	}
	return r, nil
}

// orderStatistic returns the p-quantile of sorted values, linear between them.
func orderStatistic(sorted []float64, p float64) float64 {
	at := p*float64(len(sorted)) - 0.5
	k := min(max(int(math.Floor(at)), 0), len(sorted)-2)
	t := min(max(at-float64(k), 0), 1)
	return sorted[k] + t*(sorted[k+1]-sorted[k])
}

// tables keeps the quantiles of the shapes met so far.
type tables struct {
	list []table
}

type table struct {
	shape  Distribution
	nu     float64
	values []float64
}

// get returns the quantiles of a shape in the middles of count equal steps of probability.
func (t *tables) get(shape Distribution, nu float64, count int) []float64 {
	if shape != StudentT {
		nu = 0
	}
	for _, have := range t.list {
		if have.shape == shape && have.nu == nu {
			return have.values
		}
	}
	values := make([]float64, count)
	for k := range count / 2 {
		q := shape.quantile((float64(k)+0.5)/float64(count), nu)
		values[k], values[count-1-k] = q, -q
	}
	t.list = append(t.list, table{shape, nu, values})
	return values
}
