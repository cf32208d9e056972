package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"syscall"
	"time"

	"wreath/internal/desk"
	"wreath/internal/spool"
)

type printCmd struct {
	place
	once
	formatted
	Number   string   `arg:"" help:"Number of a record or report; of a label also the name of an item or instrument."`
	As       string   `required:"" enum:"report,slip,label" help:"What is printed: report, slip or label."`
	Printer  string   `placeholder:"NAME" help:"Name of the printer, where several could print it."`
	Language []string `placeholder:"CODE" help:"Language of the paper, such as de; a second one stands beside it. English unless said."`
}

func (printCmd) Help() string {
	return `Examples:

  wreath print D-000001 --as slip
  wreath print R-000001 --as report --printer office --language de --language en
  wreath print B-1 --as label --printer labels

It puts the paper into the queue of the printer and prints it, or lets the pages' program (wreath serve) do
so where that is quicker. Where the printer is off or out of paper the paper waits in the queue, and comes
when the printer takes it. A paper that broke off half-way is never sent again by itself. From the second
time on it says COPY and its number.`
}

// Run prints a paper.
func (c *printCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		job, err := r.AskPrint(ctx, c.by(who), desk.PrintAsk{Document: c.As, Subject: c.Number, Printer: c.Printer, Languages: c.Language})
		if err != nil {
			return err
		}
		return printNow(ctx, s, r, who, job, c.formatted)
	})
}

// spooler prints at this desk.
func spoolerAt(d *desk.Desk) *spool.Spooler {
	return &spool.Spooler{Queue: d, Render: papers{d}}
}

// printNow works off the queue of a printer until a job is over, and says what became of it. Jobs that waited
// before are printed before. Another program may print it as well as this one; then this one waits.
func printNow(ctx context.Context, s *streams, r *room, who *desk.Who, job spool.Job, f formatted) error {
	ctx, stop := signal.NotifyContext(ctx, os.Interrupt, syscall.SIGTERM)
	defer stop()
	spooler := spoolerAt(r.Desk)
	for {
		if err := r.BreakOff(ctx); err != nil {
			return err
		}
		outcome, err := spooler.One(ctx, job.Printer, "")
		var trouble *spool.Trouble
		var taken *spool.TakenError
		switch {
		case errors.As(err, &trouble), err == nil && outcome.State == spool.Waiting && outcome.Trouble != nil:
			if trouble == nil {
				trouble = outcome.Trouble
			}
			if f.forPrograms() {
				if err := showJob(ctx, s, r, who, job.Number, f); err != nil {
					return err
				}
			}
			return &failure{exitLater, fmt.Sprintf("%s waits: %s", job.Number, trouble.Error()),
				trouble.Hint() + " It is printed then by the pages' program, where that runs; or with wreath queue again " + job.Number + "."}
		case errors.As(err, &taken):
		case err != nil:
			return err
		}
		now, err := r.PrintJob(ctx, who, job.Number)
		if err != nil {
			return err
		}
		if now.State != spool.Waiting && now.State != spool.Printing {
			return afterPrint(ctx, s, r, who, now, f)
		}
		if outcome.Job.Number != "" {
			continue // another one was before it
		}
		select { // somebody else prints
		case <-ctx.Done():
			return &failure{exitLater, job.Number + " is " + string(now.State), "See wreath queue list."}
		case <-time.After(200 * time.Millisecond):
		}
	}
}

// afterPrint says what became of a job that is over.
func afterPrint(ctx context.Context, s *streams, r *room, who *desk.Who, job spool.Job, f formatted) error {
	if job.State == spool.Printed || f.forPrograms() {
		if err := showJob(ctx, s, r, who, job.Number, f); err != nil {
			return err
		}
	}
	switch {
	case job.State == spool.Printed:
		return nil
	case job.MayHaveComeOut():
		return &failure{exitFailed, fmt.Sprintf("%s %s: %s", job.Number, job.State, trimmed(job.Said)), "Look at the paper. If it is not whole, print it again: wreath queue again " + job.Number + ". The new one says COPY."}
	}
	return &failure{exitFailed, fmt.Sprintf("%s %s: %s", job.Number, job.State, trimmed(job.Said)), "Nothing came out. Put it right, then wreath queue again " + job.Number + "."}
}

// trimmed takes the point from a sentence, since an error stands without.
func trimmed(sentence string) string {
	if n := len(sentence); n > 0 && sentence[n-1] == '.' {
		return sentence[:n-1]
	}
	return sentence
}

// showJob prints one job.
func showJob(ctx context.Context, s *streams, r *room, who *desk.Who, number string, f formatted) error {
	job, err := r.PrintJob(ctx, who, number)
	if err != nil {
		return err
	}
	if f.forPrograms() {
		return writeJSON(s.Out, job)
	}
	page := newPage()
	page.say(job.Number, "%s, printer %s%s", job.Title(), job.Printer, before(", ", copyWords(job)))
	page.say("", "%s", job.Said)
	return page.print(s.Out)
}

// copyWords say which copy a paper is; "" for the first.
func copyWords(job spool.Job) string {
	if job.Copy == 0 {
		return ""
	}
	return fmt.Sprintf("COPY %d", job.Copy)
}
