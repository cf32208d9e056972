package press

import (
	"fmt"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// plain makes words safe to print: what steers a printer or a terminal becomes a space, and what no
// reader sees (marks of direction, joiners, soft hyphens) is left out, so that it can't reorder or hide a
// word.
func plain(words string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsControl(r), unicode.Is(unicode.Zs, r), r == 0x2028, r == 0x2029:
			return ' '
		case unicode.Is(unicode.Cf, r) && !unicode.Is(unicode.Prepended_Concatenation_Mark, r):
			return -1
		}
		return r
	}, strings.ToValidUTF8(words, "\uFFFD"))
}

// ascii writes words with the letters that every printer has. What has no likeness among them is written
// as its number in Unicode, <U+4E2D>, so that nothing is lost without a trace.
func ascii(words string) string {
	var out strings.Builder
	for _, r := range norm.NFC.String(signs.Replace(plain(words))) {
		switch like, found := likeness[r]; {
		case r < 0x7f:
			out.WriteRune(r)
		case found:
			out.WriteString(like)
		default:
			out.WriteString(bare(r))
		}
	}
	return out.String()
}

// bare is a letter without its accents, or its number.
func bare(r rune) string {
	var out strings.Builder
	for _, part := range norm.NFKD.String(string(r)) {
		like, found := likeness[part]
		switch {
		case part >= 0x20 && part < 0x7f:
			out.WriteRune(part)
		case found:
			out.WriteString(like)
		case unicode.Is(unicode.Mn, part) && out.Len() > 0:
			// the accent of a letter that stands already
		default:
			return fmt.Sprintf("<U+%04X>", r)
		}
	}
	if out.Len() == 0 {
		return fmt.Sprintf("<U+%04X>", r)
	}
	return out.String()
}

// signs are those that read better together.
var signs = strings.NewReplacer("°C", "degC", " °", " deg", "°", " deg")

// likeness writes signs and letters as people do who have only ASCII: common practice, in German, the
// Nordic languages and Polish too. Greek and Cyrillic letters follow the sounds, as on road signs; they
// can be read, and not always turned back.
var likeness = func() map[rune]string {
	out := map[rune]string{
		'±': "+-", '×': "x", '÷': "/", '−': "-", '‐': "-", '‑': "-", '‒': "-", '–': "-", '—': "-", '―': "-",
		'≤': "<=", '≥': ">=", '≈': "~", '≠': "!=", '→': "->", '←': "<-", '↑': "^", '√': "sqrt", '∞': "inf",
		'‘': "'", '’': "'", '‚': "'", '‹': "'", '›': "'", '“': `"`, '”': `"`, '„': `"`, '«': `"`, '»': `"`,
		'…': "...", '·': ".", '•': "*", '′': "'", '″': `"`, '¿': "?", '¡': "!", '§': "sec. ", '¶': "par. ",
		'€': "EUR", '£': "GBP", '¢': "ct", '©': "(c)", '®': "(r)", '™': "(tm)", '‰': "o/oo", 'µ': "u", '⁄': "/",
		'Ä': "Ae", 'Ö': "Oe", 'Ü': "Ue", 'ä': "ae", 'ö': "oe", 'ü': "ue", 'ß': "ss", 'ẞ': "SS",
		'Æ': "Ae", 'æ': "ae", 'Ø': "Oe", 'ø': "oe", 'Å': "Aa", 'å': "aa", 'Œ': "Oe", 'œ': "oe",
		'Ð': "D", 'ð': "d", 'Þ': "Th", 'þ': "th", 'Đ': "D", 'đ': "d", 'Ł': "L", 'ł': "l", 'ı': "i", 'Ħ': "H", 'ħ': "h", 'Ŧ': "T", 'ŧ': "t", 'Ŋ': "Ng", 'ŋ': "ng",
		'ª': "a", 'º': "o", '№': "No.", '■': "#", '█': "#", '▀': "#", '▄': "#",
	}
	for lower, like := range map[string]string{
		"α": "a", "β": "b", "γ": "g", "δ": "d", "ε": "e", "ζ": "z", "η": "i", "θ": "th", "ι": "i", "κ": "k", "λ": "l", "μ": "m",
		"ν": "n", "ξ": "x", "ο": "o", "π": "p", "ρ": "r", "σ": "s", "ς": "s", "τ": "t", "υ": "y", "φ": "f", "χ": "ch", "ψ": "ps", "ω": "o",
		"а": "a", "б": "b", "в": "v", "г": "g", "д": "d", "е": "e", "ё": "yo", "ж": "zh", "з": "z", "и": "i", "й": "y", "к": "k", "л": "l",
		"м": "m", "н": "n", "о": "o", "п": "p", "р": "r", "с": "s", "т": "t", "у": "u", "ф": "f", "х": "kh", "ц": "ts", "ч": "ch", "ш": "sh",
		"щ": "shch", "ъ": "", "ы": "y", "ь": "", "э": "e", "ю": "yu", "я": "ya", "і": "i", "ї": "yi", "є": "ye", "ґ": "g", "ђ": "dj", "ј": "j",
		"љ": "lj", "њ": "nj", "ћ": "c", "џ": "dz",
	} {
		r := []rune(lower)[0]
		if like == "" {
			like = "'"
		}
		out[r] = like
		if upper := unicode.ToUpper(r); upper != r {
			if _, taken := out[upper]; !taken {
				out[upper] = strings.ToUpper(like[:1]) + like[1:]
			}
		}
	}
	return out
}()
