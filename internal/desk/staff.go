package desk

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"wreath/internal/people"
	"wreath/internal/store"
)

// reasoned is a change of a document, with the reason for it.
type reasoned[T any] struct {
	Is     T      `json:"is"`
	Reason string `json:"reason,omitempty"`
}

// AddPerson lets somebody work here. From the second person on everybody signs in; so the one who
// adds must have a password. The new person gets a one-time code and sets a password with it.
func (d *Desk) AddPerson(ctx context.Context, by By, p people.Person) (code string, err error) {
	shown, oneTime, err := people.NewOneTimeCode(d.o.Random, people.ForPassword, p.ID, d.o.Now())
	if err != nil {
		return "", err
	}
	repeated := true
	_, err = d.act(ctx, by, people.AddPerson, p, func(tx *store.Tx, at time.Time) (draft, error) {
		repeated = false
		if p.Since.IsZero() {
			p.Since = at
		}
		p.Format, p.Generation, p.Ended = 1, 1, false
		all, err := list[people.Person](tx, "person")
		if err == nil {
			err = people.CheckAdd(all, p, at)
		}
		if err != nil {
			return draft{}, err
		}
		if _, err := tx.Secret(secretPassword, by.Who.person.ID); errors.Is(err, store.ErrNotFound) {
			return draft{}, bad("Set your own password first; from the second person on everybody signs in.", "you have no password yet")
		} else if err != nil {
			return draft{}, err
		}
		return draft{kind: "person-added", subject: p.ID, body: p}, putSecret(tx, secretCode, p.ID, oneTime)
	})
	if repeated && err == nil {
		shown = "" // the code was shown the first time and is not kept
	}
	return shown, err
}

// ChangePerson changes name or roles of a person.
func (d *Desk) ChangePerson(ctx context.Context, by By, id string, change func(people.Person) people.Person, reason string) error {
	if err := checkTexts(reason); err != nil {
		return err
	}
	_, err := d.act(ctx, by, people.ChangeRoles, []any{id, change(people.Person{ID: id}), reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		before, seq, err := get[people.Person](tx, "person", id)
		if err == nil {
			err = current(before.Name, by.Seen, seq)
		}
		if err != nil {
			return draft{}, err
		}
		after := change(before)
		after.ID, after.Ended, after.Generation = before.ID, before.Ended, before.Generation+1
		all, err := list[people.Person](tx, "person")
		if err == nil {
			err = errors.Join(after.Check(), people.CheckChange(all, after, at))
		}
		if err != nil {
			return draft{}, err
		}
		return draft{kind: "person-changed", subject: id, body: reasoned[people.Person]{after, reason}}, d.endWork(tx, id)
	})
	return err
}

// EndPerson is for somebody who leaves: sessions, PINs and tokens end with this one act, and the name
// is never given to somebody else.
func (d *Desk) EndPerson(ctx context.Context, by By, id, reason string) error {
	if err := checkTexts(reason); err != nil {
		return err
	}
	_, err := d.act(ctx, by, people.EndPerson, []any{id, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		before, _, err := get[people.Person](tx, "person", id)
		if err != nil {
			return draft{}, err
		}
		after := before.Leave(at)
		all, err := list[people.Person](tx, "person")
		if err == nil {
			err = people.CheckChange(all, after, at)
		}
		if err == nil {
			err = d.endWork(tx, id)
		}
		if err == nil {
			err = errors.Join(tx.DropSecret(secretPassword, id), tx.DropSecret(secretRecovery, id), dropPasskeys(tx, id))
		}
		return draft{kind: "person-ended", subject: id, body: reasoned[people.Person]{after, reason}}, err
	})
	return err
}

func dropPasskeys(tx *store.Tx, id string) error {
	keys, err := passkeysOf(tx, id)
	for _, k := range keys {
		err = errors.Join(err, tx.DropSecret(secretPasskey, k.ID))
	}
	return err
}

