package desk

import (
	"bytes"
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"wreath/internal/people"
	"wreath/internal/store"
)

// unanswered are the questions that browsers were asked and have not answered yet, by a ticket that only the asked
// browser has. They last for minutes, so they are kept in memory alone.
type unanswered struct {
	mu   sync.Mutex
	open map[string]people.Question
}

// mostQuestions is how many are open at once, so that asking for ever takes no memory.
const mostQuestions = 10000

func (q *unanswered) keep(ticket string, asked people.Question, now time.Time) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.open == nil {
		q.open = map[string]people.Question{}
	}
	if len(q.open) >= mostQuestions {
		for t, other := range q.open {
			if !now.Before(other.Until) {
				delete(q.open, t)
			}
		}
	}
	for t := range q.open { // all are fresh: some other is given up
		if len(q.open) < mostQuestions {
			break
		}
		delete(q.open, t)
	}
	q.open[ticket] = asked
}

// take gives out a question once. It is good in the session in which it was asked.
func (q *unanswered) take(ticket, session string) (people.Question, error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	asked, found := q.open[ticket]
	if !found || asked.Session != session {
		return people.Question{}, &people.SignInError{Reason: "the passkey was not asked for here, or was used already", Hint: "Begin once more."}
	}
	delete(q.open, ticket)
	return asked, nil
}

// ticket is for the browser that is asked: 160 random bits.
func (d *Desk) ticket() string { return d.draw("") + d.draw("") }

// passkeysOf lists the passkeys of a person that were not removed.
func passkeysOf(tx *store.Tx, person string) ([]people.Passkey, error) {
	all, err := list[people.Passkey](tx, "passkey")
	return slices.DeleteFunc(all, func(k people.Passkey) bool { return k.Person != person || k.Ended != nil }), err
}

// AskNewPasskey asks the browser of who is signed in for a new passkey. The person has just given password
// or passkey, since a passkey opens the door later.
func (d *Desk) AskNewPasskey(ctx context.Context, who *Who, site people.Site) (ticket string, options people.Options, err error) {
	if err := inSession(who); err != nil {
		return "", nil, err
	}
	err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		now := d.o.Now()
		if err := who.allow(tx, people.OwnCredentials, now); err != nil {
			return err
		}
		if err := d.proven(tx, who, now); err != nil {
			return err
		}
		have, err := passkeysOf(tx, who.person.ID)
		if err != nil {
			return err
		}
		var asked people.Question
		if options, asked, err = people.AskNewPasskey(d.o.Random, who.person, who.key, have, site, now); err != nil {
			return err
		}
		ticket = d.ticket()
		d.questions.keep(ticket, asked, now)
		return nil
	})
	return ticket, options, err
}

// inSession refuses who has none of their own: a program, or somebody at a bench of one.
func inSession(who *Who) error {
	if who == nil || !who.SignedIn() {
		return &people.SignInError{Reason: "a passkey is for people who sign in", Hint: "Set a password, and sign in with it first."}
	}
	return nil
}

// AddPasskey keeps the passkey that a browser made.
func (d *Desk) AddPasskey(ctx context.Context, by By, ticket, name string, answer []byte) (k people.Passkey, err error) {
	if err := inSession(by.Who); err != nil {
		return k, err
	}
	by.Key = "" // an answer is good once
	asked, err := d.questions.take(ticket, by.Who.key)
	if err != nil {
		return k, err
	}
	_, err = d.act(ctx, by, people.OwnCredentials, "passkey", func(tx *store.Tx, at time.Time) (draft, error) {
		var use people.PasskeyUse
		var err error
		if k, use, err = asked.Enrol(d.o.Random, by.Who.person, name, answer, at); err != nil {
			return draft{}, err
		}
		all, err := list[people.Passkey](tx, "passkey")
		if err != nil {
			return draft{}, err
		}
		for _, other := range all {
			if bytes.Equal(other.Credential, k.Credential) {
				return draft{}, bad("Make a new one.", "this passkey is known already")
			}
		}
		return draft{kind: "passkey-added", subject: k.Person, body: k}, putSecret(tx, secretPasskey, k.ID, use)
	})
	return k, err
}

// AskPasskey asks a browser for a passkey: whose it is shows when it is given. With who, who may be locked
// out, it is one of that person's, but not the one named.
func (d *Desk) AskPasskey(ctx context.Context, who *Who, site people.Site, but string) (ticket string, options people.Options, err error) {
	var keys []people.Passkey
	person, session := "", ""
	if who != nil {
		if err := inSession(who); err != nil {
			return "", nil, err
		}
		person, session = who.person.ID, who.key
		err := d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) (err error) {
			keys, err = passkeysOf(tx, person)
			return err
		})
		if err != nil {
			return "", nil, err
		}
		keys = slices.DeleteFunc(keys, func(k people.Passkey) bool { return k.ID == but })
	}
	now := d.o.Now()
	options, asked, err := people.AskPasskey(d.o.Random, person, session, keys, site, now)
	if err != nil {
		return "", nil, err
	}
	ticket = d.ticket()
	d.questions.keep(ticket, asked, now)
	return ticket, options, nil
}

