package uncertainty

import "math"

// Distribution is the shape assigned to an input.
type Distribution uint8

// The distributions of JCGM 101:2008 6.4 that the inputs of a weighing need.
const (
	Normal      Distribution = iota // U is the standard deviation
	StudentT                        // scaled and shifted t with Dof degrees of freedom, which it needs; U is its scale (JCGM 101 6.4.9)
	Rectangular                     // half-width U·√3
	Triangular                      // half-width U·√6
	Arcsine                         // U-shaped, half-width U·√2
)

// String names the distribution as it is printed in a budget.
func (d Distribution) String() string {
	switch d {
	case Normal:
		return "normal"
	case StudentT:
		return "t"
	case Rectangular:
		return "rectangular"
	case Triangular:
		return "triangular"
	case Arcsine:
		return "arcsine"
	}
	return "unknown"
}

// Input is one input quantity of a model. Value and U are in Unit, whatever the model wants.
type Input struct {
	Name  string
	Unit  string
	Value float64
	U     float64 // standard uncertainty
	Dist  Distribution
	Dof   float64 // degrees of freedom of U; 0 or +Inf: taken as known
}

// Nu returns the degrees of freedom, +Inf where none are stated.
func (in Input) Nu() float64 {
	if in.Dof <= 0 {
		return math.Inf(1)
	}
	return in.Dof
}

// Model is a measurement model: the output for one set of input values, in the order of the
// inputs. It must not keep or change x and must be safe for concurrent use.
type Model func(x []float64) float64