// endWork ends sessions, PINs, codes and tokens of a person.
func (d *Desk) endWork(tx *store.Tx, id string) error {
	ofPerson := func(kind string, owner func([]byte) (string, error)) error {
		return dropAll(tx, kind, func(name string) (bool, error) {
			data, err := tx.Secret(kind, name)
			if err != nil {
				return false, err
			}
			whose, err := owner(data)
			return whose == id, err
		})
	}
	return errors.Join(
		ofPerson(secretSession, func(b []byte) (string, error) { s, err := read[people.Session](b); return s.Person, err }),
		ofPerson(secretToken, func(b []byte) (string, error) { t, err := read[people.ServiceToken](b); return t.Owner, err }),
		dropAll(tx, secretPIN, func(name string) (bool, error) { return strings.HasPrefix(name, id+"@"), nil }),
		tx.DropSecret(secretCode, id),
	)
}

// HasPassword tells whether a person has a password already.
func (d *Desk) HasPassword(ctx context.Context, who *Who) (has bool, err error) {
	err = d.look(ctx, who, people.OwnCredentials, func(tx *store.Tx) error {
		_, err := tx.Secret(secretPassword, who.person.ID)
		has = err == nil
		return ignoreMissing(err)
	})
	return has, err
}

// SetPassword sets one's own password. The old one must be given unless there is none.
func (d *Desk) SetPassword(ctx context.Context, by By, old, password string, at Place) error {
	var had bool
	var shop Shop
	err := d.look(ctx, by.Who, people.OwnCredentials, func(tx *store.Tx) error {
		_, err := tx.Secret(secretPassword, by.Who.person.ID)
		had = err == nil
		if ignoreMissing(err) != nil {
			return err
		}
		shop, _, err = get[Shop](tx, shopKind, shopID)
		return err
	})
	if err != nil {
		return err
	}
	if had {
		if _, err := d.prove(ctx, by.Who.person.ID, old, at.Source, by.Who.device); err != nil {
			return err
		}
	}
	hash, err := d.newHash(ctx, by.Who.person, shop, password)
	if err != nil {
		return err
	}
	_, err = d.act(ctx, by, people.OwnCredentials, "password", func(tx *store.Tx, now time.Time) (draft, error) {
		return d.passwordSet(tx, by.Who.person.ID, hash)
	})
	return err
}

// passwordSet keeps a new password and ends what was begun under the old one.
func (d *Desk) passwordSet(tx *store.Tx, id, hash string) (draft, error) {
	p, _, err := get[people.Person](tx, "person", id)
	if err != nil {
		return draft{}, err
	}
	if p.Ended {
		return draft{}, bad("Who comes back is added under a new name.", "%s has left", p.Name)
	}
	if err := d.endWork(tx, id); err != nil {
		return draft{}, err
	}
	return draft{kind: "password-set", subject: id, body: p.PasswordChanged()}, tx.PutSecret(secretPassword, id, []byte(hash))
}

// ResetPassword gives a person a one-time code to set a new password with.
func (d *Desk) ResetPassword(ctx context.Context, by By, id string) (code string, err error) {
	shown, oneTime, err := people.NewOneTimeCode(d.o.Random, people.ForPassword, id, d.o.Now())
	if err != nil {
		return "", err
	}
	by.Key = "" // a code that is shown once can't be shown again to a second request
	_, err = d.act(ctx, by, people.ResetPassword, id, func(tx *store.Tx, at time.Time) (draft, error) {
		p, _, err := get[people.Person](tx, "person", id)
		if err == nil && p.Ended {
			err = bad("Who comes back is added under a new name.", "%s has left", p.Name)
		}
		if err != nil {
			return draft{}, err
		}
		return draft{kind: "password-reset", subject: id, body: struct{}{}}, putSecret(tx, secretCode, id, oneTime)
	})
	return shown, err
}

// fromConsole says that nobody was signed in: whoever reached the store itself did it.
type fromConsole struct {
	From string `json:"from"`
}

