package press

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"wreath/internal/determination"
	"wreath/internal/paper"
	"wreath/internal/sentence"
)

// Paper is a size of paper.
type Paper string

// The sizes: ISO 216 and ANSI/ASME Y14.1.
const (
	A4     Paper = "a4"
	Letter Paper = "letter"
)

// Papers lists them.
var Papers = []Paper{A4, Letter}

// millimetres are width and height.
func (p Paper) millimetres() (wide, tall float64, ok bool) {
	switch p {
	case A4:
		return 210, 297, true
	case Letter:
		return 215.9, 279.4, true
	}
	return 0, 0, false
}

// Options choose how a report is printed. The zero value is in English on A4.
type Options struct {
	Paper     Paper
	Languages []string // one, or two side by side; English unless said
}

// books are the languages of a report. The error names what can't be printed.
func (o *Options) books() ([]*sentence.Book, error) {
	if o.Paper == "" {
		o.Paper = A4
	}
	if _, _, ok := o.Paper.millimetres(); !ok {
		return nil, fmt.Errorf("there is no paper %q: choose a4 or letter", o.Paper)
	}
	if len(o.Languages) == 0 {
		o.Languages = []string{"en"}
	}
	if len(o.Languages) > 2 {
		return nil, fmt.Errorf("%d languages: a report has one, or two side by side", len(o.Languages))
	}
	if len(o.Languages) == 2 && o.Languages[0] == o.Languages[1] {
		return nil, fmt.Errorf("the language %s is given twice: name two, or one", o.Languages[0])
	}
	var books []*sentence.Book
	for _, lang := range o.Languages {
		book := sentence.In(lang)
		if book == nil && lang != "en" {
			return nil, fmt.Errorf("there is no language %q: choose en, %s", lang, strings.Join(sentence.Languages, ", "))
		}
		books = append(books, book)
	}
	return books, nil
}

// Twin is the name of the attachment in a report that holds its facts as JSON.
func Twin(f *paper.Facts) string { return f.Number() + ".json" }

// Report writes the report of a record as PDF: everything that ISO/IEC 17025:2017 asks in its clause
// 7.8.2, with the same facts as JSON attached inside. The same facts give the same bytes. Facts without
// an issued report make a draft that says so on every page.
func Report(w io.Writer, f *paper.Facts, o Options) error {
	books, err := o.books()
	if err != nil {
		return err
	}
	twin, err := f.Twin()
	if err != nil {
		return err
	}
	d, err := newReport(f, o, books)
	if err != nil {
		return err
	}
	if err := d.write(); err != nil {
		return err
	}
	d.heads()
	d.pdf.SetAttachments([]fpdf.Attachment{{Content: twin, Filename: Twin(f), Description: books[0].Sayf("The facts of %s, as JSON", f.Number())}})
	// The document is put together before anything is written, so that nobody gets half of one.
	var out bytes.Buffer
	if err := d.pdf.Output(&out); err != nil {
		return fmt.Errorf("set the report %s: %w", f.Number(), err)
	}
	if err := nameAttachment(out.Bytes(), Twin(f)); err != nil {
		return err
	}
	_, err = w.Write(out.Bytes())
	return err
}

// report is a report being set.
type report struct {
	setter
	f      *paper.Facts
	a      *determination.Answer
	draft  *determination.Draft
	books  []*sentence.Book
	zone   *time.Location
	twin   string // hash
	wide   float64
	tall   float64
	left   float64 // margin
	right  float64 // where the text ends
	top    float64 // where the text of a page begins
	bottom float64 // where it ends
	y      float64 // where the next thing stands

	besideTo float64 // down to here a picture stands at the right
	beside   float64 // mm that it takes

	head func() // repeats the head of a table on a new page; nil outside of one
}

const (
	textSize  = 8.6 // pt
	smallSize = 7.4
	tableSize = 7.6
	gap       = 8.0 // mm between two languages
	labels    = 43.0
)

