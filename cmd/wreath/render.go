package main

import (
	"bytes"
	"context"
	"fmt"
	"time"

	"wreath/internal/desk"
	"wreath/internal/paper"
	"wreath/internal/press"
	"wreath/internal/sentence"
	"wreath/internal/spool"
	"wreath/internal/station"
)

// papers makes the papers of print jobs, as whoever asked for them may see them.
type papers struct{ desk *desk.Desk }

// Render makes the bytes that a printer takes.
func (m papers) Render(ctx context.Context, job spool.Job, p spool.Printer) ([]byte, error) {
	who, err := m.desk.Asker(ctx, job.Number)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	switch job.Document {
	case spool.Test:
		err = m.test(ctx, &out, job, p)
	case spool.Label:
		err = m.label(ctx, &out, who, job, p)
	default:
		err = m.paper(ctx, &out, who, job, p)
	}
	if err != nil || p.Takes != spool.Text {
		return out.Bytes(), err
	}
	return spool.Lines(p, out.String()), nil
}

// paper makes a report or a slip.
func (m papers) paper(ctx context.Context, out *bytes.Buffer, who *desk.Who, job spool.Job, p spool.Printer) error {
	f, err := m.facts(ctx, who, job)
	if err != nil {
		return err
	}
	if job.Document == spool.Report {
		return press.Report(out, f, press.Options{Paper: sheetOf(p), Languages: job.Languages})
	}
	o := press.SlipOptions{Languages: job.Languages, Columns: p.Columns, ASCII: p.Encoding == spool.ASCII}
	if p.Takes == spool.Text {
		return press.SlipText(out, f, o)
	}
	o.Roll = press.Roll80
	if p.Paper == spool.Roll58 {
		o.Roll = press.Roll58
	}
	return press.SlipPDF(out, f, o)
}

// facts gathers what a paper says. Where no proof can be made, such as while the signing key is not at
// hand, the paper goes without one.
func (m papers) facts(ctx context.Context, who *desk.Who, job spool.Job) (*paper.Facts, error) {
	text, unproven := m.desk.Prove(ctx, who, job.Subject) // first: it seals the log, and the paper names the checkpoint
	f, err := m.desk.Paper(ctx, who, job.Subject)
	if err != nil {
		return nil, err
	}
	f.Copy = job.Copy
	if unproven == nil {
		f.Proof = text
	}
	return f, nil
}

func sheetOf(p spool.Printer) press.Paper {
	if p.Paper == spool.Letter {
		return press.Letter
	}
	return press.A4
}

// label makes the label of a record's bag, of a tray with its item, or of an instrument.
func (m papers) label(ctx context.Context, out *bytes.Buffer, who *desk.Who, job spool.Job, p spool.Printer) error {
	language := "en"
	if len(job.Languages) > 0 {
		language = job.Languages[0]
	}
	in := sentence.In(language)
	l, err := m.labelOf(ctx, who, job, in)
	if err != nil {
		return err
	}
	if job.Copy > 0 {
		l.Lines = append(l.Lines, in.Sayf("COPY %d", job.Copy))
	}
	return printLabel(out, l, job.Asked, p)
}

func (m papers) labelOf(ctx context.Context, who *desk.Who, job spool.Job, in *sentence.Book) (press.Label, error) {
	f, err := m.desk.Paper(ctx, who, job.Subject)
	if err == nil {
		return press.BagLabel(f, in)
	}
	shop, zone, err := m.shop(ctx)
	if err != nil {
		return press.Label{}, err
	}
	if found, err := m.desk.ItemBy(ctx, who, job.Subject); err == nil {
		code := found.Item.Barcode
		if code == "" {
			code = found.Item.ID
		}
		l := press.TrayLabel(shop, code)
		l.Lines = append([]string{found.Item.Description}, l.Lines...)
		return l, nil
	}
	all, err := m.desk.Equipment(ctx, who)
	if err != nil {
		return press.Label{}, err
	}
	for i := range all.Instruments {
		if all.Instruments[i].ID == job.Subject {
			return press.InstrumentLabel(shop, &all.Instruments[i], station.Day(job.Asked.In(zone)), in), nil
		}
	}
	return press.Label{}, notThere("Give the number of a record, or the name of an item or instrument.", "there is nothing %q to make a label of", job.Subject)
}

func (m papers) shop(ctx context.Context) (paper.Shop, *time.Location, error) {
	about, err := m.desk.AboutShop(ctx)
	if err != nil {
		return paper.Shop{}, nil, err
	}
	zone, err := time.LoadLocation(about.TimeZone)
	return paper.Shop{ID: m.desk.Shop(), Name: about.Name, TimeZone: about.TimeZone, Demo: about.Demo}, zone, err
}

// printLabel writes a label in the form that a printer takes.
func printLabel(out *bytes.Buffer, l press.Label, at time.Time, p spool.Printer) error {
	o := press.LabelOptions{Columns: p.Columns, ASCII: p.Encoding == spool.ASCII}
	if p.Takes == spool.Text {
		return press.LabelText(out, []press.Label{l}, o)
	}
	wide, high, _ := p.PaperMM()
	switch {
	case p.Paper == spool.A4 || p.Paper == spool.Letter:
		o.Sheet = string(sheetOf(p))
	case high == 0: // a roll is cut by hand, below the label
		o.Size = press.LabelSize{Wide: wide - 1, Tall: 32}
	default:
		o.Size = press.LabelSize{Wide: wide, Tall: high}
	}
	return press.LabelPDF(out, []press.Label{l}, at, o)
}

// test makes a test page.
func (m papers) test(ctx context.Context, out *bytes.Buffer, job spool.Job, p spool.Printer) error {
	shop, zone, err := m.shop(ctx)
	if err != nil {
		return err
	}
	if p.Takes == spool.Text {
		out.WriteString(spool.TestPage(p, shop.Name, job.Asked.In(zone)))
		return nil
	}
	l := press.TrayLabel(shop, p.Name)
	l.Title = "Test page"
	l.Lines = append([]string{fmt.Sprintf("printer %s, %s", p.Name, p.Paper), job.Asked.In(zone).Format("2006-01-02 15:04")}, l.Lines...)
	return printLabel(out, l, job.Asked, p)
}
