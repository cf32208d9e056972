package desk

import (
	"context"
	"encoding/hex"
	"errors"
	"slices"
	"strconv"
	"time"

	"wreath/internal/determination"
	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/store"
	"wreath/internal/value"
)

// signed is the body of the entry of a signature. It covers the record by its hash, so a signature
// that is moved to another record no longer holds.
type signed struct {
	Record    string           `json:"record"`
	Number    string           `json:"number"`
	Entry     int64            `json:"entry"`
	Hash      string           `json:"hash"` // of the record's entry in the log, in hex
	Signature people.Signature `json:"signature"`
	Sentence  string           `json:"sentence"` // what the person declared
	Complete  bool             `json:"complete"` // with it all signatures that are asked for are given
}

// Sign signs a record with a meaning. Who signed in gives a password or PIN again just before; see
// Confirm. The log is sealed with a checkpoint after it.
func (d *Desk) Sign(ctx context.Context, by By, name string, meaning people.Meaning) (Recorded, error) {
	action, err := people.ActionOf(meaning)
	if err != nil {
		return Recorded{}, err
	}
	if meaning == people.Released {
		return Recorded{}, bad("Release the item instead.", "a record can't be released; an item can")
	}
	if err := d.sealable(); err != nil {
		return Recorded{}, err
	}
	_, err = d.act(ctx, by, action, []any{name, meaning}, func(tx *store.Tx, at time.Time) (draft, error) {
		s, seq, err := d.standing(tx, name)
		if err == nil {
			err = current("the record", by.Seen, seq)
		}
		if err != nil {
			return draft{}, err
		}
		if s.SupersededBy != "" {
			return draft{}, bad("Sign that one instead.", "record %s was superseded by %s", s.Number, s.SupersededBy)
		}
		raw, err := tx.Raw(s.Seq)
		if err != nil {
			return draft{}, err
		}
		e, err := ledger.Decode(raw)
		if err != nil {
			return draft{}, err
		}
		r, err := decodeRecord(e)
		if err != nil {
			return draft{}, err
		}
		p, _, err := get[people.Person](tx, "person", by.Who.person.ID)
		if err != nil {
			return draft{}, err
		}
		signature := people.Signature{Person: p.ID, Name: p.Name, Roles: p.Roles, Meaning: meaning, At: at}
		if signature.How, err = d.takeProof(tx, by.Who, at); err != nil {
			return draft{}, err
		}
		need, facts, err := d.need(tx, r, s)
		if err != nil {
			return draft{}, err
		}
		if err := need.CheckSignature(signature, facts, s.Signatures); err != nil {
			return draft{}, err
		}
		leaf := ledger.LeafHash(raw)
		body := signed{
			Record: s.ID, Number: s.Number, Entry: s.Seq, Hash: hex.EncodeToString(leaf[:]), Signature: signature,
			Sentence: sentenceOf(meaning), Complete: need.Judge(facts, append(slices.Clone(s.Signatures), signature)).Complete,
		}
		return draft{kind: "determination-signed", subject: s.ID, body: body}, nil
	})
	if err != nil {
		return Recorded{}, err
	}
	if _, err := d.seal(ctx, "signed "+name); err != nil {
		return Recorded{}, err
	}
	return d.Show(ctx, by.Who, name)
}

func sentenceOf(m people.Meaning) string {
	for _, row := range people.Meanings {
		if row.Meaning == m {
			return row.Sentence
		}
	}
	return ""
}

// need says which signatures the house's rule asks of a record.
func (d *Desk) need(tx *store.Tx, r *record.Record, s standing) (people.Need, people.Facts, error) {
	var none people.Need
	rules, err := list[people.FourEyes](tx, "four-eyes")
	if err != nil {
		return none, people.Facts{}, err
	}
	facts, err := d.facts(tx, r, s)
	if err != nil {
		return none, facts, err
	}
	shop, _, err := get[Shop](tx, shopKind, shopID)
	if err != nil {
		return none, facts, err
	}
	zone, err := time.LoadLocation(shop.TimeZone)
	if err != nil {
		return none, facts, err
	}
	rule, err := people.RuleOn(rules, r.Made.Time.In(zone).Format(time.DateOnly))
	if errors.Is(err, people.ErrNoRule) {
		// Until the house says otherwise one person approves, who signs in where everybody does.
		return people.Need{OnePerson: !shop.SignIn}, facts, nil
	}
	if err != nil {
		return none, facts, err
	}
	need, err := rule.Need(facts)
	return need, facts, err
}

// judge holds the signatures of a record against those needed, and counts how many are.
func (d *Desk) judge(tx *store.Tx, r *record.Record, s standing) (people.Standing, int, error) {
	need, facts, err := d.need(tx, r, s)
	if err != nil {
		return people.Standing{}, 0, err
	}
	asked := 1
	if need.Witness {
		asked = 2
	}
	return need.Judge(facts, s.Signatures), asked, nil
}

// facts are what the rule of the second person looks at.
func (d *Desk) facts(tx *store.Tx, r *record.Record, s standing) (people.Facts, error) {
	var f people.Facts
	for _, id := range s.MeasuredBy {
		p, _, err := get[people.Person](tx, "person", id)
		if err != nil {
			return f, err
		}
		f.MeasuredBy = append(f.MeasuredBy, people.Signer{ID: p.ID, Name: p.Name})
	}
	summary, err := r.Summary()
	if err != nil {
		return f, err
	}
	if summary.Finding != "none" {
		f.Outcome = summary.Finding
	}
	f.Metal = summary.Metal
	f.MassG = strconv.FormatFloat(summary.TrueMassG, 'f', -1, 64)
	if document, err := determination.Decode(r.Document); err == nil {
		if shown, _, err := value.AirWeight(document); err == nil {
			f.MassG = shown.String()
		}
	}
	if s.Worth != nil {
		worth, err := read[value.Worth](s.Worth)
		if err != nil {
			return f, err
		}
		if worth.Payout != nil {
			f.Amount, f.Currency = worth.Payout.String(), worth.Currency
		}
	}
	return f, nil
}
