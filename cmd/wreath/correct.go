package main

import (
	"context"

	"wreath/internal/desk"
	"wreath/internal/record"
	"wreath/internal/station"
)

type correctCmd struct {
	place
	once
	formatted
	Number  string `arg:"" help:"Number of the record that is wrong."`
	File    string `arg:"" help:"JSON document of the right determination, with its readings; - for standard input."`
	Reason  string `required:"" help:"What was wrong, in a few words. It is printed with both records."`
	Station string `help:"Station at which it was weighed; that of the wrong record unless said."`
	Item    string `help:"Item that was weighed; that of the wrong record unless said."`
	Barcode string `help:"Barcode of its tray or bag; that of the wrong record unless said."`
}

func (correctCmd) Help() string {
	return `Examples:

  wreath correct D-000001 examples/ring.json --reason "stamp read wrongly"

The right determination becomes a new record with a number of its own. The wrong one stays, marked as
superseded; wreath compare shows what differs.`
}

// Run puts a new record in the place of a wrong one.
func (c *correctCmd) Run(s *streams) error {
	data, err := readInput(c.File, s.In)
	if err != nil {
		return err
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		old, err := r.Show(ctx, who, c.Number)
		if err != nil {
			return err
		}
		begin := desk.Begin{Station: c.Station, Item: c.Item, Barcode: c.Barcode, Document: data}
		was := old.Record.Sheet
		if begin.Station == "" && was.Station != nil {
			begin.Station = was.Station.ID
		}
		if begin.Item == "" {
			begin.Item = was.Item
		}
		if begin.Barcode == "" {
			begin.Barcode = was.Barcode
		}
		made, err := r.Correct(ctx, c.by(who), c.Number, desk.Given{Begin: begin, Source: record.Typed}, c.Reason)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, made)
		}
		say(s, "%s takes the place of %s.", made.Number, made.Supersedes.Number)
		return printRecord(s, made, c.Format)
	})
}

type compareCmd struct {
	place
	formatted
	Number string `arg:"" help:"Number of the newer record, which corrects another."`
}

func (compareCmd) Help() string {
	return `Examples:

  wreath compare D-000003
  wreath compare D-000003 --format json

It lists what differs between a record and the one that it corrects: what was asked and read, where,
what was evaluated, and what came of it.`
}

// Run compares both sides of a correction.
func (c *compareCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		d, err := r.Compare(ctx, who, c.Number)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, d)
		}
		return printDifference(s, d)
	})
}

func printDifference(s *streams, d *record.Difference) error {
	none := true
	for _, part := range []struct {
		title   string
		changes []station.Change
	}{
		{"What was asked and read", d.Sheet}, {"Station and instruments", d.Station},
		{"What was evaluated", d.Document}, {"What came of it", d.Answer},
	} {
		if len(part.changes) == 0 {
			continue
		}
		if !none {
			say(s, "")
		}
		none = false
		say(s, "%s", part.title)
		if err := printChanges(s, part.changes, "before", "after"); err != nil {
			return err
		}
	}
	if none {
		say(s, "Nothing differs but who recorded it and when.")
	}
	return nil
}

func printChanges(s *streams, changes []station.Change, before, after string) error {
	var rows [][]string
	for _, c := range changes {
		rows = append(rows, []string{c.Path, short(c.Old, 40), short(c.New, 40)})
	}
	return safeGrid(s.Out, "where|"+before+"|"+after, rows)
}
