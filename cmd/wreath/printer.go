package main

import (
	"context"
	"strconv"

	"wreath/internal/desk"
	"wreath/internal/spool"
)

type printerCmd struct {
	Add    printerAddCmd    `cmd:"" help:"Add a printer, or set one anew."`
	List   printerListCmd   `cmd:"" help:"The printers, and what they take."`
	Remove printerRemoveCmd `cmd:"" help:"Take a printer out of use."`
	Test   printerTestCmd   `cmd:"" help:"Print a test page."`
}

type printerAddCmd struct {
	place
	once
	Name     string `arg:"" help:"Short name: small letters, digits and hyphens."`
	Address  string `arg:"" help:"device:///dev/usb/lp0, tcp://HOST:9100, or ipp://HOST/printers/QUEUE."`
	Takes    string `required:"" enum:"text,pdf" help:"What it takes: text or pdf."`
	Columns  int    `help:"Letters in a line of text; 42 unless said."`
	Encoding string `placeholder:"NAME" help:"Encoding of text: ascii or utf-8; ascii unless said."`
	Feed     int    `default:"-1" help:"Empty lines after a text, up to the tear-off edge; 4 unless said."`
	Paper    string `placeholder:"SIZE" help:"Paper of a PDF: A4, Letter, \"58 mm\", \"80 mm\", or a label such as \"50x30 mm\"; A4 unless said."`
	Reason   string `help:"Why it changes."`
}

func (printerAddCmd) Help() string {
	return `Examples:

  wreath printer add counter device:///dev/usb/lp0 --takes text --columns 32
  wreath printer add kitchen tcp://192.0.2.20:9100 --takes text --columns 48 --encoding utf-8
  wreath printer add office ipp://localhost/printers/office --takes pdf --paper A4

A device of this machine and a printer on the network take bytes and give no proof of paper. A queue of the
system's own printing says how it stands: lpstat -v lists the queues. Adding a name again sets the printer
anew; earlier versions stay in the log. The machine that serves the pages is the one that prints: addresses
are as seen from there.`
}

// Run adds the printer.
func (c *printerAddCmd) Run(s *streams) error {
	p := spool.Printer{Format: spool.Format, Name: c.Name, Address: c.Address, Takes: c.Takes, Columns: c.Columns, Encoding: c.Encoding, FeedLines: max(c.Feed, 0), Paper: c.Paper}
	switch c.Takes {
	case spool.Text:
		if p.Columns == 0 {
			p.Columns = 42
		}
		p.Encoding = or(p.Encoding, spool.ASCII)
		if c.Feed < 0 {
			p.FeedLines = 4
		}
	case spool.PDF:
		p.Paper = or(p.Paper, spool.A4)
	}
	if err := p.Check(); err != nil {
		return err
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		set, err := r.SetPrinter(ctx, c.by(who), p, c.Reason)
		if err != nil {
			return err
		}
		say(s, "The printer %s is set: %s at %s.", set.Name, set.Takings(), set.Where())
		return nil
	})
}

type printerListCmd struct {
	place
	formatted
}

func (printerListCmd) Help() string {
	return `Examples:

  wreath printer list
  wreath printer list --format json`
}

// Run lists the printers.
func (c *printerListCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		all, err := r.Printers(ctx, who)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, append([]spool.Printer{}, all...))
		}
		if len(all) == 0 {
			say(s, "No printer is set. Who administers adds one: wreath printer add NAME ADDRESS --takes text.")
			return nil
		}
		var rows [][]string
		for _, p := range all {
			rows = append(rows, []string{p.Name, p.Takings(), p.Address, strconv.Itoa(p.Version)})
		}
		return safeGrid(s.Out, "printer|takes|address|version", rows)
	})
}

type printerRemoveCmd struct {
	place
	once
	Name   string `arg:"" help:"Name of the printer."`
	Reason string `help:"Why it goes."`
}

func (printerRemoveCmd) Help() string {
	return `Examples:

  wreath printer remove kitchen --reason "given away"

What waits for it is dropped first: wreath queue drop JOB.`
}

// Run removes the printer.
func (c *printerRemoveCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if err := r.RemovePrinter(ctx, c.by(who), c.Name, c.Reason); err != nil {
			return err
		}
		say(s, "The printer %s is out of use.", harmless(c.Name))
		return nil
	})
}

type printerTestCmd struct {
	place
	once
	formatted
	Name string `arg:"" help:"Name of the printer."`
}

func (printerTestCmd) Help() string {
	return `Examples:

  wreath printer test counter

The page shows whether lines are broken, letters garbled, and the paper torn in the right place. It goes
through the queue like every paper.`
}

// Run prints a test page.
func (c *printerTestCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		job, err := r.AskPrint(ctx, c.by(who), desk.PrintAsk{Document: spool.Test, Printer: c.Name})
		if err != nil {
			return err
		}
		return printNow(ctx, s, r, who, job, c.formatted)
	})
}
