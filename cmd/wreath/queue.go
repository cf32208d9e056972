package main

import (
	"context"

	"wreath/internal/desk"
	"wreath/internal/spool"
)

type queueCmd struct {
	List  queueListCmd  `cmd:"" help:"What waits, what is being printed, and what failed or broke off."`
	Again queueAgainCmd `cmd:"" help:"Print a job again, or try one that waits now."`
	Drop  queueDropCmd  `cmd:"" help:"Take a job out of the queue."`
}

type queueListCmd struct {
	place
	formatted
}

func (queueListCmd) Help() string {
	return `Examples:

  wreath queue list
  wreath queue list --format json

A job that broke off may be on paper or not; it stands here until somebody has looked and prints it again or
drops it.`
}

// Run lists the queue.
func (c *queueListCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		jobs, err := r.PrintQueue(ctx, who)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, jobs)
		}
		if len(jobs) == 0 {
			say(s, "Nothing waits, and nothing broke off.")
			return nil
		}
		zone, err := shopZone(ctx, r)
		if err != nil {
			return err
		}
		var rows [][]string
		for _, j := range jobs {
			rows = append(rows, []string{j.Number, string(j.State), j.Title(), j.Printer, stamp(j.Asked, zone), j.AskedBy, copyWords(j), j.Said})
		}
		return safeGrid(s.Out, "job|state|what|printer|asked|by|copy|how it stands", rows)
	})
}

type queueAgainCmd struct {
	place
	once
	formatted
	Job     string `arg:"" help:"Number of the job, such as P-000001."`
	Printer string `placeholder:"NAME" help:"Another printer than the first one."`
}

func (queueAgainCmd) Help() string {
	return `Examples:

  wreath queue again P-000001
  wreath queue again P-000001 --printer office

A job that waits is tried now. One that was printed, failed or broke off is printed again as a new job, which
says COPY where the first one may have come out.`
}

// Run prints a job again.
func (c *queueAgainCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		job, err := r.PrintJob(ctx, who, c.Job)
		if err != nil {
			return err
		}
		if job.State != spool.Waiting || c.Printer != "" {
			if job, err = r.PrintAgain(ctx, c.by(who), c.Job, c.Printer); err != nil {
				return err
			}
		}
		return printNow(ctx, s, r, who, job, c.formatted)
	})
}

type queueDropCmd struct {
	place
	once
	Job    string `arg:"" help:"Number of the job, such as P-000001."`
	Reason string `help:"Why it is not wanted."`
}

func (queueDropCmd) Help() string {
	return `Examples:

  wreath queue drop P-000001 --reason "customer left"

What waits is never sent then. What failed or broke off only leaves the list: the log keeps that it may have
come out.`
}

// Run drops a job.
func (c *queueDropCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if err := r.DropPrint(ctx, c.by(who), c.Job, c.Reason); err != nil {
			return err
		}
		say(s, "%s is out of the queue.", harmless(c.Job))
		return nil
	})
}
