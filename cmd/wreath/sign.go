package main

import (
	"context"

	"wreath/internal/desk"
	"wreath/internal/people"
)

type signCmd struct {
	place
	once
	formatted
	Number string `arg:"" help:"Number of the record."`
	As     string `required:"" enum:"approved,reviewed,measured,witnessed,refused" help:"What the signature means: approved, reviewed, measured, witnessed or refused."`
	PIN    bool   `name:"pin" help:"Give the PIN instead of the password, at an enrolled device."`
}

func (signCmd) Help() string {
	return `Examples:

  wreath sign D-000001 --as approved

Whoever signed in gives the password again, just before each signature: at a prompt, or as a line of
standard input. The meanings:

approved: I answer for this record and its finding.
reviewed: I have read this record and its history.
measured: I took the readings of this record.
witnessed: I did not measure or approve this record; I have checked it as the second person.
refused: I do not accept this record.`
}

// Run signs a record.
func (c *signCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if who.SignedIn() {
			if err := c.confirm(ctx, s, r, who, c.PIN); err != nil {
				return err
			}
		}
		shown, err := r.Sign(ctx, c.by(who), c.Number, people.Meaning(c.As))
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, shown)
		}
		zone, err := shopZone(ctx, r)
		if err != nil {
			return err
		}
		page := newPage()
		page.say(shown.Record.Number, "%s", shown.State.Text)
		for _, signature := range shown.Signatures {
			signature.At = signature.At.In(zone)
			page.say("", "%s", harmless(signature.Line()))
		}
		for _, m := range shown.Missing {
			page.say("", "missing: %s", harmless(m))
		}
		if shown.Statement != "" {
			page.say("", "%s", shown.Statement)
		}
		return page.print(s.Out)
	})
}

// confirm asks for password or PIN again.
func (p *place) confirm(ctx context.Context, s *streams, r *room, who *desk.Who, pin bool) error {
	at, err := p.at()
	if err != nil {
		return err
	}
	if pin {
		secret, err := ask(s, "PIN")
		if err != nil {
			return err
		}
		return r.Confirm(ctx, who, "", secret, at)
	}
	secret, err := ask(s, "password")
	if err != nil {
		return err
	}
	return r.Confirm(ctx, who, secret, "", at)
}
