package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/signal"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"

	"wreath/internal/simulated"
	"wreath/internal/simulation"
)

// Words of flags that know their values.
type (
	invention  string // a kind of work
	seeded     string // a fault
	lineFormat string // an invented line format
)

// Choices are the kinds of work.
func (invention) Choices() []string { return simulation.Kinds }

// Choices are the faults.
func (seeded) Choices() []string { return append([]string{"none"}, simulation.LiveFaults()...) }

// Choices are the invented formats.
func (lineFormat) Choices() []string {
	var out []string
	for _, f := range simulated.Formats() {
		out = append(out, f.Key)
	}
	return out
}

type instrumentSimulateCmd struct {
	Item    invention     `default:"hanging" placeholder:"KIND" help:"What is weighed: hanging, standing, ring, coin or bar."`
	Fault   seeded        `default:"none" placeholder:"KEY" help:"What goes wrong: bubble, draught, drift and so on; none by itself."`
	Seed    uint64        `default:"1" placeholder:"N" help:"The same seed gives the same item, station and hands."`
	Speed   float64       `default:"1" placeholder:"N" help:"How many times faster than real, to 1000."`
	Format  lineFormat    `default:"columns" placeholder:"NAME" help:"How it writes its lines: columns, letters, semicolons, comma, checked, asked, twin, pair, kilo or bath, all invented."`
	Listen  string        `placeholder:"HOST:PORT" help:"Speak over the network to whoever calls, in the place of a pseudo-terminal."`
	Link    string        `placeholder:"NAME" help:"Symbolic link that leads to the pseudo-terminal while it runs."`
	Pattern string        `placeholder:"FILE" help:"Write the pattern of its lines to a new file."`
	Truth   bool          `help:"Tell at the end what was true: for each rest the reading that a careful person takes."`
	Once    bool          `help:"End when the item was weighed; otherwise it stays on, and Ctrl-C ends it."`
	For     time.Duration `placeholder:"TIME" help:"End after so long, such as 30s."`
}

func (instrumentSimulateCmd) Help() string {
	return `Examples:

  wreath instrument simulate --item coin --seed 3 --speed 500 --once --truth
  wreath instrument simulate --item bar --fault bubble --speed 500 --listen 127.0.0.1:0 --once

Somebody weighs an invented item at an invented station, over the pseudo-terminal whose path is printed (Linux
and macOS) or over the network; each line it says by way of greeting says that it is simulated. What it says
enters the records of a demonstration only.`
}

// Run lets it speak until it is ended.
func (c *instrumentSimulateCmd) Run(s *streams) error {
	if err := c.check(); err != nil {
		return err
	}
	q, err := simulation.NewSequence(c.Seed, simulation.SequenceOptions{Kind: string(c.Item), Fault: string(c.Fault)})
	if err != nil {
		return wrong("Take another --seed.", "this can't be simulated: %v", err)
	}
	at := simulated.NewStation(q.Live)
	i, err := at.NewInstrument("balance", string(c.Format))
	if err != nil {
		return err
	}
	if c.Pattern != "" {
		if err := c.writePattern(i); err != nil {
			return err
		}
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if c.For > 0 {
		var end context.CancelFunc
		ctx, end = context.WithTimeout(ctx, c.For)
		defer end()
	}
	return c.speak(ctx, s, q, at, i)
}

func (c *instrumentSimulateCmd) check() error {
	if err := firstError(
		oneOf("--item", string(c.Item), c.Item.Choices()),
		oneOf("--fault", string(c.Fault), c.Fault.Choices()),
		oneOf("--format", string(c.Format), c.Format.Choices()),
	); err != nil {
		return err
	}
	switch {
	case !(c.Speed > 0 && c.Speed <= 1000):
		return wrong("Give 1 for real time, 20 for twenty times as fast.", "--speed %s is not between 0 and 1000", strconv.FormatFloat(c.Speed, 'g', -1, 64))
	case c.Listen != "" && c.Link != "":
		return wrong("Leave one of them out.", "--link leads to a pseudo-terminal, and --listen has none")
	case strings.HasPrefix(c.Listen, ":"):
		return wrong("Write 127.0.0.1"+c.Listen+" for this computer alone, or name the address under which others may call.", "--listen %s would be open to the whole network", c.Listen)
	}
	return nil
}

func (c *instrumentSimulateCmd) writePattern(i *simulated.Instrument) error {
	p, err := i.Pattern()
	if err != nil {
		return err
	}
	document, err := p.Encode()
	if err != nil {
		return err
	}
	file, err := os.OpenFile(c.Pattern, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return openFailure(c.Pattern, err)
	}
	_, err = fmt.Fprintf(file, "%s\n", strings.TrimSpace(string(document)))
	return errors.Join(err, file.Close())
}

// speak serves the instrument and lets time pass.
func (c *instrumentSimulateCmd) speak(ctx context.Context, s *streams, q *simulation.Sequence, at *simulated.Station, i *simulated.Instrument) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	opened := make(chan string, 1)
	ended := make(chan error, 1)
	var serving sync.WaitGroup
	serving.Go(func() {
		if c.Listen != "" {
			ended <- i.ServeTCP(ctx, c.Listen, func(a net.Addr) { opened <- "tcp://" + a.String() })
			return
		}
		ended <- i.ServePTY(ctx, c.Link, func(path string) { opened <- "serial://" + path })
	})
	defer serving.Wait()
	defer stop()
	select {
	case address := <-opened:
		say(s, "%s.", sentenceStart(i.Info().Words))
		say(s, "Item: %s; fault: %s; seed: %d.", c.Item, c.Fault, c.Seed)
		say(s, "Listen to it: %s", address)
	case err := <-ended:
		return c.refused(err)
	}
	if c.Once {
		end := time.AfterFunc(time.Duration(q.Ends/c.Speed*float64(time.Second)), stop)
		defer end.Stop()
	}
	err := at.Run(ctx, c.Speed)
	if c.Truth {
		say(s, "")
		var rows [][]string
		for _, x := range at.Stretches() {
			if x.Slot != "" && !x.Over {
				rows = append(rows, []string{fmt.Sprintf("%.1f", x.From), fmt.Sprintf("%.1f", x.To), string(x.After), x.Slot, fmt.Sprintf("%.5f", x.Net())})
			}
		}
		if err := grid(s.Out, "from s|to s|after|reading|true g", rows); err != nil {
			return err
		}
	}
	return err
}

func (c *instrumentSimulateCmd) refused(err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, syscall.EADDRINUSE):
		return &failure{exitLater, "another program listens on " + c.Listen + " already", "Take another port, or 127.0.0.1:0 for a free one."}
	case c.Listen != "":
		return wrong("Write host and port, such as 127.0.0.1:4001.", "%v", err)
	case c.Link != "":
		return wrong("Name a new link.", "%v", err)
	}
	return &failure{exitFailed, err.Error(), "Where there are no pseudo-terminals, speak over the network: --listen 127.0.0.1:4001."}
}

func sentenceStart(text string) string { return strings.ToUpper(text[:1]) + text[1:] }
