package press

import (
	"fmt"
	"html"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"wreath/internal/paper"
	"wreath/internal/sentence"
	"wreath/internal/station"
)

// Label is what stands on a tray, a bag or an instrument: a code for the scanner, and the same for people.
// It names no finding: that never stands without its rule, and a label has no room for it.
type Label struct {
	Code  string   // what the code says
	Title string   // in large letters
	Lines []string // below it, the most important first
	Mark  string   // white on black: INVENTED, OUT OF SERVICE; "" without one
}

const inventedMark = "INVENTED"

// TrayLabel is the label of a tray: its barcode stays with the tray, whatever lies in it.
func TrayLabel(shop paper.Shop, code string) Label {
	l := Label{Code: code, Title: code, Lines: []string{shop.Name}}
	l.invented(shop)
	return l
}

func (l *Label) invented(shop paper.Shop) {
	if shop.Demo {
		l.Mark = inventedMark
	}
}

// BagLabel is the label of the bag of one recorded item: its code is the number of the record. The words are
// in the language of the book.
func BagLabel(f *paper.Facts, in *sentence.Book) (Label, error) {
	d, err := f.Draft()
	if err != nil {
		return Label{}, err
	}
	place, err := f.Zone()
	if err != nil {
		return Label{}, fmt.Errorf("the time zone of the shop: %w", err)
	}
	l := Label{Code: f.Record.Number, Title: f.Record.Number}
	add := func(words string) {
		if words != "" {
			l.Lines = append(l.Lines, words)
		}
	}
	add(f.Description())
	var seen []string
	if len(d.AirG) > 0 {
		seen = append(seen, in.Sayf("in air: %s g", d.AirG[0].Text))
	}
	if f.Item != nil && f.Item.Marks != "" {
		seen = append(seen, in.Say("marks")+": "+f.Item.Marks)
	}
	add(strings.Join(seen, "; "))
	add(slipZone{place}.minute(f.Record.Made.Time) + ", " + f.Record.Made.Person)
	add(f.Shop.Name)
	if f.SupersededBy != "" {
		l.Mark = in.Sayf("SUPERSEDED by %s", f.SupersededBy)
	} else {
		l.invented(f.Shop)
	}
	return l, nil
}

// InstrumentLabel is the label of an instrument as it is kept on the given day.
func InstrumentLabel(shop paper.Shop, i *station.Instrument, day station.Date, in *sentence.Book) Label {
	l := Label{Code: i.ID, Title: i.ID}
	l.invented(shop)
	l.Lines = append(l.Lines, strings.Join(strings.Fields(in.Say(i.Kind)+" "+i.Maker+" "+i.Type), " "))
	var newest *station.Certificate
	for n := range i.Certificates {
		if c := &i.Certificates[n]; newest == nil || newest.Date < c.Date {
			newest = c
		}
	}
	switch {
	case newest == nil:
		l.Lines = append(l.Lines, in.Say("no certificate"))
	case newest.NextDue == "":
		l.Lines = append(l.Lines, in.Sayf("certificate %s, %s", newest.Number, newest.Date))
	default:
		l.Lines = append(l.Lines, in.Sayf("certificate %s, next due %s", newest.Number, newest.NextDue))
	}
	if out := i.OutOfService; out != nil && day >= out.Since {
		l.Mark = in.Say("OUT OF SERVICE")
	}
	if i.Serial != "" {
		l.Lines = append(l.Lines, in.Sayf("serial number %s", i.Serial))
	}
	l.Lines = append(l.Lines, shop.Name)
	return l
}

// LabelSize is the size of a label in mm.
type LabelSize struct{ Wide, Tall float64 }

// LabelSizes are sizes that are sold; any other is taken too.
var LabelSizes = []LabelSize{{57, 32}, {50, 25}}

func (s LabelSize) String() string { return dotted(s.Wide) + "x" + dotted(s.Tall) }

var labelSize = regexp.MustCompile(`^([0-9]+(?:\.[0-9])?)x([0-9]+(?:\.[0-9])?)$`)

// ParseLabelSize reads a size such as 57x32.
func ParseLabelSize(text string) (LabelSize, error) {
	m := labelSize.FindStringSubmatch(text)
	if m == nil {
		return LabelSize{}, fmt.Errorf("%q is no size of a label: give width and height in mm, such as 57x32", text)
	}
	wide, _ := strconv.ParseFloat(m[1], 64) // the pattern lets numbers pass only
	tall, _ := strconv.ParseFloat(m[2], 64)
	s := LabelSize{wide, tall}
	return s, s.check()
}

func (s LabelSize) check() error {
	if !(s.Wide >= 30 && s.Wide <= 110 && s.Tall >= 18 && s.Tall <= 100) {
		return fmt.Errorf("a label of %s mm: 30 to 110 wide and 18 to 100 high can be printed", s)
	}
	return nil
}

