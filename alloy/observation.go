package alloy

import "math"

// Observation is a measured specific volume at 20 °C.
type Observation struct {
	V   float64 // cm³/g
	U   float64 // standard uncertainty of V in cm³/g, of the measurement including the liquid
	Dof float64 // degrees of freedom of U; 0 or +Inf: U is taken as known
}

// valid says whether the observation is a number that can be judged.
func (o Observation) valid() bool {
	return o.V > 0 && !math.IsInf(o.V, 1) && o.U >= 0 && !math.IsInf(o.U, 1) && !(o.Dof < 0) && !math.IsNaN(o.Dof)
}

// likelihood is the density of the observed specific volume when the true one is known up to the
// model's uncertainty: normal, or t when the degrees of freedom are few.
type likelihood struct {
	v      float64
	u2     float64 // variance of the measurement
	m2     float64 // relative variance of the model
	dof    float64 // +Inf: normal
	cut2   float64 // squared distance in standard uncertainties beyond which it is taken as 0
	normal bool
	least  float64 // the least standard uncertainty over the reach, cautiously
	reach  float64 // distance in v beyond which the density is taken as 0, cautiously
}

const (
	normalCut = 5.5 // exp(-5.5²/2) is 3e-7
	manyDof   = 1e4 // from here on t is the normal
)

func newLikelihood(o Observation, modelU float64) likelihood {
	l := shapeOf(o, modelU)
	s := math.Sqrt(l.variance(l.v))
	l.least = 0.96 * s
	l.reach = math.Sqrt(l.cut2) * s
	return l
}

func shapeOf(o Observation, modelU float64) likelihood {
	l := likelihood{v: o.V, u2: o.U * o.U, m2: modelU * modelU, dof: o.Dof, normal: true, cut2: normalCut * normalCut}
	if o.Dof == 0 || math.IsInf(o.Dof, 1) || o.U == 0 {
		l.dof = math.Inf(1)
		return l
	}
	least := l.effectiveDof(l.variance(l.v))
	if least >= manyDof {
		return l
	}
	l.normal = false
	l.cut2 = max(l.cut2, least*(math.Pow(1e9, 2/(least+1))-1)) // where the density is 1e-9 of its peak
	return l
}

// variance returns the variance at a true specific volume.
func (l *likelihood) variance(v float64) float64 { return l.u2 + l.m2*v*v }

// effectiveDof returns the degrees of freedom of a total variance of which only the part of the
// measurement is uncertain (Welch-Satterthwaite, JCGM 100:2008 G.4).
func (l *likelihood) effectiveDof(variance float64) float64 {
	ratio := variance / l.u2
	return l.dof * ratio * ratio
}

// at returns the density in g/cm³ for a true specific volume with a total variance.
func (l *likelihood) at(v, variance float64) float64 {
	d := l.v - v
	z2 := d * d / variance
	if z2 > l.cut2 {
		return 0
	}
	if l.normal {
		return bell(z2) / math.Sqrt(2*math.Pi*variance)
	}
	nu := min(l.effectiveDof(variance), manyDof)
	return tPeak(nu) * math.Exp(-(nu+1)/2*math.Log1p(z2/nu)) / math.Sqrt(variance)
}

// tPeak returns the density of Student's t at 0, Γ((ν+1)/2) / (Γ(ν/2) √(νπ)), from the
// recurrence of Γ and the series of the ratio for large arguments (Abramowitz and Stegun 6.1.47).
func tPeak(nu float64) float64 {
	ratio := nu / (nu + 1) * (nu + 2) / (nu + 3)
	n := nu + 4
	series := 1 - 1/(4*n) + 1/(32*n*n) + 5/(128*n*n*n) - 21/(2048*n*n*n*n)
	return ratio * math.Sqrt(n/2) * series / math.Sqrt(nu*math.Pi)
}

