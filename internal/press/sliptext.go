package press

import (
	"io"
	"strings"

	"github.com/mattn/go-runewidth"

	"wreath/internal/paper"
	"wreath/internal/picture"
)

// labelColumns is the width of the labels of a slip as text, at most a third of the line.
const labelColumns = 10

// SlipText writes a slip for a printer that takes text: lines of at most so many columns, ended by a
// line feed, and nothing that steers a printer. Cutting and the end of the page are the printer's own.
func SlipText(w io.Writer, f *paper.Facts, o SlipOptions) error {
	books, err := o.books()
	if err != nil {
		return err
	}
	s, err := compose(f, books)
	if err != nil {
		return err
	}
	t := textSlip{columns: o.Columns, ascii: o.ASCII, typed: o.Typed}
	for i := range s.blocks {
		t.block(&s.blocks[i])
	}
	t.out.WriteString(strings.Repeat("\n", o.Feed))
	_, err = io.WriteString(w, t.out.String())
	return err
}

// textSlip is a slip being written as text.
type textSlip struct {
	out     strings.Builder
	columns int
	ascii   bool
	typed   bool
}

// words are those of a block as this printer can print them.
func (t *textSlip) words(text string) string {
	if t.ascii {
		return ascii(text)
	}
	return plain(text)
}

func (t *textSlip) line(text string) {
	t.out.WriteString(strings.TrimRight(text, " "))
	t.out.WriteByte('\n')
}

func (t *textSlip) block(b *slipBlock) {
	label, text := t.words(b.label), t.words(b.text)
	switch b.kind {
	case slipLine:
		t.line(strings.Repeat("-", t.columns))
	case slipBanner:
		for _, l := range inColumns(text, t.columns-8) {
			t.centre("*** " + l + " ***")
		}
	case slipCentred:
		for _, l := range inColumns(text, t.columns) {
			t.centre(l)
		}
	case slipLarge:
		t.line("")
		for _, l := range inColumns(spaced(text, t.columns), t.columns) {
			t.centre(l)
		}
		t.line("")
	case slipPair:
		t.pair(label, text)
	case slipFinding:
		t.hanging(textSign(b.sign)+"  ", text)
	case slipItem:
		t.hanging("- ", text)
	case slipStrong:
		t.paragraph(text + ":")
	case slipSays, slipSmall:
		t.paragraph(text)
	case slipScale:
		// the figures above say it
	case slipCode:
		if t.typed && b.text != "" {
			t.paragraph(t.words(b.book.Say("The signed proof, to be typed without spaces; _ is a space:")))
			for _, l := range typed(b.text, t.columns) {
				t.line(l)
			}
		}
	}
}

func (t *textSlip) centre(text string) {
	t.line(strings.Repeat(" ", max(0, t.columns-columns(text))/2) + text)
}

func (t *textSlip) paragraph(text string) {
	for _, l := range inColumns(text, t.columns) {
		t.line(l)
	}
}

// pair writes a label and, beside it, what it says.
func (t *textSlip) pair(label, text string) {
	wide := min(labelColumns, t.columns/3)
	if columns(label) >= wide {
		t.paragraph(label)
		label = ""
	}
	t.hanging(label+strings.Repeat(" ", wide-columns(label)), text)
}

// hanging writes words behind a head, and the lines that follow under the first word.
func (t *textSlip) hanging(head, text string) {
	wide := columns(head)
	for i, l := range inColumns(text, t.columns-wide) {
		if i > 0 {
			head = strings.Repeat(" ", wide)
		}
		t.line(head + l)
	}
}

// spaced sets a number apart by spaces between its letters, where the line has room for that.
func spaced(text string, wide int) string {
	if strings.ContainsRune(text, ' ') || 2*columns(text)-1 > wide {
		return text
	}
	return strings.Join(strings.Split(text, ""), " ")
}

// textSign is the sign of a finding: the interval against the limit.
func textSign(f picture.Finding) string {
	switch f {
	case picture.Met:
		return "| =="
	case picture.NotMet:
		return "== |"
	case picture.Undecided:
		return "=|=="
	case picture.InDoubt:
		return "-?-?"
	case picture.Contradicts:
		return "=| ="
	}
	return "  | "
}

// widths counts columns as terminals and text printers do: two for the wide letters of East Asia, and one
// for signs that are wide in some fonts only.
var widths = &runewidth.Condition{StrictEmojiNeutral: true}

func columns(text string) int {
	n := 0
	for _, r := range text {
		n += widths.RuneWidth(r)
	}
	return n
}

// inColumns breaks words into lines of at most so many columns. A word that is longer than a line goes on
// in the next: nothing is cut off.
func inColumns(text string, wide int) (lines []string) {
	wide = max(wide, 2) // a wide letter must fit
	line, used := "", 0
	for _, word := range unbroken(strings.Fields(text), func(word string) bool { return columns(word) <= wide }) {
		n := columns(word)
		if used > 0 && used+1+n > wide {
			lines, line, used = append(lines, line), "", 0
		}
		if used > 0 {
			line, used = line+" ", used+1
		}
		for _, r := range word {
			c := widths.RuneWidth(r)
			if used+c > wide {
				lines, line, used = append(lines, line), "", 0
			}
			line, used = line+string(r), used+c
		}
	}
	return append(lines, line)
}

// typed writes the text of a proof for somebody who types it: groups of five with a space between them, a
// space of the text itself as _, lines numbered by nothing.
func typed(text string, wide int) (lines []string) {
	text = strings.ReplaceAll(text, " ", "_")
	const group = 5
	groups := max(1, (wide+1)/(group+1))
	var line []string
	for text != "" {
		n := min(group, len(text))
		line, text = append(line, text[:n]), text[n:]
		if len(line) == groups || text == "" {
			lines, line = append(lines, strings.Join(line, " ")), nil
		}
	}
	return lines
}

// unbroken joins a number with its unit or its uncertainty, where both fit on a line: "95 %" is never torn
// in two.
func unbroken(words []string, fits func(string) bool) []string {
	var out []string
	for _, word := range words {
		if n := len(out); n > 0 {
			before := out[n-1]
			joined := before + " " + word
			if fits(joined) && (stuck(word) && endsInDigit(before) || strings.HasSuffix(before, " ±") || strings.HasSuffix(before, " +-")) {
				out[n-1] = joined
				continue
			}
		}
		out = append(out, word)
	}
	return out
}

// stuck are the units of a slip, the sign of an uncertainty, and the offset of a time.
func stuck(word string) bool {
	if len(word) >= 6 && (word[0] == '+' || word[0] == '-') && word[3] == ':' {
		return true
	}
	switch strings.TrimRight(word, ".,;:)") {
	case "%", "g", "g/cm³", "g/cm3", "°C", "degC", "ppt", "±", "+-", "EUR", "ct", "cm³", "cm3", "mm":
		return true
	}
	return false
}

func endsInDigit(word string) bool {
	return word != "" && word[len(word)-1] >= '0' && word[len(word)-1] <= '9'
}
