package main

import (
	"bytes"
	"context"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/paper"
	"wreath/internal/press"
	"wreath/internal/sentence"
	"wreath/internal/station"
)

type labelCmd struct {
	Tray       labelTrayCmd       `cmd:"" help:"Labels of trays: their barcodes."`
	Bag        labelBagCmd        `cmd:"" help:"Labels of bags of recorded items."`
	Instrument labelInstrumentCmd `cmd:"" help:"Labels of instruments, with their certificates."`
}

// labelForm is how labels are printed.
type labelForm struct {
	paperOut
	As       string `enum:"pdf,html,text" default:"pdf" help:"pdf, html for a browser's print dialog, or text."`
	Size     string `default:"57x32" placeholder:"WxH" help:"Size of a label in mm; 57x32 and 50x25 are usual."`
	Code     string `enum:"fits,code128,qr" default:"fits" help:"code128 (bars), qr, or fits: bars where the text can stand in them."`
	Sheet    string `enum:",a4,letter" default:"" help:"Sheets of labels on a4 or letter; one label a page unless said."`
	Skip     int    `help:"Of a sheet: places that are used already."`
	Encoding string `enum:"utf-8,ascii" default:"utf-8" help:"text: utf-8 or ascii."`
	Columns  int    `help:"text: letters on a line; 32 unless said."`
	Language string `placeholder:"CODE" help:"Language of the words, such as de; English unless said."`
}

// book is the language of the words.
func (l *labelForm) book() (*sentence.Book, error) {
	book := sentence.In(l.Language)
	if book == nil && l.Language != "" && l.Language != "en" {
		return nil, wrong("Choose en, "+strings.Join(sentence.Languages, ", ")+".", "there is no language %q", l.Language)
	}
	return book, nil
}

// print writes the labels.
func (l *labelForm) print(ctx context.Context, s *streams, r *room, labels []press.Label) error {
	size, err := press.ParseLabelSize(l.Size)
	if err != nil {
		return wrong("Such as --size 57x32.", "%v", err)
	}
	o := press.LabelOptions{Size: size, Sheet: l.Sheet, Skip: l.Skip, Columns: l.Columns, ASCII: l.Encoding == "ascii"}
	if l.Code != "fits" {
		o.Symbol = press.Symbol(l.Code)
	}
	now, err := today(ctx, r)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	switch l.As {
	case "pdf":
		err = press.LabelPDF(&out, labels, now, o)
	case "html":
		err = press.LabelHTML(&out, labels, o)
	default:
		err = press.LabelText(&out, labels, o)
	}
	if err != nil {
		return wrong("See wreath label --help.", "%v", err)
	}
	return l.deliver(s, l.As == "pdf", out.Bytes())
}

// shopOnLabels is the shop as labels name it.
func shopOnLabels(ctx context.Context, r *room) (paper.Shop, error) {
	about, err := r.AboutShop(ctx)
	return paper.Shop{ID: r.shop, Name: about.Name, TimeZone: about.TimeZone, Demo: about.Demo}, err
}

type labelTrayCmd struct {
	place
	labelForm
	Codes []string `arg:"" help:"Barcodes of trays, as you choose them."`
}

func (labelTrayCmd) Help() string {
	return `Examples:

  wreath label tray T-01 T-02 T-03 --sheet a4 --out trays.pdf
  wreath label tray T-04 --size 50x25 --code qr --out tray.pdf`
}

// Run writes labels of trays.
func (c *labelTrayCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, _ *desk.Who) error {
		shop, err := shopOnLabels(ctx, r)
		if err != nil {
			return err
		}
		var labels []press.Label
		for _, code := range c.Codes {
			labels = append(labels, press.TrayLabel(shop, code))
		}
		return c.print(ctx, s, r, labels)
	})
}

type labelBagCmd struct {
	place
	labelForm
	Numbers []string `arg:"" help:"Numbers of records."`
}

func (labelBagCmd) Help() string {
	return `Examples:

  wreath label bag D-000001 --out bag.pdf
  wreath label bag D-000001 D-000002 --sheet letter --skip 4 --out bags.pdf

The label names the item and its record. It names no finding: that never stands without its rule, and a
label has no room for it.`
}

// Run writes labels of bags.
func (c *labelBagCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		book, err := c.book()
		if err != nil {
			return err
		}
		var labels []press.Label
		for _, number := range c.Numbers {
			f, err := r.Paper(ctx, who, number)
			if err != nil {
				return err
			}
			label, err := press.BagLabel(f, book)
			if err != nil {
				return err
			}
			labels = append(labels, label)
		}
		return c.print(ctx, s, r, labels)
	})
}

type labelInstrumentCmd struct {
	place
	labelForm
	IDs []string `arg:"" name:"ids" help:"Instruments, by their mark."`
}

func (labelInstrumentCmd) Help() string {
	return `Examples:

  wreath label instrument B-1 --out balance.pdf
  wreath label instrument B-1 T-1 K-1 --sheet a4 --out instruments.pdf`
}

// Run writes labels of instruments.
func (c *labelInstrumentCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		book, err := c.book()
		if err != nil {
			return err
		}
		shop, err := shopOnLabels(ctx, r)
		if err != nil {
			return err
		}
		now, err := today(ctx, r)
		if err != nil {
			return err
		}
		equipment, err := r.Equipment(ctx, who)
		if err != nil {
			return err
		}
		var labels []press.Label
		for _, id := range c.IDs {
			found := false
			for i := range equipment.Instruments {
				if instrument := &equipment.Instruments[i]; instrument.ID == id {
					labels, found = append(labels, press.InstrumentLabel(shop, instrument, station.Day(now), book)), true
				}
			}
			if !found {
				return &failure{exitMissing, "there is no instrument " + id, "wreath instrument list shows them."}
			}
		}
		return c.print(ctx, s, r, labels)
	})
}