func newReport(f *paper.Facts, o Options, books []*sentence.Book) (*report, error) {
	a, err := f.Answer()
	if err != nil {
		return nil, err
	}
	draft, err := f.Draft()
	if err != nil {
		return nil, err
	}
	zone, err := f.Zone()
	if err != nil {
		return nil, fmt.Errorf("the time zone of the shop: %w", err)
	}
	twin, err := f.TwinHash()
	if err != nil {
		return nil, err
	}
	wide, tall, _ := o.Paper.millimetres()
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: wide, Ht: tall}})
	d := &report{
		setter: setter{pdf: pdf}, f: f, a: a, draft: draft, books: books, zone: zone, twin: twin,
		wide: wide, tall: tall, left: 20, right: wide - 20, top: 27, bottom: tall - 20,
	}
	// What a reader of the file shows of it comes from the facts alone.
	at := f.Record.Made.Time
	if f.Report != nil {
		at = f.Report.Issued
	}
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(at.UTC())
	pdf.SetModificationDate(at.UTC())
	pdf.SetTitle(d.title(), true)
	pdf.SetAuthor(f.Shop.Name, true)
	pdf.SetSubject(f.Description(), true)
	pdf.SetCreator("wreath "+a.Program.Version, true)
	pdf.SetProducer("wreath", true)
	pdf.SetLang(o.Languages[0])
	pdf.SetDisplayMode("fullpage", "single")
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	addFonts(pdf)
	if n := len(d.pageMarks()); n > 1 {
		d.top += float64(n-1) * smallSize * point * leading
	}
	d.newPage()
	return d, nil
}

// title is what the file is called by its reader.
func (d *report) title() string {
	if d.f.Report == nil {
		return d.books[0].Sayf("Draft of a test report on record %s", d.f.Record.Number)
	}
	return d.books[0].Sayf("Test report %s", d.f.Report.Number)
}

// newPage begins a page with the marks that lie across it.
func (d *report) newPage() {
	d.pdf.AddPage()
	d.marks()
	d.y, d.besideTo = d.top, 0
	if d.head != nil {
		d.head()
	}
}

// both says a sentence in each language of the report.
func (d *report) both(format string, args ...any) []string {
	var out []string
	for _, b := range d.books {
		out = append(out, b.Sayf(format, args...))
	}
	return out
}

// once says a sentence in each language on one line, once where they say the same.
func (d *report) once(format string, args ...any) string {
	return strings.Join(slices.Compact(d.both(format, args...)), " / ")
}

// named is once for words of the program that are kept somewhere.
func (d *report) named(words string) string { return d.once("%s", words) }

// marks prints what a page must not be taken for, large across it and below the text.
func (d *report) marks() {
	var words []string
	if d.f.SupersededBy != "" {
		words = append(words, strings.ToUpper(d.once("superseded by %s", d.f.SupersededBy)))
	}
	if d.f.Copy > 0 {
		words = append(words, strings.ToUpper(d.once("copy %d", d.f.Copy)))
	}
	if d.f.Report == nil {
		words = append(words, strings.ToUpper(d.once("draft, not issued")))
	}
	if len(words) == 0 {
		return
	}
	const angle = 52.0
	reach := 0.86 * math.Hypot(d.wide, d.tall)
	d.pdf.TransformBegin()
	d.pdf.TransformRotate(angle, d.wide/2, d.tall/2)
	d.pdf.SetTextColor(0xdc, 0xdc, 0xdc)
	size := 150.0
	for _, w := range words {
		text, _ := printable(w)
		size = math.Min(size, size*reach/d.setter.wide(text, boldStyle, size))
	}
	tall := size * point
	y := d.tall/2 + 0.36*tall - 1.15*tall*float64(len(words)-1)/2
	for _, w := range words {
		text, _ := printable(w)
		wide := d.setter.wide(text, boldStyle, size)
		d.pdf.Text((d.wide-wide)/2, y, visual(text))
		y += 1.15 * tall
	}
	d.pdf.TransformEnd()
}