// ResetFromConsole is the way back where nobody who administers can sign in any more. Whoever holds the
// store may do it, so it asks for no session; it works for who administers, who then resets the others.
// The wrong tries of the person are forgotten, and the log says that it came from the console.
func (d *Desk) ResetFromConsole(ctx context.Context, id string) (code string, err error) {
	now := d.o.Now()
	shown, oneTime, err := people.NewOneTimeCode(d.o.Random, people.ForPassword, id, now)
	if err != nil {
		return "", err
	}
	err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		p, _, err := get[people.Person](tx, "person", id)
		switch {
		case err != nil:
			return err
		case p.Ended:
			return bad("Who comes back is added under a new name.", "%s has left", p.Name)
		case !slices.Contains(p.Roles, people.Administer):
			return bad("Somebody with that role gives "+p.Name+" a code.", "from the console only who has the role administer is reset; %s has not", p.Name)
		}
		if err := errors.Join(forgetTries(tx, id), putSecret(tx, secretCode, id, oneTime)); err != nil {
			return err
		}
		return d.enter(tx, now, people.Console, draft{kind: "password-reset", subject: id, body: fromConsole{people.Console}})
	})
	if err != nil {
		return "", err
	}
	return shown, nil
}

// forgetTries clears the wrong tries of a person.
func forgetTries(tx *store.Tx, id string) error {
	tries, err := secret[people.Tries](tx, secretTries, theOne)
	if err == nil {
		tries.Reset(id)
		err = putSecret(tx, secretTries, theOne, tries)
	}
	return ignoreMissing(err)
}

// NewPassword sets a password with a one-time code or one of the recovery codes. What it answers does not
// tell who works here: a name that nobody has is refused like a wrong code, and takes as long.
func (d *Desk) NewPassword(ctx context.Context, id, code, password string, from Place) error {
	if err := people.CheckCode(code); err != nil {
		return err
	}
	p := people.Person{ID: id}
	var shop Shop
	err := d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) (err error) {
		if shop, _, err = get[Shop](tx, shopKind, shopID); err != nil {
			return err
		}
		if fits, err := codeFits(tx, id, code, d.o.Now()); err != nil || !fits {
			return err
		}
		p, _, err = get[people.Person](tx, "person", id)
		return err
	})
	if err != nil {
		return err
	}
	hash, err := d.newHash(ctx, p, shop, password) // before the code is used up
	if err == nil {
		err = d.takeCode(ctx, id, code, from)
	}
	if err != nil {
		return err
	}
	return d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		set, err := d.passwordSet(tx, id, hash)
		if err != nil {
			return err
		}
		if err := forgetTries(tx, id); err != nil {
			return err
		}
		return d.enter(tx, d.o.Now(), id, set)
	})
}

// codeFits looks whether a code would be taken, and uses nothing up.
func codeFits(tx *store.Tx, id, text string, now time.Time) (bool, error) {
	one, err := secret[people.OneTimeCode](tx, secretCode, id)
	if ignoreMissing(err) != nil {
		return false, err
	}
	if err == nil && one.Person == id && one.Use(text, now) == nil {
		return true, nil
	}
	codes, err := secret[people.RecoveryCodes](tx, secretRecovery, id)
	if err != nil {
		return false, ignoreMissing(err)
	}
	return codes.Use(text, now) == nil, nil
}

// takeCode uses up a one-time code or one of the recovery codes of a person, and keeps what happened
// whether it was right or not.
func (d *Desk) takeCode(ctx context.Context, id, text string, from Place) error {
	if err := people.CheckCode(text); err != nil {
		return err
	}
	origin := people.Origin{Source: from.Source}
	var answer error
	err := d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		now := d.o.Now()
		answer = nil
		one, err := secret[people.OneTimeCode](tx, secretCode, id)
		if ignoreMissing(err) != nil {
			return err
		}
		if err == nil && one.Person == id {
			used := one.Use(text, now)
			if err := putSecret(tx, secretCode, id, one); err != nil || used == nil {
				return err
			}
		}
		tries, err := secret[people.Tries](tx, secretTries, theOne)
		if ignoreMissing(err) != nil {
			return err
		}
		// A password that is off after too many tries is just what the codes are for; nobody guesses one.
		if answer = tries.Check(id, origin, now); answer != nil && !errors.As(answer, new(*people.OffError)) {
			return nil
		}
		codes, err := secret[people.RecoveryCodes](tx, secretRecovery, id)
		if ignoreMissing(err) != nil {
			return err
		}
		if err == nil && codes.Use(text, now) == nil {
			answer = nil
			return putSecret(tx, secretRecovery, id, codes)
		}
		answer = &people.SignInError{Reason: "name and code don't belong together, or the code was used or has expired", Hint: "Compare both with what you were given; a code works once, a one-time code for an hour and five tries. Ask who administers for a new one."}
		tries.Failed(id, origin, now)
		all, err := list[people.Person](tx, "person")
		if err != nil {
			return err
		}
		tries.Prune(now, all)
		return putSecret(tx, secretTries, theOne, tries)
	})
	return errors.Join(err, answer)
}

