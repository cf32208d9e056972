package main

import (
	"context"
	"slices"

	"wreath/internal/desk"
	"wreath/internal/people"
)

// fourEyesCmd is about the second person.
type fourEyesCmd struct {
	Set  fourEyesSetCmd  `cmd:"" help:"Set from a day on when a second person must witness."`
	Show fourEyesShowCmd `cmd:"" help:"The rules that were set."`
}

type fourEyesSetCmd struct {
	place
	once
	File string `arg:"" help:"JSON document of the rule, or - for standard input."`
}

func (fourEyesSetCmd) Help() string {
	return `Examples:

  wreath four-eyes set examples/house/four-eyes.json

A record is judged by the rule in force on its day.`
}

// Run sets the rule.
func (c *fourEyesSetCmd) Run(s *streams) error {
	data, err := readInput(c.File, s.In)
	if err != nil {
		return err
	}
	rule, err := people.ReadFourEyes(data)
	if err != nil {
		return err
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		err := r.SetFourEyes(ctx, c.by(who), rule)
		if err == nil {
			say(s, "The rule holds from %s on.", rule.From)
		}
		return err
	})
}

type fourEyesShowCmd struct {
	place
	formatted
}

func (fourEyesShowCmd) Help() string {
	return `Examples:

  wreath four-eyes show
  wreath four-eyes show --format json`
}

// Run shows the rules.
func (c *fourEyesShowCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		rules, err := r.FourEyes(ctx, who)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, append([]people.FourEyes{}, rules...))
		}
		if len(rules) == 0 {
			say(s, "No rule was set. Every record needs one signature with the meaning approved.")
			return nil
		}
		page := &sheet{label: 17}
		for _, rule := range slices.Backward(rules) {
			page.say("From "+harmless(rule.From), "%s", ruleInWords(rule))
			page.say("", "because: %s", harmless(rule.Reason))
		}
		return page.print(s.Out)
	})
}

func ruleInWords(rule people.FourEyes) string {
	if rule.OnePerson {
		return "nobody witnesses: one person measures and signs, and papers say so"
	}
	text := "a second person witnesses"
	join := " "
	if rule.AboveAmount != "" {
		text += join + "above " + rule.AboveAmount + " " + rule.Currency
		join = "; "
	}
	for _, f := range rule.Findings {
		text += join + "when the finding is " + f.Outcome
		if f.Metal != "" {
			text += " on " + f.Metal
		}
		if f.AboveG != "" {
			text += " above " + f.AboveG + " g"
		}
		join = "; "
	}
	if rule.Overrides {
		text += join + "where a finding or a hold was overridden"
	}
	return harmless(text)
}
