package register

import (
	"fmt"
	"math/big"
	"slices"
	"time"
)

// Identity says when personal data are asked of a customer.
type Identity struct {
	Name       string   `json:"name" doc:"name of the rule"`
	Deals      []string `json:"deals" doc:"kinds of deal that it concerns"`
	CashOnly   bool     `json:"cash_only,omitempty" doc:"true: only what is paid in cash counts"`
	From       *Money   `json:"from,omitempty" doc:"smallest amount that it concerns; every deal when left out"`
	WithinDays int      `json:"within_days,omitempty" doc:"deals of one person within so many days add up; each counts alone when left out"`
	Ask        []string `json:"ask" doc:"what is asked: name, address, born_on, identity_document, contact"`
}

// CashCeiling says that more than an amount may not be paid in cash.
type CashCeiling struct {
	Name       string   `json:"name" doc:"name of the rule"`
	Deals      []string `json:"deals" doc:"kinds of deal that it concerns"`
	Above      Money    `json:"above" doc:"largest amount of cash that is allowed"`
	WithinDays int      `json:"within_days,omitempty" doc:"deals of one person within so many days add up; each counts alone when left out"`
}

// Personal are the fields of personal data that a rule can ask for.
var Personal = []string{"name", "address", "born_on", "identity_document", "contact"}

// Deal is what the rules of identity and cash look at.
type Deal struct {
	Kind     string    `json:"kind"`
	At       time.Time `json:"at"`
	Amount   string    `json:"amount,omitempty"`   // decimal; empty while it is not known
	Currency string    `json:"currency,omitempty"` // of amount and cash
	Cash     string    `json:"cash,omitempty"`     // the part paid in cash; empty for none
}

// Asked says which personal data a deal needs.
type Asked struct {
	Fields  []string // in the order of Personal; empty when nothing is asked
	Because []Reason // the rules that ask
	Unclear []Reason // rules that could not be judged; a person decides whether they ask
}

// Ask tells what is asked of the customer of a deal. earlier are deals of the same person, as far
// as the person is known; those after the deal do not count. A *strictjson.FieldError names an
// amount that cannot be read. Without rules nothing is asked.
func (b *Book) Ask(deal Deal, earlier []Deal) (Asked, error) {
	all, err := b.money(deal, earlier)
	if err != nil {
		return Asked{}, err
	}
	var a Asked
	e, _ := b.At(deal.At)
	fields := map[string]bool{}
	for _, rule := range e.Identity {
		if !slices.Contains(rule.Deals, deal.Kind) {
			continue
		}
		asks, text, unclear := b.applies(rule, all)
		switch {
		case asks:
			a.Because = append(a.Because, Reason{rule.Name, e.Edition, text})
			for _, f := range rule.Ask {
				fields[f] = true
			}
		case unclear:
			a.Unclear = append(a.Unclear, Reason{rule.Name, e.Edition, text})
		}
	}
	for _, f := range Personal {
		if fields[f] {
			a.Fields = append(a.Fields, f)
		}
	}
	return a, nil
}

func (b *Book) applies(rule Identity, deals []money) (asks bool, text string, unclear bool) {
	if rule.From == nil {
		if rule.CashOnly {
			return deals[0].cash.Sign() > 0, "asked for every deal paid in cash", false
		}
		return true, "asked for every deal of this kind", false
	}
	s := b.sum(deals, rule.Deals, rule.From.Currency, rule.CashOnly, rule.WithinDays)
	from, _ := new(big.Rat).SetString(rule.From.Amount) // Lint has read it
	what := "asked from " + rule.From.String()
	if rule.CashOnly {
		what += " in cash"
	}
	if s.total.Cmp(from) >= 0 {
		return true, fmt.Sprintf("%s; here %s", what, s), false
	}
	if s.unclear == "" {
		return false, "", false
	}
	return false, fmt.Sprintf("%s; here %s, and %s", what, s, s.unclear), true
}

// CeilingError says that too much would be paid in cash.
type CeilingError struct{ Reason }

func (e *CeilingError) Error() string {
	return fmt.Sprintf("%s: rule %q of edition %q", e.Text, e.Rule, e.Edition)
}

