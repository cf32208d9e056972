package desk

import (
	"context"
	"fmt"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/spool"
	"wreath/internal/store"
)

// BrowserDialog stands in the place of a printer where a page was given to the print dialog of a browser.
const BrowserDialog = "browser dialog"

// PrintHere counts a document that is printed by the dialog of a browser. What becomes of it there the
// program can't see; so it counts as one that may have come out, and the next one says COPY.
func (d *Desk) PrintHere(ctx context.Context, by By, ask PrintAsk) (spool.Job, error) {
	ask.Printer = BrowserDialog
	e, err := d.act(ctx, by, people.PrintSlip, []any{"here", ask}, func(tx *store.Tx, at time.Time) (draft, error) {
		if ask.Document == spool.Test {
			return draft{}, bad("Choose a report, a slip or a label.", "a browser prints no test page")
		}
		if err := checkLanguages(ask.Languages); err != nil {
			return draft{}, err
		}
		subject, err := d.onPaper(tx, ask, "")
		if err != nil {
			return draft{}, err
		}
		var counter int64
		if _, err := tx.Get("counter", "print", &counter); ignoreMissing(err) != nil {
			return draft{}, err
		}
		job := printJob{Job: spool.Job{
			Number: fmt.Sprintf("P-%06d", counter+1), Document: ask.Document, Subject: subject, Printer: BrowserDialog, Languages: ask.Languages,
			Asked: at.UTC(), AskedBy: by.Who.person.ID, State: spool.Printed, Begun: at.UTC(), Ended: at.UTC(),
			Said: "The page was given to the print dialog of a browser. Whether it is on paper, the browser does not say: look.",
		}, Roles: by.Who.roles}
		if job.Copy, err = copyOf(tx, job.Job); err != nil {
			return draft{}, err
		}
		return draft{kind: "printed-here", subject: job.Number, body: job}, nil
	})
	if err != nil {
		return spool.Job{}, err
	}
	job, err := read[printJob](e.Body)
	return job.Job, err
}

func showPrintedHere(tx *store.Tx, e ledger.Entry) error {
	job, err := read[printJob](e.Body)
	if err != nil {
		return err
	}
	var counter int64
	if _, err := fmt.Sscanf(job.Number, "P-%d", &counter); err != nil {
		return fmt.Errorf("the number %q of a job can't be read", job.Number)
	}
	if err := tx.Put("counter", "print", e.Seq, counter); err != nil {
		return err
	}
	if err := tx.Put("print-job", job.Number, e.Seq, job); err != nil {
		return err
	}
	return changePrints(tx, e, job, func(p *prints) { p.Came, p.Jobs = p.Came+1, append(p.Jobs, job.Number) })
}
