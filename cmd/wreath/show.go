package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/ledger"
	"wreath/internal/record"
	"wreath/internal/value"
)

type showCmd struct {
	place
	formatted
	Number  string `arg:"" help:"Number of the record, such as D-000123, or its id."`
	Details bool   `help:"The whole answer: every candidate, the budget, what was assumed and why."`
	History bool   `help:"Everything that happened to it, entry by entry."`
}

func (showCmd) Help() string {
	return `Examples:

  wreath show D-000001
  wreath show D-000001 --details --history
  wreath show D-000001 --format json

A record is read from the log itself and held against its hash. A record that was corrected says so
first, and names the one that took its place.`
}

// Run shows one record.
func (c *showCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		shown, err := r.Show(ctx, who, c.Number)
		if err != nil {
			return err
		}
		var history []desk.Happening
		if c.History {
			if history, err = r.History(ctx, who, shown.Record.ID); err != nil {
				return err
			}
		}
		cp, err := r.LastCheckpoint(ctx, who)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, struct {
				desk.Recorded
				Checkpoint string           `json:"checkpoint,omitempty"`
				History    []desk.Happening `json:"history,omitempty"`
			}{shown, shortOf(cp, shown.Entry), history})
		}
		return printRecorded(ctx, s, r, shown, cp, history, c.Details)
	})
}

// shortOf is the printed form of a checkpoint that covers an entry; "" when it does not.
func shortOf(cp ledger.Checkpoint, entry int64) string {
	if cp.Size <= entry {
		return ""
	}
	return cp.Short().String()
}

func printRecorded(ctx context.Context, s *streams, r *room, shown desk.Recorded, cp ledger.Checkpoint, history []desk.Happening, details bool) error {
	zone, err := shopZone(ctx, r)
	if err != nil {
		return err
	}
	rec := shown.Record
	head := newPage()
	at := ""
	if rec.Station != nil {
		at = " at station " + rec.Station.Ref().String()
	}
	head.say("Record", "%s, recorded %s by %s%s", rec.Number, moment(rec.Made.Time, zone), harmless(rec.Made.Person), harmless(at))
	if shown.SupersededBy != "" {
		head.say("", "SUPERSEDED by %s, which counts instead", shown.SupersededBy)
	}
	if by := rec.Supersedes; by != nil {
		head.say("", "corrects %s: %s", by.Number, harmless(by.Reason))
	}
	head.say("State", "%s", shown.State.Text)
	for _, m := range shown.Missing {
		if shown.SupersededBy != "" {
			break // nobody signs it any more
		}
		head.say("", "missing: %s", harmless(m))
	}
	for _, signature := range shown.Signatures {
		signature.At = signature.At.In(zone)
		head.say("", "%s", harmless(signature.Line()))
	}
	if shown.Statement != "" {
		head.say("", "%s", shown.Statement)
	}
	if err := head.print(s.Out); err != nil {
		return err
	}
	if err := printAnswer(s.Out, rec, details); err != nil {
		return err
	}
	foot := newPage()
	label := "Mind"
	for _, statement := range rec.Statements {
		foot.say(label, "%s", harmless(statement.Text))
		label = ""
	}
	for _, mark := range rec.Marks {
		foot.say(label, "%s", harmless(mark))
		label = ""
	}
	if err := sayWorth(foot, shown.Worth); err != nil {
		return err
	}
	foot.say("Kept", "entry %d, hash %s", shown.Entry, shown.Hash)
	if on := shortOf(cp, shown.Entry); on != "" {
		foot.say("", "covered by checkpoint %s", on)
	} else {
		foot.say("", "covered by no checkpoint yet (wreath checkpoint)")
	}
	foot.line("")
	if err := foot.print(s.Out); err != nil {
		return err
	}
	if err := printReadings(s, &rec.Sheet, func(a record.Act) string { return moment(a.Time, zone) }); err != nil {
		return err
	}
	if len(history) == 0 {
		return nil
	}
	say(s, "")
	var rows [][]string
	for _, h := range history {
		rows = append(rows, []string{fmt.Sprint(h.Seq), moment(h.Time, zone) + strings.Repeat(" (clock set back)", boolean(h.Clock != "")), strings.ReplaceAll(h.Kind, "-", " "), h.Person, reasonIn(h.Body)})
	}
	return safeGrid(s.Out, "entry|when|what|by|why", rows)
}

func boolean(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// reasonIn finds the reason that an act was given, if any.
func reasonIn(body json.RawMessage) string {
	var b struct {
		Reason     string             `json:"reason"`
		Supersedes *record.Supersedes `json:"supersedes"`
	}
	if err := json.Unmarshal(body, &b); err != nil {
		return "" // not every body is an object with these fields
	}
	if b.Supersedes != nil {
		return "corrects " + b.Supersedes.Number + ": " + b.Supersedes.Reason
	}
	return b.Reason
}

// sayWorth says what an item is worth, never without the state of the finding.
func sayWorth(page *sheet, stored json.RawMessage) error {
	if stored == nil {
		return nil
	}
	var w value.Worth
	if err := json.Unmarshal(stored, &w); err != nil {
		return errors.New("the value in the record can't be read: " + err.Error())
	}
	if w.Payout == nil {
		page.say("Value", "finding %s: no price. %s", w.State, harmless(w.NoPrice))
	} else {
		page.say("Value", "finding %s: %s %s, for %s g fine %s at %s ppt (%s)", w.State, w.Payout, w.Currency, w.FineG, w.Metal, w.Fineness, w.FinenessBy)
	}
	page.say("", "%s", harmless(w.Sentence))
	if w.Stale {
		page.say("", "the price was STALE: older than the terms allow")
	}
	for _, warning := range w.Warnings {
		page.say("", "%s", harmless(warning))
	}
	return nil
}

// printReadings lists all readings of a sheet, those that don't count too.
func printReadings(s *streams, sheet *record.Sheet, when func(record.Act) string) error {
	if len(sheet.Readings) == 0 {
		say(s, "No reading is taken yet.")
		return nil
	}
	var rows [][]string
	for _, r := range sheet.Readings {
		with := r.Source
		if r.Instrument != nil {
			with += " from " + r.Instrument.String()
		}
		aside := ""
		if w := r.Withdrawn; w != nil {
			aside = "SET ASIDE by " + w.Person + ": " + w.Reason
		} else if !sheet.Here(r.No) {
			aside = "NOT EVALUATED: taken at no station"
			if at := sheet.TakenAt(r.No); at != nil {
				aside = "NOT EVALUATED: taken at " + at.String()
			}
		} else if n := len(r.Restored); n > 0 {
			aside = "restored by " + r.Restored[n-1].Person + ": " + r.Restored[n-1].Reason
		}
		rows = append(rows, []string{fmt.Sprint(r.No), r.Slot, strings.TrimSpace(r.Text + " " + r.Unit), when(record.Act{Time: r.Time}), r.Person, with, aside})
	}
	return safeGrid(s.Out, "no|reading|as read|when|by|how|set aside", rows)
}
