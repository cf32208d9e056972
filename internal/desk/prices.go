package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"wreath/internal/determination"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/store"
	"wreath/internal/value"
)

// pricesSet is the body of an entry.
type pricesSet struct {
	Prices []value.Price `json:"prices"`
}

// SetPrices enters prices of metals, all or none. Their time is when they held, not when they were
// entered.
func (d *Desk) SetPrices(ctx context.Context, by By, prices []value.Price) error {
	if len(prices) == 0 {
		return bad("Give at least one.", "there is no price to enter")
	}
	_, err := d.act(ctx, by, people.SetPrice, prices, func(tx *store.Tx, at time.Time) (draft, error) {
		set := slices.Clone(prices)
		for i := range set {
			set[i].EnteredBy = by.Who.person.ID
			if err := set[i].Check(at); err != nil {
				return draft{}, err
			}
		}
		return draft{kind: "prices-set", subject: "prices", body: pricesSet{set}}, nil
	})
	return err
}

// Prices lists the newest price of each metal and currency.
func (d *Desk) Prices(ctx context.Context, who *Who) (out []value.Price, err error) {
	err = d.look(ctx, who, people.SeePrices, func(tx *store.Tx) error {
		out, err = list[value.Price](tx, "price")
		return err
	})
	return out, err
}

// SetTerms sets what the house pays, as a new version. Earlier versions stay in the log.
func (d *Desk) SetTerms(ctx context.Context, by By, t value.Terms, reason string) (value.Terms, error) {
	e, err := d.act(ctx, by, people.SetTerms, []any{t, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		var before value.Terms
		t.Format, t.Version = value.TermsFormat, 1
		if err := errors.Join(t.Check(), checkTexts(reason)); err != nil {
			return draft{}, err
		}
		seq, err := tx.Get("terms", t.Key, &before)
		if ignoreMissing(err) != nil {
			return draft{}, err
		}
		if err := current("the terms", by.Seen, seq); err != nil {
			return draft{}, err
		}
		t.Version = before.Version + 1
		return draft{kind: "terms-set", subject: "terms", body: reasoned[value.Terms]{t, reason}}, nil
	})
	if err != nil {
		return value.Terms{}, err
	}
	set, err := read[reasoned[value.Terms]](e.Body)
	return set.Is, err
}

// TermsOf lists the terms of the house.
func (d *Desk) TermsOf(ctx context.Context, who *Who) (out []value.Terms, err error) {
	err = d.look(ctx, who, people.SeePrices, func(tx *store.Tx) error {
		out, err = list[value.Terms](tx, "terms")
		return err
	})
	return out, err
}

// Valuing is what is valued: one record, or several as a lot.
type Valuing struct {
	Records   []string      `json:"records"`         // ids or numbers
	Terms     string        `json:"terms,omitempty"` // key; may be left out where there is only one
	NonMetalG value.Decimal `json:"non_metal_g,omitzero"`
	NonMetal  string        `json:"non_metal,omitempty"`
	Pieces    int           `json:"pieces,omitempty"` // weighed together, for one record
	OneMelt   bool          `json:"one_melt,omitempty"`
	Recipes   string        `json:"recipes,omitempty"` // value.MixedScrap or value.OneMaker, for a lot
	Name      string        `json:"name,omitempty"`    // of the lot
}

// valued is the body of an entry.
type valued struct {
	Records []string        `json:"records"` // ids
	Worth   *value.Worth    `json:"worth,omitempty"`
	Lot     *value.LotWorth `json:"lot,omitempty"`
	Name    string          `json:"name,omitempty"`
}

// Value puts a value on a record, by the newest price and the terms of the house.
func (d *Desk) Value(ctx context.Context, by By, v Valuing) (*value.Worth, error) {
	if len(v.Records) != 1 {
		return nil, bad("Several records make a lot.", "a value is put on one record; %d are given", len(v.Records))
	}
	e, err := d.act(ctx, by, people.ValueItem, v, func(tx *store.Tx, at time.Time) (draft, error) {
		ids, items, terms, err := d.valuing(tx, v)
		if err != nil {
			return draft{}, err
		}
		if v.NonMetalG.Sign() != 0 {
			items[0].NonMetalG, items[0].NonMetal = &v.NonMetalG, v.NonMetal
		}
		items[0].Pieces, items[0].OneMelt = v.Pieces, v.OneMelt
		price, err := d.price(tx, items[0].Answer, terms, at)
		if err != nil {
			return draft{}, err
		}
		worth, err := value.Of(items[0], price, terms, at)
		return draft{kind: "item-valued", subject: ids[0], body: valued{Records: ids, Worth: worth}}, err
	})
	if err != nil {
		return nil, err
	}
	done, err := read[valued](e.Body)
	return done.Worth, err
}

// Lot values several records together. Every metal is summed apart.
func (d *Desk) Lot(ctx context.Context, by By, v Valuing) (string, *value.LotWorth, error) {
	if err := checkTexts(v.Name); err != nil {
		return "", nil, err
	}
	id := d.draw("l-")
	e, err := d.act(ctx, by, people.MakeLot, v, func(tx *store.Tx, at time.Time) (draft, error) {
		ids, items, terms, err := d.valuing(tx, v)
		if err != nil {
			return draft{}, err
		}
		prices, err := list[value.Price](tx, "price")
		if err != nil {
			return draft{}, err
		}
		var fitting []value.Price
		for _, metal := range value.Metals {
			if p, found := latest(prices, metal, terms.Currency, at); found {
				fitting = append(fitting, p)
			}
		}
		lot, err := value.OfLot(value.Lot{Items: items, Recipes: v.Recipes}, fitting, terms, at)
		return draft{kind: "lot-made", subject: id, body: valued{Records: ids, Lot: lot, Name: v.Name}}, err
	})
	if err != nil {
		return "", nil, err
	}
	done, err := read[valued](e.Body)
	return e.Subject, done.Lot, err
}