// Hint says what helps.
func (e *CeilingError) Hint() string {
	return "Pay less in cash, and the rest in another way."
}

// CashAllowed tells whether the cash of a deal may be paid; nil when it may, a *CeilingError when
// it may not. Rules that could not be judged come back as unclear; a person decides.
func (b *Book) CashAllowed(deal Deal, earlier []Deal) (unclear []Reason, err error) {
	all, err := b.money(deal, earlier)
	if err != nil {
		return nil, err
	}
	if all[0].cash.Sign() == 0 {
		return nil, nil
	}
	e, _ := b.At(deal.At)
	for _, rule := range e.CashCeilings {
		if !slices.Contains(rule.Deals, deal.Kind) {
			continue
		}
		s := b.sum(all, rule.Deals, rule.Above.Currency, true, rule.WithinDays)
		above, _ := new(big.Rat).SetString(rule.Above.Amount) // Lint has read it
		text := fmt.Sprintf("at most %s may be paid in cash; here %s", rule.Above, s)
		if s.total.Cmp(above) > 0 {
			return nil, &CeilingError{Reason{rule.Name, e.Edition, text}}
		}
		if s.unclear != "" {
			unclear = append(unclear, Reason{rule.Name, e.Edition, text + ", and " + s.unclear})
		}
	}
	return unclear, nil
}

// money is a deal with its amounts read.
type money struct {
	Deal
	amount *big.Rat // nil while it is not known
	cash   *big.Rat
}

// money reads the amounts of a deal and of the earlier ones; the deal comes first.
func (b *Book) money(deal Deal, earlier []Deal) ([]money, error) {
	var all []money
	for i, d := range append([]Deal{deal}, earlier...) {
		at := func(field string) string {
			if i == 0 {
				return field
			}
			return fmt.Sprintf("earlier[%d].%s", i-1, field)
		}
		if !slices.Contains(Kinds, d.Kind) {
			return nil, bad(at("kind"), hintOf(d.Kind, Kinds), "%q is not known", d.Kind)
		}
		m := money{Deal: d, cash: new(big.Rat)}
		var err error
		if d.Amount != "" {
			if m.amount, err = parseAmount(at("amount"), d.Amount); err != nil {
				return nil, err
			}
		}
		if d.Cash != "" {
			if m.cash, err = parseAmount(at("cash"), d.Cash); err != nil {
				return nil, err
			}
		}
		if d.Amount != "" || d.Cash != "" {
			if err := checkCurrency(at("currency"), d.Currency); err != nil {
				return nil, err
			}
		}
		if m.amount != nil && m.cash.Cmp(m.amount) > 0 {
			return nil, bad(at("cash"), "Check both amounts.", "%s in cash is more than the whole of %s", d.Cash, d.Amount)
		}
		all = append(all, m)
	}
	return all, nil
}

// total is what deals add up to.
type total struct {
	total    *big.Rat
	currency string
	deals    int
	unclear  string // why it may be more
}

func (t total) String() string {
	if t.deals > 1 {
		return fmt.Sprintf("%s in %d linked deals", show(t.total, t.currency), t.deals)
	}
	return show(t.total, t.currency)
}

// sum adds the first deal and those before it within some days, as far as they are of the kinds.
func (b *Book) sum(deals []money, kinds []string, currency string, cash bool, days int) total {
	t := total{total: new(big.Rat), currency: currency}
	day := b.Day(deals[0].At)
	for i, d := range deals {
		linked := days > 0 && slices.Contains(kinds, d.Kind) && !d.At.After(deals[0].At) && day.DaysSince(b.Day(d.At)) <= days
		if i > 0 && !linked {
			continue
		}
		amount := d.amount
		if cash {
			amount = d.cash
		}
		switch {
		case amount == nil:
			t.unclear = "the amount of a deal is not known"
		case amount.Sign() == 0:
		case d.Currency != currency:
			t.unclear = "a deal in " + d.Currency + " is not counted; convert it to " + currency
		default:
			t.total.Add(t.total, amount)
			t.deals++
		}
	}
	return t
}
