package conformity

// Outcome is the finding of a decision.
type Outcome uint8

// The outcomes. The zero value is the one that claims nothing.
const (
	Undecided Outcome = iota
	Met
	NotMet
)

// String returns "met", "not met" or "undecided".
func (o Outcome) String() string {
	switch o {
	case Met:
		return "met"
	case NotMet:
		return "not met"
	}
	return "undecided"
}

// Decision is what a rule makes of an estimate and limits.
type Decision struct {
	Outcome          Outcome
	Word             string  // the rule's own word: "pass", "conditional pass", "met", ...
	Probability      float64 // conformance probability, 0 to 1
	AcceptanceLimits Limits  // for the measured value; Empty when none can be accepted
	Sentence         string  // why, for the customer, with the probability
	Rule             string  // key of the rule
}

// Rule is a decision rule.
type Rule interface {
	// Key is the short stable name for records and settings.
	Key() string
	// Name is what people call the rule, with its parameters.
	Name() string
	// Statement is the sentence printed on papers, with the clause of JCGM 106 and the term
	// of ILAC-G8.
	Statement() string
	// Decide applies the rule. Errors: *InputError for estimate and limits,
	// *quantity.RangeError for the parameters of the rule.
	Decide(Estimate, Limits) (Decision, error)
}

// Rules returns the rules with their usual parameters, for choices and for ByKey.
func Rules() []Rule {
	return []Rule{
		SimpleAcceptance{},
		GuardedAcceptance{Factor(1)},
		GuardedBinary{Factor(1)},
		NonBinary{Factor(1)},
		ByProbability{Accept: 0.95, Reject: 0.05},
	}
}

// ByKey returns the rule of Rules with that key.
func ByKey(key string) (Rule, bool) {
	for _, r := range Rules() {
		if r.Key() == key {
			return r, true
		}
	}
	return nil, false
}

// prepare checks what every rule checks and fills what every decision has.
func prepare(r Rule, e Estimate, l Limits) (Decision, error) {
	if err := e.check(); err != nil {
		return Decision{}, err
	}
	if err := l.check(); err != nil {
		return Decision{}, err
	}
	return Decision{Rule: r.Key(), Probability: probability(e.Value, e.U, e.Dof, l), AcceptanceLimits: l}, nil
}

// with returns the decision with its outcome, word and reason.
func (d Decision) with(o Outcome, word, reason string) Decision {
	d.Outcome, d.Word = o, word
	d.Sentence = sentence(o, reason, d.Probability)
	return d
}