// Estimate is what a sheet would be worth as it stands; nothing of it is kept. It is nil where the house
// has no terms or prices yet, or the density fits no precious metal.
func (d *Desk) Estimate(ctx context.Context, who *Who, id string) (worth *value.Worth, err error) {
	so, err := d.Evaluate(ctx, who, id)
	if err != nil {
		return nil, err
	}
	err = d.look(ctx, who, people.SeePrices, func(tx *store.Tx) error {
		worth = nil
		all, err := list[value.Terms](tx, "terms")
		if err != nil || len(all) != 1 || so.Answer.Fineness == nil {
			return err
		}
		now := d.o.Now()
		price, err := d.price(tx, so.Answer, &all[0], now)
		var none *UserError
		if errors.As(err, &none) {
			return nil
		}
		if err != nil {
			return err
		}
		draft, err := determination.Decode(so.Complete.Document)
		if err != nil {
			return err
		}
		worth, err = value.Of(value.Item{Draft: draft, Answer: so.Answer}, price, &all[0], now)
		return err
	})
	return worth, err
}

// Lots lists the lots that were made.
func (d *Desk) Lots(ctx context.Context, who *Who) (out []LotRow, err error) {
	err = d.look(ctx, who, people.SeePrices, func(tx *store.Tx) error {
		out, err = list[LotRow](tx, "lot")
		return err
	})
	return out, err
}

// LotRow is a lot as it was valued last.
type LotRow struct {
	ID      string          `json:"id"`
	Name    string          `json:"name,omitempty"`
	Records []string        `json:"records"`
	Lot     *value.LotWorth `json:"lot"`
}

// valuing reads what is valued.
func (d *Desk) valuing(tx *store.Tx, v Valuing) (ids []string, items []value.Item, terms *value.Terms, err error) {
	if terms, err = d.terms(tx, v.Terms); err != nil {
		return nil, nil, nil, err
	}
	if len(v.Records) == 0 {
		return nil, nil, nil, bad("Name the records, such as D-000123.", "nothing is named to be valued")
	}
	for _, name := range v.Records {
		s, _, err := d.standing(tx, name)
		if err != nil {
			return nil, nil, nil, err
		}
		if s.SupersededBy != "" {
			return nil, nil, nil, bad("Value that one instead.", "record %s was superseded by %s", s.Number, s.SupersededBy)
		}
		for _, given := range s.Signatures {
			if given.Meaning == people.Declined {
				return nil, nil, nil, bad("Correct it, and value the new record.", "record %s was refused by %s", s.Number, given.Name)
			}
		}
		e, err := tx.Entry(s.Seq)
		if err != nil {
			return nil, nil, nil, err
		}
		r, err := decodeRecord(e)
		if err != nil {
			return nil, nil, nil, err
		}
		item, err := itemOf(r)
		if err != nil {
			return nil, nil, nil, err
		}
		ids, items = append(ids, s.ID), append(items, item)
	}
	return ids, items, terms, nil
}

// itemOf makes a record ready for its value. Records of one station and day share liquid, thermometer
// and balance.
func itemOf(r *record.Record) (value.Item, error) {
	draft, err := determination.Decode(r.Document)
	if err != nil {
		return value.Item{}, fmt.Errorf("record %s: %w", r.Number, err)
	}
	answer, err := read[*determination.Answer](r.Answer)
	if err != nil {
		return value.Item{}, fmt.Errorf("record %s: %w", r.Number, err)
	}
	draft.ID, answer.ID = r.Number, r.Number
	item := value.Item{Draft: draft, Answer: answer}
	if r.Station != nil {
		item.SharedWith = r.Station.Ref().String() + " " + r.Made.Time.UTC().Format(time.DateOnly)
	}
	return item, nil
}

func (d *Desk) terms(tx *store.Tx, key string) (*value.Terms, error) {
	if key != "" {
		t, _, err := get[value.Terms](tx, "terms", key)
		return &t, err
	}
	all, err := list[value.Terms](tx, "terms")
	if err != nil {
		return nil, err
	}
	if len(all) == 0 {
		return nil, bad("Set them first.", "the house has not said yet what it pays: there are no terms")
	}
	if len(all) != 1 {
		return nil, bad("Name the terms.", "the house has %d terms, so it must be said which ones count", len(all))
	}
	return &all[0], nil
}

// price is the newest price of the metal that an answer speaks of.
func (d *Desk) price(tx *store.Tx, a *determination.Answer, terms *value.Terms, at time.Time) (value.Price, error) {
	if a.Fineness == nil {
		return value.Price{}, bad("Measure it again, or send it to an assay.", "the density fits no precious metal, so there is nothing to put a price on")
	}
	prices, err := list[value.Price](tx, "price")
	if err != nil {
		return value.Price{}, err
	}
	p, found := latest(prices, a.Fineness.Metal, terms.Currency, at)
	if !found {
		return p, bad("Enter the price first.", "there is no price of %s in %s", a.Fineness.Metal, terms.Currency)
	}
	return p, nil
}

// latest takes in a price that another machine's clock puts just ahead of this one's.
func latest(prices []value.Price, metal, currency string, at time.Time) (value.Price, bool) {
	return value.Latest(prices, metal, currency, at.Add(value.ClockTolerance))
}