// heads prints head and foot of every page, when it is known how many there are.
func (d *report) heads() {
	pages := d.pdf.PageCount()
	for n := 1; n <= pages; n++ {
		d.pdf.SetPage(n)
		d.pdf.SetFont(sans, "", 1) // a page begins without a font
		name := d.f.Number()
		var numbers []string
		if r := d.f.Report; r != nil {
			numbers = d.both("Report %s, page %d of %d, issued %s", name, n, pages, d.day(r.Issued))
		} else {
			numbers = d.both("Record %s, page %d of %d", name, n, pages)
		}
		room := 0.0
		numbers = slices.Compact(numbers)
		for i, number := range numbers {
			line := d.cutTo(number, plainStyle, smallSize, (d.right-d.left)*0.7)
			d.draw(line, d.right-line.wide, 14.5-float64(len(numbers)-1-i)*smallSize*point*leading, smallSize)
			room = math.Max(room, line.wide)
		}
		shop := d.cutTo(strings.Join(strings.Fields(d.f.Shop.Name+", "+d.f.Shop.Address), " "), plainStyle, smallSize, d.right-d.left-room-6)
		d.draw(shop, d.left, 14.5, smallSize)
		d.hair(16.8, 0.35, 0)
		for i, line := range d.pageMarks() {
			d.draw(line, d.left, markTop+float64(i)*smallSize*point*leading, smallSize)
		}
		foot := d.once("End of report %s", name)
		if n < pages {
			foot = d.once("continued on page %d", n+1)
		}
		if d.f.Report == nil && n == pages {
			foot = d.once("End of draft %s", name)
		}
		end := d.lines([]span{{text: "— " + foot + " —", soft: true}}, smallSize, d.right-d.left)
		d.draw(end[0], (d.wide-end[0].wide)/2, d.tall-11.5, smallSize)
	}
}

// markTop is the baseline of the first line under the head of a page, in mm.
const markTop = 20.4

// pageMarks say on each page in plain letters what the large marks say, and what is invented.
func (d *report) pageMarks() []setLine {
	var out []string
	if d.f.SupersededBy != "" {
		out = append(out, d.once("Superseded by %s, which counts instead.", d.f.SupersededBy))
	}
	if d.f.Copy > 0 {
		out = append(out, d.once("Copy %d of the first print.", d.f.Copy))
	}
	if d.f.Report == nil {
		out = append(out, d.once("Draft: nobody issued this report."))
	}
	if d.f.Shop.Demo {
		out = append(out, d.once("Everything here is invented, to try the program out."))
	}
	if len(out) == 0 {
		return nil
	}
	return d.lines([]span{{text: strings.Join(out, " "), style: boldStyle}}, smallSize, d.right-d.left)
}

// cutTo sets a text on one line; one that does not fit ends in dots.
func (d *report) cutTo(text string, st style, size, width float64) setLine {
	text, lacks := printable(text)
	d.lacks = d.lacks || lacks
	for runes := []rune(text); d.setter.wide(text, st, size) > width && len(runes) > 1; {
		runes = runes[:len(runes)-1]
		text = strings.TrimRight(string(runes), " ") + "…"
	}
	return d.line([]word{{text: text, style: st}}, size)
}

// hair draws a line across the text at y, mm thick, in a grey of 0 to 255.
func (d *report) hair(y, thick float64, grey int) {
	d.pdf.SetDrawColor(grey, grey, grey)
	d.pdf.SetLineWidth(thick)
	d.pdf.Line(d.left, y, d.right, y)
}

// column is a part of a row.
type column struct {
	x, wide float64
	spans   []span
	size    float64
	atRight bool
}

// row sets columns side by side. It goes on with the next page where a page ends.
func (d *report) row(before float64, columns ...column) {
	var set [][]setLine
	most, size := 0, 0.0
	for _, c := range columns {
		lines := d.lines(c.spans, c.size, c.wide)
		set = append(set, lines)
		most, size = max(most, len(lines)), math.Max(size, c.size)
	}
	step := size * point * leading
	// A row of few lines stays together.
	if d.y+before+step*float64(min(most, 4)) > d.bottom {
		d.newPage()
		if d.head != nil {
			d.y += before
		}
	} else {
		d.y += before
	}
	for n := range most {
		if d.y+step > d.bottom {
			d.newPage()
		}
		for i, c := range columns {
			if n >= len(set[i]) {
				continue
			}
			x := c.x
			if c.atRight {
				x += c.wide - set[i][n].wide
			}
			d.draw(set[i][n], x, d.y+0.78*step, c.size)
		}
		d.y += step
	}
}

// columnsOf are the places of the languages.
func (d *report) columnsOf() []column {
	wide := d.right - d.left
	if d.y < d.besideTo {
		wide -= d.beside
	}
	if len(d.books) == 1 {
		return []column{{x: d.left, wide: wide}}
	}
	half := (d.right - d.left - gap) / 2
	return []column{{x: d.left, wide: half}, {x: d.left + half + gap, wide: half}}
}

// says sets a paragraph in each language side by side.
func (d *report) says(before, size float64, spans func(*sentence.Book) []span) {
	columns := d.columnsOf()
	for i := range columns {
		columns[i].size, columns[i].spans = size, spans(d.books[i])
	}
	d.row(before, columns...)
}

