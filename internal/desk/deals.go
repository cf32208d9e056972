package desk

import (
	"cmp"
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

	// When the rules of that day let the items go, by what is done with them. Rules that are changed
	// later can't bring that forward.
	Holds map[string]register.Release `json:"holds,omitempty"`

	// How and from where its number was counted, so that a list can be searched for gaps.
	Numbering register.Numbering `json:"numbering"`
	Counter   register.Counter   `json:"counter"`
	Place     int64              `json:"place"` // in the register, from 1, whatever the numbering
}

// MaxDealItems is how many items one deal may have; chosen here.
const MaxDealItems = 1000

// dealEntry is the body of a deal's entry.
type dealEntry struct {
	Deal Deal `json:"deal"`
}

// last is where the register stands: the last deal's counter and place.
type last struct {
	Counter register.Counter `json:"counter"`
	Place   int64            `json:"place"`
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
		seq, err := tx.Get("register-rules", "register-rules", new(register.Rules))
		if ignoreMissing(err) != nil {
			return draft{}, err
		}
		if err := errors.Join(current("the register rules", by.Seen, seq), checkTexts(reason)); err != nil {
			return draft{}, err
		}
		return draft{kind: "register-rules-set", subject: "register-rules", body: reasoned[register.Rules]{rules, reason}}, nil
	})
	return err
}