// answered verifies a passkey within a transaction. A refusal comes back as answer, so that what is written
// beside it is kept.
func (d *Desk) answered(tx *store.Tx, asked people.Question, given []byte, at Place, device *people.Device, now time.Time) (k people.Passkey, p people.Person, answer, err error) {
	unknown := &people.SignInError{Reason: "this passkey is not known here", Hint: "It may have been removed. Sign in with your password."}
	credential, answer := people.AnsweredBy(given)
	if answer != nil {
		return k, p, answer, nil
	}
	all, err := list[people.Passkey](tx, "passkey")
	if err != nil {
		return k, p, nil, err
	}
	i := slices.IndexFunc(all, func(k people.Passkey) bool { return bytes.Equal(k.Credential, credential) })
	if i < 0 {
		return k, p, unknown, nil
	}
	k = all[i]
	if p, _, err = get[people.Person](tx, "person", k.Person); err != nil {
		return k, p, nil, err
	}
	use, err := secret[people.PasskeyUse](tx, secretPasskey, k.ID)
	if errors.Is(err, store.ErrNotFound) {
		return k, p, unknown, nil
	}
	if err != nil {
		return k, p, nil, err
	}
	answer = asked.Given(k, &use, p, given, now)
	if errors.Is(answer, people.ErrCopied) { // whoever did it holds the key itself, so the log is told
		return k, p, answer, d.enter(tx, now, "", draft{kind: "sign-in-refused", subject: p.ID, body: refusal{Source: at.Source, Device: deviceID(device), Passkey: k.ID}})
	}
	if answer == nil {
		err = putSecret(tx, secretPasskey, k.ID, use)
	}
	return k, p, answer, err
}

// SignInByPasskey lets in whose passkey it is.
func (d *Desk) SignInByPasskey(ctx context.Context, ticket string, given []byte, at Place) (token string, who *Who, err error) {
	device, err := d.deviceAt(ctx, at)
	if err != nil {
		return "", nil, err
	}
	asked, err := d.questions.take(ticket, "")
	if err != nil {
		return "", nil, err
	}
	var answer error
	err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) (err error) {
		now := d.o.Now()
		var k people.Passkey
		var p people.Person
		if k, p, answer, err = d.answered(tx, asked, given, at, device, now); err != nil || answer != nil {
			return err
		}
		var session people.Session
		if token, session, answer = people.Begin(d.o.Random, p, device, people.ByPasskey, now, now); answer != nil {
			return nil
		}
		session.Passkey = k.ID
		who = &Who{person: p, session: session, key: session.Key, device: device}
		return d.begun(tx, who, now)
	})
	if err = errors.Join(err, answer); err != nil {
		return "", nil, err
	}
	return token, who, nil
}

// begun keeps a session that began by password or passkey, and opens the PIN at its device.
func (d *Desk) begun(tx *store.Tx, who *Who, now time.Time) error {
	if who.device != nil {
		id := who.person.ID + "@" + who.device.ID
		pin, err := secret[people.PIN](tx, secretPIN, id)
		if err == nil {
			pin.PasswordGiven(now)
			err = putSecret(tx, secretPIN, id, pin)
		}
		if ignoreMissing(err) != nil {
			return err
		}
	}
	if err := putSecret(tx, secretSession, who.key, who.session); err != nil {
		return err
	}
	return d.enter(tx, now, who.person.ID, draft{kind: "signed-in", subject: who.person.ID, body: arrival{How: who.session.How, Device: deviceID(who.device), Passkey: who.session.Passkey}})
}

// UnlockByPasskey opens a locked session for its own person. The session goes on under a new token.
func (d *Desk) UnlockByPasskey(ctx context.Context, who *Who, ticket string, given []byte, at Place) (token string, err error) {
	return d.againByPasskey(ctx, who, ticket, given, at, (*people.Session).Unlock, true)
}

// ConfirmByPasskey notes that the person gave a passkey, for the next signature or another act that asks for it.
func (d *Desk) ConfirmByPasskey(ctx context.Context, who *Who, ticket string, given []byte, at Place) error {
	_, err := d.againByPasskey(ctx, who, ticket, given, at, (*people.Session).Prove, false)
	return err
}

func (d *Desk) againByPasskey(ctx context.Context, who *Who, ticket string, given []byte, at Place, note noting, renew bool) (token string, err error) {
	if err := inSession(who); err != nil {
		return "", err
	}
	asked, err := d.questions.take(ticket, who.key)
	if err != nil {
		return "", err
	}
	var answer error
	var s people.Session
	err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) (err error) {
		var k people.Passkey
		if k, _, answer, err = d.answered(tx, asked, given, at, who.device, d.o.Now()); err != nil || answer != nil {
			return err
		}
		token, s, err = d.noted(tx, who, people.ByPasskey, k.ID, note, renew)
		return err
	})
	if err = errors.Join(err, answer); err != nil {
		return "", err
	}
	who.session, who.key = s, s.Key
	return token, nil
}

