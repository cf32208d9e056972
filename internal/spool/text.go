package spool

import (
	"bytes"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Lines turns a text into the bytes that a printer takes: in its encoding, every line ended by CR LF, and
// the empty lines that bring the paper to the tear-off edge. Characters that could steer the printer are
// left out: texts on paper come from many hands.
func Lines(p Printer, text string) []byte {
	var out bytes.Buffer
	for line := range strings.Lines(strings.ReplaceAll(text, "\r\n", "\n")) {
		line = strings.TrimSuffix(line, "\n")
		for _, r := range line {
			switch {
			case unicode.IsControl(r), unicode.Is(unicode.Bidi_Control, r):
			case p.Encoding == ASCII && r >= 0x80:
				out.WriteString(plain(r))
			default:
				out.WriteRune(r)
			}
		}
		out.WriteString("\r\n")
	}
	out.WriteString(strings.Repeat("\r\n", p.FeedLines))
	return out.Bytes()
}

// spelled are letters and signs that ASCII lacks, as they are written without.
var spelled = map[rune]string{
	'ä': "ae", 'ö': "oe", 'ü': "ue", 'Ä': "Ae", 'Ö': "Oe", 'Ü': "Ue", 'ß': "ss", 'æ': "ae", 'Æ': "Ae", 'ø': "o", 'Ø': "O", 'ł': "l", 'Ł': "L",
	'±': "+-", '·': ".", '×': "x", '°': "deg ", '³': "3", '²': "2", 'ρ': "rho", 'σ': "sigma", 'µ': "u", 'μ': "u", '‰': " per mille",
	'−': "-", '–': "-", '—': "-", '‑': "-", '‘': "'", '’': "'", '“': "\"", '”': "\"", '„': "\"", '«': "\"", '»': "\"", '…': "...",
	'≤': "<=", '≥': ">=", '≈': "~", '→': "->", '✓': "ok", '✗': "x", '€': "EUR", '£': "GBP", '\u00a0': " ", '\u202f': " ", '\u2009': " ",
	'─': "-", '━': "=", '│': "|", '█': "#", '▒': ":", '░': ".", '•': "*", '¿': "?", '¡': "!",
}

// plain writes a character in ASCII: by its spelling, without its accents, or as a question mark.
func plain(r rune) string {
	if s, ok := spelled[r]; ok {
		return s
	}
	var out strings.Builder
	for _, part := range norm.NFKD.String(string(r)) {
		switch {
		case part < 0x80:
			out.WriteRune(part)
		case !unicode.Is(unicode.Mn, part):
			return "?"
		}
	}
	return out.String()
}
