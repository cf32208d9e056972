package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"wreath/internal/people"
	"wreath/internal/register"
	"wreath/internal/store"
	"wreath/internal/vault"
)

// Customer is what the log knows of a customer: nothing that tells who it is.
type Customer struct {
	Format      int                `json:"format"`
	ID          string             `json:"id"`
	Version     int                `json:"version"`
	Commitments []vault.Commitment `json:"commitments"` // of each version
	Since       []time.Time        `json:"since"`
	Deals       []string           `json:"deals,omitempty"`
	Erased      *vault.Erasure     `json:"erased,omitempty"`
	KeptBy      []string           `json:"kept_by,omitempty"` // references of the authorities that stopped an erasure
}

// EnterCustomer keeps a customer's data, sealed with a key of its own, and gives the name by which
// the log knows the customer.
func (d *Desk) EnterCustomer(ctx context.Context, by By, p vault.Person) (string, error) {
	if err := checkPerson(p); err != nil {
		return "", err
	}
	id := d.draw("c-")
	key, err := vault.NewKey(d.o.Random)
	if err != nil {
		return "", err
	}
	sealed, err := vault.Seal(d.o.Random, key, id, 1, p)
	if err != nil {
		return "", err
	}
	e, err := d.act(ctx, by, people.EnterCustomer, d.blind(by, p), func(tx *store.Tx, at time.Time) (draft, error) {
		body := Customer{Format: 1, ID: id, Version: 1, Commitments: []vault.Commitment{sealed.Commitment}, Since: []time.Time{at}}
		return draft{kind: "customer-entered", subject: id, body: body}, errors.Join(
			tx.PutSecret(secretKey, id, key.Bytes()),
			putSecret(tx, secretSealed, fmt.Sprintf("%s@%06d", id, 1), sealed))
	})
	return e.Subject, err
}

// checkPerson refuses personal data that say nothing.
func checkPerson(p vault.Person) error {
	p.Format = 0
	if p == (vault.Person{}) {
		return bad("A deal that needs no personal data needs no customer either.", "nothing is said of the customer")
	}
	return p.Check()
}

// erased says that a customer's data are gone.
func erased(e vault.Erasure) error {
	return bad("Nothing of them is left. Enter the customer anew where a deal needs it.", "the data of customer %s were erased on %s: %s",
		e.Customer, e.At.Format(time.DateOnly), e.Reason)
}

// blind is what stands for personal data in the mark of a request: nothing, since even a hash of a
// name could be guessed. A mark that is sent again with other data is then taken for the same request.
func (d *Desk) blind(By, vault.Person) string { return "personal data" }

// CorrectCustomer keeps a new version of a customer's data beside the old ones.
func (d *Desk) CorrectCustomer(ctx context.Context, by By, id string, p vault.Person) error {
	if err := checkPerson(p); err != nil {
		return err
	}
	_, err := d.act(ctx, by, people.CorrectCustomer, []any{id, d.blind(by, p)}, func(tx *store.Tx, at time.Time) (draft, error) {
		_, seq, err := get[Customer](tx, "customer", id)
		if err == nil {
			err = current("the customer", by.Seen, seq)
		}
		if err != nil {
			return draft{}, err
		}
		c, custody, err := d.custody(tx, id)
		if err == nil && c.Erased != nil {
			err = erased(*c.Erased)
		}
		if err != nil {
			return draft{}, err
		}
		key, err := custody.Key()
		if err != nil {
			return draft{}, err
		}
		c.Version++
		sealed, err := vault.Seal(d.o.Random, key, id, c.Version, p)
		if err != nil {
			return draft{}, err
		}
		c.Commitments, c.Since = append(c.Commitments, sealed.Commitment), append(c.Since, at)
		return draft{kind: "customer-corrected", subject: id, body: c}, putSecret(tx, secretSealed, fmt.Sprintf("%s@%06d", id, c.Version), sealed)
	})
	return err
}

