package press

import (
	"bytes"
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"wreath/alloy"
	"wreath/conformity"
	"wreath/internal/determination"
	"wreath/internal/paper"
	"wreath/internal/picture"
	"wreath/internal/record"
	"wreath/internal/sentence"
	"wreath/uncertainty"
)

// write sets everything that the report says, in the order of the five questions: what is the density,
// what can the item be, does it meet the claim, should the weighing be trusted, what figure is safe.
func (d *report) write() error {
	if err := d.opening(); err != nil {
		return err
	}
	d.item()
	d.results()
	if err := d.scale(); err != nil {
		return err
	}
	d.amended()
	d.trust()
	d.conditions()
	d.readings()
	d.budget()
	d.instruments()
	d.cautions()
	return d.close()
}

// text is a span in each language.
func said(format string, args ...any) func(*sentence.Book) []span {
	return func(b *sentence.Book) []span { return []span{{text: b.Sayf(format, args...)}} }
}

// given is what somebody wrote: it stands as it is in every language.
func given(words string) func(*sentence.Book) []span {
	return func(*sentence.Book) []span {
		if strings.TrimSpace(words) == "" {
			return nil
		}
		return []span{{text: words}}
	}
}

// opening is logo, title and the finding.
func (d *report) opening() error {
	if p := d.f.Logo; p != nil {
		wide, tall := fit(p, 50, 13)
		if err := d.image(p, "logo", d.left, d.y, wide, tall); err != nil {
			return err
		}
		d.y += tall + 3
	}
	kicker := "Draft of a test report, not issued"
	if r := d.f.Report; r != nil {
		kicker = "Test report"
		if r.Amends != nil {
			kicker = "Test report, amended"
		}
	}
	d.says(0, textSize, func(b *sentence.Book) []span { return []span{{text: b.Say(kicker) + " " + d.f.Number(), soft: true}} })
	title := "Density of one item, and what it can be"
	if d.a.Finding != nil {
		title = "Density of one item, and what it says about the claim"
	}
	size := 17.0
	if len(d.books) == 2 {
		size = 13
	}
	d.says(0.4, size, func(b *sentence.Book) []span { return []span{{text: b.Say(title), style: serifStyle}} })
	if r := d.f.Report; r != nil && r.Amends != nil {
		d.says(1.2, textSize, func(b *sentence.Book) []span {
			return []span{
				{text: b.Sayf("This report takes the place of report %s of %s. Reason:", r.Amends.Number, d.day(r.Amends.Issued)), style: boldStyle},
				{text: " " + r.Amends.Reason},
			}
		})
	}
	return d.finding()
}

// finding is the answer to the claim, with its sign.
func (d *report) finding() error {
	y := d.y + 2.6
	const signWide = 64 * px
	f := d.a.Finding
	size, indent := 12.0, signWide+4
	if len(d.books) == 2 {
		size, indent = 10.2, 0
	}
	if y+34*px+4 > d.bottom {
		d.newPage()
		y = d.y
	}
	if err := drawPicture(d.pdf, picture.Language{Book: d.books[0]}.Sign(picture.FindingOf(d.a)), d.left, y, px); err != nil {
		return err
	}
	answer := func(b *sentence.Book) []span {
		if f == nil {
			return []span{{text: b.Say("Nothing is claimed of the item, so nothing is decided."), style: serifStyle}}
		}
		return []span{{text: b.Sayf("The claim %s: %s.", f.Claim, f.Result), style: serifStyle}}
	}
	columns := d.columnsOf()
	if indent == 0 {
		d.y = y + 34*px
	}
	for i := range columns {
		columns[i].x, columns[i].wide = columns[i].x+indent, columns[i].wide-indent
		columns[i].size, columns[i].spans = size, answer(d.books[i])
	}
	d.row(2.6, columns...)
	if f == nil {
		d.y = math.Max(d.y, y+34*px) + 1
		return nil
	}
	detail := func(b *sentence.Book) []span {
		out := []span{{text: b.Say(f.Sentence)}}
		if f.Probability != nil && f.Against != nil {
			out = append(out, span{text: " " + b.Sayf("Chance that the fineness is nearer the claim than %.4g: %s.", *f.Against, conformity.Percent(*f.Probability))})
		}
		for _, r := range f.Reasons {
			out = append(out, span{text: "\n– " + b.Say(r)})
		}
		for _, m := range f.Missing {
			out = append(out, span{text: "\n– " + b.Sayf("missing: %s", m)})
		}
		return append(out, span{text: "\n" + b.Say("Decision rule:") + " ", soft: true}, span{text: b.Say(f.Rule) + "."})
	}
	for i := range columns {
		columns[i].size, columns[i].spans = textSize, detail(d.books[i])
	}
	d.row(0.8, columns...)
	d.y = math.Max(d.y, y+34*px) + 1.5
	return nil
}

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

