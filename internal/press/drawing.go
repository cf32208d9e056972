package press

import (
	"fmt"
	"strconv"
	"strings"

	"codeberg.org/go-pdf/fpdf"

	"wreath/internal/picture"
)

// px is the size of a pixel of a picture on paper, in mm: its text of 13 px is then set in 8 pt.
const px = 8 * point / 13

// drawPicture draws a picture in ink, its upper left corner at x, y (mm), a pixel so many mm. It stays a
// drawing of lines: nothing in it is made of dots.
func drawPicture(pdf *fpdf.Fpdf, p picture.Picture, x, y, pixel float64) error {
	shapes, err := p.Scene(picture.Print)
	if err != nil {
		return err
	}
	s := &setter{pdf: pdf}
	_, page := pdf.GetPageSize()
	at := func(u, v float64) string {
		return number((x+u*pixel)/point) + " " + number((page-y-v*pixel)/point)
	}
	for i := range shapes {
		sh := &shapes[i]
		if sh.Path == nil {
			drawWords(s, sh, x, y, pixel)
			continue
		}
		var b strings.Builder
		b.WriteString("q ")
		paint := "n"
		if sh.Fill != "" {
			b.WriteString(ink(sh.Fill, sh.FillOpacity, "g") + " ")
			paint = "f"
		}
		if sh.Stroke != "" && sh.Width > 0 {
			b.WriteString(ink(sh.Stroke, sh.StrokeOpacity, "G") + " " + number(sh.Width*pixel/point) + " w ")
			if len(sh.Dash) > 0 {
				var dash []string
				for _, d := range sh.Dash {
					dash = append(dash, number(d*pixel/point))
				}
				b.WriteString("[" + strings.Join(dash, " ") + "] 0 d ")
			}
			if sh.Square {
				b.WriteString("2 J ")
			}
			if sh.Round {
				b.WriteString("1 j ")
			}
			paint = map[string]string{"n": "S", "f": "B"}[paint]
		}
		for _, step := range sh.Path {
			switch to := step.To; step.Do {
			case 'M':
				b.WriteString(at(to[0], to[1]) + " m ")
			case 'L':
				b.WriteString(at(to[0], to[1]) + " l ")
			case 'C':
				b.WriteString(at(to[0], to[1]) + " " + at(to[2], to[3]) + " " + at(to[4], to[5]) + " c ")
			default:
				b.WriteString("h ")
			}
		}
		// What shines through is drawn translucent, so that what lies below stays.
		translucent := paint == "f" && sh.FillOpacity < 1
		if translucent {
			pdf.SetAlpha(sh.FillOpacity, "Normal")
		}
		pdf.RawWriteStr(b.String() + paint + " Q")
		if translucent {
			pdf.SetAlpha(1, "Normal")
		}
	}
	return pdf.Error()
}

// drawWords prints a text of a picture, its halo first.
func drawWords(s *setter, sh *picture.Shape, x, y, pixel float64) {
	text, lacks := printable(sh.Text)
	s.lacks = s.lacks || lacks
	st := plainStyle
	if sh.Bold {
		st = boldStyle
	}
	size := sh.Size * pixel / point
	wide := s.wide(text, st, size)
	left := x + sh.X*pixel
	switch sh.Anchor {
	case "middle":
		left -= wide / 2
	case "end":
		left -= wide
	}
	if sh.Halo {
		// A plate of paper below the letters does what the outline does on a page.
		_, page := s.pdf.GetPageSize()
		pad := sh.Width / 2 * pixel
		s.pdf.RawWriteStr(fmt.Sprintf("q %s %s %s %s %s re f Q", ink(sh.Stroke, 1, "g"),
			number((left-pad)/point), number((page-y-(sh.Y+2)*pixel)/point), number((wide+2*pad)/point), number(0.95*sh.Size*pixel/point)))
	}
	grey, err := strconv.ParseUint(strings.TrimPrefix(sh.Fill, "#"), 16, 32)
	if err != nil {
		grey = 0
	}
	s.pdf.SetTextColor(int(grey>>16&0xff), int(grey>>8&0xff), int(grey&0xff))
	s.face(text, st, size)
	s.pdf.Text(left, y+sh.Y*pixel, visual(text))
}

// ink writes a colour of the palette Print for filling (g) or drawing (G). All of them are greys; one that
// is faint is mixed with the white of the paper.
func ink(colour string, opacity float64, operator string) string {
	v, err := strconv.ParseUint(colour[1:3], 16, 8)
	if err != nil {
		return "0 " + operator
	}
	grey := float64(v) / 255
	if operator == "G" {
		grey = 1 - opacity*(1-grey)
	}
	return number(grey) + " " + operator
}

// number writes a number of a drawing.
func number(v float64) string { return strconv.FormatFloat(v, 'f', 3, 64) }
