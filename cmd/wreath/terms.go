package main

import (
	"context"
	"slices"
	"strconv"

	"wreath/internal/desk"
	"wreath/internal/value"
)

type termsCmd struct {
	Set  termsSetCmd  `cmd:"" help:"Set what the house pays, as a new version."`
	List termsListCmd `cmd:"" help:"The terms of the house."`
	Show termsShowCmd `cmd:"" help:"One set of terms."`
}

type termsSetCmd struct {
	place
	once
	File   string `arg:"" help:"JSON document of the terms, or - for standard input. Its version is counted here."`
	Reason string `help:"Why they change."`
}

func (termsSetCmd) Help() string {
	return `Examples:

  wreath terms set examples/house/terms.json

A finding that is undecided, not met or missing gives no price unless the terms say so; a suspended one
gives none under any terms.`
}

// Run sets the terms.
func (c *termsSetCmd) Run(s *streams) error {
	data, err := readUpTo(c.File, s.In, value.MaxTerms)
	if err != nil {
		return err
	}
	terms, err := value.DecodeTerms(data)
	if err != nil {
		return every(err)
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		set, err := r.SetTerms(ctx, c.by(who), *terms, c.Reason)
		if err != nil {
			return every(err)
		}
		say(s, "Set as %s: %s.", set.Key, set.Title())
		return nil
	})
}

type termsListCmd struct {
	place
	formatted
}

func (termsListCmd) Help() string {
	return `Examples:

  wreath terms list`
}

// Run lists the terms.
func (c *termsListCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		all, err := r.TermsOf(ctx, who)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, append([]value.Terms{}, all...))
		}
		if len(all) == 0 {
			say(s, "No terms are set.")
			return nil
		}
		var rows [][]string
		for _, t := range all {
			rows = append(rows, []string{t.Key, strconv.Itoa(t.Version), t.Name, t.Currency})
		}
		return safeGrid(s.Out, "terms|version|name|currency", rows)
	})
}

type termsShowCmd struct {
	place
	formatted
	Terms string `arg:"" placeholder:"KEY" help:"Key of the terms."`
}

func (termsShowCmd) Help() string {
	return `Examples:

  wreath terms show counter
  wreath terms show counter --format json`
}

// Run shows terms.
func (c *termsShowCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		all, err := r.TermsOf(ctx, who)
		if err != nil {
			return err
		}
		at := slices.IndexFunc(all, func(t value.Terms) bool { return t.Key == c.Terms })
		if at < 0 {
			return notThere("wreath terms list shows what there is.", "there are no terms %q", c.Terms)
		}
		if c.forPrograms() {
			return writeJSON(s.Out, all[at])
		}
		return printFields(s.Out, all[at])
	})
}
