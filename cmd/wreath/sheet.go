package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"wreath/internal/desk"
	"wreath/internal/record"
	"wreath/internal/report"
	"wreath/internal/station"
)

// sheetCmd is a determination under way.
type sheetCmd struct {
	Open     sheetOpenCmd     `cmd:"" help:"Begin a determination."`
	Take     sheetTakeCmd     `cmd:"" help:"Take a reading."`
	Withdraw sheetWithdrawCmd `cmd:"" help:"Set a reading aside; it stays visible."`
	Restore  sheetRestoreCmd  `cmd:"" help:"Let a reading that was set aside count again."`
	Move     sheetMoveCmd     `cmd:"" help:"Move it to another station; readings stay where they were taken."`
	Change   sheetChangeCmd   `cmd:"" help:"Ask something else: another claim, rule or other conditions."`
	Note     sheetNoteCmd     `cmd:"" help:"Add a remark."`
	Show     sheetShowCmd     `cmd:"" help:"The readings, and what they come to so far."`
	List     sheetListCmd     `cmd:"" help:"The determinations under way."`
	Conclude sheetConcludeCmd `cmd:"" help:"Evaluate it and keep it for good."`
	Drop     sheetDropCmd     `cmd:"" help:"Give it up."`
}

type sheetOpenCmd struct {
	place
	once
	formatted
	File    string `arg:"" optional:"" help:"JSON document of what is asked, without readings; - for standard input. An empty one unless said."`
	Station string `help:"Station at which it is weighed; what the document leaves out comes from it."`
	Item    string `help:"Item that is weighed, by its name."`
	Barcode string `help:"Barcode of its tray or bag."`
}

func (sheetOpenCmd) Help() string {
	return `Examples:

  wreath sheet open question.json --barcode T-7
  echo '{"arrangement": "hanging"}' | wreath sheet open -

It prints the name of the sheet, by which readings are added.`
}

// Run begins a determination.
func (c *sheetOpenCmd) Run(s *streams) error {
	data := []byte("{}")
	if c.File != "" {
		var err error
		if data, err = readInput(c.File, s.In); err != nil {
			return err
		}
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		sheet, err := r.OpenSheet(ctx, c.by(who), desk.Begin{Station: c.Station, Item: c.Item, Barcode: c.Barcode, Document: json.RawMessage(data)})
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, sheet)
		}
		say(s, "%s", sheet.Sheet.ID)
		return nil
	})
}

type sheetTakeCmd struct {
	place
	once
	ID         string `arg:"" name:"id" help:"Name of the sheet."`
	Slot       string `arg:"" help:"What was read, by its field in the document: air_g, liquid_g, closing_air_g, liquid.temperature_c ..."`
	Text       string `arg:"" help:"The reading as the instrument shows it, with or without its unit."`
	Unit       string `help:"Unit of the reading, where its text has none."`
	Instrument string `placeholder:"NAME@VERSION" help:"Instrument that was read, where it is not the one of the station."`
}

func (sheetTakeCmd) Help() string {
	return `Examples:

  wreath sheet take d-example air_g "7.4218 g"
  wreath sheet take d-example liquid_g 6,9431
  wreath sheet take d-example liquid.temperature_c "21.4 °C"

A negative reading stands after two hyphens: wreath sheet take d-example -- empty_g -0.0001`
}

// Run takes a reading.
func (c *sheetTakeCmd) Run(s *streams) error {
	reading := record.Reading{Slot: c.Slot, Text: c.Text, Unit: c.Unit, Source: record.Typed}
	if c.Instrument != "" {
		name, number, _ := strings.Cut(c.Instrument, "@")
		n, err := strconv.Atoi(number)
		if err != nil {
			return wrong("Write it as balance-1@2.", "--instrument %q names no version of an instrument", c.Instrument)
		}
		reading.Instrument = &station.Ref{ID: name, Version: n}
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		sheet, err := r.Take(ctx, c.by(who), c.ID, reading)
		if err != nil {
			return err
		}
		if n := len(sheet.Sheet.Readings); n > 0 {
			last := sheet.Sheet.Readings[n-1]
			say(s, "reading %d: %s %s", last.No, last.Slot, harmless(last.Text))
			return nil
		}
		say(s, "Taken before; the sheet is concluded.")
		return nil
	})
}