// results are the density and what follows from it.
func (d *report) results() {
	a := d.a
	d.heading("Results")
	d.fact("Method", said("hydrostatic weighing: %s", a.Method))
	d.fact("Density at 20 °C", func(b *sentence.Book) []span {
		v := a.Density20C
		value, u := uncertainty.Round(v.KgM3/1000, v.UExpanded/1000)
		out := []span{{text: b.Number(value) + " g/cm³ ± " + b.Number(u) + " g/cm³", style: boldStyle}}
		factor := b.Number(strconv.FormatFloat(v.K, 'f', 2, 64))
		if v.Dof == nil {
			out = append(out, span{text: " " + b.Sayf("(expanded uncertainty, coverage 95 %%, k = %s)", factor)})
		} else {
			out = append(out, span{text: " " + b.Sayf("(expanded uncertainty, coverage 95 %%, k = %s, %.0f degrees of freedom)", factor, *v.Dof)})
		}
		if a.Composite != nil {
			out = append(out, span{text: "\n" + b.Say("of the item as a whole, with all its parts")})
		}
		switch {
		case v.HighKgM3 == nil:
			out = append(out, span{text: "\n" + b.Sayf("from %.5g g/cm³, without an upper limit: the buoyancy is hardly more than its uncertainty", v.LowKgM3/1000)})
		case v.IntervalBy != "first-order":
			out = append(out, span{text: "\n" + b.Sayf("interval by propagation of distributions: %.5g to %.5g g/cm³", v.LowKgM3/1000, *v.HighKgM3/1000)})
		}
		if a.SecondLiquid != nil {
			out = append(out, span{text: "\n" + b.Say(a.SecondLiquid.Sentence)})
		}
		return out
	})
	d.fact("Mass and volume", func(b *sentence.Book) []span {
		mass, mu := uncertainty.Round(a.TrueMassG, 2*a.TrueMassUG)
		volume, vu := uncertainty.Round(a.VolumeCm3, 2*a.VolumeUCm3)
		return []span{{text: b.Sayf("%s g ± %s g, free of the buoyancy of the air; %s cm³ ± %s cm³ (k = 2)", mass, mu, volume, vu)}}
	})
	d.parts()
	d.fineness()
	if l := a.LegalLimit; l != nil {
		d.fact("Legal limit", func(b *sentence.Book) []span {
			return []span{{text: b.Sayf("limit %.4g: %s (chance %s, weighting %q)", l.LimitPpt, l.Result, conformity.Percent(l.Probability), l.Weighting) + ". " + b.Say(l.Sentence)}}
		})
	}
	if t := a.Type; t != nil {
		d.fact("Type", func(b *sentence.Book) []span {
			return []span{{text: t.Name + " (" + t.Law + "): " + b.Say(t.Sentence)}}
		})
	}
	for _, e := range a.Evidence {
		d.fact("Further test", func(b *sentence.Book) []span {
			words := b.Say(e.Kind) + ": " + b.Say(cmp.Or(e.Contradiction, e.Says))
			if e.Off {
				words += " " + b.Say("(switched off: it changes nothing here)")
			}
			return []span{{text: words}}
		})
	}
	d.fact("What density can't exclude", func(b *sentence.Book) []span {
		var out []span
		if names := d.fitting("look-alike"); len(names) > 0 {
			out = append(out, span{text: b.Say("These fit as well, whatever the item is marked:") + " "}, span{text: listOf(b, names) + ".", style: boldStyle})
		}
		if names := d.fitting("stone"); len(names) > 0 {
			out = append(out, span{text: "\n" + b.Sayf("Stones that fit: %s.", strings.Join(names, ", "))})
		}
		if names := d.fitting("alloy"); len(names) > 0 {
			out = append(out, span{text: "\n" + b.Sayf("Alloys that fit: %s.", strings.Join(names, ", "))})
		}
		for _, words := range a.NeverExcluded {
			out = append(out, span{text: "\n– " + b.Say(words)})
		}
		if len(out) > 0 {
			out[0].text = strings.TrimPrefix(out[0].text, "\n")
		}
		return out
	})
}

