package press

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/bidi"
	"golang.org/x/text/unicode/norm"
)

// printable makes a text one that the fonts can set, still in the order in which it is read. A letter that
// they lack stands as its Unicode number in brackets, so that no two names print alike; lacks tells that
// there is one.
func printable(text string) (out string, lacks bool) {
	table := letters()
	var b strings.Builder
	open := false
	for _, r := range joined(norm.NFC.String(text)) {
		switch {
		case unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) || r == 0xfeff:
			r = ' '
		case unicode.Is(unicode.Mn, r) && !table[r]:
			continue // a mark on a letter; without its glyph the letter stands alone
		}
		if table[r] || r == ' ' {
			if open {
				b.WriteByte(']')
				open = false
			}
			b.WriteRune(r)
			continue
		}
		lacks = true
		if !open {
			b.WriteByte('[')
			open = true
		} else {
			b.WriteByte(' ')
		}
		fmt.Fprintf(&b, "U+%04X", r)
	}
	if open {
		b.WriteByte(']')
	}
	return b.String(), lacks
}

// visual puts a line in the order in which its letters stand on paper, from left to right. It follows the
// Unicode Bidirectional Algorithm (UAX #9) for a line that as a whole runs from left to right and has no
// embeddings: rules W1, W4, W7, N1, N2, L2, L3 and L4.
func visual(line string) string {
	if !strings.ContainsFunc(line, rightToLeft) {
		return line
	}
	// A letter and the marks on it go together.
	var clusters []string
	for _, r := range line {
		if unicode.Is(unicode.Mn, r) && len(clusters) > 0 {
			clusters[len(clusters)-1] += string(r)
		} else {
			clusters = append(clusters, string(r))
		}
	}
	const left, right, number, neutral = 0, 1, 2, 3
	kind := make([]int, len(clusters))
	strong := left
	for i, c := range clusters {
		p, _ := bidi.LookupString(c)
		switch p.Class() {
		case bidi.L:
			kind[i], strong = left, left
		case bidi.R, bidi.AL:
			kind[i], strong = right, right
		case bidi.EN, bidi.AN:
			if kind[i] = number; strong == left {
				kind[i] = left
			}
		default:
			kind[i] = neutral
			// One separator between two digits belongs to the number.
			if i > 0 && i+1 < len(clusters) && strings.Contains(".,:/+-", c) && isDigit(clusters[i-1]) && isDigit(clusters[i+1]) {
				kind[i] = kind[i-1]
			}
		}
	}
	for i := 0; i < len(kind); {
		if kind[i] != neutral {
			i++
			continue
		}
		from := i
		for i < len(kind) && kind[i] == neutral {
			i++
		}
		between := left
		if from > 0 && i < len(kind) && kind[from-1] != left && kind[i] != left {
			between = right
		}
		for k := from; k < i; k++ {
			kind[k] = between
		}
	}
	turn := func(is func(int) bool) {
		for i := 0; i < len(kind); {
			from := i
			for i < len(kind) && is(kind[i]) {
				i++
			}
			slices.Reverse(clusters[from:i])
			slices.Reverse(kind[from:i])
			if i == from {
				i++
			}
		}
	}
	for i, c := range clusters {
		if other, mirrored := mirror[c]; mirrored && kind[i] == right {
			clusters[i] = other
		}
	}
	turn(func(k int) bool { return k == number })
	turn(func(k int) bool { return k != left })
	return strings.Join(clusters, "")
}

// mirror are the brackets that open towards the text that follows.
var mirror = map[string]string{"(": ")", ")": "(", "[": "]", "]": "[", "<": ">", ">": "<", "{": "}", "}": "{", "«": "»", "»": "«"}

func isDigit(cluster string) bool {
	p, _ := bidi.LookupString(cluster)
	return p.Class() == bidi.EN || p.Class() == bidi.AN
}

func rightToLeft(r rune) bool {
	if r < 0x590 {
		return false
	}
	p, _ := bidi.LookupRune(r)
	return p.Class() == bidi.R || p.Class() == bidi.AL
}