// widestCell is how far apart nodes may lie, in standard uncertainties. Beyond it the likelihood
// is averaged over the cell, or the sum over nodes would depend on where they happen to lie.
const widestCell = 1.5

// overNodes returns the density averaged over ascending quantile nodes with their weights.
func (l *likelihood) overNodes(nodes []float32, weights []float64) float64 {
	last := len(nodes) - 1
	if last == 0 {
		v := float64(nodes[0])
		return weights[0] * l.at(v, l.variance(v))
	}
	weights = weights[:len(nodes)]
	sum := 0.0
	before := nodes[0] - (nodes[1] - nodes[0]) // an end stands for the whole way to its neighbour
	for k, node := range nodes {
		after := node + (node - nodes[max(k-1, 0)])
		if k < last {
			after = nodes[k+1]
		}
		v := float64(node)
		variance := l.variance(v)
		low, high := float64(before+node)/2, float64(node+after)/2
		before = node
		if cell := high - low; cell*cell > widestCell*widestCell*variance {
			sum += weights[k] * l.overCell(low, high, variance)
		} else if d := l.v - v; d*d <= l.cut2*variance {
			sum += weights[k] * l.at(v, variance)
		}
	}
	return sum
}

// overCell returns the density averaged over true specific volumes from low to high. For t the
// variance of the cell is added instead, which is as good where few degrees of freedom matter:
// there the measurement is broad.
func (l *likelihood) overCell(low, high, variance float64) float64 {
	if !l.normal {
		cell := high - low
		return l.at((low+high)/2, variance+cell*cell/12)
	}
	s := math.Sqrt(variance)
	from, to := (low-l.v)/s, (high-l.v)/s
	if from > normalCut || to < -normalCut {
		return 0
	}
	return (math.Erfc(from/math.Sqrt2) - math.Erfc(to/math.Sqrt2)) / (2 * (high - low))
}

// overRow returns the density over the usual recipes of one row of a table.
func (l *likelihood) overRow(t *table, i int) float64 {
	nodes := t.row(i)[:t.usual]
	if !l.normal || t.usual == 1 || float64(t.widest[i]) > widestCell*l.least {
		return l.overNodes(nodes, t.usualWeights)
	}
	return l.overCloseNodes(nodes, t.usualWeights)
}

// overCloseNodes is overNodes for a normal likelihood and nodes that lie close: the hot path of
// every determination. The standard uncertainty hardly changes over the reach of one observation,
// so its powers are taken from a series around the observation.
func (l *likelihood) overCloseNodes(nodes []float32, weights []float64) float64 {
	weights = weights[:len(nodes)]
	variance := l.variance(l.v)
	perVariance := 1 / variance
	modelShare := l.m2 * perVariance
	reach := l.reach
	sum := 0.0
	for k, node := range nodes {
		v := float64(node)
		d := l.v - v
		if d > reach {
			continue
		}
		if d < -reach {
			break
		}
		x := modelShare * d * (v + l.v) // variance = variance at l.v × (1 - x), |x| under 0.05
		z2 := d * d * perVariance * (1 + x*(1+x*(1+x)))
		sum += weights[k] * bell(z2) * (1 + x*(1./2+x*(3./8+x*5./16)))
	}
	return sum * math.Sqrt(perVariance/(2*math.Pi))
}

// bellStep is the spacing of the table of bell, in z².
const bellStep = 1. / 16

// bellTable holds exp(-t/2) at multiples of bellStep, as far as any observation reaches.
var bellTable = func() (table [64 / bellStep]float64) {
	for i := range table {
		table[i] = math.Exp(-float64(i) * bellStep / 2)
	}
	return table
}()

// bell returns exp(-z²/2) for 0 <= z² < 64, to 5e-8 of itself.
func bell(z2 float64) float64 {
	i := int(z2 * (1 / bellStep))
	d := z2*0.5 - float64(i)*(bellStep/2)
	return bellTable[i&(len(bellTable)-1)] * (1 - d*(1-d*(1./2-d*(1./6))))
}