// fitting are the names of the candidates of a kind that fit.
func (d *report) fitting(kind string) (names []string) {
	for _, c := range d.a.Candidates {
		if c.Kind == kind && c.Fits {
			names = append(names, c.Name)
		}
	}
	return names
}

// listOf says names one by one, so that each is known by its own line.
func listOf(b *sentence.Book, names []string) string {
	var out []string
	for _, n := range names {
		out = append(out, b.Say(n))
	}
	return strings.Join(out, "; ")
}

// parts are those of an item of several materials.
func (d *report) parts() {
	c := d.a.Composite
	if c == nil {
		return
	}
	d.fact("Parts", func(b *sentence.Book) []span {
		out := []span{{text: b.Say(c.Sentence)}}
		if c.Refused != "" {
			out = append(out, span{text: " " + b.Say(c.Refused) + "."})
		}
		for _, p := range c.Parts {
			mass, mu := uncertainty.Round(p.MassG, 1.96*p.MassUG)
			volume, vu := uncertainty.Round(p.VolumeCm3, 1.96*p.VolumeUCm3)
			switch {
			case p.DensityKgM3 == 0: // a hollow
				out = append(out, span{text: "\n– " + b.Sayf("%s: %s ± %s cm³", p.Name, volume, vu)})
			case p.MassUG == 0:
				out = append(out, span{text: "\n– " + b.Sayf("%s: %.4g g, %.4g g/cm³", p.Name, p.MassG, p.DensityKgM3/1000)})
			default:
				out = append(out, span{text: "\n– " + b.Sayf("%s: %s ± %s g, %.4g g/cm³", p.Name, mass, mu, p.DensityKgM3/1000)})
			}
		}
		return out
	})
}

// fineness is the interval with what it rests on.
func (d *report) fineness() {
	f := d.a.Fineness
	if f == nil {
		return
	}
	d.fact("Fineness", func(b *sentence.Book) []span {
		out := []span{{text: b.Sayf("%.0f to %.0f parts per thousand of %s (95 %%)", f.Low, f.High, f.Metal), style: boldStyle}}
		out = append(out, span{text: "\n" + b.Sayf("This rests on the assumption that the item is throughout one alloy of the kind %s, melted by a usual recipe; all usual recipes count alike. Any usual recipe: %.0f to %.0f; rare ones too: %.0f to %.0f.",
			familyNames(b, f.Family), f.RangeLow, f.RangeHigh, f.OuterLow, f.OuterHigh)})
		if len(d.a.OtherMetals) > 0 {
			out = append(out, span{text: " " + b.Sayf("Such a density is also that of: %s.", strings.Join(d.a.OtherMetals, ", "))})
		}
		return out
	})
	d.fact("Safe figure", func(b *sentence.Book) []span {
		switch {
		case slices.ContainsFunc(d.a.Doubts, func(q determination.Doubt) bool { return q.Suspends }):
			return []span{{text: b.Say("none while the weighing is in doubt")}}
		case len(d.a.OtherMetals) > 0:
			return []span{{text: b.Say("none, since the metal is not settled")}}
		case d.a.Density20C.HighKgM3 == nil:
			return []span{{text: b.Say("none, since the weighing says next to nothing")}}
		}
		return []span{{text: b.Sayf("%.0f parts per thousand of %s: exceeded with 95 %% probability under the same assumption", math.Floor(f.Safe), f.Metal)}}
	})
}