// PasskeyRow is a passkey as it is listed.
type PasskeyRow struct {
	ID     string     `json:"id"`
	Person string     `json:"person"`
	Name   string     `json:"name"`
	Domain string     `json:"domain" doc:"the name of the pages for which it was made"`
	Synced bool       `json:"synced,omitempty" doc:"what keeps it may copy it to other devices of the person"`
	Made   time.Time  `json:"made"`
	Last   *time.Time `json:"last,omitempty" doc:"when it was used last"`
}

// Passkeys lists one's own passkeys.
func (d *Desk) Passkeys(ctx context.Context, who *Who) (out []PasskeyRow, err error) {
	err = d.look(ctx, who, people.OwnCredentials, func(tx *store.Tx) error {
		out, err = passkeyRows(tx, who.person.ID)
		return err
	})
	return out, err
}

func passkeyRows(tx *store.Tx, person string) (out []PasskeyRow, err error) {
	keys, err := passkeysOf(tx, person)
	if err != nil {
		return nil, err
	}
	for _, k := range keys {
		use, err := secret[people.PasskeyUse](tx, secretPasskey, k.ID)
		if ignoreMissing(err) != nil {
			return nil, err
		}
		out = append(out, PasskeyRow{k.ID, k.Person, k.Name, k.Domain, k.Synced, k.Made, use.Last})
	}
	slices.SortFunc(out, func(a, b PasskeyRow) int { return a.Made.Compare(b.Made) })
	return out, nil
}

// RemovePasskey removes one of one's own passkeys. The person has just given the password or another
// passkey.
func (d *Desk) RemovePasskey(ctx context.Context, by By, id string) error {
	_, err := d.act(ctx, by, people.OwnCredentials, []any{"remove passkey", id}, func(tx *store.Tx, at time.Time) (draft, error) {
		k, err := ownPasskey(tx, by.Who, id)
		if err != nil {
			return draft{}, err
		}
		if by.Who.key != "" {
			s, err := secret[people.Session](tx, secretSession, by.Who.key)
			if err != nil {
				return draft{}, err
			}
			if s.Passkey == id {
				return draft{}, &people.SignInError{Reason: "a passkey is removed with the password or another passkey", Hint: "Give one of them, then remove it."}
			}
		}
		if err := d.proven(tx, by.Who, at); err != nil {
			return draft{}, err
		}
		return removed(tx, k, at, "")
	})
	return err
}

func ownPasskey(tx *store.Tx, who *Who, id string) (people.Passkey, error) {
	keys, err := passkeysOf(tx, who.person.ID)
	for _, k := range keys {
		if k.ID == id {
			return k, err
		}
	}
	if err == nil {
		err = missing("It may be removed already; look at the list again.", "you have no passkey %q", id)
	}
	return people.Passkey{}, err
}

func removed(tx *store.Tx, k people.Passkey, at time.Time, reason string) (draft, error) {
	k.Ended = &at
	return draft{kind: "passkey-removed", subject: k.Person, body: reasoned[people.Passkey]{k, reason}}, tx.DropSecret(secretPasskey, k.ID)
}

// RemovePasskeyOf removes a passkey of somebody who lost it.
func (d *Desk) RemovePasskeyOf(ctx context.Context, by By, person, id, reason string) error {
	if err := checkTexts(reason); err != nil {
		return err
	}
	_, err := d.act(ctx, by, people.RemovePasskey, []any{person, id, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		k, err := passkeyOf(tx, person, id)
		if err != nil {
			return draft{}, err
		}
		return removed(tx, k, at, reason)
	})
	return err
}

func passkeyOf(tx *store.Tx, person, id string) (people.Passkey, error) {
	k, _, err := get[people.Passkey](tx, "passkey", id)
	if err == nil && (k.Person != person || k.Ended != nil) {
		err = missing("A list shows what there is.", "%s has no passkey %q", person, id)
	}
	return k, err
}

// RemovePasskeyFromConsole is for when nobody who administers can sign in any more. Whoever holds the store
// may do it, and the log says that it came from the console.
func (d *Desk) RemovePasskeyFromConsole(ctx context.Context, person, id, reason string) error {
	if err := checkTexts(reason); err != nil {
		return err
	}
	return d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		now := d.o.Now()
		k, err := passkeyOf(tx, person, id)
		if err != nil {
			return err
		}
		end, err := removed(tx, k, now, reason)
		if err != nil {
			return err
		}
		return d.enter(tx, now, people.Console, end)
	})
}

// PasskeysFromConsole lists the passkeys of a person for whoever holds the store.
func (d *Desk) PasskeysFromConsole(ctx context.Context, person string) (out []PasskeyRow, err error) {
	err = d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		if _, _, err := get[people.Person](tx, "person", person); err != nil {
			return err
		}
		out, err = passkeyRows(tx, person)
		return err
	})
	return out, err
}