// Symbol is the kind of code on a label.
type Symbol string

// The kinds of code. Bars are read by every scanner; a QR code holds every letter and more of them.
const (
	AsFits Symbol = "" // bars where the text can stand in them, else a QR code
	AsBars Symbol = "code128"
	AsQR   Symbol = "qr"
)

// LabelOptions choose how labels are printed.
type LabelOptions struct {
	Size   LabelSize // 57x32 unless said
	Symbol Symbol
	Sheet  string // "": one label a page; a4 or letter: sheets of labels
	Skip   int    // of a sheet: places that are used already

	Columns int  // of a text; 32 unless said
	ASCII   bool // of a text
}

func (o *LabelOptions) check() error {
	if o.Size == (LabelSize{}) {
		o.Size = LabelSizes[0]
	}
	if o.Columns == 0 {
		o.Columns = Roll58.Columns()
	}
	switch {
	case o.Sheet != "" && o.Sheet != "a4" && o.Sheet != "letter":
		return fmt.Errorf("there is no sheet %q: choose a4 or letter", o.Sheet)
	case o.Symbol != AsFits && o.Symbol != AsBars && o.Symbol != AsQR:
		return fmt.Errorf("there is no code %q: choose code128 or qr", o.Symbol)
	case o.Columns < LeastColumns || o.Columns > MostColumns:
		return fmt.Errorf("lines of %d letters: choose %d to %d", o.Columns, LeastColumns, MostColumns)
	case o.Skip < 0 || o.Skip > 0 && o.Sheet == "":
		return fmt.Errorf("%d places left out: only on a sheet, and not less than 0", o.Skip)
	}
	return o.Size.check()
}

// labelMargin is left free at the edges of a label, mm: printers shift by about as much.
const labelMargin = 2.0

// leastBars is the narrowest bar in dots, a quarter of a millimetre; a scanner of the trade reads it.
const leastBars = 2

// barsTall is the height of bars in mm, a quarter of the label and at least five.
func (o *LabelOptions) barsTall() float64 { return math.Max(5, math.Round(o.Size.Tall/4)) }

// symbol makes the code of a label, with the dots of a module: bars as wide as they fit, up to three dots.
func (l *Label) symbol(o *LabelOptions) (Code, int, error) {
	dots := int(o.Size.Wide / Dot) // the quiet zone may lie in the margins
	if o.Symbol != AsQR {
		c, err := Code128(l.Code)
		module := 0
		if err == nil {
			module = min(3, dots/(c.Wide+2*c.Quiet))
		}
		switch {
		case module >= leastBars:
			return c, module, nil
		case o.Symbol == AsBars && err != nil:
			return Code{}, 0, err
		case o.Symbol == AsBars:
			return Code{}, 0, fmt.Errorf("the bars of %q are wider than %s mm: use a QR code or a wider label", l.Code, dotted(o.Size.Wide))
		}
	}
	side := min(o.Size.Tall-labelMargin, o.Size.Wide/2)
	return FitQR(l.Code, int(side/Dot), 0, 6)
}

// LabelPDF writes labels as a PDF: a page for each, or sheets of them.
func LabelPDF(w io.Writer, labels []Label, at time.Time, o LabelOptions) error {
	if err := o.check(); err != nil {
		return err
	}
	if len(labels) == 0 {
		return fmt.Errorf("there is no label to print")
	}
	s := newSheet("wreath", "en", at)
	page, places := o.places()
	for i := range labels {
		place := places[0]
		if o.Sheet != "" {
			place = places[(i+o.Skip)%len(places)]
			if i == 0 || (i+o.Skip)%len(places) == 0 {
				s.pdf.AddPageFormat("P", page)
			}
		} else {
			s.pdf.AddPageFormat("P", page)
		}
		if err := s.label(&labels[i], place, &o); err != nil {
			return fmt.Errorf("label %s: %w", labels[i].Title, err)
		}
		for _, draw := range s.draw {
			draw()
		}
		s.draw = nil
	}
	return s.pdf.Output(w)
}

// places are the page and where on it labels stand.
func (o *LabelOptions) places() (fpdf.SizeType, []fpdf.PointType) {
	page := fpdf.SizeType{Wd: o.Size.Wide, Ht: o.Size.Tall}
	if o.Sheet == "" {
		return page, []fpdf.PointType{{}}
	}
	const edge = 5 // what office printers leave free, mm
	page = fpdf.SizeType{Wd: 210, Ht: 297}
	if o.Sheet == "letter" {
		page = fpdf.SizeType{Wd: 215.9, Ht: 279.4}
	}
	columns, rows := int((page.Wd-2*edge)/o.Size.Wide), int((page.Ht-2*edge)/o.Size.Tall)
	left, top := (page.Wd-float64(columns)*o.Size.Wide)/2, (page.Ht-float64(rows)*o.Size.Tall)/2
	var places []fpdf.PointType
	for row := range rows {
		for column := range columns {
			places = append(places, fpdf.PointType{X: left + float64(column)*o.Size.Wide, Y: top + float64(row)*o.Size.Tall})
		}
	}
	return page, places
}

