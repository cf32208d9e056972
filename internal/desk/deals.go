package desk

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"wreath/internal/people"
	"wreath/internal/register"
	"wreath/internal/store"
)

// Deal is one line of the register.
type Deal struct {
	Format   int        `json:"format"`
	Number   string     `json:"number"` // by the register rules, without gaps
	Kind     string     `json:"kind" doc:"buy, sell, exchange, pledge, consign or measure-only"`
	At       time.Time  `json:"at"`
	Items    []string   `json:"items"`
	Customer string     `json:"customer,omitempty"`
	Amount   string     `json:"amount,omitempty" doc:"decimal"`
	Currency string     `json:"currency,omitempty"`
	Cash     string     `json:"cash,omitempty" doc:"the part paid in cash, a decimal"`
	Note     string     `json:"note,omitempty"`
	Asked    []string   `json:"asked,omitempty"` // what the rules asked of the customer
	Unclear  []string   `json:"unclear,omitempty"`
	Void     string     `json:"void,omitempty"` // why it came to nothing; its number stays used
	Closed   *time.Time `json:"closed,omitempty"`
}

// dealEntry is the body of a deal's entry: the deal and the counter that its number came from.
type dealEntry struct {
	Deal    Deal             `json:"deal"`
	Counter register.Counter `json:"counter"`
}

// book are the register rules in force; without any, nothing is asked and nothing is held.
func (d *Desk) book(tx *store.Tx) (*register.Book, error) {
	var rules register.Rules
	_, err := tx.Get("register-rules", "register-rules", &rules)
	if errors.Is(err, store.ErrNotFound) {
		shop, _, err := get[Shop](tx, shopKind, shopID)
		if err != nil {
			return nil, err
		}
		return register.New(register.None(shop.TimeZone))
	}
	if err != nil {
		return nil, err
	}
	return register.New(rules)
}

// SetRegisterRules sets the rules by which the register is kept. Earlier ones stay in the log.
func (d *Desk) SetRegisterRules(ctx context.Context, by By, rules register.Rules, reason string) error {
	if _, err := register.New(rules); err != nil {
		return err
	}
	_, err := d.act(ctx, by, people.SetRegisterRule, []any{rules, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		return draft{kind: "register-rules-set", subject: "register-rules", body: reasoned[register.Rules]{rules, reason}}, nil
	})
	return err
}

// AskedOf tells before a deal what the rules will ask of the customer.
func (d *Desk) AskedOf(ctx context.Context, who *Who, deal Deal) (asked register.Asked, err error) {
	err = d.look(ctx, who, people.SeePrices, func(tx *store.Tx) error {
		if deal.At.IsZero() {
			deal.At = d.o.Now()
		}
		asked, _, err = d.ask(tx, deal)
		return err
	})
	return asked, err
}

func (d *Desk) ask(tx *store.Tx, deal Deal) (register.Asked, []register.Reason, error) {
	book, err := d.book(tx)
	if err != nil {
		return register.Asked{}, nil, err
	}
	var earlier []register.Deal
	if deal.Customer != "" {
		c, _, err := get[Customer](tx, "customer", deal.Customer)
		if err != nil {
			return register.Asked{}, nil, err
		}
		for _, number := range c.Deals {
			e, _, err := get[Deal](tx, "deal", number)
			if err != nil {
				return register.Asked{}, nil, err
			}
			if e.Void == "" {
				earlier = append(earlier, e.rules())
			}
		}
	}
	asked, err := book.Ask(deal.rules(), earlier)
	if err != nil {
		return asked, nil, err
	}
	unclear, err := book.CashAllowed(deal.rules(), earlier)
	return asked, unclear, err
}

func (deal Deal) rules() register.Deal {
	return register.Deal{Kind: deal.Kind, At: deal.At, Amount: deal.Amount, Currency: deal.Currency, Cash: deal.Cash}
}

