package main

import (
	"cmp"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// sheet is an answer for people: paragraphs with a label before them, wrapped to a page.
type sheet struct {
	b     strings.Builder
	label int // width of the labels
	width int // of the page; 0: sheetWidth
}

const sheetWidth = 96

// line writes a line as it is.
func (s *sheet) line(format string, args ...any) { fmt.Fprintf(&s.b, format+"\n", args...) }

// say writes a paragraph; an empty label continues the one above.
func (s *sheet) say(label, format string, args ...any) {
	line := label + strings.Repeat(" ", max(s.label-utf8.RuneCountInString(label), 0))
	empty, width := true, cmp.Or(s.width, sheetWidth)
	for _, word := range strings.Fields(fmt.Sprintf(format, args...)) {
		if !empty && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > width {
			s.line("%s", line)
			line, empty = strings.Repeat(" ", s.label), true
		}
		if !empty {
			line += " "
		}
		line, empty = line+word, false
	}
	s.line("%s", line)
}

// list writes several paragraphs under one label.
func (s *sheet) list(label string, paragraphs []string) {
	for _, p := range paragraphs {
		s.say(label, "%s", p)
		label = ""
	}
}

func (s *sheet) print(w io.Writer) error {
	_, err := io.WriteString(w, s.b.String())
	return err
}
