package line

import (
	"bytes"
	"slices"
	"unicode/utf8"
)

// usualPause is the pause that ends a line when no character does: within a line there is no such pause at the
// usual speeds. Chosen here; seconds.
const usualPause = 0.1

// GuessFraming says where lines seem to begin and end in bytes that were heard, for who has to learn them.
func GuessFraming(raw []byte) Framing {
	const stx, etx = 0x02, 0x03
	f := Framing{}
	ends := bytes.Count(raw, []byte{'\n'}) + bytes.Count(raw, []byte{'\r'})
	starts, stops := bytes.Count(raw, []byte{stx}), bytes.Count(raw, []byte{etx})
	switch {
	case stops > 0 && stops >= ends:
		f.End = "ETX"
	case ends > 0:
		f.End = "any"
	default:
		f.IdleS = usualPause
	}
	if starts > 0 && starts >= max(ends/2, stops) {
		f.Start = "STX"
	}
	if slices.ContainsFunc(raw, func(b byte) bool { return b >= 0x80 }) {
		f.Text = "latin-1"
		if whole(raw) {
			f.Text = "utf-8"
		}
	}
	return f
}

// whole is true of UTF-8 text that may be cut at both ends.
func whole(raw []byte) bool {
	for len(raw) > 0 && !utf8.RuneStart(raw[0]) {
		raw = raw[1:]
	}
	for n := 1; n < utf8.UTFMax && n <= len(raw); n++ {
		if end := raw[len(raw)-n:]; utf8.RuneStart(end[0]) {
			if !utf8.FullRune(end) {
				raw = raw[:len(raw)-n]
			}
			break
		}
	}
	return utf8.Valid(raw)
}