// forms are the first of the presentation forms of an Arabic letter, and how many it has: 4 for one that
// joins on both sides (isolated, final, initial, medial), 2 for one that joins to the right only. They
// are those of the Unicode blocks Arabic Presentation Forms A and B.
var forms = map[rune][2]rune{
	'ء': {0xFE80, 1}, 'آ': {0xFE81, 2}, 'أ': {0xFE83, 2}, 'ؤ': {0xFE85, 2}, 'إ': {0xFE87, 2}, 'ئ': {0xFE89, 4}, 'ا': {0xFE8D, 2},
	'ب': {0xFE8F, 4}, 'ة': {0xFE93, 2}, 'ت': {0xFE95, 4}, 'ث': {0xFE99, 4}, 'ج': {0xFE9D, 4}, 'ح': {0xFEA1, 4}, 'خ': {0xFEA5, 4},
	'د': {0xFEA9, 2}, 'ذ': {0xFEAB, 2}, 'ر': {0xFEAD, 2}, 'ز': {0xFEAF, 2}, 'س': {0xFEB1, 4}, 'ش': {0xFEB5, 4}, 'ص': {0xFEB9, 4},
	'ض': {0xFEBD, 4}, 'ط': {0xFEC1, 4}, 'ظ': {0xFEC5, 4}, 'ع': {0xFEC9, 4}, 'غ': {0xFECD, 4}, 'ف': {0xFED1, 4}, 'ق': {0xFED5, 4},
	'ك': {0xFED9, 4}, 'ل': {0xFEDD, 4}, 'م': {0xFEE1, 4}, 'ن': {0xFEE5, 4}, 'ه': {0xFEE9, 4}, 'و': {0xFEED, 2}, 'ى': {0xFEEF, 2},
	'ي': {0xFEF1, 4}, 'پ': {0xFB56, 4}, 'چ': {0xFB7A, 4}, 'ژ': {0xFB8A, 2}, 'ک': {0xFB8E, 4}, 'گ': {0xFB92, 4}, 'ی': {0xFBFC, 4},
}

// lamAlef are the letters that lam and alef make together: isolated, and one further for the final form.
var lamAlef = map[rune]rune{'آ': 0xFEF5, 'أ': 0xFEF7, 'إ': 0xFEF9, 'ا': 0xFEFB}

// joined puts Arabic letters in the forms in which they join their neighbours. Other text stays.
func joined(text string) string {
	if !strings.ContainsFunc(text, func(r rune) bool { return r >= 0x600 && r < 0x700 }) {
		return text
	}
	rs := []rune(text)
	// neighbour is the next letter in a direction, across marks that stand above or below.
	neighbour := func(i, step int) rune {
		for i += step; i >= 0 && i < len(rs); i += step {
			if !unicode.Is(unicode.Mn, rs[i]) {
				return rs[i]
			}
		}
		return 0
	}
	joinsOn := func(r rune) bool { return forms[r][1] == 4 || r == 'ـ' }
	takes := func(r rune) bool { return forms[r][1] >= 2 || r == 'ـ' }
	var out []rune
	for i := 0; i < len(rs); i++ {
		r := rs[i]
		form, arabic := forms[r]
		if !arabic {
			out = append(out, r)
			continue
		}
		before := form[1] >= 2 && joinsOn(neighbour(i, -1))
		if r == 'ل' && i+1 < len(rs) && lamAlef[rs[i+1]] != 0 {
			glyph := lamAlef[rs[i+1]]
			if before {
				glyph++
			}
			out = append(out, glyph)
			i++
			continue
		}
		after := form[1] == 4 && takes(neighbour(i, +1))
		switch {
		case before && after:
			r = form[0] + 3
		case after:
			r = form[0] + 2
		case before:
			r = form[0] + 1
		default:
			r = form[0]
		}
		out = append(out, r)
	}
	return string(out)
}
