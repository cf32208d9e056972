package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/store"
	"wreath/internal/tables"
)

type tableCmd struct {
	DayBook    tableDayBookCmd    `cmd:"" name:"day-book" help:"What was recorded, newest first."`
	Items      tableItemsCmd      `cmd:"" help:"All items as they stand."`
	Claims     tableClaimsCmd     `cmd:"" help:"The items that are here, in the columns that wreath import reads."`
	Lot        tableLotCmd        `cmd:"" help:"A lot as it was valued, step by step."`
	Register   tableRegisterCmd   `cmd:"" help:"The register of deals."`
	Instrument tableInstrumentCmd `cmd:"" help:"History of an instrument: versions, certificates, what its check piece showed."`
	Station    tableStationCmd    `cmd:"" help:"History of a station: versions, what its check piece showed."`
	Prints     tablePrintsCmd     `cmd:"" help:"What was printed, and how often."`
}

// tabled is how a table leaves.
type tabled struct {
	Format string `enum:",csv,xlsx,jsonl" default:"" help:"csv, xlsx (a workbook) or jsonl (JSON Lines); by the end of the file's name unless said, and csv without one."`
	Out    string `short:"o" placeholder:"FILE" help:"File for the table, which must not be there yet; standard output unless given."`
}

// write writes a table. A file has its name only once it is whole.
func (c *tabled) write(s *streams, t tables.Table) (err error) {
	format := tables.Format(c.Format)
	if format == "" {
		var known bool
		if format, known = tables.FormatOf(c.Out); !known {
			format = tables.CSV
		}
	}
	if c.Out == "" {
		if format == tables.XLSX && isTerminal(s.Out) {
			return wrong("Name a file with --out, such as --out "+t.Name+".xlsx.", "a workbook can't be shown on a terminal")
		}
		return tables.Write(s.Out, format, t)
	}
	if _, err := os.Lstat(c.Out); err == nil {
		return wrong("Name another file, or take that one away first.", "there is a file %s already", c.Out)
	}
	part, err := os.CreateTemp(filepath.Dir(c.Out), ".wreath-*")
	if err != nil {
		return openFailure(c.Out, err)
	}
	defer os.Remove(part.Name())
	err = errors.Join(tables.Write(part, format, t), part.Sync(), part.Close())
	if err == nil {
		err = os.Link(part.Name(), c.Out) // unlike a renaming, this takes no file's place
	}
	if errors.Is(err, errors.ErrUnsupported) || errors.Is(err, os.ErrPermission) {
		err = os.Rename(part.Name(), c.Out)
	}
	return err
}

type tableDayBookCmd struct {
	place
	tabled
	Words   []string `arg:"" optional:"" help:"Words of number, barcode, description and claim; each may be cut short after two letters."`
	From    string   `placeholder:"DAY" help:"First day, or a moment."`
	To      string   `placeholder:"DAY" help:"Last day, which counts whole; or the moment before which."`
	Finding string   `enum:",met,not-met,undecided" default:"" help:"met, not-met or undecided."`
	State   string   `enum:",recorded,signed,superseded" default:"" help:"recorded (nobody signed), signed or superseded."`
	Metal   string   `enum:",gold,silver,platinum,palladium" default:"" help:"gold, silver, platinum or palladium."`
	Station string   `help:"Station at which it was weighed."`
	Person  string   `help:"Who recorded it."`
}

func (tableDayBookCmd) Help() string {
	return `Examples:

  wreath table day-book --out day-book.xlsx
  wreath table day-book --from 2026-11-01 --to 2026-11-30 --format csv > november.csv
  wreath table day-book ring --finding met --format jsonl

doc/tables.md says what stands in the columns and how they are read again.`
}

// Run writes the day book.
func (c *tableDayBookCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		q := store.Query{Text: strings.Join(c.Words, " "), Finding: strings.ReplaceAll(c.Finding, "-", " "), State: c.State, Metal: c.Metal, Station: c.Station, Person: c.Person}
		var err error
		if q.From, q.Until, err = between(ctx, r, "from", c.From, "to", c.To); err != nil {
			return err
		}
		t, err := r.DayBookTable(ctx, who, q)
		if err != nil {
			return err
		}
		return c.write(s, t)
	})
}

