package main

import (
	"bytes"
	"context"
	"time"

	"wreath/internal/desk"
	"wreath/internal/paper"
	"wreath/internal/press"
)

type reportCmd struct {
	place
	paperOut
	once
	Number   string   `arg:"" help:"Number of the record, such as D-000123, or of a report, such as R-000007."`
	Paper    string   `enum:"a4,letter" default:"a4" help:"Size of the paper: a4 or letter."`
	Language []string `placeholder:"CODE" help:"Language, such as de; two stand side by side, such as en,de. English unless said."`
	Facts    bool     `help:"Instead of the PDF, the facts of it as JSON, as they go along in the file."`
	Customer bool     `name:"with-customer" help:"Print the customer's name. Who looked, and for what paper, stands in the log."`

	Issue       bool   `help:"Issue the report of the record under a number of its own; who issues it authorises it."`
	Description string `group:"issue" placeholder:"TEXT" help:"issue: what the item is, where nobody entered it."`
	Condition   string `group:"issue" placeholder:"TEXT" help:"issue: how the item arrived, where nobody wrote it down."`
	Received    string `group:"issue" placeholder:"DAY" help:"issue: when the item came, where nobody entered it."`
	NoCustomer  string `group:"issue" placeholder:"WHY" help:"issue: why the report names no customer, although one is kept."`
	Deviations  string `group:"issue" placeholder:"TEXT" help:"issue: what was added to the method, left out or done otherwise."`
	Opinion     string `group:"issue" placeholder:"TEXT" help:"issue: your opinion, marked as such on paper."`
	Reason      string `group:"issue" placeholder:"WHY" help:"issue: why an earlier report is amended; that of the correction unless said."`
}

func (reportCmd) Help() string {
	return `Examples:

  wreath report D-000001 --out draft.pdf
  wreath report D-000001 --issue --condition "worn, clean" --out report.pdf
  wreath report R-000001 --paper letter --language en,de --out report.pdf

A report that was issued is printed again as it was issued; by the number of its record the newest one is.
Where none is issued the report is a draft, and says so on every page. Where a report was issued before, of
this record or of one that it corrects, the new one amends it and says what changed and why. What ISO/IEC
17025 asks of a report and nobody filled in is said, and nothing is issued. Name and address of the shop, and
its logo: wreath shop set.`
}

// Run writes a report.
func (c *reportCmd) Run(s *streams) error {
	// A report that is issued has its number for good, so the file must be free before.
	if err := c.free(s, !c.Facts); err != nil {
		return err
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		number, err := c.number(ctx, r, who)
		if err != nil {
			return err
		}
		f, err := c.facts(ctx, r, who, number)
		if err != nil {
			return err
		}
		var out bytes.Buffer
		if c.Facts {
			twin, err := f.Twin()
			if err != nil {
				return err
			}
			return c.deliver(s, false, twin)
		}
		if err := press.Report(&out, f, press.Options{Paper: press.Paper(c.Paper), Languages: c.Language}); err != nil {
			return wrong("See wreath report --help.", "%v", err)
		}
		return c.deliver(s, true, out.Bytes())
	})
}

// number is that of the paper: of a report that is issued now, or was issued before, else of the record.
func (c *reportCmd) number(ctx context.Context, r *room, who *desk.Who) (string, error) {
	if c.Issue {
		issue := desk.Issue{Record: c.Number, Description: c.Description, Condition: c.Condition, NoCustomer: c.NoCustomer, Deviations: c.Deviations, Opinion: c.Opinion, Reason: c.Reason}
		if c.Received != "" {
			zone, err := shopZone(ctx, r)
			if err != nil {
				return "", err
			}
			var at time.Time
			if at, err = day("received", c.Received, zone, false); err != nil {
				return "", err
			}
			issue.Received = &at
		}
		f, err := r.IssueReport(ctx, c.by(who), issue)
		if err != nil {
			return "", err
		}
		return f.Number(), nil
	}
	f, err := r.Paper(ctx, who, c.Number)
	if err != nil || f.Report != nil {
		return c.Number, err
	}
	issued, err := r.Reports(ctx, who, c.Number)
	if err != nil || len(issued) == 0 {
		return c.Number, err
	}
	return issued[len(issued)-1].Number, nil
}

// facts gathers what the report says.
func (c *reportCmd) facts(ctx context.Context, r *room, who *desk.Who, number string) (f *paper.Facts, err error) {
	if c.Customer {
		f, err = r.PaperWithCustomer(ctx, desk.By{Who: who}, number)
	} else {
		f, err = r.Paper(ctx, who, number)
	}
	if err != nil || c.Facts {
		return f, err
	}
	if f.Copy, _, err = r.Prints(ctx, who, "report", f.Number()); err != nil {
		return nil, err
	}
	f.Proof, err = r.Prove(ctx, who, number)
	return f, err
}
