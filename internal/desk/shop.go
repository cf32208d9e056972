package desk

import (
	"context"
	"encoding/json"
	"errors"
	"regexp"
	"time"

	"wreath/internal/people"
	"wreath/internal/store"
)

// Shop is what is known of the shop itself.
type Shop struct {
	Format   int    `json:"format"`
	Name     string `json:"name" doc:"as printed on paper"`
	Address  string `json:"address,omitempty" doc:"as printed on paper"`
	TimeZone string `json:"time_zone" doc:"of the IANA table, such as Europe/Vienna: which day it is"`
	Currency string `json:"currency,omitempty" doc:"ISO 4217 code of its prices"`
	// SignIn says that nobody works without signing in. It becomes true with the second person and
	// never false again.
	SignIn bool `json:"sign_in,omitempty"`
	// TwoFactors says that who signs or administers needs a passkey, or a code beside the password, to
	// sign in from another machine.
	TwoFactors bool `json:"two_factors,omitempty"`
	// Demo says that everything in this shop is invented.
	Demo bool `json:"demo,omitempty"`
}

const shopKind, shopID = "shop", "shop"

// Check refuses a shop that can't be printed or has no calendar.
func (s *Shop) Check() error {
	if s.Name == "" || len(s.Name) > 200 {
		return bad("Give the name that customers know.", "the shop needs a name of at most 200 bytes")
	}
	if _, err := time.LoadLocation(s.TimeZone); err != nil || s.TimeZone == "" {
		return bad("Use a name of the IANA table, such as Europe/Vienna, or UTC.", "%q is no time zone", s.TimeZone)
	}
	if s.Currency != "" && !currencyForm.MatchString(s.Currency) {
		return bad("Use the three capital letters of ISO 4217, such as EUR.", "%q is no currency", s.Currency)
	}
	return checkTexts(s.Name)
}

var currencyForm = regexp.MustCompile(`^[A-Z]{3}$`)

// Opening is a shop and the first person in it.
type Opening struct {
	Shop   Shop          `json:"shop"`
	Person people.Person `json:"person"` // id and name; all roles are given here
}

// OpenShop begins the log of the shop with its first person, who may do everything. Without a
// password it is a bench of one, at which nobody signs in; that works on the machine itself only.
func (d *Desk) OpenShop(ctx context.Context, o Opening, password string) error {
	if err := o.Shop.Check(); err != nil {
		return err
	}
	now := d.o.Now()
	o.Shop.Format, o.Shop.SignIn = 1, password != ""
	o.Person = people.Person{Format: 1, ID: o.Person.ID, Name: o.Person.Name, Roles: people.Roles, Since: now, Generation: 1}
	if err := o.Person.Check(); err != nil {
		return err
	}
	hash := ""
	if password != "" {
		var err error
		if hash, err = d.newHash(ctx, o.Person, o.Shop, password); err != nil {
			return err
		}
	}
	return d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		if _, err := tx.PublicKey(); !errors.Is(err, store.ErrNotFound) {
			if err == nil {
				err = bad("Work with it, or choose another short name.", "the shop %s is open already", d.o.Shop)
			}
			return err
		}
		if err := tx.OpenLog(d.o.Public); err != nil {
			return err
		}
		if err := putSecret(tx, secretViews, theOne, viewsEdition); err != nil {
			return err
		}
		if hash != "" {
			if err := tx.PutSecret(secretPassword, o.Person.ID, []byte(hash)); err != nil {
				return err
			}
		}
		return d.enter(tx, now, o.Person.ID, draft{kind: "shop-opened", subject: shopID, body: o})
	})
}

// Known says whether the shop is open already.
func (d *Desk) Known(ctx context.Context) (bool, error) { return d.o.Store.Exists(ctx, d.o.Shop) }

// SetUpCode makes the one-time code for the first person, to be shown on the console. A new code
// takes the place of an older one. It is refused once the shop is open.
func (d *Desk) SetUpCode(ctx context.Context) (shown string, err error) {
	shown, code, err := people.NewOneTimeCode(d.o.Random, people.ForSetup, "", d.o.Now())
	if err != nil {
		return "", err
	}
	err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		if _, err := tx.PublicKey(); err == nil {
			return bad("Sign in.", "the shop is open already; a set-up code is for the first person only")
		} else if !errors.Is(err, store.ErrNotFound) {
			return err
		}
		return putSecret(tx, secretCode, string(people.ForSetup), code)
	})
	return shown, err
}

// SetUp opens the shop for whoever read the code on the console.
func (d *Desk) SetUp(ctx context.Context, code string, o Opening, password string) error {
	if password == "" {
		return bad(people.PasswordHint, "the first person needs a password")
	}
	if err := d.useCode(ctx, string(people.ForSetup), code); err != nil {
		return err
	}
	return d.OpenShop(ctx, o, password)
}

// useCode takes a one-time code and keeps what happened to it, whether it was right or not.
func (d *Desk) useCode(ctx context.Context, id, text string) error {
	var answer error
	err := d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		answer = nil
		code, err := secret[people.OneTimeCode](tx, secretCode, id)
		if errors.Is(err, store.ErrNotFound) {
			answer = &people.SignInError{Reason: "no code was given out", Hint: "Ask for one on the console of the machine that holds the records."}
			return nil
		}
		if err != nil {
			return err
		}
		answer = code.Use(text, d.o.Now())
		return putSecret(tx, secretCode, id, code)
	})
	return errors.Join(err, answer)
}

// enter appends an entry in a transaction that runs already.
func (d *Desk) enter(tx *store.Tx, at time.Time, person string, draft draft) error {
	if err := open(tx); err != nil {
		return err
	}
	body, err := json.Marshal(draft.body)
	if err != nil {
		return err
	}
	e, err := tx.Append(entry(at, person, draft, body))
	if err != nil {
		return err
	}
	return view(tx, e)
}

// AboutShop reads what is known of the shop.
func (d *Desk) AboutShop(ctx context.Context) (s Shop, err error) {
	err = d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		s, _, err = get[Shop](tx, shopKind, shopID)
		return err
	})
	return s, err
}