type sheetWithdrawCmd struct {
	place
	once
	ID     string `arg:"" name:"id" help:"Name of the sheet."`
	No     int    `arg:"" help:"Number of the reading."`
	Reason string `required:"" help:"Why, in a few words: bubble seen, wrong item."`
}

func (sheetWithdrawCmd) Help() string {
	return `Examples:

  wreath sheet withdraw d-example 2 --reason "bubble seen"`
}

// Run sets a reading aside.
func (c *sheetWithdrawCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		_, err := r.Withdraw(ctx, c.by(who), c.ID, c.No, c.Reason)
		if err == nil {
			say(s, "Reading %d is set aside and stays visible.", c.No)
		}
		return err
	})
}

type sheetRestoreCmd struct {
	place
	once
	ID     string `arg:"" name:"id" help:"Name of the sheet."`
	No     int    `arg:"" help:"Number of the reading."`
	Reason string `required:"" help:"Why, in a few words: set aside by mistake."`
}

func (sheetRestoreCmd) Help() string {
	return `Examples:

  wreath sheet restore d-example 2 --reason "set aside by mistake"

That it was set aside stays on the sheet, with both reasons.`
}

// Run lets a reading that was set aside count again.
func (c *sheetRestoreCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		_, err := r.RestoreReading(ctx, c.by(who), c.ID, c.No, c.Reason)
		if err == nil {
			say(s, "Reading %d counts again.", c.No)
		}
		return err
	})
}

type sheetMoveCmd struct {
	place
	once
	ID      string `arg:"" name:"id" help:"Name of the sheet."`
	Station string `arg:"" help:"Station that it goes to; its newest version is taken."`
	Reason  string `help:"Why; needed once a reading is taken."`
}

func (sheetMoveCmd) Help() string {
	return `Examples:

  wreath sheet move d-example bench-2 --reason "bench-1 can't decide it"

What was weighed before stays on the sheet with its station, and isn't evaluated at the new one: the
errors of two balances don't cancel. Weigh again there, in air and in the liquid.`
}

// Run moves a sheet to another station.
func (c *sheetMoveCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		sheet, err := r.MoveSheet(ctx, c.by(who), c.ID, c.Station, c.Reason)
		if err == nil && sheet.Sheet.Station != nil {
			say(s, "The sheet is at %s. Weigh there in air and in the liquid.", sheet.Sheet.Station)
		}
		return err
	})
}

type sheetChangeCmd struct {
	place
	once
	ID     string `arg:"" name:"id" help:"Name of the sheet."`
	File   string `arg:"" help:"JSON document of what is asked now, without readings; - for standard input."`
	Reason string `help:"Why; needed once a reading is taken."`
}

func (sheetChangeCmd) Help() string {
	return `Examples:

  wreath sheet change d-example question.json --reason "the stamp reads 750, not 585"

The earlier question stays on the sheet. A claim or rule that is changed after the first reading is
marked on the record.`
}

// Run asks something else.
func (c *sheetChangeCmd) Run(s *streams) error {
	data, err := readInput(c.File, s.In)
	if err != nil {
		return err
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		sheet, err := r.Change(ctx, c.by(who), c.ID, json.RawMessage(data), c.Reason)
		if err == nil {
			say(s, "The sheet asks version %d of the question.", len(sheet.Sheet.Requests))
		}
		return err
	})
}

type sheetNoteCmd struct {
	place
	once
	ID   string `arg:"" name:"id" help:"Name of the sheet."`
	Text string `arg:"" help:"The remark."`
}

func (sheetNoteCmd) Help() string {
	return `Examples:

  wreath sheet note d-example "stone is loose"`
}

// Run adds a remark.
func (c *sheetNoteCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		_, err := r.Note(ctx, c.by(who), c.ID, c.Text)
		if err == nil {
			say(s, "Noted.")
		}
		return err
	})
}