// custody is a customer's key, or the record of its end.
func (d *Desk) custody(tx *store.Tx, id string) (Customer, vault.Custody, error) {
	c, _, err := get[Customer](tx, "customer", id)
	if err != nil {
		return c, vault.Custody{}, err
	}
	if c.Erased != nil {
		custody, err := vault.Gone(*c.Erased)
		return c, custody, err
	}
	stored, err := tx.Secret(secretKey, id)
	if errors.Is(err, store.ErrNotFound) {
		return c, vault.Custody{}, bad("Restore it from a backup that holds it.", "the key of customer %s is not in the store, though nobody erased it", id)
	}
	if err != nil {
		return c, vault.Custody{}, err
	}
	key, err := vault.KeyFromBytes(stored)
	if err != nil {
		return c, vault.Custody{}, err
	}
	custody, err := vault.Keep(id, key)
	return c, custody, err
}

// SeeCustomer opens a customer's data. Who looked, and why, stands in the log.
func (d *Desk) SeeCustomer(ctx context.Context, by By, id, reason string) (p vault.Person, err error) {
	if reason == "" {
		return p, bad("Say what for, in a few words.", "looking at personal data needs a reason")
	}
	if err := checkTexts(reason); err != nil {
		return p, err
	}
	by.Key = ""
	_, err = d.act(ctx, by, people.SeePersonalData, []any{id, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		versions, custody, err := d.sealed(tx, id)
		if err != nil {
			return draft{}, err
		}
		p, err = custody.Open(versions[len(versions)-1].Sealed)
		return draft{kind: "customer-seen", subject: id, body: map[string]string{"reason": reason}}, err
	})
	return p, err
}

// sealed reads all versions of a customer's data as they are stored, with the commitments of the log.
func (d *Desk) sealed(tx *store.Tx, id string) ([]vault.Dated, vault.Custody, error) {
	c, custody, err := d.custody(tx, id)
	if err != nil {
		return nil, custody, err
	}
	if c.Erased != nil {
		return nil, custody, erased(*c.Erased)
	}
	var out []vault.Dated
	for n := 1; n <= c.Version; n++ {
		s, err := secret[vault.Sealed](tx, secretSealed, fmt.Sprintf("%s@%06d", id, n))
		if err != nil {
			return nil, custody, fmt.Errorf("version %d of the data of customer %s: %w", n, id, err)
		}
		s.Customer, s.Version, s.Commitment = id, n, c.Commitments[n-1]
		out = append(out, vault.Dated{Since: c.Since[n-1], Sealed: s})
	}
	return out, custody, nil
}

// DiscloseCustomer puts together what is kept of a customer, for that customer or for an authority that
// may ask.
func (d *Desk) DiscloseCustomer(ctx context.Context, by By, id, to string, facts vault.AccessFacts) (out vault.Access, err error) {
	if to == "" {
		return out, bad("Say to whom.", "handing out personal data needs the one who gets them")
	}
	if err := checkTexts(to); err != nil {
		return out, err
	}
	by.Key = ""
	_, err = d.act(ctx, by, people.DisclosePersonal, []any{id, to}, func(tx *store.Tx, at time.Time) (draft, error) {
		c, custody, err := d.custody(tx, id)
		if err != nil {
			return draft{}, err
		}
		var versions []vault.Dated
		if c.Erased == nil {
			if versions, custody, err = d.sealed(tx, id); err != nil {
				return draft{}, err
			}
		}
		if facts.KeptUntil == "" {
			if facts.KeptUntil, err = d.keptUntil(tx, c, at); err != nil {
				return draft{}, err
			}
		}
		facts.Deals, facts.Views, facts.Recipients, facts.Purposes = nil, nil, nil, nil
		for _, number := range c.Deals {
			deal, _, err := get[Deal](tx, "deal", number)
			if err != nil {
				return draft{}, err
			}
			if len(deal.Asked) > 0 {
				facts.Purposes = append(facts.Purposes, fmt.Sprintf("deal %s: the register rules asked for %s", deal.Number, strings.Join(deal.Asked, ", ")))
			}
			kind := deal.Kind
			if deal.Void != "" {
				kind += " (void)"
			}
			facts.Deals = append(facts.Deals, vault.AccessDeal{Number: deal.Number, At: deal.At, Kind: kind, Description: deal.Note, Amount: deal.Amount, Currency: deal.Currency})
		}
		for e, err := range tx.Of(id) {
			if err != nil {
				return draft{}, err
			}
			if e.Kind == "customer-seen" || e.Kind == "customer-disclosed" {
				why, err := read[map[string]string](e.Body)
				if err != nil {
					return draft{}, err
				}
				if why["to"] != "" && !slices.Contains(facts.Recipients, why["to"]) {
					facts.Recipients = append(facts.Recipients, why["to"])
				}
				facts.Views = append(facts.Views, vault.AccessViewed{At: e.Time, Role: "price", Reason: why["reason"] + why["to"]})
			}
		}
		out, err = vault.NewAccess(custody, versions, facts, at)
		return draft{kind: "customer-disclosed", subject: id, body: map[string]string{"to": to}}, err
	})
	return out, err
}