// Register enters a deal under the next number. Where the rules ask for personal data, the customer
// must be entered with them first.
func (d *Desk) Register(ctx context.Context, by By, deal Deal) (Deal, error) {
	e, err := d.act(ctx, by, people.EnterCustomer, deal, func(tx *store.Tx, at time.Time) (draft, error) {
		deal.Format, deal.At, deal.Void, deal.Closed = 1, at, "", nil
		if !slices.Contains(register.Kinds, deal.Kind) {
			return draft{}, bad("Use buy, sell, exchange, pledge, consign or measure-only.", "%q is no kind of deal", deal.Kind)
		}
		if len(deal.Items) == 0 {
			return draft{}, bad("Enter the item first.", "a deal is about at least one item")
		}
		for _, id := range deal.Items {
			i, _, err := get[Item](tx, "item", id)
			if err != nil {
				return draft{}, err
			}
			if i.Deal != "" {
				return draft{}, bad("Void that deal first, if it came to nothing.", "the item %s belongs to deal %s already", id, i.Deal)
			}
		}
		asked, unclear, err := d.ask(tx, deal)
		if err != nil {
			return draft{}, err
		}
		deal.Asked, deal.Unclear = asked.Fields, nil
		for _, r := range append(asked.Unclear, unclear...) {
			deal.Unclear = append(deal.Unclear, r.Text)
		}
		if err := d.identified(tx, deal, asked); err != nil {
			return draft{}, err
		}
		book, err := d.book(tx)
		if err != nil {
			return draft{}, err
		}
		var counter register.Counter
		if _, err := tx.Get("counter", "deal", &counter); ignoreMissing(err) != nil {
			return draft{}, err
		}
		if deal.Number, counter, err = book.Next(counter, at); err != nil {
			return draft{}, err
		}
		return draft{kind: "deal-registered", subject: deal.Number, body: dealEntry{deal, counter}}, nil
	})
	if err != nil {
		return Deal{}, err
	}
	entered, err := read[dealEntry](e.Body)
	return entered.Deal, err
}

// identified refuses a deal whose customer lacks what the rules ask.
func (d *Desk) identified(tx *store.Tx, deal Deal, asked register.Asked) error {
	if len(asked.Fields) == 0 {
		return nil
	}
	why := ""
	for _, r := range asked.Because {
		why += " " + r.Text
	}
	if deal.Customer == "" {
		return bad("Enter the customer first.", "this deal needs to know the customer:%s", why)
	}
	versions, custody, err := d.sealed(tx, deal.Customer)
	if err != nil {
		return err
	}
	p, err := custody.Open(versions[len(versions)-1].Sealed)
	if err != nil {
		return err
	}
	if missing := p.Missing(asked.Fields); len(missing) > 0 {
		return bad("Complete the customer's data.", "this deal needs more of the customer (%s):%s", strings.Join(missing, ", "), why)
	}
	return nil
}

// VoidDeal notes that a deal came to nothing. Its number is never used again.
func (d *Desk) VoidDeal(ctx context.Context, by By, number, reason string) error {
	if reason == "" {
		return bad("Say why, in a few words.", "a void needs a reason")
	}
	return d.onDeal(ctx, by, "deal-voided", number, reason, func(deal *Deal, at time.Time) error {
		if deal.Void != "" {
			return bad("Nothing is left to do.", "deal %s is void already", number)
		}
		deal.Void, deal.Closed = reason, &at
		return nil
	})
}

// CloseDeal notes that what came of a deal has ended: sold, redeemed or returned.
func (d *Desk) CloseDeal(ctx context.Context, by By, number, reason string) error {
	return d.onDeal(ctx, by, "deal-closed", number, reason, func(deal *Deal, at time.Time) error {
		if deal.Closed != nil {
			return bad("Nothing is left to do.", "deal %s is closed already", number)
		}
		deal.Closed = &at
		return nil
	})
}

func (d *Desk) onDeal(ctx context.Context, by By, kind, number, reason string, change func(*Deal, time.Time) error) error {
	_, err := d.act(ctx, by, people.EnterCustomer, []any{kind, number, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		deal, _, err := get[Deal](tx, "deal", number)
		if err == nil {
			err = change(&deal, at)
		}
		return draft{kind: kind, subject: number, body: reasoned[Deal]{deal, reason}}, err
	})
	return err
}

// Book lists the register, and what a register without gaps does not have.
func (d *Desk) Book(ctx context.Context, who *Who) (deals []Deal, faults []register.Fault, err error) {
	err = d.look(ctx, who, people.SeePrices, func(tx *store.Tx) error {
		if deals, err = list[Deal](tx, "deal"); err != nil {
			return err
		}
		book, err := d.book(tx)
		if err != nil {
			return err
		}
		var end register.Counter
		if _, err := tx.Get("counter", "deal", &end); ignoreMissing(err) != nil {
			return err
		}
		var given []register.Given
		for _, deal := range deals {
			given = append(given, register.Given{Number: deal.Number, Void: deal.Void != "", VoidReason: deal.Void})
		}
		faults, err = book.NumberingAt(d.o.Now()).Gaps(given, register.Counter{}, end)
		return err
	})
	return deals, faults, err
}
