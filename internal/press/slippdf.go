package press

import (
	"fmt"
	"io"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"wreath/internal/paper"
	"wreath/internal/picture"
	"wreath/internal/sentence"
)

// moduleDots is the size of a module of the proof that is tried for, in dots: half a millimetre, which
// the camera of a telephone resolves at arm's length.
const moduleDots = 4

// slipInk is black on white and nothing between: a thermal printer has no grey. Bands are outlines, those that
// fit are solid, the uncertainty of the model is a dashed outline.
var slipInk = picture.Palette{
	"--data": "sans-serif", "--sheet": "#ffffff", "--well": "#ffffff", "--ink": "#000000", "--ink-2": "#000000",
	"--rule": "#909090", "--edge": "#000000", "--measured": "#000000", "--measured-soft": "#ffffff",
	"--claim": "#000000", "--doubt": "#000000", "--band": "#ffffff", "--on-band": "#000000",
	"--fit": "#000000", "--on-fit": "#ffffff", "--haze": "#ffffff", "--haze-line": "#000000",
}

// sheetOf is a page of ink being laid out. What is put on it is drawn when its height is known.
type sheetOf struct {
	pdf        *fpdf.Fpdf
	left, wide float64 // of what can be printed on, mm
	y          float64 // how far it is filled, mm
	draw       []func()
}

func newSheet(title, lang string, at time.Time) *sheetOf {
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: 58, Ht: 100}})
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(at.UTC())
	pdf.SetModificationDate(at.UTC())
	pdf.SetProducer("wreath", true)
	pdf.SetTitle(title, true)
	pdf.SetLang(lang)
	for _, bold := range []bool{false, true} { // in one order, for equal bytes
		pdf.AddUTF8FontFromBytes(slipFamily, slipFaces[bold].style, slipFaces[bold].ttf)
	}
	return &sheetOf{pdf: pdf}
}

func (s *sheetOf) font(points float64, bold bool) {
	s.pdf.SetFont(slipFamily, slipFaces[bold].style, points)
}

// fit breaks words into lines that are at most so many mm wide. Nothing is cut off.
func (s *sheetOf) fit(words string, wide, points float64, bold bool) (lines []string) {
	s.font(points, bold)
	space := s.pdf.GetStringWidth(" ")
	line, used := "", 0.0
	fits := func(word string) bool { return s.pdf.GetStringWidth(word) <= wide }
	for _, word := range unbroken(strings.Fields(inFace(words, bold)), fits) {
		n := s.pdf.GetStringWidth(word)
		if line != "" && used+space+n > wide {
			lines, line, used = append(lines, line), "", 0
		}
		if line != "" {
			line, used = line+" ", used+space
		}
		if used+n <= wide {
			line, used = line+word, used+n
			continue
		}
		for _, r := range word {
			n := s.pdf.GetStringWidth(string(r))
			if used+n > wide && line != "" {
				lines, line, used = append(lines, line), "", 0
			}
			line, used = line+string(r), used+n
		}
	}
	return append(lines, line)
}

// slipLead is the height of a line of text in its size, mm.
func slipLead(points float64) float64 { return points * 25.4 / 72 * 1.2 }

// put draws a line of text with its top at y.
func (s *sheetOf) put(x, y, points float64, bold, white bool, line string) {
	line = visual(line)
	s.draw = append(s.draw, func() {
		s.font(points, bold)
		grey := 0
		if white {
			grey = 255
		}
		s.pdf.SetTextColor(grey, grey, grey)
		s.pdf.Text(x, y+points*25.4/72*0.93, line)
	})
}

// paragraph puts words at the present place, indented.
func (s *sheetOf) paragraph(indent float64, words string, points float64, bold bool) {
	for _, line := range s.fit(words, s.wide-indent, points, bold) {
		s.put(s.left+indent, s.y, points, bold, false, line)
		s.y += slipLead(points)
	}
}

// middle puts words in the middle.
func (s *sheetOf) middle(words string, points float64, bold bool) {
	for _, line := range s.fit(words, s.wide, points, bold) {
		s.put(s.left+(s.wide-s.pdf.GetStringWidth(line))/2, s.y, points, bold, false, line)
		s.y += slipLead(points)
	}
}

// rule puts a line across.
func (s *sheetOf) rule() {
	x, y, wide := onDot(s.left), onDot(s.y+1.2), s.wide
	s.draw = append(s.draw, func() {
		s.pdf.SetFillColor(0, 0, 0)
		s.pdf.Rect(x, y, wide, 2*Dot, "F")
	})
	s.y += 2.6
}