// keptUntil says in words until when personal data are kept.
func (d *Desk) keptUntil(tx *store.Tx, c Customer, at time.Time) (string, error) {
	if c.Erased != nil {
		return "", nil
	}
	if len(c.KeptBy) > 0 {
		return "until an authority allows to erase them (" + strings.Join(c.KeptBy, ", ") + ")", nil
	}
	decision, err := d.erasable(tx, c, at)
	switch {
	case err != nil:
		return "", err
	case decision.Open:
		return "the end of the time of keeping can't be known yet:" + reasonTexts(decision.Reasons), nil
	case !decision.Due.IsZero():
		book, err := d.book(tx)
		if err != nil {
			return "", err
		}
		return "until " + book.Day(decision.Due.Add(-time.Second)).String() + ":" + reasonTexts(decision.Reasons), nil
	}
	return "no duty to keep them is known; they can be erased when asked", nil
}

func reasonTexts(reasons []register.Reason) string {
	texts := []string{""}
	for _, r := range reasons {
		texts = append(texts, r.Text)
	}
	return strings.TrimPrefix(strings.Join(texts, "; "), ";")
}

// KeptError says that personal data may not be erased yet.
type KeptError struct{ Reason, hint string }

func (e *KeptError) Error() string { return e.Reason }

// Hint says what helps.
func (e *KeptError) Hint() string { return e.hint }

func kept(hint, reason string, args ...any) error {
	return &KeptError{fmt.Sprintf(reason, args...), hint}
}

// EraseCustomer destroys a customer's key, and with it every version of the data in every copy that
// doesn't hold the key. The log stays whole. A duty to keep, or the order of an authority, defers it.
func (d *Desk) EraseCustomer(ctx context.Context, by By, id, reason string) error {
	if reason == "" {
		return bad("Say why: the time of keeping is over, or the customer asked.", "an erasure needs a reason")
	}
	if err := checkTexts(reason); err != nil {
		return err
	}
	_, err := d.act(ctx, by, people.EraseCustomer, []any{id, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		c, custody, err := d.custody(tx, id)
		if err != nil {
			return draft{}, err
		}
		if c.Erased != nil {
			return draft{}, bad("Nothing is left to do.", "the data of customer %s were erased on %s", id, c.Erased.At.Format(time.DateOnly))
		}
		if len(c.KeptBy) > 0 {
			return draft{}, kept("It can be erased when the authority allows it.", "the data of customer %s are kept on order %s", id, strings.Join(c.KeptBy, ", "))
		}
		decision, err := d.erasable(tx, c, at)
		if err != nil {
			return draft{}, err
		}
		if !decision.Allowed {
			return draft{}, kept("Try again after that day, or have the rules looked at.", "the data of customer %s must be kept still:%s", id, reasonTexts(decision.Reasons))
		}
		erasure := vault.Erasure{Format: 1, Customer: id, At: at, By: by.Who.person.ID, Reason: reason}
		if err := custody.Apply(erasure); err != nil {
			return draft{}, err
		}
		c.Erased = &erasure
		return draft{kind: "customer-erased", subject: id, body: c}, d.destroy(tx, id)
	})
	if err == nil && d.o.Scrub != nil {
		err = d.o.Scrub(ctx)
	}
	return err
}

