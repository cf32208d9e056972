package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
	"golang.org/x/term"

	"wreath/internal/batch"
	"wreath/internal/determination"
)

type batchCmd struct {
	File       string `arg:"" help:"CSV or JSON Lines with one determination a row, or - for standard input."`
	Base       string `placeholder:"FILE" help:"JSON document with the fields that hold for every row that does not give its own: balance, liquid, house rule."`
	Output     string `short:"o" placeholder:"FILE" help:"File for the answers; standard output unless given."`
	Format     string `enum:"same,csv,jsonl" default:"same" help:"Answers as csv or jsonl (JSON Lines); same: as the input."`
	Details    bool   `help:"With jsonl: the whole answer of every row, as determine gives it."`
	MonteCarlo bool   `help:"Propagate distributions for every row, not only where the first-order interval may not hold."`
	Workers    int    `default:"0" help:"Rows worked on at the same time; 0: one for each processor."`
}

func (batchCmd) Help() string {
	return `Columns of CSV are named after the fields of a draft (wreath schema draft): id, claim.metal,
claim.fineness, air_g, liquid_g, liquid.temperature_c. Several readings stand in one cell, parted by
blanks. A bad row is reported with its line and passed over; the exit code is then 1.

Examples:

  wreath batch examples/tray.csv --base examples/station.json
  wreath batch examples/tray.csv --base examples/station.json --format jsonl --details
  wreath batch - --base examples/station.json < examples/tray.csv`
}

// maxWorkers is far above the processors of any bench.
const maxWorkers = 256

// Run answers the rows.
func (c *batchCmd) Run(s *streams) error {
	if c.Workers < 0 || c.Workers > maxWorkers {
		return wrong("Give 0 for one a processor.", "--workers %d is outside 0 to %d", c.Workers, maxWorkers)
	}
	shown := &bar{}
	o := batch.Options{
		Workers:  c.Workers,
		Details:  c.Details,
		Evaluate: determination.Options{Version: version, MonteCarlo: determination.WhereNeeded},
		Progress: func(rows int, bytes int64) { shown.progress(rows, bytes) },
	}
	if c.MonteCarlo {
		o.Evaluate.MonteCarlo = determination.Always
	}
	switch c.Format {
	case "csv":
		o.Format = batch.CSV
	case "jsonl":
		o.Format = batch.JSONL
	}
	if err := c.readBase(s, &o); err != nil {
		return err
	}
	in, size, err := c.open(s)
	if err != nil {
		return err
	}
	defer in.Close()
	name := c.File
	if name == "-" {
		name = "standard input"
	}
	b, err := batch.Open(in, name, o)
	if err != nil {
		return err
	}
	if c.Details && b.Format() != batch.JSONL {
		return wrong("Add --format jsonl.", "--details writes whole answers, which are JSON")
	}
	out, closeOut, err := c.create(s)
	if err != nil {
		return err
	}
	// A reader of the answers that goes away is told of below, as any other failure.
	signal.Ignore(syscall.SIGPIPE)
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // a second interrupt ends the program at once
	if !c.quiet(s) {
		shown = newBar(s.Err, size)
	}
	sum, err := b.Run(ctx, out, shown.above(s.Err))
	shown.end()
	if closed := closeOut(); err == nil && closed != nil {
		err = fmt.Errorf("the answers can't be written: %w", closed)
	}
	fmt.Fprintf(s.Err, "wreath: %s\n", sum)
	switch {
	case err != nil && ctx.Err() != nil:
		return &failure{exitFailed, err.Error(), "The rows up to it are written whole; run it again for the rest."}
	case err != nil:
		return &failure{exitFailed, err.Error(), "Mend the cause and run it again; what may stand after that row is cut short."}
	case sum.Failed > 0:
		return &failure{exitFailed, fmt.Sprintf("%d of %d rows have no answer", sum.Failed, sum.Rows), "Mend the rows named above and run those again."}
	}
	return nil
}

func (c *batchCmd) readBase(s *streams, o *batch.Options) error {
	if c.Base == "" {
		return nil
	}
	if c.Base == "-" && c.File == "-" {
		return wrong("Name a file for one of them.", "--base and the rows can't both come from standard input")
	}
	data, err := readInput(c.Base, s.In)
	if err != nil {
		return err
	}
	o.Base, err = determination.Decode(data)
	var field *determination.InputError
	if errors.As(err, &field) {
		return wrong(field.Hint, "%s: %s", c.Base, field)
	}
	return err
}

// open opens the rows; size is 0 where it is not known.
func (c *batchCmd) open(s *streams) (in io.ReadCloser, size int64, err error) {
	if c.File == "-" {
		return io.NopCloser(s.In), 0, nil
	}
	f, err := os.Open(c.File)
	if err != nil {
		return nil, 0, openFailure(c.File, err)
	}
	info, err := f.Stat()
	if err != nil {
		return nil, 0, openFailure(c.File, err)
	}
	if info.IsDir() {
		return nil, 0, wrong("Name a file of CSV or JSON Lines.", "%s is a folder", c.File)
	}
	return f, info.Size(), nil
}

// create opens the output; what it returns closes it.
func (c *batchCmd) create(s *streams) (io.Writer, func() error, error) {
	if c.Output == "" {
		return s.Out, func() error { return nil }, nil
	}
	for _, name := range []string{c.File, c.Base} {
		if sameFile(name, c.Output) {
			return nil, nil, wrong("Name another file.", "--output %s is read from", c.Output)
		}
	}
	f, err := os.Create(c.Output)
	if err != nil {
		return nil, nil, openFailure(c.Output, err)
	}
	return f, f.Close, nil
}

func sameFile(a, b string) bool {
	one, errA := os.Stat(a)
	other, errB := os.Stat(b)
	return errA == nil && errB == nil && os.SameFile(one, other)
}

// bar shows progress on a terminal; anywhere else it does nothing.
type bar struct {
	pool *mpb.Progress
	bar  *mpb.Bar
	rows atomic.Int64
}

// quiet is true where no bar can be shown: not on a terminal, or on one where the answers or the
// rows that are typed stand too.
func (c *batchCmd) quiet(s *streams) bool {
	return !isTerminal(s.Err) || c.Output == "" && isTerminal(s.Out) || c.File == "-" && isTerminal(s.In)
}

func isTerminal(stream any) bool {
	f, ok := stream.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

func newBar(to io.Writer, size int64) *bar {
	b := &bar{pool: mpb.New(mpb.WithOutput(to), mpb.WithWidth(60), mpb.WithRefreshRate(200*time.Millisecond))}
	rows := decor.Any(func(decor.Statistics) string { return fmt.Sprintf("%d rows ", b.rows.Load()) })
	if size > 0 {
		b.bar = b.pool.AddBar(size, mpb.PrependDecorators(rows), mpb.AppendDecorators(decor.Percentage(), decor.Name("  "), decor.AverageETA(decor.ET_STYLE_GO)))
	} else {
		b.bar = b.pool.AddSpinner(0, mpb.PrependDecorators(rows))
	}
	return b
}

func (b *bar) progress(rows int, bytes int64) {
	if b.bar != nil {
		b.rows.Store(int64(rows))
		b.bar.SetCurrent(bytes)
	}
}

// above is where messages go so that they scroll above the bar.
func (b *bar) above(to io.Writer) io.Writer {
	if b.pool != nil {
		return b.pool
	}
	return to
}

func (b *bar) end() {
	if b.bar != nil {
		b.bar.SetTotal(-1, true)
		b.pool.Wait()
	}
}