// label lays out one label with its top left corner at a place: a QR code stands left of the words, bars
// below them.
func (s *sheetOf) label(l *Label, at fpdf.PointType, o *LabelOptions) error {
	c, dots, err := l.symbol(o)
	if err != nil {
		return err
	}
	module := float64(dots) * Dot
	s.left, s.wide = at.X+labelMargin, o.Size.Wide-2*labelMargin
	top, bottom := at.Y+labelMargin, at.Y+o.Size.Tall-labelMargin
	if c.IsBars() {
		tall := o.barsTall()
		x, y := at.X+(o.Size.Wide-float64(c.Wide)*module)/2, bottom-tall
		s.draw = append(s.draw, func() { c.draw(s.pdf, x, y, dots, tall) })
		bottom = y - 1
	} else {
		side := float64(c.Wide+2*c.Quiet) * module
		x, y := at.X+labelMargin/2+float64(c.Quiet)*module, at.Y+(o.Size.Tall-float64(c.Wide)*module)/2
		s.draw = append(s.draw, func() { c.draw(s.pdf, x, y, dots, 0) })
		used := labelMargin/2 + side
		s.left, s.wide = at.X+used, o.Size.Wide-used-labelMargin
	}
	if o.Sheet != "" {
		s.draw = append(s.draw, func() {
			s.pdf.SetDrawColor(0xc0, 0xc0, 0xc0)
			s.pdf.SetLineWidth(0.1)
			s.pdf.Rect(at.X, at.Y, o.Size.Wide, o.Size.Tall, "D")
		})
	}
	s.y = top
	s.labelWords(l, bottom)
	return nil
}

// labelWords puts the words of a label above a line: as large as they fit, the last lines left out with a
// sign where even the smallest letters don't.
func (s *sheetOf) labelWords(l *Label, bottom float64) {
	all := s.wide
	if l.Mark != "" {
		points := 6.5
		if bottom-s.y < 15 {
			points = 5
		}
		s.font(points, true)
		if wide := s.pdf.GetStringWidth(inFace(l.Mark, true)) + 4; wide <= 0.65*all {
			// right of the title
			left, top := s.left, s.y
			s.left, s.wide = left+all-wide, wide
			s.banner(l.Mark, points)
			s.left, s.y, s.wide = left, top, all-wide-1
		} else {
			s.banner(l.Mark, points)
		}
	}
	// The title: as large as it fits on one line, smaller on several, and never in all the room.
	title := min(15.0, (bottom-s.y)*1.1)
	for s.font(title, true); title > 8 && s.pdf.GetStringWidth(inFace(l.Title, true)) > s.wide; s.font(title, true) {
		title -= 0.5
	}
	lines := s.fit(l.Title, s.wide, title, true)
	for title > 6 && float64(len(lines))*slipLead(title) > (bottom-s.y)*0.7 {
		title -= 0.5
		lines = s.fit(l.Title, s.wide, title, true)
	}
	room := max(1, int((bottom-s.y)/slipLead(title)))
	whole := len(lines) <= room
	if !whole {
		lines = s.cut(lines[:room], title, true)
	}
	for _, line := range lines {
		s.put(s.left, s.y, title, true, false, line)
		s.y += slipLead(title)
	}
	s.wide = all
	if !whole {
		return
	}
	// The other words: smaller until all fit, else the first of them.
	const largest, smallest = 8.0, 6.0
	var size float64
	for size = largest; ; size -= 0.5 {
		lines, room = nil, int((bottom-s.y)/slipLead(size))
		for _, words := range l.Lines {
			lines = append(lines, s.fit(words, s.wide, size, false)...)
		}
		if len(lines) <= room || size <= smallest {
			break
		}
	}
	switch {
	case len(lines) <= room:
	case room > 0:
		lines = s.cut(lines[:room], size, false)
	default: // not even one: a sign beside the title says that there is more
		lines = nil
		s.font(title, true)
		s.put(s.left+s.wide-s.pdf.GetStringWidth("…"), s.y-slipLead(title), title, true, false, "…")
	}
	for _, line := range lines {
		s.put(s.left, s.y, size, false, false, line)
		s.y += slipLead(size)
	}
}