// familyNames says the alloy families of a fineness by their names.
func familyNames(b *sentence.Book, keys string) string {
	var names []string
	for _, key := range strings.Split(keys, " + ") {
		name := key
		if family, ok := alloy.FamilyByKey(key); ok {
			name = family.Name
		}
		names = append(names, b.Say(name))
	}
	return strings.Join(names, " + ")
}

// scale is the drawing of the density against everything that it can be.
func (d *report) scale() error {
	if !(d.a.Density20C.KgM3 > 0) {
		return nil
	}
	d.y, d.besideTo = math.Max(d.y, d.besideTo), 0
	columns := d.columnsOf()
	pictures := make([]picture.Picture, len(d.books))
	tall := 0.0
	for i, b := range d.books {
		pictures[i] = picture.Scale(picture.Subject{Answer: d.a, Claim: d.draft.Claim, In: b},
			picture.ScaleOptions{Width: int(columns[i].wide / px), NoWhole: len(d.books) == 2, Tall: 460})
		tall = math.Max(tall, float64(pictures[i].Height)*columns[i].wide/float64(pictures[i].Width))
	}
	if d.y+12+tall > d.bottom {
		d.newPage()
	}
	d.heading("Density scale")
	for i, p := range pictures {
		if err := drawPicture(d.pdf, p, columns[i].x, d.y, columns[i].wide/float64(p.Width)); err != nil {
			return err
		}
	}
	d.y += tall + 0.5
	return nil
}

// amended lists what the report changes of the one before.
func (d *report) amended() {
	r := d.f.Report
	if r == nil || r.Amends == nil {
		return
	}
	d.heading("What changed")
	d.plainly(0.2, textSize, "Against report %s, on record %s:", r.Amends.Number, r.Amends.Record)
	d.y += 0.8
	if len(r.Amends.Changes) == 0 {
		d.plainly(0.5, textSize, "Nothing that is printed; this is the same report under a new number.")
		return
	}
	const most = 240 // letters of a change; the whole of it is in the attached facts
	cut := func(s string) string {
		if runes := []rune(s); len(runes) > most {
			return string(runes[:most]) + " …"
		}
		return cmp.Or(s, "—")
	}
	var rows [][]string
	for _, c := range r.Amends.Changes {
		rows = append(rows, []string{c.Path, cut(c.Old), cut(c.New)})
	}
	d.table([]tableColumn{{"place in the document", 2, false}, {"as it was", 3, false}, {"as it is now", 3, false}}, rows)
}

// trust is what speaks against the weighing or the item: opinions, with the person who holds them.
func (d *report) trust() {
	r := d.f.Report
	opinion := ""
	if r != nil {
		opinion = r.Opinion
	}
	if len(d.a.Doubts) == 0 && opinion == "" {
		return
	}
	d.heading("Opinions and interpretations")
	d.says(0.2, textSize, func(b *sentence.Book) []span {
		if r == nil {
			return []span{{text: b.Say("Nobody has authorised these yet; they follow from the readings by the rules of the program.")}}
		}
		return []span{{text: b.Sayf("Opinion of %s, on the ground of the readings and tests named here. It is no result of the measurement.", r.Name)}}
	})
	if opinion != "" {
		d.says(0.6, textSize, given(opinion))
	}
	for _, q := range d.a.Doubts {
		d.says(0.6, textSize, func(b *sentence.Book) []span {
			out := []span{{text: "– " + b.Say(q.Cause), style: boldStyle}}
			if q.Verdict != "" {
				out = append(out, span{text: " (" + b.Say(q.Verdict) + ")", soft: true})
			}
			out = append(out, span{text: ": " + b.Say(q.Sign) + ". " + b.Say(cmp.Or(q.Sentence, q.Settles))})
			return out
		})
	}
}

