package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/people"
)

type signInCmd struct {
	place
	Name string `arg:"" help:"Short name, as it was given when you were added."`
	PIN  bool   `name:"pin" help:"Give the PIN instead of the password, at an enrolled device."`
}

func (signInCmd) Help() string {
	return `Examples:

  wreath sign-in owner

The password is asked for without being shown; a program gives it as a line of standard input. The
session belongs to this account of this machine. It ends after 12 hours, or after an hour without work.`
}

// Run signs a person in.
func (c *signInCmd) Run(s *streams) error {
	ctx := context.Background()
	r, err := c.enter(ctx)
	if err != nil {
		return err
	}
	defer r.Close()
	at, err := c.at()
	if err != nil {
		return err
	}
	let, prompt := r.SignIn, "password"
	if c.PIN {
		let, prompt = r.HandOver, "PIN"
	}
	secret, err := ask(s, prompt)
	if err != nil {
		return err
	}
	token, who, err := let(ctx, c.Name, secret, at)
	if err != nil {
		return err
	}
	if err := c.endEarlier(ctx, r, at); err != nil {
		return err
	}
	if err := c.keepOwn("sessions", token); err != nil {
		return err
	}
	where := ""
	if who.Device() != "" {
		where = " at " + harmless(who.Device())
	}
	say(s, "%s is signed in%s; roles: %s", harmless(who.Person().Name), where, namesOf(who.Person().Roles))
	return nil
}

// endEarlier ends the session that this account had before, whoever's it was.
func (p *place) endEarlier(ctx context.Context, r *room, at desk.Place) error {
	name, err := p.own("sessions")
	if err != nil {
		return err
	}
	token, err := os.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	who, err := r.Enter(ctx, strings.TrimSpace(string(token)), at, false)
	if err != nil {
		return nil // it has ended by itself
	}
	return r.SignOut(ctx, who, false)
}

type signOutCmd struct {
	place
	ForTheDay bool `help:"Close your PIN at this device as well, until you sign in by password."`
}

func (signOutCmd) Help() string {
	return `Examples:

  wreath sign-out`
}

// Run ends the session.
func (c *signOutCmd) Run(s *streams) error {
	ctx := context.Background()
	r, err := c.enter(ctx)
	if err != nil {
		return err
	}
	defer r.Close()
	name, err := c.own("sessions")
	if err != nil {
		return err
	}
	if _, err := os.Stat(name); errors.Is(err, fs.ErrNotExist) {
		say(s, "Nobody is signed in here.")
		return nil
	}
	who, err := c.who(ctx, r)
	var over *people.SignInError
	switch {
	case errors.As(err, &over), errors.Is(err, people.ErrLocked):
		say(s, "The session had ended already.")
		return c.dropOwn("sessions")
	case err != nil:
		return err
	}
	if err := r.SignOut(ctx, who, c.ForTheDay); err != nil {
		return err
	}
	say(s, "%s is signed out.", harmless(who.Person().Name))
	return c.dropOwn("sessions")
}

type passwordCmd struct{ place }

func (passwordCmd) Help() string {
	return `Examples:

  wreath password

It asks for the present password, if there is one, and twice for the new one. Your sessions, PINs and
tokens end with it. ` + people.PasswordHint
}

// Run sets one's own password.
func (c *passwordCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		old := ""
		has, err := r.HasPassword(ctx, who)
		if err != nil {
			return err
		}
		if has {
			if old, err = ask(s, "present password"); err != nil {
				return err
			}
		}
		anew, err := askTwice(s)
		if err != nil {
			return err
		}
		at, err := c.at()
		if err != nil {
			return err
		}
		if err := r.SetPassword(ctx, desk.By{Who: who}, old, anew, at); err != nil {
			return err
		}
		say(s, "The password of %s is set.", who.Person().ID)
		if who.SignedIn() {
			say(s, "Your sessions are ended: wreath sign-in %s", who.Person().ID)
		}
		return c.dropOwn("sessions")
	})
}

type newPasswordCmd struct {
	place
	Name string `arg:"" help:"Your short name."`
}

func (newPasswordCmd) Help() string {
	return `Examples:

  wreath new-password bob

It asks for the one-time code that you were given, or one of your recovery codes, and twice for the new
password. ` + people.PasswordHint
}

// Run sets a password with a code.
func (c *newPasswordCmd) Run(s *streams) error {
	ctx := context.Background()
	r, err := c.enter(ctx)
	if err != nil {
		return err
	}
	defer r.Close()
	code, err := ask(s, "code")
	if err != nil {
		return err
	}
	anew, err := askTwice(s)
	if err != nil {
		return err
	}
	at, err := c.at()
	if err != nil {
		return err
	}
	if err := r.NewPassword(ctx, c.Name, code, anew, at); err != nil {
		return err
	}
	say(s, "The password of %s is set: wreath sign-in %s", c.Name, c.Name)
	return nil
}

type recoveryCodesCmd struct {
	place
	formatted
}

func (recoveryCodesCmd) Help() string {
	return `Examples:

  wreath recovery-codes

They are shown once; earlier ones stop working. Keep them on paper. Each lets you set a new password
once: wreath new-password NAME.`
}

// Run makes recovery codes.
func (c *recoveryCodesCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		codes, err := r.RecoveryCodes(ctx, desk.By{Who: who})
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, codes)
		}
		for i, code := range codes {
			fmt.Fprintf(s.Out, "%2d  %s\n", i+1, code)
		}
		return nil
	})
}

type pinCmd struct{ place }

func (pinCmd) Help() string {
	return `Examples:

  wreath pin

A PIN works at the enrolled device where it was set, for 12 hours after you signed in there by password.
It has 6 to 12 digits and is asked for twice.`
}

// Run sets a PIN.
func (c *pinCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if who.Device() == "" {
			return &failure{exitRefused, "a PIN is set at an enrolled device, after signing in there with the password", "Let who administers enrol this one: wreath device enrol NAME --here; then sign in again."}
		}
		pin, err := ask(s, "new PIN")
		if err != nil {
			return err
		}
		again, err := ask(s, "the same again")
		if err != nil {
			return err
		}
		if pin != again {
			return wrong("Type it twice, the same each time.", "the two PINs differ")
		}
		at, err := c.at()
		if err != nil {
			return err
		}
		if err := r.SetPIN(ctx, desk.By{Who: who}, pin, at); err != nil {
			return err
		}
		say(s, "The PIN of %s at %s is set.", who.Person().ID, harmless(who.Device()))
		return nil
	})
}