// plainly sets a sentence of the program as a paragraph.
func (d *report) plainly(before, size float64, format string, args ...any) {
	d.says(before, size, func(b *sentence.Book) []span { return []span{{text: b.Sayf(format, args...)}} })
}

// heading begins a part of the report.
func (d *report) heading(words string) {
	// A heading stays with what follows; the head and the first row of a table are higher in two languages.
	room := 26.0
	if len(d.books) > 1 {
		room = 40
	}
	if d.y+room > d.bottom {
		d.newPage()
	}
	d.says(4.2, 9.2, func(b *sentence.Book) []span { return []span{{text: b.Say(words), style: boldStyle}} })
	d.y += 0.6
}

// fact sets a label and what it says, under a hair line. Where nothing is said there is no row.
func (d *report) fact(label string, spans func(*sentence.Book) []span) {
	said := make([][]span, len(d.books))
	for i, b := range d.books {
		if said[i] = spans(b); len(said[i]) == 0 {
			return
		}
	}
	columns := d.columnsOf()
	if len(d.books) == 1 {
		first := columns[0]
		columns = []column{
			{x: first.x, wide: labels - 3, size: textSize, spans: []span{{text: d.books[0].Say(label), soft: true}}},
			{x: first.x + labels, wide: first.wide - labels, size: textSize, spans: said[0]},
		}
	} else {
		for i := range columns {
			columns[i].size = textSize
			columns[i].spans = append([]span{{text: d.books[i].Say(label) + "\n", soft: true}}, said[i]...)
		}
	}
	page := d.pdf.PageNo()
	y := d.y
	d.row(1.15, columns...)
	if d.pdf.PageNo() == page {
		end := d.right
		if y < d.besideTo {
			end -= d.beside
		}
		d.pdf.SetDrawColor(0xc4, 0xc4, 0xc4)
		d.pdf.SetLineWidth(0.18)
		d.pdf.Line(d.left, y, end, y)
	}
	d.y += 1.15
}

// tableColumn is a column of a table, as wide as its share of the text.
type tableColumn struct {
	head    string
	share   float64
	atRight bool
}

// table sets rows under a head that every page repeats. A cell stands as it is given.
func (d *report) table(columns []tableColumn, rows [][]string) {
	total := 0.0
	for _, c := range columns {
		total += c.share
	}
	set := func(cells []string, st style, soft bool, size float64) []column {
		x := d.left
		var out []column
		for i, c := range columns {
			wide := (d.right - d.left) * c.share / total
			inner := wide - 2.4
			if i == len(columns)-1 {
				inner = wide
			}
			out = append(out, column{x: x, wide: inner, size: size, atRight: c.atRight, spans: []span{{text: cells[i], style: st, soft: soft}}})
			x += wide
		}
		return out
	}
	heads := make([]string, len(columns))
	for i, c := range columns {
		if c.head != "" {
			heads[i] = d.named(c.head)
		}
	}
	head := func() {
		again := d.head
		d.head = nil // a head that breaks itself would begin pages for ever
		d.row(0.6, set(heads, plainStyle, true, smallSize)...)
		d.y += 0.8
		d.hair(d.y, 0.25, 0x66)
		d.head = again
	}
	if d.y+14 > d.bottom {
		d.newPage()
	}
	head()
	d.head = head
	for _, cells := range rows {
		d.row(0.75, set(cells, plainStyle, false, tableSize)...)
		d.y += 0.75
		d.hair(d.y, 0.18, 0xc4)
	}
	d.head = nil
}

// points sets sentences as a list.
func (d *report) points(sentences []string) {
	for _, words := range sentences {
		d.says(0.5, textSize, func(b *sentence.Book) []span { return []span{{text: "– " + b.Say(words)}} })
	}
}

func (d *report) when(t time.Time) string { return t.In(d.zone).Format("2006-01-02 15:04:05 -07:00") }

// dayOrMoment prints a day where no time was given with it: the facts then hold its first instant.
func (d *report) dayOrMoment(t time.Time) string {
	t = t.In(d.zone)
	if t.Equal(time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, d.zone)) {
		return t.Format(time.DateOnly)
	}
	return d.when(t)
}

func (d *report) day(t time.Time) string { return t.In(d.zone).Format(time.DateOnly) }
