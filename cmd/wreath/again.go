package main

import (
	"context"

	"wreath/internal/desk"
	"wreath/internal/station"
)

type againCmd struct {
	place
	formatted
	Number string `arg:"" help:"Number of the record."`
}

func (againCmd) Help() string {
	return `Examples:

  wreath again D-000001
  wreath again D-000001 --format json

The record keeps everything that was evaluated; here it is evaluated again and compared, figure by
figure. It ends with exit code 1 where anything differs.`
}

// Run evaluates a record again.
func (c *againCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		p, err := r.Again(ctx, who, c.Number)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			err = writeJSON(s.Out, p)
		} else {
			say(s, "%s", p.Sentence)
			var changes []station.Change
			changes = append(changes, p.Document...)
			for _, f := range p.Figures {
				changes = append(changes, f.Change)
			}
			if len(changes) > 0 {
				err = printChanges(s, changes, "RECORDED", "NOW")
			}
		}
		if err == nil && !p.Same {
			err = &failure{exitFailed, c.Number + " does not come out as it was recorded", "The record stands; find out whether formulas, tables or the processor changed since."}
		}
		return err
	})
}