// conditions are those of the weighing, with what was assumed and what was done otherwise.
func (d *report) conditions() {
	a := d.a
	d.heading("Conditions, assumptions and deviations")
	d.fact("Liquid and air", func(b *sentence.Book) []span {
		liquid, u := uncertainty.Round(a.LiquidDensityKgM3, 2*a.LiquidDensityUKgM3)
		words := b.Sayf("liquid at %.4g °C: %s kg/m³ ± %s kg/m³ (k = 2); air: %.4g kg/m³", a.Density.TemperatureC, liquid, u, a.AirDensityKgM3)
		if l := d.draft.Liquid; l != nil && cmp.Or(l.Name, l.Kind) != "" {
			words = b.Say(cmp.Or(l.Name, l.Kind)) + "; " + words
		}
		return []span{{text: words}}
	})
	d.fact("Assumed", func(b *sentence.Book) []span {
		var out []span
		for i, s := range a.Assumed {
			words := b.Say(s.Taken)
			if s.Reason != "" {
				words += " (" + b.Say(s.Reason) + ")"
			}
			if i > 0 {
				out = append(out, span{text: "\n"})
			}
			out = append(out, span{text: s.Field + ": ", soft: true}, span{text: words})
		}
		return out
	})
	d.fact("Added, left out or done otherwise", func(b *sentence.Book) []span {
		var out []span
		if r := d.f.Report; r != nil && r.Deviations != "" {
			out = append(out, span{text: r.Deviations})
		}
		for _, m := range d.f.Record.Marks {
			if len(out) > 0 {
				out = append(out, span{text: "\n"})
			}
			out = append(out, span{text: b.Say(m)})
		}
		if len(out) == 0 {
			out = []span{{text: b.Say("nothing")}}
		}
		return out
	})
	d.fact("Computed by", func(b *sentence.Book) []span {
		v := d.f.Record.Versions
		return []span{{text: b.Sayf("program %s, formulas %s, tables %s", v.Program, v.Formulas, v.Tables)}}
	})
}

// slots are the readings in words.
var slots = map[string]string{
	"air_g": "item in air", "liquid_g": "item in the liquid", "gain_g": "gain of the vessel", "closing_air_g": "item in air, at the end",
	"closing_zero_g": "empty hanger, at the end", "sinker_liquid_g": "sinker in the liquid", "coated_air_g": "coated item in air",
	"impregnated_air_g": "item full of oil, in air", "empty_g": "pycnometer, empty", "with_sample_g": "pycnometer with sample",
	"with_sample_and_liquid_g": "pycnometer with sample and liquid", "liquid_only_g": "pycnometer with liquid",
	"liquid.proof.air_g": "check piece in air", "liquid.proof.liquid_g": "check piece in the liquid", "liquid.proof.gain_g": "gain with the check piece",
	"second_liquid.liquid_g": "item in the second liquid", "second_liquid.gain_g": "gain in the second liquid",
	"reference.air_g": "reference solid in air", "reference.liquid_g": "reference solid in the liquid",
	"liquid.temperature_c": "temperature of the liquid", "air.temperature_c": "temperature of the air", "air.pressure_hpa": "air pressure", "air.humidity_percent": "humidity of the air",
}

// slotUnits are the units of what is no mass.
var slotUnits = map[string]string{"liquid.temperature_c": "°C", "air.temperature_c": "°C", "air.pressure_hpa": "hPa", "air.humidity_percent": "%"}

