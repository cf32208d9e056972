package uncertainty

import (
	"fmt"
	"math"
)

// Budget is the first-order answer for one output (JCGM 100:2008 5.1, G.4).
type Budget struct {
	Y        float64 // the model at the input values
	U        float64 // combined standard uncertainty
	Dof      float64 // effective degrees of freedom, fractional; +Inf where all are known
	P        float64 // coverage probability of K
	K        float64 // coverage factor, both tails of Student's t equal
	Expanded float64 // K U
	Rows     []Row   // in the order of the inputs
}

// Row is one input's line in a budget.
type Row struct {
	Input
	Sensitivity  float64 // ∂y/∂x, in the unit of y per unit of x
	Contribution float64 // |sensitivity| × U, in the unit of y
	Share        float64 // part of the variance of y, 0 to 1
}

// Vector is a model with several outputs: it fills out for one set of input values. It must
// not keep or change x.
type Vector func(x, out []float64)

// FirstOrder returns the budget of f for the coverage probability p (0.95 is usual).
//
// Sensitivities are central differences. An input counts with its standard uncertainty U and
// its degrees of freedom whatever its distribution. The error is an *InputError where an
// input is to blame.
func FirstOrder(inputs []Input, f Model, p float64) (Budget, error) {
	var l Linear
	err := l.Linearise(inputs, func(x, out []float64) { out[0] = f(x) }, 1)
	if err != nil {
		return Budget{}, err
	}
	return l.Budget(0, p)
}

// Linear is a model with one or more outputs, linearised at the values of its inputs. One
// linearisation serves the budgets of all outputs and the covariances between them (JCGM
// 102:2011 6.2). The zero Linear is ready for Linearise, and may be used again for the next
// model: it keeps its memory. Not for use by several goroutines at once.
type Linear struct {
	inputs []Input
	y      []float64 // outputs at the input values
	c      []float64 // sensitivities: those of output o start at o × len(inputs)
	x      []float64
	above  []float64
	below  []float64
}

// Linearise evaluates f at the input values and a small step to each side of each. It keeps
// inputs until the next call.
func (l *Linear) Linearise(inputs []Input, f Vector, outputs int) error {
	if err := checkInputs(inputs); err != nil {
		return err
	}
	l.resize(inputs, outputs)
	for i := range inputs {
		l.x[i] = inputs[i].Value
	}
	f(l.x, l.y)
	if !allFinite(l.y) {
		return fmt.Errorf("the model has no finite value at the values of its inputs")
	}
	for i := range inputs {
		value, h := inputs[i].Value, step(&inputs[i])
		high, low := value+h, value-h
		l.x[i] = high
		f(l.x, l.above)
		l.x[i] = low
		f(l.x, l.below)
		l.x[i] = value
		// At the edge of a model's range one side is enough.
		if !allFinite(l.above) {
			copy(l.above, l.y)
			high = value
		}
		if !allFinite(l.below) {
			copy(l.below, l.y)
			low = value
		}
		if high == low {
			return inputError(inputs, i, "Check the value, or the range in which the model holds.",
				"the model has no finite value near %g %s", value, inputs[i].Unit)
		}
		for o := range outputs {
			l.c[o*len(inputs)+i] = (l.above[o] - l.below[o]) / (high - low)
		}
	}
	return nil
}

// step returns the step of the central difference: the cube root of the machine precision
// times the value, which balances rounding against curvature, but within the range that
// matters, U/100 to U.
func step(in *Input) float64 {
	const cubeRoot = 6.06e-6
	h := cubeRoot * math.Abs(in.Value)
	if in.U > 0 {
		h = min(max(h, in.U/100), in.U)
	}
	h = max(h, 4e-16*math.Abs(in.Value))
	if h == 0 {
		return cubeRoot
	}
	return h
}

func (l *Linear) resize(inputs []Input, outputs int) {
	n := len(inputs)
	need := n + outputs*(n+3)
	memory := l.x[:cap(l.x)]
	if len(memory) < need {
		memory = make([]float64, need)
	}
	l.inputs = inputs
	l.x, memory = memory[:n], memory[n:]
	l.y, memory = memory[:outputs:outputs], memory[outputs:]
	l.above, memory = memory[:outputs:outputs], memory[outputs:]
	l.below, memory = memory[:outputs:outputs], memory[outputs:]
	l.c = memory[:outputs*n]
}

// Y returns an output at the values of the inputs.
func (l *Linear) Y(output int) float64 { return l.y[output] }

// Sensitivity returns ∂y/∂x of an output for an input.
func (l *Linear) Sensitivity(output, input int) float64 {
	return l.sensitivities(output)[input]
}

func (l *Linear) sensitivities(output int) []float64 {
	n := len(l.inputs)
	return l.c[output*n : (output+1)*n]
}

// U returns the combined standard uncertainty of an output.
func (l *Linear) U(output int) float64 { return math.Sqrt(l.Covariance(output, output)) }

// Covariance returns the covariance of two outputs, the variance where they are the same.
func (l *Linear) Covariance(a, b int) float64 {
	ca, cb := l.sensitivities(a), l.sensitivities(b)
	sum := 0.0
	for i := range l.inputs {
		u := l.inputs[i].U
		sum += (ca[i] * u) * (cb[i] * u)
	}
	return sum
}

// Correlation returns the correlation coefficient of two outputs, zero where one of them has
// no uncertainty.
func (l *Linear) Correlation(a, b int) float64 {
	u := l.U(a) * l.U(b)
	if u == 0 {
		return 0
	}
	return l.Covariance(a, b) / u
}

// Dof returns the effective degrees of freedom of an output by the Welch-Satterthwaite
// formula (JCGM 100:2008 G.4.1, eq. G.2b), not truncated; +Inf where all are known.
func (l *Linear) Dof(output int) float64 {
	c := l.sensitivities(output)
	variance, sum := 0.0, 0.0
	for i := range l.inputs {
		v := c[i] * l.inputs[i].U
		v *= v
		variance += v
		sum += v * v / l.inputs[i].Nu()
	}
	if sum == 0 {
		return math.Inf(1)
	}
	return variance * variance / sum
}

// Budget returns the budget of an output for the coverage probability p.
func (l *Linear) Budget(output int, p float64) (Budget, error) {
	if err := checkCoverage(p); err != nil {
		return Budget{}, err
	}
	variance := l.Covariance(output, output)
	b := Budget{
		Y:    l.y[output],
		U:    math.Sqrt(variance),
		Dof:  l.Dof(output),
		P:    p,
		Rows: make([]Row, len(l.inputs)),
	}
	b.K = StudentQuantile((1+p)/2, b.Dof)
	b.Expanded = b.K * b.U
	c := l.sensitivities(output)
	for i := range l.inputs {
		row := &b.Rows[i]
		row.Input = l.inputs[i]
		row.Sensitivity = c[i]
		row.Contribution = math.Abs(c[i] * row.U)
		if variance > 0 {
			row.Share = row.Contribution * row.Contribution / variance
		}
	}
	return b, nil
}

// Low and High are the ends of the coverage interval.
func (b Budget) Low() float64 { return b.Y - b.Expanded }

// High is the upper end of the coverage interval.
func (b Budget) High() float64 { return b.Y + b.Expanded }

func allFinite(x []float64) bool {
	for _, v := range x {
		if !finite(v) {
			return false
		}
	}
	return true
}
