package people

import (
	"errors"
	"fmt"
	"math/big"
	"regexp"
	"slices"
	"strings"
	"time"

	"wreath/internal/strictjson"
)

// FourEyes is the house's rule when a second person must witness. It is a dated document: a
// record is judged by the one in force on its day.
type FourEyes struct {
	Format      int           `json:"format" doc:"1"`
	From        string        `json:"from" doc:"first day on which it holds: 2026-03-01"`
	Reason      string        `json:"reason" doc:"why it is so, for those who read it later"`
	OnePerson   bool          `json:"one_person,omitempty" doc:"true at a bench of one: nobody witnesses, and slips say that one person measured and signed"`
	AboveAmount string        `json:"above_amount,omitempty" doc:"a second person is needed when the value is above this: 5000.00"`
	Currency    string        `json:"currency,omitempty" doc:"of above_amount: EUR"`
	Findings    []FindingRule `json:"findings,omitempty" doc:"findings that need a second person whatever the value"`
	Overrides   bool          `json:"overrides,omitempty" doc:"true when a second person is needed wherever somebody overrode a finding or a hold"`
}

// FindingRule is a finding that needs a second person.
type FindingRule struct {
	Outcome string `json:"outcome" doc:"met, not met or undecided"`
	Metal   string `json:"metal,omitempty" doc:"gold, silver, platinum or palladium; any unless said"`
	AboveG  string `json:"above_g,omitempty" doc:"only when the item weighs more than this, in grams: 31.1; any unless said"`
}

// Outcomes and metals that a rule can name.
var (
	outcomes = []string{"met", "not met", "undecided"}
	metals   = []string{"gold", "silver", "platinum", "palladium"}
)

var (
	decimalForm  = regexp.MustCompile(`^[0-9]{1,15}(\.[0-9]{1,9})?$`)
	currencyForm = regexp.MustCompile(`^[A-Z]{3}$`)
)

func decimal(path, text string) (*big.Rat, error) {
	if !decimalForm.MatchString(text) {
		return nil, &strictjson.FieldError{Path: path, Reason: fmt.Sprintf("%q is not an amount", text), Hint: "Write digits and a point, in quotes: 5000.00."}
	}
	r, _ := new(big.Rat).SetString(text) // the form above is always a number
	return r, nil
}

// ReadFourEyes reads a rule as a person writes it.
func ReadFourEyes(data []byte) (FourEyes, error) {
	var f FourEyes
	if err := strictjson.Unmarshal(data, &f); err != nil {
		return f, err
	}
	return f, f.Check()
}

// OnePersonRule is the rule for a bench of one.
func OnePersonRule(from time.Time) FourEyes {
	return FourEyes{Format: 1, From: from.Format(time.DateOnly), Reason: "One person works here.", OnePerson: true}
}

// Check refuses a rule that says nothing, or two things at once.
func (f FourEyes) Check() error {
	bad := func(path, reason, hint string) error {
		return &strictjson.FieldError{Path: path, Reason: reason, Hint: hint}
	}
	if f.Format != 1 {
		return bad("format", fmt.Sprintf("is %d, but 1 is meant", f.Format), "Write 1. Is this document from a newer version of the program?")
	}
	if _, err := time.Parse(time.DateOnly, f.From); err != nil {
		return bad("from", fmt.Sprintf("%q is not a day", f.From), "Write year, month and day: 2026-03-01.")
	}
	if strings.TrimSpace(f.Reason) == "" {
		return bad("reason", "is missing", "Say in a sentence why the rule is so.")
	}
	conditions := f.AboveAmount != "" || f.Currency != "" || len(f.Findings) > 0 || f.Overrides
	switch {
	case f.OnePerson && conditions:
		return bad("one_person", "is true beside conditions for a second person", "Leave out one or the other.")
	case !f.OnePerson && !conditions:
		return bad("", "the rule says neither when a second person is needed nor that there is none", "Give above_amount with currency, findings or overrides; or one_person: true.")
	case (f.AboveAmount == "") != (f.Currency == ""):
		return bad("above_amount", "needs a currency, and a currency needs an amount", `Give both: "above_amount": "5000.00", "currency": "EUR".`)
	case f.Currency != "" && !currencyForm.MatchString(f.Currency):
		return bad("currency", fmt.Sprintf("%q is not a currency code", f.Currency), "Write the three capital letters of ISO 4217: EUR.")
	}
	if f.AboveAmount != "" {
		if _, err := decimal("above_amount", f.AboveAmount); err != nil {
			return err
		}
	}
	for i, r := range f.Findings {
		at := fmt.Sprintf("findings[%d].", i)
		if !slices.Contains(outcomes, r.Outcome) {
			return bad(at+"outcome", fmt.Sprintf("there is no outcome %q", r.Outcome), "Outcomes are "+strings.Join(outcomes, ", ")+".")
		}
		if r.Metal != "" && !slices.Contains(metals, r.Metal) {
			return bad(at+"metal", fmt.Sprintf("there is no metal %q", r.Metal), "Metals are "+strings.Join(metals, ", ")+".")
		}
		if r.AboveG != "" {
			if _, err := decimal(at+"above_g", r.AboveG); err != nil {
				return err
			}
		}
	}
	return nil
}

