package desk

import (
	"context"
	"errors"
	"sync"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/store"
)

// signingKey is the shop's signing key once it was unlocked.
type signingKey struct {
	mu      sync.Mutex
	private string
}

// privateKey unlocks the signing key the first time.
func (d *Desk) privateKey() (string, error) {
	d.key.mu.Lock()
	defer d.key.mu.Unlock()
	if d.key.private != "" {
		return d.key.private, nil
	}
	d.key.private = d.o.Private
	if d.key.private == "" && d.o.Unlock != nil {
		private, err := d.o.Unlock()
		if err != nil {
			return "", err
		}
		d.key.private = private
	}
	return d.key.private, nil
}

// UnlockKey unlocks the signing key before it is needed, for a program that can't ask for a passphrase later.
func (d *Desk) UnlockKey() error { return d.sealable() }

// sealable refuses what is sealed at its end where the signing key is not at hand, before anything is done.
func (d *Desk) sealable() error {
	_, err := d.sealingKey()
	return err
}

// sealingKey is the signing key, or what to do about it that it is not at hand.
func (d *Desk) sealingKey() (string, error) {
	private, err := d.privateKey()
	if err == nil {
		_, err = ledger.Checkpoint{Shop: d.o.Shop, Time: d.o.Now()}.Sign(private)
	}
	if err != nil {
		hint := "Put the copy of the shop's signing key back in its place: wreath key put. Without it everything can be read, and nothing sealed."
		if user, is := errors.AsType[*UserError](err); is && user.Hint != "" {
			hint = user.Hint
		}
		err = bad(hint, "the log can't be sealed: %v", err)
	}
	return private, err
}

// ShopKey is one of the keys with which the shop signed.
type ShopKey struct {
	Public string    `json:"public_key"`
	From   time.Time `json:"from" doc:"since when it signs"`
	Until  time.Time `json:"until,omitzero" doc:"when another took its place"`
	Entry  int64     `json:"entry" doc:"that made it the shop's key"`
	// HandOver is the note by which the key before handed over to this one.
	HandOver string `json:"hand_over,omitempty"`
	Reason   string `json:"reason,omitempty" doc:"why it took the place of the one before"`
	// Lost says that the key before could not hand over: who knows only that one has to be told.
	Lost bool `json:"lost,omitempty"`
}

// Keys lists the public keys of the shop, oldest first. They are no secret.
func (d *Desk) Keys(ctx context.Context) (out []ShopKey, err error) {
	err = d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		out = nil
		first, err := tx.Entry(0)
		if err != nil {
			return err
		}
		keys, err := tx.Keys()
		if err != nil {
			return err
		}
		out = append(out, ShopKey{Public: keys.First, From: first.Time})
		for e, err := range tx.Of(ledger.KeySubject) {
			if err != nil {
				return err
			}
			c, err := read[ledger.KeyChange](e.Body)
			if err != nil {
				return err
			}
			out[len(out)-1].Until = e.Time
			out = append(out, ShopKey{Public: c.Public, From: e.Time, Entry: e.Seq, HandOver: c.HandOver, Reason: c.Reason, Lost: c.HandOver == ""})
		}
		return nil
	})
	return out, err
}

// ChangeKey gives the shop another signing key and seals the log with it. The old key, which must be at
// hand, hands over to the new one; with lost it does not, because it is gone or may be in other hands.
// A program that runs meanwhile goes on reading and has to be started again before it seals anything.
func (d *Desk) ChangeKey(ctx context.Context, by By, private, public string, lost bool, reason string) error {
	if err := checkTexts(reason); err != nil {
		return err
	}
	if reason == "" {
		return bad("Say it with a few words, such as \"yearly\" or \"the laptop was stolen\".", "a change of the signing key needs a reason")
	}
	old := ""
	if !lost {
		var err error
		if old, err = d.sealingKey(); err != nil {
			return err
		}
	}
	_, err := d.act(ctx, by, people.ChangeKey, []any{public, lost, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		change := ledger.KeyChange{Public: public, Reason: reason}
		if err := ledger.CheckKey(d.o.Shop, public); err != nil {
			return draft{}, bad("Make one with wreath key rotate.", "%v", err)
		}
		if !lost {
			now, err := tx.PublicKey()
			if err != nil {
				return draft{}, err
			}
			if change.HandOver, err = ledger.HandOver(d.o.Shop, public, at, old); err != nil {
				return draft{}, err
			}
			if len(ledger.Follow(d.o.Shop, []string{now}, []string{change.HandOver})) != 2 {
				return draft{}, bad("Look at the keys again: wreath key show.", "the signing key at hand is not the one that the shop uses now")
			}
		}
		return draft{kind: ledger.KeyChanged, subject: ledger.KeySubject, body: change}, nil
	})
	if err != nil {
		return err
	}
	d.key.mu.Lock()
	d.key.private = private
	d.key.mu.Unlock()
	_, err = d.seal(ctx, "key changed")
	return err
}