// RecoveryCodes gives a person ten new codes, which are shown once.
func (d *Desk) RecoveryCodes(ctx context.Context, by By) ([]string, error) {
	shown, codes, err := people.NewRecoveryCodes(d.o.Random, d.o.Now())
	if err != nil {
		return nil, err
	}
	by.Key = ""
	_, err = d.act(ctx, by, people.OwnCredentials, "recovery codes", func(tx *store.Tx, at time.Time) (draft, error) {
		if err := d.proven(tx, by.Who, at); err != nil {
			return draft{}, err
		}
		id := by.Who.person.ID
		return draft{kind: "recovery-codes-made", subject: id, body: struct{}{}}, putSecret(tx, secretRecovery, id, codes)
	})
	return shown, err
}

// SetPIN sets one's own PIN at the device at which one has just signed in by password.
func (d *Desk) SetPIN(ctx context.Context, by By, pin string, at Place) error {
	if by.Who == nil || by.Who.device == nil || by.Who.session.How != people.ByPassword && by.Who.session.How != people.ByPasskey {
		return &people.SignInError{Reason: "a PIN is set at an enrolled device, after signing in there with the password or a passkey", Hint: "Sign in with your password at the counter, then set the PIN."}
	}
	stored, err := d.hasher.NewPIN(ctx, pin, by.Who.person, *by.Who.device, at.Device, d.o.Now())
	if err != nil {
		return err
	}
	stored.PasswordGiven(d.o.Now())
	id := by.Who.person.ID + "@" + by.Who.device.ID
	_, err = d.act(ctx, by, people.OwnCredentials, "pin", func(tx *store.Tx, at time.Time) (draft, error) {
		if err := d.proven(tx, by.Who, at); err != nil {
			return draft{}, err
		}
		return draft{kind: "pin-set", subject: by.Who.person.ID, body: arrival{How: people.ByPIN, Device: by.Who.device.ID}}, putSecret(tx, secretPIN, id, stored)
	})
	return err
}

// EnrolDevice makes a counter known. The secret is for the device and is shown once.
func (d *Desk) EnrolDevice(ctx context.Context, by By, name string, shared bool) (secret string, device people.Device, err error) {
	by.Key = ""
	_, err = d.act(ctx, by, people.EnrolDevice, name, func(tx *store.Tx, at time.Time) (draft, error) {
		var err error
		if secret, device, err = people.NewDevice(d.o.Random, name, shared, by.Who.person.ID, at); err != nil {
			return draft{}, err
		}
		return draft{kind: "device-enrolled", subject: device.ID, body: device}, putSecret(tx, secretDevice, device.SecretHash, device)
	})
	return secret, device, err
}

// EndDevice is for a device that is lost or given away.
func (d *Desk) EndDevice(ctx context.Context, by By, id, reason string) error {
	if err := checkTexts(reason); err != nil {
		return err
	}
	_, err := d.act(ctx, by, people.EndDevice, []any{id, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		device, _, err := get[people.Device](tx, "device", id)
		if err != nil {
			return draft{}, err
		}
		device.Ended = &at
		err = errors.Join(
			tx.DropSecret(secretDevice, device.SecretHash),
			dropAll(tx, secretPIN, func(name string) (bool, error) { return strings.HasSuffix(name, "@"+id), nil }),
		)
		return draft{kind: "device-ended", subject: id, body: reasoned[people.Device]{device, reason}}, err
	})
	return err
}

