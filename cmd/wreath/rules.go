package main

import (
	"context"
	"slices"

	"wreath/internal/desk"
	"wreath/internal/register"
	"wreath/internal/strictjson"
)

type rulesCmd struct {
	Set   rulesSetCmd   `cmd:"" help:"Set the rules by which the register is kept."`
	Show  rulesShowCmd  `cmd:"" help:"The rules in force."`
	Check rulesCheckCmd `cmd:"" help:"Everything that is wrong with rules, or may be meant otherwise. Nothing is set."`
}

type rulesSetCmd struct {
	place
	once
	File   string `arg:"" help:"JSON document of the rules, or - for standard input."`
	Reason string `help:"Why they change."`
}

func (rulesSetCmd) Help() string {
	return `Examples:

  wreath rules set examples/house/register-rules.json --reason "rules of the town from this year"

No law is built in: the rules are yours, written from the text that binds you. Each edition names its
source and its days; a deal is judged by the edition of its day.`
}

// Run sets the rules.
func (c *rulesSetCmd) Run(s *streams) error {
	data, err := readUpTo(c.File, s.In, register.MaxDocument)
	if err != nil {
		return err
	}
	rules, err := register.Decode(data)
	if err != nil {
		return err
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		before, err := r.RegisterRules(ctx, who)
		if err != nil {
			return err
		}
		if err := r.SetRegisterRules(ctx, c.by(who), rules, c.Reason); err != nil {
			return err
		}
		say(s, "The rules of %s are set: %s.", rules.Name, plural(len(rules.Editions), "edition"))
		for _, f := range register.Lint(rules) {
			say(s, "Look at %s: %s %s", f.Path, f.Reason+".", f.Hint)
		}
		for _, e := range before.Editions {
			if !slices.ContainsFunc(rules.Editions, func(now register.Edition) bool { return now.Edition == e.Edition }) {
				say(s, "Look at edition %q: these rules do not hold it any more, so deals of its days are judged without it. Set the rules again with it, if that is not meant.", e.Edition)
			}
		}
		return nil
	})
}

type rulesShowCmd struct {
	place
	formatted
}

func (rulesShowCmd) Help() string {
	return `Examples:

  wreath rules show
  wreath rules show --format json`
}

// Run shows the rules.
func (c *rulesShowCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		rules, err := r.RegisterRules(ctx, who)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, rules)
		}
		if len(rules.Editions) == 0 {
			say(s, "No register rules are set: nothing is asked, nothing is held, deals are numbered from 1.")
			return nil
		}
		return printFields(s.Out, rules)
	})
}

type rulesCheckCmd struct {
	formatted
	File string `arg:"" help:"JSON document of the rules, or - for standard input."`
}

func (rulesCheckCmd) Help() string {
	return `Examples:

  wreath rules check examples/house/register-rules.json

Exit code 2 when the rules can't be used; what only deserves a look ends with 0.`
}

// Run checks the rules.
func (c *rulesCheckCmd) Run(s *streams) error {
	data, err := readUpTo(c.File, s.In, register.MaxDocument)
	if err != nil {
		return err
	}
	var rules register.Rules
	if len(data) > register.MaxDocument {
		_, err := register.Decode(data)
		return err
	}
	if err := strictjson.Unmarshal(data, &rules); err != nil {
		return err
	}
	found := register.Lint(rules)
	faults := 0
	type line struct {
		Path    string `json:"path"`
		Reason  string `json:"reason"`
		Hint    string `json:"hint,omitempty"`
		Caution bool   `json:"caution,omitempty"`
	}
	lines := []line{}
	for _, f := range found {
		if !f.Caution {
			faults++
		}
		lines = append(lines, line{f.Path, f.Reason, f.Hint, f.Caution})
	}
	if c.forPrograms() {
		if err := writeJSON(s.Out, lines); err != nil {
			return err
		}
	} else {
		for _, l := range lines {
			word := "wrong"
			if l.Caution {
				word = "look at"
			}
			say(s, "%s %s: %s. %s", word, l.Path, l.Reason, l.Hint)
		}
	}
	switch {
	case faults > 0:
		return wrong("Mend what is said to be wrong.", "the rules can't be used: %s", plural(faults, "fault"))
	case !c.forPrograms():
		say(s, "The rules of %s can be used: %s.", rules.Name, plural(len(rules.Editions), "edition"))
	}
	return nil
}
