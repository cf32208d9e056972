package main

import (
	"context"
	"encoding/json"
	"io"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/record"
	"wreath/internal/report"
)

type recordCmd struct {
	place
	once
	File    string `arg:"" help:"JSON document of the determination, or - for standard input."`
	Station string `help:"Station at which it was weighed; what the document leaves out comes from it."`
	Item    string `help:"Item that was weighed, by its name."`
	Barcode string `help:"Barcode of its tray or bag."`
	Format  string `enum:"text,json" default:"text" help:"text for people, json for programs."`
}

func (recordCmd) Help() string {
	return `Examples:

  wreath record examples/ring.json
  wreath record examples/ring.json --station counter --key till-4-0017

The determination is evaluated and kept for good, under the next number. A mistake is mended by a
correction, which stands beside the first record: wreath correct.`
}

// Run records one determination.
func (c *recordCmd) Run(s *streams) error {
	data, err := readInput(c.File, s.In)
	if err != nil {
		return err
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		made, err := r.Record(ctx, c.by(who), desk.Given{
			Begin: desk.Begin{Station: c.Station, Item: c.Item, Barcode: c.Barcode, Document: data}, Source: record.Typed,
		})
		if err != nil {
			return err
		}
		return printRecord(s, made, c.Format)
	})
}

// printRecord prints a record that was just made.
func printRecord(s *streams, r *record.Record, format string) error {
	if format == "json" {
		return writeJSON(s.Out, r)
	}
	say(s, "%s recorded.", r.Number)
	say(s, "")
	return printAnswer(s.Out, r, false)
}

func printAnswer(w io.Writer, r *record.Record, details bool) error {
	var answer determination.Answer
	if err := json.Unmarshal(r.Answer, &answer); err != nil {
		return err
	}
	return report.Text(w, &answer, details)
}
