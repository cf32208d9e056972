package conformity

// SimpleAcceptance accepts a value within the tolerance limits, whatever its uncertainty. Both
// sides share the risk of a wrong decision, which is up to 50 % at a limit.
type SimpleAcceptance struct{}

// Key returns "simple".
func (SimpleAcceptance) Key() string { return "simple" }

// Name returns "simple acceptance".
func (SimpleAcceptance) Name() string { return "simple acceptance" }

// Statement is the sentence printed on papers.
func (SimpleAcceptance) Statement() string {
	return "Pass when the measured value lies within the limits, fail when it does not; the uncertainty is not taken off, and the risk of a wrong decision at a limit is up to 50 % (simple acceptance or shared risk, JCGM 106:2012 8.2; binary statement for simple acceptance, w = 0, ILAC-G8:09/2019 4.2.1)."
}

// Decide says "pass" or "fail".
func (r SimpleAcceptance) Decide(e Estimate, l Limits) (Decision, error) {
	d, err := prepare(r, e, l)
	if err != nil {
		return d, err
	}
	if l.Contain(e.Value) {
		return d.with(Met, "pass", "the measured value lies within the limits"), nil
	}
	return d.with(NotMet, "fail", "the measured value lies outside the limits"), nil
}
