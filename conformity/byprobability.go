package conformity

import (
	"fmt"
	"math"

	"wreath/quantity"
)

// ByProbability decides by the conformance probability itself: met at Accept or more, not met
// at Reject or less. It is the rule for a probability that was computed from another
// distribution than the normal or t, such as a posterior of the fineness.
type ByProbability struct {
	Accept float64 // 0.5 to 1, usually 0.95
	Reject float64 // 0 to 0.5, usually 0.05
}

// Key returns "probability".
func (ByProbability) Key() string { return "probability" }

// Name names the rule and its thresholds.
func (r ByProbability) Name() string {
	return fmt.Sprintf("by probability, %s %% and %s %%", short(100*r.Accept), short(100*r.Reject))
}

// Statement is the sentence printed on papers.
func (r ByProbability) Statement() string {
	return fmt.Sprintf("Met when the probability that the requirement is met is at least %s %%, not met when it is at most %s %%, undecided between (conformance probability, JCGM 106:2012 clause 7, guard band by specific risk, 8.3; non-binary statement with a guard band for an agreed specific risk, ILAC-G8:09/2019 4.2.3).",
		short(100*r.Accept), short(100*r.Reject))
}

// DecideProbability applies the thresholds to a conformance probability computed elsewhere. The
// acceptance limits of the answer are infinite, since none are known for the measured value.
func (r ByProbability) DecideProbability(p float64) (Decision, error) {
	if err := r.check(); err != nil {
		return Decision{}, err
	}
	if err := quantity.CheckRange("conformance probability", p, 0, 1, "", "the decision rules", "A probability is a fraction from 0 to 1."); err != nil {
		return Decision{}, err
	}
	d := Decision{Rule: r.Key(), Probability: p, AcceptanceLimits: Limits{math.Inf(-1), math.Inf(1)}}
	switch {
	case p >= r.Accept:
		return d.with(Met, "met", fmt.Sprintf("the probability reaches the agreed %s %%", short(100*r.Accept))), nil
	case p <= r.Reject:
		return d.with(NotMet, "not met", fmt.Sprintf("the probability is no more than the agreed %s %%", short(100*r.Reject))), nil
	}
	return d.with(Undecided, "undecided", fmt.Sprintf("the probability lies between the agreed %s %% and %s %%", short(100*r.Reject), short(100*r.Accept))), nil
}

// Decide says "met", "not met" or "undecided" by the probability of the estimate.
func (r ByProbability) Decide(e Estimate, l Limits) (Decision, error) {
	prepared, err := prepare(r, e, l)
	if err != nil {
		return prepared, err
	}
	d, err := r.DecideProbability(prepared.Probability)
	if err != nil {
		return d, err
	}
	in, _ := SpecificRisk(1-r.Accept).widths(e, l)
	d.AcceptanceLimits = l.inset(in)
	return d, nil
}

func (r ByProbability) check() error {
	const limit = "the rule by probability"
	if err := quantity.CheckRange("acceptance threshold", r.Accept, 0.5, 1-1e-9, "", limit, "Give the threshold as a fraction: 0.95 for 95 %."); err != nil {
		return err
	}
	return quantity.CheckRange("rejection threshold", r.Reject, 0, math.Nextafter(0.5, 0), "", limit, "Give the threshold as a fraction: 0.05 for 5 %.")
}
