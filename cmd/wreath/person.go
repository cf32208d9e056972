package main

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/people"
)

// personCmd is who works here.
type personCmd struct {
	Add    personAddCmd    `cmd:"" help:"Let somebody work here."`
	List   personListCmd   `cmd:"" help:"Who works here and who did."`
	Change personChangeCmd `cmd:"" help:"Change the roles or the printed name of a person."`
	Leave  personLeaveCmd  `cmd:"" help:"For somebody who leaves: sessions, PINs and tokens end with it."`
	Reset  personResetCmd  `cmd:"" help:"A one-time code for whoever forgot the password."`

	Passkeys personPasskeysCmd `cmd:"" help:"The passkeys of a person; one that was lost is removed."`
}

// role is a role as a flag takes it.
type role people.Role

// UnmarshalText reads a role.
func (r *role) UnmarshalText(text []byte) error {
	if err := oneOf("roles", string(text), role("").Choices()); err != nil {
		return err
	}
	*r = role(text)
	return nil
}

// Choices lists the roles.
func (role) Choices() (out []string) {
	for _, r := range people.Roles {
		out = append(out, string(r))
	}
	return out
}

func rolesOf(given []role) (out []people.Role) {
	for _, r := range given {
		out = append(out, people.Role(r))
	}
	return out
}

func namesOf(roles []people.Role) string {
	var names []string
	for _, r := range roles {
		names = append(names, string(r))
	}
	return strings.Join(names, ", ")
}

type personAddCmd struct {
	place
	once
	formatted
	Name    string `arg:"" help:"Short name, to sign in with: small letters, such as bob."`
	Printed string `help:"Name as printed beside signatures; the short name unless said."`
	Roles   []role `required:"" help:"What the person may do: measure, sign, instruments, price, audit, administer; several with commas."`
}

func (personAddCmd) Help() string {
	return `Examples:

  wreath person add bob --printed "Bob Invented" --roles measure,sign

It prints a one-time code, once. Bob sets a password with it: wreath new-password bob. From the second
person on everybody signs in, so set your own password first: wreath password.`
}

// Run adds a person.
func (c *personAddCmd) Run(s *streams) error {
	p := people.Person{ID: c.Name, Name: c.Printed, Roles: rolesOf(c.Roles)}
	if p.Name == "" {
		p.Name = p.ID
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		code, err := r.AddPerson(ctx, c.by(who), p)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, oneTime{c.Name, code})
		}
		if code == "" {
			say(s, "%s was added before; the code was shown then. A new one: wreath person reset %s", c.Name, c.Name)
			return nil
		}
		say(s, "%s works here: %s", c.Name, namesOf(p.Roles))
		printCode(s, c.Name, code)
		return nil
	})
}

// oneTime is a code for programs; it is empty when the same act was sent before.
type oneTime struct {
	Name string `json:"name"`
	Code string `json:"code"`
}

func printCode(s *streams, name, code string) {
	say(s, "one-time code  %s", code)
	say(s, "It works once and for %s: wreath new-password %s", strings.TrimSuffix(people.OneTimeLife.String(), "0m0s"), name)
}

type personListCmd struct {
	place
	formatted
}

func (personListCmd) Help() string {
	return `Examples:

  wreath person list
  wreath person list --format json`
}

// Run lists people.
func (c *personListCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		staff, err := r.Staff(ctx, who)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, append([]people.Person{}, staff.People...))
		}
		zone, err := shopZone(ctx, r)
		if err != nil {
			return err
		}
		var rows [][]string
		for _, p := range staff.People {
			until := ""
			if p.Until != nil {
				until = stamp(*p.Until, zone)
			}
			rows = append(rows, []string{p.ID, p.Name, namesOf(p.Roles), stamp(p.Since, zone), until})
		}
		return safeGrid(s.Out, "name|printed|roles|since|left", rows)
	})
}

type personChangeCmd struct {
	place
	once
	Name    string `arg:"" help:"Short name of the person."`
	Printed string `help:"New name as printed beside signatures."`
	Roles   []role `help:"All roles of the person from now on."`
	Reason  string `required:"" help:"Why, in a few words."`
}

func (personChangeCmd) Help() string {
	return `Examples:

  wreath person change owner --printed "Ada Invented" --reason "name as in the passport"

Other roles end the sessions of the person.`
}

// Run changes a person.
func (c *personChangeCmd) Run(s *streams) error {
	if c.Printed == "" && len(c.Roles) == 0 {
		return wrong("Give --printed, --roles or both.", "nothing is changed")
	}
	change := func(p people.Person) people.Person {
		if c.Printed != "" {
			p.Name = c.Printed
		}
		if roles := rolesOf(c.Roles); len(roles) > 0 && !slices.Equal(roles, p.Roles) {
			p = p.WithRoles(roles)
		}
		return p
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		err := r.ChangePerson(ctx, c.by(who), c.Name, change, c.Reason)
		if err == nil {
			say(s, "%s is changed.", c.Name)
		}
		return err
	})
}

type personLeaveCmd struct {
	place
	once
	Name   string `arg:"" help:"Short name of the person."`
	Reason string `required:"" help:"Why, in a few words."`
}