// banner puts white words on black.
func (s *sheetOf) banner(words string, points float64) {
	lines := s.fit(words, s.wide-4, points, true)
	top, tall := s.y, float64(len(lines))*slipLead(points)+1.6
	x, wide := onDot(s.left), s.wide
	s.draw = append(s.draw, func() {
		s.pdf.SetFillColor(0, 0, 0)
		s.pdf.Rect(x, onDot(top), wide, onDot(tall), "F")
	})
	for i, line := range lines {
		s.put(s.left+(s.wide-s.pdf.GetStringWidth(line))/2, top+0.8+float64(i)*slipLead(points), points, true, true, line)
	}
	s.y += tall + 1
}

// picture puts a picture with its top left at x, y; mm is the length of one px.
func (s *sheetOf) picture(p picture.Picture, x, y, mm float64) error {
	shapes, err := p.Scene(slipInk)
	if err != nil {
		return err
	}
	s.draw = append(s.draw, func() {
		for i := range shapes {
			s.shape(&shapes[i], x, y, mm)
		}
		s.pdf.SetDashPattern(nil, 0)
		s.pdf.SetLineCapStyle("butt")
	})
	return nil
}

// shape draws one shape. What is hardly there on a page is not there in ink.
func (s *sheetOf) shape(p *picture.Shape, x, y, mm float64) {
	pdf := s.pdf
	if p.Path == nil {
		points := p.Size * mm * 72 / 25.4
		s.font(points, p.Bold)
		words := visual(inFace(p.Text, p.Bold))
		at := x + p.X*mm
		switch p.Anchor {
		case "middle":
			at -= pdf.GetStringWidth(words) / 2
		case "end":
			at -= pdf.GetStringWidth(words)
		}
		if p.Halo {
			pdf.SetDrawColor(255, 255, 255)
			pdf.SetLineWidth(p.Width * mm)
			pdf.SetDashPattern(nil, 0)
			pdf.SetTextRenderingMode(1)
			pdf.Text(at, y+p.Y*mm, words)
			pdf.SetTextRenderingMode(0)
		}
		pdf.SetTextColor(rgb(p.Fill))
		pdf.Text(at, y+p.Y*mm, words)
		return
	}
	how := ""
	if p.Fill != "" && p.FillOpacity > 0.5 {
		pdf.SetFillColor(rgb(p.Fill))
		how = "F"
	}
	if p.Stroke != "" && p.StrokeOpacity > 0.4 && p.Width > 0 {
		pdf.SetDrawColor(rgb(p.Stroke))
		pdf.SetLineWidth(p.Width * mm)
		cap, dash := "butt", []float64{}
		if p.Square {
			cap = "square"
		}
		for _, d := range p.Dash {
			dash = append(dash, d*mm)
		}
		pdf.SetLineCapStyle(cap)
		pdf.SetDashPattern(dash, 0)
		how += "D"
	}
	if how == "" {
		return
	}
	for _, step := range p.Path {
		at := func(i int) (float64, float64) { return x + step.To[i]*mm, y + step.To[i+1]*mm }
		switch step.Do {
		case 'M':
			pdf.MoveTo(at(0))
		case 'L':
			pdf.LineTo(at(0))
		case 'C':
			cx0, cy0 := at(0)
			cx1, cy1 := at(2)
			ex, ey := at(4)
			pdf.CurveBezierCubicTo(cx0, cy0, cx1, cy1, ex, ey)
		case 'Z':
			pdf.ClosePath()
		}
	}
	pdf.DrawPath(how)
}

// rgb reads #rrggbb.
func rgb(colour string) (r, g, b int) {
	fmt.Sscanf(colour, "#%02x%02x%02x", &r, &g, &b) // a colour of the palette above
	return r, g, b
}

// page draws all that was put on a page of the given size.
func (s *sheetOf) page(wide, tall float64) {
	s.pdf.AddPageFormat("P", fpdf.SizeType{Wd: wide, Ht: tall})
	for _, draw := range s.draw {
		draw()
	}
	s.draw = nil
}

// sizes of a slip, in points and mm.
type slipSizes struct{ text, small, number, word, labels float64 }

func (r Roll) sizes() slipSizes {
	if r == Roll58 {
		return slipSizes{text: 8, small: 7, number: 22, word: 11, labels: 14}
	}
	return slipSizes{text: 9, small: 8, number: 30, word: 14, labels: 16}
}

// SlipPDF writes a slip as a PDF of one page, as wide as the paper and as long as needed.
func SlipPDF(w io.Writer, f *paper.Facts, o SlipOptions) error {
	_, s, err := laidOut(f, o)
	if err != nil {
		return err
	}
	s.page(float64(o.roll()), s.y)
	return s.pdf.Output(w)
}

func (o SlipOptions) roll() Roll {
	if o.Roll == 0 {
		return Roll58
	}
	return o.Roll
}

