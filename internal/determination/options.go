package determination

// Options say how much of an answer is wanted.
type Options struct {
	// MonteCarlo says when the distributions are propagated beside the first-order budget.
	MonteCarlo MonteCarloMode
	// Version of the program goes into the answer.
	Version string
	// NumbersOnly asks of a claim of a metal only what the numbers say of it, its WouldBe or its Result:
	// propagation, figures of fineness, candidates, evidence, doubts, stop rule and next step are left
	// out. Who weighs for somebody never leaves them out; a plan asks a hundred times.
	NumbersOnly bool
}

// MonteCarloMode says when distributions are propagated.
type MonteCarloMode uint8

const (
	// Always propagates for every determination.
	Always MonteCarloMode = iota
	// WhereNeeded leaves it out where the first-order interval is sure to hold (standard
	// uncertainty under 1 %, at least 50 effective degrees of freedom, no large flat input, a
	// liquid's temperature that is well known), and elsewhere takes 256 points in place of 1024:
	// enough for the first digit of u.
	WhereNeeded
)