func (personLeaveCmd) Help() string {
	return `Examples:

  wreath person leave bob --reason "left on 31 March"

It is for good: who comes back gets a new short name. What the person signed stays signed.`
}

// Run ends a person's work.
func (c *personLeaveCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		err := r.EndPerson(ctx, c.by(who), c.Name, c.Reason)
		if err == nil {
			say(s, "%s has left; sessions, PINs and tokens are ended.", c.Name)
		}
		return err
	})
}

type personResetCmd struct {
	place
	formatted
	Name    string `arg:"" help:"Short name of the person."`
	Console bool   `help:"Without signing in, on the machine that holds the store; for who has the role administer."`
}

func (personResetCmd) Help() string {
	return `Examples:

  wreath person reset bob
  wreath person reset owner --console

It prints a one-time code, once. The person sets a password with it: wreath new-password bob. The
second form is for when nobody who administers can sign in any more: whoever holds the store may do
it, and the log says that it came from the console.`
}

// Run gives a one-time code.
func (c *personResetCmd) Run(s *streams) error {
	if c.Console {
		return c.fromConsole(s)
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		code, err := r.ResetPassword(ctx, desk.By{Who: who}, c.Name)
		if err != nil {
			return err
		}
		return c.print(s, code)
	})
}

func (c *personResetCmd) fromConsole(s *streams) error {
	ctx := context.Background()
	r, err := c.enter(ctx)
	if err != nil {
		return err
	}
	defer r.Close()
	code, err := r.ResetFromConsole(ctx, c.Name)
	if err != nil {
		return err
	}
	return c.print(s, code)
}

func (c *personResetCmd) print(s *streams, code string) error {
	if c.forPrograms() {
		return writeJSON(s.Out, oneTime{c.Name, code})
	}
	printCode(s, c.Name, code)
	return nil
}

type personPasskeysCmd struct {
	place
	once
	formatted
	Name    string `arg:"" help:"Short name of the person."`
	Remove  string `placeholder:"ID" help:"Remove this passkey."`
	Reason  string `help:"Why it is removed, in a few words."`
	Console bool   `help:"Without signing in, on the machine that holds the store."`
}

func (personPasskeysCmd) Help() string {
	return `Examples:

  wreath person passkeys bob
  wreath person passkeys bob --remove k-7k2m9q4x --reason "phone lost"
  wreath person passkeys owner --remove k-7k2m9q4x --reason "phone lost" --console

Passkeys are made in the pages, by the person. The last form is for when nobody who administers can
sign in any more: whoever holds the store may do it, and the log says that it came from the console.`
}

// Run lists the passkeys of a person, or removes one.
func (c *personPasskeysCmd) Run(s *streams) error {
	if (c.Remove == "") != (c.Reason == "") {
		return wrong("Give both, or neither.", "--remove and --reason belong together")
	}
	if c.Console {
		ctx := context.Background()
		r, err := c.enter(ctx)
		if err != nil {
			return err
		}
		defer r.Close()
		if c.Remove != "" {
			return c.removed(s, r.RemovePasskeyFromConsole(ctx, c.Name, c.Remove, c.Reason))
		}
		rows, err := r.PasskeysFromConsole(ctx, c.Name)
		if err != nil {
			return err
		}
		return c.print(ctx, s, r, rows)
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if c.Remove != "" {
			return c.removed(s, r.RemovePasskeyOf(ctx, c.by(who), c.Name, c.Remove, c.Reason))
		}
		staff, err := r.Staff(ctx, who)
		if err != nil {
			return err
		}
		rows := slices.DeleteFunc(staff.Passkeys, func(k desk.PasskeyRow) bool { return k.Person != c.Name })
		return c.print(ctx, s, r, rows)
	})
}

func (c *personPasskeysCmd) removed(s *streams, err error) error {
	if err == nil {
		say(s, "The passkey %s of %s is removed.", c.Remove, c.Name)
	}
	return err
}

func (c *personPasskeysCmd) print(ctx context.Context, s *streams, r *room, passkeys []desk.PasskeyRow) error {
	if c.forPrograms() {
		return writeJSON(s.Out, append([]desk.PasskeyRow{}, passkeys...))
	}
	if len(passkeys) == 0 {
		say(s, "%s has no passkeys.", c.Name)
		return nil
	}
	zone, err := shopZone(ctx, r)
	if err != nil {
		return err
	}
	var rows [][]string
	for _, k := range passkeys {
		last := ""
		if k.Last != nil {
			last = stamp(*k.Last, zone)
		}
		rows = append(rows, []string{k.ID, k.Name, k.Domain, stamp(k.Made, zone), last})
	}
	return safeGrid(s.Out, "id|name|for|made|last used", rows)
}

type rolesCmd struct{}

func (rolesCmd) Help() string {
	return `Examples:

  wreath roles`
}

// Run prints the table of actions.
func (rolesCmd) Run(s *streams) error {
	if err := people.WriteMatrix(s.Out); err != nil {
		return fmt.Errorf("print the roles: %w", err)
	}
	return nil
}