// destroy removes a customer's key and sealed data.
func (d *Desk) destroy(tx *store.Tx, id string) error {
	return errors.Join(tx.DropSecret(secretKey, id),
		dropAll(tx, secretSealed, func(name string) (bool, error) { return len(name) > len(id) && name[:len(id)+1] == id+"@", nil }))
}

// erasable asks the register rules whether personal data may go.
func (d *Desk) erasable(tx *store.Tx, c Customer, at time.Time) (register.Decision, error) {
	book, err := d.book(tx)
	if err != nil {
		return register.Decision{}, err
	}
	var kept []register.Kept
	for _, number := range c.Deals {
		deal, _, err := get[Deal](tx, "deal", number)
		if err != nil {
			return register.Decision{}, err
		}
		k := register.Kept{Number: deal.Number, Item: register.Item{Deal: deal.Kind, At: deal.At}}
		if deal.Closed != nil {
			k.Closed = *deal.Closed
		}
		for _, id := range deal.Items {
			i, _, err := get[Item](tx, "item", id)
			if err != nil {
				return register.Decision{}, err
			}
			k.Orders = append(k.Orders, i.Orders...)
		}
		kept = append(kept, k)
	}
	return book.Erasable("personal-data", kept, at)
}

// KeepCustomer stops an erasure because an authority orders it; release ends the order of that
// reference.
func (d *Desk) KeepCustomer(ctx context.Context, by By, id, reference string, release bool) error {
	if reference == "" {
		return bad("Give the authority's reference.", "keeping personal data on order needs the reference of the order")
	}
	_, err := d.act(ctx, by, people.KeepCustomerOnOrder, []any{id, reference, release}, func(tx *store.Tx, at time.Time) (draft, error) {
		c, seq, err := get[Customer](tx, "customer", id)
		if err == nil {
			err = errors.Join(current("the customer", by.Seen, seq), checkTexts(reference))
		}
		if err == nil && c.Erased != nil {
			err = erased(*c.Erased)
		}
		if err != nil {
			return draft{}, err
		}
		known := slices.Contains(c.KeptBy, reference)
		switch {
		case release && !known:
			return draft{}, bad("Give the reference of the order that ends.", "no order %q keeps the data of customer %s", reference, id)
		case release:
			c.KeptBy = slices.DeleteFunc(c.KeptBy, func(r string) bool { return r == reference })
		case known:
			return draft{}, bad("Nothing is left to do.", "the data of customer %s are kept on order %s already", id, reference)
		default:
			c.KeptBy = append(c.KeptBy, reference)
		}
		return draft{kind: "customer-kept", subject: id, body: reasoned[Customer]{c, reference}}, nil
	})
	return err
}

// Erasures lists all erasures, for a backup that is older than they are.
func (d *Desk) Erasures(ctx context.Context, who *Who) (out []vault.Erasure, err error) {
	err = d.look(ctx, who, people.VerifyLedger, func(tx *store.Tx) error {
		out, err = erasures(tx)
		return err
	})
	return out, err
}

func erasures(tx *store.Tx) (out []vault.Erasure, err error) {
	all, err := list[Customer](tx, "customer")
	for _, c := range all {
		if c.Erased != nil {
			out = append(out, *c.Erased)
		}
	}
	return out, err
}
