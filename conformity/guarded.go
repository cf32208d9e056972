package conformity

import "fmt"

// GuardedAcceptance accepts a value inside the limits by the guard band, rejects one outside by
// the guard band and leaves the rest undecided: guarded acceptance on one side and guarded
// rejection on the other.
type GuardedAcceptance struct{ Guard GuardBand }

// Key returns "guarded".
func (GuardedAcceptance) Key() string { return "guarded" }

// Name names the rule and its guard band.
func (r GuardedAcceptance) Name() string {
	return fmt.Sprintf("guarded acceptance and rejection, %v", r.Guard)
}

// Statement is the sentence printed on papers.
func (r GuardedAcceptance) Statement() string {
	return fmt.Sprintf("Pass when the measured value lies inside the limits by the guard band, fail when it lies outside them by the guard band, undecided between; %v (guarded acceptance and guarded rejection, JCGM 106:2012 8.3.2 and 8.3.3; statement with guard band on both sides of the limit, ILAC-G8:09/2019 4.2.3, its two conditional statements taken together as undecided).", r.Guard)
}

// Decide says "pass", "fail" or "undecided".
func (r GuardedAcceptance) Decide(e Estimate, l Limits) (Decision, error) {
	d, reject, err := prepareGuarded(r, r.Guard, e, l)
	if err != nil {
		return d, err
	}
	switch {
	case d.AcceptanceLimits.Contain(e.Value):
		return d.with(Met, "pass", "the measured value lies inside the limits by at least the guard band"), nil
	case outside(e.Value, reject):
		return d.with(NotMet, "fail", "the measured value lies outside the limits by at least the guard band"), nil
	case d.AcceptanceLimits.Empty():
		return d.with(Undecided, "undecided", "the uncertainty is too large for limits so close together, so that no value could be accepted"), nil
	}
	return d.with(Undecided, "undecided", "the measured value lies too near to a limit for its uncertainty"), nil
}

// GuardedBinary accepts a value inside the limits by the guard band and fails every other. A
// fail within the guard band does not say that the requirement is missed, only that meeting it
// was not shown.
type GuardedBinary struct{ Guard GuardBand }

// Key returns "guarded-binary".
func (GuardedBinary) Key() string { return "guarded-binary" }

// Name names the rule and its guard band.
func (r GuardedBinary) Name() string {
	return fmt.Sprintf("guarded acceptance, pass or fail, %v", r.Guard)
}

// Statement is the sentence printed on papers.
func (r GuardedBinary) Statement() string {
	return fmt.Sprintf("Pass when the measured value lies inside the limits by the guard band, fail otherwise; %v. A fail within the guard band says that meeting the requirement was not shown (guarded acceptance, JCGM 106:2012 8.3.2; binary statement with guard band, ILAC-G8:09/2019 4.2.2).", r.Guard)
}

// Decide says "pass" or "fail".
func (r GuardedBinary) Decide(e Estimate, l Limits) (Decision, error) {
	d, _, err := prepareGuarded(r, r.Guard, e, l)
	if err != nil {
		return d, err
	}
	switch {
	case d.AcceptanceLimits.Contain(e.Value):
		return d.with(Met, "pass", "the measured value lies inside the limits by at least the guard band"), nil
	case l.Contain(e.Value):
		d = d.with(NotMet, "fail", "")
		d.Sentence = "Meeting the requirement was not shown: the measured value lies within the limits but inside the guard band, which this rule counts as a fail. The probability that it is met is " + Percent(d.Probability) + "."
		return d, nil
	}
	return d.with(NotMet, "fail", "the measured value lies outside the limits"), nil
}

// NonBinary makes four statements of a guard band on either side of each limit.
type NonBinary struct{ Guard GuardBand }

// Key returns "non-binary".
func (NonBinary) Key() string { return "non-binary" }

// Name names the rule and its guard band.
func (r NonBinary) Name() string { return fmt.Sprintf("non-binary with guard band, %v", r.Guard) }

// Statement is the sentence printed on papers.
func (r NonBinary) Statement() string {
	return fmt.Sprintf("Pass when the measured value lies inside the limits by the guard band, conditional pass when within the limits but inside the guard band, conditional fail when outside the limits by less than the guard band, fail beyond it; %v (guard bands, JCGM 106:2012 8.3; non-binary statement with guard band, ILAC-G8:09/2019 4.2.3).", r.Guard)
}

// Decide says "pass", "conditional pass", "conditional fail" or "fail". Both conditional
// statements leave the outcome undecided.
func (r NonBinary) Decide(e Estimate, l Limits) (Decision, error) {
	d, reject, err := prepareGuarded(r, r.Guard, e, l)
	if err != nil {
		return d, err
	}
	switch {
	case d.AcceptanceLimits.Contain(e.Value):
		return d.with(Met, "pass", "the measured value lies inside the limits by at least the guard band"), nil
	case l.Contain(e.Value):
		return d.with(Undecided, "conditional pass", "the measured value lies within the limits, but nearer to one than the guard band"), nil
	case outside(e.Value, reject):
		return d.with(NotMet, "fail", "the measured value lies outside the limits by at least the guard band"), nil
	}
	return d.with(Undecided, "conditional fail", "the measured value lies outside the limits, but by less than the guard band"), nil
}

// prepareGuarded is prepare with acceptance limits by the guard band; reject are the limits
// at and beyond which a value is rejected.
func prepareGuarded(r Rule, g GuardBand, e Estimate, l Limits) (d Decision, reject Limits, err error) {
	if err := g.check(); err != nil {
		return Decision{}, Limits{}, err
	}
	d, err = prepare(r, e, l)
	if err != nil {
		return d, Limits{}, err
	}
	in, out := g.widths(e, l)
	d.AcceptanceLimits = l.inset(in)
	return d, l.inset(-out), nil
}

// outside reports whether x lies beyond limits or at one of them.
func outside(x float64, l Limits) bool { return x <= l.Lower || x >= l.Upper }
