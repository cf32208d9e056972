package press

import (
	"strings"

	"codeberg.org/go-pdf/fpdf"
)

// style is a face of the fonts.
type style byte

const (
	plainStyle style = iota
	boldStyle
	serifStyle
	monoStyle
)

// span is a piece of text in one style. A line break in it breaks the line.
type span struct {
	text  string
	style style
	soft  bool // in the lighter ink of labels
}

// piece is a part of a line at its place.
type piece struct {
	text  string // in the order of the paper
	style style
	soft  bool
	x     float64 // mm from the beginning of the line
}

// setLine is one line of set text.
type setLine struct {
	pieces []piece
	wide   float64 // mm
}

// point is a typographic point in mm.
const point = 25.4 / 72

// leading is the distance of lines as a multiple of the size of the letters.
const leading = 1.38

// setter sets text in a document. It remembers whether a letter was missing in the fonts.
type setter struct {
	pdf   *fpdf.Fpdf
	lacks bool
}

// face chooses the font of a style for a text; where that lacks a letter the sans takes its place.
func (s *setter) face(text string, st style, size float64) {
	family, variant := sans, ""
	switch {
	case st == serifStyle && hasSerif(text):
		family = serif
	case st == boldStyle && hasBold(text):
		variant = "B"
	case st == monoStyle:
		family = mono
	}
	s.pdf.SetFont(family, variant, size)
}

// wide measures a text in mm.
func (s *setter) wide(text string, st style, size float64) float64 {
	s.face(text, st, size)
	return s.pdf.GetStringWidth(text)
}

// lines breaks spans into lines of at most the given width, at spaces, and within a word that is wider
// than a line.
func (s *setter) lines(spans []span, size, width float64) []setLine {
	var out []setLine
	var line setLine
	var words []word
	flush := func() {
		line = s.line(words, size)
		out, words = append(out, line), nil
	}
	at := 0.0
	put := func(w word) {
		w.wide = s.wide(w.text, w.style, size)
		gap := 0.0
		if len(words) > 0 && w.spaced {
			gap = s.wide(" ", w.style, size)
		}
		if len(words) > 0 && w.spaced && at+gap+w.wide > width {
			flush()
			at, gap = 0, 0
		}
		for at+gap+w.wide > width && len([]rune(w.text)) > 1 {
			head, tail := s.cut(w, size, width-at-gap)
			if head == "" && len(words) > 0 {
				flush()
				at, gap = 0, 0
				continue
			}
			if head == "" { // a letter that is wider than the line
				one := []rune(w.text)
				head, tail = string(one[:1]), string(one[1:])
			}
			first := w
			first.text = head
			first.wide = s.wide(head, w.style, size)
			words = append(words, first)
			flush()
			w.text, w.spaced, at, gap = tail, false, 0, 0
			w.wide = s.wide(tail, w.style, size)
		}
		words = append(words, w)
		at += gap + w.wide
	}
	spaced := false // the text before ends in a space
	for _, sp := range spans {
		for i, paragraph := range strings.Split(sp.text, "\n") {
			if i > 0 {
				flush()
				at, spaced = 0, false
			}
			text, lacks := printable(paragraph)
			s.lacks = s.lacks || lacks
			for n, w := range glued(strings.Split(text, " ")) {
				spaced = spaced || n > 0
				if w != "" {
					put(word{text: w, style: sp.style, soft: sp.soft, spaced: spaced})
					spaced = false
				}
			}
		}
	}
	if len(words) > 0 || len(out) == 0 {
		flush()
	}
	return out
}

// glued joins what would be misread when a line ended within it: a number with its unit, a value with its
// uncertainty, a factor with its name.
func glued(words []string) (out []string) {
	for i, w := range words {
		if i > 0 && w != "" && out[len(out)-1] != "" {
			before := out[len(out)-1]
			last := before[len(before)-1]
			digit := last >= '0' && last <= '9'
			if sticks[strings.TrimRight(w, ".,;:)")] && (digit || w == "=") || strings.HasSuffix(before, "±") || strings.HasSuffix(before, "=") || w == "±" {
				out[len(out)-1] += " " + w
				continue
			}
		}
		out = append(out, w)
	}
	return out
}

// sticks are units, and the sign after the name of a factor.
var sticks = map[string]bool{"g": true, "mg": true, "kg": true, "g/cm³": true, "cm³": true, "kg/m³": true, "%": true, "°C": true, "K": true, "mm": true, "ct": true, "ppm": true, "hPa": true, "=": true}

// word is a piece of text that is not broken where it fits.
type word struct {
	text   string
	style  style
	soft   bool
	spaced bool // a space stands before it
	wide   float64
}

// cut takes as many letters off a word as fit, and leaves at least one.
func (s *setter) cut(w word, size, width float64) (head, tail string) {
	letters := []rune(w.text)
	low, high := 0, len(letters)-1
	for low < high {
		n := (low + high + 1) / 2
		if s.wide(string(letters[:n]), w.style, size) <= width {
			low = n
		} else {
			high = n - 1
		}
	}
	return string(letters[:low]), string(letters[low:])
}

// line joins words of one style to pieces.
func (s *setter) line(words []word, size float64) setLine {
	var out setLine
	for i := 0; i < len(words); {
		first := words[i]
		text := first.text
		gap := 0.0
		if i > 0 && first.spaced {
			gap = s.wide(" ", first.style, size)
		}
		i++
		for i < len(words) && words[i].style == first.style && words[i].soft == first.soft {
			if words[i].spaced {
				text += " "
			}
			text += words[i].text
			i++
		}
		out.pieces = append(out.pieces, piece{text: visual(text), style: first.style, soft: first.soft, x: out.wide + gap})
		out.wide += gap + s.wide(text, first.style, size)
	}
	return out
}

// draw prints a line with its baseline at y.
func (s *setter) draw(l setLine, x, y, size float64) {
	for _, p := range l.pieces {
		s.face(p.text, p.style, size)
		grey := 0
		if p.soft {
			grey = 0x44
		}
		s.pdf.SetTextColor(grey, grey, grey)
		s.pdf.Text(x+p.x, y, p.text)
	}
}