// IssueToken lets a program in with some of one's own roles. The secret is shown once.
func (d *Desk) IssueToken(ctx context.Context, by By, name string, roles []people.Role, expires time.Time) (shown string, t people.ServiceToken, err error) {
	by.Key = ""
	_, err = d.act(ctx, by, people.IssueToken, name, func(tx *store.Tx, at time.Time) (draft, error) {
		var err error
		if shown, t, err = people.NewServiceToken(d.o.Random, name, by.Who.person, roles, expires, at); err != nil {
			return draft{}, err
		}
		return draft{kind: "token-issued", subject: t.ID, body: t}, putSecret(tx, secretToken, t.Key, t)
	})
	return shown, t, err
}

// EndToken ends a token.
func (d *Desk) EndToken(ctx context.Context, by By, id, reason string) error {
	if err := checkTexts(reason); err != nil {
		return err
	}
	_, err := d.act(ctx, by, people.EndToken, []any{id, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		t, _, err := get[people.ServiceToken](tx, "token", id)
		if err != nil {
			return draft{}, err
		}
		t.End(at)
		return draft{kind: "token-ended", subject: id, body: reasoned[people.ServiceToken]{t, reason}}, tx.DropSecret(secretToken, t.Key)
	})
	return err
}

// Staff is what people, devices, tokens and passkeys there are.
type Staff struct {
	People   []people.Person       `json:"people"`
	Devices  []people.Device       `json:"devices,omitempty"`
	Tokens   []people.ServiceToken `json:"tokens,omitempty"`
	Passkeys []PasskeyRow          `json:"passkeys,omitempty"`
}

// Staff lists them.
func (d *Desk) Staff(ctx context.Context, who *Who) (s Staff, err error) {
	err = d.look(ctx, who, people.SeePeople, func(tx *store.Tx) (err error) {
		if s.People, err = list[people.Person](tx, "person"); err != nil {
			return err
		}
		if s.Devices, err = list[people.Device](tx, "device"); err != nil {
			return err
		}
		if s.Tokens, err = list[people.ServiceToken](tx, "token"); err != nil {
			return err
		}
		s.Passkeys = nil
		for _, p := range s.People {
			rows, err := passkeyRows(tx, p.ID)
			if err != nil {
				return err
			}
			s.Passkeys = append(s.Passkeys, rows...)
		}
		return nil
	})
	return s, err
}

// SetTwoFactors sets whether who signs or administers must give a second factor from other machines.
func (d *Desk) SetTwoFactors(ctx context.Context, by By, strict bool, reason string) error {
	if err := checkTexts(reason); err != nil {
		return err
	}
	_, err := d.act(ctx, by, people.SetTwoFactors, []any{strict, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		shop, _, err := get[Shop](tx, shopKind, shopID)
		shop.TwoFactors = strict
		return draft{kind: "shop-changed", subject: shopID, body: reasoned[Shop]{shop, reason}}, err
	})
	return err
}

// SetFourEyes sets from a day on when a second person must witness.
func (d *Desk) SetFourEyes(ctx context.Context, by By, rule people.FourEyes) error {
	if err := rule.Check(); err != nil {
		return err
	}
	_, err := d.act(ctx, by, people.SetFourEyes, rule, func(tx *store.Tx, at time.Time) (draft, error) {
		return draft{kind: "four-eyes-set", subject: "four-eyes", body: rule}, nil
	})
	return err
}

// FourEyes lists the rules on the second person, in the order in which they were set.
func (d *Desk) FourEyes(ctx context.Context, who *Who) (out []people.FourEyes, err error) {
	err = d.look(ctx, who, people.SeeRules, func(tx *store.Tx) error {
		out, err = list[people.FourEyes](tx, "four-eyes")
		return err
	})
	return out, err
}
