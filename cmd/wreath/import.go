package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"

	"wreath/internal/desk"
	"wreath/internal/tables"
)

type importCmd struct {
	Items importItemsCmd `cmd:"" help:"Enter the items of a list, such as bars of a delivery, all or none."`
}

type importItemsCmd struct {
	place
	once
	formatted
	File   string `arg:"" help:"CSV, workbook (.xlsx) or JSON Lines, or - for standard input."`
	DryRun bool   `help:"Only say what would be entered, row by row."`
}

func (importItemsCmd) Help() string {
	return `Examples:

  wreath import items examples/lists/bars.csv --dry-run
  wreath import items examples/lists/barren.csv
  wreath import items examples/lists/bars.csv --format json

The first row holds the headings, in English, German or Spanish: serial, marks, description, condition,
metal, fineness, mass, mass unit, claim, claimed by, barcode, reference, part of, place. Every row is
answered. When one of them can't be entered, none is, and the exit code is 2. The same file is not
entered twice. What a list says is marked as declared by list: nobody here has looked at the item yet.`
}

// Run answers row by row, and enters all or none.
func (c *importItemsCmd) Run(s *streams) error {
	data, err := readUpTo(c.File, s.In, desk.MaxListBytes)
	if err != nil {
		return err
	}
	name := filepath.Base(c.File)
	if c.File == "-" {
		name = "standard input"
	}
	list := desk.ListFile{Name: name, Data: data}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		trial, err := r.TryImport(ctx, who, list)
		if err != nil {
			return err
		}
		if c.DryRun || trial.Mends() > 0 {
			return c.tell(s, trial)
		}
		done, err := r.ImportItems(ctx, c.by(who), list)
		var refused *desk.ListError
		if errors.As(err, &refused) { // something else came in between
			return c.tell(s, refused.Trial)
		}
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, done)
		}
		if done.Again {
			return c.before(s, r, done)
		}
		if err := c.tell(s, trial); err != nil {
			return err
		}
		say(s, "%s entered, as list %s.", plural(len(done.Items), "item"), done.ID)
		return nil
	})
}

// before says that the file was imported already.
func (c *importItemsCmd) before(s *streams, r *room, done *desk.Imported) error {
	zone, err := shopZone(context.Background(), r)
	if err != nil {
		return err
	}
	say(s, "This file was imported on %s by %s, as list %s with %s. Nothing was entered now.", stamp(done.At, zone), done.Person, done.ID, plural(len(done.Items), "item"))
	return nil
}

// tell says row by row what an import comes to. A list that can't be imported ends the command.
func (c *importItemsCmd) tell(s *streams, t *desk.Trial) error {
	mends := t.Mends()
	if c.forPrograms() {
		if err := writeJSON(s.Out, t); err != nil {
			return err
		}
	} else {
		tellRows(s, t)
	}
	switch {
	case mends > 0:
		return wrong("Mend these rows and import the file again.", "the list has %s to mend, so nothing was entered", plural(mends, "fault"))
	case !c.DryRun || c.forPrograms():
	case t.Before != nil:
		say(s, "This file was imported already, as list %s with %s. An import would enter nothing.", t.Before.ID, plural(len(t.Before.Items), "item"))
	default:
		say(s, "%s would be entered. Nothing was.", plural(len(t.Items), "item"))
	}
	return nil
}

// tellRows prints the findings beside the rows that they are about.
func tellRows(s *streams, t *desk.Trial) {
	found := map[int][]tables.Finding{}
	for _, f := range t.Findings {
		if f.Row == 0 {
			say(s, "file: %s. %s", harmless(f.Wrong), harmless(f.Mend))
		} else {
			found[f.Row] = append(found[f.Row], f)
		}
	}
	for _, i := range t.Items {
		row, entered := i.Declared.Row, true
		for _, f := range found[row] {
			entered = entered && f.Warning
			say(s, "row %d%s: %s. %s", row, before(", ", harmless(f.Column)), harmless(f.Wrong), harmless(f.Mend))
		}
		if entered {
			say(s, "row %d: %s%s%s", row, harmless(i.Description), before(", ", claimed(i)), before(", tray ", harmless(i.Barcode)))
		}
	}
}

// claimed is what is claimed of an item, and by whom.
func claimed(i desk.Item) string {
	if i.Claim == "" {
		return ""
	}
	return fmt.Sprintf("%s (%s)", harmless(i.Claim), harmless(i.ClaimBy))
}
