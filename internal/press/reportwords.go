package press

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"wreath/alloy"
	"wreath/conformity"
	"wreath/internal/determination"
	"wreath/internal/picture"
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