// ErrNoRule is returned when no rule was in force on a day. The desk then asks for one to be set.
var ErrNoRule = errors.New("no four-eyes rule is in force on that day")

// RuleOn returns the rule in force on a day (2026-03-01): the one with the latest from, and of
// several from the same day the one that stands last.
func RuleOn(rules []FourEyes, day string) (FourEyes, error) {
	if _, err := time.Parse(time.DateOnly, day); err != nil {
		return FourEyes{}, &strictjson.FieldError{Path: "day", Reason: fmt.Sprintf("%q is not a day", day), Hint: "Write year, month and day: 2026-03-01."}
	}
	var found *FourEyes
	for i, r := range rules {
		if r.From <= day && (found == nil || r.From >= found.From) {
			found = &rules[i]
		}
	}
	if found == nil {
		return FourEyes{}, ErrNoRule
	}
	return *found, nil
}

// Signer is a person as named in a record.
type Signer struct{ ID, Name string }

// Facts is what the rule looks at in a record.
type Facts struct {
	MeasuredBy []Signer // everybody who took a reading that counts
	Amount     string   // value in Currency, a decimal; "" when not valued
	Currency   string
	Outcome    string   // met, not met or undecided; "" when nothing was claimed
	Metal      string   // "" when not known
	MassG      string   // mass in grams, a decimal; "" when not known
	Overrides  []string // what was overridden, in words
}

// Need says which signatures a record needs: always one with the meaning approved, and sometimes
// one with the meaning witnessed.
type Need struct {
	Witness   bool
	Because   []string // why a witness is needed, each a clause
	OnePerson bool     // the rule is that of a bench of one
}

// Need tells what the rule asks for. Where the rule needs a fact that is not known, or in
// another currency, it asks for the second person.
func (f FourEyes) Need(facts Facts) (Need, error) {
	n := Need{OnePerson: f.OnePerson}
	if f.OnePerson {
		return n, nil
	}
	if err := f.Check(); err != nil {
		return n, err
	}
	because := func(format string, args ...any) {
		n.Witness = true
		n.Because = append(n.Because, fmt.Sprintf(format, args...))
	}
	if f.AboveAmount != "" && facts.Amount != "" {
		limit, _ := decimal("", f.AboveAmount) // checked above
		amount, err := decimal("amount", facts.Amount)
		switch {
		case err != nil:
			return n, err
		case facts.Currency != f.Currency:
			because("the value is in %s and the limit in %s", facts.Currency, f.Currency)
		case amount.Cmp(limit) > 0:
			because("the value %s %s is above %s %s", facts.Amount, facts.Currency, f.AboveAmount, f.Currency)
		}
	}
	for _, r := range f.Findings {
		if r.Outcome != facts.Outcome || r.Metal != "" && facts.Metal != "" && r.Metal != facts.Metal {
			continue
		}
		what := "the finding is " + r.Outcome
		switch {
		case r.Metal != "" && facts.Metal == "":
			what += " on a metal that is not known"
		case r.Metal != "":
			what += " on " + r.Metal
		}
		if r.AboveG == "" {
			because("%s", what)
			continue
		}
		if facts.MassG == "" {
			because("%s, and the mass is not known", what)
			continue
		}
		limit, _ := decimal("", r.AboveG) // checked above
		mass, err := decimal("mass_g", facts.MassG)
		if err != nil {
			return n, err
		}
		if mass.Cmp(limit) > 0 {
			because("%s of %s g, which is above %s g", what, facts.MassG, r.AboveG)
		}
	}
	if f.Overrides {
		for _, o := range facts.Overrides {
			because("it was overridden: %s", o)
		}
	}
	return n, nil
}

// Standing says where a record stands with its signatures.
type Standing struct {
	Complete  bool
	Missing   []string // what is still needed, and why a given signature does not count; sentences
	Statement string   // to be printed when only one person took part; else ""
}