type sheetShowCmd struct {
	place
	formatted
	ID      string `arg:"" name:"id" help:"Name of the sheet."`
	Details bool   `help:"The whole answer so far."`
}

func (sheetShowCmd) Help() string {
	return `Examples:

  wreath sheet show d-example
  wreath sheet show d-example --format json

Nothing of what the readings come to so far is kept.`
}

// Run shows a sheet.
func (c *sheetShowCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		under, err := r.Sheet(ctx, who, c.ID)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, under)
		}
		zone, err := shopZone(ctx, r)
		if err != nil {
			return err
		}
		sheet := under.Sheet
		page := newPage()
		page.say("Sheet", "%s, opened %s by %s", sheet.ID, moment(sheet.Opened.Time, zone), harmless(sheet.Opened.Person))
		page.say("", "the question is version %d; not recorded", len(sheet.Requests))
		for _, n := range sheet.Notes {
			page.say("Note", "%s: %s", harmless(n.Made.Person), harmless(n.Text))
		}
		for _, m := range sheet.Marks() {
			page.say("Caution", "%s", harmless(m))
		}
		if err := page.print(s.Out); err != nil {
			return err
		}
		if err := printReadings(s, &sheet, func(a record.Act) string { return moment(a.Time, zone) }); err != nil {
			return err
		}
		say(s, "")
		so, err := r.Evaluate(ctx, who, c.ID)
		var field *record.FieldError
		if errors.As(err, &field) {
			say(s, "No answer yet: %s. %s", harmless(field.Error()), harmless(field.Hint))
			return nil
		}
		if err != nil {
			return err
		}
		return report.Text(s.Out, so.Answer, c.Details)
	})
}

type sheetListCmd struct {
	place
	formatted
}

func (sheetListCmd) Help() string {
	return `Examples:

  wreath sheet list`
}

// Run lists what is under way.
func (c *sheetListCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		all, err := r.Sheets(ctx, who)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, append([]record.Sheet{}, all...))
		}
		if len(all) == 0 {
			say(s, "No determination is under way.")
			return nil
		}
		zone, err := shopZone(ctx, r)
		if err != nil {
			return err
		}
		var rows [][]string
		for _, sheet := range all {
			at := ""
			if sheet.Station != nil {
				at = sheet.Station.String()
			}
			last := sheet.Opened.Time
			if n := len(sheet.Readings); n > 0 {
				last = latest(last, sheet.Readings[n-1].Time)
			}
			rows = append(rows, []string{sheet.ID, moment(sheet.Opened.Time, zone), sheet.Opened.Person, sheet.Item, sheet.Barcode, at, fmt.Sprint(len(sheet.Readings)), moment(last, zone)})
		}
		return safeGrid(s.Out, "sheet|opened|by|item|barcode|station|readings|last", rows)
	})
}

func latest(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

type sheetConcludeCmd struct {
	place
	once
	formatted
	ID string `arg:"" name:"id" help:"Name of the sheet."`
}

func (sheetConcludeCmd) Help() string {
	return `Examples:

  wreath sheet conclude d-example --key till-4-0018`
}

// Run records what the sheet comes to.
func (c *sheetConcludeCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		made, err := r.Conclude(ctx, c.by(who), c.ID)
		if err != nil {
			return err
		}
		return printRecord(s, made, c.Format)
	})
}

type sheetDropCmd struct {
	place
	once
	ID     string `arg:"" name:"id" help:"Name of the sheet."`
	Reason string `required:"" help:"Why, in a few words."`
}

func (sheetDropCmd) Help() string {
	return `Examples:

  wreath sheet drop d-example --reason "the customer left"

Its history stays in the log.`
}

// Run gives a sheet up.
func (c *sheetDropCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		err := r.Drop(ctx, c.by(who), c.ID, c.Reason)
		if err == nil {
			say(s, "%s is given up; its history stays in the log.", c.ID)
		}
		return err
	})
}