// RegisterRules reads the rules in force; without any they say that there are none.
func (d *Desk) RegisterRules(ctx context.Context, who *Who) (rules register.Rules, err error) {
	err = d.look(ctx, who, people.SeeRules, func(tx *store.Tx) error {
		book, err := d.book(tx)
		if err == nil {
			rules = book.Rules()
		}
		return err
	})
	return rules, err
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
		if err == nil && c.Erased != nil {
			err = erased(*c.Erased)
		}
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
// must be entered with them first. An item that is sold is gone with this one act.
func (d *Desk) Register(ctx context.Context, by By, deal Deal) (Deal, error) {
	given := deal
	e, err := d.act(ctx, by, people.RegisterDeal, given, func(tx *store.Tx, at time.Time) (_ draft, err error) {
		deal := given
		deal.Format, deal.At, deal.Void, deal.Closed = 1, at, "", nil
		if !slices.Contains(register.Kinds, deal.Kind) {
			return draft{}, bad("Use buy, sell, exchange, pledge, consign or measure-only.", "%q is no kind of deal", deal.Kind)
		}
		if err := checkTexts(deal.Note); err != nil {
			return draft{}, err
		}
		if deal.Items, err = d.dealItems(tx, deal, at); err != nil {
			return draft{}, err
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
		if err := d.number(tx, &deal, at); err != nil {
			return draft{}, err
		}
		if deal.Holds, err = d.holds(tx, deal); err != nil {
			return draft{}, err
		}
		return draft{kind: "deal-registered", subject: deal.Number, body: dealEntry{deal}}, nil
	})
	if err != nil {
		return Deal{}, err
	}
	entered, err := read[dealEntry](e.Body)
	return entered.Deal, err
}

// dealItems finds the items of a deal, by name or barcode, and refuses what is not there to be dealt with.
func (d *Desk) dealItems(tx *store.Tx, deal Deal, at time.Time) (ids []string, err error) {
	switch {
	case len(deal.Items) == 0:
		return nil, bad("Enter the item first.", "a deal is about at least one item")
	case len(deal.Items) > MaxDealItems:
		return nil, bad("Enter them as one lot or bag, with its parts.", "a deal has at most %d items, this one has %d", MaxDealItems, len(deal.Items))
	}
	for _, name := range deal.Items {
		i, _, err := itemNamed(tx, name)
		if err != nil {
			return nil, err
		}
		if slices.Contains(ids, i.ID) {
			return nil, bad("Name each item once.", "the item %s is named twice", i.ID)
		}
		if deal.Kind == "sell" {
			err = d.sellable(tx, i, at)
		} else {
			err = enters(tx, i)
		}
		if err != nil {
			return nil, err
		}
		ids = append(ids, i.ID)
	}
	return ids, nil
}

// holds are the ends of the holds that a deal begins.
func (d *Desk) holds(tx *store.Tx, deal Deal) (map[string]register.Release, error) {
	book, err := d.book(tx)
	if err != nil {
		return nil, err
	}
	var out map[string]register.Release
	for _, action := range register.Actions {
		if release, held := book.Release(action, deal.Kind, deal.At); held {
			if out == nil {
				out = map[string]register.Release{}
			}
			out[action] = release
		}
	}
	return out, nil
}

// sellable refuses the sale of an item that is held, or gone already. One that was moved out as sold,
// with an override of its hold, still gets its deal.
func (d *Desk) sellable(tx *store.Tx, i Item, at time.Time) error {
	switch {
	case i.Sale != "":
		return bad("Void that deal first, if it came to nothing.", "the item %s was sold by deal %s", i.ID, i.Sale)
	case i.Gone == "sold":
		return nil
	case i.Gone != "":
		return bad("Look at its history.", "the item %s is %s", i.ID, i.Gone)
	}
	if err := stillHere(tx, i); err != nil {
		return err
	}
	return d.free(tx, "sell", i, at, nil)
}

// enters refuses an item that is not here, or that came by another deal which still stands. What was
// only measured can be bought afterwards, and so can what a closed deal, such as a pledge, left here.
func enters(tx *store.Tx, i Item) error {
	if i.Gone != "" {
		return bad("Enter it as a new item when it comes again.", "the item %s is %s", i.ID, i.Gone)
	}
	if err := stillHere(tx, i); err != nil || i.Deal == "" {
		return err
	}
	before, _, err := get[Deal](tx, "deal", i.Deal)
	if err == nil && before.Kind != "measure-only" && before.Closed == nil {
		err = bad("Void that deal first, if it came to nothing, or close it when it has ended.", "the item %s belongs to deal %s already", i.ID, i.Deal)
	}
	return err
}

// number gives a deal its place and number, in the transaction that stores it.
func (d *Desk) number(tx *store.Tx, deal *Deal, at time.Time) error {
	book, err := d.book(tx)
	if err != nil {
		return err
	}
	var before last
	if _, err := tx.Get("counter", "deal", &before); ignoreMissing(err) != nil {
		return err
	}
	if deal.Number, deal.Counter, err = book.Next(before.Counter, at); err != nil {
		return err
	}
	// Rules that were replaced may have given the number before.
	if _, err := tx.Get("deal", deal.Number, new(Deal)); err == nil {
		return bad("Let the rules number with another letter or with the year.", "the number %s was given already", deal.Number)
	} else if ignoreMissing(err) != nil {
		return err
	}
	deal.Numbering, deal.Place = book.NumberingAt(at), before.Place+1
	return nil
}

// identified refuses a deal whose customer lacks what the rules ask.
func (d *Desk) identified(tx *store.Tx, deal Deal, asked register.Asked) error {
	if len(asked.Fields) == 0 {
		return nil
	}
	why := reasonTexts(asked.Because)
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
	return d.onDeal(ctx, by, "deal-voided", number, reason, func(tx *store.Tx, deal *Deal, at time.Time) error {
		switch {
		case deal.Void != "":
			return bad("Nothing is left to do.", "deal %s is void already", number)
		case deal.Closed != nil:
			return bad("Enter what happened as a new deal.", "deal %s is closed, so something came of it", number)
		}
		for _, id := range deal.Items {
			i, _, err := get[Item](tx, "item", id)
			if err != nil {
				return err
			}
			if deal.Kind != "sell" && i.Gone != "" && i.Gone != "returned" {
				return bad("Close it instead.", "the item %s is %s, so something came of deal %s", id, i.Gone, number)
			}
		}
		deal.Void, deal.Closed = reason, &at
		return nil
	})
}

// CloseDeal notes that what came of a deal has ended: sold, redeemed or returned.
func (d *Desk) CloseDeal(ctx context.Context, by By, number, reason string) error {
	if reason == "" {
		return bad("Say how it ended: sold, redeemed or returned.", "closing a deal needs a reason")
	}
	return d.onDeal(ctx, by, "deal-closed", number, reason, func(_ *store.Tx, deal *Deal, at time.Time) error {
		if deal.Void != "" {
			return bad("Nothing is left to do.", "deal %s is void", number)
		}
		if deal.Closed != nil {
			return bad("Nothing is left to do.", "deal %s is closed already", number)
		}
		deal.Closed = &at
		return nil
	})
}

func (d *Desk) onDeal(ctx context.Context, by By, kind, number, reason string, change func(*store.Tx, *Deal, time.Time) error) error {
	_, err := d.act(ctx, by, people.RegisterDeal, []any{kind, number, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		deal, seq, err := get[Deal](tx, "deal", number)
		if err == nil {
			err = current("the deal", by.Seen, seq)
		}
		if err == nil {
			err = checkTexts(reason)
		}
		if err == nil {
			err = change(tx, &deal, at)
		}
		return draft{kind: kind, subject: number, body: reasoned[Deal]{deal, reason}}, err
	})
	return err
}

// Book lists the register in the order in which the deals were made, and what a register without gaps
// does not have.
func (d *Desk) Book(ctx context.Context, who *Who) (deals []Deal, faults []register.Fault, err error) {
	err = d.look(ctx, who, people.SeePrices, func(tx *store.Tx) error {
		if deals, err = list[Deal](tx, "deal"); err != nil {
			return err
		}
		var end last
		if _, err := tx.Get("counter", "deal", &end); ignoreMissing(err) != nil {
			return err
		}
		faults, err = gaps(deals, end)
		return err
	})
	return deals, faults, err
}

// gaps puts deals in their order and searches each stretch of one numbering for what is not there.
func gaps(deals []Deal, end last) (faults []register.Fault, err error) {
	slices.SortStableFunc(deals, func(a, b Deal) int { return cmp.Compare(a.Place, b.Place) })
	var start register.Counter
	for from := 0; from < len(deals); {
		n := deals[from].Numbering
		to := from
		var given []register.Given
		for ; to < len(deals) && deals[to].Numbering == n; to++ {
			given = append(given, register.Given{Number: deals[to].Number, Void: deals[to].Void != "", VoidReason: deals[to].Void})
		}
		until := deals[to-1].Counter
		if to == len(deals) {
			until = end.Counter
		}
		found, err := n.Gaps(given, start, until)
		if err != nil {
			return nil, err
		}
		faults, start, from = append(faults, found...), until, to
	}
	return faults, nil
}