// OnePersonStatement is printed on what one person alone measured and signed.
const OnePersonStatement = "One person measured and signed."

// Judge holds the signatures given against those needed.
func (n Need) Judge(facts Facts, given []Signature) Standing {
	var st Standing
	missing := func(format string, args ...any) { st.Missing = append(st.Missing, fmt.Sprintf(format, args...)) }
	var approved, witnessed bool
	for _, s := range given {
		if s.Meaning != Approved && s.Meaning != Witnessed && s.Meaning != Declined {
			continue
		}
		switch why := n.discounts(s, facts, given); {
		case why != "":
			missing("The signature of %s with the meaning %s does not count: %s.", s.Name, s.Meaning, why)
		case s.Meaning == Approved:
			approved = true
		case s.Meaning == Witnessed:
			witnessed = true
		case s.Meaning == Declined:
			missing("%s refused the record.", s.Name)
		}
	}
	refused := slices.ContainsFunc(given, func(s Signature) bool { return s.Meaning == Declined && n.discounts(s, facts, given) == "" })
	if !approved {
		missing("A person with the role sign must approve.")
	}
	if n.Witness && !witnessed {
		missing("A second person with the role sign, who neither measured nor approved, must witness, because %s.", strings.Join(n.Because, "; "))
	}
	st.Complete = approved && !refused && (witnessed || !n.Witness)
	if alone(facts, given) {
		st.Statement = OnePersonStatement
	}
	return st
}

// discounts says why a signature does not count, or "".
func (n Need) discounts(s Signature, facts Facts, given []Signature) string {
	switch {
	case !s.by(Sign):
		return "the role sign is needed"
	case s.How == ByToken:
		return "a program cannot sign"
	case s.How.Mark() != "" && !n.OnePerson:
		return "it was given without signing in"
	case s.Meaning != Witnessed:
		return ""
	case measured(facts, s.Person):
		return "who measured cannot witness"
	case slices.ContainsFunc(given, func(o Signature) bool { return o.Person == s.Person && o.Meaning == Approved }):
		return "who approved cannot witness"
	}
	return ""
}

func measured(facts Facts, id string) bool {
	return slices.ContainsFunc(facts.MeasuredBy, func(m Signer) bool { return m.ID == id })
}

func alone(facts Facts, given []Signature) bool {
	who := map[string]bool{}
	for _, m := range facts.MeasuredBy {
		who[m.ID] = true
	}
	for _, s := range given {
		who[s.Person] = true
	}
	return len(who) == 1 && len(given) > 0 && len(facts.MeasuredBy) > 0
}

// CheckSignature refuses a signature that would not count or makes no sense beside those given. It
// looks at determinations only; released is about an item and has no order here.
func (n Need) CheckSignature(s Signature, facts Facts, given []Signature) error {
	a, err := ActionOf(s.Meaning)
	if err != nil {
		return err
	}
	refuse := func(reason, hint string) error { return &Refused{a, s.Name, reason, hint} }
	has := func(id string, m Meaning) bool {
		return slices.ContainsFunc(given, func(o Signature) bool { return (id == "" || o.Person == id) && o.Meaning == m })
	}
	switch {
	case !May(s.Roles, a):
		return refuse(fmt.Sprintf("a signature with the meaning %s is not open to %s", s.Meaning, joinRoles(s.Roles)), "Ask someone with the right role to sign.")
	case s.How == ByToken || s.How == "":
		return refuse("a program cannot sign", "A person signs, in a session.")
	case s.How.Mark() != "" && !n.OnePerson:
		return refuse("signatures need signing in here", "Sign in, or set the rule of a bench of one.")
	case has(s.Person, s.Meaning):
		return refuse("they have signed with this meaning already", "Nothing more is needed of them.")
	case s.Meaning == Measured && !measured(facts, s.Person):
		return refuse("they took no reading of this record", "Only who measured signs with the meaning measured.")
	case s.Meaning == Approved && has("", Declined):
		return refuse("the record was refused", "Correct it: a new record takes its place.")
	case s.Meaning == Approved && has(s.Person, Witnessed):
		return refuse("they witnessed this record, and a witness cannot approve too", "Someone else approves.")
	case s.Meaning == Witnessed && measured(facts, s.Person):
		return refuse("they measured, and who measured cannot witness", "Someone else with the role sign witnesses.")
	case s.Meaning == Witnessed && has(s.Person, Approved):
		return refuse("they approved, and who approved cannot witness", "Someone else with the role sign witnesses.")
	case s.Meaning == Witnessed && !has("", Approved):
		return refuse("nobody has approved yet", "The witness signs second.")
	}
	return nil
}