// readings lists every reading, those that were set aside too.
func (d *report) readings() {
	sheet := &d.f.Record.Sheet
	d.heading("Readings")
	d.y += 0.4
	var rows [][]string
	first, last := d.f.Performed()
	clock := time.TimeOnly
	if d.day(first) != d.day(last) {
		clock = time.DateTime
	}
	for _, r := range sheet.Readings {
		name := r.Slot
		if words, known := slots[r.Slot]; known {
			name = d.named(words)
		}
		rows = append(rows, []string{
			strconv.Itoa(r.No), name, asRead(r), r.Time.In(d.zone).Format(clock), d.instrumentOf(sheet, r), r.Person, d.aside(sheet, r),
		})
	}
	if len(rows) == 0 {
		d.plainly(0.5, textSize, "No reading stands on the sheet.")
		return
	}
	d.table([]tableColumn{{"№", 0.7, false}, {"what was read", 3.6, false}, {"as read", 2.1, true}, {"clock time", 2.4, false}, {"instrument", 1.7, false}, {"taken by", 1.9, false}, {"remarks", 3.4, false}}, rows)
}

// asRead is a reading as it was shown, with its unit.
func asRead(r record.Reading) string {
	text := strings.TrimSpace(r.Text)
	switch {
	case r.Unit != "":
		return text + " " + r.Unit
	case strings.ContainsFunc(text, func(c rune) bool { return c >= 'a' && c <= 'z' || c == '°' || c == '%' }):
		return text
	}
	return text + " " + cmp.Or(slotUnits[r.Slot], "g")
}

// instrumentOf names what was read: the instrument itself, else the station's.
func (d *report) instrumentOf(sheet *record.Sheet, r record.Reading) string {
	if r.Instrument != nil {
		return r.Instrument.ID
	}
	s := d.f.Record.Station
	if s == nil || !sheet.Here(r.No) {
		return "—"
	}
	at := s.Balance
	switch r.Slot {
	case "liquid.temperature_c":
		at = s.Thermometer
	case "air.temperature_c":
		at = s.AirThermometer
	case "air.pressure_hpa":
		at = s.Barometer
	case "air.humidity_percent":
		at = s.Hygrometer
	}
	if at == nil {
		return "—"
	}
	return at.ID
}

// aside says what became of a reading that does not count, and how one came that was not typed.
func (d *report) aside(sheet *record.Sheet, r record.Reading) string {
	var words []string
	switch {
	case r.Withdrawn != nil:
		words = append(words, d.once("set aside")+": "+r.Withdrawn.Reason)
	case !sheet.Here(r.No):
		words = append(words, d.once("taken at another station, not evaluated"))
	case len(r.Restored) > 0:
		words = append(words, d.once("restored")+": "+r.Restored[len(r.Restored)-1].Reason)
	}
	if r.Source != record.Typed {
		words = append(words, d.named(r.Source))
	}
	return strings.Join(words, "; ")
}

// leastShare is the share of the variance below which inputs stand together; chosen here.
const leastShare = 0.001

