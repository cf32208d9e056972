package main

import (
	"context"

	"wreath/internal/desk"
	"wreath/internal/vault"
)

type customerCmd struct {
	Enter    customerEnterCmd    `cmd:"" help:"Keep a customer's data, sealed with a key of its own."`
	Show     customerShowCmd     `cmd:"" help:"Look at a customer's data. Who looked and why stands in the log."`
	Correct  customerCorrectCmd  `cmd:"" help:"Keep corrected data beside the old ones."`
	Disclose customerDiscloseCmd `cmd:"" help:"Everything that is kept of a customer, for who may ask."`
	Erase    customerEraseCmd    `cmd:"" help:"Destroy the key of a customer's data: without it they can't be read."`
	Keep     customerKeepCmd     `cmd:"" help:"Stop an erasure because an authority orders it, or let it go on."`
	Erasures customerErasuresCmd `cmd:"" help:"All erasures as JSON, for a backup that is older than they are."`
}

// readPerson reads a customer's data. An error names the field and never what stands in it.
func readPerson(s *streams, file string) (vault.Person, error) {
	data, err := readUpTo(file, s.In, vault.MaxDocument)
	if err != nil {
		return vault.Person{}, err
	}
	return vault.Decode(data)
}

type customerEnterCmd struct {
	place
	once
	formatted
	File string `arg:"" help:"JSON document with the data, or - for standard input."`
}

func (customerEnterCmd) Help() string {
	return `Examples:

  wreath customer enter examples/house/customer.json

Fields: name, address, born_on, identity_document (kind, number, issuer, valid_until), contact, note.
None is mandatory by itself; ask what the rules need for the deal (wreath deal ask), and no more. The
log gets a name such as c-... and a commitment that tells nothing; only show and disclose print data.`
}

// Run enters the customer.
func (c *customerEnterCmd) Run(s *streams) error {
	p, err := readPerson(s, c.File)
	if err != nil {
		return err
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		id, err := r.EnterCustomer(ctx, c.by(who), p)
		return told(s, c.formatted, map[string]string{"id": id}, err, "%s entered.", id)
	})
}

type customerShowCmd struct {
	place
	formatted
	ID     string `arg:"" help:"Name of the customer, as a deal gives it."`
	Reason string `required:"" help:"What for. It stands in the log, and the customer can ask to read it."`
}

func (customerShowCmd) Help() string {
	return `Examples:

  wreath customer show c-0000000000000000 --reason "collects the pledge"`
}

// Run shows the data.
func (c *customerShowCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		p, err := r.SeeCustomer(ctx, desk.By{Who: who}, c.ID, c.Reason)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, p)
		}
		return printFields(s.Out, p)
	})
}

type customerCorrectCmd struct {
	place
	once
	ID   string `arg:"" help:"Name of the customer."`
	File string `arg:"" help:"JSON document with all data as they are right, or - for standard input."`
}

func (customerCorrectCmd) Help() string {
	return `Examples:

  wreath customer correct c-0000000000000000 examples/house/customer.json

The document takes the place of the earlier one as a whole; earlier ones stay sealed beside it.`
}

// Run corrects the data.
func (c *customerCorrectCmd) Run(s *streams) error {
	p, err := readPerson(s, c.File)
	if err != nil {
		return err
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if err := r.CorrectCustomer(ctx, c.by(who), c.ID, p); err != nil {
			return err
		}
		say(s, "%s corrected.", c.ID)
		return nil
	})
}

type customerDiscloseCmd struct {
	place
	ID     string   `arg:"" help:"Name of the customer."`
	To     string   `required:"" help:"Who gets the data: \"the customer\", or which authority. It stands in the log, so no name of a customer here."`
	Rights []string `sep:"none" placeholder:"TEXT" help:"What the customer may ask for and where to complain, as your law says; may be repeated."`
}

func (customerDiscloseCmd) Help() string {
	return `Examples:

  wreath customer disclose c-0000000000000000 --to "the customer" > answer.json

The answer holds all versions of the data, the deals, who looked and why, and until when they are kept:
of this customer and of nobody else.`
}

// Run hands the data out.
func (c *customerDiscloseCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		shop, err := r.AboutShop(ctx)
		if err != nil {
			return err
		}
		facts := vault.AccessFacts{Keeper: shop.Name + before(", ", shop.Address), Rights: c.Rights}
		answer, err := r.DiscloseCustomer(ctx, desk.By{Who: who}, c.ID, c.To, facts)
		if err != nil {
			return err
		}
		return writeJSON(s.Out, answer)
	})
}

type customerEraseCmd struct {
	place
	once
	ID     string `arg:"" help:"Name of the customer."`
	Reason string `required:"" help:"Why: the time of keeping is over, or the customer asked. No names here."`
}

func (customerEraseCmd) Help() string {
	return `Examples:

  wreath customer erase c-0000000000000000 --reason "the time of keeping is over"

Refused while a register rule says that the data must be kept, or an authority ordered it. The log stays
whole and can be verified as before. Backups made earlier, and stores that a restore put aside, still hold
the key and so the data: delete them, or restore them only with the list of wreath export --erasures.`
}

// Run erases.
func (c *customerEraseCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if err := r.EraseCustomer(ctx, c.by(who), c.ID, c.Reason); err != nil {
			return err
		}
		say(s, "The data of %s are erased.", c.ID)
		return nil
	})
}

type customerKeepCmd struct {
	place
	once
	ID        string `arg:"" help:"Name of the customer."`
	Reference string `required:"" help:"Reference of the authority's order."`
	Release   bool   `help:"The order has ended."`
}

func (customerKeepCmd) Help() string {
	return `Examples:

  wreath customer keep c-0000000000000000 --reference 2026/11-044
  wreath customer keep c-0000000000000000 --reference 2026/11-044 --release`
}

// Run keeps or lets go.
func (c *customerKeepCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if err := r.KeepCustomer(ctx, c.by(who), c.ID, c.Reference, c.Release); err != nil {
			return err
		}
		if c.Release {
			say(s, "Order %s keeps the data of %s no longer.", c.Reference, c.ID)
			return nil
		}
		say(s, "The data of %s are kept on order %s.", c.ID, c.Reference)
		return nil
	})
}

type customerErasuresCmd struct{ place }

func (customerErasuresCmd) Help() string {
	return `Examples:

  wreath customer erasures > erasures.json

Nothing personal is in it. Keep it apart from the backups.`
}

// Run lists the erasures.
func (c *customerErasuresCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		all, err := r.Erasures(ctx, who)
		if err != nil {
			return err
		}
		return writeJSON(s.Out, append([]vault.Erasure{}, all...))
	})
}
