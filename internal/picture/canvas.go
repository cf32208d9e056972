package picture

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"
	"unicode"

	"wreath/internal/sentence"
)

// Picture is one finished drawing.
type Picture struct {
	SVG           template.HTML // for a page that has the style sheet
	Title         string        // the picture in one sentence; also the SVG's title
	Width, Height int           // in px, one unit of the drawing each

	Folded   []string // what fits in the lanes that a limited height left out; where nothing does, the lane
	FitsOnly bool     // a limited height left out neighbours that do not fit
}

// anchors of a text
const (
	start  = "start"
	middle = "middle"
	end    = "end"
)

// canvas collects the elements of one picture.
type canvas struct {
	b     bytes.Buffer
	width float64
	in    *sentence.Book // the language of its words
}

// finish closes a picture of the given height.
func (c *canvas) finish(class, title string, height float64) Picture {
	w, h := int(math.Ceil(c.width)), int(math.Ceil(height))
	title = clean(c.in.Say(title))
	var out strings.Builder
	out.Grow(c.b.Len() + 2*len(title) + 200)
	fmt.Fprintf(&out, `<svg class="pic %s" viewBox="0 0 %d %d" width="%d" height="%d" role="img" xmlns="http://www.w3.org/2000/svg"><title>%s</title>`,
		class, w, h, w, h, escape(title))
	out.Write(c.b.Bytes())
	out.WriteString("</svg>")
	return Picture{SVG: template.HTML(out.String()), Title: title, Width: w, Height: h}
}

func (c *canvas) attr(name string, v float64) {
	c.b.WriteByte(' ')
	c.b.WriteString(name)
	c.b.WriteString(`="`)
	c.b.Write(appendNumber(nil, v))
	c.b.WriteByte('"')
}

func (c *canvas) open(element, class string) {
	c.b.WriteByte('<')
	c.b.WriteString(element)
	c.b.WriteString(` class="`)
	c.b.WriteString(class)
	c.b.WriteByte('"')
}

func (c *canvas) rect(class string, x, y, w, h float64) {
	c.open("rect", class)
	c.attr("x", x)
	c.attr("y", y)
	c.attr("width", math.Max(w, 0))
	c.attr("height", h)
	c.b.WriteString("/>")
}

func (c *canvas) line(class string, x1, y1, x2, y2 float64) {
	c.open("line", class)
	c.attr("x1", x1)
	c.attr("y1", y1)
	c.attr("x2", x2)
	c.attr("y2", y2)
	c.b.WriteString("/>")
}

func (c *canvas) circle(class string, x, y, r float64) {
	c.open("circle", class)
	c.attr("cx", x)
	c.attr("cy", y)
	c.attr("r", r)
	c.b.WriteString("/>")
}

func (c *canvas) path(class, d string) {
	c.open("path", class)
	c.b.WriteString(` d="`)
	c.b.WriteString(d)
	c.b.WriteString(`"/>`)
}

// text writes words with their baseline at y.
func (c *canvas) text(class string, x, y float64, anchor, words string) {
	c.open("text", class)
	c.attr("x", x)
	c.attr("y", y)
	if anchor != start {
		c.b.WriteString(` text-anchor="` + anchor + `"`)
	}
	c.b.WriteByte('>')
	c.b.WriteString(escape(clean(c.in.Say(words))))
	c.b.WriteString("</text>")
}

// group opens a group that says what it is when pointed at; end it with endGroup.
func (c *canvas) group(words string) {
	c.b.WriteString("<g><title>")
	c.b.WriteString(escape(clean(c.in.Say(words))))
	c.b.WriteString("</title>")
}

func (c *canvas) endGroup() { c.b.WriteString("</g>") }

// track is the d attribute of a path.
type track struct{ b []byte }

func (t *track) add(command byte, numbers ...float64) *track {
	t.b = append(t.b, command)
	for i, n := range numbers {
		if i > 0 {
			t.b = append(t.b, ' ')
		}
		t.b = appendNumber(t.b, n)
	}
	return t
}

func (t *track) String() string { return string(t.b) }

// hatch draws a rectangle of slanting lines. A pattern would need an id that no other picture of
// the page has, and is not drawn where the picture that holds it is hidden.
func (c *canvas) hatch(class string, x, y, w, h, step float64) {
	var t track
	for at := step/2 - h; at < w; at += step {
		x1, y1, x2, y2 := x+at, y+h, x+at+h, y
		if x1 < x {
			x1, y1 = x, y+h+at
		}
		if x2 > x+w {
			x2, y2 = x+w, y+h-(w-at)
		}
		if x2 > x1 {
			t.add('M', x1, y1).add('L', x2, y2)
		}
	}
	if len(t.b) > 0 {
		c.path(class, t.String())
	}
}

// appendNumber writes a coordinate to a tenth of a pixel.
func appendNumber(b []byte, v float64) []byte {
	v = math.Round(v*10) / 10
	if v == 0 {
		v = 0 // no minus zero
	}
	return strconv.AppendFloat(b, v, 'f', -1, 64)
}

// clean drops what no picture may hold: control characters and what is not text.
func clean(words string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsControl(r):
			return ' '
		case r == unicode.ReplacementChar || r == 0xFFFE || r == 0xFFFF:
			return -1
		}
		return r
	}, words)
}

func escape(words string) string {
	if !strings.ContainsAny(words, `<>&"'`) {
		return words
	}
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(words)) // a Builder does not fail
	return b.String()
}