// budget is where the uncertainty of the density comes from.
func (d *report) budget() {
	if len(d.a.Budget) == 0 {
		return
	}
	d.heading("Budget of the uncertainty")
	d.y += 0.4
	b := d.books[0]
	number := func(v float64, digits int) string { return b.Number(strconv.FormatFloat(v, 'g', digits, 64)) }
	var rows [][]string
	others, rest := 0.0, 0
	for _, r := range d.a.Budget {
		if r.Share < leastShare {
			others, rest = others+r.Contribution*r.Contribution, rest+1
			continue
		}
		dof := "∞"
		if r.Dof != nil {
			dof = b.Number(strconv.FormatFloat(*r.Dof, 'f', 0, 64))
		}
		share := b.Number(strconv.FormatFloat(100*r.Share, 'f', 1, 64)) + " %"
		unit := r.Unit
		if unit == "1" {
			unit = ""
		}
		rows = append(rows, []string{d.named(r.Input), number(r.Value, 8), number(r.U, 2), unit, d.named(r.Distribution), dof, number(r.Contribution, 3), share})
	}
	if rest > 0 {
		rows = append(rows, []string{d.once("%d others, each less than a thousandth; all stand in the attached facts", rest), "", "", "", "", "", number(math.Sqrt(others), 2), "< " + b.Number("0.1") + " %"})
	}
	d.table([]tableColumn{
		{"uncertainty from", 4.7, false}, {"estimate", 2.2, true}, {"u", 1.7, true}, {"its unit", 1.1, false}, {"distribution", 1.9, false},
		{"ν", 0.8, true}, {"kg/m³", 1.3, true}, {"share of it", 1.2, true},
	}, rows)
	v := d.a.Density20C
	value, u := uncertainty.Round(v.KgM3, v.UKgM3)
	d.says(1, textSize, func(b *sentence.Book) []span {
		words := b.Sayf("Density at 20 °C: %s kg/m³, standard uncertainty %s kg/m³, worked in specific volume by the law of propagation (JCGM 100).", value, u)
		if m := d.a.MonteCarlo; m != nil {
			if m.Validated {
				words += " " + b.Say("Propagation of distributions (JCGM 101) agrees.")
			} else {
				words += " " + b.Say("Propagation of distributions (JCGM 101) differs, and its interval is the one that is given.")
			}
		}
		return []span{{text: words}}
	})
}

// instruments are those that took part, with what they are traced to.
func (d *report) instruments() {
	d.heading("Instruments and traceability")
	if len(d.f.Instruments) == 0 {
		d.plainly(0.2, textSize, "No instrument is on file for these readings, so traceability is not shown.")
	} else {
		d.y += 0.4
		var rows [][]string
		for _, i := range d.f.Instruments {
			certificate, dates := d.once("none: traceability not shown"), ""
			if i.Certificate != "" {
				certificate, dates = i.Certificate+", "+i.Issuer, i.Calibrated+" – "+i.Due
			}
			rows = append(rows, []string{i.ID, d.named(i.Kind), cmp.Or(i.Title, "—"), certificate, dates})
		}
		d.table([]tableColumn{{"own mark", 1.4, false}, {"kind of instrument", 2, false}, {"maker, type, number", 3.2, false}, {"certificate", 4, false}, {"calibrated – due", 2.8, false}}, rows)
	}
	var words []string
	for _, s := range d.f.Record.Statements {
		words = append(words, s.Text)
	}
	d.points(words)
}

// cautions are what is to be minded, and what the paper is and is not.
func (d *report) cautions() {
	d.heading("Mind")
	d.points(d.a.Cautions)
	d.points([]string{
		"The results relate only to the item that was tested, in the state in which it was received.",
		"What lies inside shows in the mean density only: a material of the same density as what is claimed can't be seen.",
		"This report may be copied as a whole only, unless the shop agrees in writing.",
	})
}

// close is signatures, proof and what the file carries.
func (d *report) close() error {
	d.heading("Persons")
	type block struct{ name, line, sentence string }
	var blocks []block
	for _, s := range d.f.Signatures {
		line := d.named(string(s.Meaning)) + ", " + d.when(s.At)
		if s.Mark != "" {
			line += ", " + d.named(s.Mark)
		}
		blocks = append(blocks, block{s.Name, line, d.named(s.Sentence)})
	}
	if r := d.f.Report; r != nil {
		line := d.once("authorised") + ", " + d.when(r.Issued)
		if r.Mark != "" {
			line += ", " + d.named(r.Mark)
		}
		blocks = append(blocks, block{r.Name, line, d.once("I issue this report and answer for it.")})
	}
	for _, words := range d.f.Unsigned {
		blocks = append(blocks, block{"—", d.once("not signed"), d.named(words)})
	}
	if len(blocks) == 0 {
		d.plainly(0.2, textSize, "Nobody has signed this record.")
	}
	const across, between = 3, 6.0
	wide := (d.right - d.left - between*(across-1)) / across
	for chunk := range slices.Chunk(blocks, across) {
		var columns []column
		for i, s := range chunk {
			columns = append(columns, column{x: d.left + float64(i)*(wide+between), wide: wide, size: textSize, spans: []span{
				{text: s.name, style: serifStyle}, {text: "\n" + s.line}, {text: "\n" + s.sentence, soft: true},
			}})
		}
		if d.y+26 > d.bottom {
			d.newPage()
		}
		d.y += 4
		d.pdf.SetDrawColor(0, 0, 0)
		d.pdf.SetLineWidth(0.25)
		for _, c := range columns {
			d.pdf.Line(c.x, d.y, c.x+wide, d.y)
		}
		d.row(0.8, columns...)
	}
	return d.proof()
}