// laidOut puts a slip on a page that has no height yet.
func laidOut(f *paper.Facts, o SlipOptions) (*slip, *sheetOf, error) {
	books, err := o.books()
	if err != nil {
		return nil, nil, err
	}
	said, err := compose(f, books)
	if err != nil {
		return nil, nil, err
	}
	s := newSheet(f.Shop.Name+", "+f.Record.Number, o.Languages[0], f.Record.Made.Time)
	s.wide = o.Roll.Printable()
	s.left = (float64(o.Roll) - s.wide) / 2
	s.y = 4
	size := o.Roll.sizes()
	for i := range said.blocks {
		if err := s.block(&said.blocks[i], said, size, o.Roll); err != nil {
			return nil, nil, err
		}
	}
	s.y = onDot(s.y + 5)
	return said, s, s.pdf.Error()
}

func (s *sheetOf) block(b *slipBlock, said *slip, size slipSizes, roll Roll) error {
	switch b.kind {
	case slipLine:
		s.rule()
	case slipBanner:
		s.banner(b.text, size.text+1)
	case slipCentred:
		s.middle(b.text, size.text, false)
	case slipLarge:
		points := size.number
		for s.font(points, true); s.pdf.GetStringWidth(inFace(b.text, true)) > s.wide && points > size.word; s.font(points, true) {
			points--
		}
		s.middle(b.text, points, true)
	case slipPair:
		top := s.y
		s.paragraph(size.labels, b.text, size.text, false)
		bottom := s.y
		s.y = top
		points := size.text
		for s.font(points, false); points > 6 && s.pdf.GetStringWidth(inFace(b.label, false)) > size.labels-1; s.font(points, false) {
			points -= 0.5
		}
		if b.label != "" {
			for _, line := range s.fit(b.label, size.labels-1, points, false) {
				s.put(s.left, s.y, points, false, false, line)
				s.y += slipLead(size.text)
			}
		}
		s.y = max(s.y, bottom) + 0.3
	case slipFinding:
		const mm = 0.13
		sign := picture.Language{Book: b.book}.Sign(b.sign)
		if err := s.picture(sign, s.left, s.y+0.4, mm); err != nil {
			return err
		}
		top := s.y
		s.paragraph(float64(sign.Width)*mm+2, b.text, size.word, true)
		s.y = max(s.y, top+float64(sign.Height)*mm) + 1
	case slipItem:
		s.put(s.left, s.y, size.text, false, false, "–")
		s.paragraph(2.2, b.text, size.text, false)
	case slipStrong:
		s.y += 0.8
		s.paragraph(0, b.text, size.text, true)
	case slipSays:
		s.paragraph(0, b.text, size.text, false)
		s.y += 0.5
	case slipSmall:
		s.y += 0.8
		s.paragraph(0, b.text, size.small, false)
	case slipScale:
		return s.scale(b, said, roll)
	case slipCode:
		return s.proof(b, size, roll)
	}
	return nil
}

// The density scale of a slip: mm a px, and how high it may be where that can be kept, in px. Chosen here.
const (
	scaleMM   = 0.2
	scaleTall = 180
)

// drawn is the density scale as wide as what can be printed on, and in words what it leaves out.
func (s *slip) drawn(in *sentence.Book, roll Roll) (p picture.Picture, rest string) {
	p = picture.Scale(picture.Subject{Answer: s.answer, Claim: s.draft.Claim, In: in},
		picture.ScaleOptions{Width: int(roll.Printable() / scaleMM), NoWhole: true, NoCloseUp: true, Tall: scaleTall})
	if n := len(p.Folded); n > 0 {
		rest = in.Sayf("Not drawn: %d more rows of alloys or stones.", n)
	}
	return p, rest
}

func (s *sheetOf) scale(b *slipBlock, said *slip, roll Roll) error {
	p, rest := said.drawn(b.book, roll)
	s.y += 1.5
	if err := s.picture(p, s.left, s.y, scaleMM); err != nil {
		return err
	}
	s.y += float64(p.Height)*scaleMM + 0.5
	if rest != "" {
		s.paragraph(0, rest, roll.sizes().small, false)
	}
	return nil
}

// proof puts the QR code of the signed proof, where there is one.
func (s *sheetOf) proof(b *slipBlock, size slipSizes, roll Roll) error {
	if b.text == "" {
		return nil
	}
	white := (float64(roll) - roll.Printable()) / 2
	level, side, dots, err := fitQR(b.text, int(roll.Printable()/Dot), int(white/Dot), moduleDots)
	if err != nil {
		return fmt.Errorf("the proof: %w", err)
	}
	module := float64(dots) * Dot
	wide, quiet := float64(side)*module, quietQR*module
	x, y := s.left+(s.wide-wide)/2, s.y+quiet
	s.draw = append(s.draw, func() {
		c, err := QR(b.text, level)
		if err != nil {
			s.pdf.SetError(err)
			return
		}
		c.draw(s.pdf, x, y, dots, 0)
	})
	s.y = y + wide + quiet
	return nil
}
