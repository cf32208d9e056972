package line

import (
	"strings"
	"unicode/utf8"
)

// class is what a token of a sample line looks like, before it is known what it is.
type class byte

const (
	blankToken  class = 'B' // spaces
	wordToken   class = 'W' // letters and signs of units
	numberToken class = 'N' // digits with at most one decimal mark
	dateToken   class = 'D' // digits with several marks: a date, a time
	signToken   class = 'S' // a sign that belongs to a number
	punctToken  class = 'P' // a run of one other character
)

// token is one piece of a sample line.
type token struct {
	class    class
	from, to int
}

// mostTokens bounds a sample line; a line with more is not learned from.
const mostTokens = 64

// tokenize splits a line; false means that it has too many pieces to be a line of an instrument.
func tokenize(s string) ([]token, bool) {
	var list []token
	for at := 0; at < len(s); {
		if len(list) == mostTokens {
			return nil, false
		}
		t := token{class: punctToken, from: at}
		switch c := s[at]; {
		case c == ' ':
			t.class, t.to = blankToken, at+blanks([]byte(s[at:]))
		case isDigit(c):
			t.class, t.to = digitsToken(s, at)
		case wordLength([]byte(s[at:])) > 0:
			t.class, t.to = wordToken, at+wordLength([]byte(s[at:]))
		case c < utf8.RuneSelf:
			t.to = at + 1
			for t.to < len(s) && s[t.to] == c {
				t.to++
			}
			// The last of several signs may be the sign of the number behind it.
			if n := t.to - at; n > 1 && (c == '-' || c == '+') && t.to < len(s) && isDigit(s[t.to]) {
				t.to--
			}
		default:
			_, size := utf8.DecodeRuneInString(s[at:])
			t.to = at + size
		}
		list = append(list, t)
		at = t.to
	}
	markSigns(s, list)
	return list, true
}

// digitsToken tells a number from a date or a time.
func digitsToken(s string, at int) (class, int) {
	run := func(i int) int {
		for i < len(s) && isDigit(s[i]) {
			i++
		}
		return i
	}
	// goes returns the end of the digits behind a mark, when they are there and as many as is meant.
	goes := func(i int, marks string, least, most int) (int, bool) {
		if i+1 >= len(s) || strings.IndexByte(marks, s[i]) < 0 {
			return i, false
		}
		end := run(i + 1)
		n := end - i - 1
		return end, n >= least && n <= most
	}
	end := run(at)
	if end-at <= 2 {
		if minutes, ok := goes(end, ":", 2, 2); ok {
			seconds, ok := goes(minutes, ":", 2, 2)
			if _, decimal := goes(minutes, ".,", 1, 9); ok || !decimal {
				if fraction, some := goes(seconds, ".", 1, 6); ok && some {
					seconds = fraction
				}
				return dateToken, seconds
			}
		}
	}
	if end-at <= 4 {
		for _, mark := range []string{".", "/", "-"} {
			if second, ok := goes(end, mark, 1, 2); ok {
				if third, ok := goes(second, mark, 1, 4); ok {
					return dateToken, third
				}
			}
		}
	}
	decimals, ok := goes(end, ".,", 1, len(s))
	if !ok {
		return numberToken, end
	}
	if third, more := goes(decimals, ".,", 1, len(s)); !more {
		return numberToken, decimals
	} else if _, more := goes(third, ".,", 1, len(s)); !more && s[end] == ',' && s[decimals] == '.' && (end-at > 3 || decimals-end != 4) {
		return numberToken, end // the comma parts two numbers, because it can't part thousands
	}
	for more := true; more; { // a version, or a mark of thousands: no number
		decimals, more = goes(decimals, ".,", 1, len(s))
	}
	return dateToken, decimals
}

// markSigns finds the plus and minus signs that belong to numbers.
func markSigns(s string, list []token) {
	is := func(i int, c class) bool { return i >= 0 && i < len(list) && list[i].class == c }
	for i := range list {
		t := &list[i]
		if t.class != punctToken || t.to-t.from != 1 || s[t.from] != '-' && s[t.from] != '+' {
			continue
		}
		switch {
		case is(i+1, numberToken), is(i-1, numberToken) && !is(i-2, signToken):
			t.class = signToken
		case is(i+1, blankToken) && is(i+2, numberToken):
			t.class = signToken
		}
	}
}

// skeleton is a line without what varies: two lines with the same skeleton are of one kind.
func skeleton(s string, list []token) string {
	var b strings.Builder
	for _, t := range list {
		piece := s[t.from:t.to]
		switch t.class {
		case wordToken:
			if _, ok := usualWords[piece]; ok {
				b.WriteByte('U') // a line with a unit is of another kind than one with a mark there
			} else {
				b.WriteByte('W')
			}
		case numberToken:
			b.WriteByte('N')
			if i := strings.IndexAny(piece, ".,"); i >= 0 {
				b.WriteByte(piece[i])
				b.WriteByte(byte('0' + min(len(piece)-1-i, 70)))
			}
		case dateToken:
			b.WriteByte('D')
			b.WriteString(digitShape(piece))
		case punctToken:
			b.WriteString(piece)
		}
		if t.class != blankToken && t.class != signToken {
			b.WriteByte(0)
		}
	}
	return b.String()
}

// digitShape replaces digits by #.
func digitShape(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return '#'
		}
		return r
	}, s)
}