// codeWide is the place for the code of the proof, quiet zone included, in mm; codeDots are the dots that
// its modules have at least, where the place allows it.
const (
	codeWide = 38.0
	codeDots = 3
)

// proof is the code, the hashes, and what the attachment is.
func (d *report) proof() error {
	var code Code
	dots := 0
	if d.f.Proof != "" {
		var err error
		if code, dots, err = FitQR(d.f.Proof, int(codeWide/Dot), 0, codeDots); err != nil {
			return err
		}
	}
	tall := float64((code.Tall+2*code.Quiet)*dots) * Dot
	if d.y+math.Max(tall, 34)+10 > d.bottom {
		d.newPage()
	}
	d.heading("Proof")
	top := d.y
	wide := d.right - d.left
	if dots > 0 {
		side := float64(code.Wide*dots) * Dot
		quiet := float64(code.Quiet*dots) * Dot
		d.pdf.SetFillColor(255, 255, 255)
		d.pdf.Rect(d.right-side-2*quiet, top, side+2*quiet, side+2*quiet, "F")
		code.draw(d.pdf, d.right-side-quiet, top+quiet, dots, 0)
		d.beside, d.besideTo = side+2*quiet+4, top+side+2*quiet
		wide -= d.beside
	}
	line := func(spans ...span) {
		if d.y >= d.besideTo {
			wide = d.right - d.left
		}
		d.row(0.5, column{x: d.left, wide: wide, size: smallSize, spans: spans})
	}
	f := d.f
	line(span{text: d.once("record %s, entry %d of the log, hash:", f.Record.Number, f.Entry) + " ", soft: true}, span{text: grouped(f.Hash), style: monoStyle})
	if f.Checkpoint != "" {
		line(span{text: d.once("checkpoint of the log:") + " ", soft: true}, span{text: f.Checkpoint, style: monoStyle})
	} else {
		line(span{text: d.once("no checkpoint of the log covers the record yet"), soft: true})
	}
	line(span{text: d.once("facts of this report, attached to this file as %s, SHA-256:", Twin(f)) + " ", soft: true}, span{text: grouped(d.twin), style: monoStyle})
	for _, b := range d.books {
		words := b.Say("The attached facts are the same as those printed, in a form that programs read; personal data are not in them.")
		if f.Proof != "" {
			words += " " + b.Say("The code holds the finding signed by the shop; who has the shop's public key can check it without a network.")
		}
		line(span{text: words, soft: true})
	}
	if d.lacks {
		for _, b := range d.books {
			line(span{text: b.Say("Letters that the font of this paper lacks stand in brackets by their Unicode numbers."), soft: true})
		}
	}
	d.y = math.Max(d.y, d.besideTo)
	return d.pdf.Error()
}

// grouped writes a hash in groups of eight digits, so that it can be read aloud.
func grouped(hash string) string {
	var groups []string
	for part := range slices.Chunk([]byte(hash), 8) {
		groups = append(groups, string(part))
	}
	return strings.Join(groups, " ")
}