type tableItemsCmd struct {
	place
	tabled
}

func (tableItemsCmd) Help() string {
	return `Examples:

  wreath table items --out items.xlsx`
}

// Run writes the items.
func (c *tableItemsCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		t, err := r.ItemsTable(ctx, who)
		if err != nil {
			return err
		}
		return c.write(s, t)
	})
}

type tableClaimsCmd struct {
	place
	tabled
}

func (tableClaimsCmd) Help() string {
	return `Examples:

  wreath table claims --out claims.csv

What is claimed of each item that is here, in the columns that wreath import reads: another shop can
enter the same items from it.`
}

// Run writes the claims.
func (c *tableClaimsCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		t, err := r.ClaimsTable(ctx, who)
		if err != nil {
			return err
		}
		return c.write(s, t)
	})
}

type tableLotCmd struct {
	place
	tabled
	Name string `arg:"" help:"Name of the lot, as wreath lots lists it."`
}

func (tableLotCmd) Help() string {
	return `Examples:

  wreath table lot l-0000000000000000 --out lot.xlsx

Items first, then the sum of each metal, then the money step by step, and the payout last.`
}

// Run writes the lot.
func (c *tableLotCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		t, err := r.LotTable(ctx, who, c.Name)
		if err != nil {
			return err
		}
		return c.write(s, t)
	})
}

type tableRegisterCmd struct {
	place
	tabled
	From      string `placeholder:"DAY" help:"First day, or a moment."`
	To        string `placeholder:"DAY" help:"Last day, which counts whole; or the moment before which."`
	Customers string `placeholder:"REASON" help:"Open the customers' data as well, for this reason; each look stands in the log with it."`
}

func (tableRegisterCmd) Help() string {
	return `Examples:

  wreath table register --out register.xlsx
  wreath table register --from 2026-11-01 --to 2026-11-30 --customers "inspection of 3 December" --out november.csv

Without --customers a customer stands there by the name that the log knows. With it, who may see personal
data gets them, and must keep the file as safe as they are: an erasure does not reach it.`
}

// Run writes the register. A register with a gap is written too, and ends with exit code 6.
func (c *tableRegisterCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		from, until, err := between(ctx, r, "from", c.From, "to", c.To)
		if err != nil {
			return err
		}
		t, err := r.RegisterTable(ctx, who, from, until, c.Customers)
		if err != nil {
			return err
		}
		if err := c.write(s, t); err != nil {
			return err
		}
		_, faults, err := r.Book(ctx, who)
		return errors.Join(err, notWhole(faults))
	})
}

// history is what a station and an instrument have in common.
type history struct {
	place
	tabled
	Name string `arg:"" help:"Its mark."`
}

func (c *history) run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		t, err := r.HistoryTable(ctx, who, c.Name)
		if err != nil {
			return err
		}
		return c.write(s, t)
	})
}

type tableInstrumentCmd struct{ history }

func (tableInstrumentCmd) Help() string {
	return `Examples:

  wreath table instrument B-1 --out balance.xlsx`
}

// Run writes the history.
func (c *tableInstrumentCmd) Run(s *streams) error { return c.run(s) }

type tableStationCmd struct{ history }

func (tableStationCmd) Help() string {
	return `Examples:

  wreath table station S-1 --format csv`
}

// Run writes the history.
func (c *tableStationCmd) Run(s *streams) error { return c.run(s) }

type tablePrintsCmd struct {
	place
	tabled
}

func (tablePrintsCmd) Help() string {
	return `Examples:

  wreath table prints --out prints.csv`
}

// Run writes the prints.
func (c *tablePrintsCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		t, err := r.PrintsTable(ctx, who)
		if err != nil {
			return err
		}
		return c.write(s, t)
	})
}
