package press

import (
	"bytes"
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"codeberg.org/go-pdf/fpdf"

	"wreath/internal/paper"
	"wreath/internal/sentence"
)

// item is what was tested, for whom, and when.
func (d *report) item() {
	d.y += 1
	d.photo()
	f := d.f
	d.fact("Item", func(b *sentence.Book) []span {
		words := f.Description()
		if words == "" {
			return []span{{text: b.Say("not described")}}
		}
		out := []span{{text: words, style: boldStyle}}
		if f.Item == nil {
			return out
		}
		if f.Item.Marks != "" {
			out = append(out, span{text: "\n" + b.Say("marks as seen:") + " ", soft: true}, span{text: f.Item.Marks})
		}
		var marks []string
		if f.Item.ID != "" {
			marks = append(marks, f.Item.ID)
		}
		if f.Item.Barcode != "" {
			marks = append(marks, b.Say("tray")+" "+f.Item.Barcode)
		}
		if len(marks) > 0 {
			out = append(out, span{text: "\n" + b.Say("known here as:") + " ", soft: true}, span{text: strings.Join(marks, ", ")})
		}
		return out
	})
	d.fact("Condition on arrival", func(b *sentence.Book) []span {
		if f.Condition() == "" {
			return []span{{text: b.Say("not written down")}}
		}
		return []span{{text: f.Condition()}}
	})
	d.fact("Customer", func(b *sentence.Book) []span {
		switch p := f.Person; {
		case p != nil:
			parts := slices.DeleteFunc([]string{p.Name, p.Address, p.Contact}, func(s string) bool { return s == "" })
			return []span{{text: strings.ReplaceAll(strings.Join(parts, "\n"), "\r", "")}}
		case f.Customer.ID != "":
			return []span{{text: b.Sayf("known to the shop as %s; the name is not printed", f.Customer.ID)}}
		}
		return []span{{text: b.Sayf("not named: %s", f.Customer.Why)}}
	})
	d.fact("Declared by the customer, not measured here", func(b *sentence.Book) []span {
		var out []span
		for i, one := range f.Declared {
			if i > 0 {
				out = append(out, span{text: "\n"})
			}
			// A claim is a sentence of the program; whatever else was written stands as it is.
			text := one.Text
			if one.What == "claim" {
				text = b.Say(text)
			}
			out = append(out, span{text: b.Say(one.What) + ": ", soft: true}, span{text: text}, span{text: " (" + b.Sayf("says: %s", one.By) + ")", soft: true})
		}
		return out
	})
	d.fact("Received", func(*sentence.Book) []span {
		if f.Received == nil {
			return nil
		}
		return []span{{text: d.dayOrMoment(*f.Received)}}
	})
	d.fact("Measured", func(b *sentence.Book) []span {
		first, last := f.Performed()
		if first.IsZero() {
			return nil
		}
		from, to := d.when(first), d.when(last)
		if from != to {
			from = b.Sayf("%s to %s", from, to)
		}
		return []span{{text: from}, {text: "\n" + b.Say("at:") + " ", soft: true}, {text: d.where()}}
	})
	d.fact("Issued", func(b *sentence.Book) []span {
		recorded := span{text: b.Sayf("on record %s of %s", f.Record.Number, d.when(f.Record.Made.Time)), soft: true}
		if f.Report == nil {
			return []span{{text: b.Say("not issued") + "; "}, recorded}
		}
		return []span{{text: d.when(f.Report.Issued) + "; "}, recorded}
	})
}

// where is the place of the weighing.
func (d *report) where() string {
	s := d.f.Record.Station
	if s == nil {
		return cmp.Or(d.f.Place(), "—")
	}
	parts := []string{cmp.Or(s.Name, s.ID)}
	if s.Place != "" {
		parts = append(parts, s.Place)
	}
	return strings.Join(append(parts, d.f.Shop.Address), ", ")
}

// photo puts the photo of the item at the right of the facts that follow.
func (d *report) photo() {
	p := d.f.Photo
	if p == nil {
		return
	}
	const box = 43.0
	wide, tall := fit(p, box, box)
	caption := d.lines([]span{{text: cmp.Or(d.f.Item.Caption, "—"), soft: true}}, smallSize, box)
	if d.f.Item.Caption == "" {
		caption = nil
	}
	step := smallSize * point * leading
	needs := tall + 2 + step*float64(len(caption))
	if d.y+needs > d.bottom {
		d.newPage()
	}
	if len(d.books) == 2 {
		if d.image(p, "photo", d.left, d.y, wide, tall) == nil {
			d.y += tall + 1
			for _, line := range caption {
				d.draw(line, d.left, d.y+0.78*step, smallSize)
				d.y += step
			}
			d.y += 1.5
		}
		return
	}
	if d.image(p, "photo", d.right-wide, d.y, wide, tall) != nil {
		return
	}
	y := d.y + tall + 1
	for _, line := range caption {
		d.draw(line, d.right-wide, y+0.78*step, smallSize)
		y += step
	}
	d.beside, d.besideTo = math.Max(wide, 20)+5, y+0.5
}

// fit is the size of a picture in a box, in mm.
func fit(p *paper.Picture, wide, tall float64) (w, h float64) {
	scale := math.Min(wide/float64(max(p.Width, 1)), tall/float64(max(p.Height, 1)))
	return scale * float64(p.Width), scale * float64(p.Height)
}

// image puts a picture on the page.
func (d *report) image(p *paper.Picture, name string, x, y, wide, tall float64) error {
	kind := map[string]string{"image/jpeg": "JPG", "image/png": "PNG"}[p.MediaType]
	o := fpdf.ImageOptions{ImageType: kind}
	d.pdf.RegisterImageOptionsReader(name, o, bytes.NewReader(p.Bytes))
	d.pdf.ImageOptions(name, x, y, wide, tall, false, o, 0, "")
	if err := d.pdf.Error(); err != nil {
		return fmt.Errorf("the %s: %w", name, err)
	}
	return nil
}