// cut ends the last of some lines with the sign that more would follow.
func (s *sheetOf) cut(lines []string, points float64, bold bool) []string {
	s.font(points, bold)
	last := []rune(lines[len(lines)-1])
	for len(last) > 0 && s.pdf.GetStringWidth(string(last)+"…") > s.wide {
		last = last[:len(last)-1]
	}
	lines[len(lines)-1] = string(last) + "…"
	return lines
}

// LabelText writes labels for a printer that takes text, an empty line between them. A QR code stands in
// half blocks where it fits on the lines and the printer has those; else its text is all that can be said.
func LabelText(w io.Writer, labels []Label, o LabelOptions) error {
	if err := o.check(); err != nil {
		return err
	}
	t := textSlip{columns: o.Columns, ascii: o.ASCII}
	for i, l := range labels {
		if i > 0 {
			t.line("")
		}
		if l.Mark != "" {
			t.block(&slipBlock{kind: slipBanner, text: l.Mark})
		}
		t.paragraph(t.words(l.Title))
		for _, words := range l.Lines {
			t.paragraph(t.words(words))
		}
		if o.Symbol == AsQR && !o.ASCII {
			if c, err := QR(l.Code, CorrectM); err != nil {
				return fmt.Errorf("label %s: %w", l.Title, err)
			} else if c.Wide+2*c.Quiet <= o.Columns {
				for _, line := range c.Characters() {
					t.line(line)
				}
			}
		}
	}
	_, err := io.WriteString(w, t.out.String())
	return err
}

// LabelHTML writes labels as a page for a browser's print dialog, which takes its size from the page.
func LabelHTML(w io.Writer, labels []Label, o LabelOptions) error {
	if err := o.check(); err != nil {
		return err
	}
	page, places := o.places()
	var out strings.Builder
	fmt.Fprintf(&out, `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>wreath</title><style>
@page { size: %smm %smm; margin: 0 }
body { margin: 0; font: 8pt/1.2 "DejaVu Sans Condensed", "Noto Sans", sans-serif; color: #000; background: #fff }
.sheet { position: relative; width: %smm; height: %smm; break-after: page; overflow: hidden }
.label { position: absolute; box-sizing: border-box; width: %smm; height: %smm; padding: %smm %smm 1.5mm; overflow: hidden; display: flex; flex-direction: column; justify-content: space-between }
.label.qr { flex-direction: row; justify-content: flex-start; gap: 1mm }
.label > div { flex: 0 1 auto; min-height: 0; min-width: 0; overflow: hidden }
.label b { font-size: 11pt; line-height: 1.1; display: block; overflow-wrap: anywhere }
.label p { margin: 0; font-size: 6.5pt; line-height: 1.15; overflow-wrap: anywhere }
.label .head { display: flex; flex-wrap: wrap; justify-content: space-between; align-items: center; gap: 0 1mm }
.label p.mark { padding: 0 1.5mm; font-weight: 700; background: #000; color: #fff; text-align: center; print-color-adjust: exact; -webkit-print-color-adjust: exact }
.label svg { display: block; flex: none; margin: 0 auto }
.label.qr svg { margin: 0 }
</style></head><body>
`, dotted(page.Wd), dotted(page.Ht), dotted(page.Wd), dotted(page.Ht), dotted(o.Size.Wide), dotted(o.Size.Tall), dotted(labelMargin/2), dotted(labelMargin))
	for i := range labels {
		l := &labels[i]
		n := (i + o.Skip) % len(places)
		if i == 0 || n == 0 {
			if i > 0 {
				out.WriteString("</div>\n")
			}
			out.WriteString(`<div class="sheet">` + "\n")
		}
		c, dots, err := l.symbol(&o)
		if err != nil {
			return fmt.Errorf("label %s: %w", l.Title, err)
		}
		class := "label"
		if !c.IsBars() {
			class += " qr"
		}
		fmt.Fprintf(&out, `<div class="%s" style="left:%smm;top:%smm">`, class, dotted(places[n].X), dotted(places[n].Y))
		code := c.SVG(dots, o.barsTall(), l.Code)
		if !c.IsBars() {
			out.WriteString(code)
		}
		out.WriteString("<div>")
		fmt.Fprintf(&out, `<div class="head"><b>%s</b>`, html.EscapeString(plain(l.Title)))
		if l.Mark != "" {
			fmt.Fprintf(&out, `<p class="mark">%s</p>`, html.EscapeString(plain(l.Mark)))
		}
		out.WriteString("</div>")
		for _, words := range l.Lines {
			fmt.Fprintf(&out, `<p dir="auto">%s</p>`, html.EscapeString(plain(words)))
		}
		out.WriteString("</div>")
		if c.IsBars() {
			out.WriteString(code)
		}
		out.WriteString("</div>\n")
	}
	out.WriteString("</div></body></html>\n")
	_, err := io.WriteString(w, out.String())
	return err
}
